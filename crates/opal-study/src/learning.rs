//! A career of buying, cutting and selling, with and without learning from it.
//!
//! The career runs from the rough's weight to the sale by a known law: yield by
//! field, price by kind and field, both off from what the cutter believes at the
//! start. What is learned, and how bids are made, are the program's own parts.

use crate::study::{Going, StudyError, go_on};
use opal_files::{example_prices, read_prices};
use opal_learn::{GroupSpread, Groups, NormalGroups, Record, normal_groups};
use opal_units::{Area, Draws, Length, Mass, Rng, Seed};
use opal_value::{BidLimits, Costs, LuckDraw, OwnSales, PriceBook, Sale, StoneToPrice, bid};
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal, StudentT};

/// What to run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearningOptions {
    /// Careers, each with fields and a price table of its own.
    pub careers: usize,
    /// Stones offered in each.
    pub stones: usize,
    /// Draws of each forecast.
    pub draws: usize,
    /// Where it all starts from.
    pub seed: Seed,
}

impl Default for LearningOptions {
    fn default() -> Self {
        Self {
            careers: 20,
            stones: 300,
            draws: 400,
            seed: Seed(2024),
        }
    }
}

fn stop(error: impl std::fmt::Display) -> StudyError {
    StudyError::Career(error.to_string())
}

/// Stones in a stretch of the report.
pub(crate) const STRETCH: usize = 50;

/// How one cutter did over one stretch of stones, all careers together.
#[derive(Clone, Debug, Default)]
pub struct Stretch {
    /// Forecasts of every stone offered, in the logarithm of its worth.
    pub forecasts: Record,
    /// Stones bought.
    pub bought: usize,
    /// Profit, the table's currency.
    pub profit: f64,
}

/// The study's answer.
#[derive(Clone, Debug)]
pub struct LearningReport {
    /// What was asked.
    pub options: LearningOptions,
    /// The cutter who learns, stretch by stretch.
    pub learning: Vec<Stretch>,
    /// The same cutter who does not, on the same stones.
    pub not_learning: Vec<Stretch>,
    /// Profit of a whole career, learning and not, for each career.
    pub profits: Vec<[f64; 2]>,
}

const FIELDS: [&str; 4] = ["Field A", "Field B", "Field C", "Field D"];
const KINDS: [(&str, &str); 3] = [
    ("light", "bright"),
    ("dark", "bright"),
    ("crystal", "bright"),
];
/// What the cutter believes of the yield at the start: a fifth of the rough, in
/// two of three fields within 40 % of it (yields of rough, 0.1 to 0.35: common
/// practice, no source).
const YIELD: (f64, f64) = (0.2, 0.35);
/// Scatter of one stone's yield in the logarithm. Chosen.
const YIELD_OF_ONE: f64 = 0.45;
const HOUR: f64 = 60.0;

/// What is true and what nobody in the career is told.
struct World {
    log_yield: [f64; 4],
    log_price: [f64; 4],
    log_kind: [f64; 3],
    log_level: f64,
}

struct Offer {
    field: usize,
    kind: usize,
    rough_ct: f64,
    asked: f64,
    /// What will come of it.
    finished_ct: f64,
    amount: f64,
    minutes: f64,
}

/// A cutter's memory.
#[derive(Default)]
struct Memory {
    sales: Vec<Sale>,
    log_yields: [Vec<f64>; 4],
}

struct Table {
    book: PriceBook,
    costs: Costs,
    limits: BidLimits,
}

