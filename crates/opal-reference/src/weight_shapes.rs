//! How much of its length, width and height a finished stone fills.

use crate::table;
use serde::Deserialize;
use std::sync::LazyLock;

/// An outline's area over length · width.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutlineShare {
    /// Its key.
    pub key: String,
    /// The share.
    pub area_share: f64,
    /// One standard deviation of it, from stone to stone.
    pub sigma: f64,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// A part's volume over outline area · height.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Filling {
    /// Its key: `cabochon`, `dome`, `rounded-back`.
    pub key: String,
    /// The mean.
    pub mean: f64,
    /// One standard deviation of it, from stone to stone.
    pub sigma: f64,
    /// Keys of its sources.
    pub source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    outline: Vec<OutlineShare>,
    filling: Vec<Filling>,
}

static DATA: LazyLock<File> = LazyLock::new(|| table::read("weight_shapes"));

/// Every outline.
#[must_use]
pub fn outlines() -> &'static [OutlineShare] {
    &DATA.outline
}

/// The outline with this key.
#[must_use]
pub fn outline(key: &str) -> Option<&'static OutlineShare> {
    DATA.outline.iter().find(|row| row.key == key)
}

/// The filling with this key.
#[must_use]
pub fn filling(key: &str) -> Option<&'static Filling> {
    DATA.filling.iter().find(|row| row.key == key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn shares_follow_their_closed_forms() {
        let share = |key| outline(key).expect("a row").area_share;
        assert!((share("oval") - PI / 4.0).abs() < 1e-4);
        // Superellipse of exponent 2.5: 4·Γ(1.4)²/Γ(1.8)/4 = 3.380935/4.
        assert!((share("cushion") - 3.380_935 / 4.0).abs() < 1e-3);
        // Two arcs of radius 2.5 over a chord of 4: 6.25·(2θ − sin 2θ), sin θ = 0.8.
        let theta = 0.8_f64.asin();
        let lens = 6.25 * (2.0 * theta - (2.0 * theta).sin()) / 8.0;
        assert!((share("marquise") - lens).abs() < 0.015, "{lens}");
        assert!(
            crate::standard_sizes::families()
                .iter()
                .all(|f| outline(&f.key).is_some())
        );
        for key in ["cabochon", "dome", "rounded-back"] {
            assert!(filling(key).is_some());
        }
    }
}
