//! The trade's counting, worked by hand.

mod book;

use book::parts;
use opal_units::{Area, Length, Mass};
use opal_value::{LuckDraw, PriceBook, PriceError, PriceUnit, StoneToPrice};

fn book() -> PriceBook {
    PriceBook::new(parts()).expect("sound")
}

/// A 10 × 8 mm oval face: 62.83 mm², by the closed form of an ellipse.
fn stone(thickness_mm: f64) -> StoneToPrice {
    let face_mm2 = std::f64::consts::PI / 4.0 * 10.0 * 8.0;
    StoneToPrice {
        variety: "light".to_owned(),
        brightness: "bright".to_owned(),
        shape: "oval".to_owned(),
        standard_size: true,
        // 2.10 g/cm³: a millimetre of back weighs 0.660 ct.
        weight: Mass::from_carats(face_mm2 * thickness_mm * 2.10 * 0.005),
        face: Area::from_mm2(face_mm2),
        length: Length::from_mm(10.0),
        thickness: Length::from_mm(thickness_mm),
        colour_thickness: Length::from_mm(1.0),
        clean_share: 1.0,
        whole: true,
    }
}

fn amount(stone: &StoneToPrice) -> f64 {
    book()
        .price(stone, &LuckDraw::MIDDLE)
        .expect("priced")
        .amount
}

/// One face, plates 2, 3, 4 and 5 mm thick: 1.32, 1.98, 2.64 and 3.30 ct; at a
/// worth of 1,000 they read 758, 505, 379 and 303 a carat (arithmetic). Counted
/// at the accepted thickness all four are one stone at one price.
#[test]
fn a_thick_back_adds_carats_and_no_money() {
    let thin = book()
        .price(&stone(2.0), &LuckDraw::MIDDLE)
        .expect("priced");
    assert_eq!(thin.unit, PriceUnit::Carat);
    assert!((thin.counted_weight.carats() - 1.3195).abs() < 1e-3);
    assert!((thin.amount - 131.95).abs() < 0.01); // 1.3195 ct at √(50·200) = 100
    for (mm, scale_ct, share_of_thin) in [
        (3.0, 1.979, 505.0),
        (4.0, 2.639, 379.0),
        (5.0, 3.299, 303.0),
    ] {
        let thick = book().price(&stone(mm), &LuckDraw::MIDDLE).expect("priced");
        assert!((thick.amount - thin.amount).abs() < 1e-9, "{mm}");
        assert_eq!(thick.unit, PriceUnit::Piece, "{mm}");
        assert!((thick.counted_weight - thin.counted_weight).abs().carats() < 1e-9);
        let scale = thick.amount / thick.per_scale_carat;
        assert!((scale - scale_ct).abs() < 1e-3);
        assert!((1000.0 * thick.per_scale_carat / thick.amount - share_of_thin).abs() < 0.6);
        assert!((thick.per_face_mm2 - thin.per_face_mm2).abs() < 1e-12);
        assert!(
            thick.why[0].contains("buyers accept 1.0 mm"),
            "{:?}",
            thick.why
        );
    }
}

#[test]
fn factors_multiply() {
    let base = amount(&stone(2.0));
    let times = |change: &dyn Fn(&mut StoneToPrice)| {
        let mut other = stone(2.0);
        change(&mut other);
        amount(&other) / base
    };
    assert!((times(&|s| s.standard_size = false) - 0.9).abs() < 1e-12);
    assert!((times(&|s| s.shape = "freeform".to_owned()) - 0.8).abs() < 1e-12);
    assert!((times(&|s| s.shape = "specimen".to_owned()) - 0.7).abs() < 1e-12);
    assert!((times(&|s| s.shape = "pear".to_owned()) - 0.5).abs() < 1e-12);
    assert!((times(&|s| s.clean_share = 0.6) - 0.6).abs() < 1e-12);
    assert!((times(&|s| s.whole = false) - 0.1).abs() < 1e-12);
    assert!((times(&|s| s.colour_thickness = Length::from_mm(1.5)) - 1.0).abs() < 1e-12);
}

#[test]
fn boulder_goes_by_its_face_and_by_the_piece() {
    let mut boulder = stone(6.0);
    boulder.variety = "boulder".to_owned();
    let priced = book().price(&boulder, &LuckDraw::MIDDLE).expect("priced");
    assert_eq!(priced.unit, PriceUnit::Piece);
    assert!((priced.per_face_mm2 - 2.0).abs() < 1e-12); // √(1·4)
}

#[test]
fn too_big_for_a_setting_goes_by_the_piece() {
    let mut big = stone(2.0);
    big.length = Length::from_mm(45.0);
    let priced = book().price(&big, &LuckDraw::MIDDLE).expect("priced");
    assert_eq!(priced.unit, PriceUnit::Piece);
    assert!(priced.why[0].contains("settings end at 40 mm"));
}

/// Nine sales in ten fall between low and high: at the 5th and 95th centile of
/// the stone's own luck the price is low and high.
#[test]
fn luck_spreads_the_price_over_its_interval() {
    let at = |own: f64, market: f64| {
        let luck = LuckDraw {
            own,
            market,
            work: 0.0,
        };
        let priced = book().price(&stone(2.0), &luck).expect("priced");
        priced.amount / priced.counted_weight.carats()
    };
    assert!((at(-1.644_853_627, 0.0) - 50.0).abs() < 1e-6);
    assert!((at(1.644_853_627, 0.0) - 200.0).abs() < 1e-6);
    assert!((at(0.0, 1.0) - 100.0 * 0.2_f64.exp()).abs() < 1e-9);
}

#[test]
fn rough_takes_the_row_that_names_most() {
    let fetch = |variety: &str| {
        book()
            .rough(
                variety,
                "bright",
                Mass::from_carats(50.0),
                &LuckDraw::MIDDLE,
            )
            .expect("priced")
    };
    assert!((fetch("light") - 50.0).abs() < 1e-9);
    assert!((fetch("boulder") - 5.0).abs() < 1e-9);
}

#[test]
fn says_what_the_book_lacks() {
    let mut other = stone(2.0);
    other.brightness = "brilliant".to_owned();
    let error = book()
        .price(&other, &LuckDraw::MIDDLE)
        .expect_err("no such row");
    assert!(matches!(error, PriceError::NoRow { .. }));
    assert_eq!(
        error.to_string(),
        "the price book has no row for light, brilliant; it has: light bright"
    );
}

#[test]
fn nothing_to_sell_fetches_nothing() {
    let mut none = stone(2.0);
    none.weight = Mass::ZERO;
    none.thickness = Length::ZERO;
    assert_eq!(amount(&none), 0.0);
}

mod never_worth_less {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn for_more_weight_cleaner_face_or_thicker_colour(
            thickness_mm in 0.5..8.0_f64,
            colour in 0.1..1.0_f64,
            clean in 0.0..1.0_f64,
            more in 0.0..1.0_f64,
        ) {
            let mut first = stone(thickness_mm);
            first.colour_thickness = Length::from_mm(colour * thickness_mm);
            first.clean_share = clean;
            let mut cleaner = first.clone();
            cleaner.clean_share = clean + (1.0 - clean) * more;
            prop_assert!(amount(&cleaner) >= amount(&first) - 1e-9);
            let mut heavier = first.clone();
            heavier.weight = first.weight * (1.0 + more);
            prop_assert!(amount(&heavier) >= amount(&first) - 1e-9);
            let mut thicker = first.clone();
            thicker.colour_thickness = first.colour_thickness * (1.0 + more);
            prop_assert!(amount(&thicker) >= amount(&first) - 1e-9);
        }
    }
}
