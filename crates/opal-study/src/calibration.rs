//! Do intervals hold what they say? Invented stones are looked over as a cutter
//! would, forecast, and compared with what they hold at hidden places.

use crate::Tally;
use crate::invented::{InventedStone, invented_stone};
use crate::study::{Going, StudyError, go_on};
use opal_evidence::{BarEvidence, Evidence, Form};
use opal_interior::{DrawOptions, InteriorError, Interiors, LEAST_VISIBLE_MM, bar_at};
use opal_testkit::{Departing, Looking, MeasuredSurface, look_over, quick_look, windows};
use opal_units::Seed;
use rand::RngExt as _;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// How the stones were looked at.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Evidenced {
    /// Sightings round the edge and in a few windows.
    Sighted,
    /// A quick look.
    QuickLook,
}

/// What to run.
#[derive(Clone, Debug)]
pub struct CalibrationOptions {
    /// Stones for each combination of look and law, shared evenly among the forms.
    pub stones: usize,
    /// Interiors for each stone.
    pub interiors: usize,
    /// Hidden places compared in each stone.
    pub places: usize,
    /// Laws of the truth.
    pub laws: Vec<Departing>,
    /// Kinds of look.
    pub looks: Vec<Evidenced>,
    /// Measured surfaces for the law that wants them; rough waves stand in where
    /// there are none.
    pub surfaces: Vec<MeasuredSurface>,
    /// Where it all starts from.
    pub seed: Seed,
}

impl Default for CalibrationOptions {
    fn default() -> Self {
        Self {
            stones: 300,
            interiors: 400,
            places: 4,
            laws: Departing::ALL.to_vec(),
            looks: vec![Evidenced::Sighted, Evidenced::QuickLook],
            surfaces: Vec::new(),
            seed: Seed(2024),
        }
    }
}

/// One line of the report.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// The kind of look.
    pub look: Evidenced,
    /// The law of the truth.
    pub law: Departing,
    /// One form, or all together.
    pub form: Option<Form>,
    /// Height of the top where the bar is, mm.
    pub top: Tally,
    /// Thickness, absence as 0, mm.
    pub thickness: Tally,
    /// Volume of the bar within the skin over the truth's, and its outcome 1.
    pub volume: Tally,
    /// The same of the stones whose forecast warned of nothing.
    pub volume_unwarned: Tally,
    /// Stones in it.
    pub stones: usize,
}

/// How the forecasts did, by look, law and form.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationReport {
    /// Stones for each combination of look and law.
    pub stones: usize,
    /// Interiors for each stone.
    pub interiors: usize,
    /// Hidden places compared in each stone.
    pub places: usize,
    /// Where it all started from.
    pub seed: Seed,
    /// Names of the measured surfaces that were used; rough waves stood in where
    /// there are none.
    pub surfaces: Vec<String>,
    /// The lines, looks first, then laws, all forms together before each alone.
    pub cells: Vec<Cell>,
}

const FORMS: [Form; 4] = [Form::Seam, Form::Nobby, Form::Boulder, Form::Pipe];

/// Runs the study.
///
/// # Errors
/// A stone that could not be forecast; or it was stopped.
pub fn calibration(
    options: &CalibrationOptions,
    going: &Going<'_>,
) -> Result<CalibrationReport, StudyError> {
    let mut report = CalibrationReport {
        stones: options.stones,
        interiors: options.interiors,
        places: options.places,
        seed: options.seed,
        surfaces: options.surfaces.iter().map(|s| s.name.clone()).collect(),
        cells: Vec::new(),
    };
    let combinations = (options.looks.len() * options.laws.len()).max(1) as f64;
    let stones = options.stones as f64;
    let mut done = 0.0;
    for &look in &options.looks {
        for &law in &options.laws {
            // Blocks, so that few stones are half done at a time.
            const BLOCK: usize = 16;
            let mut scored = Vec::with_capacity(options.stones);
            for first in (0..options.stones).step_by(BLOCK) {
                let end = (first + BLOCK).min(options.stones);
                let block: Vec<_> = (first..end)
                    .into_par_iter()
                    .map(|k| {
                        // Stopping waits for the stones at hand, not for the block.
                        go_on(going, (done + first as f64 / stones) / combinations)?;
                        Ok(one_stone(options, look, law, k)?)
                    })
                    .collect::<Result<_, StudyError>>()?;
                scored.extend(block);
                go_on(going, (done + end as f64 / stones) / combinations)?;
            }
            done += 1.0;
            let mut by_form: BTreeMap<usize, Cell> = BTreeMap::new();
            let mut all = Cell::new(look, law, None);
            for (k, outcomes) in scored.iter().enumerate() {
                let Some(outcomes) = outcomes else { continue };
                let form = k % FORMS.len();
                all.score(outcomes);
                by_form
                    .entry(form)
                    .or_insert_with(|| Cell::new(look, law, Some(FORMS[form])))
                    .score(outcomes);
            }
            report.cells.push(all);
            report.cells.extend(by_form.into_values());
        }
    }
    Ok(report)
}

