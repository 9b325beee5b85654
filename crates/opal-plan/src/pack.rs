//! Which of many seats go together?

mod published;

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::partings::{Spans, can_be_parted, gap};
use crate::place_freeform::{freeforms, reachable};
use crate::place_standard::{polished, seats_of_size};
use crate::plan::{Appraiser, CutKind};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Sets that are kept from one stone to the next. Chosen: twice as many found
/// nothing better on invented stones.
const BEAM: usize = 32;
/// Sets of one make-up that are kept before others. Chosen: on open instances of
/// guillotine cutting one to four do equally well, no limit loses a seventh.
const ALIKE: usize = 2;
/// Sizes of which several seats are tried, for their worth by area and alone.
const SIZES_BY_AREA: usize = 6;
const SIZES_ALONE: usize = 4;
/// Seats of each size.
const SEATS: usize = 12;
/// Turns at which they are tried.
const TURNS: usize = 8;

/// What the next stone of a set may be.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    /// Places in the pool.
    pub(crate) from: Vec<usize>,
    /// Drawn from the same places as the stone before: then in rising order, so
    /// that no set is met twice.
    pub(crate) like_before: bool,
    /// On the bar of the stone before.
    pub(crate) same_bar: bool,
}

/// Stones that straight cuts part.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Set {
    /// Places in the pool.
    pub(crate) stones: Vec<usize>,
    /// Sum of their scores less their cost.
    pub(crate) net: f64,
}

/// The best set found after each step; shorter than `steps` where no further
/// stone fits beside the others.
///
/// # Method
/// Beam search: every set can be sawn apart as it grows, which loses nothing,
/// since each subset of a set that can be parted can be parted. Sets of like sizes
/// do not crowd out the others: a large stone that leaves no room for a second
/// looks best early on.
pub(crate) fn grow(pool: &[Candidate], steps: &[Step], gap: f64, cost: f64) -> Vec<Set> {
    let spans: Vec<Spans> = pool
        .par_iter()
        .map(|c| Spans::of(&c.foot.outline))
        .collect();
    let parted = |stones: &[usize]| {
        let all: Vec<&Spans> = stones.iter().map(|&s| &spans[s]).collect();
        can_be_parted(&all, gap)
    };
    grown(pool, steps, cost, &parted)
}

/// [`grow`] under any rule for what may be cut together that, where it holds for a
/// set, holds for its subsets.
fn grown(
    pool: &[Candidate],
    steps: &[Step],
    cost: f64,
    together: &(dyn Fn(&[usize]) -> bool + Sync),
) -> Vec<Set> {
    let beside: Vec<Vec<bool>> = (0..pool.len())
        .into_par_iter()
        .map(|p| {
            (0..pool.len())
                .map(|q| p != q && together(&[p, q]))
                .collect()
        })
        .collect();
    let sorts = sorts(pool);
    let mut beam = vec![Set {
        stones: Vec::new(),
        net: 0.0,
    }];
    let mut best = Vec::new();
    for step in steps {
        let mut next: Vec<Set> = beam
            .par_iter()
            .flat_map_iter(|set| {
                let last = set.stones.last().copied();
                let fits = |&k: &usize| {
                    let after = !step.like_before || last.is_none_or(|l| k > l);
                    let bar = !step.same_bar || last.is_none_or(|l| pool[l].bar == pool[k].bar);
                    after && bar && set.stones.iter().all(|&s| beside[s][k])
                };
                step.from
                    .iter()
                    .copied()
                    .filter(fits)
                    .map(|k| {
                        let mut stones = set.stones.clone();
                        stones.push(k);
                        Set {
                            stones,
                            net: set.net + pool[k].score - cost,
                        }
                    })
                    .filter(|s| together(&s.stones))
                    .collect::<Vec<_>>()
            })
            .collect();
        next.sort_by(|p, q| q.net.total_cmp(&p.net).then(p.stones.cmp(&q.stones)));
        let mut met = BTreeSet::new();
        next.retain(|set| {
            let mut stones = set.stones.clone();
            stones.sort_unstable();
            met.insert(stones)
        });
        next = unlike(next, &sorts);
        let Some(first) = next.first() else {
            break;
        };
        best.push(first.clone());
        beam = next;
    }
    best
}

