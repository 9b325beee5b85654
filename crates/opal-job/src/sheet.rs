//! What stands on the bench sheet of a plan.

use crate::error::JobError;
use crate::job::{Job, Plans};
use crate::ports::{Progress, Stage};
use opal_geom::contour::contours;
use opal_geom::{CutPlane, section};
use opal_interior::{Interiors, bar_at};
use opal_plan::{CutStone, ValuedPlan};
use opal_reference::cautions::{self, Step};
use opal_report::sheet::{
    LineKind, Paper, SheetContent, SheetFigure, SheetLine, SheetMark, SheetView, sheet_pdf,
};
use opal_report::text::stone_words;
use opal_stone::Stone;
use opal_units::Draws;

/// Chance of colour above which the bar is drawn as being there.
const LIKELY: f64 = 0.5;
/// Chance of colour above which it may well reach there. Chosen: one in ten.
const POSSIBLE: f64 = 0.1;
/// Places along the section at which the bar is looked up. Chosen: because two
/// hundred on paper 150 mm wide look smooth.
const N_PLACES_IN_SECTION: usize = 200;

impl Job {
    /// What stands on the sheet of plan `k`, counted from 0, the best first.
    /// `date` is printed as it is.
    ///
    /// # Errors
    /// As [`Job::bid`]; no such plan.
    pub fn sheet(
        &mut self,
        k: usize,
        paper: Paper,
        date: &str,
        invented: bool,
        progress: &dyn Progress,
    ) -> Result<SheetContent, JobError> {
        let stone = self.stone(progress)?;
        let interiors = self.interiors(progress)?;
        let plans = self.plans(progress)?;
        let bid = self.bid(progress)?;
        let valued = plans.plans.get(k).ok_or(JobError::NoSuchPlan {
            asked: k + 1,
            there: plans.plans.len(),
        })?;
        progress.at(Stage::Sheet, 0.0);
        let currency = self.settings().currency();
        let plan = &valued.plan;
        let content = SheetContent {
            title: self.evidence().piece.name.clone(),
            subtitle: subtitle(valued, &plans, k),
            date: date.to_owned(),
            paper,
            invented,
            above: from_above(&stone, &interiors, valued, self.evidence()),
            side: plan
                .stones
                .first()
                .map(|cut| from_the_side(&stone, &interiors, cut)),
            steps: steps(valued),
            figures: figures(valued, currency.code()),
            rests_on: bid.sentence.clone(),
            cautions: words_of_caution(valued),
            weigh: if plan.stones.is_empty() {
                vec!["Rough".to_owned()]
            } else {
                ["Rough", "After sawing", "Face open", "Shaped", "Finished"]
                    .map(str::to_owned)
                    .to_vec()
            },
        };
        progress.at(Stage::Sheet, 1.0);
        Ok(content)
    }

    /// The sheet of a plan as a PDF of one page.
    ///
    /// # Errors
    /// As [`Job::sheet`]; a number that cannot be drawn.
    pub fn sheet_pdf(
        &mut self,
        k: usize,
        paper: Paper,
        date: &str,
        invented: bool,
        progress: &dyn Progress,
    ) -> Result<Vec<u8>, JobError> {
        let content = self.sheet(k, paper, date, invented, progress)?;
        Ok(sheet_pdf(&content)?)
    }
}

fn subtitle(valued: &ValuedPlan, plans: &Plans, k: usize) -> String {
    let stones: Vec<String> = valued.plan.stones.iter().map(stone_words).collect();
    let what = if stones.is_empty() {
        opal_report::text::family_words(valued.plan.kind).to_owned()
    } else {
        stones.join(", ")
    };
    let by = match plans.price_by.get(k).copied().flatten() {
        Some(opal_value::PriceUnit::Carat) => "; price it by the carat",
        Some(opal_value::PriceUnit::Piece) => "; price it by the piece",
        None => "",
    };
    format!("Plan {} of {}: {what}{by}", k + 1, plans.plans.len())
}

fn line(points_mm: Vec<[f64; 2]>, closed: bool, kind: LineKind) -> SheetLine {
    SheetLine {
        points_mm,
        closed,
        kind,
    }
}

