//! Stones from two bars that lie over each other, parted by a cut between.

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::plan::SawCut;
use opal_stone::Stone;
use opal_units::Angle;

/// Bars in pairs of neighbours, the upper first, by their mean height.
pub(crate) fn neighbours(ground: &Ground<'_>) -> Vec<[usize; 2]> {
    let mean = |bar: usize| {
        let tops = || ground.bars[bar].top.iter().filter(|z| z.is_finite());
        tops().map(|&z| f64::from(z)).sum::<f64>() / tops().count().max(1) as f64
    };
    let mut order: Vec<usize> = (0..ground.bars.len()).collect();
    order.sort_by(|&p, &q| mean(q).total_cmp(&mean(p)).then(p.cmp(&q)));
    order.windows(2).map(|w| [w[0], w[1]]).collect()
}

/// The cut beside a stone that parts its bar from the next: its own part of the
/// rough, the rest, and how to saw it.
pub(crate) struct Between {
    pub(crate) own: Stone,
    pub(crate) rest: Stone,
    pub(crate) cut: SawCut,
}

/// Below the back of a stone of the upper bar, or above the crown of one of the
/// lower: parallel to the stone's edge plane, so that it can be set by it.
pub(crate) fn between(ground: &Ground<'_>, stone: &Candidate, upper: bool) -> Between {
    let rules = ground.rules;
    let (allowance, kerf) = (rules.saw_allowance.mm(), rules.kerf.mm());
    let lay = &stone.lay;
    let crown = stone.foot.crown;
    let level = if upper {
        -lay.wall - allowance
    } else {
        lay.height + allowance
    };
    let beyond = if upper { level - kerf } else { level + kerf };
    let plane = |k: usize, level: f64| {
        let [x, y] = ground.grid.at_index(k);
        let (dx, dy) = (x - crown[0], y - crown[1]);
        (lay.edge[0] + lay.edge[1] * dx + lay.edge[2] * dy + level) as f32
    };
    let (mut own, mut rest) = (ground.stone.clone(), ground.stone.clone());
    for k in 0..ground.grid.len() {
        let (over, under) = if upper {
            (&mut own, &mut rest)
        } else {
            (&mut rest, &mut own)
        };
        let (above, below) = if upper {
            (level, beyond)
        } else {
            (beyond, level)
        };
        over.bottom_mm[k] = over.bottom_mm[k].max(plane(k, above));
        under.top_mm[k] = under.top_mm[k].min(plane(k, below));
        for part in [over, under] {
            // The comparison is false outside the stone too (NaN).
            let left = part.top_mm[k] > part.bottom_mm[k];
            if !left {
                part.top_mm[k] = f32::NAN;
                part.bottom_mm[k] = f32::NAN;
            }
        }
    }
    let sizes = stone.foot.outline.calliper_sizes();
    let (sin, cos) = sizes.long_axis.sin_cos();
    let half = sizes.length / 2.0;
    let name = |bar: usize| &ground.interiors.bars[bar].name;
    let place = if upper {
        "below its planned back"
    } else {
        "above its planned face"
    };
    let cut = SawCut {
        order: 1,
        line_mm: [
            [crown[0] - half * cos, crown[1] - half * sin],
            [crown[0] + half * cos, crown[1] + half * sin],
        ],
        tilt: Angle::from_degrees(90.0),
        stone: 0,
        level_mm: Some(level),
        kerf: rules.kerf,
        words: format!(
            "Saw between the bars, parallel to the first stone (bar {}), {allowance:.1} mm {place}. \
             The other part holds the other stone.",
            name(stone.bar),
        ),
    };
    Between { own, rest, cut }
}
