//! A stone from three calliper sizes.

use crate::superellipsoid::Superellipsoid;
use crate::weight::{self, WeightCheck};
use crate::{GridChoice, ShapeSource, Stone};
use opal_evidence::{Callipers, Fault, Faults, Piece};
use opal_reference::solidity;
use opal_units::{Length, Volume};

/// One standard deviation of a solidity that the cutter judged.
/// Chosen: because half of the spread between stones remains (common practice,
/// no source).
const JUDGED_SOLIDITY_SD: f64 = 0.03;
/// One standard deviation of a calliper reading on rough, mm.
/// Chosen: because the jaws find the longest line only about (common practice,
/// no source).
const READING_SIGMA_MM: f64 = 0.2;
/// Fills that a stone can have.
const POSSIBLE_FILL: (f64, f64) = (0.2, 1.0);
/// The fullest body that is drawn.
const FULLEST: f64 = 0.98;
/// How far a rough stone's skin lies from the body that stands in for it, one
/// standard deviation as a share of the least size. Measured on twelve open
/// scans of natural stones (StonePacking-3D, MIT, EPFL 2025): 0.08 to 0.17,
/// mean 0.13; `opal-files/tests/stones.rs` measures it again.
const SKIN_SHARE: f64 = 0.13;

/// Builds the body whose extents are the sizes and whose volume is that of the
/// weight, where it was weighed; else that of the judged solidity; else that of
/// the mean rough stone.
pub(crate) fn stone(
    callipers: &Callipers,
    piece: &Piece,
    choice: GridChoice,
) -> Result<Stone, Faults> {
    let size = [callipers.length, callipers.width, callipers.height].map(Length::mm);
    refuse_impossible(&size, callipers.solidity)?;
    let [length, width, height] = size;
    let (grid, note) = choice.grid([0.0, 0.0], [length, width])?;
    let mut notes: Vec<String> = note.into_iter().collect();

    let box_mm3: f64 = size.iter().product();
    let rough = solidity::rough_stone();
    let (guess, guess_sd) = match callipers.solidity {
        Some(judged) => (judged, JUDGED_SOLIDITY_SD),
        None => (rough.mean, rough.sd),
    };
    let reading_share = size
        .iter()
        .map(|s| (READING_SIGMA_MM / s).powi(2))
        .sum::<f64>()
        .sqrt();
    let by_shape = Volume::from_mm3(box_mm3 * guess);
    let by_shape = (by_shape, by_shape * (guess_sd / guess).hypot(reading_share));

    let (fill, volume, weight, check) = match piece.weight {
        Some(weighed) => {
            let mut check = WeightCheck::new(weighed, &piece.gravity, by_shape);
            let needed = check.volume_by_weight.0.mm3() / box_mm3;
            let possible = (POSSIBLE_FILL.0..=POSSIBLE_FILL.1).contains(&needed);
            let fill = needed.clamp(POSSIBLE_FILL.0, FULLEST);
            let volume = if possible {
                check.verdict = fitted_verdict(needed, callipers.solidity, &check);
                check.volume_by_weight
            } else {
                check.verdict = impossible_verdict(needed, &check);
                let volume = Volume::from_mm3(box_mm3 * fill);
                // The truth lies somewhere between what scale and callipers say.
                (
                    volume,
                    (check.volume_by_weight.0 - volume).abs() + by_shape.1,
                )
            };
            if !possible {
                check.apart = check.apart.max(IMPOSSIBLE_APART);
            }
            (fill, volume, weight::weighed(weighed), Some(check))
        }
        None => {
            notes.push(match callipers.solidity {
                Some(judged) => format!(
                    "Not weighed: the volume rests on the judged solidity {judged:.2} and may \
                     be {:.0} % off.",
                    100.0 * (by_shape.1 / by_shape.0)
                ),
                None => format!(
                    "Not weighed: the volume is that of the average of {} rough stones \
                     ({:.0} % of the box) and may be {:.0} % off. Weigh the piece.",
                    rough.count,
                    100.0 * rough.mean,
                    100.0 * (by_shape.1 / by_shape.0)
                ),
            });
            let weight = weight::weight_of(by_shape, &piece.gravity);
            (guess.min(FULLEST), by_shape, weight, None)
        }
    };
    notes.push(
        "The shape is a smooth stand-in of the three sizes: where its skin really runs is only \
         roughly known."
            .to_owned(),
    );

    let body = Superellipsoid::filling(size, fill);
    let centre = [0.5 * length, 0.5 * width, 0.5 * height];
    let mut top_mm = vec![f32::NAN; grid.len()];
    let mut bottom_mm = vec![f32::NAN; grid.len()];
    for k in 0..grid.len() {
        let [x, y] = grid.at_index(k);
        if let Some(half) = body.half_thickness_mm(x - centre[0], y - centre[1]) {
            top_mm[k] = (centre[2] + half) as f32;
            bottom_mm[k] = (centre[2] - half) as f32;
        }
    }
    let least = size.iter().copied().fold(f64::INFINITY, f64::min);
    Ok(Stone {
        grid,
        top_mm,
        bottom_mm,
        source: ShapeSource::Callipers,
        volume,
        skin_sigma: Length::from_mm(SKIN_SHARE * least),
        weight,
        gravity: piece.gravity,
        check,
        mesh: None,
        stone_from_mesh: None,
        departure: None,
        notes,
    })
}