/// For each of the pool the first that it is like: standard stones of one size are
/// alike, a freeform is like no other.
fn sorts(pool: &[Candidate]) -> Vec<usize> {
    (0..pool.len())
        .map(|k| match &pool[k].kind {
            CutKind::Standard { .. } => (0..k).find(|&j| pool[j].kind == pool[k].kind).unwrap_or(k),
            CutKind::Freeform | CutKind::Specimen => k,
        })
        .collect()
}

/// The sets to go on with, from all in order: first a few of each make-up, then
/// the best of the rest.
fn unlike(sets: Vec<Set>, sorts: &[usize]) -> Vec<Set> {
    let mut seen: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
    let (mut first, rest): (Vec<Set>, Vec<Set>) = sets.into_iter().partition(|set| {
        let mut make_up: Vec<usize> = set.stones.iter().map(|&k| sorts[k]).collect();
        make_up.sort_unstable();
        let count = seen.entry(make_up).or_insert(0);
        *count += 1;
        *count <= ALIKE
    });
    first.extend(rest);
    first.truncate(BEAM);
    first
}

/// What a set of stones may be made of, best first: many seats of the sizes that
/// pay best, by area and alone, beside what was found already.
pub(crate) fn pool(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    found: &[Candidate],
    standard: &[Candidate],
    cost: f64,
) -> Vec<Candidate> {
    let everywhere = vec![true; ground.grid.len()];
    let reach = reachable(ground, &everywhere);
    let mut by_area: Vec<&Candidate> = standard.iter().filter(|c| c.score > cost).collect();
    let alone: Vec<&Candidate> = by_area.iter().take(SIZES_ALONE).copied().collect();
    let dear = |c: &Candidate| (c.score - cost) / c.foot.area;
    by_area.sort_by(|p, q| dear(q).total_cmp(&dear(p)));
    let mut sizes: Vec<StandardSize> = Vec::new();
    for c in by_area.into_iter().take(SIZES_BY_AREA).chain(alone) {
        if let CutKind::Standard {
            family,
            length,
            width,
        } = &c.kind
        {
            let size = StandardSize {
                family: family.clone(),
                length: *length,
                width: *width,
            };
            if !sizes.contains(&size) {
                sizes.push(size);
            }
        }
    }
    let mut all = found.to_vec();
    for size in &sizes {
        all.extend(seats_of_size(ground, appraiser, &reach, size, TURNS, SEATS));
    }
    all.retain(|c| c.score > cost);
    all.sort_by(|p, q| q.score.total_cmp(&p.score));
    all
}

/// Each stone in turn grown anew in what the others leave, moved, turned and
/// lifted, as long as it pays and the set can still be parted.
pub(crate) fn settled(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    mut set: Vec<Candidate>,
    rounds: usize,
) -> Vec<Candidate> {
    let apart = gap(ground);
    for k in 0..set.len() {
        let left: Vec<bool> = (0..ground.grid.len())
            .map(|n| {
                let at = ground.grid.at_index(n);
                set.iter()
                    .enumerate()
                    .all(|(o, other)| o == k || other.foot.outline.clearance(at) < -apart)
            })
            .collect();
        let reach = reachable(ground, &left);
        let mut tries = vec![polished(ground, appraiser, &reach, set[k].clone(), rounds)];
        tries.extend(freeforms(ground, appraiser, &left, 1).into_iter().take(1));
        for tried in tries {
            if tried.score <= set[k].score {
                continue;
            }
            let mut changed = set.clone();
            changed[k] = tried;
            if parted(ground, &changed) {
                set = changed;
            }
        }
    }
    set
}

/// True where straight cuts free all of them.
pub(crate) fn parted(ground: &Ground<'_>, set: &[Candidate]) -> bool {
    let spans: Vec<Spans> = set.iter().map(|c| Spans::of(&c.foot.outline)).collect();
    can_be_parted(&spans.iter().collect::<Vec<_>>(), gap(ground))
}
