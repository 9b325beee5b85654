//! From evidence and stone to interiors.

use crate::bar::{DrawnBar, Setting, StoneSize};
use crate::forms::FormPrior;
use crate::inclusions::{draw_cracks, draw_specks};
use crate::quick::{QuickEvidence, draw_quick};
use crate::sighted::Sighted;
use crate::{BarDraws, InteriorError, Interiors, OriginPrior};
use opal_evidence::{BarEvidence, Evidence};
use opal_stone::Stone;
use opal_units::Seed;
use rand_distr::{Distribution as _, StandardNormal};
use rayon::prelude::*;

/// How to draw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawOptions {
    /// How many interiors.
    pub n: usize,
    /// What they are drawn from: same seed, same bytes.
    pub seed: Seed,
}

impl Default for DrawOptions {
    fn default() -> Self {
        Self {
            n: 1000,
            seed: Seed(1),
        }
    }
}

/// The least potch between two bars, mm. Common practice, no source.
const LEAST_BETWEEN_MM: f32 = 0.1;
/// Share of the bar's nodes beyond the skin from which the cutter is told.
const SKIN_SHARE_TOLD: f64 = 0.25;
/// Share of crossing nodes from which the cutter is told.
const CROSSING_TOLD: f64 = 0.1;

impl Interiors {
    /// Draws the possible insides of a stone that honour the evidence.
    ///
    /// `progress` is told the share done, 0..=1, from this thread.
    ///
    /// # Method
    /// Each bar: top = bend + Gaussian process, thickness a clipped (or, where the
    /// readings speak for it, log-normal) process; both conditioned exactly on the
    /// sightings, under several draws of their parameters. Specks and cracks: Poisson
    /// processes with rates learnt from what was counted.
    ///
    /// # Errors
    /// Fewer than two interiors, a stone without inside, a sighting off the stone, or
    /// sightings that cannot be honoured together.
    pub fn draw(
        evidence: &Evidence,
        stone: &Stone,
        options: &DrawOptions,
        progress: &(dyn Fn(f64) + Sync),
    ) -> Result<Self, InteriorError> {
        Frame::new(evidence, stone, None, options)?.draw(progress)
    }

    /// The same, with what the cutter's own stones of this origin taught in place of
    /// what is usual for the form.
    ///
    /// # Errors
    /// As [`Interiors::draw`]; a prior out of its range.
    pub fn draw_for_origin(
        evidence: &Evidence,
        stone: &Stone,
        origin: &OriginPrior,
        options: &DrawOptions,
        progress: &(dyn Fn(f64) + Sync),
    ) -> Result<Self, InteriorError> {
        Frame::new(evidence, stone, Some(origin), options)?.draw(progress)
    }
}

/// What all bars of one stone are drawn in.
pub(crate) struct Frame<'a> {
    evidence: &'a Evidence,
    stone: &'a Stone,
    size: StoneSize,
    form: FormPrior,
    /// What of the form's priors gave way to the origin's, in plain words.
    taught: Option<String>,
    options: DrawOptions,
}

impl<'a> Frame<'a> {
    pub(crate) fn new(
        evidence: &'a Evidence,
        stone: &'a Stone,
        origin: Option<&OriginPrior>,
        options: &DrawOptions,
    ) -> Result<Self, InteriorError> {
        if options.n < 2 {
            return Err(InteriorError::Number { n: options.n });
        }
        let usual = FormPrior::of(evidence.piece.form);
        Ok(Self {
            evidence,
            stone,
            size: StoneSize::of(stone).ok_or(InteriorError::EmptyStone)?,
            form: origin.map_or(Ok(usual), |origin| origin.over(usual))?,
            taught: origin.map(|origin| origin.words(&usual)),
            options: *options,
        })
    }

    fn draw(&self, progress: &(dyn Fn(f64) + Sync)) -> Result<Interiors, InteriorError> {
        let n = self.options.n;
        let bars = self.each_bar(
            &|share| progress(0.9 * share),
            |bar, setting, told| match bar {
                Some(bar) if !bar.sightings.is_empty() => {
                    let learned = Sighted::learn(bar, setting, &|share| told(0.4 * share))?;
                    Ok(learned.draw(n, &|share| told(0.4 + 0.6 * share)))
                }
                other => draw_unsighted(other, setting, told),
            },
        )?;
        progress(0.95);
        let interiors = self.interiors(bars)?;
        progress(1.0);
        Ok(interiors)
    }

