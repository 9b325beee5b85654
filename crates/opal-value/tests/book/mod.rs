use opal_units::Currency;
use opal_value::{
    BookParts, Curve, PieceRules, PriceBy, PriceInterval, PriceRow, RoughRow, ShapeFactors,
};

fn curve(points: &[[f64; 2]]) -> Curve {
    Curve::new(points.to_vec()).expect("rises")
}

/// A small book whose numbers are easy to work by hand.
pub(crate) fn parts() -> BookParts {
    BookParts {
        currency: Currency::new("AUD").expect("a code"),
        title: "test".to_owned(),
        invented: true,
        rows: vec![
            PriceRow {
                variety: "light".to_owned(),
                brightness: "bright".to_owned(),
                by: PriceBy::Carat,
                price: PriceInterval {
                    low: 50.0,
                    high: 200.0,
                },
            },
            PriceRow {
                variety: "boulder".to_owned(),
                brightness: "bright".to_owned(),
                by: PriceBy::FaceMm2,
                price: PriceInterval {
                    low: 1.0,
                    high: 4.0,
                },
            },
        ],
        size_by_carat: curve(&[[1.0, 1.0], [1000.0, 1.0]]),
        size_by_face: curve(&[[100.0, 1.0]]),
        shape: ShapeFactors {
            standard: 1.0,
            odd_size: 0.9,
            freeform: 0.8,
            specimen: 0.7,
            family: [("pear".to_owned(), 0.5)].into(),
        },
        clean: curve(&[[0.0, 0.0], [1.0, 1.0]]),
        colour_mm: curve(&[[0.0, 0.0], [1.0, 1.0]]),
        accepted_backing_mm: curve(&[[10.0, 1.0], [40.0, 2.0]]),
        piece: PieceRules {
            excess_backing_mm: 0.5,
            longest_in_a_setting_mm: 40.0,
            potch_share_of_thickness: 0.8,
            heavier_than_ct: 100.0,
        },
        broken_share: 0.1,
        rough: vec![
            RoughRow {
                variety: None,
                brightness: None,
                per_carat: PriceInterval {
                    low: 1.0,
                    high: 1.0,
                },
            },
            RoughRow {
                variety: Some("boulder".to_owned()),
                brightness: None,
                per_carat: PriceInterval {
                    low: 0.1,
                    high: 0.1,
                },
            },
        ],
        market_log_sd: 0.2,
    }
}
