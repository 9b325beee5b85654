//! From plans and bids to the shapes that the page is told.

use crate::scene::Thinned;
use crate::shapes::{
    Amount, BidView, CutStoneView, CutView, Figure, LimitView, PlanView, PriceLook, RevisionView,
    StockView, SurfaceView, ValueView,
};
use opal_geom::TriMesh;
use opal_plan::{CutKind, CutStone, NaturalShape, PlanKind, StoneForecast, ValuedPlan};
use opal_units::{Currency, Money};
use opal_value::{Bid, BidLimits, Binding, PriceUnit};
use std::sync::Arc;

/// The key of a plan's family.
#[must_use]
pub fn plan_key(kind: PlanKind) -> &'static str {
    match kind {
        PlanKind::Freeform => "freeform",
        PlanKind::Standard => "standard",
        PlanKind::Specimen => "specimen",
        PlanKind::Several => "several",
        PlanKind::AsItIs => "as_it_is",
    }
}

/// The key of the limit that set a bid.
#[must_use]
pub fn binding_key(binding: Binding) -> &'static str {
    match binding {
        Binding::Margin => "margin",
        Binding::ChanceOfLoss => "chance_of_loss",
        Binding::WorstMean => "worst_mean",
        Binding::Stake => "stake",
        Binding::NotWorthBuying => "not_worth_buying",
    }
}

impl SurfaceView {
    /// A surface as flat lists, to a thousandth of a millimetre.
    #[must_use]
    pub fn new(mesh: &TriMesh) -> Self {
        let thousandths = |v: f64| ((v * 1000.0).round() / 1000.0) as f32;
        Self {
            positions_mm: mesh
                .vertices
                .iter()
                .flatten()
                .map(|&v| thousandths(v))
                .collect(),
            faces: mesh.faces.iter().flatten().copied().collect(),
        }
    }
}

impl CutStoneView {
    /// A planned stone with its forecast.
    #[must_use]
    pub fn new(stone: &CutStone, forecast: &StoneForecast) -> Self {
        let (kind, family, size_mm) = match &stone.kind {
            CutKind::Freeform => ("freeform", None, extent(stone)),
            CutKind::Specimen => ("specimen", None, extent(stone)),
            CutKind::Standard {
                family,
                length,
                width,
            } => ("standard", Some(family.clone()), [length.mm(), width.mm()]),
        };
        let [_, slope_x, slope_y] = stone.edge_mm;
        Self {
            kind,
            family,
            size_mm,
            outline_mm: stone.outline_mm.clone(),
            crown_mm: stone.crown_mm,
            turn_deg: stone.turn.degrees(),
            tilt_deg: slope_x.hypot(slope_y).atan().to_degrees(),
            dome_mm: stone.dome.height.mm(),
            wall_mm: stone.back.wall.mm(),
            bevel_mm: stone.back.bevel.mm(),
            bar: stone.bar,
            surface: SurfaceView::new(&for_drawing(stone).surface()),
            weight_ct: Figure::from(&forecast.weight_ct),
            colour_ct: Figure::from(&forecast.colour_ct),
            potch_ct: Figure::from(&forecast.potch_ct),
            clean_share: Figure::from(&forecast.clean_share),
            least_colour_mm: Figure::from(&forecast.least_colour_mm),
            thickness_mm: Figure::from(&forecast.thickness_mm),
            face_mm2: Figure::from(&forecast.face_mm2),
            whole_chance: forecast.whole_chance,
            worth: Figure::from(&forecast.worth),
        }
    }
}

/// A piece kept whole lies on the stone's own grid, which is finer than a screen.
fn for_drawing(stone: &CutStone) -> CutStone {
    let natural = stone.natural.as_ref().map(|natural| {
        let thin = Thinned::of(&natural.grid);
        Arc::new(NaturalShape {
            grid: thin.grid(&natural.grid),
            face_mm: thin.pick(&natural.face_mm),
            back_mm: thin.pick(&natural.back_mm),
        })
    });
    CutStone {
        natural,
        ..stone.clone()
    }
}

