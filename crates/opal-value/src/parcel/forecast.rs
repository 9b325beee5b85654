//! What a parcel brings, in many possible truths.

use super::{BetaBinomial, LookedInto, Parcel, WorthBelief};
use opal_units::{Draws, Rng, Seed, SpreadError};
use rand::RngExt as _;
use rand_distr::{Distribution as _, Gamma, LogNormal, StandardNormal};

/// Relative spread of the pieces' weights before any was weighed alone, and the pieces
/// it counts as. Common practice, no source: mine-run pieces differ by half their weight.
const WEIGHT_CV: f64 = 0.5;
const WEIGHT_CV_COUNTS_AS: f64 = 3.0;

/// What looking costs and how far prices may turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// What looking into one piece costs, major units.
    pub look_cost: f64,
    /// One standard deviation of the whole market, in the logarithm.
    pub market_log_sd: f64,
}

/// What a parcel brings.
#[derive(Clone, Debug, PartialEq)]
pub struct ParcelForecast {
    /// How many of the unseen pieces pay.
    pub paying: BetaBinomial,
    /// What is believed of a piece, after those looked into.
    pub belief: WorthBelief,
    /// Mean of what the pieces looked into bring, major units.
    pub known: f64,
    /// What the parcel brings net of looking into the rest, major units: one draw for
    /// each possible truth.
    pub worth: Draws,
}

/// Draws what a parcel brings.
///
/// # Method
/// The pieces are exchangeable: those looked into say of the rest what a sample says of a
/// finite lot ([`BetaBinomial`]). What they weigh together is known, so the unseen ones
/// share the rest of the weight: Dirichlet, as uneven as those looked into. What a piece
/// brings is its weight times its rate ([`WorthBelief`]).
///
/// # Validity
/// Pieces looked into were taken blindly, not by their looks.
///
/// # Errors
/// Values too large to keep.
pub fn forecast(
    parcel: &Parcel,
    terms: Terms,
    draws: usize,
    seed: Seed,
) -> Result<ParcelForecast, SpreadError> {
    let belief = WorthBelief::before(&parcel.usual).after(&parcel.looked);
    let unseen = Unseen::of(parcel, &belief);
    let look_cost = terms.look_cost * parcel.unseen() as f64;
    let market = |rng: &mut Rng| {
        let z: f64 = StandardNormal.sample(rng);
        (terms.market_log_sd * (z - 0.5 * terms.market_log_sd)).exp()
    };
    let worth = (0..draws as u64)
        .map(|i| {
            let mut rng = seed.stream("parcel", i);
            let known: f64 = parcel.looked.iter().map(|p| drawn_worth(p, &mut rng)).sum();
            let rest: f64 = unseen.draw(&mut rng).iter().map(|p| p.worth).sum();
            market(&mut rng) * (known + rest) - look_cost
        })
        .collect();
    Ok(ParcelForecast {
        paying: belief.paying_of(parcel.unseen()),
        known: parcel.looked.iter().map(|p| p.worth).sum(),
        worth: Draws::new(worth)?,
        belief,
    })
}

/// A log-normal with the mean and spread that the piece was judged to have.
fn drawn_worth(piece: &LookedInto, rng: &mut Rng) -> f64 {
    let z: f64 = StandardNormal.sample(rng);
    if !piece.pays() {
        return 0.0;
    }
    let variance = (piece.sigma / piece.worth).powi(2).ln_1p();
    piece.worth * (variance.sqrt() * z - 0.5 * variance).exp()
}

/// The pieces that nobody looked into.
pub(super) struct Unseen<'a> {
    parcel: &'a Parcel,
    belief: &'a WorthBelief,
    /// Shape of the Gamma law whose draws, made to add up, are the shares of the weight.
    evenness: f64,
}

impl<'a> Unseen<'a> {
    pub(super) fn of(parcel: &'a Parcel, belief: &'a WorthBelief) -> Self {
        let n = parcel.looked.len() as f64;
        let weights = parcel.looked.iter().map(|p| p.weight.carats());
        let mean = weights.clone().sum::<f64>() / n.max(1.0);
        let squares: f64 = weights.map(|w| (w / mean - 1.0).powi(2)).sum();
        let pooled = (WEIGHT_CV_COUNTS_AS * WEIGHT_CV.powi(2) + squares)
            / (WEIGHT_CV_COUNTS_AS + (n - 1.0).max(0.0));
        Self {
            parcel,
            belief,
            evenness: pooled.recip().min(1e4),
        }
    }

    /// One possible truth: every piece with its weight and worth, in the order in which
    /// they would be looked into.
    pub(super) fn draw(&self, rng: &mut Rng) -> Vec<LookedInto> {
        let (share, centre, spread) = self.belief.draw(rng);
        let count = self.parcel.unseen();
        let mut weights: Vec<f64> = match Gamma::new(self.evenness, 1.0) {
            Ok(law) => (0..count).map(|_| law.sample(rng)).collect(),
            Err(_) => vec![1.0; count],
        };
        let scale = self.parcel.unseen_weight().carats() / weights.iter().sum::<f64>();
        weights.iter_mut().for_each(|w| *w *= scale);
        let rate = LogNormal::new(centre, spread).ok();
        weights
            .into_iter()
            .map(|carats| {
                // Both are drawn for every piece, so that pieces keep their luck.
                let pays = rng.random::<f64>() < share;
                let per_carat = rate.map_or(0.0, |law| law.sample(rng));
                LookedInto {
                    weight: opal_units::Mass::from_carats(carats),
                    worth: if pays { carats * per_carat } else { 0.0 },
                    sigma: 0.0,
                }
            })
            .collect()
    }
}
