//! What a finished stone would fetch: by the carat or by the piece, what to ask,
//! where to stop giving way, how long it may take.

use crate::ask::Ask;
use crate::bench::{Bench, Opened, PricesInForce};
use crate::error::JobError;
use crate::look::LookDraws;
use crate::ports::StoreFault;
use crate::records::fingerprint;
use crate::settings::Settings;
use opal_evidence::{Evidence, Fault, Faults, Form, Look};
use opal_grade::Grade;
use opal_learn::Waiting;
use opal_reference::standard_sizes::{families, family, stocked};
use opal_report::json::{
    AskingDoc, FinishedDoc, GradeMarkDoc, PRICE_FORMAT, PriceDoc, money_figure,
};
use opal_units::{Area, Draws, Length, Mass, Money, Seed};
use opal_value::{LuckDraw, OwnSales, PriceUnit, StoneToPrice, asking};
use rand_distr::{Distribution as _, StandardNormal};

/// A finished stone as it was weighed, measured and graded.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// What the cutter calls it: a stone of the store by name or number, or any name.
    pub name: String,
    /// Where its rough came from; as the stone was taken in where it is left out.
    pub origin: Option<String>,
    /// Its outline: a standard family, `freeform` or `specimen`.
    pub shape: String,
    /// Its weight.
    pub weight: Mass,
    /// Length, width and thickness.
    pub sizes: [Length; 3],
    /// Mean thickness of its colour; half of the whole where nobody measured it.
    pub colour: Option<Length>,
    /// Clean share of its face, 0 to 1.
    pub clean_share: f64,
    /// How it looks.
    pub grade: Grade,
    /// What it cost so far, major units; what the books say where it is left out.
    pub cost: Option<f64>,
}

/// Share of the outline's box that an outline fills: an ellipse, π/4. Chosen for
/// all outlines: the face enters as a cross-check, and for boulder.
pub(crate) const FILLED: f64 = std::f64::consts::FRAC_PI_4;

impl Finished {
    /// The outline where none is named.
    pub const OUTLINE: &str = "oval";

    /// The stone with what was seen of it, in the words of the trade's scales.
    ///
    /// # Errors
    /// All at once: words that no scale knows, and all that is out of its range.
    pub fn graded<'a>(
        self,
        marks: impl IntoIterator<Item = (&'a str, &'a str)>,
        note: Option<&str>,
    ) -> Result<Self, Faults> {
        match (Grade::read(marks, note), self.check()) {
            (Ok(grade), Ok(())) => Ok(Self { grade, ..self }),
            (grade, sizes) => Err(Faults(
                [grade.err(), sizes.err()]
                    .into_iter()
                    .flatten()
                    .flat_map(|faults| faults.0)
                    .collect(),
            )),
        }
    }

    /// Looks it over.
    ///
    /// # Errors
    /// All that is out of its range.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Vec::new();
        let named = matches!(self.shape.as_str(), "freeform" | "specimen");
        if !named && family(&self.shape).is_none() {
            let known: Vec<&str> = families().iter().map(|f| f.key.as_str()).collect();
            faults.push(Fault::new(
                "the outline",
                format!("'{}'", self.shape),
                format!("it must be freeform, specimen, {}", known.join(", ")),
            ));
        }
        let mut range = |field: &str, value: f64, low: f64, high: f64| {
            if !(value > low && value <= high) {
                faults.push(Fault::new(
                    field,
                    // As it was written: carats become grams and back.
                    (value * 1e9).round() / 1e9,
                    format!("it must be above {low} and at most {high}"),
                ));
            }
        };
        range("the weight in ct", self.weight.carats(), 0.0, 100_000.0);
        let [length, width, thickness] = self.sizes.map(Length::mm);
        // A size that is wrong itself limits no other: one slip is told once.
        let most = |size: f64| if size > 0.0 { size.min(1000.0) } else { 1000.0 };
        range("the length in mm", length, 0.0, 1000.0);
        range("the width in mm", width, 0.0, most(length));
        range("the thickness in mm", thickness, 0.0, 1000.0);
        if let Some(colour) = self.colour {
            let field = "the colour's thickness in mm";
            range(field, colour.mm(), 0.0, most(thickness));
        }
        range("the clean share", self.clean_share, 0.0, 1.0);
        if let Some(cost) = self.cost {
            range("the cost", cost, -f64::MIN_POSITIVE, 1e12);
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }

    fn colour(&self) -> Length {
        self.colour.unwrap_or(self.sizes[2] * 0.5)
    }

    /// True where a setting of its size is stocked.
    fn standard_size(&self) -> bool {
        let [length, width, _] = self.sizes;
        stocked(&self.shape, length, width, self.weight).is_some()
    }

    fn to_price(&self, variety: &str, brightness: &str) -> StoneToPrice {
        let [length, width, thickness] = self.sizes;
        StoneToPrice {
            variety: variety.to_owned(),
            brightness: brightness.to_owned(),
            shape: self.shape.clone(),
            standard_size: self.standard_size(),
            weight: self.weight,
            face: Area::from_mm2(FILLED * length.mm() * width.mm()),
            length,
            thickness,
            colour_thickness: self.colour(),
            clean_share: self.clean_share,
            whole: true,
        }
    }
}

