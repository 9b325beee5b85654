//! Specks and cracks of every interior.

use crate::forms::{FormPrior, SpeckPrior, torch_factor};
use crate::pockets;
use crate::{CrackDraws, CrackPlane, InteriorError, Speck, SpeckDraws};
use opal_evidence::{CrackTrace, Evidence, SpeckKind};
use opal_geostat::stereology::{CountedSurface, GammaRate, ParticlePosterior, SizeLaw};
use opal_stone::Stone;
use opal_units::{Rng, Seed};
use rand::RngExt as _;
use rand_distr::{Distribution as _, LogNormal, Poisson, StandardNormal};
use rayon::prelude::*;

/// Most specks that one interior holds.
/// chosen: because a stone with more is sand, whatever the number.
const MOST_SPECKS: f64 = 4000.0;

/// Where in the stone something lies at random: columns by their height.
pub(crate) struct StoneVolume<'a> {
    stone: &'a Stone,
    nodes: Vec<usize>,
    cumulative: Vec<f64>,
}

impl<'a> StoneVolume<'a> {
    pub(crate) fn new(stone: &'a Stone) -> Self {
        let mut nodes = Vec::new();
        let mut cumulative = Vec::new();
        let mut sum = 0.0;
        for k in 0..stone.grid.len() {
            let height = f64::from(stone.top_mm[k] - stone.bottom_mm[k]);
            if height > 0.0 {
                sum += height * stone.grid.cell_area_mm2();
                nodes.push(k);
                cumulative.push(sum);
            }
        }
        Self {
            stone,
            nodes,
            cumulative,
        }
    }

    pub(crate) fn volume_mm3(&self) -> f64 {
        self.cumulative.last().copied().unwrap_or(0.0)
    }

    fn point(&self, rng: &mut Rng) -> [f32; 3] {
        let at = rng.random::<f64>() * self.volume_mm3();
        let k = self.nodes[self
            .cumulative
            .partition_point(|&c| c < at)
            .min(self.nodes.len() - 1)];
        let [x, y] = self.stone.grid.at_index(k);
        let cell = self.stone.grid.cell_mm;
        let (top, bottom) = (self.stone.top_mm[k], self.stone.bottom_mm[k]);
        [
            (x + cell * (rng.random::<f64>() - 0.5)) as f32,
            (y + cell * (rng.random::<f64>() - 0.5)) as f32,
            bottom + (top - bottom) * rng.random::<f32>(),
        ]
    }
}

/// The specks of every interior, and a sentence on what they rest on.
///
/// # Method
/// Rate and size law by kind from what was counted ([`ParticlePosterior`]); in
/// each interior a rate and a size law are drawn, then balls at random in the stone:
/// a Poisson number, each for itself or in pockets ([`pockets::places`]). Specks whose
/// place was noted stand where they were seen, with a diameter drawn given the section
/// that was seen.
///
/// # Validity
/// Exposures carry no outline, so a clean face lowers the rate everywhere, but
/// does not clear its own place.
pub(crate) fn draw_specks(
    evidence: &Evidence,
    stone: &Stone,
    prior: &FormPrior,
    n: usize,
    seed: Seed,
) -> Result<(SpeckDraws, Vec<String>), InteriorError> {
    let volume = StoneVolume::new(stone);
    let mut kinds = Vec::new();
    for speck in &prior.specks {
        kinds.push((speck, learn(evidence, speck)?));
    }
    let pinned: Vec<(SpeckKind, [f64; 3], f64)> = evidence
        .exposures
        .iter()
        .flat_map(|e| &e.specks)
        .filter_map(|s| Some((s.kind, s.at_mm?, s.diameter.mm())))
        .collect();
    let per_interior: Vec<Vec<Speck>> = (0..n as u64)
        .into_par_iter()
        .map(|i| {
            let mut rng = seed.stream("specks", i);
            let mut specks = Vec::new();
            for (prior, posterior) in &kinds {
                let (rate, law) = posterior.draw(&mut rng);
                for (_, at, section) in pinned.iter().filter(|(k, ..)| *k == prior.kind) {
                    specks.push(Speck {
                        kind: prior.kind,
                        at_mm: at.map(|v| v as f32),
                        radius_mm: (0.5 * whole_diameter(&law, *section, &mut rng)) as f32,
                    });
                }
                let mean = (rate * volume.volume_mm3()).min(MOST_SPECKS);
                let mut add = |at: Option<[f32; 3]>, rng: &mut Rng| {
                    let z: f64 = StandardNormal.sample(rng);
                    specks.push(Speck {
                        kind: prior.kind,
                        at_mm: at.unwrap_or_else(|| volume.point(rng)),
                        radius_mm: (0.5 * law.diameter_at(z)) as f32,
                    });
                };
                if let Some(lie) = prior.pockets {
                    let per_mm3 = mean / volume.volume_mm3();
                    for at in pockets::places(stone, per_mm3, lie, &mut rng) {
                        add(Some(at), &mut rng);
                    }
                } else {
                    let count = Poisson::new(mean).map_or(0, |law| law.sample(&mut rng) as usize);
                    for _ in 0..count {
                        add(None, &mut rng);
                    }
                }
            }
            specks
        })
        .collect();
    let mut draws = SpeckDraws {
        starts: vec![0],
        specks: Vec::new(),
    };
    for specks in per_interior {
        draws.specks.extend(specks);
        draws.starts.push(draws.specks.len());
    }
    Ok((draws, speck_words(evidence, prior)))
}

