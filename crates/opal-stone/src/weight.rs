//! Whether shape, weight and specific gravity agree. The scale never lies.

use opal_evidence::GravityEstimate;
use opal_units::{Mass, Volume};

/// One standard deviation of a weighing, as a share of it. Chosen: because a
/// kitchen-class scale reads a piece of rough to about a thousandth.
const SCALE_SHARE: f64 = 0.001;
/// Beyond so many combined standard deviations, shape and weight disagree.
/// Chosen: because one honest stone in a hundred lies beyond 2.6.
const APART: f64 = 2.6;

/// Whether shape, weight and specific gravity agree.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightCheck {
    /// What the scale said.
    pub weighed: Mass,
    /// The volume that this weight fills at the specific gravity, with one
    /// standard deviation.
    pub volume_by_weight: (Volume, Volume),
    /// The volume of the shape as it was given, with one standard deviation.
    pub volume_by_shape: (Volume, Volume),
    /// How many combined standard deviations the two stand apart.
    pub apart: f64,
    /// The factor by which lengths were scaled so that the volume is that of
    /// the weight; 1 when they were left alone.
    pub scaled_by: f64,
    /// One sentence in plain words.
    pub verdict: String,
}

impl WeightCheck {
    /// Compares a shape's volume with that of the weight.
    pub(crate) fn new(
        weighed: Mass,
        gravity: &GravityEstimate,
        volume_by_shape: (Volume, Volume),
    ) -> Self {
        let volume_by_weight = volume_by_weight(weighed, gravity);
        let (by_weight, weight_sd) = volume_by_weight;
        let (by_shape, shape_sd) = volume_by_shape;
        let sd = weight_sd.mm3().hypot(shape_sd.mm3());
        let apart = (by_shape - by_weight).mm3().abs() / sd;
        let share = (by_shape / by_weight - 1.0) * 100.0;
        let sg_says = if gravity.measured {
            format!("the measured specific gravity {:.2}", gravity.value.ratio())
        } else {
            format!("the usual specific gravity {:.2}", gravity.value.ratio())
        };
        let verdict = if apart <= APART {
            format!(
                "Shape and weight agree: {:.1} ct at {sg_says} fill {:.0} mm³, the shape says \
                 {:.0} mm³.",
                weighed.carats(),
                by_weight.mm3(),
                by_shape.mm3()
            )
        } else {
            let why = if share > 0.0 {
                "is the shape too large, a hollow or a skin of clay counted in, or the piece \
                 lighter than opal?"
            } else {
                "is the shape too small, a side not measured, or heavy host rock in the piece?"
            };
            format!(
                "Shape and weight disagree: {:.1} ct at {sg_says} fill {:.0} mm³, but the shape \
                 says {:.0} mm³ ({share:+.0} %). The scale never lies: {why}",
                weighed.carats(),
                by_weight.mm3(),
                by_shape.mm3()
            )
        };
        Self {
            weighed,
            volume_by_weight,
            volume_by_shape,
            apart,
            scaled_by: 1.0,
            verdict,
        }
    }

    /// True when the shape lies within its own error of the weight.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.apart <= APART
    }
}

/// The volume that a weight fills, with one standard deviation.
pub(crate) fn volume_by_weight(weighed: Mass, gravity: &GravityEstimate) -> (Volume, Volume) {
    let volume = weighed.volume_at(gravity.value);
    let share = (gravity.sigma / gravity.value).hypot(SCALE_SHARE);
    (volume, volume * share)
}

/// The weight of a volume, with one standard deviation.
pub(crate) fn weight_of(volume: (Volume, Volume), gravity: &GravityEstimate) -> (Mass, Mass) {
    let weight = volume.0 * gravity.value;
    let share = (gravity.sigma / gravity.value).hypot(volume.1 / volume.0);
    (weight, weight * share)
}

/// What the scale said, with one standard deviation.
pub(crate) fn weighed(mass: Mass) -> (Mass, Mass) {
    (mass, mass * SCALE_SHARE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_evidence::Form;

    /// 5 ct = 1 g (4th CGPM 1907) and water of 0.999 975 g/cm³ at 4 °C (Tanaka
    /// et al. 2001): 100 ct at 2.10 fill 20 / (2.10 × 0.999975) cm³.
    #[test]
    fn a_weight_fills_its_volume() {
        let gravity = GravityEstimate::default_for(Form::Seam);
        let (volume, sd) = volume_by_weight(Mass::from_carats(100.0), &gravity);
        assert!((volume.mm3() - 20_000.0 / (2.10 * 0.999_974_95)).abs() < 1e-6);
        assert!((sd / volume - 0.04 / 2.10).abs() < 1e-4);
    }

    #[test]
    fn a_disagreement_is_said_and_its_side_named() {
        let gravity = GravityEstimate::default_for(Form::Seam);
        let weighed = Mass::from_carats(105.0);
        let shape = |mm3: f64| (Volume::from_mm3(mm3), Volume::from_mm3(0.02 * mm3));
        assert!(WeightCheck::new(weighed, &gravity, shape(10_050.0)).agrees());
        let large = WeightCheck::new(weighed, &gravity, shape(13_000.0));
        assert!(!large.agrees() && large.verdict.contains("too large"));
        let small = WeightCheck::new(weighed, &gravity, shape(7_000.0));
        assert!(!small.agrees() && small.verdict.contains("too small"));
    }
}
