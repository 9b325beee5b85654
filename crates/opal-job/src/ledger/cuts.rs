//! What a cut at the bench does to the books: the cost goes with the pieces.

use super::names::Names;
use super::{Appended, KeptEntry, TRIES, item_of, outpaced};
use crate::bench::Bench;
use crate::error::JobError;
use crate::parting::{PartShare, Parted, ShareRule};
use crate::records::{Happening, StoneRecord};
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};
use opal_ledger::{Basis, Books, Draft, Event, Item, Part, Standing};

/// What a cut does to the cost of a stone. A piece is named by its mark.
pub(crate) enum CostMove {
    /// The piece came off, and the cost was parted like this.
    CameOff { piece: String, parted: Parted },
    /// The cut was undone.
    PutBack { piece: String },
}

impl Bench {
    /// Puts on record what happened at the bench together with what it does to the
    /// books: all of it, or nothing.
    pub(crate) fn record_with_costs(
        &self,
        mut happening: Happening,
        whole: &StoneRecord,
        moves: &[CostMove],
        at: Timestamp,
    ) -> Result<(), JobError> {
        for _ in 0..TRIES {
            happening.entries = self.entries_of(whole, moves)?;
            match self.ports().store.add_happening(&happening, at)? {
                Appended::Done => return Ok(()),
                Appended::GrownMeanwhile => {}
            }
        }
        Err(outpaced())
    }

    /// The next entries of the books: none for a stone that they do not hold.
    fn entries_of(
        &self,
        whole: &StoneRecord,
        moves: &[CostMove],
    ) -> Result<Vec<KeptEntry>, JobError> {
        if moves.is_empty() {
            return Ok(Vec::new());
        }
        let mut books = self.books()?.books;
        let n_before = books.entries().len();
        let from = item_of(whole);
        for one in moves {
            let Some(event) = event(&books, &from, one) else {
                continue;
            };
            let draft = Draft {
                date: self.ports().clock.today(),
                event,
                note: None,
            };
            let entry = books.entry(&draft).map_err(|faults| self.refused(faults))?;
            books.take(entry).map_err(Faults::from)?;
        }
        let now = self.ports().clock.now();
        let fresh = books.entries()[n_before..].iter();
        fresh
            .map(|entry| KeptEntry::new(entry, books.home(), now))
            .collect()
    }

    /// The books' faults as faults of the cut.
    fn refused(&self, faults: Faults) -> JobError {
        let names = match self.ports().store.stones() {
            Ok(stones) => Names::new(stones),
            Err(error) => return error.into(),
        };
        let of_the_cut = |fault: Fault| Fault {
            field: format!("books.{}", fault.field),
            ..fault
        };
        let named = self.in_names(faults, &names).0;
        Faults(named.into_iter().map(of_the_cut).collect()).into()
    }
}

fn event(books: &Books, from: &Item, one: &CostMove) -> Option<Event> {
    match one {
        CostMove::CameOff { piece, parted } => {
            let held = books.standing(from) == Some(Standing::Held);
            let items = [from.clone(), Item::Stone(piece.clone())];
            let part = |(item, part): (Item, &PartShare)| Part {
                item,
                weight: part.weight,
            };
            held.then(|| Event::Split {
                from: from.clone(),
                parts: items.into_iter().zip(&parted.parts).map(part).collect(),
                basis: match parted.rule {
                    ShareRule::ExpectedValue => Basis::ExpectedValue,
                    ShareRule::Weight => Basis::Weight,
                },
            })
        }
        CostMove::PutBack { piece } => {
            let piece = Item::Stone(piece.clone());
            let made_it = |event: &Event| {
                matches!(event, Event::Split { from: whole, parts, .. }
                if whole == from && parts.iter().any(|part| part.item == piece))
            };
            let mut standing = books.entries().iter().rev();
            standing
                .find(|entry| !books.is_corrected(entry.number) && made_it(&entry.event))
                .map(|entry| Event::Corrected {
                    entry: entry.number,
                })
        }
    }
}
