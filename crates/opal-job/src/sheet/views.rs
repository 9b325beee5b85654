//! The drawings of the bench sheet.

use opal_geom::contour::contours;
use opal_geom::{CutPlane, Outline, section};
use opal_interior::{Interiors, bar_at};
use opal_plan::{CutKind, CutStone, Plan, SawCut, ValuedPlan};
use opal_report::sheet::{LineKind, SheetLine, SheetMark, SheetView};
use opal_stone::Stone;
use opal_units::Draws;

/// Chance of colour above which the bar is drawn as being there.
const LIKELY: f64 = 0.5;
/// Chance of colour above which it may well reach there. Chosen: one in ten.
const POSSIBLE: f64 = 0.1;
/// Places along the section at which the bar is looked up. Chosen: because two
/// hundred on paper 150 mm wide look smooth.
const N_PLACES_IN_SECTION: usize = 200;
/// The section's letters stand at least this far outside the rough, mm, and at
/// least this share of the section, so that they stay clear of it at half size.
const LETTERS_OUT_MM: f64 = 3.0;
const LETTERS_OUT_SHARE: f64 = 0.05;
/// A saw cut is drawn this far beyond the rough, mm.
const CUT_OUT_MM: f64 = 2.0;

fn line(points_mm: Vec<[f64; 2]>, closed: bool, kind: LineKind) -> SheetLine {
    SheetLine {
        points_mm,
        closed,
        kind,
    }
}

fn mark(at_mm: [f64; 2], text: impl Into<String>, ringed: bool) -> SheetMark {
    SheetMark {
        at_mm,
        text: text.into(),
        ringed,
    }
}

/// The direction of a stone's longer size, radians from the x axis, such that
/// it never points to the left: A stays on the left, B on the right.
fn axis(cut: &CutStone) -> f64 {
    let standard = matches!(cut.kind, CutKind::Standard { .. });
    let along = Outline::new(cut.outline_mm.clone())
        .filter(|_| !standard)
        .map_or(cut.turn.radians(), |o| o.calliper_sizes().long_axis);
    let quarter = std::f64::consts::FRAC_PI_2;
    (along + quarter).rem_euclid(std::f64::consts::PI) - quarter
}

/// The outline about its crown, its longer size along x.
fn laid_along_x(cut: &CutStone) -> Vec<[f64; 2]> {
    let (sin, cos) = axis(cut).sin_cos();
    cut.outline_mm
        .iter()
        .map(|p| {
            let [dx, dy] = [p[0] - cut.crown_mm[0], p[1] - cut.crown_mm[1]];
            [cos * dx + sin * dy, cos * dy - sin * dx]
        })
        .collect()
}

fn bounds(points: &[[f64; 2]]) -> [[f64; 2]; 2] {
    points.iter().fold(
        [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]],
        |[low, high], p| {
            [
                [low[0].min(p[0]), low[1].min(p[1])],
                [high[0].max(p[0]), high[1].max(p[1])],
            ]
        },
    )
}

/// Length and width as the template shows them, mm.
pub(super) fn sizes_mm(cut: &CutStone) -> [f64; 2] {
    if let CutKind::Standard { length, width, .. } = &cut.kind {
        return [length.mm(), width.mm()];
    }
    let [low, high] = bounds(&laid_along_x(cut));
    [high[0] - low[0], high[1] - low[1]]
}

/// One outline for each stone, to cut out and lay on the stone.
pub(super) fn templates(plan: &Plan) -> Vec<SheetView> {
    let several = plan.stones.len() > 1;
    let stones = plan.stones.iter().enumerate();
    stones
        .filter(|(_, cut)| cut.outline_mm.len() > 2)
        .map(|(k, cut)| {
            let outline = laid_along_x(cut);
            let [low, high] = bounds(&outline);
            let ends = [low[0] - 1.5, high[0] + 1.5].map(|x| [x, 0.0]);
            let mut view = SheetView {
                title: if several {
                    format!("Template, stone {}", k + 1)
                } else {
                    "Template".to_owned()
                },
                lines: vec![
                    line(outline, true, LineKind::Stone),
                    line(ends.to_vec(), false, LineKind::Faint),
                ],
                marks: Vec::new(),
                sized: true,
            };
            if k == 0 {
                view.marks = vec![
                    mark([ends[0][0] - 1.5, 0.0], "A", false),
                    mark([ends[1][0] + 1.5, 0.0], "B", false),
                ];
            }
            view
        })
        .collect()
}

