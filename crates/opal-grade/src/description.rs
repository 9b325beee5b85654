//! How a finished stone looks and what it is made of, as it was judged or told.
//!
//! None of it counts toward what the stone is; papers state it with who said so.

use opal_evidence::{BodyTone, Brightness};

/// From where a body tone was judged.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Viewed {
    /// From above: what the trade's names go by.
    FaceUp,
    /// From the side.
    FromTheSide,
}

/// One thing that is said of a stone.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Description {
    /// How dark the body is under the colour.
    BodyTone(BodyTone, Viewed),
    /// How strong the colour is.
    Brightness(Brightness),
    /// The pattern of the colour, by its trade name.
    Pattern(String),
    /// Where it comes from, as it was told.
    Origin(String),
    /// What the cap of an assembled stone is made of.
    Cap(String),
    /// What the back of an assembled stone is made of.
    Back(String),
}

impl Description {
    /// What is described, in plain words.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::BodyTone(..) => "body tone",
            Self::Brightness(_) => "brightness",
            Self::Pattern(_) => "pattern",
            Self::Origin(_) => "origin",
            Self::Cap(_) => "cap",
            Self::Back(_) => "back",
        }
    }

    /// The whole of it in plain words, without a full stop.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::BodyTone(tone, viewed) => format!(
                "Body tone: N{} of N1 (black) to N9 (white), {}",
                tone.step(),
                match viewed {
                    Viewed::FaceUp => "judged face up",
                    Viewed::FromTheSide => "seen from the side, which no trade name goes by",
                }
            ),
            Self::Brightness(brightness) => {
                let all: Vec<&str> = Brightness::ALL.iter().map(|b| b.word()).collect();
                format!("Brightness: {} (of {})", brightness.word(), all.join(", "))
            }
            Self::Pattern(pattern) => format!("Pattern: {pattern}"),
            Self::Origin(place) => format!("Origin: {place}"),
            Self::Cap(material) => format!("Cap: {material}"),
            Self::Back(material) => format!("Back: {material}"),
        }
    }
}

/// A description on file.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Described {
    /// Its name on file, to which claims on papers link.
    pub id: String,
    /// What is said.
    pub what: Description,
    /// Who judged it, or told it.
    pub by: Option<String>,
    /// When, as written on file.
    pub at: Option<String>,
}

/// The body tone from above, where one is on file.
pub(crate) fn face_up_tone(described: &[Described]) -> Option<(BodyTone, &Described)> {
    described.iter().find_map(|one| match one.what {
        Description::BodyTone(tone, Viewed::FaceUp) => Some((tone, one)),
        _ => None,
    })
}
