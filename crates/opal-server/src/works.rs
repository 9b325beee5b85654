//! Long work in the background: how far it is, and stopping it.

use crate::error::{ApiError, ErrorBody};
use crate::workbench::{StoneNumber, Watch, Workbench, WorkbenchError};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::watch;

/// Finished works that are remembered, so that a page which comes back can
/// still hear how its work ended. Chosen: because a bench has few pages open.
const FINISHED_KEPT: usize = 64;

/// A work's number.
pub(crate) type WorkNumber = u64;

/// What a work is about; there is one at a time for each.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Subject {
    /// A stone is worked out.
    Stone(StoneNumber),
    /// Every stone that was not bought yet is bid on.
    Lots,
    /// A study of how well the program does.
    Study,
}

/// Where a work stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub(crate) enum WorkState {
    /// Going on.
    Running {
        /// What is being done.
        step: String,
        /// How much of the whole is done, 0..=1.
        share: f64,
    },
    /// Done; the result can be fetched.
    Done,
    /// Stopped by the person.
    Cancelled,
    /// It could not be done.
    Failed {
        /// Why.
        error: ErrorBody,
    },
}

impl WorkState {
    pub(crate) fn name(&self) -> &'static str {
        match self {
            Self::Running { .. } => "running",
            Self::Done => "done",
            Self::Cancelled => "cancelled",
            Self::Failed { .. } => "failed",
        }
    }

    pub(crate) fn is_over(&self) -> bool {
        !matches!(self, Self::Running { .. })
    }
}

struct Work {
    subject: Subject,
    state: watch::Sender<WorkState>,
    cancel: AtomicBool,
}

impl Watch for Work {
    fn at(&self, step: &str, share: f64) {
        self.state.send_modify(|state| {
            if !state.is_over() {
                *state = WorkState::Running {
                    step: step.to_owned(),
                    share: share.clamp(0.0, 1.0),
                };
            }
        });
    }

    fn cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }
}

#[derive(Default)]
struct Table {
    last: WorkNumber,
    works: BTreeMap<WorkNumber, Arc<Work>>,
}

/// All works of this server.
#[derive(Clone, Default)]
pub(crate) struct Works(Arc<Mutex<Table>>);

impl Works {
    fn table(&self) -> MutexGuard<'_, Table> {
        // Nothing that holds the lock can leave the table half changed.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Starts a work, or joins the one that is going on for its subject.
    pub(crate) fn start(
        &self,
        bench: &Arc<dyn Workbench>,
        subject: Subject,
        work: impl FnOnce(&dyn Workbench, &dyn Watch) -> Result<(), WorkbenchError> + Send + 'static,
    ) -> WorkNumber {
        let table = self.table();
        match running_in(&table, subject) {
            Some(number) => number,
            None => Self::start_in(table, bench, subject, work),
        }
    }

    /// Starts a work unless one of its subject is going on, also one that was asked to
    /// stop and has not heard it yet.
    pub(crate) fn start_alone(
        &self,
        bench: &Arc<dyn Workbench>,
        subject: Subject,
        work: impl FnOnce(&dyn Workbench, &dyn Watch) -> Result<(), WorkbenchError> + Send + 'static,
    ) -> Option<WorkNumber> {
        let table = self.table();
        let mut works = table.works.values();
        if works.any(|work| work.subject == subject && !work.state.borrow().is_over()) {
            return None;
        }
        Some(Self::start_in(table, bench, subject, work))
    }

    fn start_in(
        mut table: MutexGuard<'_, Table>,
        bench: &Arc<dyn Workbench>,
        subject: Subject,
        run: impl FnOnce(&dyn Workbench, &dyn Watch) -> Result<(), WorkbenchError> + Send + 'static,
    ) -> WorkNumber {
        table.last += 1;
        let number = table.last;
        let work = Arc::new(Work {
            subject,
            state: watch::Sender::new(WorkState::Running {
                step: String::new(),
                share: 0.0,
            }),
            cancel: AtomicBool::new(false),
        });
        table.works.insert(number, Arc::clone(&work));
        forget_oldest(&mut table);
        drop(table);

        let bench = Arc::clone(bench);
        let runner = Arc::clone(&work);
        let task = tokio::task::spawn_blocking(move || run(bench.as_ref(), runner.as_ref()));
        tokio::spawn(async move {
            let end = match task.await {
                Ok(Ok(())) => WorkState::Done,
                Ok(Err(WorkbenchError::Cancelled)) => WorkState::Cancelled,
                Ok(Err(error)) => WorkState::Failed {
                    error: ApiError::from(error).body,
                },
                Err(_) => WorkState::Failed {
                    error: ApiError::from(WorkbenchError::Internal(
                        "the program stumbled over this; the evidence is safe".to_owned(),
                    ))
                    .body,
                },
            };
            work.state.send_replace(end);
        });
        number
    }

    /// Whether anything is being worked out.
    pub(crate) fn any_running(&self) -> bool {
        let table = self.table();
        table
            .works
            .values()
            .any(|work| !work.state.borrow().is_over())
    }

    /// The work that is going on for a subject.
    pub(crate) fn running(&self, subject: Subject) -> Option<WorkNumber> {
        running_in(&self.table(), subject)
    }

    /// Where a work stands, to be followed.
    pub(crate) fn follow(&self, number: WorkNumber) -> Option<watch::Receiver<WorkState>> {
        self.table()
            .works
            .get(&number)
            .map(|work| work.state.subscribe())
    }

    /// Asks a work to stop; false when there is none of that number.
    pub(crate) fn cancel(&self, number: WorkNumber) -> bool {
        let table = self.table();
        let Some(work) = table.works.get(&number) else {
            return false;
        };
        work.cancel.store(true, Ordering::Relaxed);
        true
    }

    /// Asks every work to stop, when the server goes down.
    pub(crate) fn cancel_all(&self) {
        for work in self.table().works.values() {
            work.cancel.store(true, Ordering::Relaxed);
        }
    }
}

fn running_in(table: &Table, subject: Subject) -> Option<WorkNumber> {
    table
        .works
        .iter()
        .find(|(_, work)| {
            work.subject == subject && !work.state.borrow().is_over() && !work.cancelled()
        })
        .map(|(&number, _)| number)
}

fn forget_oldest(table: &mut Table) {
    let over: Vec<WorkNumber> = table
        .works
        .iter()
        .filter(|(_, work)| work.state.borrow().is_over())
        .map(|(&number, _)| number)
        .collect();
    for number in over.iter().take(over.len().saturating_sub(FINISHED_KEPT)) {
        table.works.remove(number);
    }
}