/// The rough, the bar, the stones and the upright cuts, from above.
pub(super) fn from_above(
    stone: &Stone,
    interiors: &Interiors,
    valued: &ValuedPlan,
    evidence: &opal_evidence::Evidence,
) -> SheetView {
    let mut view = SheetView {
        title: "From above".to_owned(),
        ..SheetView::default()
    };
    let plan = &valued.plan;
    let main_bar = plan.stones.first().map_or(0, |cut| cut.bar);
    let chance = chance_of_colour(interiors, main_bar);
    for (level, kind) in [(POSSIBLE, LineKind::BarSpread), (LIKELY, LineKind::Bar)] {
        for outline in contours(&stone.grid, &chance, level) {
            view.lines.push(line(outline.into_points(), true, kind));
        }
    }
    let inside: Vec<f64> = (0..stone.grid.len())
        .map(|node| if stone.inside(node) { 1.0 } else { 0.0 })
        .collect();
    for outline in contours(&stone.grid, &inside, 0.5) {
        view.lines
            .push(line(outline.into_points(), true, LineKind::Rough));
    }
    for crack in &evidence.cracks {
        view.lines
            .push(line(crack.trace_mm.clone(), false, LineKind::Avoid));
    }
    for (k, cut) in plan.stones.iter().enumerate() {
        view.lines
            .push(line(cut.outline_mm.clone(), true, LineKind::Stone));
        if plan.stones.len() > 1 {
            view.marks
                .push(mark(cut.crown_mm, format!("stone {}", k + 1), false));
        }
    }
    if let Some(cut) = plan.stones.first() {
        let (from, to) = section_line(stone, cut);
        view.lines
            .push(line(vec![from, to], false, LineKind::Faint));
        let length = (to[0] - from[0]).hypot(to[1] - from[1]);
        let [low, high] = beyond(from, to, letters_out(length));
        view.marks.push(mark(low, "A", false));
        view.marks.push(mark(high, "B", false));
    }
    // A cut parallel to the bar is a line only from the side.
    for cut in plan.cuts.iter().filter(|cut| cut.level_mm.is_none()) {
        let [from, to] = middle_of_blade(cut, plan);
        let [from, to] = beyond(from, to, CUT_OUT_MM);
        let kerf_mm = cut.kerf.mm();
        view.lines
            .push(line(vec![from, to], false, LineKind::Cut { kerf_mm }));
        view.marks.push(mark(from, cut.order.to_string(), true));
    }
    view
}

fn letters_out(section_mm: f64) -> f64 {
    LETTERS_OUT_MM.max(LETTERS_OUT_SHARE * section_mm)
}

/// A line made longer at both ends.
fn beyond(from: [f64; 2], to: [f64; 2], by: f64) -> [[f64; 2]; 2] {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length = dx.hypot(dy).max(f64::MIN_POSITIVE);
    let [ux, uy] = [dx / length * by, dy / length * by];
    [[from[0] - ux, from[1] - uy], [to[0] + ux, to[1] + uy]]
}

/// The middle of the blade's way: a cut that trims has its line at the face that
/// stays, so that the blade runs outside of it; one that parts stones has it in
/// the middle of the gap.
fn middle_of_blade(cut: &SawCut, plan: &Plan) -> [[f64; 2]; 2] {
    let [from, to] = cut.line_mm;
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length = dx.hypot(dy).max(f64::MIN_POSITIVE);
    let normal = [-dy / length, dx / length];
    let sides: Vec<f64> = plan
        .stones
        .iter()
        .flat_map(|stone| &stone.outline_mm)
        .map(|p| (p[0] - from[0]) * normal[0] + (p[1] - from[1]) * normal[1])
        .collect();
    let outward = if sides.iter().all(|&s| s > 0.0) {
        -1.0
    } else if sides.iter().all(|&s| s < 0.0) {
        1.0
    } else {
        0.0
    };
    let by = outward * cut.kerf.mm() / 2.0;
    [from, to].map(|p| [p[0] + by * normal[0], p[1] + by * normal[1]])
}

/// The chance at each node that the bar is there; NaN outside the stone.
fn chance_of_colour(interiors: &Interiors, bar: usize) -> Vec<f64> {
    let cells = interiors.cells();
    let Some(draws) = interiors.bars.get(bar) else {
        return vec![f64::NAN; cells];
    };
    let mut present = vec![0_u32; cells];
    for i in 0..interiors.n {
        for (count, &thickness) in present.iter_mut().zip(draws.thickness(i, cells)) {
            *count += u32::from(thickness > 0.0);
        }
    }
    present
        .into_iter()
        .map(|count| f64::from(count) / interiors.n as f64)
        .collect()
}

