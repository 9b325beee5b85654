//! One bar in every interior, from its sightings.

use crate::forms::{Around, FormPrior};
use crate::parameters::{FieldPrior, FieldReading, Learned, Node, learn};
use crate::readings::{Looks, ThicknessLaw, logarithm};
use crate::surprise::{leave_one_out, worst};
use crate::{BarDraws, InteriorError};
use opal_evidence::BarEvidence;
use opal_geostat::{ConditionalFields, Drift, FieldSet, Lattice, WeightedModel};
use opal_stone::Stone;
use opal_units::Seed;
use rayon::prelude::*;

/// Parameter draws that the interiors share among them. chosen: doubling them
/// moves the coverage in the calibration study by less than its error.
const PARAMETER_DRAWS: usize = 8;
/// Odds, as a logarithm, from which thickness is taken as log-normal: three to one.
const LOG_ODDS: f64 = 1.1;
/// Thickness readings below which thickness stays clipped, so that it may pinch out.
const FEWEST_FOR_LOG: usize = 6;
/// Misread sightings that are looked for at most.
const MOST_MISREAD: usize = 4;

/// A bar's draws and what is to be said of them.
pub(crate) struct DrawnBar {
    pub(crate) draws: BarDraws,
    pub(crate) rests_on: Vec<String>,
    pub(crate) warnings: Vec<String>,
}

/// The stone's lattice.
pub(crate) fn lattice(stone: &Stone) -> Lattice {
    Lattice {
        nx: stone.grid.nx,
        ny: stone.grid.ny,
        cell: stone.grid.cell_mm,
        origin: stone.grid.origin_mm,
    }
}

/// Sizes of the stone that the priors are measured by.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StoneSize {
    pub(crate) centre_mm: [f64; 2],
    /// Mean of length and width, mm.
    pub(crate) across_mm: f64,
    pub(crate) low_mm: f64,
    pub(crate) high_mm: f64,
}

impl StoneSize {
    /// `None` when no node lies inside.
    pub(crate) fn of(stone: &Stone) -> Option<Self> {
        let inside: Vec<[f64; 2]> = (0..stone.grid.len())
            .filter(|&k| stone.inside(k))
            .map(|k| stone.grid.at_index(k))
            .collect();
        if inside.is_empty() {
            return None;
        }
        let reach = |a: usize| {
            inside
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
                    (l.min(p[a]), h.max(p[a]))
                })
        };
        let (x, y) = (reach(0), reach(1));
        let (low_mm, high_mm) = stone.height_range_mm();
        Some(Self {
            centre_mm: [0.5 * (x.0 + x.1), 0.5 * (y.0 + y.1)],
            across_mm: (0.5 * (x.1 - x.0 + y.1 - y.0)).max(stone.grid.cell_mm),
            low_mm,
            high_mm,
        })
    }

    pub(crate) fn height_mm(&self) -> f64 {
        (self.high_mm - self.low_mm).max(0.1)
    }
}

/// The top's field before any sighting.
pub(crate) fn top_prior(form: &FormPrior, size: &StoneSize) -> FieldPrior {
    FieldPrior {
        drift: Drift::Plane,
        centre_mm: size.centre_mm,
        coefficients: vec![
            (
                0.5 * (size.low_mm + size.high_mm),
                form.height_share_sd * size.height_mm(),
            ),
            (0.0, form.slope_sd),
            (0.0, form.slope_sd),
        ],
        sd: form.relief_mm,
        range_mm: scaled(form.relief_range_share, size.across_mm),
    }
}

pub(crate) fn scaled(share: Around, by: f64) -> Around {
    Around {
        median: share.median * by,
        log_sd: share.log_sd,
    }
}

