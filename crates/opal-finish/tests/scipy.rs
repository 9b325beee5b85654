//! Beliefs and drying against SciPy: `tests/reference/finish.py` makes the values.

use opal_finish::{Drying, LogBelief, Weighing};
use opal_units::Mass;
use serde_json::Value;

fn reference() -> Value {
    let text = include_str!("../../../tests/reference/finish.json");
    serde_json::from_str(text).expect("JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

/// scipy.integrate.quad over prior and likelihood, no conjugate formula used.
#[test]
fn three_stints_teach_what_quadrature_says() {
    let rate = &reference()["rate"];
    let at = |key: &str| rate[key].as_f64().expect("a number");
    let start = LogBelief::new(at("median"), at("factor"), at("scatter")).expect("positive");
    let taught = numbers(&rate["stints"])
        .into_iter()
        .fold(start, LogBelief::after);
    assert!((taught.median().ln() - at("log_mean")).abs() < 1e-8);
    assert!((taught.log_sd() - at("log_sd")).abs() < 1e-8);
}

/// scipy.optimize.curve_fit of the same law on six weekly weighings.
#[test]
fn drying_is_fitted_as_by_curve_fit() {
    let drying = &reference()["drying"];
    let weighings: Vec<Weighing> = numbers(&drying["days"])
        .into_iter()
        .zip(numbers(&drying["grams"]))
        .map(|(day, grams)| Weighing {
            day,
            weight: Mass::from_grams(grams),
        })
        .collect();
    let fitted = Drying::fit(&weighings).expect("fits");
    let at = |key: &str| drying[key].as_f64().expect("a number");
    assert!((fitted.settles_at.grams() - at("settles_g")).abs() < 1e-5);
    assert!((fitted.half_life_days - at("half_life_days")).abs() < 1e-4);
}
