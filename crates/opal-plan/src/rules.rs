//! What the bench can do and what the trade accepts.

use opal_evidence::{Fault, Faults};
use opal_units::Length;

/// A dome that may be tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DomeChoice {
    /// Rise over width: below 0.15 low, to 0.30 medium, above high.
    pub rise_over_width: f64,
    /// Profile: 2 for a paraboloid, larger is flatter on top.
    pub exponent: f64,
}

/// What the bench can do and what the trade accepts. Every default is common
/// practice without a source unless said otherwise, and the cutter's to change.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchRules {
    /// What the blade takes. Default 0.5 mm: chosen between thin trim blades
    /// (0.2 to 0.8 mm) with a little wobble.
    pub kerf: Length,
    /// Colour wanted under the whole face. Default 0.8 mm, called comfortable.
    pub least_colour: Length,
    /// Colour below which the face shows potch. Default 0.3 mm, the floor.
    pub showing_colour: Length,
    /// Vertical wall at the edge. Default 1.0 mm.
    pub girdle: Length,
    /// Width of the bevel under it. Default 0.4 mm.
    pub bevel: Length,
    /// A stone is nowhere narrower. Default 4 mm.
    pub least_width: Length,
    /// Least radius of curvature of a freeform outline. Default 2 mm: chosen so
    /// that a bezel can be pushed round it.
    pub least_radius: Length,
    /// Longest a freeform may be over its width. Default 2.5.
    pub most_aspect: f64,
    /// Potch behind the colour that the trade accepts. Default 1.0 mm.
    pub accepted_backing: Length,
    /// Least thickness of a whole stone. Default 2.5 mm.
    pub least_thickness: Length,
    /// Deepest cut that the saw can make. Default 50 mm: what a blade of 150 mm
    /// reaches beyond its flange.
    pub saw_reach: Length,
    /// Left outside the line at the saw. Default 0.5 mm.
    pub saw_allowance: Length,
    /// Lost to sanding and polishing on each side after the coarse wheel.
    /// Default 0.15 mm (published damage depths after a 220 wheel).
    pub finishing_allowance: Length,
    /// Skin, sand and weathered crust that must come off everywhere.
    /// Default 0.3 mm.
    pub skin_allowance: Length,
    /// Chance that a stone breaks where no crack is. Default 0.03.
    pub breakage: f64,
    /// Chance that a crack right across a stone breaks it. Default 0.7.
    pub crack_breakage: f64,
    /// Half the width of face that a crack spoils. Default 0.25 mm.
    pub crack_half_width: Length,
    /// Least steepness allowed for tilting the face against the bar's plane,
    /// as a slope. Default 0.2.
    pub most_slope: f64,
    /// Backing left under the bar of a piece kept whole, as a share of its
    /// shorter size: least and most. Default 0.1 to 0.3: chosen so that a piece
    /// of 50 mm is left 5 to 15 mm thick behind the colour, which it needs to
    /// be handled; how much a piece asks for shows only on the bench, hence a
    /// range.
    pub specimen_backing: (f64, f64),
    /// Domes to try.
    pub domes: Vec<DomeChoice>,
}

impl Default for BenchRules {
    fn default() -> Self {
        let mm = Length::from_mm;
        Self {
            kerf: mm(0.5),
            least_colour: mm(0.8),
            showing_colour: mm(0.3),
            girdle: mm(1.0),
            bevel: mm(0.4),
            least_width: mm(4.0),
            least_radius: mm(2.0),
            most_aspect: 2.5,
            accepted_backing: mm(1.0),
            least_thickness: mm(2.5),
            saw_reach: mm(50.0),
            saw_allowance: mm(0.5),
            finishing_allowance: mm(0.15),
            skin_allowance: mm(0.3),
            breakage: 0.03,
            crack_breakage: 0.7,
            crack_half_width: mm(0.25),
            most_slope: 0.2,
            specimen_backing: (0.1, 0.3),
            domes: [(0.02, 4.0), (0.08, 2.0), (0.15, 2.0), (0.25, 2.0)]
                .map(|(rise_over_width, exponent)| DomeChoice {
                    rise_over_width,
                    exponent,
                })
                .to_vec(),
        }
    }
}

impl BenchRules {
    /// Checks every number at once.
    ///
    /// # Errors
    /// Each rule that is out of its range, with its value and the limit.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Vec::new();
        let mut number = |field: &str, value: f64, low: f64, high: f64, unit: &str| {
            if !(low..=high).contains(&value) {
                faults.push(Fault::new(
                    field,
                    format!("{value}{unit}"),
                    format!("it must lie between {low} and {high}{unit}"),
                ));
            }
        };
        for (field, length, low, high) in [
            ("kerf", self.kerf, 0.0, 10.0),
            ("least_colour", self.least_colour, 0.0, 20.0),
            ("showing_colour", self.showing_colour, 0.0, 20.0),
            ("girdle", self.girdle, 0.0, 20.0),
            ("bevel", self.bevel, 0.0, 5.0),
            ("least_width", self.least_width, 0.5, 200.0),
            ("least_radius", self.least_radius, 0.1, 100.0),
            ("accepted_backing", self.accepted_backing, 0.0, 50.0),
            ("least_thickness", self.least_thickness, 0.1, 50.0),
            ("saw_reach", self.saw_reach, 1.0, 1000.0),
            ("saw_allowance", self.saw_allowance, 0.0, 20.0),
            ("finishing_allowance", self.finishing_allowance, 0.0, 5.0),
            ("skin_allowance", self.skin_allowance, 0.0, 20.0),
            ("crack_half_width", self.crack_half_width, 0.0, 5.0),
        ] {
            number(field, length.mm(), low, high, " mm");
        }
        number("most_aspect", self.most_aspect, 1.0, 20.0, "");
        number("breakage", self.breakage, 0.0, 1.0, "");
        number("crack_breakage", self.crack_breakage, 0.0, 1.0, "");
        number("most_slope", self.most_slope, 0.0, 1.0, "");
        let (least, most) = self.specimen_backing;
        number("specimen_backing[0]", least, 0.0, 2.0, "");
        number("specimen_backing[1]", most, least, 2.0, "");
        for (k, dome) in self.domes.iter().enumerate() {
            let rise = format!("domes[{k}].rise_over_width");
            number(&rise, dome.rise_over_width, 0.0, 1.0, "");
            let exponent = format!("domes[{k}].exponent");
            number(&exponent, dome.exponent, 1.0, 20.0, "");
        }
        if self.domes.is_empty() {
            faults.push(Fault::new("domes", "empty", "give at least one dome"));
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }
}
