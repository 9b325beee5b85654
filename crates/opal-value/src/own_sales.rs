//! What the cutter's own sales say about the cutter's own price table.

use crate::book::{PriceBook, PriceBy, PriceRow, Z95};
use crate::luck::LuckDraw;
use crate::price::{PriceError, StoneToPrice};
use opal_learn::{Belief, Coefficients, Fit, FitError, Grouping, Noise, Row, Spec, Tails};
use opal_units::Rng;
use rand_distr::{ChiSquared, Distribution as _};
use thiserror::Error;

/// A stone that was sold.
#[derive(Clone, Debug, PartialEq)]
pub struct Sale {
    /// What it was.
    pub stone: StoneToPrice,
    /// Where its rough came from; empty where nobody knows.
    pub origin: String,
    /// What the buyer paid, major units of the book's currency.
    pub amount: f64,
}

/// Why sales teach nothing.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SalesError {
    /// An amount is not above 0.
    #[error("sale {sale} brought {amount}; an amount must be finite and above 0")]
    Amount {
        /// Which, from 0.
        sale: usize,
        /// What it brought.
        amount: f64,
    },
    /// The regression fails.
    #[error(transparent)]
    Fit(#[from] FitError),
}

/// The price table corrected by the cutter's own sales.
#[derive(Clone, Debug)]
pub struct OwnSales {
    fit: Fit,
    kinds: Vec<(String, String)>,
    origins: Vec<String>,
    used: usize,
    left_out: usize,
}

/// One draw of what the sales leave open, for one stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taught {
    level: f64,
    per_log_size: f64,
    log_sd: f64,
}

/// What the price of a stone rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceGrounds {
    /// What the table alone would say, major units.
    pub table: f64,
    /// How much of it the sales taught, 0 for the table alone, 1 for the sales alone.
    pub learned: f64,
    /// Sales that it rests on: all, of that kind, from that origin.
    pub sales: [usize; 3],
    /// Where it comes from, in plain words.
    pub why: Vec<String>,
}

/// How far the table's level may be off, beside the market, one standard
/// deviation of the logarithm. Common practice, no source: asked, cutters put
/// their own prices within a quarter.
const LEVEL_SD: f64 = 0.25;
/// How far its size factors may be off, by a factor e of size. Chosen.
const SIZE_SD: f64 = 0.15;
/// How far kinds may differ from the table, and origins from each other. Chosen:
/// about a sixth, before a single sale is seen.
const KIND_SPREAD: f64 = 0.2;
const ORIGIN_SPREAD: f64 = 0.15;
/// How many sales the table's own low and high are worth. Chosen.
const TABLE_WORTH: f64 = 8.0;
/// How many sales it takes until each counts half. Chosen: so that no single sale moves
/// a price by more than a fifth of what ten such would.
const CAUTION: f64 = 6.0;
/// Degrees of freedom of the noise: now and then a friend's price or an auction's
/// (Gelman et al. 2013, *Bayesian Data Analysis*, §17.2).
const FREEDOM: f64 = 4.0;
/// The 95th centile of Student's t with 4 degrees of freedom.
const T95: f64 = 2.131_846_786_326_649;
/// Sizes at which the size correction is nothing: a middling opal. Chosen.
const MIDDLING_CT: f64 = 3.0;
const MIDDLING_MM2: f64 = 100.0;
/// Below it the forecast says that it knows too little. Chosen.
const TOO_LITTLE: f64 = 0.25;

impl OwnSales {
    /// Learns from sales; what the book does not price is left out and counted.
    ///
    /// # Method
    /// ln(amount / table's middle) = level + size + kind + origin + noise, the
    /// table being what was believed before (all corrections about 0), kinds and
    /// origins partially pooled, Student noise: see [`opal_learn::fit`]. With no
    /// sale it gives the table back, as unsure as tables are.
    ///
    /// # Errors
    /// An amount that is not above 0.
    pub fn learn(book: &PriceBook, sales: &[Sale]) -> Result<Self, SalesError> {
        let mut kinds = Vec::new();
        let mut origins = Vec::new();
        let mut rows = Vec::new();
        let mut widths = Vec::new();
        for (k, sale) in sales.iter().enumerate() {
            if !(sale.amount.is_finite() && sale.amount > 0.0) {
                return Err(SalesError::Amount {
                    sale: k,
                    amount: sale.amount,
                });
            }
            let Ok(at) = Place::of(book, &sale.stone) else {
                continue;
            };
            let kind = index_of(&mut kinds, at.kind());
            let origin =
                (!sale.origin.is_empty()).then(|| index_of(&mut origins, sale.origin.clone()));
            widths.push(at.row.price.log_sd());
            rows.push(Row {
                fixed: vec![1.0, at.log_size],
                groups: vec![Some(kind), origin],
                y: (sale.amount / at.table).ln(),
            });
        }
        if widths.is_empty() {
            widths.extend(book.parts().rows.iter().map(|row| row.price.log_sd()));
        }
        let width = widths.iter().sum::<f64>() / widths.len() as f64;
        let market_log_sd = book.parts().market_log_sd;
        let about = |sd: f64| Belief::About { mean: 0.0, sd };
        let spec = Spec {
            fixed: vec![about(LEVEL_SD.hypot(market_log_sd)), about(SIZE_SD)],
            groupings: vec![
                Grouping {
                    groups: kinds.len(),
                    spread: KIND_SPREAD,
                },
                Grouping {
                    groups: origins.len(),
                    spread: ORIGIN_SPREAD,
                },
            ],
            // A table without width says 'always this price': a hundredth stays.
            noise: Noise {
                sd: (width * Z95 / T95).max(0.01),
                worth: TABLE_WORTH,
            },
            tails: Tails::Student(FREEDOM),
            caution: CAUTION,
        };
        Ok(Self {
            fit: opal_learn::fit(&spec, &rows)?,
            kinds,
            origins,
            used: rows.len(),
            left_out: sales.len() - rows.len(),
        })
    }

