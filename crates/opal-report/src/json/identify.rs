//! `opalwright-identity/1` and `opalwright-weighing/1`: what a stone most likely is.

use opal_grade::{EstimatedWeight, Identity, Share, Sureness, WeighedGravity};
use opal_units::SpecificGravity;
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const IDENTITY_FORMAT: &str = "opalwright-identity/1";
/// The name of the format, with its version.
pub const WEIGHING_FORMAT: &str = "opalwright-weighing/1";

/// Stands on every answer and every paper about what a stone is.
pub const NO_CERTIFICATE: &str =
    "This is a judgement made at the bench. It is not a laboratory's certificate.";

/// Something on file about a stone, to which claims link by its name.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OnFileDoc {
    /// Its name on file.
    pub id: String,
    /// What was found, in plain words.
    pub words: String,
    /// Who looked; absent where nobody is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// When, as written on file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// Free text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Name of a photo.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub photo: Option<String>,
    /// SHA-256 of the photo's bytes, hexadecimal; absent where they were not there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub photo_sha256: Option<String>,
}

/// What a stone most likely is, and how sure that is.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-identity/1")]
pub struct IdentityDoc {
    /// `opalwright-identity/1`.
    pub format: String,
    /// What the stone is called.
    pub stone: String,
    /// The answer in plain words.
    pub answer: String,
    /// `nearly-sure`, `probable` or `not-settled`.
    pub sureness: String,
    /// Always the same sentence: no certificate.
    pub no_certificate: String,
    /// What it counts as on paper, likeliest first.
    pub groups: Vec<ShareDoc>,
    /// What it may be in particular, likeliest first.
    pub classes: Vec<ShareDoc>,
    /// What the answer rests on, weightiest first.
    pub grounds: Vec<GroundDoc>,
    /// What does not fit.
    pub contradictions: Vec<ContradictionDoc>,
    /// Safe tests that would tell more, best first.
    pub next_tests: Vec<NextTestDoc>,
    /// Tests that must not be done on this stone as things stand.
    pub refused_tests: Vec<RefusedTestDoc>,
    /// What only a laboratory can tell, when that is where things stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub laboratory: Option<String>,
    /// What was not looked at.
    pub not_tested: Vec<String>,
    /// What was read but could not be used, and why.
    pub notes: Vec<String>,
    /// Everything on file, in the order of the looks.
    pub on_file: Vec<OnFileDoc>,
}

/// How likely one thing is.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShareDoc {
    /// Its key.
    pub key: String,
    /// Its name in plain words.
    pub name: String,
    /// The chance, 0..=1.
    pub share: f64,
    /// One time in twenty it is less.
    pub low: f64,
    /// One time in twenty it is more.
    pub high: f64,
}

/// How much one observation speaks for the answer.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct GroundDoc {
    /// The observation, by its name on file.
    pub observation: String,
    /// What was seen.
    pub seen: String,
    /// Doublings of the odds of the likeliest class; below 0 speaks against it.
    pub doublings: f64,
}

/// Something that does not fit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ContradictionDoc {
    /// The observation, by its name on file; empty when it is the whole.
    pub observation: String,
    /// In plain words.
    pub words: String,
}

/// A test that is safe for this stone as things stand.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NextTestDoc {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// How much it is expected to tell, bits about what the stone counts as.
    pub bits: f64,
    /// Minutes.
    pub minutes: f64,
    /// What it needs.
    pub needs: String,
    /// How to do it.
    pub how: String,
    /// What it can harm.
    pub harm: String,
}

/// A test that must not be done.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RefusedTestDoc {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Why not.
    pub why: String,
}

/// Digits after which a share or a bit says nothing: a ten-thousandth.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

fn shares(shares: &[Share]) -> Vec<ShareDoc> {
    shares
        .iter()
        .map(|share| ShareDoc {
            key: share.key.clone(),
            name: share.name.clone(),
            share: rounded(share.share),
            low: rounded(share.low),
            high: rounded(share.high),
        })
        .collect()
}

