//! What the cutter has decided of a stone, kept with it, so that every device and
//! every later answer goes by it.

use crate::ask::Ask;
use crate::bench::Bench;
use crate::error::JobError;
use crate::ports::{StoreError, StoreFault};
use crate::records::StoneNo;
use opal_evidence::{Fault, Faults};
use opal_plan::{CutKind, Order, PinnedOutline, Wishes};
use opal_report::json::{PinnedDoc, WishesDoc};
use opal_units::Length;

/// Most orders, pins or polygons. Chosen: no piece gives more stones than a dozen.
const MOST: usize = 12;
/// Most corners of an outline. Chosen: a planned outline has at most a few hundred.
const CORNERS_MAX: usize = 2000;

fn key(no: StoneNo) -> String {
    format!("wishes/{}", no.0)
}

impl Bench {
    /// What was decided of a stone; empty where nothing was.
    ///
    /// # Errors
    /// The store fails, or what it keeps does not read.
    pub fn wishes(&self, no: StoneNo) -> Result<WishesDoc, JobError> {
        let Some(text) = self.ports().store.setting(&key(no))? else {
            return Ok(WishesDoc::default());
        };
        serde_json::from_str(&text).map_err(|error| {
            let message = format!("what was decided of stone {} does not read: {error}", no.0);
            StoreError::new(StoreFault::Damaged, message).into()
        })
    }

    /// Keeps what was decided; what stood there before stays on record.
    ///
    /// # Errors
    /// No such stone; everything that is wrong with it (nothing is changed then); the
    /// store fails.
    pub fn set_wishes(&self, no: StoneNo, wishes: &WishesDoc) -> Result<(), JobError> {
        self.open_number(no)?;
        asked(wishes)?;
        let text = serde_json::to_string(wishes).map_err(JobError::Document)?;
        let now = self.ports().clock.now();
        self.ports().store.set_setting(&key(no), &text, now)?;
        Ok(())
    }

    /// What is asked of a stone's forecast where nobody says otherwise: the usual, with
    /// what was decided of it.
    ///
    /// # Errors
    /// As [`Bench::wishes`].
    pub fn usual_ask(&self, no: StoneNo) -> Result<Ask, JobError> {
        Ok(asked(&self.wishes(no)?)?)
    }
}

fn asked(doc: &WishesDoc) -> Result<Ask, Faults> {
    let mut faults = Vec::new();
    for (field, n) in [
        ("orders", doc.orders.len()),
        ("pinned", doc.pinned.len()),
        ("forbidden_mm", doc.forbidden_mm.len()),
    ] {
        if n > MOST {
            faults.push(Fault::new(field, n, format!("it must hold at most {MOST}")));
        }
    }
    let mut orders = Vec::new();
    for (k, words) in doc.orders.iter().enumerate() {
        match Order::from_words(words) {
            Ok(order) => orders.push(order),
            Err(fault) => faults.push(Fault {
                field: format!("orders[{k}]"),
                ..fault
            }),
        }
    }
    let outlines = doc
        .pinned
        .iter()
        .enumerate()
        .map(|(k, pin)| (format!("pinned[{k}].outline_mm"), &pin.outline_mm))
        .chain(
            doc.forbidden_mm
                .iter()
                .enumerate()
                .map(|(k, polygon)| (format!("forbidden_mm[{k}]"), polygon)),
        );
    for (field, outline) in outlines {
        if !(3..=CORNERS_MAX).contains(&outline.len()) {
            let limit = format!("it must have between 3 and {CORNERS_MAX} corners");
            faults.push(Fault::new(field, outline.len(), limit));
        }
    }
    let ask = Ask {
        most_stones: doc.most_stones.unwrap_or(Ask::default().most_stones),
        wishes: Wishes {
            orders,
            pinned: doc.pinned.iter().map(pinned).collect(),
            forbidden: doc.forbidden_mm.clone(),
        },
        ..Ask::default()
    };
    if let Err(more) = ask.check() {
        faults.extend(more.0);
    }
    if faults.is_empty() {
        Ok(ask)
    } else {
        Err(Faults(faults))
    }
}

fn pinned(doc: &PinnedDoc) -> PinnedOutline {
    PinnedOutline {
        kind: doc
            .size
            .as_ref()
            .map_or(CutKind::Freeform, |size| CutKind::Standard {
                family: size.family.clone(),
                length: Length::from_mm(size.length_mm),
                width: Length::from_mm(size.width_mm),
            }),
        outline_mm: doc.outline_mm.clone(),
        bar: doc.bar,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_orders_and_every_fault_is_told_at_once() {
        let square = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0]];
        let ask = asked(&WishesDoc {
            orders: vec!["a pair of 8 x 6".to_owned()],
            forbidden_mm: vec![square.clone()],
            most_stones: Some(2),
            ..WishesDoc::default()
        })
        .expect("asked");
        assert_eq!(ask.wishes.orders.len(), 1);
        assert!(ask.wishes.orders[0].matched);
        assert_eq!((ask.most_stones, ask.wishes.forbidden.len()), (2, 1));
        let faults = asked(&WishesDoc {
            orders: vec!["a bunch".to_owned()],
            forbidden_mm: vec![square, vec![[0.0, 0.0]]],
            most_stones: Some(0),
            ..WishesDoc::default()
        })
        .expect_err("refused");
        let fields: Vec<&str> = faults.0.iter().map(|fault| fault.field.as_str()).collect();
        assert_eq!(fields, ["orders[0]", "forbidden_mm[1]", "most_stones"]);
    }

    #[test]
    fn nothing_decided_asks_the_usual() {
        assert_eq!(asked(&WishesDoc::default()).expect("asked"), Ask::default());
    }
}