/// Stone `k`: drawn, looked at, forecast and compared; `None` where nothing of its
/// bar could be seen.
fn one_stone(
    options: &CalibrationOptions,
    look: Evidenced,
    law: Departing,
    k: usize,
) -> Result<Option<Outcomes>, InteriorError> {
    let seed = options.seed.child(law.words(), k as u64);
    let invented = invented_stone(FORMS[k % FORMS.len()], law, &options.surfaces, seed);
    let Some(bar) = looked_at(&invented, look, seed) else {
        return Ok(None);
    };
    let evidence = Evidence {
        bars: vec![bar],
        ..invented.evidence.clone()
    };
    let draw = DrawOptions {
        n: options.interiors,
        seed: seed.child("interiors", 0),
    };
    let interiors = Interiors::draw(&evidence, &invented.stone, &draw, &|_| {})?;
    Ok(Some(Outcomes::of(
        &invented,
        &interiors,
        options.places,
        seed,
    )))
}

fn looked_at(invented: &InventedStone, look: Evidenced, seed: Seed) -> Option<BarEvidence> {
    match look {
        Evidenced::Sighted => {
            let mut rng = seed.stream("looking", 0);
            let looking = Looking {
                edge_places: rng.random_range(6..=24),
                windows: rng.random_range(0..=3),
                sigma_mm: 0.1 + 0.2 * rng.random::<f64>(),
            };
            let bar = look_over(&invented.stone, &invented.bar, looking, seed);
            (!bar.sightings.is_empty()).then_some(bar)
        }
        Evidenced::QuickLook => quick_look(&invented.stone, &invented.bar, seed),
    }
}

impl Cell {
    fn new(look: Evidenced, law: Departing, form: Option<Form>) -> Self {
        Self {
            look,
            law,
            form,
            top: Tally::default(),
            thickness: Tally::default(),
            volume: Tally::default(),
            volume_unwarned: Tally::default(),
            stones: 0,
        }
    }

    fn score(&mut self, outcomes: &Outcomes) {
        self.stones += 1;
        for (truth, draws, u) in &outcomes.tops {
            self.top.add(*truth, draws, *u);
        }
        for (truth, draws, u) in &outcomes.thicknesses {
            self.thickness.add(*truth, draws, *u);
        }
        let (truth, draws, u) = &outcomes.volume;
        self.volume.add(*truth, draws, *u);
        if !outcomes.warned {
            self.volume_unwarned.add(*truth, draws, *u);
        }
    }
}

/// Truth, forecast draws, and a random number that settles ties.
type Outcome = (f64, Vec<f64>, f64);

/// What one stone turned out to hold, beside what was forecast.
struct Outcomes {
    tops: Vec<Outcome>,
    thicknesses: Vec<Outcome>,
    volume: Outcome,
    /// The forecast said that something about the bar is less sure than it looks.
    warned: bool,
}

/// Interiors with the bar at a place, from which its height there is compared.
const FEWEST_PRESENT: usize = 20;

impl Outcomes {
    fn of(invented: &InventedStone, interiors: &Interiors, places: usize, seed: Seed) -> Self {
        let mut rng = seed.stream("ties", 0);
        let (mut tops, mut thicknesses) = (Vec::new(), Vec::new());
        let visible = |h: f64| if h < LEAST_VISIBLE_MM { 0.0 } else { h };
        for p in windows(&invented.stone, places, seed.child("hidden", 0)) {
            let Some((top, thickness)) = truth_at(invented, p) else {
                continue;
            };
            let drawn: Vec<(f64, f64)> = (0..interiors.n)
                .filter_map(|i| bar_at(interiors, 0, i, p))
                .collect();
            let present: Vec<f64> = drawn
                .iter()
                .filter(|d| visible(d.1) > 0.0)
                .map(|d| d.0)
                .collect();
            if visible(thickness) > 0.0 && present.len() >= FEWEST_PRESENT {
                tops.push((top, present, rng.random()));
            }
            let drawn = drawn.iter().map(|d| visible(d.1)).collect();
            thicknesses.push((visible(thickness), drawn, rng.random()));
        }
        let stone = &invented.stone;
        let truth: f64 = (0..stone.grid.len())
            .filter(|&k| stone.inside(k))
            .filter_map(|k| truth_at(invented, stone.grid.at_index(k)))
            .map(|(_, thickness)| thickness)
            .sum();
        let cells = interiors.cells();
        let volumes = (0..interiors.n)
            .map(|i| {
                let sum: f32 = interiors.bars[0].thickness(i, cells).iter().sum();
                f64::from(sum) / truth.max(1e-6)
            })
            .collect();
        Self {
            tops,
            thicknesses,
            volume: (1.0, volumes, rng.random()),
            warned: !interiors.warnings.is_empty(),
        }
    }
}

/// Top and thickness of the true bar within the skin, mm.
fn truth_at(invented: &InventedStone, p: [f64; 2]) -> Option<(f64, f64)> {
    let (skin_top, skin_bottom) = invented.stone.skin_at(p)?;
    let top = invented.bar.top_mm(p);
    let bottom = top - invented.bar.thickness_mm(p);
    let (upper, lower) = (
        top.clamp(skin_bottom, skin_top),
        bottom.clamp(skin_bottom, skin_top),
    );
    Some((upper, upper - lower))
}
