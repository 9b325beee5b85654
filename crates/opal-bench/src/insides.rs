//! The possible insides of a stone that is being worked.

use crate::Worked;
use opal_evidence::ExposureKind;
use opal_interior::{
    Absorbed, BarDraws, CrackDraws, DrawOptions, Ensemble, InteriorError, Interiors, OriginPrior,
    SpeckDraws, bar_at,
};
use opal_stone::Stone;
use rand::RngExt as _;

/// Drawings that a face which still shows potch may ask for, at most.
/// Chosen: because beyond it the answer would come too late.
const MOST_BATCHES: u64 = 4;
/// Fewest insides that agree with the face, from which it is believed.
const FEWEST: usize = 40;
/// How far above the face a bar may lie where potch was seen, mm. Chosen: what
/// a loupe does not tell.
const UNSEEN_MM: f64 = 0.05;

/// Possible insides of one piece at the bench, held from one event to the next.
///
/// # Method
/// Drawn for the stone as it was taken in, since what is believed of a form
/// speaks of whole pieces: they stay while nothing new is seen, whatever is
/// ground off. What is seen is taken in by the insides that are there
/// ([`Ensemble::absorb`]). Insides in which the bar would already show where the
/// face is still potch are set aside (rejection, exact); while half of those
/// asked for agree no more are drawn.
#[derive(Clone)]
pub struct Insides {
    origin: Option<OriginPrior>,
    options: DrawOptions,
    batches: Vec<Batch>,
    covered_mm: Vec<[f64; 3]>,
    agreeing: Interiors,
    drawings: usize,
}

/// Insides that were drawn at once.
#[derive(Clone)]
struct Batch {
    ensemble: Ensemble,
    interiors: Interiors,
}

/// How insides came to agree with a stone as it is now.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Followed {
    /// Nothing was seen that they do not know.
    AsTheyWere,
    /// They took in what was seen.
    TakenIn,
    /// They were drawn anew; why, in plain words.
    DrawnAnew(String),
}

impl Batch {
    fn draw(
        worked: &Worked,
        taken_in: &Stone,
        origin: Option<&OriginPrior>,
        options: &DrawOptions,
    ) -> Result<Self, InteriorError> {
        let ensemble = Ensemble::draw(&worked.evidence, taken_in, origin, options, &|_| {})?;
        Ok(Self {
            interiors: ensemble.interiors()?,
            ensemble,
        })
    }
}

impl Insides {
    /// Draws insides that honour all that was seen so far, and what the cutter's other
    /// stones of this origin taught, if anything.
    ///
    /// # Errors
    /// As [`Ensemble::draw`].
    pub fn draw(
        worked: &Worked,
        taken_in: &Stone,
        origin: Option<&OriginPrior>,
        options: &DrawOptions,
    ) -> Result<Self, InteriorError> {
        let first = Batch::draw(worked, taken_in, origin, options)?;
        let mut insides = Self {
            origin: origin.cloned(),
            options: *options,
            agreeing: first.interiors.clone(),
            batches: vec![first],
            covered_mm: Vec::new(),
            drawings: 1,
        };
        insides.agree_with(worked, taken_in)?;
        Ok(insides)
    }

    /// True when they were drawn like this, on the grid of this piece.
    #[must_use]
    pub fn suit(
        &self,
        taken_in: &Stone,
        origin: Option<&OriginPrior>,
        options: &DrawOptions,
    ) -> bool {
        self.options == *options
            && self.origin.as_ref() == origin
            && self.agreeing.grid == taken_in.grid
    }

    /// Follows the piece to what was seen of it since. Where it is seen otherwise
    /// than was thought, an earlier look was undone, or it is another piece, they are
    /// drawn anew.
    ///
    /// # Errors
    /// As [`Interiors::draw`].
    pub fn follow(&mut self, worked: &Worked, taken_in: &Stone) -> Result<Followed, InteriorError> {
        let more = self.batches[0].ensemble.evidence() != &worked.evidence;
        if !more && self.covered_mm == worked.covered_mm {
            return Ok(Followed::AsTheyWere);
        }
        if more {
            for batch in &mut self.batches {
                if let Absorbed::DrawAgain(why) = batch.ensemble.absorb(&worked.evidence)? {
                    let drawings = self.drawings;
                    let origin = self.origin.take();
                    *self = Self::draw(worked, taken_in, origin.as_ref(), &self.options)?;
                    self.drawings += drawings;
                    return Ok(Followed::DrawnAnew(why.words()));
                }
                batch.interiors = batch.ensemble.interiors()?;
            }
        }
        self.agree_with(worked, taken_in)?;
        Ok(Followed::TakenIn)
    }

