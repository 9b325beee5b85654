//! The ensemble.

use opal_evidence::SpeckKind;
use opal_geom::Grid;
use opal_units::Seed;

/// One bar in every interior.
#[derive(Clone, Debug, PartialEq)]
pub struct BarDraws {
    /// Its name.
    pub name: String,
    /// Height of its top: `n · cells` numbers, one interior after the other, mm
    /// in the stone frame. Given where the bar is absent too (the surface it
    /// would lie on); NaN outside the stone.
    pub top_mm: Vec<f32>,
    /// Thickness, same layout, mm; 0 where the bar is absent.
    pub thickness_mm: Vec<f32>,
}

impl BarDraws {
    /// Top heights of interior `i`.
    #[must_use]
    pub fn top(&self, i: usize, cells: usize) -> &[f32] {
        &self.top_mm[i * cells..(i + 1) * cells]
    }

    /// Thicknesses of interior `i`.
    #[must_use]
    pub fn thickness(&self, i: usize, cells: usize) -> &[f32] {
        &self.thickness_mm[i * cells..(i + 1) * cells]
    }
}

/// One inclusion: a ball.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speck {
    /// What it is.
    pub kind: SpeckKind,
    /// Its centre, stone frame, mm.
    pub at_mm: [f32; 3],
    /// Its radius, mm.
    pub radius_mm: f32,
}

/// The inclusions of every interior.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpeckDraws {
    /// Interior `i` holds `specks[starts[i]..starts[i + 1]]`; `n + 1` entries.
    pub starts: Vec<usize>,
    /// All of them.
    pub specks: Vec<Speck>,
}

impl SpeckDraws {
    /// Those of interior `i`.
    #[must_use]
    pub fn of(&self, i: usize) -> &[Speck] {
        &self.specks[self.starts[i]..self.starts[i + 1]]
    }
}

/// One crack: a plane with an extent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrackPlane {
    /// A point on it, stone frame, mm.
    pub at_mm: [f32; 3],
    /// Unit normal.
    pub normal: [f32; 3],
    /// It reaches this far from the point, mm.
    pub radius_mm: f32,
}

/// The cracks of every interior, laid out as [`SpeckDraws`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CrackDraws {
    /// `n + 1` entries.
    pub starts: Vec<usize>,
    /// All of them.
    pub cracks: Vec<CrackPlane>,
}

impl CrackDraws {
    /// Those of interior `i`.
    #[must_use]
    pub fn of(&self, i: usize) -> &[CrackPlane] {
        &self.cracks[self.starts[i]..self.starts[i + 1]]
    }
}

/// The possible insides of one stone, all equally likely.
#[derive(Clone, Debug, PartialEq)]
pub struct Interiors {
    /// What they were drawn from.
    pub seed: Seed,
    /// How many.
    pub n: usize,
    /// The grid of the stone they belong to.
    pub grid: Grid,
    /// The bars, main bar first.
    pub bars: Vec<BarDraws>,
    /// The inclusions.
    pub specks: SpeckDraws,
    /// The cracks.
    pub cracks: CrackDraws,
    /// How far the true skin lies inside (+) or outside (−) the stone's skin,
    /// one number for each interior, mm: what the shape's own error does.
    pub skin_inset_mm: Vec<f32>,
    /// What the forecast rests on, in plain words, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know: a sighting that surprises, a field that
    /// could not be honoured, in plain words.
    pub warnings: Vec<String>,
}

impl Interiors {
    /// Nodes of the grid.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.grid.len()
    }
}
