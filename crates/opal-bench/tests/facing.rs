//! When to stop, on stones whose best rule is known.

mod flat;

use flat::{CleanFace, cut, flat, slab};
use opal_bench::{FacingAsk, FacingWalk};
use opal_interior::{Interiors, Speck};
use opal_plan::{BenchRules, CutStone};
use opal_stone::Stone;
use opal_units::{Length, Seed};

fn ask<'a>(
    stone: &'a Stone,
    interiors: &'a Interiors,
    cut: &'a CutStone,
    rules: &'a BenchRules,
) -> FacingAsk<'a> {
    FacingAsk {
        stone,
        interiors,
        cut,
        rules,
        appraiser: &CleanFace,
        damage: Length::ZERO,
        cost_per_mm: 0.1,
        seed: Seed(3),
    }
}

/// Which of two heights the bar has shows as soon as the higher one is reached:
/// the best rule, by hand, is to stop in the first tenth in which colour shows,
/// which is what seeing inside gives.
#[test]
fn what_shows_in_time_is_as_good_as_seeing_inside() {
    let (_, stone) = slab();
    let bars: Vec<(f32, f32)> = (0..80)
        .map(|i| {
            if i / 2 % 2 == 0 {
                (6.02, 1.0)
            } else {
                (5.22, 1.0)
            }
        })
        .collect();
    let interiors = flat(&stone, &bars, &vec![Vec::new(); 80]);
    let (cut, rules) = (cut(), BenchRules::default());
    let walk = FacingWalk::new(ask(&stone, &interiors, &cut, &rules)).expect("a bar");
    let facing = walk.facing().expect("numbers");
    let (advised, inside) = (facing.advised.mean(), facing.seen_inside.mean());
    assert!(advised > inside - 0.05, "{advised} {inside}");
    assert!(advised > facing.best_fixed.1.mean() + 1.0);
    assert!(facing.advised_through.iter().all(|through| !through));
}

/// A speck in the middle of the face goes on for 0.4 mm in every inside, and
/// the bar is 0.75 or 1.35 mm thick, which shows on the edge. By hand: the thin
/// ones must stop while 0.3 mm of colour is left, with the speck in; the thick
/// ones go on until it is out. Dynamic programming over two visible states is
/// then the best of each, which seeing inside gives; the edge is read to a tenth
/// of a millimetre only, which costs a step here and there.
#[test]
fn a_speck_is_chased_only_where_the_edge_shows_enough_colour() {
    let (_, stone) = slab();
    let bars: Vec<(f32, f32)> = (0..120)
        .map(|i| (6.02, if i / 2 % 2 == 0 { 0.65 } else { 1.35 }))
        .collect();
    let speck = Speck {
        kind: opal_evidence::SpeckKind::Sand,
        at_mm: [12.0, 9.0, 5.95],
        radius_mm: 0.55,
    };
    let interiors = flat(&stone, &bars, &vec![vec![speck]; 120]);
    let (cut, rules) = (cut(), BenchRules::default());
    let walk = FacingWalk::new(ask(&stone, &interiors, &cut, &rules)).expect("a bar");
    let facing = walk.facing().expect("numbers");
    let (advised, inside) = (facing.advised.mean(), facing.seen_inside.mean());
    assert!(advised > 0.99 * inside, "{advised} {inside}");
    let depth = |i: usize| facing.stop_depth_mm.values()[i];
    assert!(depth(2) > depth(0) + 0.2, "{} {}", depth(2), depth(0));
}

