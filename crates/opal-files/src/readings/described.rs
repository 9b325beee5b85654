//! How a finished stone looks and what it is made of, as somebody judged or told it.

use crate::document::FaultList;
use opal_evidence::{BodyTone, Brightness};
use opal_grade::{Described, Description, Viewed};
use schemars::JsonSchema;
use serde::Deserialize;

/// One thing that somebody judged or told.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DescribedFile {
    /// Its name, to which papers link; `described-back` and so on where left out.
    #[schemars(length(min = 1, max = 100))]
    pub(super) id: Option<String>,
    what: What,
    /// `N1` to `N9` for a body tone, its word for brightness, a name for the others.
    #[schemars(length(min = 1, max = 100))]
    value: String,
    /// From where a body tone was judged; needed with one.
    viewed: Option<ViewedWord>,
    /// Who judged it, or told it; needed with an origin.
    #[schemars(length(max = 100))]
    by: Option<String>,
    /// When.
    #[schemars(length(max = 100))]
    at: Option<String>,
    /// Free text.
    #[schemars(length(max = 2000))]
    pub(super) note: Option<String>,
    /// Name of a photo, a file beside this one.
    #[schemars(length(min = 1, max = 200))]
    pub(super) photo: Option<String>,
    /// SHA-256 of the photo's bytes, hexadecimal.
    #[schemars(length(min = 64, max = 64))]
    pub(super) photo_sha256: Option<String>,
}

/// What is described.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum What {
    BodyTone,
    Brightness,
    Pattern,
    Origin,
    Cap,
    Back,
}

/// From where.
#[derive(Clone, Copy, Deserialize, Eq, JsonSchema, PartialEq)]
#[serde(rename_all = "kebab-case")]
enum ViewedWord {
    FaceUp,
    FromTheSide,
}

impl What {
    const fn key(self) -> &'static str {
        match self {
            Self::BodyTone => "body-tone",
            Self::Brightness => "brightness",
            Self::Pattern => "pattern",
            Self::Origin => "origin",
            Self::Cap => "cap",
            Self::Back => "back",
        }
    }
}

impl DescribedFile {
    /// What it says, or everything that is wrong with it.
    pub(super) fn described(&self, path: &str, faults: &mut FaultList) -> Option<Described> {
        let value = self.value.trim();
        let given = || format!("\"{value}\"");
        let what = match self.what {
            What::BodyTone => {
                let step = value.strip_prefix(['N', 'n']).unwrap_or(value);
                let tone = step.parse().ok().and_then(BodyTone::new);
                if tone.is_none() {
                    faults.add(format!("{path}.value"), given(), "must be N1 to N9");
                }
                let viewed = self.viewed.map(|viewed| match viewed {
                    ViewedWord::FaceUp => Viewed::FaceUp,
                    ViewedWord::FromTheSide => Viewed::FromTheSide,
                });
                if viewed.is_none() {
                    let limit = "must be face-up or from-the-side with a body tone";
                    faults.add(format!("{path}.viewed"), "missing", limit);
                }
                Description::BodyTone(tone?, viewed?)
            }
            What::Brightness => {
                let word = value.to_lowercase().replace('-', " ");
                let found = Brightness::ALL.into_iter().find(|b| b.word() == word);
                if found.is_none() {
                    let words: Vec<&str> = Brightness::ALL.iter().map(|b| b.word()).collect();
                    let limit = format!("must be one of {}", words.join(", "));
                    faults.add(format!("{path}.value"), given(), limit);
                }
                Description::Brightness(found?)
            }
            What::Pattern => Description::Pattern(value.to_owned()),
            What::Origin => Description::Origin(value.to_owned()),
            What::Cap => Description::Cap(value.to_owned()),
            What::Back => Description::Back(value.to_owned()),
        };
        if self.viewed.is_some() && !matches!(self.what, What::BodyTone) {
            let limit = "stands with a body tone only";
            faults.add(format!("{path}.viewed"), "given", limit);
        }
        let by = self.by.as_ref().filter(|by| !by.trim().is_empty());
        if matches!(self.what, What::Origin) && by.is_none() {
            let limit = "must say who told it: a place is somebody's word";
            faults.add(format!("{path}.by"), "missing", limit);
        }
        Some(Described {
            // A look may be called 'back' as well.
            id: self
                .id
                .clone()
                .unwrap_or_else(|| format!("described-{}", self.what.key())),
            what,
            by: by.cloned(),
            at: self.at.clone(),
        })
    }
}