impl Bench {
    /// What a finished stone would fetch. A stone that was taken in lends its origin,
    /// its look and its cost, and keeps the answer; any other is priced all the same,
    /// and told that nothing was kept.
    ///
    /// # Errors
    /// A number out of its range; a price book that does not cover it; the store fails.
    pub fn price(
        &self,
        finished: &Finished,
        prices: &PricesInForce,
        ask: &Ask,
    ) -> Result<PriceDoc, JobError> {
        let opened = match self.open(&finished.name) {
            Ok(opened) => Some(opened),
            Err(JobError::Store(error)) if error.fault == StoreFault::NoStone => None,
            Err(error) => return Err(error),
        };
        let mut finished = finished.clone();
        if let Some(Opened {
            evidence,
            record: Some(record),
            ..
        }) = &opened
        {
            finished.name.clone_from(&record.name);
            finished.origin = finished.origin.or_else(|| evidence.piece.origin.clone());
            if finished.cost.is_none() {
                finished.cost = self
                    .cost_so_far(record)?
                    .filter(|cost| cost.currency() == prices.settings.currency())
                    .map(Money::major);
            }
        }
        let taken_in = opened.as_ref().map(|opened| &opened.evidence);
        let wait = self.waiting()?;
        let mut doc = price_doc(&finished, taken_in, &prices.settings, &wait, ask)?;
        match &opened {
            Some(opened) => {
                // The stone's description is part of what the answer rests on.
                let inputs = fingerprint(&[
                    self.inputs(opened, prices, ask)?.as_bytes(),
                    format!("{finished:?}").as_bytes(),
                ]);
                self.keep(opened, "price", &inputs, ask, &serde_json::to_string(&doc)?)?;
            }
            None => doc.warnings.push(format!(
                "'{}' is no stone that was taken in: the price is not kept, and its sale will \
                 teach nothing.",
                finished.name
            )),
        }
        Ok(doc)
    }
}

