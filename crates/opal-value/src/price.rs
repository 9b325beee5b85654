//! What a stone would fetch, counted as the trade counts.

use crate::book::{PriceBook, PriceBy, PriceInterval, PriceRow};
use crate::luck::LuckDraw;
use crate::own_sales::{Taught, log_size};
use opal_units::{Area, Length, Mass};
use thiserror::Error;

/// What a price is named by.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum PriceUnit {
    /// By the carat.
    Carat,
    /// By the piece.
    Piece,
}

/// A stone as far as its price goes. Words are keys of the price book
/// (`light`, `bright`, `oval`, `specimen`, …).
#[derive(Clone, Debug, PartialEq)]
pub struct StoneToPrice {
    /// Variety key.
    pub variety: String,
    /// Brightness key.
    pub brightness: String,
    /// Shape family key: a standard family, `freeform` or `specimen`.
    pub shape: String,
    /// True when a setting of that size is stocked.
    pub standard_size: bool,
    /// Finished weight.
    pub weight: Mass,
    /// Face area.
    pub face: Area,
    /// Longer size of the face.
    pub length: Length,
    /// Mean thickness of the whole stone.
    pub thickness: Length,
    /// Mean thickness of colour.
    pub colour_thickness: Length,
    /// Clean share of the face.
    pub clean_share: f64,
    /// False when it broke.
    pub whole: bool,
}

/// What a stone would fetch.
#[derive(Clone, Debug, PartialEq)]
pub struct PricedStone {
    /// Major units of the book's currency.
    pub amount: f64,
    /// How it should be priced.
    pub unit: PriceUnit,
    /// Weight counted at the accepted thickness.
    pub counted_weight: Mass,
    /// The amount over the counted carats, major units.
    pub per_counted_carat: f64,
    /// The amount over the carats that the scale shows, major units.
    pub per_scale_carat: f64,
    /// The amount over the face, major units per mm²: compares stones of any
    /// thickness.
    pub per_face_mm2: f64,
    /// Why, in plain words.
    pub why: Vec<String>,
}

/// Why a stone has no price.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PriceError {
    /// The book has no such class.
    #[error("the price book has no row for {variety}, {brightness}; it has: {has}")]
    NoRow {
        /// Variety key asked for.
        variety: String,
        /// Brightness key asked for.
        brightness: String,
        /// What it has.
        has: String,
    },
    /// The book has no price for such rough.
    #[error("the price book has no price for unworked {variety}, {brightness} rough")]
    NoRough {
        /// Variety key asked for.
        variety: String,
        /// Brightness key asked for.
        brightness: String,
    },
}

/// A row of the book, looked up once and used for many stones.
#[derive(Clone, Copy, Debug)]
pub struct PriceClass<'b> {
    book: &'b PriceBook,
    row: &'b PriceRow,
    shape_factor: f64,
    middle: f64,
    log_sd: f64,
}

/// The numbers of one stone that its price hangs on: fields of [`StoneToPrice`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoneFigures {
    /// Finished weight.
    pub weight: Mass,
    /// Face area.
    pub face: Area,
    /// Longer size of the face.
    pub length: Length,
    /// Mean thickness of the whole stone.
    pub thickness: Length,
    /// Mean thickness of colour.
    pub colour_thickness: Length,
    /// Clean share of the face.
    pub clean_share: f64,
    /// False when it broke.
    pub whole: bool,
}

impl StoneToPrice {
    /// Its numbers.
    #[must_use]
    pub fn figures(&self) -> StoneFigures {
        StoneFigures {
            weight: self.weight,
            face: self.face,
            length: self.length,
            thickness: self.thickness,
            colour_thickness: self.colour_thickness,
            clean_share: self.clean_share,
            whole: self.whole,
        }
    }
}

