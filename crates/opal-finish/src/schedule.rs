//! When to hand over to the finer wheel.
//!
//! The state is the stock that still lies above the wanted face. A wheel may
//! work down to the depth of its own damage and no further: what it leaves is
//! then taken off by the finer ones. Finer wheels are slower, so each hands
//! over as late as it may; which wheels to use at all is a shortest path.

use crate::Wheel;
use opal_units::{Area, Draws, Length, Seed};
use thiserror::Error;

/// What to schedule.
#[derive(Clone, Copy, Debug)]
pub struct ScheduleAsk<'a> {
    /// The wheels at hand, coarse to fine; the last one polishes.
    pub wheels: &'a [Wheel],
    /// Stock above the wanted face when the first wheel starts.
    pub stock: Length,
    /// Area of the face.
    pub face: Area,
    /// Wanted confidence that no wheel's damage reaches the face, 0.5..1.
    pub confidence: f64,
    /// Minutes that a change of wheel costs, with cleaning and a look.
    pub change_minutes: f64,
}

/// Why there is no schedule.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ScheduleError {
    /// No wheels.
    #[error("no wheels; at least the polishing wheel is needed")]
    NoWheels,
    /// The last wheel leaves damage.
    #[error("the last wheel, '{0}', leaves damage; the last one must polish")]
    NoPolish(String),
    /// A number is out of range.
    #[error("{field} is {value}; it must be {limit}")]
    Range {
        /// Which.
        field: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
}

/// One wheel's turn.
#[derive(Clone, Debug, PartialEq)]
pub struct HandOver {
    /// Which of the wheels that were asked about.
    pub wheel: usize,
    /// Stock above the wanted face when it starts.
    pub from: Length,
    /// Stock above the wanted face when it hands over: stop here.
    pub to: Length,
    /// Minutes at the middle of what is believed of its rate, without the change.
    pub minutes: f64,
}

/// The turns of the wheels, coarse to fine.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// The turns.
    pub turns: Vec<HandOver>,
    /// Minutes in all with changes, at the middle of what is believed.
    pub minutes: f64,
    /// The stock that must be left on the face when the first wheel of the
    /// schedule stops.
    pub leave_after_first: Length,
}

impl Schedule {
    /// The fastest turns that keep every wheel's damage off the face.
    ///
    /// # Method
    /// Shortest path over the wheels in their order; O(m²).
    /// # Errors
    /// No wheels, a last wheel that leaves damage, or a number out of range.
    pub fn fastest(ask: &ScheduleAsk<'_>) -> Result<Self, ScheduleError> {
        check(ask)?;
        let depths: Vec<f64> = ask
            .wheels
            .iter()
            .map(|w| {
                w.damage_um
                    .map_or(0.0, |d| d.quantile(ask.confidence) / 1000.0)
            })
            .collect();
        let depth_per_minute: Vec<f64> = ask
            .wheels
            .iter()
            .map(|w| w.removal_mm3_per_min.median() / ask.face.mm2())
            .collect();
        let last = ask.wheels.len() - 1;
        let start = ask.stock.mm();
        // best[k]: least minutes to reach the end of wheel k's turn; from[k]: the turn before.
        let mut best = vec![f64::INFINITY; ask.wheels.len()];
        let mut from: Vec<Option<usize>> = vec![None; ask.wheels.len()];
        for k in 0..ask.wheels.len() {
            if depths[k] < start || k == last {
                best[k] = (start - depths[k]).max(0.0) / depth_per_minute[k];
            }
            for before in 0..k {
                // A finer wheel that damages no less deep than the coarser one has no turn.
                if best[before].is_finite() && depths[before] > depths[k] {
                    let minutes = best[before]
                        + ask.change_minutes
                        + (depths[before] - depths[k]) / depth_per_minute[k];
                    if minutes < best[k] {
                        best[k] = minutes;
                        from[k] = Some(before);
                    }
                }
            }
        }
        let mut order = vec![last];
        while let Some(before) = order.last().and_then(|&k| from[k]) {
            order.push(before);
        }
        order.reverse();
        let mut stock = start;
        let turns: Vec<HandOver> = order
            .iter()
            .map(|&k| {
                let turn = HandOver {
                    wheel: k,
                    from: Length::from_mm(stock),
                    to: Length::from_mm(depths[k].min(stock)),
                    minutes: (stock - depths[k]).max(0.0) / depth_per_minute[k],
                };
                stock = turn.to.mm();
                turn
            })
            .collect();
        Ok(Self {
            leave_after_first: turns[0].to,
            minutes: best[last],
            turns,
        })
    }

