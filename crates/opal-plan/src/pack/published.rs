//! Layouts against published ones: no bad ground, no dome, a blade of no width.

#![cfg(test)]

use super::*;
use crate::candidate::standard_kind;
use crate::draw::Lay;
use crate::footprint::Footprint;
use opal_geom::{Grid, Outline};
use std::f64::consts::{SQRT_2, TAU};

/// A seat of a stone of this kind and worth.
fn seat(points: Vec<[f64; 2]>, kind: CutKind, score: f64) -> Candidate {
    let outline = Outline::new(points).expect("an outline");
    let [low, high] = outline.bounds();
    let grid = Grid {
        nx: 9,
        ny: 9,
        cell_mm: (high[0] - low[0]).max(high[1] - low[1]) / 8.0,
        origin_mm: low,
    };
    Candidate {
        kind,
        turn: 0.0,
        bar: 0,
        foot: Footprint::new(&grid, outline, 4).expect("nodes"),
        lay: Lay {
            edge: [0.0; 3],
            height: 0.0,
            exponent: 2.0,
            wall: 1.0,
        },
        score,
        natural: None,
    }
}

fn any_of(pool: &[Candidate]) -> Step {
    Step {
        from: (0..pool.len()).collect(),
        like_before: true,
        same_bar: false,
    }
}

fn spans_of(pool: &[Candidate]) -> Vec<Spans> {
    pool.iter().map(|c| Spans::of(&c.foot.outline)).collect()
}

/// Pieces of one size.
struct Pieces {
    size: [f64; 2],
    worth: f64,
    /// How many may be cut; `None`: any number.
    most: Option<usize>,
}

/// A cutting instance in the form of the open benchmarks: count, board, then a
/// line a piece.
struct Instance {
    board: [f64; 2],
    pieces: Vec<Pieces>,
}

impl Instance {
    /// `limited` where each line has the most copies before the worth.
    fn read(text: &str, limited: bool) -> Self {
        let numbers: Vec<f64> = text.split_whitespace().flat_map(str::parse).collect();
        let pieces = numbers[3..]
            .chunks_exact(if limited { 4 } else { 3 })
            .map(|p| Pieces {
                size: [p[0], p[1]],
                worth: p[p.len() - 1],
                most: limited.then_some(p[2] as usize),
            })
            .collect();
        Self {
            board: [numbers[1], numbers[2]],
            pieces,
        }
    }

    /// Where a cut may fall along a side: sums of sizes (normal patterns: Herz 1972,
    /// IBM J. Res. Dev. 16).
    fn sums(&self, d: usize) -> Vec<f64> {
        let mut sums = vec![0.0];
        for _ in 0..2 {
            let more: Vec<f64> = sums
                .iter()
                .flat_map(|s| self.pieces.iter().map(move |p| s + p.size[d]))
                .filter(|s| *s < self.board[d])
                .collect();
            sums.extend(more);
            sums.sort_by(f64::total_cmp);
            sums.dedup();
        }
        sums
    }

    /// What the beam finds.
    fn found(&self) -> f64 {
        let mut seats: Vec<(usize, Candidate)> = Vec::new();
        for (piece, Pieces { size, worth, .. }) in self.pieces.iter().enumerate() {
            let [w, h] = *size;
            for &x in self.sums(0).iter().filter(|x| *x + w <= self.board[0]) {
                for &y in self.sums(1).iter().filter(|y| *y + h <= self.board[1]) {
                    let corners = vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
                    let kind = standard_kind("rectangle", w.max(h), w.min(h));
                    seats.push((piece, seat(corners, kind, *worth)));
                }
            }
        }
        seats.sort_by(|p, q| q.1.score.total_cmp(&p.1.score));
        let (piece_of, pool): (Vec<usize>, Vec<Candidate>) = seats.into_iter().unzip();
        let spans = spans_of(&pool);
        let within_limits = |stones: &[usize]| {
            self.pieces.iter().enumerate().all(|(piece, p)| {
                let count = stones.iter().filter(|&&s| piece_of[s] == piece).count();
                p.most.is_none_or(|most| count <= most)
            })
        };
        let together = |stones: &[usize]| {
            let all: Vec<&Spans> = stones.iter().map(|&s| &spans[s]).collect();
            within_limits(stones) && can_be_parted(&all, 0.0)
        };
        let steps = vec![any_of(&pool); 14];
        let grown = grown(&pool, &steps, 0.0, &together);
        grown.iter().map(|set| set.net).fold(0.0, f64::max)
    }
}