/// Runs the careers.
///
/// # Errors
/// A part of the program fails; or it was stopped.
pub fn learning(
    options: &LearningOptions,
    going: &Going<'_>,
) -> Result<LearningReport, StudyError> {
    let prices = read_prices("prices.toml", example_prices().as_bytes()).map_err(stop)?;
    let table = Table {
        book: prices.book,
        costs: prices.costs,
        limits: BidLimits {
            margin: 0.2,
            chance_of_loss: 0.5,
            ..BidLimits::default()
        },
    };
    let stretches = options.stones.div_ceil(STRETCH);
    let mut report = LearningReport {
        options: *options,
        learning: vec![Stretch::default(); stretches],
        not_learning: vec![Stretch::default(); stretches],
        profits: Vec::with_capacity(options.careers),
    };
    for career in 0..options.careers {
        let seed = options.seed.child("career", career as u64);
        let world = World::draw(seed);
        let mut profit = [0.0; 2];
        for learns in [true, false] {
            let stretches = if learns {
                &mut report.learning
            } else {
                &mut report.not_learning
            };
            let mut memory = Memory::default();
            let mut taught = Taught::from(&memory, &table)?;
            for k in 0..options.stones {
                let half = 0.5 * f64::from(!learns);
                let through = (k as f64 / options.stones as f64) * 0.5 + half;
                go_on(going, (career as f64 + through) / options.careers as f64)?;
                // The same stone for both cutters.
                let of_stone = seed.child("stone", k as u64);
                let offer = world.offer(&table, of_stone)?;
                let worth = taught.forecast(&offer, &table, options.draws, of_stone)?;
                let stretch = &mut stretches[k / STRETCH];
                stretch.score(&offer, &table, &worth, of_stone)?;
                let currency = table.book.currency();
                let most = bid(&worth, &table.limits, currency).map_err(stop)?;
                if offer.asked > most.price.major() {
                    continue;
                }
                let gain = table.net(&offer) - offer.asked;
                stretch.bought += 1;
                stretch.profit += gain;
                profit[usize::from(!learns)] += gain;
                if learns {
                    memory.keep(&offer);
                    taught = Taught::from(&memory, &table)?;
                }
            }
        }
        report.profits.push(profit);
    }
    Ok(report)
}

impl World {
    fn draw(seed: Seed) -> Self {
        let mut rng = seed.stream("world", 0);
        let mut normal = |sd: f64| -> f64 {
            let z: f64 = StandardNormal.sample(&mut rng);
            sd * z
        };
        Self {
            log_yield: std::array::from_fn(|_| YIELD.0.ln() + normal(YIELD.1)),
            log_price: std::array::from_fn(|_| normal(0.2)),
            log_kind: std::array::from_fn(|_| normal(0.25)),
            log_level: normal(0.25),
        }
    }

    /// A stone on offer. The seller knows no more than that the field is what it
    /// is on average, and asks about what a careful buyer could pay.
    fn offer(&self, table: &Table, seed: Seed) -> Result<Offer, StudyError> {
        let mut rng = seed.stream("offer", 0);
        let field = rng.random_range(0..FIELDS.len());
        let kind = rng.random_range(0..KINDS.len());
        let normal = |rng: &mut Rng, sd: f64| -> f64 {
            let z: f64 = StandardNormal.sample(rng);
            sd * z
        };
        let rough_ct = 60.0 * normal(&mut rng, 0.6).exp();
        let finished_ct = rough_ct * self.yielded(field, normal(&mut rng, YIELD_OF_ONE));
        let odd: f64 = StudentT::new(4.0).map_err(stop)?.sample(&mut rng);
        let level = self.log_level + self.log_price[field] + self.log_kind[kind];
        let amount = table.middle(kind, finished_ct)? * (level + 0.3 * odd).exp();
        let minutes = table.minutes(finished_ct) * normal(&mut rng, 0.3).exp();
        // Asked: by the field's mean yield and the kind's true mean, haggling aside.
        let usual = table.middle(kind, rough_ct * self.yielded(field, 0.0))? * level.exp();
        let asked = 0.75 * usual * normal(&mut rng, 0.45).exp();
        Ok(Offer {
            field,
            kind,
            rough_ct,
            asked,
            finished_ct,
            amount,
            minutes,
        })
    }

    /// Never more than four fifths of the rough.
    fn yielded(&self, field: usize, off: f64) -> f64 {
        (self.log_yield[field] + off).exp().min(0.8)
    }
}

/// What a cutter knows at one moment.
struct Taught {
    prices: OwnSales,
    /// The yield of each field that was met, and which those are.
    yields: Option<(NormalGroups, Vec<usize>)>,
}

impl Taught {
    fn from(memory: &Memory, table: &Table) -> Result<Self, StudyError> {
        let met: Vec<usize> = (0..FIELDS.len())
            .filter(|&field| !memory.log_yields[field].is_empty())
            .collect();
        let estimates: Vec<(f64, f64)> = met
            .iter()
            .map(|&field| {
                let seen = &memory.log_yields[field];
                let n = seen.len() as f64;
                (seen.iter().sum::<f64>() / n, YIELD_OF_ONE / n.sqrt())
            })
            .collect();
        let belief = Groups {
            centre: Some((YIELD.0.ln(), YIELD.1)),
            spread: GroupSpread::HalfNormal(YIELD.1),
        };
        let yields = if met.is_empty() {
            None
        } else {
            Some((normal_groups(&estimates, belief).map_err(stop)?, met))
        };
        Ok(Self {
            prices: OwnSales::learn(&table.book, &memory.sales).map_err(stop)?,
            yields,
        })
    }

