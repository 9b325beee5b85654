//! Grit numbers in micrometres, by scale, and a usual set of wheels.

use crate::table;
use serde::Deserialize;
use std::sync::LazyLock;

/// One number on one scale.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grit {
    /// Key of the scale: `diamond-mesh`, `fepa-p`, `cami`, `fepa-f`, `lapidary-diamond`.
    pub scale: String,
    /// The number as it is printed, `600` or `325/400`.
    pub number: String,
    /// Grain size, µm.
    pub um: f64,
    /// Its lower bound, µm.
    pub low_um: f64,
    /// Its upper bound, µm.
    pub high_um: f64,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// One wheel of the usual set.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsualWheel {
    /// Its key.
    pub key: String,
    /// What it is called at the bench.
    pub name: String,
    /// `grind` or `polish`.
    pub kind: String,
    /// Scale and number of its grain, a row of [`grit`].
    pub grit: (String, String),
    /// Stone removed a minute under the hand's usual pressure, mm³.
    pub removal_mm3_per_min: f64,
    /// The factor either way that nine hands in ten stay within.
    pub factor: f64,
    /// What it is for.
    pub about: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

#[derive(Deserialize)]
struct Rows<T> {
    row: Vec<T>,
}

static GRIT: LazyLock<Vec<Grit>> = LazyLock::new(|| table::read::<Rows<Grit>>("grit").row);
static WHEELS: LazyLock<Vec<UsualWheel>> =
    LazyLock::new(|| table::read::<Rows<UsualWheel>>("wheels").row);

/// The grain size behind a number on a scale; `None` where the table has none.
#[must_use]
pub fn grit(scale: &str, number: &str) -> Option<&'static Grit> {
    GRIT.iter()
        .find(|row| row.scale == scale && row.number == number)
}

/// Every number of every scale.
#[must_use]
pub fn rows() -> &'static [Grit] {
    &GRIT
}

/// The usual set of wheels, coarse to fine, the polishing one last.
#[must_use]
pub fn usual_wheels() -> &'static [UsualWheel] {
    &WHEELS
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 6106 sieves 80/100 and 325/400; ISO 6344 P600; ANSI B74.18 600;
    /// ISO 8486 F600 (median from memory).
    #[test]
    fn six_hundred_is_several_sizes() {
        let um = |scale, number| grit(scale, number).expect("a row").um;
        assert_eq!(um("fepa-p", "600"), 25.8);
        assert_eq!(um("cami", "600"), 16.0);
        assert_eq!(um("fepa-f", "600"), 9.3);
        assert_eq!(um("lapidary-diamond", "600"), 30.0);
        let sieve = grit("diamond-mesh", "80/100").expect("a row");
        assert_eq!((sieve.low_um, sieve.high_um), (150.0, 180.0));
        let fine = grit("diamond-mesh", "325/400").expect("a row");
        assert_eq!((fine.low_um, fine.high_um), (38.0, 45.0));
    }

    #[test]
    fn finer_numbers_are_finer() {
        for pair in rows()
            .windows(2)
            .filter(|pair| pair[0].scale == pair[1].scale)
        {
            assert!(
                pair[1].um <= pair[0].um,
                "{} {}",
                pair[1].scale,
                pair[1].number
            );
        }
        for row in rows() {
            assert!(
                row.low_um <= row.um && row.um <= row.high_um,
                "{} {}",
                row.scale,
                row.number
            );
        }
    }

    #[test]
    fn the_usual_set_ends_with_a_polish_and_knows_its_grit() {
        let wheels = usual_wheels();
        for wheel in wheels {
            assert!(
                grit(&wheel.grit.0, &wheel.grit.1).is_some(),
                "{}",
                wheel.key
            );
            assert!(wheel.removal_mm3_per_min > 0.0 && wheel.factor > 1.0);
        }
        assert!(wheels.last().is_some_and(|wheel| wheel.kind == "polish"));
        assert_eq!(
            wheels.iter().filter(|wheel| wheel.kind == "polish").count(),
            1
        );
    }
}
