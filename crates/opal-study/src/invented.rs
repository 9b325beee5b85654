//! An invented stone, drawn from what is believed of its form.

use opal_evidence::{Evidence, Form};
use opal_interior::forms::{BEND, FormPrior, WEDGE};
use opal_stone::Stone;
use opal_testkit::{BarLaw, Departing, MeasuredSurface, TrueBar, edge_places, piece, rough};
use opal_units::{Rng, Seed};
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};

/// A stone of which everything is known.
#[derive(Clone, Debug)]
pub struct InventedStone {
    /// Weight and sizes; no bar, no counts.
    pub evidence: Evidence,
    /// The outside.
    pub stone: Stone,
    /// The bar.
    pub bar: TrueBar,
}

/// Nodes along the longer side. chosen: a hundred stones of this grid take seconds.
const NODES: f64 = 64.0;

/// Draws an invented stone of a form.
///
/// Size: 25 to 60 mm long, flatter than wide. Bar: from the starting priors of the
/// form, at a height at which it meets the skin.
#[must_use]
pub fn invented_stone(
    form: Form,
    departing: Departing,
    surfaces: &[MeasuredSurface],
    seed: Seed,
) -> InventedStone {
    let mut rng = seed.stream("invented-stone", 0);
    let length = 25.0 + 35.0 * rng.random::<f64>();
    let width = length * (0.5 + 0.4 * rng.random::<f64>());
    let height = width * (0.35 + 0.35 * rng.random::<f64>());
    let fill = 0.42 + 0.2 * rng.random::<f64>();
    let evidence = piece(form, [length, width, height], fill);
    let stone = rough(&evidence, length / NODES);
    let prior = FormPrior::of(form);
    // A bar that meets the skin nowhere would not have been looked at.
    for attempt in 0..50 {
        let law = bar_law(&prior, &stone, [length, width, height], &mut rng);
        let bar = TrueBar::draw(law, departing, surfaces, seed.child("bar", attempt));
        let places = edge_places(&stone, &bar, 24);
        let shows = places
            .iter()
            .filter(|&&p| bar.thickness_mm(p) >= 0.05)
            .count();
        if shows >= 3 || attempt == 49 {
            return InventedStone {
                evidence,
                stone,
                bar,
            };
        }
    }
    unreachable!("the last attempt returns")
}

fn bar_law(prior: &FormPrior, stone: &Stone, size_mm: [f64; 3], rng: &mut Rng) -> BarLaw {
    let mut z = || -> f64 { StandardNormal.sample(rng) };
    let (low, high) = stone.height_range_mm();
    let across = 0.5 * (size_mm[0] + size_mm[1]);
    let half = 0.5 * across;
    let thickness_mm = prior.thickness_mm.at(z());
    let unsteady = 1.0 / prior.steadiness.at(z());
    let relief_mm = prior.relief_mm.at(z());
    // Forecasts measure bends by what is usual, before a bar's own relief is known.
    let relief_bend = BEND * prior.relief_mm.median / relief_mm / (half * half);
    let usual = 1.0 / (prior.steadiness.median * unsteady);
    let mut bend = |most: f64| [most * z(), most * z(), most * z()];
    let relief_bend = bend(relief_bend);
    let thickness_bend = bend(BEND * usual / (half * half));
    let thickness_wedge = [WEDGE * usual / half * z(), WEDGE * usual / half * z()];
    BarLaw {
        height_mm: 0.5 * (low + high) + prior.height_share_sd * size_mm[2] * z(),
        slope: [prior.slope_sd * z(), prior.slope_sd * z()],
        centre_mm: [0.5 * size_mm[0], 0.5 * size_mm[1]],
        relief_mm,
        relief_bend,
        thickness_bend,
        thickness_wedge,
        relief_range_mm: prior.relief_range_share.at(z()) * across,
        thickness_mm,
        thickness_sd_mm: thickness_mm * unsteady,
        thickness_range_mm: prior.thickness_range_share.at(z()) * across,
        size_mm: size_mm[0].max(size_mm[1]),
    }
}
