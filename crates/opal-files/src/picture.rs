//! Photos as pixels: JPEG and PNG, bounded before anything is decoded.

use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use opal_evidence::{Fault, Faults};
use opal_photo::Picture;
use std::io::Cursor;

/// Longest file that is read, bytes. Chosen: the largest photos of hand-held
/// telephones are some 25 MB.
pub const PICTURE_BYTES_MAX: usize = 40 * 1024 * 1024;
/// Most pixels of a photo. Chosen: telephones take up to 50 million.
pub const PICTURE_PIXELS_MAX: u64 = 52_000_000;
/// Longest side, pixels.
const SIDE_MAX: u32 = 16_384;
/// What decoding may hold, bytes: eight to a pixel, as the deepest PNG has.
const DECODING_BYTES_MAX: u64 = 8 * PICTURE_PIXELS_MAX;

/// The pixels of a JPEG or PNG file, turned upright as the camera noted it. What is
/// see-through counts as the colour beneath it.
///
/// # Errors
/// Another format, too long, too many pixels, or broken off.
pub fn read_picture(name: &str, bytes: &[u8]) -> Result<Picture, Faults> {
    let fault = |value: String, limit: String| {
        Faults(vec![Fault::new(format!("photo '{name}'"), value, limit)])
    };
    if bytes.len() > PICTURE_BYTES_MAX {
        return Err(fault(
            format!("{} bytes long", bytes.len()),
            format!("it must not be longer than {PICTURE_BYTES_MAX} bytes"),
        ));
    }
    let format = image::guess_format(bytes)
        .ok()
        .filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png))
        .ok_or_else(|| {
            fault(
                "of a format that is not read".to_owned(),
                "it must be a JPEG or PNG file".to_owned(),
            )
        })?;
    let broken = |why: image::ImageError| fault("not readable".to_owned(), why.to_string());
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(DECODING_BYTES_MAX);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(broken)?;
    let (width, height) = decoder.dimensions();
    let pixels = u64::from(width) * u64::from(height);
    if pixels > PICTURE_PIXELS_MAX || width.max(height) > SIDE_MAX {
        return Err(fault(
            format!("{width} × {height} pixels large"),
            format!(
                "it must have at most {PICTURE_PIXELS_MAX} pixels, and {SIDE_MAX} on a side; \
                 save it smaller"
            ),
        ));
    }
    let turned = decoder.orientation().map_err(broken)?;
    let mut image = DynamicImage::from_decoder(decoder).map_err(broken)?;
    image.apply_orientation(turned);
    let rgb = image.into_rgb8();
    let (width, height) = (rgb.width() as usize, rgb.height() as usize);
    Picture::new(width, height, rgb.into_raw()).ok_or_else(|| {
        fault(
            "without a pixel".to_owned(),
            "it must show something".to_owned(),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::RgbImage;

    fn png(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        RgbImage::from_fn(width, height, |x, y| image::Rgb([x as u8, y as u8, 7]))
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .expect("written");
        bytes
    }

    #[test]
    fn pixels_come_back_as_they_were_written() {
        let picture = read_picture("a.png", &png(5, 3)).expect("read");
        assert_eq!((picture.width(), picture.height()), (5, 3));
        assert_eq!(picture.at(4, 2), [4, 2, 7]);
    }

    #[test]
    fn what_is_no_photo_or_too_large_is_refused_in_words() {
        let mut cut = png(40, 40);
        cut.truncate(cut.len() / 2);
        // The head of a PNG that claims 60,000 × 60,000 pixels (W3C PNG, 11.2.2), its
        // check sum left wrong or right: nothing of that size may be set aside.
        let mut huge = png(1, 1);
        huge[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
        for (bytes, said) in [
            (b"GIF89a".to_vec(), "JPEG or PNG"),
            (b"<svg/>".to_vec(), "JPEG or PNG"),
            (Vec::new(), "JPEG or PNG"),
            (cut, "not readable"),
            (huge, "photo 'x'"),
            (png(SIDE_MAX + 1, 1), "save it smaller"),
            (vec![0xff; PICTURE_BYTES_MAX + 1], "bytes"),
        ] {
            let faults = read_picture("x", &bytes).expect_err("refused");
            assert!(faults.to_string().contains(said), "{faults}");
        }
    }
}