fn from_above(
    stone: &Stone,
    interiors: &Interiors,
    valued: &ValuedPlan,
    evidence: &opal_evidence::Evidence,
) -> SheetView {
    let mut view = SheetView {
        title: "From above".to_owned(),
        ..SheetView::default()
    };
    let main_bar = valued.plan.stones.first().map_or(0, |cut| cut.bar);
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
    for cut in &valued.plan.stones {
        view.lines
            .push(line(cut.outline_mm.clone(), true, LineKind::Stone));
    }
    for cut in &valued.plan.cuts {
        let kerf_mm = cut.kerf.mm();
        view.lines
            .push(line(cut.line_mm.to_vec(), false, LineKind::Cut { kerf_mm }));
        view.marks.push(SheetMark {
            at_mm: cut.line_mm[0],
            text: cut.order.to_string(),
            ringed: true,
        });
    }
    if let Some(cut) = valued.plan.stones.first() {
        let (from, to) = section_line(stone, cut);
        view.lines
            .push(line(vec![from, to], false, LineKind::Faint));
        for (at_mm, name) in [(from, "A"), (to, "B")] {
            view.marks.push(SheetMark {
                at_mm,
                text: name.to_owned(),
                ringed: false,
            });
        }
    }
    view
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

/// The line through the crown along the stone's longer size, a little beyond
/// the rough at both ends.
fn section_line(stone: &Stone, cut: &CutStone) -> ([f64; 2], [f64; 2]) {
    let (sin, cos) = cut.turn.radians().sin_cos();
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
    let beyond = 2.0 * stone.grid.cell_mm;
    let point = |t: f64| [cut.crown_mm[0] + t * cos, cut.crown_mm[1] + t * sin];
    (point(low - beyond), point(high + beyond))
}

fn from_the_side(stone: &Stone, interiors: &Interiors, cut: &CutStone) -> SheetView {
    let (from, to) = section_line(stone, cut);
    let mut view = SheetView {
        title: "Section A to B".to_owned(),
        ..SheetView::default()
    };
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length = dx.hypot(dy).max(f64::MIN_POSITIVE);
    // The bar: where it most likely is, filled; how far it may well reach, as lines.
    let (mut top, mut bottom) = (Vec::new(), Vec::new());
    let (mut highest, mut lowest) = (Vec::new(), Vec::new());
    for k in 0..=N_PLACES_IN_SECTION {
        let share = k as f64 / N_PLACES_IN_SECTION as f64;
        let at = [from[0] + share * dx, from[1] + share * dy];
        let (mut tops, mut bottoms) = (Vec::new(), Vec::new());
        for i in 0..interiors.n {
            if let Some((z, thickness)) = bar_at(interiors, cut.bar, i, at)
                && thickness > 0.0
            {
                tops.push(z);
                bottoms.push(z - thickness);
            }
        }
        let chance = tops.len() as f64 / interiors.n as f64;
        let (Ok(tops), Ok(bottoms)) = (Draws::new(tops), Draws::new(bottoms)) else {
            continue;
        };
        let along = share * length;
        if chance >= POSSIBLE {
            highest.push([along, tops.quantile(0.95)]);
            lowest.push([along, bottoms.quantile(0.05)]);
        }
        if chance >= LIKELY {
            top.push([along, tops.quantile(0.5)]);
            bottom.push([along, bottoms.quantile(0.5)]);
        }
    }
    if top.len() > 1 {
        bottom.reverse();
        top.extend(bottom);
        view.lines.push(line(top, true, LineKind::Bar));
    }
    for reach in [highest, lowest] {
        if reach.len() > 1 {
            view.lines.push(line(reach, false, LineKind::BarSpread));
        }
    }
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
    if skin.len() > 2 {
        view.lines.push(line(skin, true, LineKind::Rough));
    }
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
    view
}

fn steps(valued: &ValuedPlan) -> Vec<String> {
    let plan = &valued.plan;
    if plan.stones.is_empty() {
        return vec!["Sell it as it is: no work is worth its cost.".to_owned()];
    }
    let mut steps: Vec<String> = plan
        .cuts
        .iter()
        .map(|cut| format!("Cut {}: {}", cut.order, cut.words))
        .collect();
    let stock = &plan.stock;
    steps.push(format!(
        "Grind the back: about {:.1} mm off, so that it lies flat.",
        stock.bottom.mm()
    ));
    steps.push(format!(
        "Open the face: about {:.1} mm down to the colour. Stop every 0.2 mm, wet it and look.",
        stock.top.mm()
    ));
    for (words, share) in valued.revisions.iter().take(2) {
        steps.push(format!(
            "Once it is open, you may end differently: {words} ({}).",
            opal_report::text::in_a_hundred(*share)
        ));
    }
    for cut in &plan.stones {
        let mut words = format!("Shape: {}", stone_words(cut));
        if cut.natural.is_none() {
            words.push_str(&format!(
                "; dome {:.1} mm above a wall of {:.1} mm; bevel {:.1} mm",
                cut.dome.height.mm(),
                cut.back.wall.mm(),
                cut.back.bevel.mm()
            ));
        }
        words.push('.');
        steps.push(words);
    }
    steps.push("Sand and polish through the finer wheels; weigh; write it down.".to_owned());
    steps
}

fn figures(valued: &ValuedPlan, currency: &str) -> Vec<SheetFigure> {
    let figure = |label: &str, unit: &str, draws: &Draws, factor: f64, digits: usize| SheetFigure {
        label: label.to_owned(),
        unit: unit.to_owned(),
        quantiles: [0.05, 0.5, 0.95].map(|p| factor * draws.quantile(p)),
        digits,
    };
    let mut figures = Vec::new();
    if let Some(forecast) = valued.stones.first() {
        figures.push(figure("Finished weight", "ct", &forecast.weight_ct, 1.0, 1));
        figures.push(figure("Colour in it", "ct", &forecast.colour_ct, 1.0, 1));
        figures.push(figure("Clean face", "%", &forecast.clean_share, 100.0, 0));
        figures.push(figure(
            "Least colour",
            "mm",
            &forecast.least_colour_mm,
            1.0,
            1,
        ));
        figures.push(figure("Would fetch", currency, &forecast.worth, 1.0, 0));
    }
    figures.push(figure(
        "Left after the work",
        currency,
        &valued.value.adapting,
        1.0,
        0,
    ));
    figures
}

fn words_of_caution(valued: &ValuedPlan) -> Vec<String> {
    let mut steps = Vec::new();
    if !valued.plan.cuts.is_empty() {
        steps.push(Step::Saw);
    }
    if !valued.plan.stones.is_empty() {
        steps.extend([Step::Grind, Step::Polish, Step::Dop]);
    }
    let mut words: Vec<String> = Vec::new();
    for caution in steps.into_iter().flat_map(cautions::at) {
        if !words.contains(&caution.text) {
            words.push(caution.text.clone());
        }
    }
    words
}