    /// Minutes of turn `k`, without the change: 5 %, 50 % and 95 % of what is
    /// believed of the wheel's rate; `None` where there is no such turn.
    #[must_use]
    pub fn turn_minutes(&self, ask: &ScheduleAsk<'_>, k: usize) -> Option<[f64; 3]> {
        let turn = self.turns.get(k)?;
        let rate = ask.wheels.get(turn.wheel)?.removal_mm3_per_min;
        let volume = (turn.from - turn.to).mm() * ask.face.mm2();
        Some([0.95, 0.5, 0.05].map(|p| volume / rate.quantile(p)))
    }

    /// The chance that marks of the first wheel are left on the face when the
    /// finer wheels take off only this share of what they should.
    #[must_use]
    pub fn chance_of_marks(&self, ask: &ScheduleAsk<'_>, share: f64) -> f64 {
        let taken = self.leave_after_first.um() * share;
        let first = self
            .turns
            .first()
            .and_then(|turn| ask.wheels.get(turn.wheel));
        first
            .and_then(|wheel| wheel.damage_um)
            .map_or(0.0, |damage| 1.0 - damage.chance_below(taken))
    }

    /// What turn `k` uses up of its wheel, major units; `None` where nobody told
    /// how that wheel wears.
    #[must_use]
    pub fn turn_wear(&self, ask: &ScheduleAsk<'_>, k: usize) -> Option<f64> {
        let turn = self.turns.get(k)?;
        let removed = ask.face * (turn.from - turn.to);
        Some(ask.wheels.get(turn.wheel)?.wear?.cost(removed))
    }

    /// The minutes in all when the rates are drawn from what is believed of
    /// them: `n` draws.
    #[must_use]
    pub fn minutes_spread(&self, ask: &ScheduleAsk<'_>, seed: Seed, n: usize) -> Option<Draws> {
        let changes = ask.change_minutes * self.turns.len().saturating_sub(1) as f64;
        let minutes = (0..n as u64)
            .map(|i| {
                let mut rng = seed.stream("finish-minutes", i);
                self.turns.iter().fold(changes, |sum, turn| {
                    let rate = ask.wheels[turn.wheel].removal_mm3_per_min.draw(&mut rng);
                    sum + (turn.from - turn.to).mm() * ask.face.mm2() / rate
                })
            })
            .collect();
        Draws::new(minutes).ok()
    }
}