    /// What the stone is forecast to bring, net of work and fee.
    fn forecast(
        &self,
        offer: &Offer,
        table: &Table,
        draws: usize,
        seed: Seed,
    ) -> Result<Draws, StudyError> {
        let (variety, brightness) = KINDS[offer.kind];
        let seed = seed.child("forecast", 0);
        let values = (0..draws)
            .map(|i| {
                let mut rng = seed.stream("draw", i as u64);
                let log_yield = self.log_yield(offer.field, &mut rng);
                let finished_ct = offer.rough_ct * log_yield.exp().min(0.8);
                let stone = stone(offer.kind, finished_ct);
                let taught = self
                    .prices
                    .taught(variety, brightness, FIELDS[offer.field], &mut rng);
                let luck = LuckDraw {
                    own: StandardNormal.sample(&mut rng),
                    work: StandardNormal.sample(&mut rng),
                    market: 0.0,
                };
                let class = table
                    .book
                    .class(variety, brightness, &stone.shape, stone.standard_size)
                    .map_err(stop)?;
                let amount = class.amount_as_taught(&stone.figures(), &luck, &taught);
                let minutes = table.minutes(finished_ct) * (0.3 * luck.work).exp();
                Ok(table.costs.after_fee(amount) - table.labour(minutes))
            })
            .collect::<Result<Vec<f64>, StudyError>>()?;
        Draws::new(values).map_err(stop)
    }

    fn log_yield(&self, field: usize, rng: &mut Rng) -> f64 {
        let of_field = match &self.yields {
            Some((groups, met)) => {
                let place = met.iter().position(|&m| m == field);
                // A field not met yet stands last.
                groups.draw(rng)[place.unwrap_or(met.len())]
            }
            None => {
                let z: f64 = StandardNormal.sample(rng);
                let between: f64 = StandardNormal.sample(rng);
                YIELD.0.ln() + YIELD.1 * z + YIELD.1 * 0.6 * between
            }
        };
        let own: f64 = StandardNormal.sample(rng);
        of_field + YIELD_OF_ONE * own
    }
}

impl Memory {
    fn keep(&mut self, offer: &Offer) {
        self.log_yields[offer.field].push((offer.finished_ct / offer.rough_ct).ln());
        self.sales.push(Sale {
            stone: stone(offer.kind, offer.finished_ct),
            origin: FIELDS[offer.field].to_owned(),
            amount: offer.amount,
        });
    }
}

impl Table {
    fn middle(&self, kind: usize, finished_ct: f64) -> Result<f64, StudyError> {
        let stone = stone(kind, finished_ct);
        let priced = self.book.price(&stone, &LuckDraw::MIDDLE).map_err(stop)?;
        Ok(priced.amount)
    }

    /// Minutes of a stone: a start, and some for every carat.
    fn minutes(&self, finished_ct: f64) -> f64 {
        self.costs.minutes_a_piece + self.costs.minutes_a_stone + 3.0 * finished_ct
    }

    fn labour(&self, minutes: f64) -> f64 {
        minutes / HOUR * self.costs.labour_per_hour
    }

    fn net(&self, offer: &Offer) -> f64 {
        self.costs.after_fee(offer.amount) - self.labour(offer.minutes)
    }
}

impl Stretch {
    /// Scores in the asinh of money: like the logarithm for what is large, and
    /// losses keep their place.
    fn score(
        &mut self,
        offer: &Offer,
        table: &Table,
        worth: &Draws,
        seed: Seed,
    ) -> Result<(), StudyError> {
        let scale = |money: f64| (money / HOUR).asinh();
        let draws: Vec<f64> = worth.values().iter().map(|v| scale(*v)).collect();
        let tie = seed.stream("tie", 0).random::<f64>();
        self.forecasts
            .add(scale(table.net(offer)), &draws, tie)
            .map_err(stop)?;
        Ok(())
    }
}

/// A plain oval of that weight.
fn stone(kind: usize, finished_ct: f64) -> StoneToPrice {
    let (variety, brightness) = KINDS[kind];
    let face_mm2 = 60.0 * (finished_ct / 2.0).max(0.01).powf(2.0 / 3.0);
    StoneToPrice {
        variety: variety.to_owned(),
        brightness: brightness.to_owned(),
        shape: "oval".to_owned(),
        standard_size: true,
        weight: Mass::from_carats(finished_ct),
        face: Area::from_mm2(face_mm2),
        length: Length::from_mm(1.3 * face_mm2.sqrt()),
        thickness: Length::from_mm(3.0),
        colour_thickness: Length::from_mm(2.0),
        clean_share: 0.95,
        whole: true,
    }
}
