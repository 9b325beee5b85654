//! A grade on the trade's scales: what is not judged stays open.

use crate::description::Viewed;
use crate::scale::{SCALES, Scale, Word, scale};
use opal_evidence::{BodyTone, Brightness, Fault, Faults, Look, Variety};

/// A body tone with the side that was looked at. Against which set of tones and
/// in which light belongs in the note.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct ToneMark {
    /// The darkest and the lightest step that it may be.
    pub steps: [BodyTone; 2],
    /// From where.
    pub viewed: Viewed,
}

impl ToneMark {
    /// From words such as `N4`, `N4-N6`, `N3 from the side`.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text = text.trim().to_lowercase();
        let (steps, viewed) = match text.split_once(' ') {
            None => (text.as_str(), Viewed::FaceUp),
            Some((steps, "face up" | "from above")) => (steps, Viewed::FaceUp),
            Some((steps, "from the side")) => (steps, Viewed::FromTheSide),
            Some(_) => return None,
        };
        let step = |text: &str| {
            text.trim_start_matches('n')
                .parse()
                .ok()
                .and_then(BodyTone::new)
        };
        let (first, last) = match steps.split_once('-') {
            Some((first, last)) => (step(first)?, step(last)?),
            None => (step(steps)?, step(steps)?),
        };
        (first <= last).then_some(Self {
            steps: [first, last],
            viewed,
        })
    }
}

impl std::fmt::Display for ToneMark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let [dark, light] = self.steps.map(BodyTone::step);
        write!(f, "N{dark}")?;
        if light != dark {
            write!(f, "-N{light}")?;
        }
        f.write_str(match self.viewed {
            Viewed::FaceUp => " face up",
            Viewed::FromTheSide => " from the side",
        })
    }
}

/// A grade: for each scale the words that hold, or that may hold; none where
/// nobody judged it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Grade {
    marks: Vec<(&'static Scale, Vec<&'static Word>)>,
    /// The body tone, where it was judged.
    pub tone: Option<ToneMark>,
    /// The cutter's own words on it.
    pub note: Option<String>,
}

