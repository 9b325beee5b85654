//! Pieces of rough with volumes in closed form.

use opal_evidence::{Callipers, Evidence, Form, GravityEstimate, Look, Piece, Shape};
use opal_stone::{GridChoice, Stone};
use opal_units::{Length, Mass, SpecificGravity, Volume};
use std::f64::consts::PI;

/// Volume of an ellipsoid with these full axes, mm³.
#[must_use]
pub fn ellipsoid_mm3(length_mm: f64, width_mm: f64, height_mm: f64) -> f64 {
    PI / 6.0 * length_mm * width_mm * height_mm
}

/// Volume of the part of an ellipsoid above `from_mm` over its middle, mm³.
#[must_use]
pub fn ellipsoid_cap_mm3(length_mm: f64, width_mm: f64, height_mm: f64, from_mm: f64) -> f64 {
    let c = 0.5 * height_mm;
    let t = (from_mm / c).clamp(-1.0, 1.0);
    // A ball of radius 1 above t, stretched.
    0.25 * length_mm * width_mm * c * PI * (1.0 - t).powi(2) * (2.0 + t) / 3.0
}

/// Evidence of an invented piece with three sizes and the weight that belongs to
/// a fill of its box; no bar, nothing counted yet.
#[must_use]
pub fn piece(form: Form, size_mm: [f64; 3], fill: f64) -> Evidence {
    let gravity = GravityEstimate {
        value: SpecificGravity::new(2.1),
        sigma: SpecificGravity::new(0.02),
        measured: false,
    };
    let volume = Volume::from_mm3(size_mm.iter().product::<f64>() * fill);
    Evidence {
        piece: Piece {
            name: "invented".to_owned(),
            form,
            origin: None,
            weight: Some(Mass::from_grams((volume * gravity.value).grams())),
            gravity,
            asking: None,
        },
        shape: Shape::Callipers(Callipers {
            length: Length::from_mm(size_mm[0]),
            width: Length::from_mm(size_mm[1]),
            height: Length::from_mm(size_mm[2]),
            solidity: None,
        }),
        bars: Vec::new(),
        exposures: Vec::new(),
        cracks: Vec::new(),
        step: None,
        torch: None,
        look: Look::default(),
    }
}

/// The stone of some evidence, on a grid of this cell.
///
/// # Panics
/// The evidence does not make a stone: the test is wrong.
#[must_use]
pub fn rough(evidence: &Evidence, cell_mm: f64) -> Stone {
    Stone::from_evidence(evidence, GridChoice::Cell(Length::from_mm(cell_mm)))
        .expect("the invented evidence makes a stone")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half of a ball is half; all of it is all (closed form).
    #[test]
    fn caps_add_up() {
        let whole = ellipsoid_mm3(10.0, 8.0, 6.0);
        assert!((ellipsoid_cap_mm3(10.0, 8.0, 6.0, 0.0) - 0.5 * whole).abs() < 1e-9);
        assert!((ellipsoid_cap_mm3(10.0, 8.0, 6.0, -3.0) - whole).abs() < 1e-9);
    }
}
