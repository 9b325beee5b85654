//! Tables of the books: the same for the terminal, for paper and for a spreadsheet.

use crate::json::{EntriesDoc, ExpectedDoc, GroupDoc, HeldItemDoc, LedgerDoc, SlipDoc};

/// A table: words on the left, figures on the right.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Table {
    /// What it shows.
    pub title: String,
    /// Names of the columns; true where figures stand.
    pub columns: Vec<(&'static str, bool)>,
    /// The cells.
    pub rows: Vec<Vec<String>>,
}

/// What the books are told by.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum GroupBy {
    /// By stone.
    Stone,
    /// By parcel.
    Parcel,
    /// By origin.
    Origin,
    /// By month.
    Month,
}

impl GroupBy {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Stone, Self::Parcel, Self::Origin, Self::Month];

    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stone => "stone",
            Self::Parcel => "parcel",
            Self::Origin => "origin",
            Self::Month => "month",
        }
    }

    /// Those groups of a ledger.
    #[must_use]
    pub fn of(self, doc: &LedgerDoc) -> &[GroupDoc] {
        match self {
            Self::Stone => &doc.by_stone,
            Self::Parcel => &doc.by_parcel,
            Self::Origin => &doc.by_origin,
            Self::Month => &doc.by_month,
        }
    }
}

fn bounds(expected: Option<&ExpectedDoc>) -> [String; 2] {
    expected.map_or_else(Default::default, |expected| {
        [
            expected.mean.clone(),
            format!("{} to {}", expected.low, expected.high),
        ]
    })
}

/// What was earned and what is held, group by group.
#[must_use]
pub fn groups(doc: &LedgerDoc, by: GroupBy) -> Table {
    Table {
        title: format!("By {}", by.word()),
        columns: vec![
            (by.word(), false),
            ("sold", true),
            ("taken", true),
            ("cost", true),
            ("fees", true),
            ("lost", true),
            ("overhead", true),
            ("profit", true),
            ("held", true),
            ("at cost", true),
            ("should bring", true),
            ("nine in ten", true),
        ],
        rows: by
            .of(doc)
            .iter()
            .map(|group| {
                let [mean, range] = bounds(group.held.expected.as_ref());
                vec![
                    group.name.clone(),
                    group.outcome.sold.to_string(),
                    group.outcome.sales.clone(),
                    group.outcome.cost.total.clone(),
                    group.outcome.fees.clone(),
                    group.outcome.lost.clone(),
                    group.outcome.overhead.clone(),
                    group.outcome.profit.clone(),
                    group.held.pieces.to_string(),
                    group.held.cost.total.clone(),
                    mean,
                    range,
                ]
            })
            .collect(),
    }
}

/// Everything that is held.
#[must_use]
pub fn held(items: &[HeldItemDoc]) -> Table {
    Table {
        title: "Held".to_owned(),
        columns: vec![
            ("piece", false),
            ("parcel", false),
            ("origin", false),
            ("since", false),
            ("bought", true),
            ("brought in", true),
            ("used up", true),
            ("own time", true),
            ("at cost", true),
            ("should bring", true),
            ("nine in ten", true),
        ],
        rows: items
            .iter()
            .map(|item| {
                let [mean, range] = bounds(item.expected.as_ref());
                vec![
                    item.name.clone(),
                    item.parcel.clone().unwrap_or_default(),
                    item.origin.clone().unwrap_or_default(),
                    item.since.clone(),
                    item.cost.bought.clone(),
                    item.cost.brought_in.clone(),
                    item.cost.consumables.clone(),
                    item.cost.time.clone(),
                    item.cost.total.clone(),
                    mean,
                    range,
                ]
            })
            .collect(),
    }
}

/// Entries in the order of the books.
#[must_use]
pub fn entries(doc: &EntriesDoc) -> Table {
    Table {
        title: "Entries".to_owned(),
        columns: vec![
            ("no", true),
            ("day", false),
            ("what", false),
            ("piece", false),
            ("amount", true),
            ("note", false),
        ],
        rows: doc
            .entries
            .iter()
            .map(|entry| {
                let slip = &entry.slip;
                let mut what = what(slip);
                if entry.corrected {
                    what.push_str(" (taken back)");
                }
                vec![
                    entry.number.to_string(),
                    slip.date.clone().unwrap_or_default(),
                    what,
                    slip.stone
                        .clone()
                        .or_else(|| slip.parcel.clone())
                        .unwrap_or_default(),
                    amount(slip),
                    slip.note.clone().unwrap_or_default(),
                ]
            })
            .collect(),
    }
}

fn amount(slip: &SlipDoc) -> String {
    let mut text = match (&slip.amount, &slip.hourly) {
        (Some(amount), _) => amount.clone(),
        (None, Some(hourly)) => format!("{hourly}/h"),
        (None, None) => return String::new(),
    };
    if let Some(currency) = &slip.currency {
        text.push_str(&format!(" {currency}"));
    }
    if let Some(rate) = &slip.rate {
        text.push_str(&format!(" at {rate}"));
    }
    text
}

/// What happened, in a few words.
fn what(slip: &SlipDoc) -> String {
    use crate::json::SlipWhat;
    let of = |word: &str| match slip.entry {
        Some(number) => format!("{word} {number}"),
        None => word.to_owned(),
    };
    match slip.what {
        SlipWhat::Bought => "bought".to_owned(),
        SlipWhat::Spent => "used up".to_owned(),
        SlipWhat::Worked => format!("worked {} min", slip.minutes.unwrap_or(0)),
        SlipWhat::Fee => match slip.side {
            Some(crate::json::SlipSide::Buying) => "fee of buying".to_owned(),
            _ => "fee of selling".to_owned(),
        },
        SlipWhat::Split => {
            let names: Vec<&str> = slip
                .parts
                .iter()
                .filter_map(|part| part.stone.as_deref().or(part.parcel.as_deref()))
                .collect();
            format!("split into {}", names.join(", "))
        }
        SlipWhat::Sold => "sold".to_owned(),
        SlipWhat::Returned => of("came back from sale"),
        SlipWhat::Lost => "lost".to_owned(),
        SlipWhat::Corrected => of("takes back entry"),
    }
}

impl Table {
    /// The table without the columns in which nothing stands but noughts.
    #[must_use]
    pub fn without_empty_columns(mut self) -> Self {
        let empty = |cell: &String| cell.chars().all(|c| matches!(c, '0' | '.'));
        let keep: Vec<bool> = (0..self.columns.len())
            .map(|k| k == 0 || !self.rows.iter().all(|row| empty(&row[k])))
            .collect();
        let mut at = keep.iter();
        self.columns.retain(|_| at.next().copied().unwrap_or(true));
        for row in &mut self.rows {
            let mut at = keep.iter();
            row.retain(|_| at.next().copied().unwrap_or(true));
        }
        self
    }
}
