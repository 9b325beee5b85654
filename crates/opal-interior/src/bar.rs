//! What a bar's sightings say of its fields.

use crate::field_prior::{FieldPrior, KERNEL, KERNELS, bending};
use crate::forms::{Around, FormPrior, WEDGE};
use crate::readings::{Conditions, Looks, ThicknessLaw, What};
use crate::{BarDraws, InteriorError};
use opal_evidence::{BarEvidence, Step};
use opal_geostat::{
    CorrelationPrior, Datum, Drift, FieldSet, Fit, FitError, FitSpec, Kriging, Lattice, fit,
};
use opal_stone::Stone;
use opal_units::Seed;

/// Parameter draws that the interiors share among them. chosen: doubling them
/// moves the coverage in the calibration study by less than its error.
const PARAMETER_DRAWS: usize = 8;
/// Readings that choose the parameters at most; all are honoured. chosen: half a hundred
/// places fix a range to a few per cent, and the cost grows with the cube.
const READINGS_FOR_PARAMETERS: usize = 100;
/// Chance of a rough bar from which the cutter is told.
const ROUGH_TOLD: f64 = 0.7;
/// Odds, as a logarithm, from which thickness is taken as log-normal: twenty to one, strong
/// evidence by Kass & Raftery 1995, JASA 90: 773–795. At three to one, bars that were taken so
/// held less than was forecast in one case in six (study, assumed law).
const LOG_ODDS: f64 = 3.0;
/// Thickness readings below which thickness stays clipped, so that it may pinch out.
const FEWEST_FOR_LOG: usize = 6;
/// Misread sightings that are looked for at most.
const MOST_MISREAD: usize = 4;
/// Standard deviations beyond which a reading surprises. chosen: one honest
/// reading in two thousand does.
const SURPRISING: f64 = 3.5;
/// Readings with fewer than which none can surprise: the bend takes them up.
const FEWEST_FOR_SURPRISE: usize = 6;
/// How far height and thickness of a bar may hang together, as the standard
/// deviation of atanh ρ. Common practice, no source: weakly, where at all.
const CORRELATION_SD: f64 = 0.3;

/// Weight of many readings, against the form's belief, in how thick the bar is as a whole.
/// They are mostly read at the edge, and a bar bends between there and the middle by about
/// as much as the form leaves its thickness open: for a seam BEND over the steadiness, 0.52, and
/// 0.6, both of the logarithm. chosen so; the middle half of the volume's forecasts then holds
/// 49 in place of 47 of a hundred outcomes (study, assumed law).
const EDGE_TELLS: f64 = 0.5;

/// What every bar of one stone is drawn with.
pub(crate) struct Setting<'a> {
    pub(crate) stone: &'a Stone,
    pub(crate) size: StoneSize,
    pub(crate) form: FormPrior,
    /// Where the bars break off.
    pub(crate) step: Option<Step>,
    pub(crate) n: usize,
    pub(crate) seed: Seed,
}

/// A bar's draws and what is to be said of them.
#[derive(Clone)]
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

    /// From the middle to the edge, mm.
    pub(crate) fn half_mm(&self) -> f64 {
        0.5 * self.across_mm
    }

    pub(crate) fn height_mm(&self) -> f64 {
        (self.high_mm - self.low_mm).max(0.1)
    }
}

