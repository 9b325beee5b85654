//! The cutter's own price book, asked stone by stone.

use crate::look::LookDraws;
use crate::own_weights::WeightsTaught;
use crate::settings::Settings;
use opal_evidence::Evidence;
use opal_plan::{Appraiser, CutKind, CutStone, Plan, SawCut, StoneDraw, StoneForecast};
use opal_stone::Stone;
use opal_units::{Area, Draws, Length, Seed, SpreadError, Volume};
use opal_value::{
    LuckDraw, OwnSales, PriceClass, PriceError, PricedStone, StoneFigures, StoneToPrice, Taught,
    WorkToDo,
};

/// Prices stones and work for one piece. Look, market and bench luck are drawn
/// once for each interior, so that all plans are compared on equal luck.
pub struct BookAppraiser<'a> {
    settings: &'a Settings,
    stone: &'a Stone,
    looks: LookDraws,
    /// `luck[stone][interior]`.
    luck: Vec<Vec<LuckDraw>>,
    /// Shape keys that were looked up.
    shapes: Vec<String>,
    /// `classes[look][shape]`.
    classes: Vec<Vec<PriceClass<'a>>>,
    as_it_is: Vec<f64>,
    /// What the cutter's own sales teach, for each interior; empty without sales.
    taught: Vec<Taught>,
    /// By what own finished stones multiply a planned weight.
    weight_times: f64,
}

/// Directions in which an outline is measured for its longer size. Chosen: 24
/// over a half turn miss less than 0.3 % (1 − cos 3.75°).
const N_DIRECTIONS: usize = 24;

/// Places at which a saw line looks up how high the stone stands. Chosen: the
/// area sawn only enters minutes and wear.
const N_PLACES_ON_A_CUT: usize = 16;

/// Stones of one plan whose luck with buyers is drawn: the most that may be asked
/// for. Any beyond share the luck of the last.
const MOST_STONES: usize = 12;

impl<'a> BookAppraiser<'a> {
    /// For one piece and `n` interiors.
    ///
    /// # Errors
    /// The book prices nothing of what the stone may be.
    pub fn new(
        evidence: &Evidence,
        stone: &'a Stone,
        settings: &'a Settings,
        n: usize,
        seed: Seed,
    ) -> Result<Self, PriceError> {
        let book = &settings.book;
        let mut looks = LookDraws::draw(&evidence.look, evidence.piece.form, book, n, seed)?;
        let luck: Vec<Vec<LuckDraw>> = (0..MOST_STONES as u64)
            .map(|stone| {
                (0..n as u64)
                    .map(|i| LuckDraw::draw(seed, i, stone))
                    .collect()
            })
            .collect();
        let mut shapes = vec!["freeform".to_owned(), "specimen".to_owned()];
        for size in &settings.sizes {
            if !shapes.contains(&size.family) {
                shapes.push(size.family.clone());
            }
        }
        let classes = looks
            .classes
            .iter()
            .map(|&(variety, brightness)| {
                shapes
                    .iter()
                    .enumerate()
                    .map(|(k, shape)| book.class(variety, brightness, shape, k >= 2))
                    .collect::<Result<Vec<_>, _>>()
            })
            .collect::<Result<Vec<_>, _>>()?;
        let mut unpriced = false;
        let as_it_is = luck[0]
            .iter()
            .zip(&looks.class_of)
            .map(|(luck, &class)| {
                let (variety, brightness) = looks.classes[usize::from(class)];
                match book.rough(variety, brightness, stone.weight.0, luck) {
                    Ok(amount) => settings.costs.after_fee(amount),
                    Err(_) => {
                        unpriced = true;
                        0.0
                    }
                }
            })
            .collect();
        if unpriced {
            looks.notes.push(
                "Your price book does not price such rough unworked: selling it as it is counts \
                 as nothing."
                    .to_owned(),
            );
        }
        let taught = taught(evidence, settings, &mut looks, seed);
        let weight_times = weights_taught(evidence, settings, &mut looks);
        Ok(Self {
            settings,
            stone,
            looks,
            luck,
            shapes,
            classes,
            as_it_is,
            taught,
            weight_times,
        })
    }

