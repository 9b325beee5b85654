//! Possible insides that stay in memory from one event at the bench to the next.

use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::error::JobError;
use opal_bench::{cut_to_now, drawn};
use opal_evidence::Evidence;
use opal_geom::Grid;
use opal_interior::{DrawOptions, Interiors};

/// The insides of one stone at the bench, held for the next question: what was
/// ground off needs none drawn anew, only what was seen does. The answer is the
/// same, held or not.
#[derive(Debug, Default)]
pub struct HeldInsides(Option<Held>);

#[derive(Debug)]
struct Held {
    rests_on: RestsOn,
    interiors: Interiors,
}

/// All that a drawing depends on.
#[derive(Debug, PartialEq)]
struct RestsOn {
    evidence: Evidence,
    covered_mm: Vec<[f64; 3]>,
    grid: Grid,
    options: DrawOptions,
}

impl HeldInsides {
    /// The insides of a stone as it is now.
    ///
    /// # Errors
    /// Insides that cannot be drawn.
    pub(crate) fn of(&mut self, at: &AtTheBench, ask: &Ask) -> Result<Interiors, JobError> {
        let worked = &at.worked;
        let rests_on = RestsOn {
            evidence: worked.evidence.clone(),
            covered_mm: worked.covered_mm.clone(),
            grid: at.taken_in.grid,
            options: DrawOptions {
                n: ask.n_interiors,
                seed: ask.seed,
            },
        };
        let held = match self.0.take() {
            Some(held) if held.rests_on == rests_on => held,
            _ => Held {
                interiors: drawn(worked, &at.taken_in, &rests_on.options)?,
                rests_on,
            },
        };
        let now = cut_to_now(held.interiors.clone(), worked);
        self.0 = Some(held);
        Ok(now)
    }
}