/// The price of a finished stone with everything that it rests on.
fn price_doc(
    finished: &Finished,
    taken_in: Option<&Evidence>,
    settings: &Settings,
    wait: &Waiting,
    ask: &Ask,
) -> Result<PriceDoc, JobError> {
    finished.check()?;
    let book = &settings.book;
    let look = look_of(finished, taken_in);
    let form = taken_in.map_or(Form::Unknown, |evidence| evidence.piece.form);
    let looks = LookDraws::draw(&look, form, book, ask.n_interiors, ask.seed)?;
    let own = OwnSales::learn(book, &settings.sales)?;
    let origin = finished.origin.as_deref().unwrap_or_default();
    let amount = amounts(finished, &looks, &own, settings, origin, ask.seed)?;

    let (variety, brightness) = looks.classes[looks.likeliest];
    let likeliest = finished.to_price(variety, brightness);
    let priced = book.price(&likeliest, &LuckDraw::MIDDLE)?;
    let grounds = own.grounds(book, &likeliest, origin)?;
    let offered = asking(
        &amount,
        finished.cost.unwrap_or(0.0),
        settings.costs.selling_fee,
        wait,
    );
    let middle = amount.quantile(0.5);
    let mut warnings = looks.notes.clone();
    if settings.prices_invented() {
        warnings.push(crate::rests_on::INVENTED_PRICES.to_owned());
    }
    let mut why = grounds.why;
    why.extend(priced.why);
    Ok(PriceDoc {
        format: PRICE_FORMAT.to_owned(),
        piece: finished.name.clone(),
        seed: ask.seed.0,
        prices_invented: settings.prices_invented(),
        currency: settings.currency().code().to_owned(),
        finished: finished_doc(finished, variety, brightness),
        amount: money_figure(&amount, &ask.levels),
        price_by: match priced.unit {
            PriceUnit::Carat => "carat",
            PriceUnit::Piece => "piece",
        }
        .to_owned(),
        counted_ct: priced.counted_weight.carats(),
        per_counted_carat: middle / priced.counted_weight.carats().max(f64::MIN_POSITIVE),
        per_scale_carat: middle / finished.weight.carats(),
        per_face_mm2: middle / likeliest.face.mm2(),
        learned: grounds.learned,
        sales: grounds.sales,
        asking: AskingDoc {
            ask: offered.ask,
            floor: finished.cost.map(|_| offered.floor),
            below_floor: finished.cost.map(|_| offered.below_floor),
            days: offered.days,
        },
        why,
        warnings,
    })
}

/// Draws of the amount: look, what the sales teach, and luck, all at once.
fn amounts(
    finished: &Finished,
    looks: &LookDraws,
    own: &OwnSales,
    settings: &Settings,
    origin: &str,
    seed: Seed,
) -> Result<Draws, JobError> {
    let values = looks
        .class_of
        .iter()
        .enumerate()
        .map(|(i, &class)| {
            let (variety, brightness) = looks.classes[usize::from(class)];
            let mut rng = seed.stream("finished-price", i as u64);
            let taught = own.taught(variety, brightness, origin, &mut rng);
            let luck = LuckDraw {
                own: StandardNormal.sample(&mut rng),
                market: StandardNormal.sample(&mut rng),
                work: 0.0,
            };
            let stone = finished.to_price(variety, brightness);
            let class =
                settings
                    .book
                    .class(variety, brightness, &stone.shape, stone.standard_size)?;
            Ok(class.amount_as_taught(&stone.figures(), &luck, &taught))
        })
        .collect::<Result<Vec<f64>, JobError>>()?;
    Ok(Draws::new(values)?)
}

/// The look that the grade gives; what the finished stone does not say, the look
/// at the rough still does.
fn look_of(finished: &Finished, rough: Option<&Evidence>) -> Look {
    let graded = finished.grade.look();
    let rough = rough
        .map(|evidence| evidence.look.clone())
        .unwrap_or_default();
    Look {
        variety: graded.variety.or(rough.variety),
        body_tone: graded.body_tone.or(rough.body_tone),
        brightness: if graded.brightness.is_empty() {
            rough.brightness
        } else {
            graded.brightness
        },
        hue: graded.hue.or(rough.hue),
        pattern: graded.pattern.or(rough.pattern),
    }
}

fn finished_doc(finished: &Finished, variety: &str, brightness: &str) -> FinishedDoc {
    FinishedDoc {
        variety: variety.to_owned(),
        brightness: brightness.to_owned(),
        shape: finished.shape.clone(),
        standard_size: finished.standard_size(),
        weight_ct: finished.weight.carats(),
        sizes_mm: finished.sizes.map(Length::mm),
        colour_mm: finished.colour().mm(),
        clean_share: finished.clean_share,
        origin: finished.origin.clone(),
        grade: finished
            .grade
            .marks()
            .iter()
            .map(|(scale, words)| GradeMarkDoc {
                scale: scale.key.to_owned(),
                words: words.iter().map(|word| word.word.to_owned()).collect(),
            })
            .collect(),
        body_tone: finished.grade.tone.as_ref().map(ToString::to_string),
        not_judged: finished
            .grade
            .unknown()
            .map(|scale| scale.key.to_owned())
            .collect(),
    }
}
