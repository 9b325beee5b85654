//! The head of a PLY file: what stands in the body, and in which order.

use super::raw::{Complaints, lines, shown, words};
use opal_evidence::Faults;

/// How the body is written.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Body {
    Text,
    LittleEndian,
    BigEndian,
}

/// A kind of number.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Kind {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Kind {
    fn named(word: &str) -> Option<Self> {
        Some(match word {
            "char" | "int8" => Self::I8,
            "uchar" | "uint8" => Self::U8,
            "short" | "int16" => Self::I16,
            "ushort" | "uint16" => Self::U16,
            "int" | "int32" => Self::I32,
            "uint" | "uint32" => Self::U32,
            "float" | "float32" => Self::F32,
            "double" | "float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes in the binary forms.
    pub(super) fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }
}

/// One property of an element.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Property {
    pub(super) name: String,
    /// The kind of the count for a list.
    pub(super) list: Option<Kind>,
    pub(super) kind: Kind,
}

/// One element: so many rows of the same properties.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) count: u64,
    pub(super) properties: Vec<Property>,
}

impl Element {
    /// Bytes that a row has at least in the binary forms; characters with their
    /// separators in the text form.
    pub(super) fn row_len_min(&self, body: Body) -> u64 {
        let len = |p: &Property| match body {
            Body::Text => 2,
            _ => p.list.unwrap_or(p.kind).size() as u64,
        };
        self.properties.iter().map(len).sum()
    }

    /// Bytes in a binary row, when no property is a list.
    pub(super) fn fixed_row_len(&self) -> Option<usize> {
        self.properties
            .iter()
            .map(|p| p.list.is_none().then(|| p.kind.size()))
            .sum()
    }
}

/// The head.
#[derive(Debug)]
pub(super) struct Header {
    pub(super) body: Body,
    pub(super) elements: Vec<Element>,
    /// Where the body starts, bytes.
    pub(super) start: usize,
    /// Lines that the head takes.
    pub(super) n_lines: usize,
}

/// Longest head. Chosen: real ones take a few hundred bytes to a few kilobytes.
const LONGEST: usize = 64 * 1024;

/// Reads the head.
pub(super) fn read(bytes: &[u8], file: &str) -> Result<Header, Faults> {
    let mut wrong = Complaints::new(file);
    let mut body = None;
    let mut elements: Vec<Element> = Vec::new();
    let mut start = 0;
    for (number, line) in lines(&bytes[..bytes.len().min(LONGEST)]) {
        // The line's end is one byte, and one more where it was stripped.
        start += line.len() + 1;
        start += usize::from(bytes.get(start - 1) == Some(&b'\r'));
        let words: Vec<&str> = words(line).collect();
        let enough = match words[..] {
            ["ply"] | ["comment" | "obj_info", ..] | [] => false,
            ["format", form, _] => {
                body = match form {
                    "ascii" => Some(Body::Text),
                    "binary_little_endian" => Some(Body::LittleEndian),
                    "binary_big_endian" => Some(Body::BigEndian),
                    _ => None,
                };
                let limit = "ascii, binary_little_endian or binary_big_endian is allowed";
                body.is_none() && wrong.add(Some(number), "format", form, limit)
            }
            ["element", name, count] => {
                let limit = "a whole number is needed";
                match count.parse() {
                    Ok(count) => {
                        elements.push(Element {
                            name: name.to_owned(),
                            count,
                            properties: Vec::new(),
                        });
                        false
                    }
                    Err(_) => wrong.add(
                        Some(number),
                        "element count",
                        shown(count.as_bytes()),
                        limit,
                    ),
                }
            }
            ["property", "list", count, kind, name] => {
                let property = Kind::named(count)
                    .zip(Kind::named(kind))
                    .map(|(count, kind)| Property {
                        name: name.to_owned(),
                        list: Some(count),
                        kind,
                    });
                !push(&mut elements, property)
                    && wrong.add(Some(number), "property", shown(line), PROPERTY_LIMIT)
            }
            ["property", kind, name] => {
                let property = Kind::named(kind).map(|kind| Property {
                    name: name.to_owned(),
                    list: None,
                    kind,
                });
                !push(&mut elements, property)
                    && wrong.add(Some(number), "property", shown(line), PROPERTY_LIMIT)
            }
            ["end_header"] => {
                let Some(body) = body else {
                    return wrong.refuse(
                        Some(number),
                        "format",
                        "missing",
                        "a format line is needed",
                    );
                };
                wrong.or(super::raw::RawMesh::default())?;
                return Ok(Header {
                    body,
                    elements,
                    start: start.min(bytes.len()),
                    n_lines: number,
                });
            }
            _ => wrong.add(
                Some(number),
                "line",
                shown(line),
                "no line of a PLY head looks like this",
            ),
        };
        if enough {
            break;
        }
    }
    wrong.refuse(
        None,
        "end_header",
        "missing",
        "the head of a PLY file ends with it",
    )
}

const PROPERTY_LIMIT: &str =
    "a number type from char to double and a name are needed, below an element";

fn push(elements: &mut [Element], property: Option<Property>) -> bool {
    match (elements.last_mut(), property) {
        (Some(element), Some(property)) => {
            element.properties.push(property);
            true
        }
        _ => false,
    }
}
