//! Free fields by circulant embedding: the lattice is wrapped on a torus, where
//! the covariance is diagonal in the Fourier basis.

use crate::grain::{Grain, spline_transform};
use crate::model::CovarianceModel;
use opal_units::Rng;
use rand_distr::{Distribution, StandardNormal};
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};
use std::sync::Arc;

pub(crate) type C64 = Complex<f64>;

/// Negative share of the spectrum that is clipped without padding further.
/// Chosen: the covariance then errs by about a ten-thousandth of the sill.
const CLIP_ACCEPTED: f64 = 1e-4;
/// Torus sides tried: the smallest, then each larger by this factor.
const PAD: f64 = 1.25;
/// How many sizes are tried at most. Chosen: the last is 55 times the smallest side,
/// which the node limit leaves only to the coarsest lattices.
const PADS: i32 = 19;
/// Largest torus tried beyond the smallest, in nodes. Chosen: 4 MB a buffer.
const NODES_MOST: usize = 1 << 18;

/// Spectra of two slots on one torus. A slot holds one independent component of
/// unit variance; the real part of a transform fills slot 0, the imaginary part
/// slot 1.
///
/// # Method
/// Dietrich & Newsam 1997, SIAM J. Sci. Comput. 18: 1088–1107; Wood & Chan 1994,
/// JCGS 3: 409–432. Z = FFT(√(λ/m)(ε₁ + iε₂)) has two independent real fields;
/// with two spectra the noise is split into its Hermitian halves, so that one
/// transform still fills both slots. On a coarse lattice the values are those of the
/// spline's coefficients (see [`Grain`]).
pub(crate) struct Torus {
    /// The part of the torus that is the lattice.
    nx: usize,
    ny: usize,
    mx: usize,
    my: usize,
    /// √(λ/m) of each slot, kx-major; the second is empty when they share one.
    root: [Vec<f64>; 2],
    same_spectrum: bool,
    /// Covariance at wrapped lags after clipping, y-major.
    lags: [Vec<f64>; 2],
    clipped_share: f64,
    along_x: [Arc<dyn Fft<f64>>; 2],
    along_y: [Arc<dyn Fft<f64>>; 2],
}

/// Transform buffers of one thread.
pub(crate) struct Buffers {
    spectrum: Vec<C64>,
    rows: Vec<C64>,
    scratch: Vec<C64>,
}

/// A weight on a node in a slot.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spike {
    pub(crate) node: usize,
    pub(crate) slot: usize,
    pub(crate) weight: f64,
}

impl Buffers {
    /// True when they were made for a torus of the same size.
    pub(crate) fn fit(&self, torus: &Torus) -> bool {
        self.spectrum.len() == torus.mx * torus.my && self.rows.len() == torus.mx * torus.ny
    }
}

