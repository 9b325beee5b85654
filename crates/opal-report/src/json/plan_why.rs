//! Why the best plan stands first, in machine form.

use super::figure::Digits;
use opal_plan::{Cause, PlanWhy};
use opal_units::Currency;
use schemars::JsonSchema;
use serde::Serialize;

/// Why the first plan stands first, and what would change that.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct PlanWhyDoc {
    /// The next way to cut; left out where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<NextPlanDoc>,
    /// What the worth of the first hangs on, most first.
    pub deciding: Vec<DecidingDoc>,
    /// What a window would bring, place by place, most first.
    pub windows: Vec<WindowDoc>,
    /// All of it in plain words.
    pub words: Vec<String>,
}

/// The next way to cut, and what it would take for it to win.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NextPlanDoc {
    /// Its place in the list of plans, counted from 0.
    pub plan: usize,
    /// What comes of it in a few words.
    pub title: String,
    /// By how much the first is ahead on average, major units.
    pub lead: f64,
    /// Standard error of that, on equal luck.
    pub lead_error: f64,
    /// Share of the interiors in which it beats the first.
    pub wins: f64,
    /// It comes level if it fetches so many times as much; left out where it
    /// fetches nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_factor: Option<f64>,
    /// It comes level if what the first fetches were so many times as much; left out
    /// where no price does it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_price_factor: Option<f64>,
    /// Where in the interiors it would win; none where no one thing inside does it.
    pub turns: Vec<TurnDoc>,
}

/// A value at which the next plan comes level.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TurnDoc {
    /// `height_mm`, `thickness_mm` or `speck_share`.
    pub what: String,
    /// The bar, where it is one's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bar: Option<String>,
    /// Where: `middle`, or a side such as `far-left`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// True where it wins below the value, false where above.
    pub below: bool,
    /// The value.
    pub at: f64,
    /// Share of the interiors beyond it.
    pub chance: f64,
}

/// One thing that the worth of the first plan hangs on.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DecidingDoc {
    /// `height_mm`, `thickness_mm` or `speck_share`.
    pub what: String,
    /// The bar, where it is one's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bar: Option<String>,
    /// Where: `middle`, or a side such as `far-left`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// Share of the spread of its worth that it explains.
    pub share: f64,
    /// Mean worth in the third of the interiors where it is least.
    pub when_low: f64,
    /// Mean worth in the third where it is most.
    pub when_high: f64,
}

/// What a window at one place would bring.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WindowDoc {
    /// From above, stone frame, mm.
    pub at_mm: [f64; 2],
    /// Ground from above, or from below.
    pub above: bool,
    /// What choosing after looking brings over choosing now, major units; the
    /// window's own cost not counted.
    pub gain: f64,
    /// Its standard error.
    pub error: f64,
    /// The chance that it shows colour.
    pub colour_chance: f64,
    /// True where the gain is more than chance.
    pub teaches: bool,
}

/// What, the bar, where.
fn parts(cause: &Cause) -> (String, Option<String>, Option<String>) {
    match cause {
        Cause::Height { bar, region } => (
            "height_mm".to_owned(),
            Some(bar.clone()),
            Some(region.key()),
        ),
        Cause::Thickness { bar, region } => (
            "thickness_mm".to_owned(),
            Some(bar.clone()),
            Some(region.key()),
        ),
        Cause::Specks => ("speck_share".to_owned(), None, None),
    }
}

impl PlanWhyDoc {
    /// The reasons, with the currency that their words are told in.
    #[must_use]
    pub fn new(why: &PlanWhy, currency: Currency) -> Self {
        let money = |x: f64| Digits::Money.round(x);
        let share = |x: f64| Digits::Share.round(x);
        let length = |x: f64| Digits::Length.round(x);
        Self {
            next: why.rival.as_ref().map(|rival| NextPlanDoc {
                plan: rival.plan,
                title: rival.title.clone(),
                lead: money(rival.lead),
                lead_error: money(rival.lead_error),
                wins: share(rival.wins),
                price_factor: rival.price_factor.map(share),
                first_price_factor: rival.best_price_factor.map(share),
                turns: rival
                    .turns
                    .iter()
                    .map(|turn| {
                        let (what, bar, region) = parts(&turn.cause);
                        TurnDoc {
                            what,
                            bar,
                            region,
                            below: turn.below,
                            at: length(turn.at),
                            chance: share(turn.chance),
                        }
                    })
                    .collect(),
            }),
            deciding: why
                .deciding
                .iter()
                .map(|one| {
                    let (what, bar, region) = parts(&one.cause);
                    DecidingDoc {
                        what,
                        bar,
                        region,
                        share: share(one.share),
                        when_low: money(one.when_low),
                        when_high: money(one.when_high),
                    }
                })
                .collect(),
            windows: why
                .windows
                .iter()
                .map(|window| WindowDoc {
                    at_mm: window.at_mm.map(length),
                    above: window.above,
                    gain: money(window.gain),
                    error: money(window.error),
                    colour_chance: share(window.colour_chance),
                    teaches: window.teaches(),
                })
                .collect(),
            words: why.words(|major| crate::text::money(major, currency)),
        }
    }
}
