//! Two independent components of unit variance on a lattice, drawn together,
//! each with its break line.

use crate::grain::Grain;
use crate::lattice::Lattice;
use crate::model::{BreakLine, CovarianceModel};
use crate::torus::{Buffers, C64, Torus};
use opal_units::Rng;

/// The components. The real part of every value is slot 0, the imaginary part slot 1.
///
/// With a break a component is √c times a part common to both sides plus √(1 − c)
/// times a part of its own for each side; each part is a field of its own on the torus.
pub(crate) struct Slots {
    lattice: Lattice,
    grain: Grain,
    torus: Torus,
    breaks: [Option<BreakLine>; 2],
    /// Left of the break, for each node of the lattice; empty without a break.
    left: [Vec<bool>; 2],
}

/// What one thread needs; its memory goes from one model to the next.
#[derive(Default)]
pub(crate) struct Workspace {
    buffers: Buffers,
    /// The parts on the coarse lattice: one, or common, left and right.
    parts: Vec<Vec<C64>>,
    wide: Vec<Vec<C64>>,
    line: Vec<C64>,
    sum: Vec<C64>,
}

/// A place between the nodes: the corner node of its block and weights along x and y.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place {
    corner: [usize; 2],
    weights: [[f64; 4]; 2],
    left: [bool; 2],
}

/// Which part: common to both sides, left's own, right's own.
const PARTS: [Option<bool>; 3] = [None, Some(true), Some(false)];

impl Slots {
    /// For one or two models; with one, both slots hold it. Sills are ignored.
    pub(crate) fn new(lattice: Lattice, models: &[CovarianceModel]) -> Self {
        let grain = Grain::new(lattice, models);
        let torus = Torus::new(&grain, models);
        let breaks = [
            models.first().and_then(|m| m.break_line),
            models.last().and_then(|m| m.break_line),
        ];
        let sides = |line: Option<BreakLine>| -> Vec<bool> {
            line.map_or_else(Vec::new, |line| {
                (0..lattice.len())
                    .map(|k| line.is_left(lattice.at_index(k)))
                    .collect()
            })
        };
        Self {
            lattice,
            left: breaks.map(sides),
            grain,
            torus,
            breaks,
        }
    }

    pub(crate) fn clipped_share(&self) -> f64 {
        self.torus.clipped_share()
    }

    pub(crate) fn torus_size(&self) -> (usize, usize) {
        self.torus.size()
    }

    fn parts(&self) -> usize {
        if self.breaks.iter().any(Option::is_some) {
            3
        } else {
            1
        }
    }

    /// Gives a workspace the sizes that these slots need; what it held is lost.
    pub(crate) fn prepare(&self, work: &mut Workspace) {
        let zero = C64::new(0.0, 0.0);
        let wide = if self.grain.is_spline() {
            self.grain.ny * self.lattice.nx
        } else {
            0
        };
        self.torus.prepare(&mut work.buffers);
        for (buffers, size) in [(&mut work.parts, self.grain.len()), (&mut work.wide, wide)] {
            buffers.resize_with(self.parts(), Vec::new);
            for buffer in buffers {
                buffer.resize(size, zero);
            }
        }
        for line in [&mut work.line, &mut work.sum] {
            line.resize(self.lattice.nx, zero);
        }
    }

    /// A place on the lattice, or `None` outside.
    pub(crate) fn place(&self, at: [f64; 2]) -> Option<Place> {
        let (corner, weights) = self.grain.block(at)?;
        let left = |slot: usize| self.breaks[slot].is_some_and(|line| line.is_left(at));
        Some(Place {
            corner,
            weights,
            left: [left(0), left(1)],
        })
    }

    /// Covariance of a slot between two places.
    pub(crate) fn covariance(&self, slot: usize, a: &Place, b: &Place) -> f64 {
        let factor = match self.breaks[slot] {
            Some(line) if a.left[slot] != b.left[slot] => line.correlation_across,
            _ => 1.0,
        };
        if factor == 0.0 {
            return 0.0;
        }
        // The weights of all lags along an axis: the nodes' weights against each other.
        let lag_weights = |axis: usize| -> [f64; 7] {
            let mut sums = [0.0; 7];
            for (p, wa) in a.weights[axis].iter().enumerate() {
                for (q, wb) in b.weights[axis].iter().enumerate() {
                    sums[3 + q - p] += wa * wb;
                }
            }
            sums
        };
        let first = [0, 1].map(|axis| b.corner[axis] as isize - a.corner[axis] as isize - 3);
        let weights = [0, 1].map(lag_weights);
        factor * self.torus.covariance(slot, first, weights)
    }

    /// Weight of a part in a slot on one side.
    fn part_weight(&self, slot: usize, left: bool, part: Option<bool>) -> f64 {
        match (self.breaks[slot], part) {
            (None, None) => 1.0,
            (None, Some(_)) => 0.0,
            (Some(line), None) => line.correlation_across.sqrt(),
            (Some(line), Some(side)) if side == left => (1.0 - line.correlation_across).sqrt(),
            (Some(_), Some(_)) => 0.0,
        }
    }

    /// A free draw of both slots.
    pub(crate) fn free(&self, rng: &mut Rng, work: &mut Workspace) {
        for part in &mut work.parts {
            self.torus.free(rng, &mut work.buffers, part);
        }
    }