fn check(ask: &ScheduleAsk<'_>) -> Result<(), ScheduleError> {
    let last = ask.wheels.last().ok_or(ScheduleError::NoWheels)?;
    if last.damage_um.is_some() {
        return Err(ScheduleError::NoPolish(last.name.clone()));
    }
    let range = |field, value: f64, good: bool, limit| {
        if good {
            Ok(())
        } else {
            Err(ScheduleError::Range {
                field,
                value,
                limit,
            })
        }
    };
    let (stock, face) = (ask.stock.mm(), ask.face.mm2());
    range(
        "stock",
        stock,
        stock.is_finite() && stock >= 0.0,
        "0 mm or more",
    )?;
    range("face", face, face.is_finite() && face > 0.0, "above 0 mm²")?;
    let confidence = ask.confidence;
    range(
        "confidence",
        confidence,
        (0.5..1.0).contains(&confidence),
        "from 0.5 to below 1",
    )?;
    let change = ask.change_minutes;
    range(
        "change_minutes",
        change,
        change.is_finite() && change >= 0.0,
        "0 or more",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Grain, GritScale, LogBelief};
    use proptest::prelude::*;

    /// A wheel with a known damage depth (µm) and depth rate (µm/s) on 100 mm².
    fn wheel(damage_um: f64, um_per_s: f64) -> Wheel {
        let grain = Grain {
            scale: GritScale::Micrometres,
            number: "1".to_owned(),
            size: Length::from_um(1.0),
        };
        let removal = um_per_s * 60.0 / 1000.0 * 100.0;
        Wheel {
            name: format!("{damage_um}"),
            grain,
            damage_um: LogBelief::new(damage_um, 1.0 + 1e-12, 2.0),
            removal_mm3_per_min: LogBelief::new(removal, 1.5, 1.5).expect("positive"),
            wear: None,
        }
    }

    fn four() -> Vec<Wheel> {
        vec![
            wheel(60.0, 10.0),
            wheel(15.0, 2.0),
            wheel(5.0, 0.6),
            wheel(0.0, 0.05),
        ]
    }

    fn ask(wheels: &[Wheel], change_minutes: f64) -> ScheduleAsk<'_> {
        ScheduleAsk {
            wheels,
            stock: Length::from_um(500.0),
            face: Area::from_mm2(100.0),
            confidence: 0.5,
            change_minutes,
        }
    }

    /// Four wheels worked by hand: every subset enumerated. Changes of 60 s: the
    /// second wheel is skipped, 44 + 60 + 91.667 + 60 + 100 = 355.67 s (363.17 s
    /// with all); changes of 30 s: all stay, 273.17 s.
    #[test]
    fn by_hand() {
        let wheels = four();
        let slow = Schedule::fastest(&ask(&wheels, 1.0)).expect("a schedule");
        assert!(
            (slow.minutes * 60.0 - 355.667).abs() < 0.01,
            "{}",
            slow.minutes * 60.0
        );
        assert_eq!(
            slow.turns.iter().map(|t| t.wheel).collect::<Vec<_>>(),
            [0, 2, 3]
        );
        let quick = Schedule::fastest(&ask(&wheels, 0.5)).expect("a schedule");
        assert!(
            (quick.minutes * 60.0 - 273.167).abs() < 0.01,
            "{}",
            quick.minutes * 60.0
        );
        assert_eq!(quick.turns.len(), 4);
        assert!((quick.leave_after_first.um() - 60.0).abs() < 1e-6);
    }

    #[test]
    fn with_little_stock_the_coarse_wheel_has_no_turn() {
        let wheels = four();
        let little = ScheduleAsk {
            stock: Length::from_um(40.0),
            ..ask(&wheels, 0.5)
        };
        let schedule = Schedule::fastest(&little).expect("a schedule");
        assert!(schedule.turns.iter().all(|t| t.wheel != 0));
    }

    #[test]
    fn faults_are_named() {
        let wheels = four();
        assert_eq!(
            Schedule::fastest(&ask(&[], 1.0)),
            Err(ScheduleError::NoWheels)
        );
        assert!(matches!(
            Schedule::fastest(&ask(&wheels[..3], 1.0)),
            Err(ScheduleError::NoPolish(_))
        ));
        let bad = ScheduleAsk {
            confidence: 1.0,
            ..ask(&wheels, 1.0)
        };
        assert!(matches!(
            Schedule::fastest(&bad),
            Err(ScheduleError::Range {
                field: "confidence",
                ..
            })
        ));
    }

    proptest! {
        /// No subset of the wheels is faster, and no turn goes below its damage.
        #[test]
        fn no_subset_is_faster(
            damage in proptest::collection::vec(1.0..200.0_f64, 3),
            rate in proptest::collection::vec(0.05..20.0_f64, 4),
            change in 0.0..3.0_f64,
            stock in 0.0..800.0_f64,
        ) {
            let mut depths = damage.clone();
            depths.sort_by(|a, b| b.total_cmp(a));
            depths.push(0.0);
            let wheels: Vec<Wheel> =
                depths.iter().zip(&rate).map(|(&d, &r)| wheel(d, r)).collect();
            let mut question = ask(&wheels, change);
            question.stock = Length::from_um(stock);
            let found = Schedule::fastest(&question).expect("a schedule");
            for mask in 0..8_u32 {
                let used: Vec<usize> =
                    (0..4).filter(|&k| k == 3 || mask & (1 << k) != 0).collect();
                let mut left = stock;
                let mut minutes = change * (used.len() - 1) as f64;
                let mut allowed = true;
                for &k in &used {
                    allowed &= k == 3 || depths[k] < left;
                    minutes += (left - depths[k]).max(0.0) / (rate[k] * 60.0);
                    left = depths[k].min(left);
                }
                if allowed {
                    prop_assert!(found.minutes <= minutes + 1e-6, "{mask}: {} > {minutes}", found.minutes);
                }
            }
            for turn in &found.turns {
                prop_assert!(turn.to.um() + 1e-6 >= depths[turn.wheel].min(stock));
            }
        }
    }

    /// Common practice, no source: 250 for ordinary roughing; 90 for big stock
    /// only, and never on a small stone. With the usual wheels, 0.4 mm to take
    /// off a 60 mm² face never calls for the 90; 8 mm off 2,500 mm² does.
    #[test]
    fn the_90_is_for_big_stock_only() {
        let wheels = crate::usual_wheels();
        let first = |stock_mm: f64, face_mm2: f64| {
            let question = ScheduleAsk {
                wheels: &wheels,
                stock: Length::from_mm(stock_mm),
                face: Area::from_mm2(face_mm2),
                confidence: 0.9,
                change_minutes: 2.0,
            };
            let turns = Schedule::fastest(&question).expect("a schedule").turns;
            wheels[turns[0].wheel].name.clone()
        };
        assert_eq!(first(0.4, 60.0), "250 diamond");
        assert_eq!(first(8.0, 2500.0), "90 diamond");
        // Never near colour: its damage would reach it.
        assert_ne!(first(0.1, 2500.0), "90 diamond");
    }

    /// By hand: 440 µm on 100 mm² at 10 µm/s take 44 s; the rate is believed to
    /// a factor of 1.5 either way.
    #[test]
    fn one_turn_carries_the_spread_of_its_rate() {
        let wheels = four();
        let question = ask(&wheels, 0.5);
        let schedule = Schedule::fastest(&question).expect("a schedule");
        let [low, middle, high] = schedule.turn_minutes(&question, 0).expect("a turn");
        assert!((middle * 60.0 - 44.0).abs() < 1e-6, "{middle}");
        assert!((high / middle - 1.5).abs() < 1e-6 && (middle / low - 1.5).abs() < 1e-6);
        assert!(schedule.turn_minutes(&question, 9).is_none());
    }

    /// Common practice, no source: rushing leaves cutting marks. With all their
    /// minutes the finer wheels leave marks with the chance that was asked for, one
    /// in ten; with half of them far more often.
    #[test]
    fn rushing_leaves_cutting_marks() {
        let wheels = crate::usual_wheels();
        let question = ScheduleAsk {
            wheels: &wheels,
            stock: Length::from_mm(0.5),
            face: Area::from_mm2(120.0),
            confidence: 0.9,
            change_minutes: 2.0,
        };
        let schedule = Schedule::fastest(&question).expect("a schedule");
        assert!((schedule.chance_of_marks(&question, 1.0) - 0.1).abs() < 1e-9);
        assert!(schedule.chance_of_marks(&question, 0.5) > 0.2);
    }

    /// By hand: 440 µm on 100 mm² are 44 mm³ of a wheel that costs 90.00 and lasts
    /// for 40,000 mm³.
    #[test]
    fn a_turn_uses_up_its_share_of_the_wheel() {
        let mut wheels = four();
        wheels[0].wear = Some(crate::Wear {
            price: opal_units::Money::from_minor(
                9000,
                opal_units::Currency::new("AUD").expect("a code"),
            ),
            lasts: opal_units::Volume::from_mm3(40_000.0),
        });
        let question = ask(&wheels, 0.5);
        let schedule = Schedule::fastest(&question).expect("a schedule");
        let wear = schedule.turn_wear(&question, 0).expect("told");
        assert!((wear - 0.099).abs() < 1e-9, "{wear}");
        assert!(schedule.turn_wear(&question, 1).is_none());
    }

    /// Preston (1927): at one force the depth rate is that of pressure, force over
    /// area, so four times the face takes four times the minutes for the same depth.
    #[test]
    fn minutes_grow_with_the_face() {
        let wheels = four();
        let small = ask(&wheels, 0.0);
        let large = ScheduleAsk {
            face: Area::from_mm2(400.0),
            ..small
        };
        let minutes = |question| Schedule::fastest(question).expect("a schedule").minutes;
        assert!((minutes(&large) / minutes(&small) - 4.0).abs() < 1e-9);
    }

    #[test]
    fn same_seed_same_minutes() {
        let wheels = four();
        let question = ask(&wheels, 1.0);
        let schedule = Schedule::fastest(&question).expect("a schedule");
        let a = schedule.minutes_spread(&question, Seed(7), 200);
        assert_eq!(a, schedule.minutes_spread(&question, Seed(7), 200));
        let spread = a.expect("finite").spread();
        assert!(spread.quantiles[0] < schedule.minutes && schedule.minutes < spread.quantiles[6]);
    }
}
