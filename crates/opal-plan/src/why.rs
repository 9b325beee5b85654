//! Why this plan and not another, and what would change that.

use crate::causes::{Cause, causes};
use crate::options::ValuedPlan;
use crate::plan::PlanKind;
use crate::turns::turns;
use crate::windows::{WindowWorth, windows};
use opal_decide::Fit;
use opal_interior::Interiors;
use opal_stone::Stone;

/// Interiors below which no fit is trusted.
const LEAST_INTERIORS: usize = 60;
/// A cause that explains less of the spread than this is not worth a sentence.
const LEAST_SHARE: f64 = 0.03;
/// Causes told.
const MOST_CAUSES: usize = 4;

/// Why this plan and not another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlanWhy {
    /// The next way to cut, and what it would take for it to win.
    pub rival: Option<Rival>,
    /// What the worth of the best plan hangs on, most first.
    pub deciding: Vec<Deciding>,
    /// Where a window would teach most, best first.
    pub windows: Vec<WindowWorth>,
}

/// The next way to cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Rival {
    /// Its place in the list of plans.
    pub plan: usize,
    /// What comes of it, in a few words.
    pub title: String,
    /// By how much the best is ahead on average, major units.
    pub lead: f64,
    /// Standard error of that, on equal luck.
    pub lead_error: f64,
    /// Share of the interiors in which it beats the best.
    pub wins: f64,
    /// It would come level if what it fetches were this many times as much;
    /// `None` where it fetches nothing.
    pub price_factor: Option<f64>,
    /// It would come level if what the best fetches were this many times as much;
    /// `None` where no price does it.
    pub best_price_factor: Option<f64>,
    /// Where in the interiors the lead turns over, the one that brings most first;
    /// none where nothing that the inside may hold turns it over by itself.
    pub turns: Vec<Turn>,
}

/// A value at which the rival comes level.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn {
    /// Of what.
    pub cause: Cause,
    /// The rival wins below it, or above.
    pub below: bool,
    /// The value, in the cause's unit.
    pub at: f64,
    /// Share of the interiors beyond it.
    pub chance: f64,
}

/// One thing that the worth of the best plan hangs on.
#[derive(Clone, Debug, PartialEq)]
pub struct Deciding {
    /// What.
    pub cause: Cause,
    /// Share of the spread of its worth that it explains, 0..=1; causes that go
    /// together explain the same share.
    pub share: f64,
    /// Mean worth in the third of the interiors where it is least, major units.
    pub when_low: f64,
    /// Mean worth in the third where it is most.
    pub when_high: f64,
}

/// Why the first of the plans stands first. Says nothing where there are too few
/// interiors to tell.
#[must_use]
pub fn why(stone: &Stone, interiors: &Interiors, plans: &[ValuedPlan]) -> PlanWhy {
    let Some(best) = plans.first() else {
        return PlanWhy::default();
    };
    let worth = best.value.adapting.values();
    if interiors.n < LEAST_INTERIORS || worth.len() != interiors.n {
        return PlanWhy::default();
    }
    let causes = causes(stone, interiors, &best.plan);
    PlanWhy {
        rival: rival(plans, &causes),
        deciding: deciding(worth, &causes),
        windows: windows(stone, interiors, plans),
    }
}

/// The best of the plans that a cutter would call another one.
fn rival(plans: &[ValuedPlan], causes: &[(Cause, Vec<f64>)]) -> Option<Rival> {
    let best = plans.first()?;
    let another = |p: &ValuedPlan| {
        p.plan.kind != best.plan.kind
            || (p.plan.kind == PlanKind::Standard && p.plan.title() != best.plan.title())
    };
    let (plan, other) = plans.iter().enumerate().find(|(_, p)| another(p))?;
    let leads: Vec<f64> = best
        .value
        .adapting
        .values()
        .iter()
        .zip(other.value.adapting.values())
        .map(|(b, o)| b - o)
        .collect();
    let n = leads.len() as f64;
    let lead = leads.iter().sum::<f64>() / n;
    let square: f64 = leads.iter().map(|l| (l - lead).powi(2)).sum();
    Some(Rival {
        plan,
        title: other.plan.title(),
        lead,
        lead_error: (square / (n - 1.0).max(1.0) / n).sqrt(),
        wins: leads.iter().filter(|&&l| l < 0.0).count() as f64 / n,
        price_factor: level_at(other, lead),
        best_price_factor: level_at(best, -lead),
        turns: turns(causes, &leads),
    })
}

/// How many times as much a plan would have to fetch to bring so much more; `None`
/// where it fetches nothing, or no price does it.
fn level_at(plan: &ValuedPlan, more: f64) -> Option<f64> {
    let fetched = if plan.stones.is_empty() {
        plan.value.adapting.mean()
    } else {
        plan.stones.iter().map(|s| s.worth.mean()).sum()
    };
    (fetched > 0.0)
        .then(|| 1.0 + more / fetched)
        .filter(|factor| *factor > 0.0)
}