    /// How many sales it rests on.
    #[must_use]
    pub fn used(&self) -> usize {
        self.used
    }

    /// How many were left out because the table has no row for them.
    #[must_use]
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// One draw for a stone of that kind and origin.
    #[must_use]
    pub fn taught(&self, variety: &str, brightness: &str, origin: &str, rng: &mut Rng) -> Taught {
        let groups = self.groups(variety, brightness, origin);
        let drawn: Coefficients = self.fit.draw(rng);
        // Student noise is normal noise of a scale that is drawn first.
        let chi: f64 = ChiSquared::new(FREEDOM)
            .expect("the degrees of freedom are above 0")
            .sample(rng);
        Taught {
            level: drawn.line(&[1.0, 0.0], &groups),
            per_log_size: drawn.fixed[1],
            log_sd: drawn.sd * (FREEDOM / chi.max(1e-6)).sqrt(),
        }
    }

    /// What the price of a stone rests on.
    ///
    /// # Errors
    /// The book has no row for it.
    pub fn grounds(
        &self,
        book: &PriceBook,
        stone: &StoneToPrice,
        origin: &str,
    ) -> Result<PriceGrounds, PriceError> {
        let at = Place::of(book, stone)?;
        let groups = self.groups(&stone.variety, &stone.brightness, origin);
        let line = self.fit.line(&[1.0, at.log_size], &groups);
        let count = |grouping: usize| groups[grouping].map_or(0, |k| self.fit.count(grouping, k));
        let sales = [self.used, count(0), count(1)];
        Ok(PriceGrounds {
            table: at.table,
            learned: line.learned,
            why: self.why(stone, origin, sales, line.learned, line.mean),
            sales,
        })
    }

    fn groups(&self, variety: &str, brightness: &str, origin: &str) -> [Option<usize>; 2] {
        [
            self.kinds
                .iter()
                .position(|(v, b)| v == variety && b == brightness),
            self.origins.iter().position(|o| o == origin),
        ]
    }

    fn why(
        &self,
        stone: &StoneToPrice,
        origin: &str,
        [all, kind, from]: [usize; 3],
        learned: f64,
        mean: f64,
    ) -> Vec<String> {
        let mut why = Vec::new();
        if all == 0 {
            return vec!["No sale of yours is on record: it is your price table alone.".to_owned()];
        }
        why.push(format!(
            "Your {} on record put it at {:.0} % of your price table; {} in 10 parts of that \
             come from the sales, the rest from the table.",
            counted(all, "sale", "sales"),
            100.0 * mean.exp(),
            (10.0 * learned).round()
        ));
        why.push(format!(
            "{} of {} {} stones{}.",
            counted(kind, "sale", "sales"),
            stone.variety.replace('-', " "),
            stone.brightness.replace('-', " "),
            if origin.is_empty() {
                String::new()
            } else {
                format!(", {} from {origin}", counted(from, "sale", "sales"))
            }
        ));
        if learned < TOO_LITTLE {
            why.push("The sales know too little of such stones yet: your table speaks.".to_owned());
        }
        why
    }
}

impl Taught {
    /// What the table's middle is to be multiplied by.
    pub(crate) fn factor(&self, log_size: f64, market_log_sd: f64, luck: &LuckDraw) -> f64 {
        (self.level
            + self.per_log_size * log_size
            + self.log_sd * luck.own
            + market_log_sd * luck.market)
            .exp()
    }
}

/// Where a stone stands in the table.
struct Place<'b> {
    row: &'b PriceRow,
    table: f64,
    log_size: f64,
}

impl<'b> Place<'b> {
    fn of(book: &'b PriceBook, stone: &StoneToPrice) -> Result<Self, PriceError> {
        let class = book.class(
            &stone.variety,
            &stone.brightness,
            &stone.shape,
            stone.standard_size,
        )?;
        let figures = stone.figures();
        Ok(Self {
            table: class
                .amount(&figures, &LuckDraw::MIDDLE)
                .max(f64::MIN_POSITIVE),
            log_size: class.log_size(&figures),
            row: class.row(),
        })
    }

    fn kind(&self) -> (String, String) {
        (self.row.variety.clone(), self.row.brightness.clone())
    }
}

/// Natural logarithm of a size over the middling one.
pub(crate) fn log_size(by: PriceBy, counted_ct: f64, face_mm2: f64) -> f64 {
    let ratio = match by {
        PriceBy::Carat => counted_ct / MIDDLING_CT,
        PriceBy::FaceMm2 => face_mm2 / MIDDLING_MM2,
    };
    ratio.max(1e-3).ln()
}

fn index_of<T: PartialEq>(known: &mut Vec<T>, new: T) -> usize {
    known.iter().position(|k| *k == new).unwrap_or_else(|| {
        known.push(new);
        known.len() - 1
    })
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