/// Longer and shorter size of the outline, along its own turn.
fn extent(stone: &CutStone) -> [f64; 2] {
    let (sin, cos) = stone.turn.radians().sin_cos();
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for [x, y] in &stone.outline_mm {
        for (axis, v) in [x * cos + y * sin, y * cos - x * sin]
            .into_iter()
            .enumerate()
        {
            low[axis] = low[axis].min(v);
            high[axis] = high[axis].max(v);
        }
    }
    let (a, b) = (high[0] - low[0], high[1] - low[1]);
    if a.is_finite() && b.is_finite() {
        [a.max(b), a.min(b)]
    } else {
        [0.0, 0.0]
    }
}

impl PlanView {
    /// A plan with its forecast. `priced_by` comes from whoever priced it;
    /// `cost` is the mean cost of the work.
    #[must_use]
    pub fn new(valued: &ValuedPlan, cost: Option<f64>, priced_by: Option<PriceUnit>) -> Self {
        let (plan, value) = (&valued.plan, &valued.value);
        Self {
            kind: plan_key(plan.kind),
            stones: plan
                .stones
                .iter()
                .zip(&valued.stones)
                .map(|(stone, forecast)| CutStoneView::new(stone, forecast))
                .collect(),
            cuts: plan
                .cuts
                .iter()
                .map(|cut| CutView {
                    order: cut.order,
                    line_mm: cut.line_mm,
                    tilt_deg: cut.tilt.degrees(),
                    kerf_mm: cut.kerf.mm(),
                    words: cut.words.clone(),
                })
                .collect(),
            stock: StockView {
                top_mm: plan.stock.top.mm(),
                bottom_mm: plan.stock.bottom.mm(),
                sides_mm: plan.stock.sides.mm(),
                volume_mm3: plan.stock.volume.mm3(),
            },
            value: ValueView {
                fixed: Figure::from(&value.fixed),
                adapting: Figure::from(&value.adapting),
                seen_inside: Figure::from(&value.seen_inside),
            },
            cost,
            priced_by: priced_by.map(|unit| match unit {
                PriceUnit::Carat => "carat",
                PriceUnit::Piece => "piece",
            }),
            revisions: valued
                .revisions
                .iter()
                .map(|(words, share)| RevisionView {
                    words: words.clone(),
                    share: *share,
                })
                .collect(),
            why: valued.why.clone(),
        }
    }
}

impl BidView {
    /// A bid as the page shows it. `sentence` says what it rests on.
    #[must_use]
    pub fn new(bid: &Bid, limits: &BidLimits, sentence: String) -> Self {
        Self {
            price: bid.price.into(),
            binding: binding_key(bid.binding),
            by_limit: bid
                .by_limit
                .iter()
                .map(|&(limit, price)| LimitView {
                    limit: binding_key(limit),
                    price: price.and_then(|major| amount(major, bid.price.currency())),
                })
                .collect(),
            at_price: PriceLook::new(bid.price, &bid.gain, limits.worst_share),
            margin_wanted: limits.margin,
            chance_of_loss_accepted: limits.chance_of_loss,
            sentence,
        }
    }
}

impl PriceLook {
    /// What happens at a price, from the net gain at it in each interior.
    #[must_use]
    pub fn new(price: Money, gain: &opal_units::Draws, worst_share: f64) -> Self {
        Self {
            price: price.into(),
            chance_of_loss: gain.share_below(0.0),
            expected_gain: gain.mean(),
            expected_gain_error: gain.mean_error(),
            worst_share,
            worst_mean: gain.worst_mean(worst_share),
            gain: Figure::from(gain),
        }
    }
}

/// An amount from a forecast; `None` where it is not finite.
fn amount(major: f64, currency: Currency) -> Option<Amount> {
    Money::from_major_rounded(major, currency)
        .ok()
        .map(Amount::from)
}
