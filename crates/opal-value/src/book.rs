//! The cutter's own prices: what the book holds, and what makes it sound.

use crate::curve::Curve;
use opal_units::Currency;
use std::collections::BTreeMap;

/// A low and a high price: nine sales in ten fall between them.
///
/// # Method
/// Prices spread evenly in their logarithm: the middle is the geometric mean,
/// and one standard deviation is ln(high/low) / (2 · 1.644854).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PriceInterval {
    /// One sale in twenty fetches less.
    pub low: f64,
    /// One sale in twenty fetches more.
    pub high: f64,
}

/// The 95th centile of the standard normal law (Abramowitz & Stegun 1964, table 26.1).
pub(crate) const Z95: f64 = 1.644_853_626_951_472_2;

impl PriceInterval {
    /// The middle: half of the sales fetch less.
    #[must_use]
    pub fn middle(self) -> f64 {
        (self.low * self.high).sqrt()
    }

    /// One standard deviation of the logarithm.
    #[must_use]
    pub fn log_sd(self) -> f64 {
        (self.high / self.low).ln() / (2.0 * Z95)
    }
}

/// What a row's price counts.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum PriceBy {
    /// Carats, at the accepted thickness.
    Carat,
    /// Square millimetres of face: for boulder and matrix, whose carats are
    /// mostly rock.
    FaceMm2,
}

/// The price of one class of stone at the reference size.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceRow {
    /// Variety key: `black`, `dark`, `light`, `crystal`, `boulder`, `matrix`.
    pub variety: String,
    /// Brightness key: `dull`, `subdued`, `bright`, `very-bright`, `brilliant`.
    pub brightness: String,
    /// What is counted.
    pub by: PriceBy,
    /// Price per carat, or per mm² of face, of a clean stone of standard shape
    /// where the size factor is 1.
    pub price: PriceInterval,
}

/// The price of rough sold unworked.
#[derive(Clone, Debug, PartialEq)]
pub struct RoughRow {
    /// Variety key; `None` for any.
    pub variety: Option<String>,
    /// Brightness key; `None` for any.
    pub brightness: Option<String>,
    /// Price per carat of rough.
    pub per_carat: PriceInterval,
}

/// Factors for the outline.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeFactors {
    /// A size that settings are stocked for.
    pub standard: f64,
    /// A standard outline in a size that nobody stocks.
    pub odd_size: f64,
    /// An outline of its own.
    pub freeform: f64,
    /// Kept whole.
    pub specimen: f64,
    /// On top of the above, by outline family (`pear`, `heart`, …); 1 where not named.
    pub family: BTreeMap<String, f64>,
}

/// When a stone is priced by the piece rather than by the carat.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceRules {
    /// Backing thicker than accepted by more than this, mm.
    pub excess_backing_mm: f64,
    /// Longer than this: no setting takes it, mm.
    pub longest_in_a_setting_mm: f64,
    /// Potch on the back makes up more than this share of the thickness.
    pub potch_share_of_thickness: f64,
    /// Heavier than this, counted carats.
    pub heavier_than_ct: f64,
}

/// What a cutter's book of prices holds.
#[derive(Clone, Debug, PartialEq)]
pub struct BookParts {
    /// Its currency.
    pub currency: Currency,
    /// What the cutter calls it, and of when it is.
    pub title: String,
    /// True for the invented example: every answer that rests on it says so.
    pub invented: bool,
    /// Prices by class.
    pub rows: Vec<PriceRow>,
    /// Factor by counted carats (straight in the logarithm).
    pub size_by_carat: Curve,
    /// Factor by face area in mm² (straight in the logarithm), for rows by face.
    pub size_by_face: Curve,
    /// Factors for the outline.
    pub shape: ShapeFactors,
    /// Factor by clean share of the face, 0..=1; never falls.
    pub clean: Curve,
    /// Factor by mean thickness of colour in mm; never falls.
    pub colour_mm: Curve,
    /// Backing that buyers accept, mm, by the stone's length in mm.
    pub accepted_backing_mm: Curve,
    /// When a stone is priced by the piece.
    pub piece: PieceRules,
    /// What a broken stone fetches, as a share of the whole one.
    pub broken_share: f64,
    /// Prices of unworked rough; a row that names more stands first in force.
    pub rough: Vec<RoughRow>,
    /// One standard deviation of the market as a whole, in the logarithm: 0.15
    /// for about 15 % up or down, all stones together.
    pub market_log_sd: f64,
}

/// One thing wrong with a book.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct BookFault {
    /// The field, by its path in the price file.
    pub field: String,
    /// What stood there.
    pub value: String,
    /// What is allowed there.
    pub limit: String,
}

impl std::fmt::Display for BookFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} is {}; {}", self.field, self.value, self.limit)
    }
}

/// A book of prices that was found sound.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceBook {
    parts: BookParts,
}

impl PriceBook {
    /// Looks the parts over.
    ///
    /// # Errors
    /// All faults at once, each with its field, value and limit.
    pub fn new(parts: BookParts) -> Result<Self, Vec<BookFault>> {
        let faults = Look(Vec::new()).over(&parts);
        if faults.is_empty() {
            Ok(Self { parts })
        } else {
            Err(faults)
        }
    }

    /// What it holds.
    #[must_use]
    pub fn parts(&self) -> &BookParts {
        &self.parts
    }

    /// Its currency.
    #[must_use]
    pub fn currency(&self) -> Currency {
        self.parts.currency
    }