impl Torus {
    /// For one or two models; with one, both slots hold it. Sills are ignored.
    pub(crate) fn new(grain: &Grain, models: &[CovarianceModel]) -> Self {
        let two = models.len() > 1 && !same_correlation(&models[0], &models[1]);
        let count = if two { 2 } else { 1 };
        let smallest = |n: usize| (2 * (n.max(1) - 1)).max(1);
        let mut planner = FftPlanner::new();
        let mut best: Option<(f64, usize, usize, Vec<Vec<f64>>)> = None;
        for k in 0..PADS {
            let pad = PAD.powi(k);
            let side = |n: usize| fast_size((smallest(n) as f64 * pad).ceil() as usize);
            let (mx, my) = (side(grain.nx), side(grain.ny));
            if best.is_some() && mx * my > NODES_MOST {
                break;
            }
            let spectra: Vec<Vec<f64>> = models[..count]
                .iter()
                .map(|model| eigenvalues(model, grain.cell(), mx, my, &mut planner))
                .collect();
            let worst = spectra
                .iter()
                .map(|lambda| negative_share(lambda))
                .fold(0.0, f64::max);
            if best.as_ref().is_none_or(|(share, ..)| worst < *share) {
                best = Some((worst, mx, my, spectra));
            }
            if worst <= CLIP_ACCEPTED {
                break;
            }
        }
        let (clipped_share, mx, my, spectra) = best.expect("the first size is always tried");
        let nodes = (mx * my) as f64;
        let mut root = [Vec::new(), Vec::new()];
        let mut lags = [Vec::new(), Vec::new()];
        for (k, mut lambda) in spectra.into_iter().enumerate() {
            // Clip and give the variance back, so that the sill stays 1.
            let mut sum = 0.0;
            for value in &mut lambda {
                *value = value.max(0.0);
                sum += *value;
            }
            let scale = nodes / sum;
            for (kx, column) in lambda.chunks_exact_mut(my).enumerate() {
                for (ky, value) in column.iter_mut().enumerate() {
                    *value *= scale;
                    if grain.is_spline() {
                        *value /= (spline_transform(kx, mx) * spline_transform(ky, my)).powi(2);
                    }
                }
            }
            lags[k] = covariance_of(&lambda, mx, my, &mut planner);
            root[k] = lambda.iter().map(|l| (l / nodes).sqrt()).collect();
        }
        Self {
            nx: grain.nx,
            ny: grain.ny,
            mx,
            my,
            root,
            same_spectrum: !two,
            lags,
            clipped_share,
            along_x: [planner.plan_fft_forward(mx), planner.plan_fft_inverse(mx)],
            along_y: [planner.plan_fft_forward(my), planner.plan_fft_inverse(my)],
        }
    }

    /// Share of the variance that had to be clipped.
    pub(crate) fn clipped_share(&self) -> f64 {
        self.clipped_share
    }

    /// The sides of the torus.
    pub(crate) fn size(&self) -> (usize, usize) {
        (self.mx, self.my)
    }

    pub(crate) fn buffers(&self) -> Buffers {
        let zero = C64::new(0.0, 0.0);
        let scratch = [&self.along_x, &self.along_y]
            .iter()
            .flat_map(|plans| plans.iter().map(|plan| plan.get_inplace_scratch_len()))
            .max()
            .unwrap_or(0);
        Buffers {
            spectrum: vec![zero; self.mx * self.my],
            rows: vec![zero; self.mx * self.ny],
            scratch: vec![zero; scratch],
        }
    }

    /// Covariance of slot `slot` at a lag counted in nodes.
    pub(crate) fn covariance(&self, slot: usize, lag: [isize; 2]) -> f64 {
        let lags = &self.lags[if self.same_spectrum { 0 } else { slot }];
        let wrap = |d: isize, m: usize| {
            if d >= 0 {
                d as usize % m
            } else {
                (m - d.unsigned_abs() % m) % m
            }
        };
        lags[wrap(lag[1], self.my) * self.mx + wrap(lag[0], self.mx)]
    }

    /// Writes a free draw of both slots, as real and imaginary part, on the lattice.
    pub(crate) fn free(&self, rng: &mut Rng, work: &mut Buffers, out: &mut [C64]) {
        for value in &mut work.spectrum {
            let re: f64 = StandardNormal.sample(rng);
            let im: f64 = StandardNormal.sample(rng);
            *value = C64::new(re, im);
        }
        if self.same_spectrum {
            for (value, root) in work.spectrum.iter_mut().zip(&self.root[0]) {
                *value *= root;
            }
        } else {
            let [one, two] = &self.root;
            self.mix(&mut work.spectrum, |k| {
                (0.5 * (one[k] + two[k]), 0.5 * (one[k] - two[k]))
            });
        }
        self.synthesise(work);
        for (row, out) in work
            .rows
            .chunks_exact(self.mx)
            .zip(out.chunks_exact_mut(self.nx))
        {
            out.copy_from_slice(&row[..self.nx]);
        }
    }

    /// Adds the covariance times the spikes to both slots on the lattice: by the lags
    /// themselves where that is less work than by two transforms.
    pub(crate) fn spread(&self, spikes: &[Spike], work: &mut Buffers, out: &mut [C64]) {
        let nodes = by_node(spikes);
        let torus = self.mx * self.my;
        if nodes.len() * self.nx * self.ny <= torus * torus.ilog2() as usize {
            self.spread_by_lags(&nodes, out);
        } else {
            self.spread_by_transform(spikes, work, out);
        }
    }