/// The top's field before any sighting.
pub(crate) fn top_prior(form: &FormPrior, size: &StoneSize) -> FieldPrior {
    FieldPrior {
        drift: Drift::Quadratic,
        centre_mm: size.centre_mm,
        coefficients: bending(
            (
                0.5 * (size.low_mm + size.high_mm),
                form.height_share_sd * size.height_mm(),
            ),
            form.slope_sd,
            form.relief_mm.median,
            size.half_mm(),
        ),
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
    // How far the bar bends, before its own unsteadiness is known.
    let (mean, sd, bends) = match law {
        ThicknessLaw::Clipped => (
            (typical_mm.mean(), typical_mm.sd()),
            Around {
                median: typical_mm.median * unsteady.median,
                log_sd: unsteady.log_sd.hypot(typical_mm.log_sd),
            },
            typical_mm.median * unsteady.root_mean_square(),
        ),
        ThicknessLaw::LogNormal => (
            (typical_mm.median.ln(), typical_mm.log_sd),
            unsteady,
            unsteady.root_mean_square(),
        ),
    };
    FieldPrior {
        drift: Drift::Quadratic,
        centre_mm: size.centre_mm,
        coefficients: bending(mean, WEDGE * bends / size.half_mm(), bends, size.half_mm()),
        sd,
        range_mm: scaled(form.thickness_range_share, size.across_mm),
    }
}

/// What the sightings say of the bar's fields under one law of thickness.
pub(crate) struct Learned {
    pub(crate) law: ThicknessLaw,
    pub(crate) known: Conditions,
    pub(crate) fit: Fit,
    /// Chance that the bar is rough between the places looked at.
    pub(crate) rough: f64,
    pub(crate) warnings: Vec<String>,
}

/// What the sightings say under the law of thickness that they speak for.
pub(crate) fn learn(
    bar: &BarEvidence,
    looks: &Looks,
    typical: Around,
    setting: &Setting<'_>,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<Learned, InteriorError> {
    let clipped = learn_under(bar, looks, ThicknessLaw::Clipped, typical, setting)?;
    progress(0.5);
    let all_there = looks.thicknesses().iter().all(|(t, sd)| *t > 2.0 * sd);
    if !looks.any_absent() && all_there && looks.thicknesses().len() >= FEWEST_FOR_LOG {
        let other = learn_under(bar, looks, ThicknessLaw::LogNormal, typical, setting)?;
        if other.log_density() > clipped.log_density() + LOG_ODDS {
            return Ok(other);
        }
    }
    Ok(clipped)
}

impl Learned {
    /// Log density of what was read, in millimetres, at the most plausible parameters.
    fn log_density(&self) -> f64 {
        self.fit.log_posterior - self.known.log_scale
    }
}

/// Fits the parameters, and sets sightings aside that do not fit the others: each
/// gets its own misfit as its error, so that it neither pulls nor is lost.
fn learn_under(
    bar: &BarEvidence,
    looks: &Looks,
    law: ThicknessLaw,
    typical: Around,
    setting: &Setting<'_>,
) -> Result<Learned, InteriorError> {
    let top = top_prior(&setting.form, &setting.size);
    let thickness = thickness_prior(&setting.form, &setting.size, law, typical);
    let mut known = looks.conditions(law, typical.median);
    let mut warnings = Vec::new();
    let refit = |known: &Conditions| {
        fit_kernels(&top, &thickness, known, setting).map_err(|why| InteriorError::Parameters {
            bar: bar.name.clone(),
            why,
        })
    };
    let (mut fitted, mut rough) = refit(&known)?;
    for _ in 0..MOST_MISREAD {
        let Some(misread) = most_surprising(&fitted.mode, looks, &known, law) else {
            break;
        };
        let at = looks.0[misread.sighting].at_mm;
        warnings.push(format!(
            "Look again at bar {} near ({:.1}, {:.1}) mm: its {} does not fit the other sightings \
             ({:.1} times their spread apart). It is counted as unsure until it is read again.",
            bar.name,
            at[0],
            at[1],
            misread.what.words(),
            misread.apart,
        ));
        for (datum, (sighting, what)) in known.data.iter_mut().zip(&known.from) {
            // A thickness that does not fit leaves the top as it was read.
            if *sighting == misread.sighting && (misread.what == What::Top || *what != What::Top) {
                datum.sd = datum.sd.hypot(misread.residual);
            }
        }
        (fitted, rough) = refit(&known)?;
    }
    Ok(Learned {
        law,
        known,
        fit: fitted,
        rough,
        warnings,
    })
}

/// A sighting that does not fit the others.
struct Misread {
    sighting: usize,
    what: What,
    /// How far it lies from what the others say, in the unit of its datum.
    residual: f64,
    /// The same in standard deviations.
    apart: f64,
}

/// The sighting whose top or thickness the other sightings expect least, if any
/// surprises. Tops are held against tops and thicknesses against thicknesses: a
/// place read wrongly as a whole would otherwise vouch for itself.
fn most_surprising(
    mode: &FieldSet,
    looks: &Looks,
    known: &Conditions,
    law: ThicknessLaw,
) -> Option<Misread> {
    let mut worst: Option<Misread> = None;
    for what in [What::Top, What::Thickness] {
        let (field, readings) = match what {
            What::Top => (&mode.fields[0], known.tops()),
            _ => (&mode.fields[1], looks.thickness_data(known, law)),
        };
        if readings.len() < FEWEST_FOR_SURPRISE {
            continue;
        }
        let data: Vec<Datum> = readings.iter().map(|r| r.1).collect();
        let Ok(kriging) = Kriging::new(&FieldSet::one(field.clone()), &data) else {
            continue;
        };
        for (left, (sighting, _)) in kriging.leave_one_out().iter().zip(&readings) {
            let apart = left.surprise().abs();
            if apart > SURPRISING && worst.as_ref().is_none_or(|w| apart > w.apart) {
                worst = Some(Misread {
                    sighting: *sighting,
                    what,
                    residual: left.residual.abs(),
                    apart,
                });
            }
        }
    }
    worst
}

/// Fits under each kernel and pools the parameter draws by how well each explains
/// the readings. Tells also the chance of the rougher ones.
///
/// # Method
/// Posterior weights of the kernels by the density at their modes: they have the same
/// parameters and priors, so the widths of the modes nearly cancel (MacKay 2003,
/// *Information Theory, Inference, and Learning Algorithms*, §28).
fn fit_kernels(
    top: &FieldPrior,
    thickness: &FieldPrior,
    known: &Conditions,
    setting: &Setting<'_>,
) -> Result<(Fit, f64), FitError> {
    let correlation = CorrelationPrior::Fisher {
        mean: 0.0,
        sd: CORRELATION_SD,
    };
    let mut fits = Vec::new();
    for (k, &(kernel, belief)) in KERNELS.iter().enumerate() {
        let mut template =
            FieldSet::pair(top.model_at(0.0, 0.0), thickness.model_at(0.0, 0.0), 0.0);
        for field in &mut template.fields {
            field.covariance.kernel = kernel;
        }
        setting.break_top(&mut template.fields[0]);
        setting.break_thickness(&mut template.fields[1]);
        let priors = vec![top.priors(), thickness.priors()];
        let mut spec = FitSpec::new(template, priors, correlation);
        spec.draws = PARAMETER_DRAWS;
        spec.readings_most = READINGS_FOR_PARAMETERS;
        let seed = setting.seed.child("parameters", k as u64);
        let mut fitted = fit(&spec, &known.data, &known.bounds, seed)?;
        fitted.log_posterior += belief.ln();
        fits.push(fitted);
    }
    let most = fits
        .iter()
        .map(|f| f.log_posterior)
        .fold(f64::NEG_INFINITY, f64::max);
    let shares: Vec<f64> = fits
        .iter()
        .map(|f| (f.log_posterior - most).exp())
        .collect();
    let sum: f64 = shares.iter().sum();
    let mut pooled: Option<Fit> = None;
    for (fitted, share) in fits.into_iter().zip(&shares) {
        let keep = (PARAMETER_DRAWS as f64 * share / sum).round() as usize;
        // Every second, third, … of the draws stands for its neighbours.
        let step = fitted.draws.len().div_ceil(keep.max(1));
        let mut kept: Vec<_> = fitted.draws.iter().step_by(step.max(1)).cloned().collect();
        let kept_total: f64 = kept.iter().map(|d| d.weight).sum();
        for draw in &mut kept {
            draw.weight *= share / (sum * kept_total);
        }
        if keep == 0 {
            kept.clear();
        }
        match &mut pooled {
            None => {
                pooled = Some(Fit {
                    draws: kept,
                    ..fitted
                });
            }
            Some(all) => {
                all.draws.extend(kept);
                if fitted.log_posterior > all.log_posterior {
                    all.mode = fitted.mode;
                    all.log_posterior = fitted.log_posterior;
                    all.effective_sample = fitted.effective_sample;
                }
            }
        }
    }
    let rough = KERNELS
        .iter()
        .zip(&shares)
        .filter(|((kernel, _), _)| *kernel != KERNEL)
        .map(|(_, share)| share / sum)
        .sum();
    // KERNELS is not empty, so something was pooled; its best always keeps a draw.
    Ok((pooled.expect("at least one kernel was fitted"), rough))
}

/// About how thick the bar is, before its field is learnt: the quick look, else
/// the readings, else what is usual for the form.
pub(crate) fn typical_thickness(bar: &BarEvidence, looks: &Looks, form: &FormPrior) -> Around {
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
        .map(|(t, _)| *t)
        .filter(|t| *t > 0.0)
        .collect();
    if read.is_empty() {
        return form.thickness_mm;
    }
    let mean = read.iter().sum::<f64>() / read.len() as f64;
    // The spread stays the form's, so that the mean is still learnt.
    let share = EDGE_TELLS * read.len() as f64 / (read.len() as f64 + 1.0);
    Around {
        median: (share * mean.ln() + (1.0 - share) * form.thickness_mm.median.ln()).exp(),
        log_sd: form.thickness_mm.log_sd,
    }
}

/// Rough surfaces are rougher in some places than in others, which the forecast
/// cannot know: of those its ranges hold a few in a hundred fewer than they say.
pub(crate) fn rough_words(bar: &str, rough: f64) -> Option<String> {
    (rough > ROUGH_TOLD).then(|| {
        format!(
            "Bar {bar} is uneven between the places looked at, perhaps more so in some than in \
             others: trust the edges of its ranges a little less."
        )
    })
}