impl IdentityDoc {
    /// The document of an answer.
    #[must_use]
    pub fn new(
        stone: &str,
        identity: &Identity,
        on_file: Vec<OnFileDoc>,
        notes: Vec<String>,
    ) -> Self {
        Self {
            format: IDENTITY_FORMAT.to_owned(),
            stone: stone.to_owned(),
            answer: identity.answer.clone(),
            sureness: match identity.sureness {
                Sureness::NearlySure => "nearly-sure",
                Sureness::Probable => "probable",
                Sureness::NotSettled => "not-settled",
            }
            .to_owned(),
            no_certificate: NO_CERTIFICATE.to_owned(),
            groups: shares(&identity.groups),
            classes: shares(&identity.classes),
            grounds: identity
                .grounds
                .iter()
                .map(|ground| GroundDoc {
                    observation: ground.observation.clone(),
                    seen: ground.seen.clone(),
                    doublings: rounded(ground.doublings),
                })
                .collect(),
            contradictions: identity
                .misfits
                .iter()
                .map(|misfit| ContradictionDoc {
                    observation: misfit.observation.clone(),
                    words: misfit.words.clone(),
                })
                .collect(),
            next_tests: identity
                .next
                .iter()
                .map(|test| NextTestDoc {
                    key: test.key.clone(),
                    name: test.name.clone(),
                    bits: rounded(test.bits),
                    minutes: test.minutes,
                    needs: test.needs.clone(),
                    how: test.how.clone(),
                    harm: test.harm.clone(),
                })
                .collect(),
            refused_tests: identity
                .refused
                .iter()
                .map(|test| RefusedTestDoc {
                    key: test.key.clone(),
                    name: test.name.clone(),
                    why: test.why.clone(),
                })
                .collect(),
            laboratory: identity.laboratory.clone(),
            not_tested: identity.not_tested.clone(),
            notes,
            on_file,
        }
    }
}

/// What a stone weighs, or how heavy it is for its size.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-weighing/1")]
pub struct WeighingDoc {
    /// `opalwright-weighing/1`.
    pub format: String,
    /// `in-water` or `from-sizes`.
    pub method: String,
    /// Specific gravity, against water at 4 °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gravity: Option<ReadingDoc>,
    /// Weight that was worked out, ct.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weight_ct: Option<ReadingDoc>,
    /// How many weighings.
    pub weighings: usize,
    /// What the uncertainty of the specific gravity is made of, largest first.
    pub budget: Vec<BudgetDoc>,
    /// What to know about it.
    pub notes: Vec<String>,
}

/// A number with one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ReadingDoc {
    /// The number.
    pub value: f64,
    /// One standard deviation.
    pub sigma: f64,
}

/// One part of an uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BudgetDoc {
    /// Where it comes from.
    pub cause: String,
    /// One standard deviation of the specific gravity that it brings.
    pub sigma: f64,
}

impl WeighingDoc {
    /// Of a weighing in water.
    #[must_use]
    pub fn in_water(weighed: &WeighedGravity) -> Self {
        Self {
            format: WEIGHING_FORMAT.to_owned(),
            method: "in-water".to_owned(),
            gravity: Some(ReadingDoc {
                value: rounded(weighed.gravity.ratio()),
                sigma: rounded(weighed.sigma.ratio()),
            }),
            weight_ct: None,
            weighings: weighed.weighings,
            budget: weighed
                .budget
                .iter()
                .map(|line| BudgetDoc {
                    cause: line.cause.to_owned(),
                    // A part may be far below a ten-thousandth and still be told.
                    sigma: (line.sigma.ratio() * 1e6).round() / 1e6,
                })
                .collect(),
            notes: weighed.notes.clone(),
        }
    }

    /// Of a weight worked out from sizes.
    #[must_use]
    pub fn weight_from_sizes(estimated: &EstimatedWeight) -> Self {
        Self {
            format: WEIGHING_FORMAT.to_owned(),
            method: "from-sizes".to_owned(),
            gravity: None,
            weight_ct: Some(ReadingDoc {
                value: rounded(estimated.weight.carats()),
                sigma: rounded(estimated.sigma.carats()),
            }),
            weighings: 0,
            budget: Vec::new(),
            notes: estimated.notes.clone(),
        }
    }

    /// Of a specific gravity worked out from a dry weight and sizes.
    #[must_use]
    pub fn gravity_from_sizes(gravity: SpecificGravity, sigma: SpecificGravity) -> Self {
        Self {
            format: WEIGHING_FORMAT.to_owned(),
            method: "from-sizes".to_owned(),
            gravity: Some(ReadingDoc {
                value: rounded(gravity.ratio()),
                sigma: rounded(sigma.ratio()),
            }),
            weight_ct: None,
            weighings: 0,
            budget: Vec::new(),
            notes: vec![
                "A rough figure from a dry weight and sizes: it tells plastic and resin from opal, \
                 little more. No water was used."
                    .to_owned(),
            ],
        }
    }
}
