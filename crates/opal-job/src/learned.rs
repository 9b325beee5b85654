//! What the cutter's own stones have taught: fields compared, forecasts scored.
//!
//! Read from what is kept anyway: evidence, the last plan that was worked out, the books,
//! and the finished stone as it was priced.

use crate::bench::Bench;
use crate::error::JobError;
use crate::field::{FieldLook, OF_ONE, Pooled, Say};
use crate::own_sales::KeptPrices;
use crate::records::{StoneNo, StoneRecord};
use jiff::civil::Date;
use opal_learn::{Record, WideningRule};
use opal_report::json::{ForecastRecordDoc, LEARNED_FORMAT, LearnedDoc, OriginDoc, TaughtDoc};
use opal_units::Seed;
use rand::RngExt as _;
use serde::Deserialize;
use std::collections::BTreeMap;

/// What is usual of the yield: a fifth of the rough (seam and nobby rough, 10 to 35 %:
/// common practice, no source).
const YIELD: f64 = 0.2;

/// What the records say of one stone.
struct Told {
    look: FieldLook,
    form: String,
    yielded: Option<Say>,
    /// Forecast and outcome, by quantity.
    scored: Vec<(&'static str, Vec<f64>, f64)>,
    finished: bool,
}

/// The part of a kept plan that is held against what came out.
#[derive(Deserialize)]
pub(crate) struct KeptPlan {
    plans: Vec<KeptWay>,
}

#[derive(Deserialize)]
struct KeptWay {
    stones: Vec<KeptCut>,
    #[serde(default)]
    minutes: BTreeMap<String, f64>,
}

#[derive(Deserialize)]
struct KeptCut {
    kind: String,
    family: Option<String>,
    finished_weight_ct: BTreeMap<String, f64>,
    clean_share: BTreeMap<String, f64>,
}

impl KeptPlan {
    /// The best of the ways that end in one stone of this outline: what was finished.
    fn way_to(self, outline: &str) -> Option<KeptWay> {
        self.plans.into_iter().find(|way| {
            matches!(way.stones.as_slice(), [one] if match one.family.as_deref() {
                Some(family) => family == outline,
                None => one.kind == outline,
            })
        })
    }

    /// The middle of the weight that it forecast for a stone of this outline.
    pub(crate) fn weight_ct(self, outline: &str) -> Option<f64> {
        let way = self.way_to(outline)?;
        way.stones.first()?.finished_weight_ct.get("0.5").copied()
    }
}

/// What came of the stones, by stone.
struct Outcomes {
    kept: KeptPrices,
    sold: BTreeMap<StoneNo, (Date, f64)>,
    minutes: BTreeMap<StoneNo, f64>,
}

impl Bench {
    /// What the stones of the store have taught. The invented example is left out
    /// where the cutter has stones of their own.
    ///
    /// # Errors
    /// The store fails.
    pub fn learned(&self) -> Result<LearnedDoc, JobError> {
        let (stones, invented) = self.rough()?;
        let sold = self.sold()?.into_iter();
        let outcomes = Outcomes {
            kept: self.kept_prices()?,
            sold: sold
                .map(|(no, day, amount)| (no, (day, amount.major())))
                .collect(),
            minutes: self.minutes_worked()?,
        };
        let looks: BTreeMap<StoneNo, FieldLook> = self.field_looks()?.into_iter().collect();
        let told = stones
            .iter()
            .map(|stone| {
                let look = looks.get(&stone.no).cloned();
                self.told(stone, look.unwrap_or_default(), &outcomes)
            })
            .collect::<Result<Vec<_>, JobError>>()?;
        let mut warnings = vec![
            "Only stones that you bought have an outcome, so these forecasts lean to the \
             hopeful side."
                .to_owned(),
        ];
        if invented && !stones.is_empty() {
            warnings.push("All of it is the invented example's.".to_owned());
        }
        if told.iter().all(|stone| !stone.finished) {
            warnings.push(
                "No finished stone is on record: work a plan out before you cut (plan STONE), \
                 and describe the stone when it is done (price STONE)."
                    .to_owned(),
            );
        }
        Ok(LearnedDoc {
            format: LEARNED_FORMAT.to_owned(),
            stones: told.len(),
            finished: told.iter().filter(|stone| stone.finished).count(),
            origins: origins(&told)?,
            forecasts: forecasts(&told)?,
            warnings,
        })
    }