    /// What had to be assumed, in plain words.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.looks.notes
    }

    /// How a stone would be priced and why: its middle figures, the likeliest
    /// look, no luck either way.
    ///
    /// # Errors
    /// The book has no row for it.
    pub fn priced(
        &self,
        stone: &CutStone,
        forecast: &StoneForecast,
    ) -> Result<PricedStone, PriceError> {
        let (variety, brightness) = self.looks.classes[self.looks.likeliest];
        let middle = |draws: &opal_units::Draws| draws.quantile(0.5);
        let (shape, standard_size) = shape_key(&stone.kind);
        self.settings.book.price(
            &StoneToPrice {
                variety: variety.to_owned(),
                brightness: brightness.to_owned(),
                shape: shape.to_owned(),
                standard_size,
                weight: opal_units::Mass::from_carats(middle(&forecast.weight_ct))
                    * self.weight_times,
                face: Area::from_mm2(middle(&forecast.face_mm2)),
                length: longer_size(stone),
                thickness: Length::from_mm(middle(&forecast.thickness_mm)),
                colour_thickness: Length::from_mm(middle(&forecast.mean_colour_mm)),
                clean_share: middle(&forecast.clean_share),
                whole: true,
            },
            &LuckDraw::MIDDLE,
        )
    }

    /// What the work of a plan costs with no luck either way, major units.
    #[must_use]
    pub fn middle_cost(&self, plan: &Plan) -> f64 {
        let cost = self.settings.costs.of(&self.work(plan), &LuckDraw::MIDDLE);
        cost.total()
    }

    /// The minutes that the work of a plan takes, one for each interior.
    ///
    /// # Errors
    /// There is no interior.
    pub fn minutes(&self, plan: &Plan) -> Result<Draws, SpreadError> {
        let work = self.work(plan);
        let costs = &self.settings.costs;
        let luck = self.luck[0].iter();
        Draws::new(luck.map(|luck| costs.of(&work, luck).minutes()).collect())
    }

    fn work(&self, plan: &Plan) -> WorkToDo {
        if plan.stones.is_empty() && plan.cuts.is_empty() {
            return WorkToDo::NONE;
        }
        let mut cut_length_mm = 0.0;
        let mut sawn_mm2 = 0.0;
        let mut kerf_mm3 = 0.0;
        for cut in &plan.cuts {
            let [a, b] = cut.line_mm;
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            // A cut that lies flat parts the piece along its whole outline.
            let area = if lies_flat(cut) {
                self.stone.outline_area().mm2()
            } else {
                length * self.mean_height_mm(a, b)
            };
            cut_length_mm += length;
            sawn_mm2 += area;
            kerf_mm3 += area * cut.kerf.mm();
        }
        WorkToDo {
            stones: u32::try_from(plan.stones.len()).unwrap_or(u32::MAX),
            cuts: u32::try_from(plan.cuts.len()).unwrap_or(u32::MAX),
            cut_length: Length::from_mm(cut_length_mm),
            sawn: Area::from_mm2(sawn_mm2),
            kerf: Volume::from_mm3(kerf_mm3),
            ground: plan.stock.volume,
            face: Area::from_mm2(
                plan.stones
                    .iter()
                    .map(|stone| area_mm2(&stone.outline_mm))
                    .sum(),
            ),
        }
    }

    /// Mean height of the stone over a line from above; nothing outside it.
    fn mean_height_mm(&self, a: [f64; 2], b: [f64; 2]) -> f64 {
        let heights = (0..N_PLACES_ON_A_CUT).map(|k| {
            let share = (k as f64 + 0.5) / N_PLACES_ON_A_CUT as f64;
            let at = [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
            match self.stone.grid.nearest(at) {
                Some(node) if self.stone.inside(node) => {
                    f64::from(self.stone.top_mm[node] - self.stone.bottom_mm[node])
                }
                _ => 0.0,
            }
        });
        heights.sum::<f64>() / N_PLACES_ON_A_CUT as f64
    }

    fn shape_place(&self, kind: &CutKind) -> Option<usize> {
        match kind {
            CutKind::Freeform => Some(0),
            CutKind::Specimen => Some(1),
            CutKind::Standard { family, .. } => self.shapes.iter().position(|s| s == family),
        }
    }
}

