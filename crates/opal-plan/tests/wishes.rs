//! The cutter's own hand: outlines, ground to leave, orders, and what the saw
//! can reach; stones from two bars.

#![allow(clippy::panic)] // A test that finds the wrong kind ends there.

mod invented;

use invented::{Law, Prices, interiors, stone};
use opal_geom::Outline;
use opal_interior::Interiors;
use opal_plan::{
    BenchRules, CutKind, Effort, Order, Origin, PinnedOutline, PlanError, PlanKind, PlanOptions,
    StandardSize, ValuedPlan, Wishes, plan,
};
use opal_stone::Stone;
use opal_units::Length;

fn options(wishes: Wishes) -> PlanOptions<'static> {
    PlanOptions {
        effort: Effort::Quick,
        sizes: vec![
            StandardSize::from_mm("oval", 8.0, 6.0),
            StandardSize::from_mm("oval", 14.0, 10.0),
        ],
        wishes,
        ..PlanOptions::default()
    }
}

fn planned(
    rough: &Stone,
    insides: &Interiors,
    options: &PlanOptions<'_>,
) -> Result<Vec<ValuedPlan>, PlanError> {
    plan(
        rough,
        insides,
        &Prices::default(),
        &BenchRules::default(),
        options,
    )
}

fn rectangle(x: [f64; 2], y: [f64; 2]) -> Vec<[f64; 2]> {
    vec![[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]]
}

#[test]
fn a_pinned_outline_is_planned_as_it_stands() {
    let rough = stone(32.0, 24.0, 12.0, 0.5);
    let insides = interiors(&rough, Law::DOUBTFUL, 60, 7);
    let outline_mm: Vec<[f64; 2]> = (0..48)
        .map(|k| {
            let t = std::f64::consts::TAU * f64::from(k) / 48.0;
            [-5.0 + 6.0 * t.cos(), 1.0 + 4.5 * t.sin()]
        })
        .collect();
    let wishes = Wishes {
        pinned: vec![PinnedOutline {
            kind: CutKind::Freeform,
            outline_mm: outline_mm.clone(),
            bar: None,
        }],
        ..Wishes::default()
    };
    let plans = planned(&rough, &insides, &options(wishes)).expect("plans");
    let own: Vec<&ValuedPlan> = plans
        .iter()
        .filter(|p| p.plan.origin == Origin::Pinned)
        .collect();
    assert_eq!(own.len(), 1);
    let got = Outline::new(own[0].plan.stones[0].outline_mm.clone()).expect("an outline");
    let wanted = Outline::new(outline_mm).expect("an outline");
    assert!((got.area() / wanted.area() - 1.0).abs() < 1e-9);
    assert_eq!(own[0].plan.title(), "freeform about 12 × 9 mm");
    assert!(plans.len() > 1, "the search goes on beside it");
}

#[test]
fn no_stone_takes_in_forbidden_ground() {
    let rough = stone(34.0, 24.0, 12.0, 0.5);
    let insides = interiors(&rough, Law::FLAT, 60, 7);
    let bad = rectangle([2.0, 5.0], [-1.5, 1.5]);
    let wishes = Wishes {
        forbidden: vec![bad.clone()],
        ..Wishes::default()
    };
    let plans = planned(&rough, &insides, &options(wishes)).expect("plans");
    assert!(plans.iter().any(|p| p.plan.kind == PlanKind::Freeform));
    assert!(plans.iter().any(|p| p.plan.kind == PlanKind::Standard));
    for stone in plans
        .iter()
        .filter(|p| p.plan.kind != PlanKind::Specimen)
        .flat_map(|p| &p.plan.stones)
    {
        let outline = Outline::new(stone.outline_mm.clone()).expect("an outline");
        let inside = bad.iter().any(|&p| outline.contains(p)) || outline.contains([3.5, 0.0]);
        assert!(!inside, "{}", stone.title());
    }
}

#[test]
fn a_matched_pair_comes_from_one_bar_with_one_dome_and_can_be_parted() {
    let rough = stone(32.0, 18.0, 12.0, 0.5);
    let insides = interiors(&rough, Law::DOUBTFUL, 60, 7);
    let order = Order::pair(StandardSize::from_mm("oval", 8.0, 6.0));
    assert_eq!(order.title(), "a matched pair of oval 8 × 6 mm");
    let wishes = Wishes {
        orders: vec![order],
        ..Wishes::default()
    };
    let plans = planned(&rough, &insides, &options(wishes)).expect("plans");
    let filled = plans
        .iter()
        .find(|p| p.plan.origin == Origin::Ordered)
        .expect("the order is filled");
    let [first, second] = &filled.plan.stones[..] else {
        panic!("a pair")
    };
    assert_eq!(filled.plan.title(), "2 × oval 8 × 6 mm");
    assert_eq!(first.bar, second.bar);
    assert!((first.dome.height.mm() - second.dome.height.mm()).abs() < 0.05);
    // At least the blade and the allowance on both sides between them.
    let gap = second
        .outline_mm
        .iter()
        .map(|&p| {
            let outline = Outline::new(first.outline_mm.clone()).expect("an outline");
            -outline.clearance(p)
        })
        .fold(f64::INFINITY, f64::min);
    assert!(gap >= 1.5 - 1e-6, "{gap}");
    assert!(filled.why[0].contains("a matched pair"), "{:?}", filled.why);
}

