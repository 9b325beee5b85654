//! One bar in every interior, from a quick look or from nothing.

use crate::bar::{DrawnBar, Setting, lattice, scaled, top_prior};
use crate::cholesky::Cholesky;
use crate::field_prior::{FieldPrior, KERNEL, bending};
use crate::forms::{Around, FormPrior, WEDGE};
use crate::showing::{middle_height_mm, showing_edge};
use crate::{BarDraws, InteriorError};
use opal_evidence::QuickBar;
use opal_geostat::scoring::{normal_cdf, normal_pdf};
use opal_geostat::{
    CoefficientPrior, ConditionalFields, Drift, FieldModel, FieldSet, WeightedModel,
};
use opal_stone::Stone;
use opal_units::Rng;
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF as _, Normal};

/// Places along the edge at which the look is taken to have been.
const PLACES: usize = 24;
/// Patterns along the edge among which one is chosen for an interior.
const PATTERNS: usize = 32;
/// How closely a share of the edge is judged by eye, one standard deviation.
/// Common practice, no source.
const SHARE_SD: f64 = 0.07;
/// How far the unsteadiness that a pattern asks for may lie from what the share
/// of the edge says, as a standard deviation of the logarithm.
/// chosen: because a steadier bar than its share tells is rare but known.
const UNSTEADY_LOG_SD: f64 = 0.4;
/// Parameter draws that the interiors share among them.
const PARAMETER_DRAWS: usize = 8;
/// Spread of the height of a bar that was seen to run along the edge, over that of
/// any bar of the form. Common practice, no source: what is called the edge of a
/// piece lies about its girth.
const SEEN_ON_EDGE: f64 = 0.7;

/// What is known of the bar.
#[derive(Clone, Copy, Debug)]
pub(crate) enum QuickEvidence {
    /// A quick look.
    Look(QuickBar),
    /// The bar is there; nothing was judged.
    There,
    /// No bar was seen anywhere.
    Nothing,
}

/// Draws a bar that had a quick look at most.
///
/// # Method
/// The top is bend and Gaussian process under the form's prior. Thickness is
/// c·(u + Z), clipped at 0, with Z a unit Gaussian process. In each interior a
/// pattern of Z along the edge is drawn, u is set so that the drawn share of the
/// edge shows, c so that its mean there is the drawn thickness; of many patterns
/// one is chosen by how usual its c is (importance resampling), and the field is
/// conditioned on it exactly.
pub(crate) fn draw_quick(
    name: &str,
    evidence: QuickEvidence,
    setting: &Setting<'_>,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<DrawnBar, InteriorError> {
    let Setting { stone, n, seed, .. } = *setting;
    let (size, form) = (&setting.size, &setting.form);
    let mut top = top_prior(form, size);
    let judged = match evidence {
        QuickEvidence::Look(quick) => quick.top,
        _ => None,
    };
    if let Some(read) = judged {
        let sd = read.sigma.mm().max(0.2);
        top.coefficients[0] = (size.low_mm + read.value.mm(), sd);
    } else if matches!(evidence, QuickEvidence::Look(_)) {
        top.coefficients[0].1 *= SEEN_ON_EDGE;
    }
    let unit = FieldPrior {
        drift: Drift::Quadratic,
        centre_mm: size.centre_mm,
        coefficients: bending((0.0, 0.0), WEDGE / size.half_mm(), 1.0, size.half_mm()),
        sd: Around {
            median: 1.0,
            log_sd: 1e-6,
        },
        range_mm: scaled(form.thickness_range_share, size.across_mm),
    };
    let mut models = models(&top, &unit);
    for weighted in &mut models {
        setting.break_top(&mut weighted.model.fields[0]);
    }
    let fields =
        ConditionalFields::new(lattice(stone), &models, &[], &[], seed).map_err(|why| {
            InteriorError::Bar {
                bar: name.to_owned(),
                why,
            }
        })?;
    let cells = stone.grid.len();
    let mut top_mm = vec![0.0_f32; n * cells];
    let mut thickness_mm = vec![0.0_f32; n * cells];
    const BLOCK: usize = 100;
    for first in (0..n).step_by(BLOCK) {
        let end = (first + BLOCK).min(n);
        fields.draw_into(
            first as u64,
            &mut [
                &mut top_mm[first * cells..end * cells],
                &mut thickness_mm[first * cells..end * cells],
            ],
        );
        progress(0.8 * end as f64 / n as f64);
    }

    if let QuickEvidence::Look(quick) = evidence {
        let height = top.coefficients[0].0;
        let mut places = showing_edge(stone, height, PLACES);
        if places.len() < 3 {
            places = showing_edge(stone, middle_height_mm(stone), PLACES);
        }
        let edges: Vec<Edge> = models
            .iter()
            .map(|m| Edge::new(stone, &places, &m.model.fields[1]))
            .collect();
        thickness_mm
            .par_chunks_exact_mut(cells)
            .enumerate()
            .for_each(|(i, field)| {
                let mut rng = seed.stream("quick-look", i as u64);
                let edge = &edges[fields.model_of(i as u64)];
                let shape = edge.condition(field, &quick, form, &mut rng);
                shape.apply(field);
            });
    } else {
        let there = match evidence {
            QuickEvidence::Nothing => form.hidden_bar,
            _ => 1.0,
        };
        thickness_mm
            .par_chunks_exact_mut(cells)
            .enumerate()
            .for_each(|(i, field)| {
                let mut rng = seed.stream("unseen-bar", i as u64);
                let shape = BarShape::unseen(form, there, &mut rng);
                shape.apply(field);
            });
    }
    progress(1.0);
    Ok(DrawnBar {
        draws: BarDraws {
            name: name.to_owned(),
            top_mm,
            thickness_mm,
        },
        rests_on: vec![words(name, evidence, form)],
        warnings: Vec::new(),
    })
}