    fn spread_by_lags(&self, nodes: &[(usize, [f64; 2])], out: &mut [C64]) {
        let (nx, mx, my) = (self.nx, self.mx, self.my);
        let second = usize::from(!self.same_spectrum);
        for (j, row) in out.chunks_exact_mut(nx).enumerate() {
            for &(node, weights) in nodes {
                let (i, from) = (node % nx, node / nx);
                let wrapped = (j + my - from) % my;
                let lags = [0, second].map(|k| &self.lags[k][wrapped * mx..][..mx]);
                // Lags to the left of the node lie at the end of the torus.
                let (left, right) = row.split_at_mut(i);
                add_lags(left, lags.map(|l| &l[mx - i..]), weights);
                add_lags(right, lags.map(|l| &l[..nx - i]), weights);
            }
        }
    }

    fn spread_by_transform(&self, spikes: &[Spike], work: &mut Buffers, out: &mut [C64]) {
        self.analyse(spikes, work);
        if self.same_spectrum {
            for (value, root) in work.spectrum.iter_mut().zip(&self.root[0]) {
                *value *= root * root;
            }
        } else {
            let [one, two] = &self.root;
            self.mix(&mut work.spectrum, |k| {
                let (one, two) = (one[k] * one[k], two[k] * two[k]);
                (0.5 * (one + two), 0.5 * (one - two))
            });
        }
        self.synthesise(work);
        for (row, out) in work
            .rows
            .chunks_exact(self.mx)
            .zip(out.chunks_exact_mut(self.nx))
        {
            for (sum, value) in out.iter_mut().zip(row) {
                *sum += value;
            }
        }
    }

    /// Transform of the spikes. Rows without a spike and rows outside the lattice
    /// are not transformed.
    fn analyse(&self, spikes: &[Spike], work: &mut Buffers) {
        let zero = C64::new(0.0, 0.0);
        work.rows.fill(zero);
        let mut used = vec![false; self.ny];
        for spike in spikes {
            let (i, j) = (spike.node % self.nx, spike.node / self.nx);
            used[j] = true;
            let value = &mut work.rows[j * self.mx + i];
            if spike.slot == 0 {
                value.re += spike.weight;
            } else {
                value.im += spike.weight;
            }
        }
        for (row, used) in work.rows.chunks_exact_mut(self.mx).zip(&used) {
            if *used {
                self.along_x[0].process_with_scratch(row, &mut work.scratch);
            }
        }
        for (kx, column) in work.spectrum.chunks_exact_mut(self.my).enumerate() {
            for (j, value) in column[..self.ny].iter_mut().enumerate() {
                *value = work.rows[j * self.mx + kx];
            }
            column[self.ny..].fill(zero);
        }
        self.along_y[0].process_with_scratch(&mut work.spectrum, &mut work.scratch);
    }

    /// V(k) ← p(k)·V(k) + q(k)·conj V(−k): multiplies the transform of slot 0 by
    /// p + q and that of slot 1 by p − q.
    fn mix(&self, spectrum: &mut [C64], weights: impl Fn(usize) -> (f64, f64)) {
        let (mx, my) = (self.mx, self.my);
        for kx in 0..=mx / 2 {
            let mirror_x = (mx - kx) % mx;
            for ky in 0..my {
                let here = kx * my + ky;
                let there = mirror_x * my + (my - ky) % my;
                if mirror_x == kx && there < here {
                    continue;
                }
                let (p, q) = weights(here);
                let (a, b) = (spectrum[here], spectrum[there]);
                spectrum[here] = a * p + b.conj() * q;
                spectrum[there] = b * p + a.conj() * q;
            }
        }
    }