#[test]
fn an_order_larger_than_the_piece_is_refused_by_name() {
    let rough = stone(30.0, 20.0, 12.0, 0.5);
    let insides = interiors(&rough, Law::FLAT, 40, 7);
    let wishes = Wishes {
        orders: vec![Order {
            size: StandardSize::from_mm("oval", 18.0, 13.0),
            count: 2,
            matched: false,
        }],
        ..Wishes::default()
    };
    let refused = planned(&rough, &insides, &options(wishes)).expect_err("too large");
    let PlanError::OrderDoesNotFit { wanted, fitted, .. } = &refused else {
        panic!("{refused}")
    };
    assert_eq!((*wanted, *fitted), (2, 1));
    assert!(refused.to_string().contains("2 of oval 18 × 13 mm"));
}

#[test]
fn what_cannot_be_asked_is_told_all_at_once() {
    let rough = stone(30.0, 20.0, 12.0, 0.5);
    let insides = interiors(&rough, Law::FLAT, 20, 7);
    let wishes = Wishes {
        pinned: vec![PinnedOutline {
            kind: CutKind::Specimen,
            outline_mm: rectangle([10.0, 30.0], [-2.0, 2.0]),
            bar: Some(3),
        }],
        forbidden: vec![vec![[0.0, 0.0], [1.0, 1.0]]],
        orders: vec![
            Order {
                size: StandardSize::from_mm("oval", 6.0, 8.0),
                count: 0,
                matched: false,
            },
            Order {
                size: StandardSize::from_mm("kite", 8.0, 6.0),
                count: 1,
                matched: false,
            },
        ],
    };
    let refused = planned(&rough, &insides, &options(wishes)).expect_err("faults");
    let PlanError::Wishes(faults) = refused else {
        panic!("{refused}")
    };
    let fields: Vec<&str> = faults.0.iter().map(|f| f.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "forbidden[0]",
            "pinned[0].bar",
            "pinned[0].kind",
            "pinned[0].outline_mm",
            "orders[0].count",
            "orders[0].size",
            "orders[1].size.family",
        ]
    );
}

#[test]
fn a_cut_deeper_than_the_saw_reaches_is_not_planned() {
    let rough = stone(60.0, 24.0, 14.0, 0.5);
    let law = Law {
        ends_at_mm: 0.0,
        ..Law::FLAT
    };
    let insides = interiors(&rough, law, 40, 7);
    let upright = |reach: f64| {
        let rules = BenchRules {
            saw_reach: Length::from_mm(reach),
            ..BenchRules::default()
        };
        let plans = plan(
            &rough,
            &insides,
            &Prices::default(),
            &rules,
            &options(Wishes::default()),
        )
        .expect("plans");
        let free = plans
            .iter()
            .find(|p| p.plan.kind == PlanKind::Freeform)
            .expect("a freeform");
        let cuts = free.plan.cuts.iter();
        cuts.filter(|c| c.level_mm.is_none()).count()
    };
    // The piece is 14 mm deep where the barren end comes off.
    assert!(upright(20.0) >= 1);
    assert_eq!(upright(3.0), 0);
}

/// Two bars in one piece, the second `lower_by` mm under the first.
fn two_bars(rough: &Stone, lower_by: f64) -> Interiors {
    let law = |height_mm: f64| Law {
        height_mm,
        height_sd_mm: 0.1,
        thickness_mm: 1.8,
        ..Law::FLAT
    };
    let mut insides = interiors(rough, law(lower_by / 2.0), 60, 7);
    let mut under = interiors(rough, law(-lower_by / 2.0), 60, 8);
    under.bars[0].name = "B".to_owned();
    insides.bars.append(&mut under.bars);
    insides
}

#[test]
fn two_bars_far_enough_apart_give_a_stone_each() {
    let rough = stone(24.0, 18.0, 22.0, 0.5);
    let insides = two_bars(&rough, 9.0);
    let options = PlanOptions {
        most_stones: 2,
        ..options(Wishes::default())
    };
    let plans = planned(&rough, &insides, &options).expect("plans");
    let best = &plans[0];
    assert_eq!(best.plan.kind, PlanKind::Several, "{}", best.plan.title());
    let [first, second] = &best.plan.stones[..] else {
        panic!("two stones: {}", best.plan.title())
    };
    assert_ne!(first.bar, second.bar);
    // The cut leaves each stone whole on its own side, the blade between.
    let cut = &best.plan.cuts[0];
    let level = cut.level_mm.expect("a cut between the bars");
    let plane = |p: [f64; 2]| {
        let [x, y] = [p[0] - first.crown_mm[0], p[1] - first.crown_mm[1]];
        first.edge_mm[0] + first.edge_mm[1] * x + first.edge_mm[2] * y + level
    };
    let upper_first = level < 0.0;
    let mesh = second.surface();
    for vertex in &mesh.vertices {
        let over = vertex[2] - plane([vertex[0], vertex[1]]);
        let clear = if upper_first { -over } else { over };
        assert!(clear >= cut.kerf.mm() - 1e-6, "{clear}");
    }
}

#[test]
fn a_blade_too_thick_to_go_between_costs_one_of_the_bars() {
    let rough = stone(24.0, 18.0, 14.0, 0.5);
    let insides = two_bars(&rough, 2.2);
    let options = PlanOptions {
        most_stones: 2,
        ..options(Wishes::default())
    };
    // Four millimetres are lost between the lower crown and what is kept above.
    let rules = BenchRules {
        kerf: Length::from_mm(3.0),
        saw_allowance: Length::from_mm(1.0),
        ..BenchRules::default()
    };
    let plans = plan(&rough, &insides, &Prices::default(), &rules, &options).expect("plans");
    let both = plans.iter().any(|p| {
        let bars: Vec<usize> = p.plan.stones.iter().map(|s| s.bar).collect();
        bars.contains(&0) && bars.contains(&1)
    });
    assert!(!both);
}