fn learn(evidence: &Evidence, prior: &SpeckPrior) -> Result<ParticlePosterior, InteriorError> {
    let per_mm3 = prior.per_mm3 * torch_factor(evidence.torch, prior.kind);
    let rate = GammaRate::new(prior.shape, prior.shape / per_mm3)?;
    let surfaces: Vec<CountedSurface> = evidence
        .exposures
        .iter()
        .map(|e| CountedSurface {
            area_mm2: e.area.mm2(),
            ground_mm: 0.0,
            smallest_mm: e.smallest_seen.mm(),
            sections_mm: e
                .specks
                .iter()
                .filter(|s| s.kind == prior.kind)
                .map(|s| s.diameter.mm())
                .collect(),
        })
        .collect();
    let crowding = prior
        .pockets
        .map_or(1.0, |lie| pockets::crowding(lie, prior.size.median_mm));
    Ok(ParticlePosterior::learn(
        rate, prior.size, &surfaces, crowding,
    )?)
}

/// A ball's diameter given the section it shows, mm.
///
/// # Method
/// The chance that a ball of diameter D shows a section near d is proportional to
/// d/√(D² − d²) (Wicksell 1925); drawn by importance resampling from the size law.
fn whole_diameter(law: &SizeLaw, section_mm: f64, rng: &mut Rng) -> f64 {
    /// Candidates. chosen: enough that one of them nearly always exceeds the section.
    const CANDIDATES: usize = 16;
    let mut kept = section_mm * 1.05;
    let mut total = 0.0;
    for _ in 0..CANDIDATES {
        let z: f64 = StandardNormal.sample(rng);
        let diameter = law.diameter_at(z);
        if diameter <= section_mm {
            continue;
        }
        // The corner at D = d is held off by a hundredth of the section.
        let weight = (diameter * diameter - section_mm * section_mm)
            .sqrt()
            .max(0.01 * section_mm)
            .recip();
        total += weight;
        if rng.random::<f64>() * total < weight {
            kept = diameter;
        }
    }
    kept
}

fn speck_words(evidence: &Evidence, prior: &FormPrior) -> Vec<String> {
    let area: f64 = evidence.exposures.iter().map(|e| e.area.mm2()).sum();
    let count: usize = evidence.exposures.iter().map(|e| e.specks.len()).sum();
    if area > 0.0 {
        let seen = match count {
            0 => "none seen".to_owned(),
            1 => "1 seen".to_owned(),
            n => format!("{n} seen"),
        };
        vec![format!(
            "Specks and sand: {seen} on {area:.0} mm² looked over, carried into the depth."
        )]
    } else {
        vec![format!(
            "Specks and sand: nothing was counted; what is usual for this form ({}) is assumed, widely.",
            prior.words
        )]
    }
}