    fn told(
        &self,
        stone: &StoneRecord,
        look: FieldLook,
        outcomes: &Outcomes,
    ) -> Result<Told, JobError> {
        let evidence = self.open_number(stone.no)?.evidence;
        let mut forecast = None;
        for record in self.ports().store.runs(stone.no)? {
            match record.run.what.as_str() {
                "plan" => forecast = serde_json::from_str::<KeptPlan>(&record.run.output).ok(),
                // A plan made after the stone was done is no forecast.
                "price" => break,
                _ => {}
            }
        }
        let sold = outcomes.sold.get(&stone.no);
        let price = outcomes.kept.forecast(stone.no, sold.map(|(day, _)| *day));
        let mut scored = Vec::new();
        if let (Some(price), Some((_, amount))) = (price, sold) {
            scored.push(("price", draws_between(&price.amount), *amount));
        }
        let became = price.map(|price| &price.finished);
        let way = became.and_then(|became| forecast?.way_to(&became.shape));
        if let (Some(way), Some(became)) = (&way, became) {
            if let Some(minutes) = outcomes.minutes.get(&stone.no) {
                scored.push(("minutes", draws_between(&way.minutes), *minutes));
            }
            // A piece that was planned as several stones has no single weight.
            if let [cut] = way.stones.as_slice() {
                for (what, said, outcome) in [
                    ("finished-weight", &cut.finished_weight_ct, became.weight_ct),
                    ("clean-share", &cut.clean_share, became.clean_share),
                ] {
                    scored.push((what, draws_between(said), outcome));
                }
            }
        }
        scored.retain(|(_, draws, _)| draws.len() > 1);
        let rough_ct = evidence.piece.weight.map(|weight| weight.carats());
        Ok(Told {
            look,
            form: evidence.piece.form.word().to_owned(),
            yielded: became
                .zip(rough_ct)
                .map(|(stone, rough_ct)| stone.weight_ct / rough_ct)
                .filter(|share| *share > 0.0 && *share <= 1.0)
                .map(|share| ((share / YIELD).ln(), OF_ONE)),
            scored,
            finished: became.is_some(),
        })
    }
}

/// Equally likely values from kept quantiles: straight between levels, flat
/// beyond the ends.
fn draws_between(kept: &BTreeMap<String, f64>) -> Vec<f64> {
    let mut levels: Vec<(f64, f64)> = kept
        .iter()
        .filter_map(|(level, value)| Some((level.parse().ok()?, *value)))
        .collect();
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    if levels.len() < 2 {
        return Vec::new();
    }
    const N: usize = 99;
    (0..N)
        .map(|k| {
            let at = (k as f64 + 0.5) / N as f64;
            let after = levels
                .partition_point(|level| level.0 < at)
                .clamp(1, levels.len() - 1);
            let ((a, low), (b, high)) = (levels[after - 1], levels[after]);
            low + (high - low) * ((at - a) / (b - a)).clamp(0.0, 1.0)
        })
        .collect()
}

/// What each field has taught, by its name.
fn origins(told: &[Told]) -> Result<Vec<OriginDoc>, JobError> {
    let mut fields: BTreeMap<&str, Vec<&Told>> = BTreeMap::new();
    for stone in told {
        if let Some(origin) = &stone.look.origin {
            fields.entry(origin).or_default().push(stone);
        }
    }
    let mut docs: Vec<OriginDoc> = fields
        .iter()
        .map(|(origin, stones)| OriginDoc {
            origin: (*origin).to_owned(),
            stones: stones.len(),
            taught: Vec::new(),
        })
        .collect();
    type Says = fn(&Told) -> Option<Say>;
    let quantities: [(&str, f64, Says); 3] = [
        ("bar-thickness", 1.0, |stone| stone.look.thickness),
        ("specks", 1.0, |stone| stone.look.specks),
        ("yield", YIELD, |stone| stone.yielded),
    ];
    for (what, usual, of) in quantities {
        let says: Vec<Vec<Say>> = fields
            .values()
            .map(|stones| stones.iter().filter_map(|stone| of(stone)).collect())
            .collect();
        let Some(pooled) = Pooled::of(&says)? else {
            continue;
        };
        for (field, between, elsewhere) in pooled.told() {
            let [low, middle, high] = between.map(|times| rounded(usual * times));
            docs[field].taught.push(TaughtDoc {
                what: what.to_owned(),
                stones: says[field].len(),
                middle,
                between: [low, high],
                elsewhere: rounded(usual * elsewhere),
            });
        }
    }
    Ok(docs)
}

/// All stones together, then by origin, then by form; what holds for all is told
/// of a part only where there is another part.
fn forecasts(told: &[Told]) -> Result<Vec<ForecastRecordDoc>, JobError> {
    let mut docs = Vec::new();
    for what in ["finished-weight", "clean-share", "minutes", "price"] {
        let mut parts: BTreeMap<(u8, &str), Record> = BTreeMap::new();
        for (k, stone) in told.iter().enumerate() {
            let Some((_, draws, outcome)) = stone.scored.iter().find(|s| s.0 == what) else {
                continue;
            };
            // Ties at a mass (a clean share of 1) are settled by a number of the
            // stone's own place, so that the answer is the same each time.
            let tie = Seed(0).stream(what, k as u64).random::<f64>();
            let origin = stone.look.origin.as_deref().unwrap_or("unknown field");
            for part in [(0, "all"), (1, origin), (2, stone.form.as_str())] {
                parts.entry(part).or_default().add(*outcome, draws, tie)?;
            }
        }
        let several = |rank: u8| parts.keys().filter(|(r, _)| *r == rank).count() > 1;
        docs.extend(
            parts
                .iter()
                .filter(|((rank, _), _)| *rank == 0 || several(*rank))
                .map(|((_, of), record)| {
                    let (bias, bias_error) = record.bias();
                    ForecastRecordDoc {
                        what: what.to_owned(),
                        of: (*of).to_owned(),
                        stones: record.len(),
                        bias: rounded(bias),
                        bias_error: rounded(bias_error),
                        crps: rounded(record.crps()),
                        held_90: record.held(0.9),
                        pit: record.ranks().counts,
                        widening: rounded(record.widening(WideningRule::default())),
                    }
                }),
        );
    }
    Ok(docs)
}

/// Four digits after the point.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4 + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of a uniform law on 0..1 give its values back, cut at the ends.
    #[test]
    fn kept_quantiles_become_equally_likely_values() {
        let kept: BTreeMap<String, f64> =
            [("mean", 0.5), ("0.05", 0.05), ("0.5", 0.5), ("0.95", 0.95)]
                .into_iter()
                .map(|(level, value)| (level.to_owned(), value))
                .collect();
        let draws = draws_between(&kept);
        assert_eq!(draws.len(), 99);
        assert!((draws[49] - 0.5).abs() < 1e-9);
        assert!((draws[20] - 20.5 / 99.0).abs() < 1e-9);
        assert_eq!(draws[0], 0.05);
        assert!(draws_between(&BTreeMap::new()).is_empty());
    }