fn deciding(worth: &[f64], causes: &[(Cause, Vec<f64>)]) -> Vec<Deciding> {
    let mut found: Vec<Deciding> = causes
        .iter()
        .filter_map(|(cause, values)| {
            let share = explained(values, worth);
            if share < LEAST_SHARE {
                return None;
            }
            let mut order: Vec<usize> = (0..values.len()).collect();
            order.sort_by(|&p, &q| values[p].total_cmp(&values[q]).then(p.cmp(&q)));
            let third = (order.len() / 3).max(1);
            let mean = |of: &[usize]| of.iter().map(|&i| worth[i]).sum::<f64>() / of.len() as f64;
            Some(Deciding {
                cause: cause.clone(),
                share,
                when_low: mean(&order[..third]),
                when_high: mean(&order[order.len() - third..]),
            })
        })
        .collect();
    found.sort_by(|p, q| q.share.total_cmp(&p.share));
    found.truncate(MOST_CAUSES);
    found
}

/// Share of the spread of `values` that `cause` and its square explain on
/// interiors that they were not fitted on; 0 where they explain nothing.
fn explained(cause: &[f64], values: &[f64]) -> f64 {
    let n = values.len();
    let (mut missed, mut spread) = (0.0, 0.0);
    for half in 0..2 {
        let rows: Vec<usize> = (0..n).filter(|i| i % 2 != half).collect();
        let features: Vec<f64> = rows
            .iter()
            .flat_map(|&i| [cause[i], cause[i] * cause[i]])
            .collect();
        let learnt: Vec<f64> = rows.iter().map(|&i| values[i]).collect();
        let mean = learnt.iter().sum::<f64>() / learnt.len().max(1) as f64;
        let Ok(fit) = Fit::new(&features, 2, &learnt, 1e-6) else {
            return 0.0;
        };
        for i in (0..n).filter(|i| i % 2 == half) {
            missed += (values[i] - fit.at(&[cause[i], cause[i] * cause[i]])).powi(2);
            spread += (values[i] - mean).powi(2);
        }
    }
    if spread > 0.0 {
        (1.0 - missed / spread).clamp(0.0, 1.0)
    } else {
        0.0
    }
}

impl PlanWhy {
    /// In plain words; `money` tells an amount in major units.
    #[must_use]
    pub fn words(&self, money: impl Fn(f64) -> String) -> Vec<String> {
        let mut words = Vec::new();
        if let Some(rival) = &self.rival {
            words.push(rival.words(&money));
            words.extend(rival.price_words());
            words.extend(rival.turn_words());
        }
        for one in self.deciding.iter().take(2) {
            words.push(format!(
                "Its worth hangs on {} ({:.0} % of the doubt): {} where that is least, {} where it \
                 is most.",
                one.cause.words(),
                100.0 * one.share,
                money(one.when_low),
                money(one.when_high)
            ));
        }
        match self.windows.first() {
            Some(window) if window.teaches() => {
                let [x, y] = window.at_mm;
                words.push(format!(
                    "A window ground from {} {}, at ({x:.0}, {y:.0}) mm, teaches most: choosing \
                     after it is worth about {} (± {}) more than choosing now, less what the window \
                     costs. It shows colour in {:.0} cases of 100.",
                    if window.above { "above" } else { "below" },
                    window.region.words(),
                    money(window.gain),
                    money(window.error),
                    100.0 * window.colour_chance
                ));
            }
            Some(_) => words.push(
                "No single window would change the choice of plan by more than chance.".to_owned(),
            ),
            None => {}
        }
        words
    }
}

impl Rival {
    fn words(&self, money: &impl Fn(f64) -> String) -> String {
        let close = if self.lead < 2.0 * self.lead_error {
            ", too close to call"
        } else {
            ""
        };
        format!(
            "Next comes {}: {} behind on average{close}, and ahead in {:.0} cases of 100.",
            self.title,
            money(self.lead),
            100.0 * self.wins
        )
    }

    fn price_words(&self) -> Option<String> {
        let factor = self.price_factor.filter(|f| *f < 3.0)?;
        let or = match self.best_price_factor {
            Some(best) => format!(
                ", or if the first fetched {:.0} % less",
                100.0 * (1.0 - best)
            ),
            None => String::new(),
        };
        Some(format!(
            "It would come level if it fetched {:.0} % more than the price book says{or}.",
            100.0 * (factor - 1.0)
        ))
    }
}

impl Rival {
    fn turn_words(&self) -> Vec<String> {
        if self.turns.is_empty() {
            return vec![
                "No one thing that the inside may hold turns the two round by itself.".to_owned(),
            ];
        }
        self.turns.iter().map(Turn::words).collect()
    }
}

impl Turn {
    fn words(&self) -> String {
        format!(
            "It would win where {} ({:.0} cases of 100).",
            self.cause.turned_words(self.below, self.at),
            100.0 * self.chance
        )
    }
}