/// The cracks of every interior.
pub(crate) fn draw_cracks(
    evidence: &Evidence,
    stone: &Stone,
    prior: &FormPrior,
    n: usize,
    seed: Seed,
) -> CrackDraws {
    let volume = StoneVolume::new(stone);
    let unseen = prior.unseen_cracks_per_cm3 * volume.volume_mm3() / 1000.0;
    let mut draws = CrackDraws {
        starts: vec![0],
        cracks: Vec::new(),
    };
    for i in 0..n as u64 {
        let mut rng = seed.stream("cracks", i);
        for trace in &evidence.cracks {
            if let Some(plane) = seen_crack(trace, stone, &mut rng) {
                draws.cracks.push(plane);
            }
        }
        let count = Poisson::new(unseen).map_or(0, |law| law.sample(&mut rng) as usize);
        for _ in 0..count {
            draws.cracks.push(unseen_crack(&volume, &mut rng));
        }
        draws.starts.push(draws.cracks.len());
    }
    draws
}

/// How sure a seen crack's dip is, one standard deviation, radians (5°).
/// Common practice, no source.
const DIP_SD_RAD: f64 = 0.087;
/// How sure its depth is, standard deviation of the logarithm. Common practice,
/// no source: cracks run on unseen.
const DEPTH_LOG_SD: f64 = 0.3;

fn seen_crack(trace: &CrackTrace, stone: &Stone, rng: &mut Rng) -> Option<CrackPlane> {
    let (first, last) = (*trace.trace_mm.first()?, *trace.trace_mm.last()?);
    let (dx, dy) = (last[0] - first[0], last[1] - first[1]);
    let length = dx.hypot(dy);
    if length <= 0.0 {
        return None;
    }
    let along = [dx / length, dy / length];
    let middle = [0.5 * (first[0] + last[0]), 0.5 * (first[1] + last[1])];
    let surface = stone
        .skin_at(middle)
        .map_or_else(|| stone.height_range_mm().1, |(top, _)| top);
    let (z, w): (f64, f64) = (StandardNormal.sample(rng), StandardNormal.sample(rng));
    let dip = trace.dip.radians() + DIP_SD_RAD * z;
    let depth = trace.depth.mm() * (DEPTH_LOG_SD * w).exp();
    // The trace does not say to which side the crack dips.
    let side = if rng.random::<bool>() { 1.0 } else { -1.0 };
    let down = [
        -along[1] * side * dip.cos(),
        along[0] * side * dip.cos(),
        -dip.sin(),
    ];
    let normal = cross([along[0], along[1], 0.0], down);
    let centre = [
        middle[0] + 0.5 * depth * down[0] / dip.sin().max(0.2),
        middle[1] + 0.5 * depth * down[1] / dip.sin().max(0.2),
        surface - 0.5 * depth,
    ];
    Some(CrackPlane {
        at_mm: centre.map(|v| v as f32),
        normal: normal.map(|v| v as f32),
        radius_mm: (0.5 * length.max(depth)) as f32,
    })
}

fn unseen_crack(volume: &StoneVolume<'_>, rng: &mut Rng) -> CrackPlane {
    /// Median reach of a crack nobody saw, mm. Common practice, no source.
    const REACH_MM: f64 = 4.0;
    let reach = LogNormal::new(REACH_MM.ln(), 0.5).map_or(REACH_MM, |law| law.sample(rng));
    // A random direction, by the normal trick.
    let mut v: [f64; 3] = std::array::from_fn(|_| StandardNormal.sample(rng));
    let size = v.iter().map(|c| c * c).sum::<f64>().sqrt().max(1e-9);
    v = v.map(|c| c / size);
    CrackPlane {
        at_mm: volume.point(rng),
        normal: v.map(|c| c as f32),
        radius_mm: reach as f32,
    }
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}
