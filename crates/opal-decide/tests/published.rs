//! Stopping and looking against published and exact answers.

use opal_decide::{StoppingPolicy, StoppingProblem, choose};
use opal_units::Seed;
use rand::RngExt as _;
use rand_distr::{Distribution, StandardNormal};

/// Longstaff & Schwartz (2001), §1: eight paths, put with strike 1.10, 6 % a
/// step, may be stopped at steps 1, 2, 3; constant, X and X².
#[test]
fn the_eight_paths() {
    let paths: [[f64; 3]; 8] = [
        [1.09, 1.08, 1.34],
        [1.16, 1.26, 1.54],
        [1.22, 1.07, 1.03],
        [0.93, 0.97, 0.92],
        [1.11, 1.56, 1.52],
        [0.76, 0.77, 0.90],
        [0.92, 0.84, 1.01],
        [0.88, 1.22, 1.34],
    ];
    let stop: Vec<f64> = paths
        .iter()
        .flatten()
        .map(|s| (1.10 - s).max(0.0))
        .collect();
    let live: Vec<bool> = stop.iter().map(|v| *v > 0.0).collect();
    let features: Vec<f64> = paths.iter().flatten().flat_map(|s| [*s, s * s]).collect();
    let discount = (-0.06_f64).exp();
    let problem = StoppingProblem {
        n_steps: 3,
        stop: &stop,
        stop_seen: &stop,
        n_features: 2,
        features: &features,
        live: &live,
        discount,
    };
    let all: Vec<usize> = (0..8).collect();
    let policy = StoppingPolicy::fit(&problem, &all, 0.0).expect("fits");
    let stopped: Vec<_> = all.iter().map(|&i| policy.follow(&problem, i)).collect();
    // Paths 4, 6, 7 and 8 (counted from 1) stop at the first step, path 3 at the last.
    let early: Vec<usize> = (0..8)
        .filter(|&i| stopped[i].step == 0)
        .map(|i| i + 1)
        .collect();
    assert_eq!(early, [4, 6, 7, 8]);
    assert_eq!(stopped[2].step, 2);
    let value = stopped.iter().map(|s| s.value).sum::<f64>() / 8.0 * discount;
    assert!((value - 0.114_434_33).abs() < 1e-7, "{value}");
    // The regressions that the paper prints, at one point each: step 2 at X = 1,
    // −1.070 + 2.983 − 1.813; step 1 at X = 1, 2.038 − 3.335 + 1.356.
    let at_one = |step| policy.going_on(step, &[1.0, 1.0]).expect("a choice");
    assert!((at_one(1) - 0.100).abs() < 2e-3, "{}", at_one(1));
    assert!((at_one(0) - 0.059).abs() < 2e-3, "{}", at_one(0));
}

/// The American put of Longstaff & Schwartz (2001), Table 1: strike 40, 6 %,
/// 50 steps a year. Cross-fitted values must not stand above the table's
/// finite-difference value by more than three standard errors, nor fall more
/// than 1.5 % and three standard errors below it.
#[test]
fn table_one() {
    let rows: &[(f64, f64, usize, f64)] = &[
        (36.0, 0.2, 1, 4.478),
        (40.0, 0.2, 1, 2.314),
        (44.0, 0.2, 1, 1.110),
        (36.0, 0.4, 1, 7.101),
        (40.0, 0.4, 2, 6.920),
    ];
    let n = if std::env::var_os("OPAL_SLOW").is_some() {
        100_000
    } else {
        12_000
    };
    for (row, &(start, sigma, years, table)) in rows.iter().enumerate() {
        let n_steps = 50 * years;
        let dt = 1.0 / 50.0;
        let drift = (0.06 - 0.5 * sigma * sigma) * dt;
        let mut price = Vec::with_capacity(n * n_steps);
        for i in 0..n / 2 {
            let mut rng = Seed(7).stream("put", (row * 1_000_000 + i) as u64);
            let noise: Vec<f64> = (0..n_steps)
                .map(|_| StandardNormal.sample(&mut rng))
                .collect();
            for sign in [1.0, -1.0] {
                let mut log = f64::ln(start);
                price.extend(noise.iter().map(|z| {
                    log += drift + sign * sigma * dt.sqrt() * z;
                    log.exp()
                }));
            }
        }
        let stop: Vec<f64> = price.iter().map(|s| (40.0 - s).max(0.0)).collect();
        let live: Vec<bool> = stop.iter().map(|v| *v > 0.0).collect();
        let features: Vec<f64> = price
            .iter()
            .map(|s| s / 40.0)
            .flat_map(|x| [x, x * x, x * x * x])
            .collect();
        let discount = (-0.06 * dt).exp();
        let problem = StoppingProblem {
            n_steps,
            stop: &stop,
            stop_seen: &stop,
            n_features: 3,
            features: &features,
            live: &live,
            discount,
        };
        let values: Vec<f64> = StoppingPolicy::cross_fitted(&problem, 1e-9)
            .expect("fits")
            .iter()
            .map(|s| s.value * discount)
            .collect();
        let mean = values.iter().sum::<f64>() / n as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n as f64;
        let error = (variance / n as f64).sqrt();
        assert!(
            mean < table + 3.0 * error,
            "{start} {sigma}: {mean} ± {error}, table {table}"
        );
        assert!(
            mean > table * 0.985 - 3.0 * error,
            "{start} {sigma}: {mean} ± {error}, table {table}"
        );
    }
}

