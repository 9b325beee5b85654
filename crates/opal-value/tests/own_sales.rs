//! The cutter's own sales against the cutter's own table. The sales are made
//! here from a known law, so that what is learned can be held against it.

mod book;

use opal_units::{Area, Draws, Length, Mass, Seed};
use opal_value::{LuckDraw, OwnSales, PriceBook, Sale, StoneToPrice};
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};

const N: u64 = 4000;

fn book() -> PriceBook {
    PriceBook::new(book::parts()).expect("sound")
}

fn stone(ct: f64) -> StoneToPrice {
    StoneToPrice {
        variety: "light".to_owned(),
        brightness: "bright".to_owned(),
        shape: "oval".to_owned(),
        standard_size: true,
        weight: Mass::from_carats(ct),
        face: Area::from_mm2(60.0),
        length: Length::from_mm(12.0),
        thickness: Length::from_mm(3.0),
        colour_thickness: Length::from_mm(2.5),
        clean_share: 1.0,
        whole: true,
    }
}

/// Sales at `level` times the table's middle, `origin_level` more from Field A,
/// scattered as the table says.
fn sales(n: usize, level: f64, origin_level: f64, seed: u64) -> Vec<Sale> {
    let book = book();
    (0..n)
        .map(|k| {
            let mut rng = Seed(seed).stream("sale", k as u64);
            let stone = stone(1.0 + 5.0 * rng.random::<f64>());
            let table = book.price(&stone, &LuckDraw::MIDDLE).expect("a row").amount;
            let (origin, more) = if k % 2 == 0 {
                ("Field A", origin_level)
            } else {
                ("Field B", 1.0)
            };
            let z: f64 = StandardNormal.sample(&mut rng);
            Sale {
                amount: table * level * more * (0.3 * z).exp(),
                origin: origin.to_owned(),
                stone,
            }
        })
        .collect()
}

/// Middle over the table's, width of nine in ten in the logarithm, share learned.
fn middle(sold: &[Sale], origin: &str) -> (f64, f64, f64) {
    let book = book();
    let learned = OwnSales::learn(&book, sold).expect("learns");
    let stone = stone(3.0);
    let grounds = learned.grounds(&book, &stone, origin).expect("a row");
    let class = book.class("light", "bright", "oval", true).expect("a row");
    let amounts = (0..N).map(|i| {
        let mut rng = Seed(4).stream("sold", i);
        let taught = learned.taught("light", "bright", origin, &mut rng);
        let luck = LuckDraw {
            own: StandardNormal.sample(&mut rng),
            ..LuckDraw::MIDDLE
        };
        class.amount_as_taught(&stone.figures(), &luck, &taught)
    });
    let amount = Draws::new(amounts.collect()).expect("finite");
    (
        amount.quantile(0.5) / grounds.table,
        (amount.quantile(0.95) / amount.quantile(0.05)).ln(),
        grounds.learned,
    )
}

#[test]
fn without_sales_the_table_speaks() {
    let (ratio, width, learned) = middle(&[], "Field A");
    assert!((ratio - 1.0).abs() < 0.06, "{ratio}");
    // The table's own nine in ten, 50 to 200, and what it may be wrong by.
    assert!(width > (200.0_f64 / 50.0).ln(), "{width}");
    assert!(learned < 0.05);
    let book = book();
    let none = OwnSales::learn(&book, &[]).expect("learns");
    let grounds = none.grounds(&book, &stone(3.0), "").expect("a row");
    assert!(grounds.why[0].contains("No sale"), "{:?}", grounds.why);
}

/// Whatever a sale brought, it moves the price by at most a fifth of what ten such
/// would.
#[test]
fn no_single_sale_moves_a_price_far() {
    let book = book();
    let sold = |n: usize, times: f64| -> f64 {
        let stone = stone(3.0);
        let table = book.price(&stone, &LuckDraw::MIDDLE).expect("a row").amount;
        let sale = Sale {
            amount: table * times,
            origin: "Field A".to_owned(),
            stone,
        };
        middle(&vec![sale; n], "Field A").0.ln()
    };
    // The draws' own error is the same in both.
    let none = sold(0, 1.0);
    for times in [0.3, 2.0, 10.0] {
        let (one, ten) = (sold(1, times) - none, sold(10, times) - none);
        assert!(one.abs() < 0.2 * ten.abs() + 0.02, "{times}: {one} {ten}");
    }
}

/// A table that is a third too high is corrected by forty sales; what was learned
/// narrows the forecast.
#[test]
fn many_sales_correct_the_table() {
    let (forty, width, much) = middle(&sales(40, 0.66, 1.0, 3), "Field A");
    assert!((forty / 0.66).ln().abs() < 0.2, "{forty}");
    assert!(much > 0.6, "{much}");
    assert!(width < middle(&[], "Field A").1, "{width}");
}

/// Field A fetches half as much again: the sales tell the fields apart, and a
/// field never sold from stays between them and less sure.
#[test]
fn origins_are_told_apart_and_a_new_one_leans_on_all() {
    let sold = sales(60, 1.0, 1.5, 9);
    let (a, width_a, _) = middle(&sold, "Field A");
    let (b, _, _) = middle(&sold, "Field B");
    let (new, width_new, _) = middle(&sold, "Field C");
    assert!(a / b > 1.2, "{a} {b}");
    assert!(b < new && new < a, "{a} {b} {new}");
    assert!(width_new > width_a, "{width_new} {width_a}");
}

#[test]
fn a_friends_price_is_not_followed_and_nonsense_is_refused() {
    let mut sold = sales(20, 1.0, 1.0, 5);
    let before = middle(&sold, "Field B").0;
    sold[3].amount /= 20.0;
    let after = middle(&sold, "Field B").0;
    assert!((after / before).ln().abs() < 0.1, "{before} {after}");
    sold[3].amount = 0.0;
    assert!(OwnSales::learn(&book(), &sold).is_err());
    // What the table does not price is left out, and counted.
    sold[3].amount = 100.0;
    sold[3].stone.variety = "black".to_owned();
    let learned = OwnSales::learn(&book(), &sold).expect("learns");
    assert_eq!((learned.used(), learned.left_out()), (19, 1));
}
