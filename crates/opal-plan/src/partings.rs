//! Can straight through-cuts free these stones, and in which order?

use crate::ground::Ground;
use opal_geom::Outline;

/// Directions in which a parting cut is tried: every two degrees.
const DIRECTIONS: usize = 90;

/// Outlines that touch to within this are parted by a blade of no width.
const ROUNDING_MM: f64 = 1e-9;

/// One parting cut, in the order in which it is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Parting {
    /// Angle of the direction across the cut, radians.
    pub(crate) across: f64,
    /// How far along that direction the middle of the blade runs, mm.
    pub(crate) at: f64,
    /// How far the stones of this piece reach along that direction, mm.
    pub(crate) reach: f64,
    /// Where they begin and end along the cut, a quarter turn on, mm.
    pub(crate) ends: [f64; 2],
}

/// Where an outline begins and ends along every direction that is tried.
#[derive(Clone, Debug)]
pub(crate) struct Spans(Vec<[f64; 2]>);

impl Spans {
    pub(crate) fn of(outline: &Outline) -> Self {
        let pi = std::f64::consts::PI;
        Self(
            (0..DIRECTIONS)
                .map(direction)
                .map(|angle| [-outline.reach(angle + pi), outline.reach(angle)])
                .collect(),
        )
    }
}

fn direction(d: usize) -> f64 {
    std::f64::consts::PI * d as f64 / DIRECTIONS as f64
}

/// True where straight through-cuts part them, with at least `gap` between any
/// two that a cut passes.
pub(crate) fn can_be_parted(spans: &[&Spans], gap: f64) -> bool {
    let all: Vec<usize> = (0..spans.len()).collect();
    part(spans, &all, gap, &mut |_, _, _| {})
}

/// The straight through-cuts that part convex outlines, with at least `gap`
/// between any two that a cut passes; `None` where no order of cuts does it.
///
/// # Method
/// Greedy without going back: where a set can be parted, so can each of its
/// subsets by the same lines, so any first line that fits will do.
pub(crate) fn partings(outlines: &[&Outline], gap: f64) -> Option<Vec<Parting>> {
    let spans: Vec<Spans> = outlines.iter().map(|o| Spans::of(o)).collect();
    let spans: Vec<&Spans> = spans.iter().collect();
    let all: Vec<usize> = (0..outlines.len()).collect();
    let quarter = std::f64::consts::FRAC_PI_2;
    let mut cuts = Vec::new();
    let mut cut = |d: usize, at: f64, piece: &[usize]| {
        let across = direction(d);
        let farthest = |angle: f64| {
            piece
                .iter()
                .map(|&k| outlines[k].reach(angle))
                .fold(f64::NEG_INFINITY, f64::max)
        };
        cuts.push(Parting {
            across,
            at,
            reach: farthest(across),
            ends: [-farthest(across - quarter), farthest(across + quarter)],
        });
    };
    part(&spans, &all, gap, &mut cut).then_some(cuts)
}

/// Parts the outlines numbered in `piece`, telling each cut: direction, place,
/// what was one piece before it.
fn part(
    spans: &[&Spans],
    piece: &[usize],
    gap: f64,
    cut: &mut impl FnMut(usize, f64, &[usize]),
) -> bool {
    if piece.len() < 2 {
        return true;
    }
    let mut order = piece.to_vec();
    for d in 0..DIRECTIONS {
        let span = |k: usize| spans[k].0[d];
        order.sort_by(|&p, &q| span(p)[0].total_cmp(&span(q)[0]).then(p.cmp(&q)));
        let mut reached = span(order[0])[1];
        for k in 1..order.len() {
            let [begins, ends] = span(order[k]);
            if begins - reached >= gap - ROUNDING_MM {
                cut(d, f64::midpoint(reached, begins), piece);
                let (near, far) = order.split_at(k);
                return part(spans, near, gap, cut) && part(spans, far, gap, cut);
            }
            reached = reached.max(ends);
        }
    }
    false
}