/// Guillotine cutting without turning, any number of each piece (Beasley 1985, J.
/// Oper. Res. Soc. 36) and so many of each (Christofides & Whitlock 1977, Oper. Res.
/// 25), against the proved optima of the open instances. The beam is no exact method:
/// nothing above the optimum, and at most an eighth below.
#[test]
fn rectangles_come_near_the_known_optima() {
    for (name, limited, optimum) in [
        ("gcut1", false, 56_460.0),
        ("gcut5", false, 246_000.0),
        ("cgcut1", true, 244.0),
        ("cgcut2", true, 2_892.0),
    ] {
        let path = format!("C_packing/{name}.txt");
        let Some(path) = opal_testkit::shared_data(&path) else {
            continue;
        };
        let text = std::fs::read_to_string(path).expect("reads");
        let net = Instance::read(&text, limited).found();
        println!("{name}: {net} of {optimum}, {:.1} %", 100.0 * net / optimum);
        assert!(net <= optimum && net >= 0.875 * optimum, "{name}: {net}");
    }
}

/// The same where it can be counted: a 6 × 4 board and pieces of 3 × 2 and 4 × 2
/// worth their area. Four of 3 × 2 use the whole board up: 24. With two of them at
/// most, two of each size are left: 28 of area do not fit, 3 × 2 twice and 4 × 2 once
/// do: 20.
#[test]
fn a_board_that_can_be_used_up_is_used_up() {
    let pieces = |most| {
        [[3.0, 2.0], [4.0, 2.0]].map(|size: [f64; 2]| Pieces {
            size,
            worth: size[0] * size[1],
            most,
        })
    };
    let board = |most| Instance {
        board: [6.0, 4.0],
        pieces: pieces(most).into(),
    };
    assert_eq!(board(None).found(), 24.0);
    assert_eq!(board(Some(2)).found(), 20.0);
}

/// A container of equal circles.
#[derive(Clone, Copy, Debug)]
enum Container {
    UnitCircle,
    UnitSquare,
}

/// Share of the best radius at which all circles must be seated.
const NEAR: f64 = 0.9;
/// Seats along the width of a container.
const LATTICE: usize = 25;

impl Container {
    /// Centres of circles of this radius that lie within, on a lattice that reaches
    /// from edge to edge of where they may lie.
    fn centres(self, radius: f64) -> Vec<[f64; 2]> {
        let reach = match self {
            Self::UnitCircle => 1.0 - radius,
            Self::UnitSquare => 0.5 - radius,
        };
        let at = |k: usize| reach * (2.0 * k as f64 / (LATTICE - 1) as f64 - 1.0);
        (0..LATTICE)
            .flat_map(|j| (0..LATTICE).map(move |i| [at(i), at(j)]))
            .filter(|c| match self {
                Self::UnitCircle => c[0].hypot(c[1]) <= reach + 1e-12,
                Self::UnitSquare => true,
            })
            .collect()
    }

    /// The most circles of this radius that are seated side by side: the beam prefers
    /// seats by one of three worths.
    fn seated(self, radius: f64, wanted: usize) -> usize {
        let round = |at: [f64; 2]| -> Vec<[f64; 2]> {
            (0..12)
                .map(|k| (TAU * f64::from(k) / 12.0).sin_cos())
                .map(|(sin, cos)| [at[0] + radius * cos, at[1] + radius * sin])
                .collect()
        };
        let worths: [fn([f64; 2]) -> f64; 3] = [
            |c| c[0].hypot(c[1]),
            |c| c[0].abs().max(c[1].abs()),
            |c| -c[1] - 0.01 * c[0],
        ];
        worths
            .into_iter()
            .map(|worth| {
                let mut centres = self.centres(radius);
                centres.sort_by(|p, q| worth(*q).total_cmp(&worth(*p)));
                let pool: Vec<Candidate> = centres
                    .iter()
                    .map(|&c| seat(round(c), CutKind::Freeform, 10.0 + worth(c)))
                    .collect();
                let apart = |stones: &[usize]| {
                    let (&last, before) = stones.split_last().expect("not empty");
                    before.iter().all(|&s| {
                        let (p, q) = (centres[s], centres[last]);
                        (p[0] - q[0]).hypot(p[1] - q[1]) >= 2.0 * radius - 1e-9
                    })
                };
                grown(&pool, &vec![any_of(&pool); wanted], 0.0, &apart).len()
            })
            .max()
            .unwrap_or(0)
    }
}