    /// How often any were drawn, rather than moved to what was seen.
    #[must_use]
    pub fn drawings(&self) -> usize {
        self.drawings
    }

    /// The insides of the piece as it was taken in.
    #[must_use]
    pub fn whole(&self) -> &Interiors {
        &self.agreeing
    }

    /// The insides as the stone holds them now.
    #[must_use]
    pub fn now(&self, worked: &Worked) -> Interiors {
        cut_to(self.agreeing.clone(), worked, &worked.stone)
    }

    /// Sets aside the insides that do not agree with the potch seen on the face,
    /// and draws more where too few are left.
    fn agree_with(&mut self, worked: &Worked, taken_in: &Stone) -> Result<(), InteriorError> {
        let n = self.options.n;
        self.covered_mm.clone_from(&worked.covered_mm);
        let picks = |batch: &Batch| -> Vec<usize> {
            (0..batch.interiors.n)
                .filter(|&i| agrees(&batch.interiors, i, worked))
                .collect()
        };
        let mut agreeing: Vec<Vec<usize>> = self.batches.iter().map(picks).collect();
        let mut tried: usize = self.batches.iter().map(|batch| batch.interiors.n).sum();
        let mut found: usize = agreeing.iter().map(Vec::len).sum();
        while 2 * found < n && (self.batches.len() as u64) < MOST_BATCHES {
            // As many as should do, by the share that agreed so far.
            let wanted = (n - found) * tried / found.max(1) * 5 / 4 + 2;
            let options = DrawOptions {
                n: wanted.min(n),
                seed: self.options.seed.child("again", self.batches.len() as u64),
            };
            let batch = Batch::draw(worked, taken_in, self.origin.as_ref(), &options)?;
            self.drawings += 1;
            agreeing.push(picks(&batch));
            tried += batch.interiors.n;
            found += agreeing.last().map_or(0, Vec::len);
            self.batches.push(batch);
        }
        self.agreeing = if found < FEWEST.min(n) {
            let mut all = self.batches[0].interiors.clone();
            all.warnings.push(
                "Hardly any inside agrees with the potch that the face still shows: check the \
                 heights that were logged."
                    .to_owned(),
            );
            all
        } else {
            let mut kept = picked(&self.batches[0].interiors, &agreeing[0]);
            for (batch, mut agreeing) in self.batches.iter().zip(agreeing).skip(1) {
                agreeing.truncate(n - kept.n);
                append(&mut kept, &picked(&batch.interiors, &agreeing));
            }
            kept
        };
        Ok(())
    }
}

/// Drawn insides as a part of the stone holds them, the one that is being worked
/// or one that came off: specks that were seen stand where they show the section
/// that was seen, bars end at the skin.
#[must_use]
pub fn cut_to(mut drawn: Interiors, worked: &Worked, part: &Stone) -> Interiors {
    sink_specks(&mut drawn, worked);
    cut_off(&mut drawn, part);
    drawn
}

/// Puts the ball of every speck seen on a face where it shows the section that
/// was seen: its middle lies below or above the face (above: most of it is
/// ground away), either being as likely.
fn sink_specks(interiors: &mut Interiors, worked: &Worked) {
    let seen: Vec<([f32; 3], f64)> = worked
        .evidence
        .exposures
        .iter()
        .filter(|look| look.kind == ExposureKind::Face)
        .flat_map(|look| &look.specks)
        .filter_map(|speck| Some((speck.at_mm?.map(|v| v as f32), speck.diameter.mm())))
        .collect();
    for i in 0..interiors.n {
        let (from, to) = (interiors.specks.starts[i], interiors.specks.starts[i + 1]);
        let mut rng = interiors.seed.stream("speck-side", i as u64);
        for (at_mm, section_mm) in &seen {
            let below = rng.random::<bool>();
            // Those that were noted stand exactly where they were.
            let ball = interiors.specks.specks[from..to]
                .iter_mut()
                .find(|speck| speck.at_mm == *at_mm);
            if let Some(ball) = ball {
                let radius = f64::from(ball.radius_mm);
                let half = 0.5 * section_mm;
                let away = (radius * radius - half * half).max(0.0).sqrt() as f32;
                ball.at_mm[2] += if below { -away } else { away };
            }
        }
    }
}

