//! The file's words and the core's, one for one, both ways.

use super::shape::{
    BrightnessWord, ExposureWord, FormWord, SpeckWord, TorchWord, UnitWord, VarietyWord,
};
use opal_evidence::{Brightness, ExposureKind, Form, LengthUnit, SpeckKind, TorchLook, Variety};

macro_rules! same_words {
    ($file:ident, $core:ident: $($word:ident),+) => {
        impl From<$file> for $core {
            fn from(word: $file) -> Self {
                match word {
                    $($file::$word => Self::$word),+
                }
            }
        }
        impl From<$core> for $file {
            fn from(word: $core) -> Self {
                match word {
                    $($core::$word => Self::$word),+
                }
            }
        }
    };
}

same_words!(FormWord, Form: Seam, Nobby, Boulder, Pipe, Matrix, Unknown);
same_words!(UnitWord, LengthUnit: Mm, Cm, M, Inch);
same_words!(ExposureWord, ExposureKind: Edge, Face, Window, Sawn);
same_words!(SpeckWord, SpeckKind: Potch, Sand, Lens);
same_words!(TorchWord, TorchLook: Clean, Hazy, Specks, Dark);
same_words!(VarietyWord, Variety: Black, Dark, Light, Crystal, Boulder, Matrix);
same_words!(BrightnessWord, Brightness: Dull, Subdued, Bright, VeryBright, Brilliant);

#[cfg(test)]
mod tests {
    use super::*;

    /// The words in files are those that pages and texts show.
    #[test]
    fn files_and_core_write_the_same_words() {
        let written = |word: serde_json::Result<serde_json::Value>| {
            word.expect("a word").as_str().expect("a text").to_owned()
        };
        for form in Form::ALL {
            assert_eq!(
                written(serde_json::to_value(FormWord::from(form))),
                form.word()
            );
        }
        for unit in LengthUnit::ALL {
            assert_eq!(
                written(serde_json::to_value(UnitWord::from(unit))),
                unit.word()
            );
        }
        for kind in ExposureKind::ALL {
            assert_eq!(
                written(serde_json::to_value(ExposureWord::from(kind))),
                kind.word()
            );
        }
        for kind in SpeckKind::ALL {
            assert_eq!(
                written(serde_json::to_value(SpeckWord::from(kind))),
                kind.word()
            );
        }
        for look in TorchLook::ALL {
            assert_eq!(
                written(serde_json::to_value(TorchWord::from(look))),
                look.word()
            );
        }
        for variety in Variety::ALL {
            assert_eq!(
                written(serde_json::to_value(VarietyWord::from(variety))),
                variety.word()
            );
        }
        for step in Brightness::ALL {
            assert_eq!(
                written(serde_json::to_value(BrightnessWord::from(step))),
                step.word()
            );
        }
    }
}