impl Appraiser for BookAppraiser<'_> {
    /// After the selling fee.
    fn worth(&self, stone: &CutStone, number: usize, draw: &StoneDraw, i: usize) -> f64 {
        // A family that no size list names is priced as a freeform.
        let shape = self.shape_place(&stone.kind).unwrap_or(0);
        let class = &self.classes[usize::from(self.looks.class_of[i])][shape];
        let figures = StoneFigures {
            weight: draw.weight * self.weight_times,
            face: draw.face,
            length: longer_size(stone),
            thickness: draw.thickness,
            colour_thickness: draw.mean_colour,
            clean_share: draw.clean_share,
            whole: draw.whole,
        };
        let luck = &self.luck[number.min(MOST_STONES - 1)][i];
        let amount = match self.taught.get(i) {
            Some(taught) => class.amount_as_taught(&figures, luck, taught),
            None => class.amount(&figures, luck),
        };
        self.settings.costs.after_fee(amount)
    }

    fn cost(&self, plan: &Plan, i: usize) -> f64 {
        self.settings
            .costs
            .of(&self.work(plan), &self.luck[0][i])
            .total()
    }

    /// After the selling fee.
    fn as_it_is(&self, i: usize) -> f64 {
        self.as_it_is[i]
    }
}

/// What the cutter's own sales teach of this stone, a draw for each interior, so
/// that all plans meet the same; nothing where there are none.
fn taught(
    evidence: &Evidence,
    settings: &Settings,
    looks: &mut LookDraws,
    seed: Seed,
) -> Vec<Taught> {
    if settings.sales.is_empty() {
        return Vec::new();
    }
    let own = match OwnSales::learn(&settings.book, &settings.sales) {
        Ok(own) => own,
        Err(error) => {
            looks
                .notes
                .push(format!("Your own sales were left aside: {error}."));
            return Vec::new();
        }
    };
    looks.notes.push(format!(
        "The prices are those of your table as {} of your own sales have corrected it.",
        own.used()
    ));
    let origin = evidence.piece.origin.as_deref().unwrap_or_default();
    looks
        .class_of
        .iter()
        .enumerate()
        .map(|(i, &class)| {
            let (variety, brightness) = looks.classes[usize::from(class)];
            let mut rng = seed.stream("own-sales", i as u64);
            own.taught(variety, brightness, origin, &mut rng)
        })
        .collect()
}

/// By what own finished stones multiply a planned weight: 1 where they say nothing.
fn weights_taught(evidence: &Evidence, settings: &Settings, looks: &mut LookDraws) -> f64 {
    let origin = evidence.piece.origin.as_deref().unwrap_or_default();
    match WeightsTaught::of(&settings.weights, origin) {
        Ok(None) => 1.0,
        Ok(Some(taught)) => {
            looks.notes.push(taught.words());
            taught.times
        }
        Err(error) => {
            let said = format!("What your finished stones weighed was left aside: {error}.");
            looks.notes.push(said);
            1.0
        }
    }
}

/// True for a cut along the bar rather than down through it.
pub(crate) fn lies_flat(cut: &SawCut) -> bool {
    cut.tilt.degrees().abs() > 45.0
}

fn shape_key(kind: &CutKind) -> (&str, bool) {
    match kind {
        CutKind::Freeform => ("freeform", false),
        CutKind::Specimen => ("specimen", false),
        CutKind::Standard { family, .. } => (family, true),
    }
}

/// The longest extent of the outline.
fn longer_size(stone: &CutStone) -> Length {
    if let CutKind::Standard { length, .. } = &stone.kind {
        return *length;
    }
    let mut longest = 0.0_f64;
    for k in 0..N_DIRECTIONS {
        let angle = std::f64::consts::PI * k as f64 / N_DIRECTIONS as f64;
        let (sin, cos) = angle.sin_cos();
        let (mut low, mut high) = (f64::MAX, f64::MIN);
        for point in &stone.outline_mm {
            let along = cos * point[0] + sin * point[1];
            low = low.min(along);
            high = high.max(along);
        }
        longest = longest.max(high - low);
    }
    Length::from_mm(longest.max(0.0))
}

/// Area of a closed outline by the shoelace formula.
fn area_mm2(outline_mm: &[[f64; 2]]) -> f64 {
    let n = outline_mm.len();
    let doubled: f64 = (0..n)
        .map(|k| {
            let (p, q) = (outline_mm[k], outline_mm[(k + 1) % n]);
            p[0] * q[1] - q[0] * p[1]
        })
        .sum();
    0.5 * doubled.abs()
}
