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

/// How many nodes past the lattice's largest lag the table of lags goes on, so that
/// seven lags in a row can be read at its rim.
const BEYOND: usize = 3;

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
    /// Covariance after clipping at all lags between nodes of the lattice and [`BEYOND`]
    /// farther, y-major.
    lags: [Vec<f64>; 2],
    clipped_share: f64,
    along_x: [Arc<dyn Fft<f64>>; 2],
    along_y: [Arc<dyn Fft<f64>>; 2],
}

/// Transform buffers of one thread.
#[derive(Default)]
pub(crate) struct Buffers {
    spectrum: Vec<C64>,
    rows: Vec<C64>,
    scratch: Vec<C64>,
    /// Weights on the lattice's nodes.
    spikes: Vec<C64>,
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
            let around = covariance_of(&lambda, mx, my, &mut planner);
            lags[k] = unwrapped(&around, [mx, my], [grain.nx, grain.ny]);
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

    /// Gives the buffers the sizes that this torus needs.
    pub(crate) fn prepare(&self, work: &mut Buffers) {
        let zero = C64::new(0.0, 0.0);
        let scratch = [&self.along_x, &self.along_y]
            .iter()
            .flat_map(|plans| plans.iter().map(|plan| plan.get_inplace_scratch_len()))
            .max()
            .unwrap_or(0);
        work.spectrum.resize(self.mx * self.my, zero);
        work.rows.resize(self.mx * self.ny, zero);
        work.scratch.resize(scratch, zero);
        work.spikes.resize(self.nx * self.ny, zero);
    }

    /// The weighted sum of slot `slot`'s covariances at seven by seven lags, counted in
    /// nodes, from `first` on.
    pub(crate) fn covariance(&self, slot: usize, first: [isize; 2], weights: [[f64; 7]; 2]) -> f64 {
        let mut sum = 0.0;
        for (row, wy) in (first[1]..).zip(weights[1]) {
            if wy != 0.0 {
                let lags = &self.lags_from(slot, [first[0], row])[..7];
                sum += wy * lags.iter().zip(weights[0]).map(|(l, w)| l * w).sum::<f64>();
            }
        }
        sum
    }

    /// Covariances of slot `slot` from a lag on, towards larger x.
    fn lags_from(&self, slot: usize, lag: [isize; 2]) -> &[f64] {
        let lags = &self.lags[if self.same_spectrum { 0 } else { slot }];
        let from = |d: isize, n: usize| (d + reach(n) as isize) as usize;
        let width = 2 * reach(self.nx) + 1;
        &lags[from(lag[1], self.ny) * width + from(lag[0], self.nx)..]
    }

    /// Writes a free draw of both slots, as real and imaginary part, on the lattice.
    pub(crate) fn free(&self, rng: &mut Rng, work: &mut Buffers, out: &mut [C64]) {
        for value in &mut work.spectrum {
            let re: f64 = StandardNormal.sample(rng);
            let im: f64 = StandardNormal.sample(rng);
            *value = C64::new(re, im);
        }
        self.weigh(&mut work.spectrum, |root| root);
        self.synthesise(work);
        for (row, out) in work
            .rows
            .chunks_exact(self.mx)
            .zip(out.chunks_exact_mut(self.nx))
        {
            out.copy_from_slice(&row[..self.nx]);
        }
    }

