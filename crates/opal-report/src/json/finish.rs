//! `opalwright-finish/1`, `opalwright-saw-or-grind/1` and `opalwright-drying/1`:
//! wheels, saw and drying.

use super::figure::Figure;
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const FINISH_FORMAT: &str = "opalwright-finish/1";
/// The name of the format, with its version.
pub const SAW_FORMAT: &str = "opalwright-saw-or-grind/1";
/// The name of the format, with its version.
pub const DRYING_FORMAT: &str = "opalwright-drying/1";

/// The turns of the wheels for one face.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-finish/1")]
pub struct FinishDoc {
    /// `opalwright-finish/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// Area of the face, mm².
    pub face_mm2: f64,
    /// Stock above the wanted face at the start, mm.
    pub stock_mm: f64,
    /// How surely no wheel's damage is to reach the face.
    pub confidence: f64,
    /// Minutes in all, with changes.
    pub minutes: Figure,
    /// What must still lie above the wanted face when the first wheel stops, mm.
    pub leave_after_first_mm: f64,
    /// The chance that marks of the first wheel are left when the finer wheels
    /// take off only half of what they should.
    pub marks_if_rushed: f64,
    /// What it uses up of the wheels, major units; left out where nobody told how
    /// they wear.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wear: Option<f64>,
    /// ISO 4217 code of what it uses up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// The turns, coarse to fine.
    pub turns: Vec<TurnOfWheelDoc>,
    /// The same stock on smaller and larger faces.
    pub by_face: Vec<AreaMinutesDoc>,
    /// Usual cautions for the work.
    pub cautions: Vec<String>,
    /// What it rests on.
    pub rests_on: Vec<String>,
}

/// One wheel's turn.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TurnOfWheelDoc {
    /// What the cutter calls it.
    pub wheel: String,
    /// Its grain, µm.
    pub grain_um: f64,
    /// What it is sold as, with its scale.
    pub grit: String,
    /// Stock above the wanted face when it starts, mm.
    pub from_mm: f64,
    /// Stock above the wanted face at which it hands over, mm.
    pub to_mm: f64,
    /// Minutes: 5 %, 50 % and 95 %.
    pub minutes: [f64; 3],
    /// What it uses up of the wheel, major units.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wear: Option<f64>,
    /// What must be seen before the next wheel.
    pub look_for: String,
}

/// The minutes for one face.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AreaMinutesDoc {
    /// Area of the face, mm².
    pub face_mm2: f64,
    /// Minutes in all with changes, at the middle of what is believed.
    pub minutes: f64,
}

/// A slab of barren stock, sawn off or ground away.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-saw-or-grind/1")]
pub struct SawOrGrindDoc {
    /// `opalwright-saw-or-grind/1`.
    pub format: String,
    /// How thick it is, mm.
    pub thickness_mm: f64,
    /// Area over which it would be ground, mm².
    pub area_mm2: f64,
    /// Area that the blade would cut through, mm².
    pub cut_mm2: f64,
    /// Feed over the usual one.
    pub pressure: f64,
    /// The wheel that would grind.
    pub wheel: String,
    /// ISO 4217 code of every amount.
    pub currency: String,
    /// `saw` or `grind`: the cheaper at the middle of what is believed.
    pub advice: String,
    /// The chance that sawing is the cheaper.
    pub chance_saw_cheaper: f64,
    /// Minutes to saw it off, with setting up.
    pub saw_minutes: f64,
    /// Minutes to grind it away: 5 %, 50 % and 95 %.
    pub grind_minutes: [f64; 3],
    /// What sawing costs: time and blade, less what the offcut is worth.
    pub saw_cost: f64,
    /// What grinding costs in time: 5 %, 50 % and 95 %.
    pub grind_cost: [f64; 3],
    /// The thickness from which sawing is the cheaper, mm: 5 %, 50 % and 95 %.
    pub break_even_mm: [f64; 3],
    /// Usual cautions for the work.
    pub cautions: Vec<String>,
    /// What it rests on.
    pub rests_on: Vec<String>,
}

/// One weighing of a piece that lies to dry.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DryingPointDoc {
    /// Days since the first.
    pub day: f64,
    /// What the scale said, ct.
    pub weight_ct: f64,
}

/// Is it still losing water?
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-drying/1")]
pub struct DryingDoc {
    /// `opalwright-drying/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// How many weighings it rests on.
    pub weighings: usize,
    /// The weighings, first to last.
    pub weights: Vec<DryingPointDoc>,
    /// Days from the first to the last.
    pub days: f64,
    /// `cut` or `wait`.
    pub advice: String,
    /// The chance that little is left to lose.
    pub settled: f64,
    /// The change between the last two weighings, as a share a week.
    pub last_change_per_week: f64,
    /// What it has still to lose, as a share of its weight now.
    pub still_to_lose: Figure,
    /// Days to wait until little is left to lose.
    pub wait_days: Figure,
    /// What it rests on.
    pub rests_on: Vec<String>,
}
