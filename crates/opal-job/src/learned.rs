//! What the cutter's own stones have taught: fields compared, forecasts scored.
//!
//! Read from what is kept anyway: evidence, the last plan that was worked out, and
//! the finished stone as it was priced.

use crate::bench::Bench;
use crate::error::JobError;
use crate::own_sales::KeptPrices;
use crate::records::StoneRecord;
use jiff::civil::Date;
use opal_evidence::{Evidence, Seen};
use opal_learn::{GroupSpread, Groups, Record, WideningRule, gamma_poisson, normal_groups};
use opal_report::json::{ForecastRecordDoc, LEARNED_FORMAT, LearnedDoc, OriginDoc, TaughtDoc};
use opal_units::Seed;
use rand::RngExt as _;
use serde::Deserialize;
use std::collections::BTreeMap;

/// How far single stones of one field scatter in the logarithm, thickness and
/// yield alike. Chosen: two of three within a factor 1.6.
const OF_ONE: f64 = 0.5;
/// How far fields may differ, and the middle of all, in the logarithm. Chosen.
const BETWEEN: f64 = 0.35;
/// What is believed before any stone: a bar of 2 mm, a yield of a fifth (seam and
/// nobby rough, 10 to 35 %: common practice, no source), each within a factor 1.6.
const THICKNESS_MM: f64 = 2.0;
const YIELD: f64 = 0.2;
const MIDDLE_SD: f64 = 0.5;
const MM2_PER_CM2: f64 = 100.0;

