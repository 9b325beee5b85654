//! The embedded files, and how a table is read out of one.

use serde::de::DeserializeOwned;

/// Every embedded data file: name and text.
pub const FILES: &[(&str, &str)] = &[
    ("sources", include_str!("../data/sources.toml")),
    ("gravity", include_str!("../data/gravity.toml")),
    ("solidity", include_str!("../data/solidity.toml")),
    ("grit", include_str!("../data/grit.toml")),
    ("wheels", include_str!("../data/wheels.toml")),
    ("cautions", include_str!("../data/cautions.toml")),
    ("identity", include_str!("../data/identity.toml")),
    ("disclosure", include_str!("../data/disclosure.toml")),
    ("weight_shapes", include_str!("../data/weight_shapes.toml")),
    (
        "standard_sizes",
        include_str!("../data/standard_sizes.toml"),
    ),
];

/// Reads one embedded file into its row types.
///
/// The files are part of the program: a test reads every one, so what is
/// refused here never reaches a user.
pub(crate) fn read<T: DeserializeOwned>(name: &str) -> T {
    let text = FILES
        .iter()
        .find(|(file, _)| *file == name)
        .map(|(_, text)| *text)
        .expect("the embedded file is listed in FILES");
    toml::from_str(text).expect("embedded data files are read by the tests")
}
