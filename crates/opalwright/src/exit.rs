//! Exit codes, and errors with a next step. All of them stand here.
//!
//! | code | meaning |
//! |---|---|
//! | 0 | done |
//! | 1 | internal: a fault of the program, or of the machine under it |
//! | 2 | user: the command line asks for something that cannot be |
//! | 3 | data: a file that was given is wrong; every fault is listed |
//! | 130 | stopped before it was done |

use opal_interior::InteriorError;
use opal_job::{JobError, StoreError, StoreFault};
use std::fmt;
use std::process::ExitCode;

/// Who can put it right.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Kind {
    /// Nobody at the bench.
    Internal,
    /// Who typed the command.
    User,
    /// Who wrote the file.
    Data,
    /// Nobody needs to.
    Stopped,
}

impl Kind {
    pub(crate) fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Internal => 1,
            Self::User => 2,
            Self::Data => 3,
            Self::Stopped => 130,
        })
    }
}

/// Why a command failed, and what to try.
#[derive(Debug)]
pub(crate) struct Failure {
    pub(crate) kind: Kind,
    pub(crate) message: String,
    pub(crate) hint: Option<String>,
}

impl Failure {
    pub(crate) fn user(message: impl Into<String>) -> Self {
        Self {
            kind: Kind::User,
            message: message.into(),
            hint: None,
        }
    }

    pub(crate) fn internal(message: impl Into<String>) -> Self {
        Self {
            kind: Kind::Internal,
            message: message.into(),
            hint: None,
        }
    }

    /// What stands on the command line is at fault, not a file.
    pub(crate) fn of_the_command(mut self) -> Self {
        self.kind = Kind::User;
        self
    }

    pub(crate) fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "error: {}", self.message)?;
        if let Some(hint) = &self.hint {
            writeln!(f, "hint: {hint}")?;
        }
        if self.kind == Kind::Internal {
            writeln!(f, "This is not your doing. What was stored before is safe.")?;
        }
        Ok(())
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let (kind, hint) = match error.fault {
            StoreFault::Locked => (
                Kind::User,
                "close the other program or window that uses it, and try again",
            ),
            StoreFault::ReadOnly => (
                Kind::User,
                "allow writing to it, or name another place with --store PATH",
            ),
            StoreFault::Full => (Kind::User, "make room, and try again"),
            StoreFault::Newer => (
                Kind::User,
                "use the newer version, or name another store with --store PATH",
            ),
            StoreFault::Damaged => (
                Kind::Data,
                "put a backup in place: opalwright --store NEW-PATH restore BACKUP",
            ),
            StoreFault::NoStone => (
                Kind::User,
                "opalwright show lists the stones; a file must be named by its path",
            ),
            StoreFault::Exists => (
                Kind::User,
                "choose another name (import --as NAME, or the name in the evidence), or add newer \
                 evidence with take-in --again STONE",
            ),
            StoreFault::File => (
                Kind::User,
                "check the path, or name another with --store PATH",
            ),
            StoreFault::Other => (Kind::Internal, ""),
        };
        Self {
            kind,
            message: error.message,
            hint: (!hint.is_empty()).then(|| hint.to_owned()),
        }
    }
}

impl From<JobError> for Failure {
    fn from(error: JobError) -> Self {
        let message = error.to_string();
        let (kind, hint) = match error {
            JobError::Store(error) => return error.into(),
            JobError::Faults(faults) => {
                let n = faults.0.len();
                return Self {
                    kind: Kind::Data,
                    message: if n == 1 {
                        format!("one thing needs putting right\n{faults}")
                    } else {
                        format!("{n} things need putting right\n{faults}")
                    },
                    hint: None,
                };
            }
            JobError::Interior(InteriorError::Number { .. }) => (Kind::User, ""),
            JobError::Interior(_) => (
                Kind::Data,
                "check the sightings against the shape: places and heights are in the stone frame",
            ),
            JobError::Price(_) => (
                Kind::Data,
                "add the row to your price book: opalwright price-book --out prices.toml, edit it, \
                 then opalwright price-book prices.toml",
            ),
            JobError::Money(_) => (
                Kind::Data,
                "give the asking price in the currency of your price book",
            ),
            JobError::Tender(_) => (Kind::Data, "put the line right in the file of past tenders"),
            JobError::Sales(_) | JobError::Waiting(_) => (Kind::Data, ""),
            JobError::Bid(_) => (Kind::Data, "the limits stand under [bid] in the price book"),
            JobError::Plan(opal_plan::PlanError::Rules(_)) => (
                Kind::Data,
                "the rules stand under [bench] in the price book",
            ),
            JobError::Plan(
                opal_plan::PlanError::Wishes(_)
                | opal_plan::PlanError::OrderDoesNotFit { .. }
                | opal_plan::PlanError::NothingUnderOutline { .. }
                | opal_plan::PlanError::CannotPart { .. },
            ) => (Kind::User, ""),
            JobError::Finish(_) => (Kind::User, ""),
            JobError::Weighing(_) => (Kind::User, "without water: opalwright weigh --sizes L,W,H"),
            JobError::Drying(_) => (
                Kind::User,
                "weigh it again on another day, or give --weights DAY:CT,DAY:CT,…",
            ),
            JobError::Now(_) => (
                Kind::Data,
                "opalwright log STONE list shows what was logged",
            ),
            JobError::Disclose(_) => (Kind::User, ""),
            JobError::NothingLookedAt => (
                Kind::Data,
                "look at it first: opalwright identify READINGS names the safe looks, best first",
            ),
            JobError::CardChanged => (
                Kind::Data,
                "put a backup in place: opalwright --store NEW-PATH restore BACKUP",
            ),
            JobError::NoSuchPlan { .. } => (Kind::User, "opalwright plan numbers them"),
            JobError::Cancelled => (Kind::Stopped, ""),
            JobError::Plan(_)
            | JobError::Pooling(_)
            | JobError::Score(_)
            | JobError::Draws(_)
            | JobError::Document(_)
            | JobError::Sheet(_)
            | JobError::Card(_) => (Kind::Internal, ""),
        };
        Self {
            kind,
            message,
            hint: (!hint.is_empty()).then(|| hint.to_owned()),
        }
    }
}