    fn stone(origin: &str, times: f64, weight: f64) -> Told {
        Told {
            look: FieldLook {
                origin: Some(origin.to_owned()),
                thickness: Some((times.ln(), OF_ONE)),
                specks: None,
            },
            form: "seam".to_owned(),
            yielded: Some((0.0, OF_ONE)),
            scored: vec![("finished-weight", (0..99).map(f64::from).collect(), weight)],
            finished: true,
        }
    }

    /// Each field is told apart, and leans on what is usual; what nobody looked for is
    /// left out.
    #[test]
    fn fields_are_compared() {
        let told: Vec<Told> = (0..12)
            .flat_map(|_| [stone("Field A", 2.0, 50.0), stone("Field B", 0.7, 50.0)])
            .collect();
        let docs = origins(&told).expect("pools");
        let names: Vec<&str> = docs.iter().map(|doc| doc.origin.as_str()).collect();
        assert_eq!(names, ["Field A", "Field B"]);
        let what: Vec<&str> = docs[0].taught.iter().map(|t| t.what.as_str()).collect();
        assert_eq!(what, ["bar-thickness", "yield"]);
        let thickness = |k: usize| &docs[k].taught[0];
        assert!((1.5..2.0).contains(&thickness(0).middle), "{docs:?}");
        assert!((0.7..0.9).contains(&thickness(1).middle), "{docs:?}");
        assert!(thickness(0).between[0] > thickness(1).between[1]);
        assert_eq!(thickness(0).stones, 12);
        assert!((docs[0].taught[1].middle - YIELD).abs() < 0.02);
    }

    #[test]
    fn forecasts_are_scored_by_field() {
        let told: Vec<Told> = (0..12)
            .map(|k| match k % 2 {
                0 => stone("Field A", 1.0, 20.0),
                _ => stone("Field B", 1.0, 80.0),
            })
            .collect();
        let docs = forecasts(&told).expect("scores");
        let of = |of: &str| docs.iter().find(|doc| doc.of == of).expect("is there");
        assert_eq!((of("all").stones, of("Field A").stones), (12, 6));
        assert!(of("Field A").bias < -20.0 && of("Field B").bias > 20.0);
        assert!(
            docs.iter().all(|doc| doc.of != "seam"),
            "one form alone is all of them"
        );
    }
}