/// Dynamic programming, exactly, on a stone of eight insides: the bar at one of
/// two heights, of one of two thicknesses, with a speck or without. While potch
/// covers the face nothing tells them apart; once colour shows, height, edge and
/// speck do. The walk is learnt by regression on shares of the face, so it may
/// lose a little of that; it never finds more.
#[test]
fn dynamic_programming_on_a_small_stone() {
    let (_, stone) = slab();
    let speck = Speck {
        kind: opal_evidence::SpeckKind::Sand,
        at_mm: [12.0, 9.0, 0.0],
        radius_mm: 0.28,
    };
    let (mut bars, mut specks) = (Vec::new(), Vec::new());
    for i in 0..160 {
        // Pairs of the same inside, so that both halves hold them all.
        let kind = i / 2 % 8;
        let top = if kind & 1 == 0 { 6.02 } else { 5.42 };
        let thickness = if kind & 2 == 0 { 0.65 } else { 1.35 };
        bars.push((top, thickness));
        let at_mm = [12.0, 9.0, top - 0.3];
        specks.push(if kind & 4 == 0 {
            Vec::new()
        } else {
            vec![Speck { at_mm, ..speck }]
        });
    }
    let interiors = flat(&stone, &bars, &specks);
    let (cut, rules) = (cut(), BenchRules::default());
    let walk = FacingWalk::new(ask(&stone, &interiors, &cut, &rules)).expect("a bar");
    let facing = walk.facing().expect("numbers");
    let stop = |i: usize, k: usize| facing.steps[k].worth.values()[2 * i];
    let last = facing.steps.len() - 1;
    // Shown: some clean face was there at this depth or above it.
    let shown = |i: usize, k: usize| (0..=k).any(|k| stop(i, k) > 0.0);
    // Known inside: the best of stopping and going on.
    let known = |i: usize, k: usize| (k..=last).map(|k| stop(i, k)).fold(f64::MIN, f64::max);
    // Sum over the insides that are still covered at step k.
    let mut covered = 0.0;
    for k in (0..=last).rev() {
        let hidden: Vec<usize> = (0..8).filter(|&i| !shown(i, k)).collect();
        let stopping: f64 = hidden.iter().map(|&i| stop(i, k)).sum();
        let going_on = if k == last {
            f64::MIN
        } else {
            let found = hidden.iter().filter(|&&i| shown(i, k + 1));
            covered + found.map(|&i| known(i, k + 1)).sum::<f64>()
        };
        covered = if hidden.is_empty() {
            0.0
        } else {
            stopping.max(going_on)
        };
    }
    let at_once: f64 = (0..8).filter(|&i| shown(i, 0)).map(|i| known(i, 0)).sum();
    let exact = (covered + at_once) / 8.0;
    let advised = facing.advised.mean();
    assert!(
        advised <= exact + 1e-9 && advised > 0.97 * exact,
        "{advised} {exact}"
    );
}

/// No rule that looks only at what shows beats seeing inside, in any inside;
/// and what was learnt on one half is applied to the other.
#[test]
fn never_better_than_seeing_inside() {
    let (_, stone) = slab();
    let bars: Vec<(f32, f32)> = (0..60)
        .map(|i| (5.0 + 0.02 * i as f32, 0.2 + 0.03 * (i * 7 % 60) as f32))
        .collect();
    let interiors = flat(&stone, &bars, &vec![Vec::new(); 60]);
    let (cut, rules) = (cut(), BenchRules::default());
    let walk = FacingWalk::new(ask(&stone, &interiors, &cut, &rules)).expect("a bar");
    let facing = walk.facing().expect("numbers");
    for (a, b) in facing
        .advised
        .values()
        .iter()
        .zip(facing.seen_inside.values())
    {
        assert!(a <= b);
    }
    let on = walk
        .going_on(Length::from_mm(0.2))
        .expect("numbers")
        .expect("a step");
    assert_eq!(on.len(), 60);
    let again = FacingWalk::new(ask(&stone, &interiors, &cut, &rules)).expect("a bar");
    assert_eq!(again.facing().expect("numbers"), facing);
}

/// Digging one small deep speck out keeps the rest of a thin bar: by hand the
/// whole face lowered by 0.6 mm leaves 0.2 mm, below what shows.
#[test]
fn a_single_speck_in_thin_colour_is_dug_out_alone() {
    let (_, stone) = slab();
    let (cut, rules) = (cut(), BenchRules::default());
    let standing = stone
        .ground_from_above(Length::from_mm(0.1), None)
        .expect("left");
    // A flat face at 6 mm: the rough sawn level.
    let face = standing
        .sawn(&opal_geom::CutPlane::level(6.0))
        .expect("left");
    let speck = Speck {
        kind: opal_evidence::SpeckKind::Sand,
        at_mm: [12.0, 9.0, 5.7],
        radius_mm: 0.32,
    };
    let interiors = flat(&face, &[(6.0, 0.8); 20], &vec![vec![speck]; 20]);
    let walk = FacingWalk::new(ask(&face, &interiors, &cut, &rules)).expect("a bar");
    let relief = walk.relief([12.0, 9.0]).expect("numbers").expect("a speck");
    assert!(
        (relief.depth_mm.mean() - 0.62).abs() < 0.02,
        "{}",
        relief.depth_mm.mean()
    );
    assert!(relief.local.mean() > relief.whole.mean() + 5.0);
    assert!(walk.relief([9.0, 9.0]).expect("numbers").is_none());
}
