//! A line along which the bars break off.

use crate::Reading;

/// A straight line, seen from above, along which the bars break off and go on higher
/// or lower: what lies on one side tells nothing of the bends on the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// A point on the line, stone frame, mm.
    pub from_mm: [f64; 2],
    /// Another; the two differ.
    pub to_mm: [f64; 2],
    /// How much higher the bars lie to the left of it, looking from the first point to
    /// the second, where that was judged.
    pub rise: Option<Reading>,
}
