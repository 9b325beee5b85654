//! Slips as people fill them in, and events.

use super::names::Names;
use crate::bench::Bench;
use jiff::civil::Date;
use opal_evidence::{Fault, Faults};
use opal_ledger::{Basis, Books, Draft, Entry, Event, Item, Paid, Part, Rate, Side};
use opal_report::json::{PartDoc, SharesBy, SlipDoc, SlipSide, SlipWhat};
use opal_units::{Currency, Money};

/// The first year that a date may lie in: earlier ones are slips of the pen.
const FIRST_YEAR: i16 = 1900;

/// What a slip leaves to be filled in.
pub(super) struct Desk<'a> {
    pub(super) bench: &'a Bench,
    pub(super) books: &'a Books,
    pub(super) names: &'a Names,
    pub(super) today: Date,
}

/// The event that a slip tells of, with what it left out filled in.
pub(super) fn draft(slip: &SlipDoc, desk: &Desk<'_>) -> Result<Draft, Faults> {
    Reader {
        slip,
        home: desk.books.home(),
        desk: Some(desk),
        faults: Vec::new(),
    }
    .draft()
}

/// The event of a slip that was kept: stones by their marks, nothing left out.
pub(super) fn of_marks(slip: &SlipDoc, home: Currency) -> Result<Draft, Faults> {
    Reader {
        slip,
        home,
        desk: None,
        faults: Vec::new(),
    }
    .draft()
}

/// The items that a slip names, as far as they can be found.
pub(super) fn items(slip: &SlipDoc, names: &Names) -> Vec<Item> {
    let parts = slip.parts.iter().map(|part| (&part.stone, &part.parcel));
    std::iter::once((&slip.stone, &slip.parcel))
        .chain(parts)
        .filter_map(|(stone, parcel)| match (stone, parcel) {
            (Some(stone), _) => names.find(stone),
            (None, Some(parcel)) => Some(Item::Parcel(parcel.trim().to_owned())),
            (None, None) => None,
        })
        .collect()
}

/// A slip while it is read; faults are gathered.
struct Reader<'a> {
    slip: &'a SlipDoc,
    home: Currency,
    desk: Option<&'a Desk<'a>>,
    faults: Vec<Fault>,
}