/// Equally likely parameters, spread evenly over their priors.
///
/// # Method
/// A Latin square of normal scores: each parameter takes each of its strata once,
/// in an order of its own (multiples of 1, 3 and 5 modulo the number of draws).
fn models(top: &FieldPrior, unit: &FieldPrior) -> Vec<WeightedModel> {
    let score = |k: usize| {
        let share = ((k % PARAMETER_DRAWS) as f64 + 0.5) / PARAMETER_DRAWS as f64;
        Normal::new(0.0, 1.0).map_or(0.0, |law| law.inverse_cdf(share))
    };
    (0..PARAMETER_DRAWS)
        .map(|k| WeightedModel {
            weight: 1.0,
            model: FieldSet::pair(
                top.model_at(score(k), score(3 * k + 1)),
                unit.model_at(0.0, score(5 * k + 2)),
                0.0,
            ),
        })
        .collect()
}

/// Thickness = scale · (offset + Z), clipped at 0; Z has unit variance in the middle of
/// the piece.
#[derive(Clone, Copy, Debug, PartialEq)]
struct BarShape {
    offset: f64,
    scale_mm: f64,
}

impl BarShape {
    fn apply(self, field: &mut [f32]) {
        for z in field {
            *z = (self.scale_mm * (self.offset + f64::from(*z))).max(0.0) as f32;
        }
    }

    fn unseen(form: &FormPrior, there: f64, rng: &mut Rng) -> Self {
        let (z, w): (f64, f64) = (StandardNormal.sample(rng), StandardNormal.sample(rng));
        let offset = form.steadiness.at(z);
        let scale_mm = form.thickness_mm.at(w) / mean_where_present(offset);
        if rng.random::<f64>() < there {
            Self { offset, scale_mm }
        } else {
            Self {
                offset: 0.0,
                scale_mm: 0.0,
            }
        }
    }
}

/// E[u + Z | u + Z > 0] (mean of a truncated normal).
fn mean_where_present(u: f64) -> f64 {
    u + normal_pdf(u) / normal_cdf(u).max(1e-12)
}

/// The places along the edge under one law of Z.
struct Edge {
    nodes: Vec<usize>,
    factor: Option<Cholesky>,
    /// Covariance of every grid node with every place, place after place.
    columns: Vec<f32>,
}

impl Edge {
    fn new(stone: &Stone, places: &[[f64; 2]], z: &FieldModel) -> Self {
        let grid = &stone.grid;
        // The trend's share of the covariance with a place, as a trend itself.
        let trend_with = |place: [f64; 2]| -> Vec<f64> {
            let basis = z.trend.basis(place);
            let terms = basis.iter().zip(&z.coefficients);
            terms
                .map(|(term, prior)| match prior {
                    CoefficientPrior::Normal { sd, .. } => term * sd * sd,
                    _ => 0.0,
                })
                .collect()
        };
        let range_mm = z.covariance.range;
        let covariance = |with: &[f64], a: [f64; 2], b: [f64; 2]| {
            KERNEL.correlation((a[0] - b[0]).hypot(a[1] - b[1]) / range_mm) + z.trend.value(b, with)
        };
        let nodes: Vec<usize> = places.iter().filter_map(|&p| grid.nearest(p)).collect();
        let at: Vec<[f64; 2]> = nodes.iter().map(|&k| grid.at_index(k)).collect();
        // Neighbouring places under a long range are nearly the same place.
        let trends: Vec<Vec<f64>> = at.iter().map(|&place| trend_with(place)).collect();
        let factor = Cholesky::new(at.len(), |i, j| {
            covariance(&trends[i], at[i], at[j]) + if i == j { 1e-4 } else { 0.0 }
        });
        let columns = at
            .par_iter()
            .zip(&trends)
            .flat_map_iter(|(&place, with)| {
                (0..grid.len()).map(move |k| covariance(with, place, grid.at_index(k)) as f32)
            })
            .collect();
        Self {
            nodes,
            factor,
            columns,
        }
    }