/// What an impossible fill counts as, at least, in standard deviations.
const IMPOSSIBLE_APART: f64 = 5.0;

fn refuse_impossible(size: &[f64; 3], judged: Option<f64>) -> Result<(), Faults> {
    let mut faults = Vec::new();
    for (name, &value) in ["length_mm", "width_mm", "height_mm"].iter().zip(size) {
        if !value.is_finite() || value <= 0.0 {
            faults.push(Fault::new(
                format!("shape.callipers.{name}"),
                value,
                "must be above 0 mm",
            ));
        }
    }
    if let Some(judged) = judged
        && !(POSSIBLE_FILL.0..=POSSIBLE_FILL.1).contains(&judged)
    {
        faults.push(Fault::new(
            "shape.callipers.solidity",
            judged,
            "must lie between 0.2 and 1 (an ellipsoid fills 0.52 of its box)",
        ));
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(Faults(faults))
    }
}

fn fitted_verdict(needed: f64, judged: Option<f64>, check: &WeightCheck) -> String {
    let percent = 100.0 * needed;
    let carats = check.weighed.carats();
    let (by_weight, sd) = check.volume_by_weight;
    let volume = format!("{:.0} ± {:.0} mm³", by_weight.mm3(), sd.mm3());
    if check.agrees() {
        return format!(
            "Sizes and weight agree: {carats:.1} ct fill {volume}, {percent:.0} % of the box."
        );
    }
    match judged {
        Some(judged) => format!(
            "Sizes and weight disagree: {carats:.1} ct fill {volume}, {percent:.0} % of the box, \
             but {:.0} % was judged. The weight was taken; measure again or check the specific \
             gravity.",
            100.0 * judged
        ),
        None if needed > 0.5 => format!(
            "The piece fills {percent:.0} % of its box, more than rounded rough does: right for a \
             slab or block with flat sides, else measure again or check the specific gravity."
        ),
        None => format!(
            "The piece fills only {percent:.0} % of its box, less than rough usually does: right \
             for a bent or hollow piece, else measure again or check the specific gravity."
        ),
    }
}

