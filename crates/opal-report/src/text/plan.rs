//! Ways to cut, told.

use super::spread::{in_a_hundred, line, money, statistics};
use super::{Detail, listed};
use opal_plan::{CutKind, CutStone, Origin, PlanKind, PlanWhy, ValuedPlan};
use opal_units::Currency;
use opal_value::PriceUnit;

/// A plan's family in plain words.
#[must_use]
pub fn family_words(kind: PlanKind) -> &'static str {
    match kind {
        PlanKind::Freeform => "freeform, an outline of its own",
        PlanKind::Standard => "standard size",
        PlanKind::Specimen => "specimen, kept whole",
        PlanKind::Several => "several stones",
        PlanKind::AsItIs => "sell it as it is",
    }
}

/// A planned stone in plain words: what and how large.
#[must_use]
pub fn stone_words(stone: &CutStone) -> String {
    let size = |length: f64, width: f64| format!("{length:.1} × {width:.1} mm");
    match &stone.kind {
        CutKind::Standard {
            family,
            length,
            width,
        } => format!("{family} {}", size(length.mm(), width.mm())),
        kind => {
            let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
            for point in &stone.outline_mm {
                for axis in 0..2 {
                    low[axis] = low[axis].min(point[axis]);
                    high[axis] = high[axis].max(point[axis]);
                }
            }
            let name = if *kind == CutKind::Specimen {
                "specimen"
            } else {
                "freeform"
            };
            let (x, y) = (high[0] - low[0], high[1] - low[1]);
            format!("{name} about {}", size(x.max(y), x.min(y)))
        }
    }
}

/// A plan in a few words: its family and what comes of it.
fn heading(valued: &ValuedPlan) -> String {
    let plan = &valued.plan;
    let whose = match plan.origin {
        Origin::Found => "",
        Origin::Pinned => "as you drew it: ",
        Origin::Ordered => "your order: ",
    };
    match plan.kind {
        PlanKind::AsItIs => family_words(plan.kind).to_owned(),
        PlanKind::Several => format!("{whose}several stones: {}", plan.title()),
        _ => format!("{whose}{}", plan.title()),
    }
}

/// The plans, the best first; `price_by` for each plan; `why` the first of them.
#[must_use]
#[allow(clippy::too_many_arguments)] // Each is a part of one answer.
pub fn plans(
    piece: &str,
    plans: &[ValuedPlan],
    price_by: &[Option<PriceUnit>],
    why: &PlanWhy,
    currency: Currency,
    rests_on: &[String],
    warnings: &[String],
    detail: Detail,
) -> String {
    let Some(best) = plans.first() else {
        return format!("{piece}: there is no way to cut it.\n");
    };
    let tell = |major: f64| money(major, currency);
    let mut out = format!(
        "{piece}: best as {}. Expect {} after the work, {} to {} nine times in ten.\n",
        heading(best),
        tell(best.value.adapting.mean()),
        tell(best.value.adapting.quantile(0.05)),
        tell(best.value.adapting.quantile(0.95)),
    );
    for (k, valued) in plans.iter().enumerate() {
        let by = match price_by.get(k).copied().flatten() {
            Some(PriceUnit::Carat) => "; price it by the carat",
            Some(PriceUnit::Piece) => "; price it by the piece",
            None => "",
        };
        out.push_str(&format!("\n{}. {}{by}\n", k + 1, heading(valued)));
        let value = &valued.value;
        for (what, draws) in [
            ("never revised", &value.fixed),
            ("adapting as you see", &value.adapting),
            ("if you could see in", &value.seen_inside),
        ] {
            out.push_str(&line(what, draws, tell));
            if detail == Detail::Figures {
                out.push_str(&statistics(draws, tell));
            }
        }
        // The best plan is told in full; the others in full on request.
        if k > 0 && detail == Detail::Plain {
            continue;
        }
        for (stone, forecast) in valued.plan.stones.iter().zip(&valued.stones) {
            out.push_str(&format!(
                "  {}; comes off whole: {}\n",
                stone_words(stone),
                in_a_hundred(forecast.whole_chance)
            ));
            let one_place = |unit: &'static str| move |x: f64| format!("{x:.1} {unit}");
            let percent = |x: f64| format!("{:.0} %", 100.0 * x);
            out.push_str(&line(
                "finished weight",
                &forecast.weight_ct,
                one_place("ct"),
            ));
            out.push_str(&line(
                "  of it colour",
                &forecast.colour_ct,
                one_place("ct"),
            ));
            out.push_str(&line("  of it potch", &forecast.potch_ct, one_place("ct")));
            out.push_str(&line("clean face", &forecast.clean_share, percent));
            out.push_str(&line(
                "least colour",
                &forecast.least_colour_mm,
                one_place("mm"),
            ));
            out.push_str(&line("would fetch", &forecast.worth, tell));
        }
        for cut in &valued.plan.cuts {
            out.push_str(&format!("  cut {}: {}\n", cut.order, cut.words));
        }
        let stock = &valued.plan.stock;
        if !valued.plan.stones.is_empty() {
            out.push_str(&format!(
                "  grind off about {:.1} mm above, {:.1} mm below, {:.1} mm at the sides\n",
                stock.top.mm(),
                stock.bottom.mm(),
                stock.sides.mm()
            ));
        }
        for why in &valued.why {
            out.push_str(&format!("  · {why}\n"));
        }
        for (words, share) in valued.revisions.iter().take(3) {
            out.push_str(&format!(
                "  once opened: {words}, {}\n",
                in_a_hundred(*share)
            ));
        }
    }
    out.push_str(&listed("Why this one", &why.words(tell)));
    out.push_str(&listed("It rests on", rests_on));
    out.push_str(&listed("Mind", warnings));
    out
}