    /// Makes something of every bar, or of none where none was seen.
    pub(crate) fn each_bar<T>(
        &self,
        progress: &(dyn Fn(f64) + Sync),
        mut make: impl FnMut(
            Option<&BarEvidence>,
            &Setting<'_>,
            &(dyn Fn(f64) + Sync),
        ) -> Result<T, InteriorError>,
    ) -> Result<Vec<T>, InteriorError> {
        let count = self.evidence.bars.len().max(1);
        (0..count)
            .map(|k| {
                let setting = Setting {
                    stone: self.stone,
                    size: self.size,
                    form: self.form,
                    step: self.evidence.step,
                    n: self.options.n,
                    seed: self.options.seed.child("bar", k as u64),
                };
                let told = |share: f64| progress((k as f64 + share) / count as f64);
                make(self.evidence.bars.get(k), &setting, &told)
            })
            .collect()
    }

    /// The interiors with these bars, cut off at the skin and at each other, and with
    /// specks and cracks.
    pub(crate) fn interiors(&self, drawn: Vec<DrawnBar>) -> Result<Interiors, InteriorError> {
        let &Self {
            evidence, stone, ..
        } = self;
        let DrawOptions { n, seed } = self.options;
        let mut rests_on = Vec::new();
        let mut warnings = Vec::new();
        let mut bars = Vec::with_capacity(drawn.len());
        for bar in drawn {
            bars.push(bar.draws);
            rests_on.extend(bar.rests_on);
            warnings.extend(bar.warnings);
        }
        for bar in &mut bars {
            let beyond = keep_inside(bar, stone);
            if beyond > SKIN_SHARE_TOLD {
                warnings.push(format!(
                    "Bar {} would lie outside the skin over {:.0} % of its extent and was cut off \
                     there: check its heights against the shape. How much of it lies inside is \
                     less sure than its range says.",
                    bar.name,
                    100.0 * beyond
                ));
            }
        }
        let crossing = keep_apart(&mut bars, stone.grid.len());
        if crossing > CROSSING_TOLD {
            warnings.push(format!(
                "The bars would cross over {:.0} % of their extent; the lower one gives way there.",
                100.0 * crossing
            ));
        }
        let (specks, speck_words) =
            draw_specks(evidence, stone, &self.form, n, seed.child("specks", 0))?;
        rests_on.extend(speck_words);
        let cracks = draw_cracks(evidence, stone, &self.form, n, seed.child("cracks", 0));
        rests_on.extend(stone_words(stone));
        rests_on.extend(self.taught.clone());
        let skin_inset_mm = (0..n as u64)
            .map(|i| {
                let z: f64 = StandardNormal.sample(&mut seed.stream("skin", i));
                (stone.skin_sigma.mm() * z) as f32
            })
            .collect();
        Ok(Interiors {
            seed,
            n,
            grid: stone.grid,
            bars,
            specks,
            cracks,
            skin_inset_mm,
            rests_on,
            warnings,
        })
    }
}

/// A bar that had a quick look at most.
pub(crate) fn draw_unsighted(
    bar: Option<&BarEvidence>,
    setting: &Setting<'_>,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<DrawnBar, InteriorError> {
    let (name, looked) = match bar {
        Some(bar) => (
            bar.name.as_str(),
            bar.quick.map_or(QuickEvidence::There, QuickEvidence::Look),
        ),
        None => ("unseen", QuickEvidence::Nothing),
    };
    draw_quick(name, looked, setting, progress)
}

fn stone_words(stone: &Stone) -> Option<String> {
    let sigma = stone.skin_sigma.mm();
    (sigma > 0.0).then(|| format!("The skin is known to about {sigma:.1} mm."))
}