impl PriceBook {
    /// Looks a class up: do it once, then price many stones.
    ///
    /// # Errors
    /// No such row.
    pub fn class(
        &self,
        variety: &str,
        brightness: &str,
        shape: &str,
        standard_size: bool,
    ) -> Result<PriceClass<'_>, PriceError> {
        let row = self
            .parts()
            .rows
            .iter()
            .find(|row| row.variety == variety && row.brightness == brightness)
            .ok_or_else(|| PriceError::NoRow {
                variety: variety.to_owned(),
                brightness: brightness.to_owned(),
                has: self.what_it_has(variety),
            })?;
        let factors = &self.parts().shape;
        let kind = match (shape, standard_size) {
            ("freeform", _) => factors.freeform,
            ("specimen", _) => factors.specimen,
            (_, true) => factors.standard,
            (_, false) => factors.odd_size,
        };
        Ok(PriceClass {
            book: self,
            row,
            shape_factor: kind * factors.family.get(shape).copied().unwrap_or(1.0),
            middle: row.price.middle(),
            log_sd: row.price.log_sd(),
        })
    }

    /// What a stone would fetch with the given luck, and why.
    ///
    /// # Method
    /// Price of its class × size × outline × clean share × colour thickness ×
    /// luck, times the carats counted at the accepted thickness (or the face,
    /// for rows by face).
    ///
    /// # Errors
    /// The book has no row for it.
    pub fn price(&self, stone: &StoneToPrice, luck: &LuckDraw) -> Result<PricedStone, PriceError> {
        let class = self.class(
            &stone.variety,
            &stone.brightness,
            &stone.shape,
            stone.standard_size,
        )?;
        let figures = stone.figures();
        let amount = class.amount(&figures, luck);
        let counted = class.counted_weight(&figures);
        let pieces = class.reasons_for_the_piece(&figures, &stone.shape);
        let unit = if pieces.is_empty() {
            PriceUnit::Carat
        } else {
            PriceUnit::Piece
        };
        let over = |divisor: f64| {
            if divisor > 0.0 { amount / divisor } else { 0.0 }
        };
        Ok(PricedStone {
            amount,
            unit,
            counted_weight: counted,
            per_counted_carat: over(counted.carats()),
            per_scale_carat: over(figures.weight.carats()),
            per_face_mm2: over(figures.face.mm2()),
            why: class.why(stone, counted, pieces),
        })
    }

    /// What rough would fetch unworked, major units.
    ///
    /// A row that names both variety and brightness counts before one that
    /// names one of them, and that before one that names none.
    ///
    /// # Errors
    /// No row covers it.
    pub fn rough(
        &self,
        variety: &str,
        brightness: &str,
        weight: Mass,
        luck: &LuckDraw,
    ) -> Result<f64, PriceError> {
        let fits = |named: &Option<String>, key: &str| named.as_deref().is_none_or(|n| n == key);
        let row = self
            .parts()
            .rough
            .iter()
            .filter(|row| fits(&row.variety, variety) && fits(&row.brightness, brightness))
            .max_by_key(|row| {
                2 * u8::from(row.variety.is_some()) + u8::from(row.brightness.is_some())
            })
            .ok_or_else(|| PriceError::NoRough {
                variety: variety.to_owned(),
                brightness: brightness.to_owned(),
            })?;
        Ok(weight.carats()
            * row.per_carat.middle()
            * self.luck_factor(row.per_carat.log_sd(), luck))
    }

    fn luck_factor(&self, own_log_sd: f64, luck: &LuckDraw) -> f64 {
        (own_log_sd * luck.own + self.parts().market_log_sd * luck.market).exp()
    }

    fn what_it_has(&self, variety: &str) -> String {
        let bright = self.brightnesses(variety);
        if bright.is_empty() {
            self.varieties().join(", ")
        } else {
            format!("{variety} {}", bright.join(", "))
        }
    }
}