/// The thickness field before any sighting, about a typical thickness.
fn thickness_prior(
    form: &FormPrior,
    size: &StoneSize,
    law: ThicknessLaw,
    typical_mm: Around,
) -> FieldPrior {
    let unsteady = Around {
        median: form.steadiness.median.recip(),
        log_sd: form.steadiness.log_sd,
    };
    let (mean, sd) = match law {
        ThicknessLaw::Clipped => (
            (typical_mm.mean(), typical_mm.sd()),
            Around {
                median: typical_mm.median * unsteady.median,
                log_sd: unsteady.log_sd.hypot(typical_mm.log_sd),
            },
        ),
        ThicknessLaw::LogNormal => ((typical_mm.median.ln(), typical_mm.log_sd), unsteady),
    };
    FieldPrior {
        drift: Drift::Constant,
        centre_mm: size.centre_mm,
        coefficients: vec![mean],
        sd,
        range_mm: scaled(form.thickness_range_share, size.across_mm),
    }
}

/// Draws a bar that was sighted.
pub(crate) fn draw_sighted(
    bar: &BarEvidence,
    stone: &Stone,
    size: &StoneSize,
    form: &FormPrior,
    n: usize,
    seed: Seed,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<DrawnBar, InteriorError> {
    let mut looks = Looks::gather(bar, &stone.grid)?;
    let mut warnings = Vec::new();
    let typical = typical_thickness(bar, &looks, form);

    // The top, with readings that do not fit the others set aside.
    let prior_top = top_prior(form, size);
    let mut learned_top = learn(&prior_top, &looks.tops(), &[]);
    for _ in 0..MOST_MISREAD {
        let readings = looks.tops();
        let residuals = leave_one_out(&prior_top, learned_top.at_share(0.5), &readings);
        let Some((k, residual, apart)) = worst(&residuals) else {
            break;
        };
        warnings.push(surprise_words(bar, "top", &readings[k], residual, apart));
        looks.distrust_top(k, residual.abs());
        learned_top = learn(&prior_top, &looks.tops(), &[]);
    }
    progress(0.15);

    let (law, prior_thickness, learned_thickness) =
        choose_law(&mut looks, bar, form, size, typical, &mut warnings);
    progress(0.3);

    let models = models(
        &prior_top,
        &learned_top,
        &prior_thickness,
        &learned_thickness,
    );
    let (data, bounds) = looks.conditions(law, typical.median);
    let fields =
        ConditionalFields::new(lattice(stone), &models, &data, &bounds, seed).map_err(|why| {
            InteriorError::Bar {
                bar: bar.name.clone(),
                why,
            }
        })?;
    progress(0.4);

    let cells = stone.grid.len();
    let mut top_mm = vec![0.0_f32; n * cells];
    let mut thickness_mm = vec![0.0_f32; n * cells];
    // In blocks, so that progress can be told.
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
        progress(0.4 + 0.55 * end as f64 / n as f64);
    }
    thickness_mm
        .par_iter_mut()
        .for_each(|t| *t = law.thickness(*t));
    Ok(DrawnBar {
        draws: BarDraws {
            name: bar.name.clone(),
            top_mm,
            thickness_mm,
        },
        rests_on: vec![rests_words(bar, &looks, law)],
        warnings,
    })
}

/// About how thick the bar is, before its field is learnt: the quick look, else
/// the readings, else what is usual for the form.
fn typical_thickness(bar: &BarEvidence, looks: &Looks, form: &FormPrior) -> Around {
    if let Some(quick) = bar.quick {
        let t = quick.thickness.value.mm().max(0.1);
        return Around {
            median: t,
            // 'About' is said of the mean of what shows; a quarter is added for that.
            log_sd: (quick.thickness.sigma.mm() / t).hypot(0.25).min(1.0),
        };
    }
    let read: Vec<f64> = looks
        .thicknesses()
        .iter()
        .map(|r| r.value)
        .filter(|t| *t > 0.0)
        .collect();
    if read.is_empty() {
        return form.thickness_mm;
    }
    let mean = read.iter().sum::<f64>() / read.len() as f64;
    // The form's belief and the readings meet half way where one reading stands
    // alone; the spread stays the form's, so that the mean is still learnt.
    let share = read.len() as f64 / (read.len() as f64 + 1.0);
    Around {
        median: (share * mean.ln() + (1.0 - share) * form.thickness_mm.median.ln()).exp(),
        log_sd: form.thickness_mm.log_sd,
    }
}

