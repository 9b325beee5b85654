//! Where, in what the inside may hold, does the lead of a plan turn over?

use crate::causes::Cause;
use crate::why::Turn;

/// Interiors beyond a turn, as a share of all. Chosen: what happens in fewer than
/// one case of fifty, or fails to in fewer, is no advice.
const LEAST_CHANCE: f64 = 0.02;
/// Standard errors by which the lead must be lost beyond a turn. Chosen: some sixty
/// turns are tried, and each must hold on both halves.
const SURE: f64 = 2.0;
/// Turns told.
const MOST_TURNS: usize = 2;

/// Where the rival wins, the turn by which most is gained first. `leads` is what the
/// best plan brings over the rival in each interior.
///
/// # Method
/// For each cause the lead is fitted as a rising function from one side (isotonic
/// regression by pooling neighbours: Barlow et al. 1972), and turns where the fit
/// passes nothing. It counts only where the turn found on either half of the
/// interiors loses the lead on the other half too.
pub(crate) fn turns(causes: &[(Cause, Vec<f64>)], leads: &[f64]) -> Vec<Turn> {
    let mut found: Vec<(f64, Turn)> = causes
        .iter()
        .flat_map(|(cause, values)| {
            [true, false].into_iter().filter_map(|below| {
                let (at, chance, gain) = turn(values, leads, below)?;
                let cause = cause.clone();
                Some((
                    gain,
                    Turn {
                        cause,
                        below,
                        at,
                        chance,
                    },
                ))
            })
        })
        .collect();
    found.sort_by(|p, q| q.0.total_cmp(&p.0));
    found
        .into_iter()
        .take(MOST_TURNS)
        .map(|(_, turn)| turn)
        .collect()
}

/// Where it turns, the share of the interiors beyond, and what changing over there
/// brings on average over all.
fn turn(values: &[f64], leads: &[f64], below: bool) -> Option<(f64, f64, f64)> {
    let sign = if below { 1.0 } else { -1.0 };
    let half = |h: usize| -> Vec<[f64; 2]> {
        let pairs = values.iter().zip(leads).enumerate();
        pairs
            .filter(|(i, _)| i % 2 == h)
            .map(|(_, (v, l))| [sign * v, *l])
            .collect()
    };
    let halves = [half(0), half(1)];
    for (learnt, tried) in [(0, 1), (1, 0)] {
        let at = level(&halves[learnt])?;
        let (mean, error, _) = beyond(&halves[tried], at)?;
        if mean + SURE * error >= 0.0 {
            return None;
        }
    }
    let all = halves.concat();
    let at = level(&all)?;
    let (mean, _, chance) = beyond(&all, at)?;
    let told = (LEAST_CHANCE..=1.0 - LEAST_CHANCE).contains(&chance);
    told.then_some((sign * at, chance, -mean * chance))
}

/// Where a rising fit of the second on the first passes nothing; `None` where it
/// never does.
fn level(pairs: &[[f64; 2]]) -> Option<f64> {
    let mut sorted = pairs.to_vec();
    sorted.sort_by(|p, q| p[0].total_cmp(&q[0]));
    // Blocks of neighbours with their sum and count.
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for [_, lead] in &sorted {
        blocks.push((*lead, 1));
        while let [.., (before, m), (last, n)] = blocks[..]
            && before / m as f64 >= last / n as f64
        {
            blocks.pop();
            blocks.pop();
            blocks.push((before + last, m + n));
        }
    }
    let lost = blocks.iter().take_while(|(sum, _)| *sum < 0.0);
    let count: usize = lost.map(|(_, n)| n).sum();
    let inner = sorted.get(count)?;
    let outer = sorted.get(count.checked_sub(1)?)?;
    Some(0.5 * (outer[0] + inner[0]))
}

/// Mean lead beyond a place, its standard error, and the share that lies there.
fn beyond(pairs: &[[f64; 2]], at: f64) -> Option<(f64, f64, f64)> {
    let leads: Vec<f64> = pairs.iter().filter(|p| p[0] < at).map(|p| p[1]).collect();
    if leads.len() < 2 {
        return None;
    }
    let n = leads.len() as f64;
    let mean = leads.iter().sum::<f64>() / n;
    let square: f64 = leads.iter().map(|l| (l - mean).powi(2)).sum();
    let error = (square / (n - 1.0) / n).sqrt();
    Some((mean, error, n / pairs.len() as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Leads of v − 0.3 with a known waver: they turn at 0.3, below which lie three
    /// cases of ten; what does not hang on the cause turns nowhere (closed form).
    #[test]
    fn a_lead_turns_where_it_passes_nothing() {
        let values: Vec<f64> = (0..1000)
            .map(|i| f64::from(i * 617 % 1000) / 1000.0)
            .collect();
        let waver = |i: usize| 0.4 * ((i * 389 % 1000) as f64 / 500.0 - 1.0);
        let lead = |rising: bool, i: usize| {
            let over = values[i] - 0.3;
            waver(i) + if rising { over } else { -over }
        };
        for below in [true, false] {
            let leads: Vec<f64> = (0..1000).map(|i| lead(below, i)).collect();
            let causes = [(Cause::Specks, values.clone())];
            let found = turns(&causes, &leads);
            assert_eq!(found.len(), 1, "{found:?}");
            let one = &found[0];
            assert_eq!(one.below, below);
            assert!((one.at - 0.3).abs() < 0.06, "{one:?}");
            let wanted = if below { 0.3 } else { 0.7 };
            assert!((one.chance - wanted).abs() < 0.06, "{one:?}");
        }
        let level: Vec<f64> = (0..1000).map(|i| 0.05 + waver(i)).collect();
        assert_eq!(turns(&[(Cause::Specks, values)], &level), Vec::new());
    }
}
