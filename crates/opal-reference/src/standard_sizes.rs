//! Outlines and sizes that ready-made settings are stocked for.

use crate::table;
use opal_units::{Length, Mass};
use serde::Deserialize;
use std::sync::LazyLock;

/// One stocked size.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StandardSize {
    length_mm: f64,
    width_mm: f64,
    height_mm: Option<f64>,
    /// Keys of its sources.
    pub source: Vec<String>,
}

impl StandardSize {
    /// Longer size.
    #[must_use]
    pub fn length(&self) -> Length {
        Length::from_mm(self.length_mm)
    }

    /// Shorter size; the same as the length for rounds and squares.
    #[must_use]
    pub fn width(&self) -> Length {
        Length::from_mm(self.width_mm)
    }

    /// The usual height of an opal of this size: the trade's where it has one,
    /// else read from [`usual_height`].
    #[must_use]
    pub fn height(&self) -> Length {
        self.height_mm
            .map_or_else(|| usual_height(self.length()), Length::from_mm)
    }
}

/// One outline with its ladder of sizes.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StandardFamily {
    /// Its key: `oval`, `round`, `cushion`, `oblong-cushion`, `pear`,
    /// `marquise`, `heart`, `square`, `rectangle`, `triangle`.
    pub key: String,
    /// Its name, for a person to read.
    pub name: String,
    /// Its sizes, smallest first.
    #[serde(rename = "size")]
    pub sizes: Vec<StandardSize>,
    /// Keys of its sources.
    pub source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Heights {
    points_mm: Vec<[f64; 2]>,
    #[allow(dead_code)] // read by the test of sources
    source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tolerance {
    up_to_ct: Option<f64>,
    length_mm: f64,
    #[allow(dead_code)] // read by the test of sources
    source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    family: Vec<StandardFamily>,
    height: Vec<Heights>,
    tolerance: Vec<Tolerance>,
}

static DATA: LazyLock<File> = LazyLock::new(|| table::read("standard_sizes"));

/// Every outline, ovals first.
#[must_use]
pub fn families() -> &'static [StandardFamily] {
    &DATA.family
}

/// The outline with this key.
#[must_use]
pub fn family(key: &str) -> Option<&'static StandardFamily> {
    DATA.family.iter().find(|family| family.key == key)
}

/// The usual height of an opal cabochon by its length, read between the rows of
/// a short table and flat beyond its ends (common practice, no source).
#[must_use]
pub fn usual_height(length: Length) -> Length {
    let points = &DATA.height[0].points_mm;
    let at = length.mm();
    let after = points.partition_point(|p| p[0] <= at);
    if after == 0 {
        return Length::from_mm(points[0][1]);
    }
    if after == points.len() {
        return Length::from_mm(points[after - 1][1]);
    }
    let ([x0, y0], [x1, y1]) = (points[after - 1], points[after]);
    Length::from_mm(y0 + (y1 - y0) * (at - x0) / (x1 - x0))
}

/// How far a stone of this weight may depart from the named size.
#[must_use]
pub fn tolerance(weight: Mass) -> Length {
    let row = DATA
        .tolerance
        .iter()
        .find(|row| row.up_to_ct.is_none_or(|most| weight.carats() < most))
        .expect("the last row of tolerances has no end; a test reads it");
    Length::from_mm(row.length_mm)
}

/// The stocked size that a stone of this outline drops into, if any.
#[must_use]
pub fn stocked(
    family_key: &str,
    length: Length,
    width: Length,
    weight: Mass,
) -> Option<&'static StandardSize> {
    // A hair more, so that a stone at the very tolerance fits in spite of rounding.
    let allowed_mm = tolerance(weight).mm() + 1e-9;
    let off = |size: &StandardSize| {
        (size.length_mm - length.mm())
            .abs()
            .max((size.width_mm - width.mm()).abs())
    };
    family(family_key)?
        .sizes
        .iter()
        .filter(|size| off(size) <= allowed_mm)
        .min_by(|a, b| off(a).total_cmp(&off(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ladders_rise_and_lengths_are_the_longer_size() {
        assert_eq!(families().len(), 10);
        for family in families() {
            assert!(!family.sizes.is_empty());
            for size in &family.sizes {
                assert!(size.width_mm <= size.length_mm && size.width_mm >= 2.0);
                let height = size.height().mm();
                assert!(height > 0.15 * size.width_mm && height < size.width_mm);
            }
            for pair in family.sizes.windows(2) {
                let area = |s: &StandardSize| s.length_mm * s.width_mm;
                assert!(area(&pair[0]) < area(&pair[1]), "{}", family.key);
            }
        }
    }

    /// Sizes named in public buyers' guides to cabochons.
    #[test]
    fn the_sizes_of_the_guides_are_there() {
        let oval = family("oval").expect("a family");
        for (length, width) in [
            (8.0, 6.0),
            (10.0, 8.0),
            (14.0, 10.0),
            (18.0, 13.0),
            (25.0, 18.0),
            (30.0, 22.0),
            (40.0, 30.0),
        ] {
            assert!(
                oval.sizes
                    .iter()
                    .any(|s| s.length_mm == length && s.width_mm == width)
            );
        }
    }

    #[test]
    fn a_stone_drops_into_its_setting_within_the_tolerance() {
        let mm = Length::from_mm;
        let light = Mass::from_carats(0.8);
        let heavy = Mass::from_carats(2.5);
        assert!(stocked("oval", mm(8.1), mm(6.0), light).is_some());
        assert!(stocked("oval", mm(8.15), mm(6.0), light).is_none());
        assert!(stocked("oval", mm(8.15), mm(6.0), heavy).is_some());
        assert!(stocked("oval", mm(13.0), mm(9.0), heavy).is_none());
        assert!(stocked("blob", mm(8.0), mm(6.0), heavy).is_none());
        assert_eq!(tolerance(Mass::from_carats(1.0)), mm(0.2));
    }

    #[test]
    fn heights_are_the_usual_ones() {
        let oval = |length: f64| {
            family("oval")
                .expect("a family")
                .sizes
                .iter()
                .find(|s| s.length_mm == length)
                .expect("a size")
                .height()
        };
        assert_eq!(oval(10.0), Length::from_mm(3.5));
        assert_eq!(oval(18.0), Length::from_mm(5.5));
        assert!((oval(25.0).mm() - 6.75).abs() < 1e-12);
    }
}
