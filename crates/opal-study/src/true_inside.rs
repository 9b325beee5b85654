//! The true inside of an invented stone, as one interior among the others.

use crate::invented::InventedStone;
use opal_evidence::Evidence;
use opal_interior::{BarDraws, DrawOptions, InteriorError, Interiors};
use opal_units::Seed;

/// The true inside as one interior; specks and cracks as the form has them, drawn
/// apart from those that any advice was learnt on.
pub(crate) fn true_inside(
    invented: &InventedStone,
    evidence: &Evidence,
    seed: Seed,
) -> Result<Interiors, InteriorError> {
    let stone = &invented.stone;
    let drawing = DrawOptions {
        n: 2,
        seed: seed.child("true-specks", 0),
    };
    let mut truth = Interiors::draw(evidence, stone, &drawing, &|_| {})?;
    let (mut top_mm, mut thickness_mm) = (Vec::new(), Vec::new());
    for k in 0..stone.grid.len() {
        if !stone.inside(k) {
            top_mm.push(f32::NAN);
            thickness_mm.push(0.0);
            continue;
        }
        let at = stone.grid.at_index(k);
        let top = invented.bar.top_mm(at) as f32;
        let bottom = top - invented.bar.thickness_mm(at) as f32;
        let upper = top.clamp(stone.bottom_mm[k], stone.top_mm[k]);
        let lower = bottom.clamp(stone.bottom_mm[k], stone.top_mm[k]);
        top_mm.push(upper);
        thickness_mm.push(upper - lower);
    }
    truth.bars = vec![BarDraws {
        name: "A".to_owned(),
        top_mm,
        thickness_mm,
    }];
    truth.n = 1;
    truth.specks.starts.truncate(2);
    truth.specks.specks.truncate(truth.specks.starts[1]);
    truth.cracks.starts.truncate(2);
    truth.cracks.cracks.truncate(truth.cracks.starts[1]);
    // How far off its skin is, too, comes from the law of the forecast.
    truth.skin_inset_mm.truncate(1);
    Ok(truth)
}

/// The interiors with the true one before them: whatever luck hangs on an
/// interior's number is then that of the true inside alone, too.
pub(crate) fn truth_first(truth: &Interiors, drawn: &Interiors) -> Interiors {
    let mut all = truth.clone();
    all.n += drawn.n;
    for (own, more) in all.bars.iter_mut().zip(&drawn.bars) {
        own.top_mm.extend_from_slice(&more.top_mm);
        own.thickness_mm.extend_from_slice(&more.thickness_mm);
    }
    appended(&mut all.specks.starts, &drawn.specks.starts);
    all.specks.specks.extend_from_slice(&drawn.specks.specks);
    appended(&mut all.cracks.starts, &drawn.cracks.starts);
    all.cracks.cracks.extend_from_slice(&drawn.cracks.cracks);
    all.skin_inset_mm.extend_from_slice(&drawn.skin_inset_mm);
    all
}

/// Running counts, those of the second list after those of the first.
fn appended(starts: &mut Vec<usize>, more: &[usize]) {
    let before = starts.last().copied().unwrap_or(0);
    starts.extend(more.iter().skip(1).map(|start| before + start));
}