/// The line through the crown along the stone's longer size, as far as the
/// rough reaches.
fn section_line(stone: &Stone, cut: &CutStone) -> ([f64; 2], [f64; 2]) {
    let (sin, cos) = axis(cut).sin_cos();
    let along = |at: [f64; 2]| (at[0] - cut.crown_mm[0]) * cos + (at[1] - cut.crown_mm[1]) * sin;
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    // The nodes that lie within a cell of the line bound it.
    let across = |at: [f64; 2]| (at[1] - cut.crown_mm[1]) * cos - (at[0] - cut.crown_mm[0]) * sin;
    for node in (0..stone.grid.len()).filter(|&node| stone.inside(node)) {
        let at = stone.grid.at_index(node);
        if across(at).abs() <= stone.grid.cell_mm {
            low = low.min(along(at));
            high = high.max(along(at));
        }
    }
    let point = |t: f64| [cut.crown_mm[0] + t * cos, cut.crown_mm[1] + t * sin];
    (
        point(low - stone.grid.cell_mm),
        point(high + stone.grid.cell_mm),
    )
}

/// The section from A to B: rough, bar and how far it may reach, the stone in
/// it, and the saw's way.
pub(super) fn from_the_side(
    stone: &Stone,
    interiors: &Interiors,
    valued: &ValuedPlan,
    cut: &CutStone,
) -> SheetView {
    let (from, to) = section_line(stone, cut);
    let mut view = SheetView {
        title: "Section A to B".to_owned(),
        ..SheetView::default()
    };
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length = dx.hypot(dy).max(f64::MIN_POSITIVE);

    let mut skin = Vec::new();
    let mut underside = Vec::new();
    for point in stone.section(from, to) {
        if let Some((above, below)) = point.skin_mm {
            skin.push([point.along_mm, above]);
            underside.push([point.along_mm, below]);
        }
    }
    underside.reverse();
    skin.extend(underside);
    let [low, high] = bounds(&skin);
    if skin.len() < 3 {
        return view;
    }
    view.lines.push(line(skin, true, LineKind::Rough));
    view.lines
        .extend(bar_in_section(stone, interiors, cut.bar, from, to));

    let plane = CutPlane {
        point_mm: [cut.crown_mm[0], cut.crown_mm[1], 0.0],
        normal: [-dy / length, dx / length, 0.0],
    };
    for around in section(&cut.surface(), &plane).loops_mm {
        let points = around
            .into_iter()
            .map(|p| {
                let along = ((p[0] - from[0]) * dx + (p[1] - from[1]) * dy) / length;
                [along, p[2]]
            })
            .collect();
        view.lines.push(line(points, true, LineKind::Stone));
    }

    for saw in &valued.plan.cuts {
        let kerf_mm = saw.kerf.mm();
        let ends = match saw.level_mm {
            Some(level) => {
                let along = match saw.stone {
                    0 => Some([low[0], high[0]]),
                    other => {
                        let stone = valued.plan.stones.get(other);
                        stone.and_then(|stone| crossed(from, to, &stone.outline_mm))
                    }
                };
                let Some(stone) = valued.plan.stones.get(saw.stone) else {
                    continue;
                };
                // The blade runs beyond the face that stays with the stone.
                let level = level + level.signum() * kerf_mm / 2.0;
                let [at_crown, by_x, by_y] = stone.edge_mm;
                let at = |along: f64| {
                    let share = along / length;
                    let at = [from[0] + share * dx, from[1] + share * dy];
                    let height = at_crown
                        + by_x * (at[0] - stone.crown_mm[0])
                        + by_y * (at[1] - stone.crown_mm[1])
                        + level;
                    [along, height]
                };
                along.map(|[a, b]| [at(b + CUT_OUT_MM), at(a - CUT_OUT_MM)])
            }
            None => crossing(from, to, middle_of_blade(saw, &valued.plan))
                .map(|along| [[along, high[1] + CUT_OUT_MM], [along, low[1] - CUT_OUT_MM]]),
        };
        if let Some(ends) = ends {
            view.lines
                .push(line(ends.to_vec(), false, LineKind::Cut { kerf_mm }));
            view.marks.push(mark(ends[0], saw.order.to_string(), true));
        }
    }
    let middle = 0.5 * (low[1] + high[1]);
    let out = letters_out(length);
    view.marks.push(mark([low[0] - out, middle], "A", false));
    view.marks.push(mark([high[0] + out, middle], "B", false));
    view
}

/// From where to where along the section an outline lies across it, mm; `None`
/// where it lies beside it.
fn crossed(from: [f64; 2], to: [f64; 2], outline_mm: &[[f64; 2]]) -> Option<[f64; 2]> {
    let mut ends: Option<[f64; 2]> = None;
    for (k, &p) in outline_mm.iter().enumerate() {
        let side = [p, outline_mm[(k + 1) % outline_mm.len()]];
        let Some(along) = crossing(from, to, side) else {
            continue;
        };
        let [low, high] = ends.unwrap_or([along; 2]);
        ends = Some([low.min(along), high.max(along)]);
    }
    ends
}