/// A small stopping problem solved exactly: up to four offers, uniform on 0..1,
/// no going back: the best rule brings V₄ with V₁ = 1/2, V_{n+1} = (1 + V_n²)/2
/// (Moser 1956), 0.741730.
#[test]
fn offers_without_recall() {
    let n = 20_000;
    let offers: Vec<f64> = (0..n)
        .flat_map(|i| {
            let mut rng = Seed(11).stream("offers", i);
            [0; 4].map(|_| rng.random::<f64>())
        })
        .collect();
    let live = vec![true; offers.len()];
    let problem = StoppingProblem {
        n_steps: 4,
        stop: &offers,
        stop_seen: &offers,
        n_features: 1,
        features: &offers,
        live: &live,
        discount: 1.0,
    };
    let values = StoppingPolicy::cross_fitted(&problem, 0.0).expect("fits");
    let mean = values.iter().map(|s| s.value).sum::<f64>() / n as f64;
    assert!((mean - 0.741_730).abs() < 0.005, "{mean}");
}

/// Oil wildcatter (Raiffa 1968, Decision Analysis): dry −70, wet 50, soaking 200
/// with chances .5 .3 .2; a sounding shows no, open or closed structure. A free
/// sounding is worth 12.5.
#[test]
fn wildcatter() {
    let n = 40_000;
    let mut drill = Vec::with_capacity(n);
    let mut features = Vec::with_capacity(2 * n);
    for i in 0..n {
        let mut rng = Seed(3).stream("well", i as u64);
        let (u, v): (f64, f64) = (rng.random(), rng.random());
        let (pay, no, open) = match u {
            u if u < 0.5 => (-70.0, 0.6, 0.3),
            u if u < 0.8 => (50.0, 0.3, 0.4),
            _ => (200.0, 0.1, 0.4),
        };
        drill.push(pay);
        features.extend([f64::from(v < no), f64::from(v >= no && v < no + open)]);
    }
    let actions = vec![drill, vec![0.0; n]];
    let choice = choose(&actions, &features, 2, 0.0).expect("fits");
    let (gain, error) = choice.gain(&actions);
    assert!((gain - 12.5).abs() < 4.0 * error, "{gain} ± {error}");
}

/// Two actions with a normal difference (mean 100, sd 400) and a reading of it
/// with error 300: the reading is worth 83.8448 (Raiffa & Schlaifer 1961, unit
/// normal loss: s·Ψ(|m|/s) with s = 320).
#[test]
fn normal_sample_information() {
    let n = 60_000;
    let mut act = Vec::with_capacity(n);
    let mut reading = Vec::with_capacity(n);
    for i in 0..n {
        let mut rng = Seed(5).stream("normal", i as u64);
        let (a, b): (f64, f64) = (
            StandardNormal.sample(&mut rng),
            StandardNormal.sample(&mut rng),
        );
        let truth = 100.0 + 400.0 * a;
        act.push(truth);
        reading.push(truth + 300.0 * b);
    }
    let actions = vec![act, vec![0.0; n]];
    let (gain, error) = choose(&actions, &reading, 1, 0.0)
        .expect("fits")
        .gain(&actions);
    assert!((gain - 83.8448).abs() < 4.0 * error, "{gain} ± {error}");
}

/// A look that shows nothing is worth nothing: it may lose a little by noise,
/// never gain beyond it.
#[test]
fn a_look_that_shows_nothing_gains_nothing() {
    let n = 4_000;
    let (mut act, mut noise) = (Vec::new(), Vec::new());
    for i in 0..n {
        let mut rng = Seed(9).stream("blind", i);
        let (a, b): (f64, f64) = (
            StandardNormal.sample(&mut rng),
            StandardNormal.sample(&mut rng),
        );
        act.push(0.2 + a);
        noise.push(b);
    }
    let actions = vec![act, vec![0.0; n as usize]];
    let (gain, error) = choose(&actions, &noise, 1, 0.0)
        .expect("fits")
        .gain(&actions);
    assert!(gain < 3.0 * error + 1e-12, "{gain} ± {error}");
}
