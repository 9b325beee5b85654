//! What the cutter has decided already: outlines, ground to leave, orders.

use crate::order::Order;
use crate::plan::{CutKind, CutStone};
use crate::value::kind_words;
use opal_evidence::{Fault, Faults};
use opal_geom::Outline;
use opal_geom::families::family;
use opal_stone::Stone;
use opal_units::Length;

/// Most stones of one order. Chosen: more make no sense from one piece, and the
/// search for them grows with every stone.
const MOST_ORDERED: usize = 12;

/// What the cutter has decided already; everything empty leaves it to the search.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wishes {
    /// Outlines to be planned as they stand, all in one plan.
    pub pinned: Vec<PinnedOutline>,
    /// Ground that no stone may take in: closed polygons from above, mm.
    pub forbidden: Vec<Vec<[f64; 2]>>,
    /// Sizes to be cut from the piece, all in one plan.
    pub orders: Vec<Order>,
}

/// An outline that the cutter drew.
#[derive(Clone, Debug, PartialEq)]
pub struct PinnedOutline {
    /// What it is sold as: freeform, or a standard size.
    pub kind: CutKind,
    /// From above, closed, not by repetition, mm in the stone frame.
    pub outline_mm: Vec<[f64; 2]>,
    /// The bar that the face shows; `None` for whichever pays best.
    pub bar: Option<usize>,
}

impl PinnedOutline {
    /// The same outline as a planned stone has, to be kept as it is.
    #[must_use]
    pub fn of(stone: &CutStone) -> Self {
        Self {
            kind: stone.kind.clone(),
            outline_mm: stone.outline_mm.clone(),
            bar: Some(stone.bar),
        }
    }
}

impl Wishes {
    /// True where nothing is asked for.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Looks them over against the stone.
    ///
    /// # Errors
    /// Every polygon that spans no area, every outline that leaves the stone or
    /// shows a bar that there is not, every order of a size that is not known.
    pub fn check(&self, stone: &Stone, bars: usize) -> Result<(), Faults> {
        let mut faults = Vec::new();
        for (k, polygon) in self.forbidden.iter().enumerate() {
            if Outline::new(polygon.clone()).is_none() {
                faults.push(Fault::new(
                    format!("forbidden[{k}]"),
                    format!("{} points", polygon.len()),
                    "give at least three points that go once around some ground",
                ));
            }
        }
        for (k, pinned) in self.pinned.iter().enumerate() {
            pinned.check(k, stone, bars, &mut faults);
        }
        for (k, order) in self.orders.iter().enumerate() {
            let field = |what: &str| format!("orders[{k}].{what}");
            let (length, width) = (order.size.length.mm(), order.size.width.mm());
            if !(1..=MOST_ORDERED).contains(&order.count) {
                faults.push(Fault::new(
                    field("count"),
                    order.count,
                    format!("it must lie between 1 and {MOST_ORDERED}"),
                ));
            }
            // False where a size is not a number.
            if !(width > 0.0 && length >= width && length <= 500.0) {
                faults.push(Fault::new(
                    field("size"),
                    format!("{length} × {width} mm"),
                    "give the longer size first, both above 0 and at most 500 mm",
                ));
            } else if family(&order.size.family, length, width, 32).is_none() {
                faults.push(Fault::new(
                    field("size.family"),
                    &order.size.family,
                    "it is none of the outlines that settings are made for",
                ));
            }
        }
        let ordered: usize = self.orders.iter().map(|o| o.count).sum();
        if ordered > MOST_ORDERED {
            faults.push(Fault::new(
                "orders",
                format!("{ordered} stones"),
                format!("ask for at most {MOST_ORDERED} from one piece"),
            ));
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }

    /// The forbidden ground; polygons that span no area are left out.
    pub(crate) fn forbidden_outlines(&self) -> Vec<Outline> {
        self.forbidden
            .iter()
            .filter_map(|polygon| Outline::new(polygon.clone()))
            .collect()
    }

    /// All orders in one line.
    pub(crate) fn orders_title(&self) -> String {
        let titles: Vec<String> = self.orders.iter().map(Order::title).collect();
        titles.join(", ")
    }
}

impl PinnedOutline {
    fn check(&self, k: usize, stone: &Stone, bars: usize, faults: &mut Vec<Fault>) {
        let field = format!("pinned[{k}]");
        if let Some(bar) = self.bar.filter(|&bar| bar >= bars) {
            faults.push(Fault::new(
                format!("{field}.bar"),
                bar,
                format!("the stone has {bars} bars, counted from 0"),
            ));
        }
        if matches!(self.kind, CutKind::Specimen) {
            faults.push(Fault::new(
                format!("{field}.kind"),
                "specimen",
                "a piece kept whole has no outline of its own to pin",
            ));
        }
        let Some(outline) = Outline::new(self.outline_mm.clone()) else {
            faults.push(Fault::new(
                format!("{field}.outline_mm"),
                format!("{} points", self.outline_mm.len()),
                "give at least three points that go once around some ground",
            ));
            return;
        };
        if !outline.is_star_shaped_about(outline.centroid()) {
            faults.push(Fault::new(
                format!("{field}.outline_mm"),
                format!("{} points", self.outline_mm.len()),
                "part of it hides from its middle: no dome can be laid on it",
            ));
        }
        let outside = self
            .outline_mm
            .iter()
            .find(|&&p| !stone.grid.nearest(p).is_some_and(|n| stone.inside(n)));
        if let Some([x, y]) = outside {
            faults.push(Fault::new(
                format!("{field}.outline_mm"),
                format!("({x:.1}, {y:.1}) mm"),
                "this point lies outside the stone",
            ));
        }
    }

    pub(crate) fn outline(&self) -> Option<Outline> {
        Outline::new(self.outline_mm.clone())
    }
}

/// A standard size as it is spoken of: `oval 18 × 13 mm`, `round 6 mm`.
#[must_use]
pub fn size_title(family: &str, length: Length, width: Length) -> String {
    kind_words(&CutKind::Standard {
        family: family.to_owned(),
        length,
        width,
    })
}