/// How far along the section an upright cut crosses it, mm.
fn crossing(from: [f64; 2], to: [f64; 2], cut: [[f64; 2]; 2]) -> Option<f64> {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let [ex, ey] = [cut[1][0] - cut[0][0], cut[1][1] - cut[0][1]];
    let across = dx * ey - dy * ex;
    if across.abs() < 1e-9 {
        return None;
    }
    let [px, py] = [cut[0][0] - from[0], cut[0][1] - from[1]];
    let along = (px * ey - py * ex) / across;
    let on_cut = (px * dy - py * dx) / across;
    let inside = (0.0..=1.0).contains(&along) && (0.0..=1.0).contains(&on_cut);
    inside.then(|| along * dx.hypot(dy))
}

/// Where the bar most likely is and how far it may reach, each as closed lines
/// within the rough.
fn bar_in_section(
    stone: &Stone,
    interiors: &Interiors,
    bar: usize,
    from: [f64; 2],
    to: [f64; 2],
) -> Vec<SheetLine> {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length = dx.hypot(dy);
    let (mut reach, mut likely) = (Runs::default(), Runs::default());
    for k in 0..=N_PLACES_IN_SECTION {
        let share = k as f64 / N_PLACES_IN_SECTION as f64;
        let at = [from[0] + share * dx, from[1] + share * dy];
        let (mut tops, mut bottoms) = (Vec::new(), Vec::new());
        for i in 0..interiors.n {
            if let Some((z, thickness)) = bar_at(interiors, bar, i, at)
                && thickness > 0.0
            {
                tops.push(z);
                bottoms.push(z - thickness);
            }
        }
        let chance = tops.len() as f64 / interiors.n.max(1) as f64;
        let (Some(skin), Ok(tops), Ok(bottoms)) =
            (stone.skin_at(at), Draws::new(tops), Draws::new(bottoms))
        else {
            reach.part();
            likely.part();
            continue;
        };
        let within = |z: f64| z.clamp(skin.1.min(skin.0), skin.0);
        let put = |runs: &mut Runs, least: f64, [high, low]: [f64; 2]| {
            let (high, low) = (within(tops.quantile(high)), within(bottoms.quantile(low)));
            if chance >= least && high > low {
                runs.push(share * length, high, low);
            } else {
                runs.part();
            }
        };
        put(&mut reach, POSSIBLE, [0.95, 0.05]);
        put(&mut likely, LIKELY, [0.5, 0.5]);
    }
    let mut lines = reach.into_lines(LineKind::BarSpread);
    lines.extend(likely.into_lines(LineKind::Bar));
    lines
}

/// Stretches of a band, each from one gap to the next.
#[derive(Default)]
struct Runs {
    done: Vec<Vec<[f64; 2]>>,
    above: Vec<[f64; 2]>,
    below: Vec<[f64; 2]>,
}

impl Runs {
    fn push(&mut self, along: f64, high: f64, low: f64) {
        self.above.push([along, high]);
        self.below.push([along, low]);
    }

    fn part(&mut self) {
        let mut around = std::mem::take(&mut self.above);
        around.extend(std::mem::take(&mut self.below).into_iter().rev());
        if around.len() > 3 {
            self.done.push(around);
        }
    }

    fn into_lines(mut self, kind: LineKind) -> Vec<SheetLine> {
        self.part();
        let lines = self.done.into_iter();
        lines.map(|around| line(around, true, kind)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the line from (0, 0) to (10, 0) is crossed at 4 by x = 4.
    #[test]
    fn a_cut_crosses_the_section_where_it_should() {
        let (from, to) = ([0.0, 0.0], [10.0, 0.0]);
        let at = crossing(from, to, [[4.0, -3.0], [4.0, 5.0]]).expect("they cross");
        assert!((at - 4.0).abs() < 1e-12);
        assert!(crossing(from, to, [[4.0, 1.0], [4.0, 5.0]]).is_none());
        assert!(crossing(from, to, [[0.0, 1.0], [9.0, 1.0]]).is_none());
        let square = [[2.0, -1.0], [5.0, -1.0], [5.0, 1.0], [2.0, 1.0]];
        assert_eq!(crossed(from, to, &square), Some([2.0, 5.0]));
        assert!(crossed(from, to, &square.map(|[x, y]| [x, y + 3.0])).is_none());
    }

    #[test]
    fn a_band_with_a_gap_is_two_closed_lines() {
        let mut runs = Runs::default();
        for k in 0..10 {
            if k == 5 {
                runs.part();
            } else {
                runs.push(f64::from(k), 2.0, 1.0);
            }
        }
        let lines = runs.into_lines(LineKind::Bar);
        assert_eq!(lines.len(), 2);
        assert_eq!(lines[0].points_mm.len(), 10);
        assert_eq!(lines[0].points_mm[0], [0.0, 2.0]);
        assert_eq!(lines[0].points_mm[9], [0.0, 1.0]);
    }
}