impl Grade {
    /// From pairs of a scale's key and its words, parted by commas: `brightness`,
    /// `bright, very bright` says that it is one of the two.
    ///
    /// # Errors
    /// Every scale and word that is not known, and harlequin without a note.
    pub fn read<'a>(
        pairs: impl IntoIterator<Item = (&'a str, &'a str)>,
        note: Option<&str>,
    ) -> Result<Self, Faults> {
        let mut grade = Self {
            note: note.map(str::to_owned),
            ..Self::default()
        };
        let mut faults = Vec::new();
        for (key, words) in pairs {
            if key == "body-tone" {
                grade.tone = ToneMark::read(words);
                if grade.tone.is_none() {
                    faults.push(Fault::new(
                        key,
                        format!("'{words}'"),
                        "it must be N1 to N9, with the side where it is not face up: 'N4', \
                         'N4-N6', 'N3 from the side'",
                    ));
                }
                continue;
            }
            let Some(scale) = scale(key) else {
                let keys: Vec<&str> = SCALES.iter().map(|scale| scale.key).collect();
                faults.push(Fault::new(
                    "the scale",
                    format!("'{key}'"),
                    format!("it must be body-tone, {}", keys.join(", ")),
                ));
                continue;
            };
            for word in words.split(',') {
                match scale.find(word) {
                    Some(found) => grade.mark(scale, found),
                    None => {
                        let known: Vec<&str> = scale.words.iter().map(|w| w.word).collect();
                        faults.push(Fault::new(
                            key,
                            format!("'{}'", word.trim()),
                            format!("it must be among {}", known.join(", ")),
                        ));
                    }
                }
            }
        }
        // The word sells, and no two people mean the same by it.
        if grade.words("pattern").iter().any(|w| w.word == "harlequin") && grade.note.is_none() {
            faults.push(Fault::new(
                "pattern",
                "'harlequin'",
                "it needs a note on what was seen; flagstone is the safer word",
            ));
        }
        if faults.is_empty() {
            Ok(grade)
        } else {
            Err(Faults(faults))
        }
    }

    fn mark(&mut self, scale: &'static Scale, word: &'static Word) {
        match self.marks.iter_mut().find(|(s, _)| s.key == scale.key) {
            Some((_, words)) if words.contains(&word) => {}
            Some((_, words)) => words.push(word),
            None => self.marks.push((scale, vec![word])),
        }
    }

    /// The words on a scale; none where nobody judged it.
    #[must_use]
    pub fn words(&self, key: &str) -> &[&'static Word] {
        self.marks
            .iter()
            .find(|(scale, _)| scale.key == key)
            .map_or(&[], |(_, words)| words)
    }

    /// Every scale that was judged, with its words.
    #[must_use]
    pub fn marks(&self) -> &[(&'static Scale, Vec<&'static Word>)] {
        &self.marks
    }

    /// The scales that nobody judged.
    pub fn unknown(&self) -> impl Iterator<Item = &'static Scale> {
        SCALES
            .iter()
            .filter(|scale| self.words(scale.key).is_empty())
    }

    /// What a price hangs on: variety, tone, brightness. A tone counts face up
    /// only, and a range of tones that spans two varieties leaves the variety open.
    #[must_use]
    pub fn look(&self) -> Look {
        let face_up = self
            .tone
            .as_ref()
            .filter(|tone| tone.viewed == Viewed::FaceUp)
            .map(|tone| tone.steps);
        let variety = match self.words("variety") {
            [one] => Variety::ALL.into_iter().find(|v| v.word() == one.word),
            _ => None,
        };
        let join = |key: &str| {
            let words: Vec<&str> = self.words(key).iter().map(|w| w.word).collect();
            (!words.is_empty()).then(|| words.join(", "))
        };
        Look {
            variety: variety.or_else(|| {
                face_up
                    .map(|tones| tones.map(BodyTone::variety))
                    .filter(|[dark, light]| dark == light)
                    .map(|[dark, _]| dark)
            }),
            body_tone: face_up
                .filter(|[dark, light]| dark == light)
                .map(|[t, _]| t),
            brightness: self
                .words("brightness")
                .iter()
                .filter_map(|w| Brightness::ALL.into_iter().find(|b| b.word() == w.word))
                .collect(),
            hue: join("hue"),
            pattern: join("pattern"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pairs: &[(&str, &str)]) -> Result<Grade, Faults> {
        Grade::read(pairs.iter().copied(), None)
    }

    /// N1 to N4 black, N5 and N6 dark, N7 to N9 light, face up (nomenclature of
    /// 1997, as the gemmological glossaries give it).
    #[test]
    fn tones_make_varieties_face_up_only() {
        for (tone, variety) in [
            ("N1", Some(Variety::Black)),
            ("N4", Some(Variety::Black)),
            ("N5-N6", Some(Variety::Dark)),
            ("N7 face up", Some(Variety::Light)),
            ("N9", Some(Variety::Light)),
            ("N4-N5", None),
            ("N2 from the side", None),
        ] {
            let grade = read(&[("body-tone", tone)]).expect(tone);
            assert_eq!(grade.look().variety, variety, "{tone}");
            let mark = grade.tone.expect("judged");
            assert_eq!(ToneMark::read(&mark.to_string()), Some(mark));
        }
        for wrong in ["N0", "N10", "5", "N6-N4", "N3 from below"] {
            assert_eq!(
                read(&[("body-tone", wrong)]).is_ok(),
                wrong == "5",
                "{wrong}"
            );
        }
    }

    #[test]
    fn words_are_found_and_what_is_not_judged_stays_open() {
        let grade = read(&[
            ("brightness", "Bright, very-bright"),
            ("hue", "red,green"),
            ("clarity", "sand"),
        ])
        .expect("known words");
        assert_eq!(
            grade.look().brightness,
            [Brightness::Bright, Brightness::VeryBright]
        );
        assert_eq!(grade.look().hue.as_deref(), Some("red, green"));
        let unknown: Vec<&str> = grade.unknown().map(|scale| scale.key).collect();
        assert!(unknown.contains(&"pattern") && !unknown.contains(&"hue"));
    }

    #[test]
    fn every_wrong_word_is_named_and_harlequin_needs_a_note() {
        let faults = read(&[
            ("brightness", "5"),
            ("shine", "much"),
            ("pattern", "harlequin"),
        ])
        .expect_err("wrong");
        assert_eq!(faults.0.len(), 3, "{faults}");
        let noted = Grade::read(
            [("pattern", "harlequin")],
            Some("even squares, seen at 60 cm"),
        );
        assert!(noted.is_ok());
    }

    #[test]
    fn every_word_is_plain_and_stands_once() {
        for scale in SCALES {
            for (k, word) in scale.words.iter().enumerate() {
                assert!(!word.plain.is_empty());
                assert!(scale.words[..k].iter().all(|w| w.word != word.word));
            }
        }
        // The words of what was seen on the rough are those of the finished stone.
        for brightness in Brightness::ALL {
            assert!(
                scale("brightness")
                    .expect("there")
                    .find(brightness.word())
                    .is_some()
            );
        }
        for variety in Variety::ALL {
            assert!(
                scale("variety")
                    .expect("there")
                    .find(variety.word())
                    .is_some()
            );
        }
    }
}
