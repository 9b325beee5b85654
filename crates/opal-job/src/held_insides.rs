//! Possible insides that stay in memory from one event at the bench to the next.

use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::error::JobError;
use opal_bench::{Followed, Insides};
use opal_interior::{DrawOptions, Interiors};

/// The insides of one stone at the bench, held for the next question: what was
/// ground off needs none drawn anew, and what was seen is taken in by those that
/// are there. Held or not, the answer is the same to within the error of the
/// draws, and to the last bit while nothing was seen.
#[derive(Default)]
pub struct HeldInsides {
    insides: Option<Insides>,
    drawings: usize,
}

impl HeldInsides {
    /// The insides of a stone as it is now, and how they came to agree with it.
    ///
    /// # Errors
    /// Insides that cannot be drawn.
    pub(crate) fn of(
        &mut self,
        at: &AtTheBench,
        ask: &Ask,
    ) -> Result<(Interiors, Followed), JobError> {
        let options = DrawOptions {
            n: ask.n_interiors,
            seed: ask.seed,
        };
        let origin = at.origin.as_ref();
        // Insides that failed to follow are not held on to.
        let held = self.insides.take();
        let (insides, followed) =
            match held.filter(|held| held.suit(&at.taken_in, origin, &options)) {
                Some(mut held) => {
                    let before = held.drawings();
                    let followed = held.follow(&at.worked, &at.taken_in)?;
                    self.drawings += held.drawings() - before;
                    (held, followed)
                }
                None => {
                    let drawn = Insides::draw(&at.worked, &at.taken_in, origin, &options)?;
                    self.drawings += drawn.drawings();
                    (drawn, Followed::AsTheyWere)
                }
            };
        let now = insides.now(&at.worked);
        self.insides = Some(insides);
        Ok((now, followed))
    }

    /// How often insides were drawn, rather than held or moved to what was seen.
    #[must_use]
    pub fn drawings(&self) -> usize {
        self.drawings
    }
}
