//! How deep a wheel damages the stone below the surface it leaves.

use crate::LogBelief;
use opal_units::Length;

/// How much deeper damage goes in opal than in the optical glasses that the
/// published bounds were measured on: depth grows as √E/H (Suratwala et al.
/// 2019, Opt. Eng. 58, 092604), which for guessed moduli and hardnesses of opal
/// gives 1.1 to 1.4. Chosen: 1.3, low confidence; no figure for opal is published.
const OPAL_OVER_GLASS: f64 = 1.3;

/// The least factor either way that a damage depth is believed to, however
/// narrow the published bounds are for its grain. Chosen: because the constants
/// are from memory and none is for opal.
const LEAST_FACTOR: f64 = 2.0;

/// How far one measured depth scatters around a wheel's true one, nine in ten.
/// Chosen: because a loupe check tells deep from shallow and little more.
const SCATTER_FACTOR: f64 = 1.6;

/// The published bounds of damage depth in glass for a grain size.
///
/// # Method
/// 0.3·L^0.68 < depth < 2·L^0.85, L and depth in µm, for grains of 1 to 200 µm
/// (Lambropoulos 2000, OSA Optical Fabrication and Testing; constants from memory).
#[must_use]
pub fn damage_bounds(grain: Length) -> (Length, Length) {
    let um = grain.um();
    (
        Length::from_um(0.3 * libm::pow(um, 0.68)),
        Length::from_um(2.0 * libm::pow(um, 0.85)),
    )
}

/// What is believed of the damage depth in opal below a wheel of this grain, µm:
/// the published bounds, carried over to opal, taken as nine chances in ten.
/// `None` for a grain that is not positive.
#[must_use]
pub fn damage_belief(grain: Length) -> Option<LogBelief> {
    let (low, high) = damage_bounds(grain);
    let middle = (low.um() * high.um()).sqrt();
    let factor = (high.um() / low.um()).sqrt().max(LEAST_FACTOR);
    LogBelief::new(middle * OPAL_OVER_GLASS, factor, SCATTER_FACTOR)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked numbers of the published relation (Lambropoulos 2000, from memory),
    /// by hand: 29.2 µm gives 2.98 to 35.2 µm, 9.3 µm gives 1.37 to 13.3 µm,
    /// 15 µm gives 1.89 to 19.99 µm.
    #[test]
    fn published_bounds() {
        for (grain, low, high) in [(29.2, 2.98, 35.2), (9.3, 1.37, 13.3), (15.0, 1.89, 19.99)] {
            let (a, b) = damage_bounds(Length::from_um(grain));
            assert!((a.um() - low).abs() < 0.01, "{grain}: {a}");
            assert!((b.um() - high).abs() < 0.05, "{grain}: {b}");
        }
    }

    #[test]
    fn belief_is_never_tighter_than_a_factor_of_two() {
        for um in [0.5, 3.0, 15.0, 60.0, 150.0] {
            let belief = damage_belief(Length::from_um(um)).expect("positive grain");
            assert!(
                belief.quantile(0.95) / belief.median() >= 2.0 - 1e-9,
                "{um}"
            );
        }
        assert!(damage_belief(Length::ZERO).is_none());
    }
}
