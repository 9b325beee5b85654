//! The wish that a printer leave the page at its size.

use crate::sheet::SheetError;

/// Adds `/ViewerPreferences << /PrintScaling /None >>` to the file's catalogue.
///
/// # Method
/// An incremental update: the catalogue is written anew behind the file with a
/// cross-reference section of its own (ISO 32000-1:2008, 7.5.6 and 12.2).
pub(crate) fn without_scaling(mut pdf: Vec<u8>) -> Result<Vec<u8>, SheetError> {
    let broken = |what: &str| SheetError::Writing(format!("the finished file has no {what}"));
    let text = String::from_utf8_lossy(&pdf).into_owned();
    // Lossy text keeps no offsets, so places are looked up in the bytes.
    let previous: usize = text
        .rsplit_once("startxref")
        .and_then(|(_, tail)| tail.split_whitespace().next())
        .and_then(|number| number.parse().ok())
        .ok_or_else(|| broken("startxref"))?;
    let trailer = text
        .rsplit_once("trailer")
        .and_then(|(_, tail)| tail.split_once("startxref"))
        .map(|(dictionary, _)| dictionary.trim())
        .and_then(|d| d.strip_suffix(">>"))
        .ok_or_else(|| broken("trailer"))?;
    let root: u32 = trailer
        .split_once("/Root")
        .and_then(|(_, tail)| tail.split_whitespace().next())
        .and_then(|number| number.parse().ok())
        .ok_or_else(|| broken("root"))?;
    let head = format!("\n{root} 0 obj");
    let catalogue = text
        .split_once(&head)
        .and_then(|(_, tail)| tail.split_once("endobj"))
        .map(|(dictionary, _)| dictionary.trim())
        .and_then(|d| d.strip_suffix(">>"))
        .ok_or_else(|| broken("catalogue"))?;
    let offset = pdf.len() + 1;
    let mut added = format!(
        "\n{root} 0 obj\n{catalogue}\n  /ViewerPreferences << /PrintScaling /None >>\n>>\nendobj\n"
    );
    let table = pdf.len() + added.len();
    added.push_str(&format!(
        "xref\n{root} 1\n{offset:010} 00000 n\r\ntrailer\n{trailer}\n  /Prev {previous}\n>>\nstartxref\n{table}\n%%EOF\n"
    ));
    pdf.extend(added.as_bytes());
    Ok(pdf)
}
