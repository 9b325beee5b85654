//! The possible insides of a stone that is being worked.

use crate::Worked;
use opal_evidence::ExposureKind;
use opal_interior::{
    BarDraws, CrackDraws, DrawOptions, InteriorError, Interiors, SpeckDraws, bar_at,
};
use opal_stone::Stone;
use rand::RngExt as _;

/// Draws that a face which still shows potch may ask for, at most, over what
/// was wanted. Chosen: because beyond it the answer would come too late.
const MOST_ROUNDS: u64 = 4;
/// Fewest insides that agree with the face, from which it is believed.
const FEWEST: usize = 40;
/// How far above the face a bar may lie where potch was seen, mm. Chosen: what
/// a loupe does not tell.
const UNSEEN_MM: f64 = 0.05;

/// Possible insides that honour what was seen at the bench, cut off at the skin
/// as it is now.
///
/// # Errors
/// As [`Interiors::draw`].
pub fn insides(
    worked: &Worked,
    taken_in: &Stone,
    options: &DrawOptions,
) -> Result<Interiors, InteriorError> {
    Ok(cut_to_now(drawn(worked, taken_in, options)?, worked))
}

/// Possible insides of the piece as it was taken in that honour what was seen at
/// the bench: they stay while nothing new is seen, whatever is ground off.
///
/// # Method
/// Drawn for the stone as it was taken in, since what is believed of a form
/// speaks of whole pieces. Insides in which the bar would already show where the
/// face is still potch are dropped and drawn anew (rejection, exact).
/// # Errors
/// As [`Interiors::draw`].
pub fn drawn(
    worked: &Worked,
    taken_in: &Stone,
    options: &DrawOptions,
) -> Result<Interiors, InteriorError> {
    let draw =
        |options: &DrawOptions| Interiors::draw(&worked.evidence, taken_in, options, &|_| {});
    let first = draw(options)?;
    let agree = agreeing(&first, worked);
    if agree.len() == first.n {
        return Ok(first);
    }
    let mut kept = picked(&first, &agree);
    let mut tried = first.n;
    for round in 1..MOST_ROUNDS {
        let missing = options.n - kept.n;
        // As many as should do, by the share that agreed so far.
        let wanted = missing * tried / kept.n.max(1) * 5 / 4 + 2;
        let more = draw(&DrawOptions {
            n: wanted.min(options.n),
            seed: options.seed.child("again", round),
        })?;
        tried += more.n;
        let mut agree = agreeing(&more, worked);
        agree.truncate(missing);
        append(&mut kept, &picked(&more, &agree));
        if kept.n == options.n {
            break;
        }
    }
    if kept.n >= FEWEST.min(options.n) {
        return Ok(kept);
    }
    let mut all = first;
    all.warnings.push(
        "Hardly any inside agrees with the potch that the face still shows: check the heights \
         that were logged."
            .to_owned(),
    );
    Ok(all)
}

/// Drawn insides as the stone holds them now: specks that were seen stand where
/// they show the section that was seen, bars end at the skin.
#[must_use]
pub fn cut_to_now(drawn: Interiors, worked: &Worked) -> Interiors {
    cut_to(drawn, worked, &worked.stone)
}

/// Drawn insides as a part of the stone holds them, the one that is being worked
/// or one that came off.
#[must_use]
pub fn cut_to(mut drawn: Interiors, worked: &Worked, part: &Stone) -> Interiors {
    sink_specks(&mut drawn, worked);
    cut_off(&mut drawn, part);
    drawn
}

fn agreeing(interiors: &Interiors, worked: &Worked) -> Vec<usize> {
    (0..interiors.n)
        .filter(|&i| agrees(interiors, i, worked))
        .collect()
}

