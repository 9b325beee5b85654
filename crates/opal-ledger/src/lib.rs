//! The books: double entry by stone, only ever added to.
//!
//! Layer 3. An [`Event`] is what happened, in the trade's words; an [`Entry`] is
//! that event with its number and its postings, which sum to zero. [`Books`] turn
//! the one into the other and say what is held at what cost and what was earned.
//! Entries stand in the order of their numbers; their dates only say to which
//! month they belong, so that a clock set back cannot reorder the books.
//!
//! Costs follow IAS 2 (*Inventories*): what it cost to buy a stone, to bring it in
//! and to work it stays with the stone until it is sold; selling fees do not.

mod account;
mod books;
mod entry;
mod outcome;
mod post;
mod rate;

pub use account::{Account, AccountError, Cost, Item};
pub use books::{Books, Standing};
pub use entry::{Basis, Draft, Entry, Event, Part, Posting, Side};
pub use outcome::{Costs, Outcome};
pub use rate::{Paid, PaidError, Rate};