    /// The varieties that it prices, in its own order.
    #[must_use]
    pub fn varieties(&self) -> Vec<&str> {
        let mut seen = Vec::new();
        for row in &self.parts.rows {
            if !seen.contains(&row.variety.as_str()) {
                seen.push(row.variety.as_str());
            }
        }
        seen
    }

    /// The brightness words that it prices for a variety, in its own order.
    #[must_use]
    pub fn brightnesses(&self, variety: &str) -> Vec<&str> {
        self.parts
            .rows
            .iter()
            .filter(|row| row.variety == variety)
            .map(|row| row.brightness.as_str())
            .collect()
    }
}

/// The faults found so far.
struct Look(Vec<BookFault>);

impl Look {
    fn over(mut self, parts: &BookParts) -> Vec<BookFault> {
        self.rows(parts);
        self.curves(parts);
        self.factors(parts);
        self.0
    }

    fn fault(&mut self, field: impl Into<String>, value: impl ToString, limit: &str) {
        self.0.push(BookFault {
            field: field.into(),
            value: value.to_string(),
            limit: limit.to_owned(),
        });
    }

    fn interval(&mut self, field: &str, price: PriceInterval) {
        for (name, value) in [("low", price.low), ("high", price.high)] {
            if !(value.is_finite() && value > 0.0) {
                self.fault(format!("{field}.{name}"), value, "must be above 0");
            }
        }
        if price.low > price.high {
            self.fault(
                format!("{field}.low"),
                price.low,
                &format!("must not be above high, {}", price.high),
            );
        }
    }

    fn rows(&mut self, parts: &BookParts) {
        if parts.rows.is_empty() {
            self.fault("row", "missing", "must hold at least one [[row]]");
        }
        for (k, row) in parts.rows.iter().enumerate() {
            let by = match row.by {
                PriceBy::Carat => "per_carat",
                PriceBy::FaceMm2 => "per_face_mm2",
            };
            self.interval(&format!("row[{k}].{by}"), row.price);
            let twin = parts.rows[..k]
                .iter()
                .position(|r| r.variety == row.variety && r.brightness == row.brightness);
            if let Some(twin) = twin {
                self.fault(
                    format!("row[{k}]"),
                    format!("{} {}", row.variety, row.brightness),
                    &format!("row[{twin}] already prices it"),
                );
            }
        }
        for (k, row) in parts.rough.iter().enumerate() {
            self.interval(&format!("rough[{k}].per_carat"), row.per_carat);
            let twin = parts.rough[..k]
                .iter()
                .position(|r| r.variety == row.variety && r.brightness == row.brightness);
            if let Some(twin) = twin {
                self.fault(
                    format!("rough[{k}]"),
                    "the same class again",
                    &format!("rough[{twin}] already prices it"),
                );
            }
        }
    }

    fn curves(&mut self, parts: &BookParts) {
        for (field, curve) in [
            ("factors.clean_share", &parts.clean),
            ("factors.colour_mm", &parts.colour_mm),
        ] {
            if let Some(k) = curve.first_fall() {
                self.fault(
                    format!("{field}[{k}]"),
                    curve.points()[k][1],
                    "must not fall: more of it is never worth less",
                );
            }
        }
        if let Some(k) = parts.clean.points().iter().position(|p| p[0] > 1.0) {
            self.fault(
                format!("factors.clean_share[{k}]"),
                parts.clean.points()[k][0],
                "must lie between 0 and 1",
            );
        }
        for (field, curve) in [
            ("size.by_carat", &parts.size_by_carat),
            ("size.by_face_mm2", &parts.size_by_face),
        ] {
            if let Some(k) = curve.points().iter().position(|p| p[0] <= 0.0) {
                self.fault(format!("{field}[{k}]"), 0, "must be above 0");
            } else if let Some(k) = curve.first_total_fall() {
                self.fault(
                    format!("{field}[{k}]"),
                    curve.points()[k][1],
                    "must fall more slowly: here a larger stone would fetch less in all",
                );
            }
        }
    }

    fn factors(&mut self, parts: &BookParts) {
        let shape = &parts.shape;
        for (field, value) in [
            ("shape.standard".to_owned(), shape.standard),
            ("shape.odd_size".to_owned(), shape.odd_size),
            ("shape.freeform".to_owned(), shape.freeform),
            ("shape.specimen".to_owned(), shape.specimen),
        ]
        .into_iter()
        .chain(
            shape
                .family
                .iter()
                .map(|(name, &value)| (format!("shape.family.{name}"), value)),
        ) {
            if !(value.is_finite() && value > 0.0 && value <= 10.0) {
                self.fault(field, value, "must be above 0 and at most 10");
            }
        }
        let piece = &parts.piece;
        for (field, value) in [
            ("piece.excess_backing_mm", piece.excess_backing_mm),
            (
                "piece.longest_in_a_setting_mm",
                piece.longest_in_a_setting_mm,
            ),
            ("piece.heavier_than_ct", piece.heavier_than_ct),
        ] {
            if value.is_nan() || value < 0.0 {
                self.fault(field, value, "must not be below 0");
            }
        }
        for (field, value) in [
            (
                "piece.potch_share_of_thickness",
                piece.potch_share_of_thickness,
            ),
            ("factors.broken_share", parts.broken_share),
        ] {
            if !(0.0..=1.0).contains(&value) {
                self.fault(field, value, "must lie between 0 and 1");
            }
        }
        if !(0.0..=1.5).contains(&parts.market_log_sd) {
            self.fault(
                "market_spread",
                parts.market_log_sd,
                "must lie between 0 and 1.5",
            );
        }
    }
}
