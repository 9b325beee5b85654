//! What a stone should bring, out of the bid that was kept.

use crate::bench::Bench;
use crate::error::JobError;
use crate::records::StoneNo;
use jiff::Timestamp;
use opal_units::{Currency, Money};
use serde_json::Value;

/// What a stone should bring after the work and the fee.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Expected {
    pub(crate) mean: Money,
    /// One chance in twenty lies below.
    pub(crate) low: Money,
    /// One chance in twenty lies above.
    pub(crate) high: Money,
    /// When it was worked out.
    pub(crate) at: Timestamp,
}

impl Bench {
    /// What the last kept bid of a stone expects: the price that it was worked out at
    /// plus the gain at that price. `None` where there is none.
    pub(crate) fn expected(&self, no: StoneNo) -> Result<Option<Expected>, JobError> {
        let Some(run) = self.ports().store.latest_run(no, "bid")? else {
            return Ok(None);
        };
        let bid: Value = serde_json::from_str(&run.run.output)?;
        Ok(read(&bid).map(|[mean, low, high]| Expected {
            mean,
            low,
            high,
            at: run.at,
        }))
    }
}

/// Mean, low and high out of an `opalwright-bid/1` document; `None` where it lacks
/// one of them.
fn read(bid: &Value) -> Option<[Money; 3]> {
    let currency = Currency::new(bid["bid"]["currency"].as_str()?).ok()?;
    let price = Money::parse(bid["bid"]["amount"].as_str()?, currency).ok()?;
    let figure = |key: &str| {
        let gain = Money::from_major_rounded(bid["gain"][key].as_f64()?, currency).ok()?;
        price.plus(gain).ok()
    };
    Some([figure("mean")?, figure("0.05")?, figure("0.95")?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_stone_should_bring_its_bid_and_the_gain_at_it() {
        let bid = json!({
            "bid": { "amount": "540.00", "currency": "AUD" },
            "gain": { "mean": 261.5, "0.05": -300.25, "0.95": 900.0 },
        });
        let texts = read(&bid).expect("all there").map(Money::amount_text);
        assert_eq!(texts, ["801.50", "239.75", "1440.00"]);
        assert_eq!(read(&json!({ "bid": {} })), None);
    }
}