/// Puts the ball of every speck seen on a face where it shows the section that
/// was seen: its middle lies below or above the face (above: most of it is
/// ground away), either being as likely.
fn sink_specks(interiors: &mut Interiors, worked: &Worked) {
    let seen: Vec<([f32; 3], f64)> = worked
        .evidence
        .exposures
        .iter()
        .filter(|look| look.kind == ExposureKind::Face)
        .flat_map(|look| &look.specks)
        .filter_map(|speck| Some((speck.at_mm?.map(|v| v as f32), speck.diameter.mm())))
        .collect();
    for i in 0..interiors.n {
        let (from, to) = (interiors.specks.starts[i], interiors.specks.starts[i + 1]);
        let mut rng = interiors.seed.stream("speck-side", i as u64);
        for (at_mm, section_mm) in &seen {
            let below = rng.random::<bool>();
            // Those that were noted stand exactly where they were.
            let ball = interiors.specks.specks[from..to]
                .iter_mut()
                .find(|speck| speck.at_mm == *at_mm);
            if let Some(ball) = ball {
                let radius = f64::from(ball.radius_mm);
                let half = 0.5 * section_mm;
                let away = (radius * radius - half * half).max(0.0).sqrt() as f32;
                ball.at_mm[2] += if below { -away } else { away };
            }
        }
    }
}

/// True when no bar of inside `i` reaches the face where it shows potch.
fn agrees(interiors: &Interiors, i: usize, worked: &Worked) -> bool {
    worked.covered_mm.iter().all(|&[x, y, face]| {
        (0..interiors.bars.len()).all(|bar| {
            bar_at(interiors, bar, i, [x, y]).is_none_or(|(top, thickness)| {
                thickness <= 0.0
                    || top <= face + UNSEEN_MM
                    // The bar was there and is ground away: potch again below it.
                    || top - thickness >= face - UNSEEN_MM
            })
        })
    })
}

fn picked(all: &Interiors, chosen: &[usize]) -> Interiors {
    let cells = all.cells();
    let mut specks = SpeckDraws {
        starts: vec![0],
        specks: Vec::new(),
    };
    let mut cracks = CrackDraws {
        starts: vec![0],
        cracks: Vec::new(),
    };
    for &i in chosen {
        specks.specks.extend(all.specks.of(i));
        specks.starts.push(specks.specks.len());
        cracks.cracks.extend(all.cracks.of(i));
        cracks.starts.push(cracks.cracks.len());
    }
    Interiors {
        n: chosen.len(),
        bars: all
            .bars
            .iter()
            .map(|bar| BarDraws {
                name: bar.name.clone(),
                top_mm: chosen
                    .iter()
                    .flat_map(|&i| bar.top(i, cells))
                    .copied()
                    .collect(),
                thickness_mm: chosen
                    .iter()
                    .flat_map(|&i| bar.thickness(i, cells))
                    .copied()
                    .collect(),
            })
            .collect(),
        specks,
        cracks,
        skin_inset_mm: chosen.iter().map(|&i| all.skin_inset_mm[i]).collect(),
        rests_on: all.rests_on.clone(),
        warnings: all.warnings.clone(),
        seed: all.seed,
        grid: all.grid,
    }
}

fn append(to: &mut Interiors, more: &Interiors) {
    for (bar, other) in to.bars.iter_mut().zip(&more.bars) {
        bar.top_mm.extend(&other.top_mm);
        bar.thickness_mm.extend(&other.thickness_mm);
    }
    for i in 0..more.n {
        to.specks.specks.extend(more.specks.of(i));
        to.specks.starts.push(to.specks.specks.len());
        to.cracks.cracks.extend(more.cracks.of(i));
        to.cracks.starts.push(to.cracks.cracks.len());
    }
    to.skin_inset_mm.extend(&more.skin_inset_mm);
    to.n += more.n;
}

/// Cuts the bars off at the skin as it is now. A ground face lies where it was
/// measured: the error of the skin that was scanned no longer matters there,
/// and is left for the rest of the stone.
fn cut_off(interiors: &mut Interiors, stone: &Stone) {
    let cells = interiors.cells();
    for bar in &mut interiors.bars {
        for (tops, thick) in bar
            .top_mm
            .chunks_exact_mut(cells)
            .zip(bar.thickness_mm.chunks_exact_mut(cells))
        {
            for k in 0..cells {
                if !stone.top_mm[k].is_finite() {
                    tops[k] = f32::NAN;
                    thick[k] = 0.0;
                } else if thick[k] > 0.0 {
                    let upper = tops[k].min(stone.top_mm[k]);
                    let lower = (tops[k] - thick[k]).max(stone.bottom_mm[k]);
                    tops[k] = upper.max(stone.bottom_mm[k]);
                    thick[k] = (upper - lower).max(0.0);
                }
            }
        }
    }
}