fn impossible_verdict(needed: f64, check: &WeightCheck) -> String {
    let carats = check.weighed.carats();
    let volume = check.volume_by_weight.0.mm3();
    let percent = 100.0 * needed;
    if needed > 1.0 {
        format!(
            "This cannot be: {carats:.1} ct would fill {volume:.0} mm³, {percent:.0} % of the \
             measured box. The scale never lies: a size is too small, or the piece is heavier \
             than opal."
        )
    } else {
        format!(
            "This can hardly be: {carats:.1} ct fill {volume:.0} mm³, only {percent:.0} % of the \
             measured box. The scale never lies: a size is too large, the piece is hollow, or it \
             is lighter than opal."
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_evidence::{Form, GravityEstimate};
    use opal_units::Mass;

    fn piece(carats: Option<f64>) -> Piece {
        Piece {
            name: "A".to_owned(),
            form: Form::Seam,
            origin: None,
            weight: carats.map(Mass::from_carats),
            gravity: GravityEstimate::default_for(Form::Seam),
            asking: None,
        }
    }

    fn sizes(length: f64, width: f64, height: f64) -> Callipers {
        Callipers {
            length: Length::from_mm(length),
            width: Length::from_mm(width),
            height: Length::from_mm(height),
            solidity: None,
        }
    }

    fn built(callipers: &Callipers, carats: Option<f64>) -> Stone {
        stone(callipers, &piece(carats), GridChoice::Auto).expect("a stone")
    }

    /// Closed form: an ellipsoid of 48 × 33 × 21 mm holds π/6 · 48 · 33 · 21 mm³.
    #[test]
    fn an_ellipsoids_weight_gives_back_the_ellipsoid() {
        let gravity = GravityEstimate::default_for(Form::Seam);
        let mm3 = std::f64::consts::PI / 6.0 * 48.0 * 33.0 * 21.0;
        let carats = (Volume::from_mm3(mm3) * gravity.value).carats();
        let stone = built(&sizes(48.0, 33.0, 21.0), Some(carats));
        assert!((stone.layered_volume().mm3() / mm3 - 1.0).abs() < 0.003);
        assert!((stone.volume.0.mm3() / mm3 - 1.0).abs() < 1e-9);
        let (top, bottom) = stone.skin_at([24.0, 16.5]).expect("the middle");
        assert!((top - 21.0).abs() < 0.05 && bottom.abs() < 0.05);
        let (top, _) = stone.skin_at([24.0 + 12.0, 16.5]).expect("inside");
        assert!((top - (10.5 + 10.5 * 0.75_f64.sqrt())).abs() < 0.05);
        assert!((stone.weight.0.carats() - carats).abs() < 1e-9);
    }

    #[test]
    fn the_layers_hold_the_weight_whatever_the_fill() {
        for percent in [25, 46, 60, 75, 90] {
            let fill = f64::from(percent) / 100.0;
            let mm3 = fill * 40.0 * 30.0 * 12.0;
            let carats = (Volume::from_mm3(mm3) * piece(None).gravity.value).carats();
            let stone = built(&sizes(40.0, 30.0, 12.0), Some(carats));
            let off = stone.layered_volume().mm3() / mm3 - 1.0;
            assert!(off.abs() < 0.005, "{percent} %: {off}");
        }
    }

    #[test]
    fn an_unweighed_piece_carries_the_populations_spread() {
        let stone = built(&sizes(48.0, 33.0, 21.0), None);
        let (volume, sd) = stone.volume;
        assert!((volume.mm3() / (48.0 * 33.0 * 21.0) - 0.463).abs() < 1e-9);
        assert!((0.10..0.13).contains(&(sd / volume)));
        assert!(stone.check.is_none() && stone.notes.iter().any(|n| n.contains("Weigh")));
    }

    #[test]
    fn a_weight_that_does_not_fit_the_box_is_flagged() {
        // 2,000 ct at 2.10 fill 190,000 mm³; the box holds 33,264 mm³.
        let heavy = built(&sizes(48.0, 33.0, 21.0), Some(2000.0));
        let check = heavy.check.as_ref().expect("weighed");
        assert!(!check.agrees() && check.verdict.contains("This cannot be"));
        assert!(heavy.volume.1.mm3() > 100_000.0);
        let light = built(&sizes(48.0, 33.0, 21.0), Some(20.0));
        let check = light.check.as_ref().expect("weighed");
        assert!(!check.agrees() && check.verdict.contains("hollow"));
    }

    #[test]
    fn faults_come_all_at_once() {
        let mut callipers = sizes(-1.0, f64::NAN, 3.0);
        callipers.solidity = Some(1.4);
        let faults = stone(&callipers, &piece(None), GridChoice::Auto).expect_err("bad sizes");
        assert_eq!(faults.0.len(), 3, "{faults}");
    }
}