impl Reader<'_> {
    fn draft(mut self) -> Result<Draft, Faults> {
        self.refuse_what_does_not_belong();
        let date = self.date();
        let event = self.event();
        let note = self.slip.note.as_deref().map(str::trim);
        let note = note.filter(|note| !note.is_empty()).map(str::to_owned);
        match (date, event) {
            (Some(date), Some(event)) if self.faults.is_empty() => Ok(Draft { date, event, note }),
            _ => Err(Faults(self.faults)),
        }
    }

    fn fault(&mut self, field: &str, value: impl std::fmt::Display, limit: impl Into<String>) {
        self.faults.push(Fault::new(field, value, limit));
    }

    fn missing(&mut self, field: &str, limit: &str) {
        self.fault(field, "missing", limit);
    }

    /// A field that is filled in for nothing is a misunderstanding.
    fn refuse_what_does_not_belong(&mut self) {
        let slip = self.slip;
        let what = slip.what;
        use SlipWhat::{Bought, Corrected, Fee, Returned, Sold, Spent, Split, Worked};
        let paid = matches!(what, Bought | Spent | Fee | Sold | Returned);
        let fields = [
            (
                "stone",
                slip.stone.is_some(),
                !matches!(what, Returned | Corrected),
            ),
            (
                "parcel",
                slip.parcel.is_some(),
                !matches!(what, Returned | Corrected),
            ),
            ("amount", slip.amount.is_some(), paid),
            ("currency", slip.currency.is_some(), paid),
            ("rate", slip.rate.is_some(), paid),
            ("fee", slip.fee.is_some(), what == Sold),
            ("side", slip.side.is_some(), what == Fee),
            ("minutes", slip.minutes.is_some(), what == Worked),
            ("hourly", slip.hourly.is_some(), what == Worked),
            (
                "entry",
                slip.entry.is_some(),
                matches!(what, Returned | Corrected),
            ),
            ("parts", !slip.parts.is_empty(), what == Split),
            ("shares_by", slip.shares_by.is_some(), what == Split),
        ];
        for (field, there, belongs) in fields {
            if there && !belongs {
                let limit = format!("leave it out of what was {}", word(what));
                self.fault(field, "filled in", limit);
            }
        }
        if slip.stone.is_some() && slip.parcel.is_some() {
            self.fault(
                "parcel",
                "filled in",
                "name the stone or the parcel, not both",
            );
        }
    }

    fn date(&mut self) -> Option<Date> {
        let Some(text) = &self.slip.date else {
            let today = self.desk.map(|desk| desk.today);
            if today.is_none() {
                self.missing("date", "it must stand there");
            }
            return today;
        };
        let Ok(date) = text.trim().parse::<Date>() else {
            self.fault(
                "date",
                format!("'{text}'"),
                "it must be a day such as 2026-03-04",
            );
            return None;
        };
        if date.year() < FIRST_YEAR {
            self.fault("date", date, format!("it must not be before {FIRST_YEAR}"));
        }
        // A day of grace for a bench on the other side of the date line.
        if let Some(desk) = self.desk
            && desk.today.tomorrow().is_ok_and(|last| date > last)
        {
            let limit = format!("it lies ahead of this computer's clock ({})", desk.today);
            self.fault("date", date, limit);
        }
        Some(date)
    }

    fn item_of(&mut self, stone: Option<&str>, parcel: Option<&str>, at: &str) -> Option<Item> {
        if let Some(stone) = stone {
            let Some(desk) = self.desk else {
                return Some(Item::Stone(stone.to_owned()));
            };
            let found = desk.names.find(stone);
            if found.is_none() {
                let field = format!("{at}stone");
                self.fault(
                    &field,
                    format!("'{stone}'"),
                    "there is no such stone in the store",
                );
            }
            return found;
        }
        let name = parcel?.trim();
        if name.is_empty() || name.chars().any(char::is_control) {
            let field = format!("{at}parcel");
            self.fault(&field, format!("'{name}'"), "it must be a name on one line");
            return None;
        }
        Some(Item::Parcel(name.to_owned()))
    }

    fn on(&mut self) -> Option<Item> {
        let (stone, parcel) = (self.slip.stone.as_deref(), self.slip.parcel.as_deref());
        self.item_of(stone, parcel, "")
    }

    fn item(&mut self) -> Option<Item> {
        if self.slip.stone.is_none() && self.slip.parcel.is_none() {
            self.missing("stone", "name a stone of the store, or a parcel");
            return None;
        }
        self.on()
    }

    fn currency(&mut self, usual: Currency) -> Option<Currency> {
        let Some(code) = &self.slip.currency else {
            return Some(usual);
        };
        match Currency::new(code.trim()) {
            Ok(currency) => Some(currency),
            Err(error) => {
                self.fault("currency", format!("'{code}'"), error.to_string());
                None
            }
        }
    }

    fn money(&mut self, field: &str, text: &str, currency: Currency) -> Option<Money> {
        match Money::parse(text, currency) {
            Ok(amount) => Some(amount),
            Err(error) => {
                self.fault(field, format!("'{text}'"), error.to_string());
                None
            }
        }
    }

    fn paid(&mut self, field: &str, text: Option<&str>, usual: Currency) -> Option<Paid> {
        let rate = match self
            .slip
            .rate
            .as_ref()
            .map(|text| (text, text.parse::<Rate>()))
        {
            None => None,
            Some((_, Ok(rate))) => Some(rate),
            Some((text, Err(error))) => {
                self.fault("rate", format!("'{text}'"), error.to_string());
                return None;
            }
        };
        let currency = self.currency(usual)?;
        let Some(text) = text else {
            self.missing(field, "say how much");
            return None;
        };
        let amount = self.money(field, text, currency)?;
        Some(Paid { amount, rate })
    }

    fn amount(&mut self) -> Option<Paid> {
        self.paid("amount", self.slip.amount.as_deref(), self.home)
    }

    fn entry(&mut self) -> Option<u64> {
        if self.slip.entry.is_none() {
            self.missing("entry", "say which entry, by its number");
        }
        self.slip.entry
    }

    fn event(&mut self) -> Option<Event> {
        match self.slip.what {
            SlipWhat::Bought => {
                let (item, price) = (self.item(), self.amount());
                Some(Event::Bought {
                    item: item?,
                    price: price?,
                })
            }
            SlipWhat::Spent => {
                let (on, amount) = (self.on(), self.amount());
                amount.map(|amount| Event::Spent { on, amount })
            }
            SlipWhat::Fee => {
                let (on, amount) = (self.on(), self.amount());
                let side = match self.slip.side {
                    Some(SlipSide::Buying) => Some(Side::Buying),
                    Some(SlipSide::Selling) => Some(Side::Selling),
                    None => {
                        self.missing("side", "say 'buying' or 'selling'");
                        None
                    }
                };
                Some(Event::Fee {
                    on,
                    amount: amount?,
                    side: side?,
                })
            }
            SlipWhat::Worked => self.worked(),
            SlipWhat::Split => self.split(),
            SlipWhat::Sold => {
                let (item, price) = (self.item(), self.amount());
                let fee = self.slip.fee.as_deref();
                let fee = fee.map(|fee| self.paid("fee", Some(fee), self.home));
                Some(Event::Sold {
                    item: item?,
                    price: price?,
                    fee: match fee {
                        None => None,
                        Some(fee) => Some(fee?),
                    },
                })
            }
            SlipWhat::Returned => self.returned(),
            SlipWhat::Lost => self.item().map(|item| Event::Lost { item }),
            SlipWhat::Corrected => self.entry().map(|entry| Event::Corrected { entry }),
        }
    }

    fn worked(&mut self) -> Option<Event> {
        let on = self.on();
        if self.slip.minutes.is_none() {
            self.missing("minutes", "say how many");
        }
        let hourly = match &self.slip.hourly {
            Some(text) => self.money("hourly", text, self.home),
            None => {
                let rate = self.desk.map(|desk| desk.bench.own_rate(self.home));
                match rate {
                    Some(Ok(Some(rate))) => Some(rate),
                    Some(Err(error)) => {
                        self.fault("hourly", "missing", error.to_string());
                        None
                    }
                    _ => {
                        let limit = format!("say your rate for an hour, in {}", self.home);
                        self.missing("hourly", &limit);
                        None
                    }
                }
            }
        };
        Some(Event::Worked {
            on,
            minutes: self.slip.minutes?,
            hourly: hourly?,
        })
    }

    fn split(&mut self) -> Option<Event> {
        let from = self.item();
        let slip = self.slip;
        let stated = slip
            .parts
            .iter()
            .filter(|part| part.share.is_some())
            .count();
        if stated > 0 && stated < slip.parts.len() {
            self.fault(
                "parts",
                format!("{stated} of {} with a share", slip.parts.len()),
                "give every part a share, or none",
            );
            return None;
        }
        let mut parts = Vec::new();
        for (k, part) in slip.parts.iter().enumerate() {
            let at = format!("parts[{}].", k + 1);
            let PartDoc {
                stone,
                parcel,
                share,
            } = part;
            if stone.is_some() == parcel.is_some() {
                self.missing(
                    &format!("{at}stone"),
                    "name a stone of the store, or a parcel",
                );
                continue;
            }
            let Some(item) = self.item_of(stone.as_deref(), parcel.as_deref(), &at) else {
                continue;
            };
            if let Some(weight) = share.or_else(|| self.expected_weight(&item, &at)) {
                parts.push(Part { item, weight });
            }
        }
        let basis = match (slip.shares_by, stated) {
            (Some(SharesBy::ExpectedValue), _) | (None, 0) => Basis::ExpectedValue,
            (Some(by @ (SharesBy::Stated | SharesBy::Weight)), 0) => {
                let by = if by == SharesBy::Weight {
                    "weight"
                } else {
                    "stated"
                };
                self.fault("shares_by", by, "no share was stated");
                return None;
            }
            (Some(SharesBy::Weight), _) => Basis::Weight,
            _ => Basis::Stated,
        };
        Some(Event::Split {
            from: from?,
            parts,
            basis,
        })
    }

    /// What a part should bring, in minor units, as its share of the cost.
    fn expected_weight(&mut self, item: &Item, at: &str) -> Option<u64> {
        let desk = self.desk?;
        let mean = desk
            .names
            .number(item)
            .and_then(|no| desk.bench.expected(no).ok().flatten())
            .map(|expected| expected.mean)
            .filter(|mean| mean.currency() == self.home);
        if mean.is_none() {
            let limit = format!(
                "'{}' was not worked out, so its expected value is not known: work it out \
                 (opalwright bid), or give every part a share",
                desk.names.name(item)
            );
            self.missing(&format!("{at}share"), &limit);
        }
        // What should bring a loss takes no cost.
        mean.map(|mean| u64::try_from(mean.minor()).unwrap_or(0))
    }

    fn returned(&mut self) -> Option<Event> {
        let sale = self.entry()?;
        let price = self.desk.and_then(|desk| {
            let entry = desk.books.numbered(sale)?;
            match &entry.event {
                Event::Sold { price, .. } => Some(price.amount),
                _ => None,
            }
        });
        let usual = price.map_or(self.home, Money::currency);
        let whole = price.map(Money::amount_text);
        let text = self.slip.amount.clone().or(whole);
        let Some(text) = text else {
            self.fault("entry", sale, "it is no sale");
            return None;
        };
        let refund = self.paid("amount", Some(&text), usual)?;
        Some(Event::Returned { sale, refund })
    }
}