    /// Spectrum (kx-major) to the lattice's rows; rows outside the lattice are not
    /// transformed.
    fn synthesise(&self, work: &mut Buffers) {
        let (mx, my) = (self.mx, self.my);
        self.along_y[1].process_with_scratch(&mut work.spectrum, &mut work.scratch);
        for (j, row) in work.rows.chunks_exact_mut(mx).enumerate() {
            for (kx, value) in row.iter_mut().enumerate() {
                *value = work.spectrum[kx * my + j];
            }
        }
        self.along_x[1].process_with_scratch(&mut work.rows, &mut work.scratch);
    }
}

/// Spikes of both slots on the same node as one, in the order of the nodes.
fn by_node(spikes: &[Spike]) -> Vec<(usize, [f64; 2])> {
    let mut sorted: Vec<&Spike> = spikes.iter().collect();
    sorted.sort_by_key(|spike| spike.node);
    let mut nodes: Vec<(usize, [f64; 2])> = Vec::with_capacity(sorted.len());
    for spike in sorted {
        if nodes.last().is_none_or(|last| last.0 != spike.node) {
            nodes.push((spike.node, [0.0; 2]));
        }
        if let Some((_, weights)) = nodes.last_mut() {
            weights[spike.slot] += spike.weight;
        }
    }
    nodes
}

fn add_lags(row: &mut [C64], lags: [&[f64]; 2], weights: [f64; 2]) {
    for ((value, one), two) in row.iter_mut().zip(lags[0]).zip(lags[1]) {
        value.re += weights[0] * one;
        value.im += weights[1] * two;
    }
}

fn same_correlation(a: &CovarianceModel, b: &CovarianceModel) -> bool {
    let shape = |m: &CovarianceModel| CovarianceModel {
        sill: 1.0,
        nugget: 0.0,
        break_line: None,
        ..*m
    };
    shape(a) == shape(b)
}

/// Smallest 2^a·3^b·5^c that is at least `n`; even, so that wrapped lags are
/// symmetric about the half.
fn fast_size(n: usize) -> usize {
    let mut size = n.max(1);
    loop {
        let mut rest = size;
        for factor in [2, 3, 5] {
            while rest.is_multiple_of(factor) {
                rest /= factor;
            }
        }
        if rest == 1 && (size.is_multiple_of(2) || size == 1) {
            return size;
        }
        size += 1;
    }
}

/// Share of the absolute spectrum that is negative.
fn negative_share(lambda: &[f64]) -> f64 {
    let negative: f64 = lambda.iter().filter(|l| **l < 0.0).map(|l| -l).sum();
    let all: f64 = lambda.iter().map(|l| l.abs()).sum();
    negative / all
}

/// Eigenvalues of the wrapped correlation, kx-major.
fn eigenvalues(
    model: &CovarianceModel,
    cell: f64,
    mx: usize,
    my: usize,
    planner: &mut FftPlanner<f64>,
) -> Vec<f64> {
    let mut base = vec![C64::new(0.0, 0.0); mx * my];
    // At half a turn the lag has two signs: the mean of both keeps the torus
    // symmetric when the anisotropy is oblique.
    let lags = |k: usize, m: usize| -> ([f64; 2], usize) {
        let k2 = 2 * k;
        if k2 < m {
            ([k as f64 * cell, 0.0], 1)
        } else if k2 == m {
            ([k as f64 * cell, -(k as f64) * cell], 2)
        } else {
            ([(k as f64 - m as f64) * cell, 0.0], 1)
        }
    };
    for ix in 0..mx {
        let (dx, n_dx) = lags(ix, mx);
        for iy in 0..my {
            let (dy, n_dy) = lags(iy, my);
            let mut sum = 0.0;
            for x in &dx[..n_dx] {
                for y in &dy[..n_dy] {
                    sum += model.correlation_at_lag([*x, *y]);
                }
            }
            base[ix * my + iy] = C64::new(sum / (n_dx * n_dy) as f64, 0.0);
        }
    }
    planner.plan_fft_forward(my).process(&mut base);
    let mut turned = transpose(&base, mx, my);
    planner.plan_fft_forward(mx).process(&mut turned);
    let mut lambda = vec![0.0; mx * my];
    for kx in 0..mx {
        for ky in 0..my {
            lambda[kx * my + ky] = turned[ky * mx + kx].re;
        }
    }
    lambda
}

