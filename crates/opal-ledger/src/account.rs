//! What costs are kept for, and the accounts.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// What is bought, worked and sold.
#[derive(Clone, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Item {
    /// A stone of the store, by its mark for life.
    Stone(String),
    /// A parcel, by its name: whatever was bought as one and has no record of its
    /// own, be it a bag of rough or a single finished stone.
    Parcel(String),
}

/// What a cost was for.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Cost {
    /// The price of the rough, or of the stone.
    Bought,
    /// Fees and freight of the purchase.
    BroughtIn,
    /// Wheels, blades, polish, dop wax.
    Consumables,
    /// The cutter's own time.
    Time,
}

impl Cost {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 4] = [Self::Bought, Self::BroughtIn, Self::Consumables, Self::Time];

    /// The key that records use.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Bought => "bought",
            Self::BroughtIn => "brought-in",
            Self::Consumables => "consumables",
            Self::Time => "time",
        }
    }
}

/// An account. What comes in or is spent counts above zero (debit), what goes out
/// or is earned below (credit).
#[derive(Clone, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Account {
    /// Money, wherever it lies.
    Cash,
    /// What the shop owes the cutter for time.
    OwnTime,
    /// What is held, at cost.
    Held(Cost, Item),
    /// What was taken for it.
    Sales(Item),
    /// What it had cost, once sold.
    SoldCost(Cost, Item),
    /// Fees of selling it.
    Fees(Item),
    /// What it had cost, once broken, ground away or gone.
    Lost(Cost, Item),
    /// What no single stone can be charged with.
    Overhead(Cost),
}

impl Account {
    /// The item that it is kept for.
    #[must_use]
    pub const fn item(&self) -> Option<&Item> {
        match self {
            Self::Held(_, item)
            | Self::SoldCost(_, item)
            | Self::Lost(_, item)
            | Self::Sales(item)
            | Self::Fees(item) => Some(item),
            Self::Cash | Self::OwnTime | Self::Overhead(_) => None,
        }
    }
}

/// An account's text was not readable.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("'{0}' names no account")]
pub struct AccountError(pub String);

impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stone(mark) => write!(f, "stone/{mark}"),
            Self::Parcel(name) => write!(f, "parcel/{name}"),
        }
    }
}

impl FromStr for Item {
    type Err = AccountError;
    fn from_str(text: &str) -> Result<Self, AccountError> {
        match text.split_once('/') {
            Some(("stone", mark)) if !mark.is_empty() => Ok(Self::Stone(mark.to_owned())),
            Some(("parcel", name)) if !name.is_empty() => Ok(Self::Parcel(name.to_owned())),
            _ => Err(AccountError(text.to_owned())),
        }
    }
}

/// As records name it: `held/bought/stone/5f1c…`.
impl fmt::Display for Account {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cash => f.write_str("cash"),
            Self::OwnTime => f.write_str("own-time"),
            Self::Held(cost, item) => write!(f, "held/{}/{item}", cost.key()),
            Self::Sales(item) => write!(f, "sales/{item}"),
            Self::SoldCost(cost, item) => write!(f, "sold-cost/{}/{item}", cost.key()),
            Self::Fees(item) => write!(f, "fees/{item}"),
            Self::Lost(cost, item) => write!(f, "lost/{}/{item}", cost.key()),
            Self::Overhead(cost) => write!(f, "overhead/{}", cost.key()),
        }
    }
}

impl FromStr for Account {
    type Err = AccountError;
    fn from_str(text: &str) -> Result<Self, AccountError> {
        let refuse = || AccountError(text.to_owned());
        let cost = |key: &str| {
            let found = Cost::ALL.into_iter().find(|cost| cost.key() == key);
            found.ok_or_else(refuse)
        };
        let of_item = |rest: &str| -> Result<(Cost, Item), AccountError> {
            let (key, item) = rest.split_once('/').ok_or_else(refuse)?;
            Ok((cost(key)?, item.parse().map_err(|_| refuse())?))
        };
        let (kind, rest) = text.split_once('/').unwrap_or((text, ""));
        match (kind, rest) {
            ("cash", "") => Ok(Self::Cash),
            ("own-time", "") => Ok(Self::OwnTime),
            ("held", rest) => of_item(rest).map(|(cost, item)| Self::Held(cost, item)),
            ("sold-cost", rest) => of_item(rest).map(|(cost, item)| Self::SoldCost(cost, item)),
            ("lost", rest) => of_item(rest).map(|(cost, item)| Self::Lost(cost, item)),
            ("sales", rest) => rest.parse().map(Self::Sales).map_err(|_| refuse()),
            ("fees", rest) => rest.parse().map(Self::Fees).map_err(|_| refuse()),
            ("overhead", rest) => cost(rest).map(Self::Overhead),
            _ => Err(refuse()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accounts_go_round() {
        let item = || Item::Parcel("Bag / of March".to_owned());
        for account in [
            Account::Cash,
            Account::OwnTime,
            Account::Held(Cost::BroughtIn, item()),
            Account::Sales(Item::Stone("5f1c".to_owned())),
            Account::SoldCost(Cost::Time, item()),
            Account::Fees(item()),
            Account::Lost(Cost::Consumables, item()),
            Account::Overhead(Cost::Bought),
        ] {
            assert_eq!(account.to_string().parse(), Ok(account));
        }
        for text in ["", "held", "held/gold/stone/a", "sales/stone/", "cash/x"] {
            assert!(text.parse::<Account>().is_err(), "{text}");
        }
    }
}
