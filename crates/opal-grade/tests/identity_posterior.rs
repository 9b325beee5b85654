//! Posteriors against scikit-learn's categorical naive Bayes and scipy's
//! multivariate normal on the same table: `tests/reference/identity.py` makes
//! the values, `identity.json` holds them with the versions.

use opal_grade::{Found, GRAVITY, INDEX, Observation, identify};
use opal_reference::identity::identity;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
struct Case {
    looks: BTreeMap<String, String>,
    gravity: Option<f64>,
    index: Option<f64>,
    shares: BTreeMap<String, f64>,
}

#[derive(Deserialize)]
struct File {
    cases: Vec<Case>,
}

#[test]
fn agrees_with_scikit_learn() {
    let file: File = serde_json::from_str(include_str!("../../../tests/reference/identity.json"))
        .expect("reads");
    assert!(file.cases.len() >= 40);
    for (n, case) in file.cases.iter().enumerate() {
        let of = |look: &str, found| Observation {
            id: look.to_owned(),
            look: look.to_owned(),
            found,
            by: None,
            at: None,
        };
        let number = |look, value: Option<f64>, sigma| {
            value.map(|value| of(look, Found::Number { value, sigma }))
        };
        let observations: Vec<Observation> = number(GRAVITY, case.gravity, 0.02)
            .into_iter()
            .chain(number(INDEX, case.index, 0.01))
            .chain(
                case.looks
                    .iter()
                    .map(|(look, answer)| of(look, Found::Word(answer.clone()))),
            )
            .collect();
        let answer = identify(identity(), &observations).expect("sound");
        for class in &answer.classes {
            let theirs = case.shares[&class.key];
            assert!(
                (class.share - theirs).abs() < 1e-9,
                "case {n}, {}: {} against {theirs}",
                class.key,
                class.share
            );
        }
    }
}