fn word(what: SlipWhat) -> &'static str {
    match what {
        SlipWhat::Bought => "bought",
        SlipWhat::Spent => "spent",
        SlipWhat::Worked => "worked",
        SlipWhat::Fee => "paid as a fee",
        SlipWhat::Split => "split",
        SlipWhat::Sold => "sold",
        SlipWhat::Returned => "returned",
        SlipWhat::Lost => "lost",
        SlipWhat::Corrected => "corrected",
    }
}

/// An entry as a slip, with the stones' names.
pub(super) fn words(entry: &Entry, names: &Names) -> SlipDoc {
    write(entry, &|item| names.name(item))
}

/// An entry as a slip, with the stones' marks.
pub(super) fn by_mark(entry: &Entry) -> SlipDoc {
    write(entry, &|item| match item {
        Item::Stone(mark) => mark.clone(),
        Item::Parcel(name) => name.clone(),
    })
}

fn write(entry: &Entry, name: &dyn Fn(&Item) -> String) -> SlipDoc {
    let place = |item: Option<&Item>| match item {
        Some(item @ Item::Stone(_)) => (Some(name(item)), None),
        Some(item @ Item::Parcel(_)) => (None, Some(name(item))),
        None => (None, None),
    };
    let mut slip = SlipDoc {
        date: Some(entry.date.to_string()),
        note: entry.note.clone(),
        ..SlipDoc::default()
    };
    let put_paid = |slip: &mut SlipDoc, paid: &Paid| {
        slip.amount = Some(paid.amount.amount_text());
        slip.currency = Some(paid.amount.currency().code().to_owned());
        slip.rate = paid.rate.map(|rate| rate.to_string());
    };
    match &entry.event {
        Event::Bought { item, price } => {
            slip.what = SlipWhat::Bought;
            (slip.stone, slip.parcel) = place(Some(item));
            put_paid(&mut slip, price);
        }
        Event::Spent { on, amount } => {
            slip.what = SlipWhat::Spent;
            (slip.stone, slip.parcel) = place(on.as_ref());
            put_paid(&mut slip, amount);
        }
        Event::Fee { on, amount, side } => {
            slip.what = SlipWhat::Fee;
            (slip.stone, slip.parcel) = place(on.as_ref());
            put_paid(&mut slip, amount);
            slip.side = Some(match side {
                Side::Buying => SlipSide::Buying,
                Side::Selling => SlipSide::Selling,
            });
        }
        Event::Worked {
            on,
            minutes,
            hourly,
        } => {
            slip.what = SlipWhat::Worked;
            (slip.stone, slip.parcel) = place(on.as_ref());
            slip.minutes = Some(*minutes);
            slip.hourly = Some(hourly.amount_text());
        }
        Event::Split { from, parts, basis } => {
            slip.what = SlipWhat::Split;
            (slip.stone, slip.parcel) = place(Some(from));
            slip.shares_by = Some(match basis {
                Basis::ExpectedValue => SharesBy::ExpectedValue,
                Basis::Weight => SharesBy::Weight,
                Basis::Stated => SharesBy::Stated,
            });
            slip.parts = parts
                .iter()
                .map(|part| {
                    let (stone, parcel) = place(Some(&part.item));
                    PartDoc {
                        stone,
                        parcel,
                        share: Some(part.weight),
                    }
                })
                .collect();
        }
        Event::Sold { item, price, fee } => {
            slip.what = SlipWhat::Sold;
            (slip.stone, slip.parcel) = place(Some(item));
            put_paid(&mut slip, price);
            slip.fee = fee.map(|fee| fee.amount.amount_text());
        }
        Event::Returned { sale, refund } => {
            slip.what = SlipWhat::Returned;
            slip.entry = Some(*sale);
            put_paid(&mut slip, refund);
        }
        Event::Lost { item } => {
            slip.what = SlipWhat::Lost;
            (slip.stone, slip.parcel) = place(Some(item));
        }
        Event::Corrected { entry } => {
            slip.what = SlipWhat::Corrected;
            slip.entry = Some(*entry);
        }
    }
    slip
}