/// Cuts a bar off at the skin; tells the share of its nodes that lay wholly beyond.
fn keep_inside(bar: &mut BarDraws, stone: &Stone) -> f64 {
    let cells = stone.grid.len();
    let counts: Vec<(usize, usize)> = bar
        .top_mm
        .par_chunks_exact_mut(cells)
        .zip(bar.thickness_mm.par_chunks_exact_mut(cells))
        .map(|(tops, thicknesses)| {
            let (mut present, mut beyond) = (0, 0);
            for (k, (top, thickness)) in tops.iter_mut().zip(thicknesses).enumerate() {
                let (skin_top, skin_bottom) = (stone.top_mm[k], stone.bottom_mm[k]);
                if !skin_top.is_finite() {
                    *top = f32::NAN;
                    *thickness = 0.0;
                    continue;
                }
                if *thickness <= 0.0 {
                    continue;
                }
                present += 1;
                let upper = top.clamp(skin_bottom, skin_top);
                let lower = (*top - *thickness).clamp(skin_bottom, skin_top);
                if upper <= lower {
                    beyond += 1;
                    *thickness = 0.0;
                } else {
                    *top = upper;
                    *thickness = upper - lower;
                }
            }
            (present, beyond)
        })
        .collect();
    let present: usize = counts.iter().map(|c| c.0).sum();
    let beyond: usize = counts.iter().map(|c| c.1).sum();
    beyond as f64 / present.max(1) as f64
}

/// Keeps bars from crossing: from the highest to the lowest, each gives way to all
/// above it, so that it keeps its place also where one between is absent. Tells the
/// share of nodes with two bars at which one had to.
fn keep_apart(bars: &mut [BarDraws], cells: usize) -> f64 {
    let mut order: Vec<(f64, usize)> = bars
        .iter()
        .enumerate()
        .map(|(k, bar)| {
            let inside = bar.top_mm.iter().filter(|t| t.is_finite());
            let (mut sum, mut count) = (0.0, 0_usize);
            for t in inside {
                sum += f64::from(*t);
                count += 1;
            }
            (sum / count.max(1) as f64, k)
        })
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let (mut both, mut crossed) = (0_usize, 0_usize);
    let pairs = (1..order.len()).flat_map(|low| (0..low).map(move |high| (high, low)));
    for (high, low) in pairs {
        let (upper, lower) = (order[high].1, order[low].1);
        let Ok([upper, lower]) = bars.get_disjoint_mut([upper, lower]) else {
            continue;
        };
        let counts: Vec<(usize, usize)> = upper
            .top_mm
            .par_chunks_exact(cells)
            .zip(upper.thickness_mm.par_chunks_exact(cells))
            .zip(lower.top_mm.par_chunks_exact_mut(cells))
            .zip(lower.thickness_mm.par_chunks_exact_mut(cells))
            .map(|(((tops, thicks), low_tops), low_thicks)| {
                let (mut both, mut crossed) = (0, 0);
                for k in 0..cells {
                    if thicks[k] <= 0.0 || low_thicks[k] <= 0.0 {
                        continue;
                    }
                    both += 1;
                    let limit = tops[k] - thicks[k] - LEAST_BETWEEN_MM;
                    if low_tops[k] > limit {
                        crossed += 1;
                        let bottom = low_tops[k] - low_thicks[k];
                        low_tops[k] = limit;
                        low_thicks[k] = (limit - bottom).max(0.0);
                    }
                }
                (both, crossed)
            })
            .collect();
        both += counts.iter().map(|c| c.0).sum::<usize>();
        crossed += counts.iter().map(|c| c.1).sum::<usize>();
    }
    crossed as f64 / both.max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(name: &str, top: [f32; 2], thickness: [f32; 2]) -> BarDraws {
        BarDraws {
            name: name.to_owned(),
            top_mm: top.to_vec(),
            thickness_mm: thickness.to_vec(),
        }
    }

    /// The middle bar is absent at the second node, where the lowest would cross the
    /// highest.
    #[test]
    fn three_bars_never_cross() {
        let mut bars = vec![
            flat("low", [0.5, 8.5], [1.0, 1.5]),
            flat("high", [9.0, 9.0], [1.0, 1.0]),
            flat("middle", [5.0, 5.0], [1.0, 0.0]),
        ];
        let share = keep_apart(&mut bars, 2);
        assert_eq!(bars[0].top_mm[0], 0.5);
        assert!((bars[0].top_mm[1] - 7.9).abs() < 1e-6);
        assert!((bars[0].thickness_mm[1] - 0.9).abs() < 1e-6);
        assert_eq!(bars[1], flat("high", [9.0, 9.0], [1.0, 1.0]));
        // Four nodes have two bars; one of them crossed.
        assert!((share - 0.25).abs() < 1e-12);
    }
}
