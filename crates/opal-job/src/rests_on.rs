//! What a bid rests on, in words.

use crate::job::Plans;
use crate::settings::Settings;
use opal_evidence::{Evidence, Seen, Shape};
use opal_interior::Interiors;
use opal_plan::{PlanKind, ValuedPlan};
use opal_value::Bid;

/// Said wherever the invented prices are in force.
pub(crate) const INVENTED_PRICES: &str =
    "The prices are the invented example's: put your own in before you pay anyone.";

/// Said where the bid is worked out on another plan than the one with the best mean.
pub(crate) const SAFER_PLAN: &str = "The plan with the best average risks too much for your limits; this price is worked out on \
     a safer one, which allows more.";

/// One sentence: what was seen, how many insides were drawn, which prices and
/// which plan; and, where more looking would pay, what it is worth at most.
pub(crate) fn sentence(
    evidence: &Evidence,
    settings: &Settings,
    interiors: &Interiors,
    best: &ValuedPlan,
    bid: &Bid,
) -> String {
    let book = settings.book.parts();
    let mut out = format!(
        "It rests on {} and {}, {} possible insides that honour them, the prices in '{}', and \
         the plan to {}",
        seen(evidence),
        shape(&evidence.shape),
        interiors.n,
        book.title,
        plan(best.plan.kind),
    );
    let (more, _) = best.value.worth_of_seeing();
    if more > 0.0 && more > 0.02 * bid.price.major() {
        out.push_str(&format!(
            "; knowing all of the inside would be worth {} more at most",
            opal_report::text::money(more, settings.currency())
        ));
    }
    out.push('.');
    out
}

fn seen(evidence: &Evidence) -> String {
    let mut measured = 0_usize;
    let mut bounds = 0_usize;
    let mut absent = 0_usize;
    for sighting in evidence.bars.iter().flat_map(|bar| &bar.sightings) {
        match sighting.seen {
            Seen::Measured { .. } => measured += 1,
            Seen::AtLeast { .. } => bounds += 1,
            Seen::Absent => absent += 1,
        }
    }
    let mut parts = Vec::new();
    let count = |n: usize, one: &str, many: &str| match n {
        1 => format!("1 {one}"),
        n => format!("{n} {many}"),
    };
    if measured > 0 {
        parts.push(count(
            measured,
            "measured sighting of the bar",
            "measured sightings of the bar",
        ));
    }
    if bounds > 0 {
        parts.push(count(
            bounds,
            "'at least so thick'",
            "times 'at least so thick'",
        ));
    }
    if absent > 0 {
        parts.push(count(
            absent,
            "place without colour",
            "places without colour",
        ));
    }
    if parts.is_empty() {
        if evidence.bars.iter().any(|bar| bar.quick.is_some()) {
            "a quick look at the edge".to_owned()
        } else {
            "no look at the bar at all, only what its form is usually like".to_owned()
        }
    } else {
        parts.join(", ")
    }
}

fn shape(shape: &Shape) -> &'static str {
    match shape {
        Shape::Scan(_) => "a scan of the outside",
        Shape::Outline(_) => "a traced outline with heights",
        Shape::Callipers(_) => "three calliper sizes",
    }
}

fn plan(kind: PlanKind) -> &'static str {
    match kind {
        PlanKind::Freeform => "cut one freeform",
        PlanKind::Standard => "cut a standard size",
        PlanKind::Specimen => "keep it whole as a specimen",
        PlanKind::Several => "cut several stones",
        PlanKind::AsItIs => "sell it as it is",
    }
}

/// All of it, strongest first: the stone, then look and prices.
pub(crate) fn list(settings: &Settings, interiors: &Interiors, plans: &Plans) -> Vec<String> {
    let book = settings.book.parts();
    let mut out = interiors.rests_on.clone();
    out.extend(plans.notes.iter().cloned());
    out.push(format!(
        "Prices: '{}'{}, give or take {:.0} % for the market as a whole.",
        book.title,
        if book.invented { ", invented" } else { "" },
        100.0 * book.market_log_sd
    ));
    out
}