fn choose_law(
    looks: &mut Looks,
    bar: &BarEvidence,
    form: &FormPrior,
    size: &StoneSize,
    typical: Around,
    warnings: &mut Vec<String>,
) -> (ThicknessLaw, FieldPrior, Learned) {
    let clipped_prior = thickness_prior(form, size, ThicknessLaw::Clipped, typical);
    let mut clipped = learn(&clipped_prior, &looks.thicknesses(), &looks.limits());
    for _ in 0..MOST_MISREAD {
        let readings = looks.thicknesses();
        let residuals = leave_one_out(&clipped_prior, clipped.at_share(0.5), &readings);
        let Some((k, residual, apart)) = worst(&residuals) else {
            break;
        };
        warnings.push(surprise_words(
            bar,
            "thickness",
            &readings[k],
            residual,
            apart,
        ));
        looks.distrust_thickness(k, residual.abs());
        clipped = learn(&clipped_prior, &looks.thicknesses(), &looks.limits());
    }
    let readings = looks.thicknesses();
    let all_positive = readings.iter().all(|r| r.value > 2.0 * r.sd);
    if looks.any_absent() || !all_positive || readings.len() < FEWEST_FOR_LOG {
        return (ThicknessLaw::Clipped, clipped_prior, clipped);
    }
    let log_prior = thickness_prior(form, size, ThicknessLaw::LogNormal, typical);
    let mut jacobian = 0.0;
    let logs: Vec<FieldReading> = readings
        .iter()
        .map(|r| {
            let (value, sd) = logarithm(r.value, r.sd);
            jacobian += value;
            FieldReading {
                at_mm: r.at_mm,
                value,
                sd,
            }
        })
        .collect();
    let log_normal = learn(&log_prior, &logs, &[]);
    if log_normal.log_evidence - jacobian > clipped.log_evidence + LOG_ODDS {
        (ThicknessLaw::LogNormal, log_prior, log_normal)
    } else {
        (ThicknessLaw::Clipped, clipped_prior, clipped)
    }
}

/// Equally weighted pairs of parameters, spread over what was learnt of each.
fn models(
    top_prior: &FieldPrior,
    top: &Learned,
    thickness_prior: &FieldPrior,
    thickness: &Learned,
) -> Vec<WeightedModel> {
    (0..PARAMETER_DRAWS)
        .map(|k| {
            let share = |k: usize| (k as f64 + 0.5) / PARAMETER_DRAWS as f64;
            // The second list is walked in another order (multiplied by 3 modulo 8),
            // so that the two do not rise together.
            let (a, b): (Node, Node) = (
                top.at_share(share(k)),
                thickness.at_share(share((3 * k + 1) % PARAMETER_DRAWS)),
            );
            WeightedModel {
                weight: 1.0,
                model: FieldSet::pair(top_prior.model(a), thickness_prior.model(b), 0.0),
            }
        })
        .collect()
}

fn surprise_words(
    bar: &BarEvidence,
    what: &str,
    reading: &FieldReading,
    residual: f64,
    apart: f64,
) -> String {
    format!(
        "Look again at bar {} near ({:.1}, {:.1}) mm: the {what} was read as {:.2} mm, the other \
         sightings say about {:.2} mm ({apart:.1} times their spread apart). It is counted as \
         unsure until it is read again.",
        bar.name,
        reading.at_mm[0],
        reading.at_mm[1],
        reading.value,
        reading.value - residual,
    )
}

fn rests_words(bar: &BarEvidence, looks: &Looks, law: ThicknessLaw) -> String {
    let places = looks.0.len();
    let read = looks.thicknesses().len();
    let absent = looks
        .0
        .iter()
        .filter(|l| l.limit == crate::readings::Limit::Absent)
        .count();
    let mut words = format!(
        "Bar {}: {} looked at, thickness read at {read}",
        bar.name,
        if places == 1 {
            "1 place".to_owned()
        } else {
            format!("{places} places")
        },
    );
    if absent > 0 {
        words += &format!(", no colour at {absent}");
    }
    words += match law {
        ThicknessLaw::Clipped => "; the bar may pinch out where it was not seen.",
        ThicknessLaw::LogNormal => {
            "; the readings speak for a bar that thins but does not pinch out."
        }
    };
    words
}