impl<'b> PriceClass<'b> {
    /// Its row.
    pub(crate) fn row(&self) -> &'b PriceRow {
        self.row
    }

    /// What a stone of this class would fetch, major units.
    #[must_use]
    pub fn amount(&self, stone: &StoneFigures, luck: &LuckDraw) -> f64 {
        self.middle_amount(stone) * self.book.luck_factor(self.log_sd, luck)
    }

    /// What it would fetch as the cutter's own sales have it.
    #[must_use]
    pub fn amount_as_taught(&self, stone: &StoneFigures, luck: &LuckDraw, taught: &Taught) -> f64 {
        let market = self.book.parts().market_log_sd;
        self.middle_amount(stone) * taught.factor(self.log_size(stone), market, luck)
    }

    /// Natural logarithm of its size over a middling stone's.
    pub(crate) fn log_size(&self, stone: &StoneFigures) -> f64 {
        let counted = self.counted_weight(stone).carats();
        log_size(self.row.by, counted, stone.face.mm2())
    }

    /// The price row's interval.
    #[must_use]
    pub fn interval(&self) -> PriceInterval {
        self.row.price
    }

    /// Weight counted as if the backing were cut to what buyers accept.
    ///
    /// # Method
    /// The backing in excess is a slab of the whole face: the weight shrinks as
    /// the mean thickness does. Colour is never counted away.
    #[must_use]
    pub fn counted_weight(&self, stone: &StoneFigures) -> Mass {
        let thickness_mm = stone.thickness.mm();
        let excess_mm = self.excess_backing_mm(stone);
        if excess_mm <= 0.0 || thickness_mm <= 0.0 {
            return stone.weight;
        }
        stone.weight * ((thickness_mm - excess_mm) / thickness_mm)
    }

    fn accepted_backing_mm(&self, stone: &StoneFigures) -> f64 {
        self.book.parts().accepted_backing_mm.at(stone.length.mm())
    }

    fn backing_mm(stone: &StoneFigures) -> f64 {
        (stone.thickness.mm() - stone.colour_thickness.mm()).max(0.0)
    }

    fn excess_backing_mm(&self, stone: &StoneFigures) -> f64 {
        (Self::backing_mm(stone) - self.accepted_backing_mm(stone)).max(0.0)
    }

    fn middle_amount(&self, stone: &StoneFigures) -> f64 {
        let parts = self.book.parts();
        let (count, size) = match self.row.by {
            PriceBy::Carat => {
                let carats = self.counted_weight(stone).carats();
                (carats, parts.size_by_carat.at_log(carats))
            }
            PriceBy::FaceMm2 => {
                let mm2 = stone.face.mm2();
                (mm2, parts.size_by_face.at_log(mm2))
            }
        };
        if count <= 0.0 {
            return 0.0;
        }
        let whole = if stone.whole { 1.0 } else { parts.broken_share };
        self.middle
            * count
            * size
            * self.shape_factor
            * parts.clean.at(stone.clean_share)
            * parts.colour_mm.at(stone.colour_thickness.mm())
            * whole
    }

    fn reasons_for_the_piece(&self, stone: &StoneFigures, shape: &str) -> Vec<String> {
        let rules = &self.book.parts().piece;
        let mut why = Vec::new();
        let excess_mm = self.excess_backing_mm(stone);
        let backing_mm = Self::backing_mm(stone);
        if self.row.by == PriceBy::FaceMm2 {
            why.push(format!(
                "Priced by the piece: {} goes by its face, its carats are mostly rock.",
                self.row.variety
            ));
        }
        if excess_mm > rules.excess_backing_mm {
            why.push(format!(
                "Priced by the piece: its backing is {backing_mm:.1} mm and buyers accept {:.1} mm, so a price per carat would mislead.",
                self.accepted_backing_mm(stone)
            ));
        }
        if stone.length.mm() > rules.longest_in_a_setting_mm {
            why.push(format!(
                "Priced by the piece: {:.0} mm long, and settings end at {:.0} mm.",
                stone.length.mm(),
                rules.longest_in_a_setting_mm
            ));
        }
        let potch_share = backing_mm / stone.thickness.mm().max(f64::MIN_POSITIVE);
        if self.row.by == PriceBy::Carat && potch_share > rules.potch_share_of_thickness {
            why.push(format!(
                "Priced by the piece: {:.0} % of its thickness is backing without colour.",
                100.0 * potch_share
            ));
        }
        let carats = self.counted_weight(stone).carats();
        if carats > rules.heavier_than_ct {
            why.push(format!(
                "Priced by the piece: at {carats:.0} ct it is beyond the sizes sold by the carat."
            ));
        }
        if shape == "specimen" && why.is_empty() {
            why.push("Priced by the piece: a specimen keeps its own outline.".to_owned());
        }
        why
    }

    fn why(&self, stone: &StoneToPrice, counted: Mass, pieces: Vec<String>) -> Vec<String> {
        let parts = self.book.parts();
        let figures = stone.figures();
        let mut why = pieces;
        let per = match self.row.by {
            PriceBy::Carat => "a carat",
            PriceBy::FaceMm2 => "a mm² of face",
        };
        why.push(format!(
            "Your book prices {}, {} at {} to {} {} {per}.",
            stone.variety.replace('-', " "),
            stone.brightness.replace('-', " "),
            self.row.price.low,
            self.row.price.high,
            parts.currency,
        ));
        if self.row.by == PriceBy::Carat && counted < figures.weight {
            why.push(format!(
                "Counted as {:.1} ct of its {:.1} ct: as if its back were cut to the thickness that buyers accept.",
                counted.carats(),
                figures.weight.carats()
            ));
        }
        let (size, named) = match self.row.by {
            PriceBy::Carat => (
                parts.size_by_carat.at_log(counted.carats()),
                format!("{:.1} ct", counted.carats()),
            ),
            PriceBy::FaceMm2 => (
                parts.size_by_face.at_log(figures.face.mm2()),
                format!("{:.0} mm² of face", figures.face.mm2()),
            ),
        };
        let mut factor = |name: String, value: f64| {
            if (value - 1.0).abs() > 0.005 {
                why.push(format!("{name}: × {value:.2}."));
            }
        };
        factor(format!("Size, {named}"), size);
        factor(
            format!("Outline, {}", stone.shape.replace('-', " ")),
            self.shape_factor,
        );
        factor(
            format!(
                "Clean over {:.0} % of its face",
                100.0 * figures.clean_share
            ),
            parts.clean.at(figures.clean_share),
        );
        factor(
            format!("Colour {:.1} mm thick", figures.colour_thickness.mm()),
            parts.colour_mm.at(figures.colour_thickness.mm()),
        );
        if !figures.whole {
            factor("Broken".to_owned(), parts.broken_share);
        }
        if parts.invented {
            why.push("The price book is the invented example: put your own prices in.".to_owned());
        }
        why
    }
}