/// True when no bar of inside `i` reaches the face where it shows potch.
fn agrees(interiors: &Interiors, i: usize, worked: &Worked) -> bool {
    worked.covered_mm.iter().all(|&[x, y, face]| {
        (0..interiors.bars.len()).all(|bar| {
            bar_at(interiors, bar, i, [x, y]).is_none_or(|(top, thickness)| {
                thickness <= 0.0
                    || top <= face + UNSEEN_MM
                    // The bar was there and is ground away: potch again below it.
                    || top - thickness >= face - UNSEEN_MM
            })
        })
    })
}

fn picked(all: &Interiors, chosen: &[usize]) -> Interiors {
    let cells = all.cells();
    let mut specks = SpeckDraws {
        starts: vec![0],
        specks: Vec::new(),
    };
    let mut cracks = CrackDraws {
        starts: vec![0],
        cracks: Vec::new(),
    };
    for &i in chosen {
        specks.specks.extend(all.specks.of(i));
        specks.starts.push(specks.specks.len());
        cracks.cracks.extend(all.cracks.of(i));
        cracks.starts.push(cracks.cracks.len());
    }
    Interiors {
        n: chosen.len(),
        bars: all
            .bars
            .iter()
            .map(|bar| BarDraws {
                name: bar.name.clone(),
                top_mm: chosen
                    .iter()
                    .flat_map(|&i| bar.top(i, cells))
                    .copied()
                    .collect(),
                thickness_mm: chosen
                    .iter()
                    .flat_map(|&i| bar.thickness(i, cells))
                    .copied()
                    .collect(),
            })
            .collect(),
        specks,
        cracks,
        skin_inset_mm: chosen.iter().map(|&i| all.skin_inset_mm[i]).collect(),
        rests_on: all.rests_on.clone(),
        warnings: all.warnings.clone(),
        seed: all.seed,
        grid: all.grid,
    }
}

fn append(to: &mut Interiors, more: &Interiors) {
    for (bar, other) in to.bars.iter_mut().zip(&more.bars) {
        bar.top_mm.extend(&other.top_mm);
        bar.thickness_mm.extend(&other.thickness_mm);
    }
    for i in 0..more.n {
        to.specks.specks.extend(more.specks.of(i));
        to.specks.starts.push(to.specks.specks.len());
        to.cracks.cracks.extend(more.cracks.of(i));
        to.cracks.starts.push(to.cracks.cracks.len());
    }
    to.skin_inset_mm.extend(&more.skin_inset_mm);
    to.n += more.n;
}

/// Cuts the bars off at the skin as it is now. A ground face lies where it was
/// measured: the error of the skin that was scanned no longer matters there,
/// and is left for the rest of the stone.
fn cut_off(interiors: &mut Interiors, stone: &Stone) {
    let cells = interiors.cells();
    for bar in &mut interiors.bars {
        for (tops, thick) in bar
            .top_mm
            .chunks_exact_mut(cells)
            .zip(bar.thickness_mm.chunks_exact_mut(cells))
        {
            for k in 0..cells {
                if !stone.top_mm[k].is_finite() {
                    tops[k] = f32::NAN;
                    thick[k] = 0.0;
                } else if thick[k] <= 0.0 {
                    // Where the bar is missing its height still counts between nodes.
                    tops[k] = tops[k].clamp(stone.bottom_mm[k], stone.top_mm[k]);
                } else {
                    let upper = tops[k].min(stone.top_mm[k]);
                    let lower = (tops[k] - thick[k]).max(stone.bottom_mm[k]);
                    tops[k] = upper.max(stone.bottom_mm[k]);
                    thick[k] = (upper - lower).max(0.0);
                }
            }
        }
    }
}