    /// Weights on the lattice's nodes, all 0, for [`Torus::spread`].
    pub(crate) fn spikes<'a>(&self, work: &'a mut Buffers) -> &'a mut [C64] {
        work.spikes.fill(C64::new(0.0, 0.0));
        &mut work.spikes
    }

    /// Adds the covariance times the spikes to both slots on the lattice: by the lags
    /// themselves where that is less work than by two transforms.
    pub(crate) fn spread(&self, work: &mut Buffers, out: &mut [C64]) {
        let nodes = nodes_of(&work.spikes);
        let torus = self.mx * self.my;
        if nodes.len() * self.nx * self.ny <= torus * torus.ilog2() as usize {
            self.spread_by_lags(&nodes, out);
        } else {
            self.spread_by_transform(work, out);
        }
    }

    fn spread_by_lags(&self, nodes: &[(usize, C64)], out: &mut [C64]) {
        let (nx, arch) = (self.nx, pulp::Arch::new());
        let mut sums = [vec![0.0; nx], vec![0.0; nx]];
        for (j, row) in out.chunks_exact_mut(nx).enumerate() {
            for (slot, sum) in sums.iter_mut().enumerate() {
                sum.fill(0.0);
                // Four at a time, so that a sum is fetched once for four products.
                for four in nodes.chunks(4) {
                    let mut lags: [&[f64]; 4] = [&[]; 4];
                    let mut weights = [0.0; 4];
                    for (k, &(node, weight)) in four.iter().enumerate() {
                        let (i, from) = (node % nx, node / nx);
                        let lag = [-(i as isize), j as isize - from as isize];
                        lags[k] = &self.lags_from(slot, lag)[..nx];
                        weights[k] = if slot == 0 { weight.re } else { weight.im };
                    }
                    let sum = sum.as_mut_slice();
                    match four.len() {
                        4 => arch.dispatch(AddProducts { sum, lags, weights }),
                        few => {
                            for (lags, weight) in lags.iter().zip(weights).take(few) {
                                for (sum, lag) in sum.iter_mut().zip(*lags) {
                                    *sum += weight * lag;
                                }
                            }
                        }
                    }
                }
            }
            for ((value, re), im) in row.iter_mut().zip(&sums[0]).zip(&sums[1]) {
                *value += C64::new(*re, *im);
            }
        }
    }

    fn spread_by_transform(&self, work: &mut Buffers, out: &mut [C64]) {
        self.analyse(work);
        self.weigh(&mut work.spectrum, |root| root * root);
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
    fn analyse(&self, work: &mut Buffers) {
        let zero = C64::new(0.0, 0.0);
        let spikes = work.spikes.chunks_exact(self.nx);
        for (row, spikes) in work.rows.chunks_exact_mut(self.mx).zip(spikes) {
            let (inside, beyond) = row.split_at_mut(self.nx);
            inside.copy_from_slice(spikes);
            beyond.fill(zero);
            if spikes.iter().any(|spike| *spike != zero) {
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

    /// Multiplies the transform of each slot by a function of its roots.
    ///
    /// With two spectra a and b this is V(k) ← p·V(k) + q·conj V(−k) with
    /// p = (a + b)/2 and q = (a − b)/2.
    fn weigh(&self, spectrum: &mut [C64], of_root: impl Fn(f64) -> f64) {
        let [one, two] = &self.root;
        if self.same_spectrum {
            for (value, root) in spectrum.iter_mut().zip(one) {
                *value *= of_root(*root);
            }
            return;
        }
        let (mx, my) = (self.mx, self.my);
        let mut pair = |here: usize, there: usize| {
            let (one, two) = (of_root(one[here]), of_root(two[here]));
            let (p, q) = (0.5 * (one + two), 0.5 * (one - two));
            let (a, b) = (spectrum[here], spectrum[there]);
            spectrum[here] = a * p + b.conj() * q;
            spectrum[there] = b * p + a.conj() * q;
        };
        for kx in 0..=mx / 2 {
            let mirror = (mx - kx) % mx;
            pair(kx * my, mirror * my);
            // A column that is its own mirror has each pair once.
            let last = if mirror == kx { my / 2 } else { my - 1 };
            for ky in 1..=last {
                pair(kx * my + ky, (mirror + 1) * my - ky);
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

/// The nodes that have a weight.
fn nodes_of(spikes: &[C64]) -> Vec<(usize, C64)> {
    let zero = C64::new(0.0, 0.0);
    let nodes = spikes.iter().copied().enumerate();
    nodes.filter(|(_, weight)| *weight != zero).collect()
}

/// Adds four products to each sum. A plain loop, compiled for what the processor can do;
/// no product is fused with its sum, so that every processor gets the same.
struct AddProducts<'a> {
    sum: &'a mut [f64],
    lags: [&'a [f64]; 4],
    weights: [f64; 4],
}

impl pulp::WithSimd for AddProducts<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let n = self.sum.len();
        let [a, b, c, d] = self.lags.map(|lags| &lags[..n]);
        let [wa, wb, wc, wd] = self.weights;
        for (k, sum) in self.sum.iter_mut().enumerate() {
            *sum += (wa * a[k] + wb * b[k]) + (wc * c[k] + wd * d[k]);
        }
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

/// Largest lag that is kept along an axis with so many nodes.
fn reach(nodes: usize) -> usize {
    nodes - 1 + BEYOND
}

/// The lags −reach to reach along both axes from wrapped ones, y-major.
fn unwrapped(around: &[f64], sides: [usize; 2], nodes: [usize; 2]) -> Vec<f64> {
    let along = |axis: usize| {
        let (side, reach) = (sides[axis] as isize, reach(nodes[axis]) as isize);
        (-reach..=reach).map(move |lag| lag.rem_euclid(side) as usize)
    };
    along(1)
        .flat_map(|y| along(0).map(move |x| around[y * sides[0] + x]))
        .collect()
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
            let middle = [0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];
            let got = torus.covariance(0, lag.map(|d| d - 3), [middle; 2]);
            assert!((got - want).abs() < 1e-4);
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
            let mut work = Buffers::default();
            torus.prepare(&mut work);
            let spikes = torus.spikes(&mut work);
            for (k, node) in [0, 5, nodes / 2, nodes - 1, 5].into_iter().enumerate() {
                let weight = 1.0 - 0.6 * k as f64;
                spikes[node] += if k % 2 == 0 {
                    C64::new(weight, 0.0)
                } else {
                    C64::new(0.0, weight)
                };
            }
            let zero = vec![C64::new(0.0, 0.0); nodes];
            let (mut by_lags, mut by_transform) = (zero.clone(), zero);
            torus.spread_by_lags(&nodes_of(&work.spikes), &mut by_lags);
            torus.spread_by_transform(&mut work, &mut by_transform);
            for (a, b) in by_lags.iter().zip(&by_transform) {
                assert!((a - b).norm() < 1e-12, "{a} {b}");
            }
        }
    }
}
