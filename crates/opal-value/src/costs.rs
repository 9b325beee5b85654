//! What the work costs: minutes, labour, consumables, fees.

use crate::luck::LuckDraw;
use opal_units::{Area, Length, Volume};

/// A plan as far as its work goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorkToDo {
    /// Stones to finish.
    pub stones: u32,
    /// Saw cuts to set up.
    pub cuts: u32,
    /// Length of all saw lines, seen from above.
    pub cut_length: Length,
    /// Area that the blade passes through.
    pub sawn: Area,
    /// Volume that the blade turns to mud.
    pub kerf: Volume,
    /// Volume that the wheels take.
    pub ground: Volume,
    /// Face area to sand and polish, all stones together.
    pub face: Area,
}

impl WorkToDo {
    /// No work: the piece is sold as it is.
    pub const NONE: Self = Self {
        stones: 0,
        cuts: 0,
        cut_length: Length::ZERO,
        sawn: Area::ZERO,
        kerf: Volume::ZERO,
        ground: Volume::ZERO,
        face: Area::ZERO,
    };
}

/// What the cutter's own work costs; money in major units of the book's currency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Costs {
    /// Labour, an hour.
    pub labour_per_hour: f64,
    /// Minutes to look a piece over and set up, once for a piece.
    pub minutes_a_piece: f64,
    /// Minutes to set a saw cut up.
    pub minutes_a_cut: f64,
    /// Minutes to saw a square centimetre.
    pub minutes_sawing_a_cm2: f64,
    /// Minutes to grind a cubic centimetre off.
    pub minutes_grinding_a_cm3: f64,
    /// Minutes to dop, shape and finish a stone, beside its face.
    pub minutes_a_stone: f64,
    /// Minutes to sand and polish a square centimetre of face.
    pub minutes_finishing_a_cm2: f64,
    /// Minutes to weigh, photograph and list a stone.
    pub minutes_selling_a_stone: f64,
    /// One standard deviation of the minutes as a whole, in the logarithm.
    pub minutes_log_sd: f64,
    /// Blade worn by a square centimetre of sawing.
    pub blade_a_cm2: f64,
    /// Wheels worn by a cubic centimetre of grinding.
    pub wheels_a_cm3: f64,
    /// Belts, discs and polish for a square centimetre of face.
    pub polish_a_cm2: f64,
    /// Dop, glue, bag, label for a stone.
    pub sundries_a_stone: f64,
    /// Selling fee as a share of the price.
    pub selling_fee: f64,
    /// Postage and insurance for a stone sold.
    pub posting_a_stone: f64,
}

/// What a plan's work costs, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorkCost {
    /// Minutes to look over and set up.
    pub setup_minutes: f64,
    /// Minutes at the saw.
    pub sawing_minutes: f64,
    /// Minutes at the grinding wheels.
    pub grinding_minutes: f64,
    /// Minutes to shape, sand and polish.
    pub finishing_minutes: f64,
    /// Minutes to weigh, photograph and list.
    pub selling_minutes: f64,
    /// Labour, major units.
    pub labour: f64,
    /// Blade, wheels, polish, sundries, posting; major units.
    pub consumables: f64,
}

impl WorkCost {
    /// All minutes.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.setup_minutes
            + self.sawing_minutes
            + self.grinding_minutes
            + self.finishing_minutes
            + self.selling_minutes
    }

    /// Labour and consumables, major units.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.labour + self.consumables
    }
}

const MM2_PER_CM2: f64 = 100.0;
const MM3_PER_CM3: f64 = 1000.0;
const MINUTES_PER_HOUR: f64 = 60.0;

impl Costs {
    /// What the work of a plan costs, with the bench's luck.
    ///
    /// The selling fee hangs on the price and is not in here: see
    /// [`Costs::after_fee`].
    #[must_use]
    pub fn of(&self, work: &WorkToDo, luck: &LuckDraw) -> WorkCost {
        let stones = f64::from(work.stones);
        let sawn_cm2 = work.sawn.mm2() / MM2_PER_CM2;
        let ground_cm3 = work.ground.mm3() / MM3_PER_CM3;
        let face_cm2 = work.face.mm2() / MM2_PER_CM2;
        let pace = (self.minutes_log_sd * luck.work).exp();
        let worked = if work.stones > 0 || work.cuts > 0 {
            self.minutes_a_piece
        } else {
            0.0
        };
        let mut cost = WorkCost {
            setup_minutes: pace * worked,
            sawing_minutes: pace
                * (f64::from(work.cuts) * self.minutes_a_cut
                    + sawn_cm2 * self.minutes_sawing_a_cm2),
            grinding_minutes: pace * ground_cm3 * self.minutes_grinding_a_cm3,
            finishing_minutes: pace
                * (stones * self.minutes_a_stone + face_cm2 * self.minutes_finishing_a_cm2),
            selling_minutes: pace * stones * self.minutes_selling_a_stone,
            labour: 0.0,
            consumables: sawn_cm2 * self.blade_a_cm2
                + ground_cm3 * self.wheels_a_cm3
                + face_cm2 * self.polish_a_cm2
                + stones * (self.sundries_a_stone + self.posting_a_stone),
        };
        cost.labour = cost.minutes() / MINUTES_PER_HOUR * self.labour_per_hour;
        cost
    }

    /// What is left of a sale after the selling fee, major units.
    #[must_use]
    pub fn after_fee(&self, amount: f64) -> f64 {
        amount * (1.0 - self.selling_fee)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn costs() -> Costs {
        Costs {
            labour_per_hour: 60.0,
            minutes_a_piece: 10.0,
            minutes_a_cut: 3.0,
            minutes_sawing_a_cm2: 2.0,
            minutes_grinding_a_cm3: 8.0,
            minutes_a_stone: 15.0,
            minutes_finishing_a_cm2: 5.0,
            minutes_selling_a_stone: 20.0,
            minutes_log_sd: 0.3,
            blade_a_cm2: 0.05,
            wheels_a_cm3: 0.4,
            polish_a_cm2: 0.1,
            sundries_a_stone: 1.0,
            selling_fee: 0.1,
            posting_a_stone: 12.0,
        }
    }

    /// Worked by hand: 10 + 2·3 + 6·2 + 2·8 + (2·15 + 3·5) + 2·20 = 129 minutes,
    /// 129 of labour at 60 an hour; 6·.05 + 2·.4 + 3·.1 + 2·13 = 27.4.
    #[test]
    fn adds_up() {
        let work = WorkToDo {
            stones: 2,
            cuts: 2,
            cut_length: Length::from_mm(60.0),
            sawn: Area::from_mm2(600.0),
            kerf: Volume::from_mm3(240.0),
            ground: Volume::from_mm3(2000.0),
            face: Area::from_mm2(300.0),
        };
        let cost = costs().of(&work, &LuckDraw::MIDDLE);
        assert!((cost.minutes() - 129.0).abs() < 1e-9);
        assert!((cost.labour - 129.0).abs() < 1e-9);
        assert!((cost.consumables - 27.4).abs() < 1e-9);
        let slow = LuckDraw {
            work: 1.0,
            ..LuckDraw::MIDDLE
        };
        let slowly = costs().of(&work, &slow);
        assert!((slowly.minutes() / 129.0 - 0.3_f64.exp()).abs() < 1e-9);
        assert_eq!(slowly.consumables, cost.consumables);
        assert!((costs().after_fee(100.0) - 90.0).abs() < 1e-12);
    }

    #[test]
    fn selling_as_it_is_costs_no_work() {
        assert_eq!(costs().of(&WorkToDo::NONE, &LuckDraw::MIDDLE).total(), 0.0);
    }
}
