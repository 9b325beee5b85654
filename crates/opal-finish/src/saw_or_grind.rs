//! Is it quicker to saw barren stock off, or to grind it away?

use crate::LogBelief;
use opal_units::{Area, Length};

/// What the saw costs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SawSide {
    /// Area that the blade has to cut through.
    pub cut: Area,
    /// Area cut a minute at the usual feed, mm²/min.
    pub feed_mm2_per_min: f64,
    /// Minutes to set the stone up and clean after.
    pub set_up_minutes: f64,
    /// What one mm² of cut costs in blade at the usual feed, in money.
    pub blade_cost_per_mm2: f64,
    /// Feed over the usual one: 1 as usual, 2 pressed twice as hard.
    pub pressure: f64,
    /// How the blade's wear grows with the feed: cost a mm² grows as
    /// `pressure^wear_exponent`. Above 1, pressing costs more blade than it saves
    /// time.
    pub wear_exponent: f64,
}

/// The comparison for one slab of barren stock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SawOrGrind {
    /// Minutes to saw it off.
    pub saw_minutes: f64,
    /// Minutes to grind it away.
    pub grind_minutes: f64,
    /// What sawing costs in all: time, blade, less what the offcut is worth.
    pub saw_cost: f64,
    /// What grinding costs in all: time.
    pub grind_cost: f64,
    /// The thickness from which sawing is the cheaper.
    pub break_even: Length,
}

impl SawOrGrind {
    /// Compares for a slab of `thickness` over the face `area`.
    ///
    /// `grind_mm3_per_min` is the coarse wheel's removal, `wage_per_min` what a
    /// minute is worth, `offcut_worth` what the sawn-off piece is worth. `None`
    /// when a rate or the wage is not positive.
    ///
    /// # Method
    /// Grinding costs time in proportion to the slab's volume; sawing costs time
    /// in proportion to the area cut, and blade. Equal at the break-even.
    #[must_use]
    pub fn compare(
        thickness: Length,
        area: Area,
        grind_mm3_per_min: f64,
        saw: SawSide,
        wage_per_min: f64,
        offcut_worth: f64,
    ) -> Option<Self> {
        let positive = [
            grind_mm3_per_min,
            saw.feed_mm2_per_min,
            saw.pressure,
            wage_per_min,
            area.mm2(),
        ];
        if positive.iter().any(|x| !(x.is_finite() && *x > 0.0)) {
            return None;
        }
        let grind_minutes = (area * thickness).mm3() / grind_mm3_per_min;
        let saw_minutes =
            saw.cut.mm2() / (saw.feed_mm2_per_min * saw.pressure) + saw.set_up_minutes;
        let blade =
            saw.cut.mm2() * saw.blade_cost_per_mm2 * libm::pow(saw.pressure, saw.wear_exponent);
        let saw_cost = saw_minutes * wage_per_min + blade - offcut_worth;
        let cost_per_mm = area.mm2() / grind_mm3_per_min * wage_per_min;
        Some(Self {
            saw_minutes,
            grind_minutes,
            saw_cost,
            grind_cost: grind_minutes * wage_per_min,
            break_even: Length::from_mm((saw_cost / cost_per_mm).max(0.0)),
        })
    }

    /// The chance that sawing is the cheaper, when the wheel's rate is known as
    /// well as `rate` says, and the break-even at 5 %, 50 % and 95 % of it.
    /// `None` when a rate or the wage is not positive.
    #[must_use]
    pub fn with_doubt(
        thickness: Length,
        area: Area,
        rate: LogBelief,
        saw: SawSide,
        wage_per_min: f64,
        offcut_worth: f64,
    ) -> Option<(Self, f64, [Length; 3])> {
        let at = |rate: f64| Self::compare(thickness, area, rate, saw, wage_per_min, offcut_worth);
        let middle = at(rate.median())?;
        // Grinding costs as much as sawing at this rate.
        let even = if middle.saw_cost > 0.0 {
            (area * thickness).mm3() * wage_per_min / middle.saw_cost
        } else {
            f64::INFINITY
        };
        let chance = if even.is_finite() {
            rate.chance_below(even)
        } else {
            1.0
        };
        let [low, high] = [at(rate.quantile(0.05))?, at(rate.quantile(0.95))?];
        let depths = [low.break_even, middle.break_even, high.break_even];
        Some((middle, chance, depths))
    }

    /// True when sawing is the cheaper.
    #[must_use]
    pub fn saw(&self) -> bool {
        self.saw_cost < self.grind_cost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn saw() -> SawSide {
        SawSide {
            cut: Area::from_mm2(600.0),
            feed_mm2_per_min: 90.0,
            set_up_minutes: 2.0,
            blade_cost_per_mm2: 0.0,
            pressure: 1.0,
            wear_exponent: 2.0,
        }
    }

    /// By hand: 600 mm² at 1.5 mm²/s and 120 s of setting up take 520 s;
    /// grinding 600 mm² at 4 mm³/s takes 150 s a millimetre: 3.467 mm.
    #[test]
    fn break_even_by_hand() {
        let even = |t| {
            SawOrGrind::compare(
                Length::from_mm(t),
                Area::from_mm2(600.0),
                240.0,
                saw(),
                1.0,
                0.0,
            )
            .expect("positive rates")
        };
        assert!((even(1.0).break_even.mm() - 520.0 / 150.0).abs() < 1e-12);
        assert!(!even(3.4).saw());
        assert!(even(3.5).saw());
    }

    /// At the break-even of the middle rate either may be the cheaper; at the
    /// break-even of the 95 % rate sawing is so in 19 of 20.
    #[test]
    fn a_doubtful_rate_makes_a_doubtful_choice() {
        let rate = LogBelief::new(240.0, 3.0, 2.0).expect("positive");
        let at = |mm| {
            let (thickness, area) = (Length::from_mm(mm), Area::from_mm2(600.0));
            SawOrGrind::with_doubt(thickness, area, rate, saw(), 1.0, 0.0).expect("rates")
        };
        let (_, chance, [low, middle, high]) = at(520.0 / 150.0);
        assert!((chance - 0.5).abs() < 1e-9, "{chance}");
        assert!((middle.mm() - 520.0 / 150.0).abs() < 1e-12);
        assert!((high.mm() / middle.mm() - 3.0).abs() < 1e-9 && low < middle);
        assert!((at(high.mm()).1 - 0.95).abs() < 1e-6);
    }

    /// Common practice, no source: on a big piece barren stock is sawn off, not
    /// ground away.
    #[test]
    fn big_barren_stock_is_sawn() {
        let big = SawOrGrind::compare(
            Length::from_mm(12.0),
            Area::from_mm2(2400.0),
            240.0,
            SawSide {
                cut: Area::from_mm2(2400.0),
                blade_cost_per_mm2: 0.002,
                ..saw()
            },
            0.6,
            0.0,
        )
        .expect("positive rates");
        assert!(big.saw());
        assert!(big.grind_minutes > 2.0 * big.saw_minutes);
    }

    /// Common practice, no source: pressing a diamond blade hard costs the blade.
    #[test]
    fn pressing_hard_does_not_pay() {
        let at = |pressure| {
            let saw = SawSide {
                blade_cost_per_mm2: 0.01,
                pressure,
                wear_exponent: 2.5,
                ..saw()
            };
            SawOrGrind::compare(
                Length::from_mm(5.0),
                Area::from_mm2(600.0),
                240.0,
                saw,
                0.5,
                0.0,
            )
            .expect("positive rates")
            .saw_cost
        };
        assert!(at(3.0) > at(1.0));
    }
}