/// Equal circles in a unit circle and a unit square, through-cuts left out, against
/// the best known radii (circle: closed forms and the open list of the shared data,
/// Graham et al. 1998, Discrete Math. 181; square: closed forms, n = 10 and 11 from
/// memory). Never so many beyond the best radius; the lattice of seats costs some: all
/// are seated at 90 % of it; 5 in a circle come no nearer than that.
#[test]
fn equal_circles_come_near_the_best_known_radii() {
    let third = 1.0 / 3.0;
    let in_circle = [
        (2, 0.5),
        (3, 0.464_101_615),
        (4, SQRT_2 - 1.0),
        (5, 0.370_191_908),
        (6, third),
        (7, third),
        (8, 0.302_593_388),
        (9, 0.276_768_653),
        (10, 0.262_258_924),
        (11, 0.254_854_702),
        (12, 0.248_163_471),
    ];
    let in_square = [
        (2, 1.0 / (2.0 + SQRT_2)),
        (3, 0.254_333_095),
        (4, 0.25),
        (5, (SQRT_2 - 1.0) / 2.0),
        (6, (6.0 * 13.0_f64.sqrt() - 13.0) / 46.0),
        (7, (4.0 - 3.0_f64.sqrt()) / 13.0),
        (8, (1.0 + SQRT_2 - 3.0_f64.sqrt()) / 4.0),
        (9, 1.0 / 6.0),
        (10, 0.148_204),
        (11, 0.142_399),
        (12, (15.0 * 34.0_f64.sqrt() - 34.0) / 382.0),
    ];
    for (container, best) in [
        (Container::UnitCircle, in_circle),
        (Container::UnitSquare, in_square),
    ] {
        for (n, radius) in best {
            assert_eq!(container.seated(NEAR * radius, n), n, "{container:?} {n}");
            assert!(container.seated(1.001 * radius, n) < n, "{container:?} {n}");
        }
    }
}

/// Twelve convex pieces in a strip 38 wide (the open instance `fu`: Fujita, Akagi &
/// Kirokawa 1993; best known length 30.843, which needs turning), through-cuts left
/// out, nothing turned, corners on whole units: a bound for sanity. Never shorter
/// than the best known, and at most two fifths longer.
#[test]
fn convex_pieces_come_near_the_best_known_strip() {
    const BEST_KNOWN: f64 = 30.843;
    const WIDE: f64 = 38.0;
    let Some(path) = opal_testkit::shared_data("C_packing/fu.json") else {
        return;
    };
    let text = std::fs::read_to_string(path).expect("reads");
    let strip: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let mut shapes: Vec<Outline> = strip["items"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|item| {
            let mut points: Vec<[f64; 2]> =
                serde_json::from_value(item["shape"]["data"].clone()).expect("points");
            points.pop();
            Outline::new(points).expect("an outline")
        })
        .collect();
    shapes.sort_by(|p, q| q.area().total_cmp(&p.area()));
    let (mut pool, mut steps) = (Vec::new(), Vec::new());
    for shape in &shapes {
        let [low, high] = shape.bounds();
        let size = [high[0] - low[0], high[1] - low[1]];
        let first = pool.len();
        for x in (0..)
            .map(|k| 2.0 * f64::from(k))
            .take_while(|x| x + size[0] <= 44.0)
        {
            for y in (0..)
                .map(|k| 2.0 * f64::from(k))
                .take_while(|y| y + size[1] <= WIDE)
            {
                let by = [x - low[0], y - low[1]];
                let points = shape.points().iter().map(|p| [p[0] + by[0], p[1] + by[1]]);
                // The further along the strip, the less it is worth.
                let score = -(x + size[0]).powi(3);
                pool.push(seat(points.collect(), CutKind::Freeform, score));
            }
        }
        steps.push(Step {
            from: (first..pool.len()).collect(),
            like_before: false,
            same_bar: false,
        });
    }
    let spans = spans_of(&pool);
    let apart = |stones: &[usize]| {
        let (&last, before) = stones.split_last().expect("not empty");
        before
            .iter()
            .all(|&s| can_be_parted(&[&spans[s], &spans[last]], 0.0))
    };
    let sets = grown(&pool, &steps, 0.0, &apart);
    let all = &sets[steps.len() - 1].stones;
    let length = all
        .iter()
        .map(|&k| pool[k].foot.outline.bounds()[1][0])
        .fold(0.0, f64::max);
    let density = shapes.iter().map(Outline::area).sum::<f64>() / (WIDE * length);
    println!("length {length}, density {density:.3}; best known {BEST_KNOWN}");
    assert!((BEST_KNOWN..1.4 * BEST_KNOWN).contains(&length) && density <= 1.0);
}
