//! Photos that are kept with a stone: their bytes as they came, known by their
//! SHA-256.

use crate::records::sha256;
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};

/// Largest photo that is kept, bytes. Chosen: a good telephone's photo is half that.
pub const PHOTO_BYTES_MAX: usize = 10 * 1024 * 1024;
/// Most photos that come with one readings file. Chosen: every look twice.
pub const PHOTOS_MAX: usize = 24;

/// A photo as it came.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Photo {
    /// The name by which the readings call it, without any folder.
    pub name: String,
    /// Its bytes, untouched.
    pub bytes: Vec<u8>,
}

/// A photo that was kept.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PhotoRecord {
    /// When.
    pub at: Timestamp,
    /// The photo.
    pub photo: Photo,
}

impl Photo {
    /// SHA-256 of the bytes alone (FIPS 180-4), as `sha256sum` prints it.
    #[must_use]
    pub fn sha256(&self) -> String {
        sha256(&self.bytes)
    }

    /// The media type that the first bytes tell; `None` where they tell none that is
    /// kept. JPEG: start-of-image marker (ITU-T T.81, B.1.1.3); PNG: signature (W3C
    /// PNG, 5.2); WebP: RIFF header (RFC 9649, 2.4).
    #[must_use]
    pub fn media_type(&self) -> Option<&'static str> {
        match self.bytes.as_slice() {
            [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
            [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Some("image/png"),
            [
                b'R',
                b'I',
                b'F',
                b'F',
                _,
                _,
                _,
                _,
                b'W',
                b'E',
                b'B',
                b'P',
                ..,
            ] => Some("image/webp"),
            _ => None,
        }
    }
}

/// Photos that may be kept.
///
/// # Errors
/// Every one that is too large or no photo; too many of them.
pub(crate) fn check(photos: &[Photo]) -> Result<(), Faults> {
    let mut faults = Vec::new();
    if photos.len() > PHOTOS_MAX {
        let limit = format!("at most {PHOTOS_MAX} come with one readings file");
        faults.push(Fault::new("photos", photos.len(), limit));
    }
    faults.extend(photos.iter().filter_map(fault));
    if faults.is_empty() {
        Ok(())
    } else {
        Err(Faults(faults))
    }
}

/// Why one photo may not be kept.
pub(crate) fn fault(photo: &Photo) -> Option<Fault> {
    let field = format!("photo '{}'", photo.name);
    if photo.bytes.len() > PHOTO_BYTES_MAX {
        return Some(Fault::new(
            field,
            format!("{} bytes long", photo.bytes.len()),
            format!("it must not be longer than {PHOTO_BYTES_MAX} bytes"),
        ));
    }
    let limit = "it must be a JPEG, PNG or WebP file";
    photo
        .media_type()
        .is_none()
        .then(|| Fault::new(field, "no photo that can be kept", limit))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn photo(bytes: &[u8]) -> Photo {
        Photo {
            name: "edge".to_owned(),
            bytes: bytes.to_vec(),
        }
    }

    /// The digest of "abc" is the example of FIPS 180-4 (its appendix B.1).
    #[test]
    fn a_photo_is_known_by_the_digest_that_everybody_computes() {
        assert_eq!(
            photo(b"abc").sha256(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn only_photos_of_a_bounded_size_are_kept_and_all_faults_are_told() {
        let jpeg = photo(&[0xff, 0xd8, 0xff, 0xe0]);
        assert!(check(std::slice::from_ref(&jpeg)).is_ok());
        let mut long = jpeg.clone();
        long.bytes.resize(PHOTO_BYTES_MAX + 1, 0);
        let faults = check(&[long, photo(b"<svg/>"), jpeg.clone()]).expect_err("refused");
        assert_eq!(faults.0.len(), 2);
        assert!(check(&vec![jpeg; PHOTOS_MAX + 1]).is_err());
    }
}