/// Covariance at wrapped lags (y-major) from eigenvalues (kx-major).
fn covariance_of(lambda: &[f64], mx: usize, my: usize, planner: &mut FftPlanner<f64>) -> Vec<f64> {
    let mut base: Vec<C64> = lambda.iter().map(|l| C64::new(*l, 0.0)).collect();
    planner.plan_fft_inverse(my).process(&mut base);
    let mut turned = transpose(&base, mx, my);
    planner.plan_fft_inverse(mx).process(&mut turned);
    let nodes = (mx * my) as f64;
    turned.iter().map(|value| value.re / nodes).collect()
}

/// From ix-major (each of length my) to iy-major (each of length mx).
fn transpose(values: &[C64], mx: usize, my: usize) -> Vec<C64> {
    let mut turned = vec![C64::new(0.0, 0.0); mx * my];
    for ix in 0..mx {
        for iy in 0..my {
            turned[iy * mx + ix] = values[ix * my + iy];
        }
    }
    turned
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kernel::Kernel;
    use crate::lattice::Lattice;

    /// Wood & Chan 1994: the 6-torus of exp(−|h|) on four points; values by
    /// numpy 2.4's FFT of (1, e⁻¹, e⁻², e⁻³, e⁻², e⁻¹).
    #[test]
    fn eigenvalues_of_the_six_torus() {
        let model = CovarianceModel::isotropic(Kernel::Matern12, 1.0, 1.0);
        let lambda = eigenvalues(&model, 1.0, 6, 1, &mut FftPlanner::new());
        let want = [
            2.056_217, 1.182_757, 0.546_572, 0.485_125, 0.546_572, 1.182_757,
        ];
        for (got, want) in lambda.iter().zip(want) {
            assert!((got - want).abs() < 1e-6, "{got} {want}");
        }
    }

    #[test]
    fn lags_give_the_covariance_back() {
        let lattice = Lattice {
            nx: 24,
            ny: 17,
            cell: 0.5,
            origin: [0.0, 0.0],
        };
        let model =
            CovarianceModel::isotropic(Kernel::Matern32, 1.0, 1.2).with_anisotropy(0.5, 0.7);
        let torus = Torus::new(&Grain::new(lattice, &[model]), &[model]);
        for lag in [[0, 0], [6, 1], [-23, 16], [23, -16], [3, 9]] {
            let want = model.correlation_at_lag([0.5 * lag[0] as f64, 0.5 * lag[1] as f64]);
            assert!((torus.covariance(0, lag) - want).abs() < 1e-4);
        }
    }

    /// Two ways to the same sum, with one spectrum and with two.
    #[test]
    fn lags_spread_as_transforms_do() {
        let lattice = Lattice {
            nx: 24,
            ny: 17,
            cell: 0.5,
            origin: [0.0, 0.0],
        };
        let rough =
            CovarianceModel::isotropic(Kernel::Matern12, 1.0, 1.2).with_anisotropy(0.5, 0.7);
        let other = CovarianceModel::isotropic(Kernel::Matern12, 1.0, 2.9);
        for models in [vec![rough], vec![rough, other]] {
            let torus = Torus::new(&Grain::new(lattice, &models), &models);
            let nodes = torus.nx * torus.ny;
            let spikes: Vec<Spike> = [0, 5, nodes / 2, nodes - 1, 5]
                .into_iter()
                .enumerate()
                .map(|(k, node)| Spike {
                    node,
                    slot: k % 2,
                    weight: 1.0 - 0.6 * k as f64,
                })
                .collect();
            let zero = vec![C64::new(0.0, 0.0); nodes];
            let (mut by_lags, mut by_transform) = (zero.clone(), zero);
            torus.spread_by_lags(&by_node(&spikes), &mut by_lags);
            torus.spread_by_transform(&spikes, &mut torus.buffers(), &mut by_transform);
            for (a, b) in by_lags.iter().zip(&by_transform) {
                assert!((a - b).norm() < 1e-12, "{a} {b}");
            }
        }
    }
}