    /// Turns a free unit field into one that has a pattern along the edge which the
    /// look could have seen.
    fn condition(
        &self,
        field: &mut [f32],
        quick: &QuickBar,
        form: &FormPrior,
        rng: &mut Rng,
    ) -> BarShape {
        let m = self.nodes.len();
        let Some(factor) = &self.factor else {
            return BarShape::unseen(form, 1.0, rng);
        };
        let (t, sd) = (quick.thickness.value.mm(), quick.thickness.sigma.mm());
        let target = truncated(t, sd, rng);
        let share: f64 = quick.edge_share.clamp(0.0, 1.0);
        let usual = usual_scale(target, share, form);
        let mut kept: Option<(Vec<f64>, BarShape)> = None;
        let mut total = 0.0;
        for _ in 0..PATTERNS {
            let white: Vec<f64> = (0..m).map(|_| StandardNormal.sample(rng)).collect();
            let pattern = factor.colour(&white);
            let z: f64 = StandardNormal.sample(rng);
            let judged = (share + SHARE_SD * z).clamp(0.0, 1.0);
            let count = ((judged * m as f64).round() as usize).clamp(1, m);
            let mut sorted = pattern.clone();
            sorted.sort_by(|a, b| b.total_cmp(a));
            let offset = if count == m {
                let z: f64 = StandardNormal.sample(rng);
                let steady = form.steadiness.at(z);
                // All of the edge shows, so the thinnest place is there.
                if steady + sorted[m - 1] <= 0.0 {
                    continue;
                }
                steady
            } else {
                let u: f64 = rng.random();
                -(u * sorted[count - 1] + (1.0 - u) * sorted[count])
            };
            let shown: f64 = sorted[..count].iter().map(|z| z + offset).sum();
            let scale_mm = target * count as f64 / shown.max(1e-3);
            let apart = (scale_mm / usual).ln() / UNSTEADY_LOG_SD;
            let weight = (-0.5 * apart * apart).exp();
            total += weight;
            if weight > 0.0 && rng.random::<f64>() * total < weight {
                kept = Some((pattern, BarShape { offset, scale_mm }));
            }
        }
        let Some((pattern, shape)) = kept else {
            let offset = form.steadiness.median;
            return BarShape {
                offset,
                scale_mm: target / mean_where_present(offset),
            };
        };
        let mut alpha: Vec<f64> = self
            .nodes
            .iter()
            .zip(&pattern)
            .map(|(&k, z)| z - f64::from(field[k]))
            .collect();
        factor.forward(&mut alpha);
        factor.backward(&mut alpha);
        for (column, a) in self.columns.chunks_exact(field.len()).zip(&alpha) {
            let a = *a as f32;
            for (value, c) in field.iter_mut().zip(column) {
                *value += a * c;
            }
        }
        shape
    }
}

/// The scale that goes with a thickness and a share of the edge.
fn usual_scale(thickness_mm: f64, share: f64, form: &FormPrior) -> f64 {
    let steady = form.steadiness.median;
    let offset = match Normal::new(0.0, 1.0) {
        // A share near all of the edge says only that the bar is steady.
        Ok(law) => law.inverse_cdf(share.clamp(0.02, 0.98)).min(steady),
        Err(_) => steady,
    };
    thickness_mm / mean_where_present(offset)
}

/// A normal kept above a fifth of its mean.
fn truncated(mean: f64, sd: f64, rng: &mut Rng) -> f64 {
    for _ in 0..64 {
        let z: f64 = StandardNormal.sample(rng);
        let value = mean + sd * z;
        if value > 0.2 * mean {
            return value;
        }
    }
    mean
}

fn words(name: &str, evidence: QuickEvidence, form: &FormPrior) -> String {
    match evidence {
        QuickEvidence::Look(quick) => format!(
            "Bar {name}: a quick look only, about {:.1} mm on {:.0} % of the edge{}; the inside is \
             what such an edge leaves open in {} rough.",
            quick.thickness.value.mm(),
            100.0 * quick.edge_share,
            if quick.top.is_some() {
                ", its height judged"
            } else {
                ", its height not judged"
            },
            form.words,
        ),
        QuickEvidence::There => format!(
            "Bar {name}: named but not measured; thickness, height and extent are what is usual \
             for this form ({}).",
            form.words
        ),
        QuickEvidence::Nothing => format!(
            "No bar was seen: one is assumed with a chance of {:.0} %, as thick as is usual for \
             this form ({}).",
            100.0 * form.hidden_bar,
            form.words
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean of N(1, 1) kept above 0 is 1.287600 (closed form; scipy's truncnorm agrees).
    #[test]
    fn mean_of_what_is_present() {
        assert!((mean_where_present(1.0) - 1.287_600).abs() < 1e-6);
    }
}