    /// No field at all.
    pub(crate) fn clear(&self, work: &mut Workspace) {
        for part in &mut work.parts {
            part.fill(C64::new(0.0, 0.0));
        }
    }

    /// Both slots at each place.
    pub(crate) fn read(&self, places: &[Place], work: &Workspace) -> Vec<[f64; 2]> {
        places
            .iter()
            .map(|place| {
                let mut sum = [0.0; 2];
                for (part, which) in work.parts.iter().zip(PARTS) {
                    let mut value = C64::new(0.0, 0.0);
                    self.each_node(place, |node, weight| value += part[node] * weight);
                    let [first, second] = self.part_weights(place, which);
                    sum[0] += first * value.re;
                    sum[1] += second * value.im;
                }
                sum
            })
            .collect()
    }

    /// Adds each place's weights times the slots' covariance with the place.
    pub(crate) fn spread(&self, places: &[Place], weights: &[[f64; 2]], work: &mut Workspace) {
        for (part, which) in work.parts.iter_mut().zip(PARTS) {
            let spikes = self.torus.spikes(&mut work.buffers);
            for (place, weights) in places.iter().zip(weights) {
                let shares = self.part_weights(place, which);
                let both = C64::new(weights[0] * shares[0], weights[1] * shares[1]);
                if both.re != 0.0 || both.im != 0.0 {
                    self.each_node(place, |node, weight| spikes[node] += both * weight);
                }
            }
            self.torus.spread(&mut work.buffers, part);
        }
    }

    fn part_weights(&self, place: &Place, part: Option<bool>) -> [f64; 2] {
        [0, 1].map(|slot| self.part_weight(slot, place.left[slot], part))
    }

    /// Tells the nodes that a place rests on, with their weights.
    fn each_node(&self, place: &Place, mut tell: impl FnMut(usize, f64)) {
        let [i, j] = place.corner;
        for (q, wy) in place.weights[1].iter().enumerate() {
            for (p, wx) in place.weights[0].iter().enumerate() {
                let weight = wx * wy;
                // Bilinear weights have two nodes an axis, of which none may lie beyond.
                if weight != 0.0 {
                    tell((j + q) * self.grain.nx + i + p, weight);
                }
            }
        }
    }

    /// Hands over the lattice's rows one after the other.
    pub(crate) fn each_row(&self, work: &mut Workspace, mut take: impl FnMut(usize, &[C64])) {
        let nx = self.lattice.nx;
        if self.grain.is_spline() {
            for (part, wide) in work.parts.iter().zip(&mut work.wide) {
                self.grain.widen(part, wide);
            }
        }
        let (line, sum) = (&mut work.line, &mut work.sum);
        for j in 0..self.lattice.ny {
            if let ([only], false) = (work.parts.as_slice(), self.grain.is_spline()) {
                take(j, &only[j * nx..(j + 1) * nx]);
                continue;
            }
            if let [only] = work.wide.as_slice() {
                self.grain.row(only, j, line);
                take(j, line);
                continue;
            }
            sum.fill(C64::new(0.0, 0.0));
            for (k, which) in PARTS[..work.parts.len()].iter().enumerate() {
                if self.grain.is_spline() {
                    self.grain.row(&work.wide[k], j, line);
                } else {
                    line.copy_from_slice(&work.parts[k][j * nx..(j + 1) * nx]);
                }
                for (i, value) in line.iter().enumerate() {
                    let node = j * nx + i;
                    let left = |slot: usize| self.left[slot].get(node).copied().unwrap_or(false);
                    sum[i] += C64::new(
                        value.re * self.part_weight(0, left(0), *which),
                        value.im * self.part_weight(1, left(1), *which),
                    );
                }
            }
            take(j, sum);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kernel::Kernel;
    use rand::RngExt;

    /// The covariance that a splined coarse lattice carries, against the kernel
    /// itself, between places anywhere, for ranges from a tenth to ten times the width.
    #[test]
    fn a_coarse_lattice_carries_the_covariance() {
        let fine = Lattice {
            nx: 100,
            ny: 70,
            cell: 0.2,
            origin: [1.0, 2.0],
        };
        let mut rng = opal_units::Seed(3).stream("places", 0);
        let mut place = || {
            [
                1.0 + 19.8 * rng.random::<f64>(),
                2.0 + 13.8 * rng.random::<f64>(),
            ]
        };
        for kernel in [
            Kernel::Matern32,
            Kernel::Matern52,
            Kernel::SquaredExponential,
        ] {
            for range in [2.0, 5.0, 20.0, 200.0] {
                let model = CovarianceModel::isotropic(kernel, 1.0, range);
                let slots = Slots::new(fine, &[model]);
                let mut worst = 0.0_f64;
                for k in 0..300 {
                    let a = place();
                    let b = if k % 3 == 0 { a } else { place() };
                    let (left, right) = (slots.place(a).expect("in"), slots.place(b).expect("in"));
                    let want = model.correlation_at_lag([b[0] - a[0], b[1] - a[1]]);
                    if slots.grain.is_spline() {
                        worst = worst.max((slots.covariance(0, &left, &right) - want).abs());
                    }
                }
                assert!(
                    worst < 7e-4 && slots.clipped_share() <= 1e-4,
                    "{kernel:?} {range}: {worst}, clipped {}",
                    slots.clipped_share()
                );
            }
        }
    }
}