/// What must lie between two stones: the blade, and what is left outside the
/// line on both sides of it, mm.
pub(crate) fn gap(ground: &Ground<'_>) -> f64 {
    (ground.rules.kerf + ground.rules.saw_allowance * 2.0).mm()
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_geom::families::ellipse;

    fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
        Outline::new(vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]).expect("a rectangle")
    }

    /// Four 2 × 1 rectangles around a unit hole cannot be parted by straight
    /// through-cuts; any three of them can (geometry; the textbook pinwheel).
    #[test]
    fn a_pinwheel_cannot_be_parted() {
        let four = [
            rectangle(0.0, 0.0, 2.0, 1.0),
            rectangle(2.0, 0.0, 1.0, 2.0),
            rectangle(1.0, 2.0, 2.0, 1.0),
            rectangle(0.0, 1.0, 1.0, 2.0),
        ];
        let all: Vec<&Outline> = four.iter().collect();
        assert!(partings(&all, 0.0).is_none());
        for left_out in 0..4 {
            let three: Vec<&Outline> = (0..4)
                .filter(|&k| k != left_out)
                .map(|k| &four[k])
                .collect();
            assert_eq!(partings(&three, 0.0).map(|c| c.len()), Some(2));
        }
    }

    /// Six circles of radius 1 in two rows 2.1 apart, spaced 2.3: parted by a
    /// blade of no width, not by one of 0.2 (geometry).
    #[test]
    fn a_blade_needs_room() {
        let circles: Vec<Outline> = (0..6)
            .map(|k| {
                let row = f64::from(k / 3);
                let at = [2.3 * f64::from(k % 3) + 1.15 * row, 2.1 * row];
                ellipse(2.0, 2.0, 360).placed(0.0, at)
            })
            .collect();
        let all: Vec<&Outline> = circles.iter().collect();
        assert!(partings(&all, 0.0).is_some());
        assert!(partings(&all, 0.2).is_none());
    }

    /// Every line that fits is tried first, with going back: what greedy leaves out.
    fn by_brute_force(spans: &[Spans], piece: &[usize], gap: f64) -> bool {
        if piece.len() < 2 {
            return true;
        }
        (0..DIRECTIONS).any(|d| {
            (1_u32..1 << piece.len()).any(|mask| {
                let (near, far): (Vec<usize>, Vec<usize>) =
                    (0..piece.len()).partition(|&k| mask & (1 << k) != 0);
                let [near, far] = [near, far]
                    .map(|s| -> Vec<usize> { s.into_iter().map(|k| piece[k]).collect() });
                let ends = near
                    .iter()
                    .map(|&k| spans[k].0[d][1])
                    .fold(f64::MIN, f64::max);
                let begins = far
                    .iter()
                    .map(|&k| spans[k].0[d][0])
                    .fold(f64::MAX, f64::min);
                !far.is_empty()
                    && begins - ends >= gap - ROUNDING_MM
                    && by_brute_force(spans, &near, gap)
                    && by_brute_force(spans, &far, gap)
            })
        })
    }

    /// Sets of two to five ellipses at random, many of which cannot be parted:
    /// the greedy answer is that of trying every split of every piece.
    #[test]
    fn greedy_says_what_brute_force_says() {
        let mut yes = 0;
        for case in 0..120_u64 {
            let mut rng = opal_units::Seed(case).stream("partings", 0);
            let mut unit = || {
                use rand::Rng as _;
                (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
            };
            let spans: Vec<Spans> = (0..2 + case % 4)
                .map(|_| {
                    let shape = ellipse(1.0 + 3.0 * unit(), 1.0, 48);
                    let at = [5.0 * unit(), 5.0 * unit()];
                    Spans::of(&shape.placed(std::f64::consts::PI * unit(), at))
                })
                .collect();
            let all: Vec<&Spans> = spans.iter().collect();
            let numbers: Vec<usize> = (0..spans.len()).collect();
            let greedy = can_be_parted(&all, 0.1);
            assert_eq!(greedy, by_brute_force(&spans, &numbers, 0.1), "case {case}");
            yes += usize::from(greedy);
        }
        // Neither answer is rare, or the comparison would say little.
        assert!((24..=96).contains(&yes), "{yes} of 120");
    }
}