/// What the records say of one stone.
struct Told {
    origin: Option<String>,
    form: String,
    thickness_mm: Option<f64>,
    /// Specks counted, and the area looked at in cm².
    specks: (f64, f64),
    yielded: Option<f64>,
    /// Forecast and outcome, by quantity.
    scored: Vec<(&'static str, Vec<f64>, f64)>,
    finished: bool,
}

/// The part of a kept plan that is held against what came out.
#[derive(Deserialize)]
struct KeptPlan {
    plans: Vec<KeptWay>,
}

#[derive(Deserialize)]
struct KeptWay {
    stones: Vec<KeptCut>,
}

#[derive(Deserialize)]
struct KeptCut {
    finished_weight_ct: BTreeMap<String, f64>,
    clean_share: BTreeMap<String, f64>,
}

impl Bench {
    /// What the stones of the store have taught. The invented example is left out
    /// where the cutter has stones of their own.
    ///
    /// # Errors
    /// The store fails.
    pub fn learned(&self) -> Result<LearnedDoc, JobError> {
        let (stones, invented) = self.rough()?;
        let kept = self.kept_prices()?;
        let sold: BTreeMap<i64, (Date, f64)> = self
            .sold()?
            .into_iter()
            .map(|(no, day, amount)| (no.0, (day, amount.major())))
            .collect();
        let told = stones
            .iter()
            .map(|stone| self.told(stone, &kept, sold.get(&stone.no.0).copied()))
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
        kept: &KeptPrices,
        sold: Option<(Date, f64)>,
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
        let price = kept.forecast(stone.no, sold.map(|(day, _)| day));
        // A piece that was planned as several stones has no single weight.
        let cut = forecast
            .and_then(|plan| plan.plans.into_iter().next())
            .filter(|way| way.stones.len() == 1)
            .and_then(|mut way| way.stones.pop());
        let mut scored = Vec::new();
        if let (Some(price), Some((_, amount))) = (price, sold) {
            scored.push(("price", draws_between(&price.amount), amount));
        }
        let became = price.map(|price| &price.finished);
        if let (Some(cut), Some(became)) = (cut, became) {
            for (what, said, outcome) in [
                ("finished-weight", cut.finished_weight_ct, became.weight_ct),
                ("clean-share", cut.clean_share, became.clean_share),
            ] {
                scored.push((what, draws_between(&said), outcome));
            }
        }
        scored.retain(|(_, draws, _)| draws.len() > 1);
        let rough_ct = evidence.piece.weight.map(|weight| weight.carats());
        Ok(Told {
            origin: evidence.piece.origin.clone(),
            form: evidence.piece.form.word().to_owned(),
            thickness_mm: mean_thickness_mm(&evidence),
            specks: specks(&evidence),
            yielded: became
                .zip(rough_ct)
                .map(|(stone, rough_ct)| stone.weight_ct / rough_ct)
                .filter(|share| *share > 0.0 && *share <= 1.0),
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

fn mean_thickness_mm(evidence: &Evidence) -> Option<f64> {
    let bar = evidence.bars.first()?;
    let read: Vec<f64> = bar
        .sightings
        .iter()
        .filter_map(|sighting| match sighting.seen {
            Seen::Measured {
                thickness: Some(read),
                ..
            } => Some(read.value.mm()),
            Seen::Measured {
                top: Some(top),
                bottom: Some(bottom),
                ..
            } => Some(top.value.mm() - bottom.value.mm()),
            _ => None,
        })
        .collect();
    let mean = if read.is_empty() {
        bar.quick?.thickness.value.mm()
    } else {
        read.iter().sum::<f64>() / read.len() as f64
    };
    (mean > 0.0).then_some(mean)
}

fn specks(evidence: &Evidence) -> (f64, f64) {
    evidence
        .exposures
        .iter()
        .fold((0.0, 0.0), |(count, area), exposure| {
            (
                count + exposure.specks.len() as f64,
                area + exposure.area.mm2() / MM2_PER_CM2,
            )
        })
}

fn by_origin(told: &[Told]) -> BTreeMap<&str, Vec<&Told>> {
    let mut fields: BTreeMap<&str, Vec<&Told>> = BTreeMap::new();
    for stone in told {
        if let Some(origin) = &stone.origin {
            fields.entry(origin).or_default().push(stone);
        }
    }
    fields
}

fn origins(told: &[Told]) -> Result<Vec<OriginDoc>, JobError> {
    let fields = by_origin(told);
    let mut docs: Vec<OriginDoc> = fields
        .iter()
        .map(|(origin, stones)| OriginDoc {
            origin: (*origin).to_owned(),
            stones: stones.len(),
            taught: Vec::new(),
        })
        .collect();
    let fields: Vec<Vec<&Told>> = fields.into_values().collect();
    let mut give = |taught: Vec<(usize, TaughtDoc)>| {
        for (field, doc) in taught {
            docs[field].taught.push(doc);
        }
    };
    give(sizes("bar-thickness-mm", &fields, THICKNESS_MM, |s| {
        s.thickness_mm
    })?);
    give(rates("specks-per-cm2", &fields)?);
    give(sizes("yield", &fields, YIELD, |s| s.yielded)?);
    Ok(docs)
}

/// A size of each field, pooled in the logarithm.
fn sizes(
    what: &str,
    fields: &[Vec<&Told>],
    believed: f64,
    of: impl Fn(&Told) -> Option<f64>,
) -> Result<Vec<(usize, TaughtDoc)>, JobError> {
    let met: Vec<(usize, Vec<f64>)> = fields
        .iter()
        .enumerate()
        .map(|(k, stones)| (k, stones.iter().filter_map(|s| Some(of(s)?.ln())).collect()))
        .filter(|(_, logs): &(usize, Vec<f64>)| !logs.is_empty())
        .collect();
    if met.is_empty() {
        return Ok(Vec::new());
    }
    let estimates: Vec<(f64, f64)> = met
        .iter()
        .map(|(_, logs)| {
            let n = logs.len() as f64;
            (logs.iter().sum::<f64>() / n, OF_ONE / n.sqrt())
        })
        .collect();
    let belief = Groups {
        centre: Some((believed.ln(), MIDDLE_SD)),
        spread: GroupSpread::HalfNormal(BETWEEN),
    };
    let pooled = normal_groups(&estimates, belief)?;
    Ok(met
        .iter()
        .enumerate()
        .map(|(group, (field, logs))| {
            let at = |share: f64| rounded(pooled.group_quantile(group, share).exp());
            let doc = TaughtDoc {
                what: what.to_owned(),
                stones: logs.len(),
                middle: at(0.5),
                between: [at(0.05), at(0.95)],
                elsewhere: rounded(pooled.unmet().0.exp()),
            };
            (*field, doc)
        })
        .collect())
}

/// A rate of each field, pooled.
fn rates(what: &str, fields: &[Vec<&Told>]) -> Result<Vec<(usize, TaughtDoc)>, JobError> {
    let mut met = Vec::new();
    let mut counts = Vec::new();
    for (k, stones) in fields.iter().enumerate() {
        let looked: Vec<_> = stones.iter().filter(|s| s.specks.1 > 0.0).collect();
        if !looked.is_empty() {
            let sum = |of: fn(&Told) -> f64| looked.iter().map(|s| of(s)).sum::<f64>();
            counts.push((sum(|s| s.specks.0), sum(|s| s.specks.1)));
            met.push((k, looked.len()));
        }
    }
    if met.is_empty() {
        return Ok(Vec::new());
    }
    let pooled = gamma_poisson(&counts)?;
    Ok(met
        .into_iter()
        .enumerate()
        .map(|(group, (field, stones))| {
            let at = |share: f64| rounded(pooled.group_quantile(group, share));
            let doc = TaughtDoc {
                what: what.to_owned(),
                stones,
                middle: at(0.5),
                between: [at(0.05), at(0.95)],
                elsewhere: rounded(pooled.unmet_median()),
            };
            (field, doc)
        })
        .collect())
}

/// All stones together, then by origin, then by form; what holds for all is told
/// of a part only where there is another part.
fn forecasts(told: &[Told]) -> Result<Vec<ForecastRecordDoc>, JobError> {
    let mut docs = Vec::new();
    for what in ["finished-weight", "clean-share", "price"] {
        let mut parts: BTreeMap<(u8, &str), Record> = BTreeMap::new();
        for (k, stone) in told.iter().enumerate() {
            let Some((_, draws, outcome)) = stone.scored.iter().find(|s| s.0 == what) else {
                continue;
            };
            // Ties at a mass (a clean share of 1) are settled by a number of the
            // stone's own place, so that the answer is the same each time.
            let tie = Seed(0).stream(what, k as u64).random::<f64>();
            let origin = stone.origin.as_deref().unwrap_or("unknown field");
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

    fn stone(origin: &str, thickness_mm: f64, weight: f64, k: usize) -> Told {
        Told {
            origin: Some(origin.to_owned()),
            form: "seam".to_owned(),
            thickness_mm: Some(thickness_mm),
            specks: (if k % 3 == 0 { 1.0 } else { 0.0 }, 1.0),
            yielded: Some(0.2),
            scored: vec![("finished-weight", (0..99).map(f64::from).collect(), weight)],
            finished: true,
        }
    }

    fn thickness(told: &[Told], origin: &str) -> (f64, f64) {
        let docs = origins(told).expect("pools");
        let field = docs
            .iter()
            .find(|doc| doc.origin == origin)
            .expect("is there");
        let taught = &field.taught[0];
        assert_eq!(taught.what, "bar-thickness-mm");
        (taught.middle, taught.between[1] / taught.between[0])
    }

    /// One stone three times as thick as believed moves its field by less than half
    /// of that; twenty move it nearly all the way, and narrow it.
    #[test]
    fn one_stone_is_not_over_believed() {
        let one = thickness(&[stone("Field A", 6.0, 50.0, 0)], "Field A");
        assert!((2.0..3.8).contains(&one.0), "{one:?}");
        let twenty: Vec<Told> = (0..20).map(|k| stone("Field A", 6.0, 50.0, k)).collect();
        let many = thickness(&twenty, "Field A");
        assert!(many.0 > 5.0 && many.1 < 0.7 * one.1, "{many:?} {one:?}");
    }

    #[test]
    fn forecasts_are_scored_by_field() {
        let told: Vec<Told> = (0..12)
            .map(|k| {
                let field = if k % 2 == 0 { "Field A" } else { "Field B" };
                stone(field, 2.0, if k % 2 == 0 { 20.0 } else { 80.0 }, k)
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
