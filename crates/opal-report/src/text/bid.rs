//! The most to pay, told.

use super::spread::{at_most, in_a_hundred, line, money, statistics};
use super::{Detail, listed};
use crate::json::BidFacts;
use opal_value::{Bid, BidLimits, Binding};

/// What the limit that set the bid says.
pub(super) fn set_by(binding: Binding, limits: &BidLimits) -> String {
    match binding {
        Binding::Margin => format!(
            "Your wanted margin of {:.0} % sets it.",
            100.0 * limits.margin
        ),
        Binding::ChanceOfLoss => format!(
            "The chance of loss that you accept, {}, sets it.",
            in_a_hundred(limits.chance_of_loss)
        ),
        Binding::WorstMean => "The mean loss that you bear in the worst cases sets it.".to_owned(),
        Binding::Stake => "The stake against your capital sets it.".to_owned(),
        Binding::NotWorthBuying => {
            "At no price do all your limits hold: leave it, or take it for nothing.".to_owned()
        }
    }
}

/// What happens at the price.
pub(super) fn at_that_price(bid: &Bid) -> String {
    let tell = |major: f64| money(major, bid.price.currency());
    format!(
        "\nAt that price\n{}  chance of loss         {}\n  worst tenth, mean      {}\n  \
         expected gain          {} ± {} from the number of draws\n",
        line("gain or loss", &bid.gain, tell),
        in_a_hundred(bid.chance_of_loss),
        tell(bid.gain.worst_mean(0.1)),
        tell(bid.expected_gain),
        tell(bid.expected_gain_error),
    )
}

/// What happens at the asking price.
pub(super) fn asked(bid: &Bid, at: &Bid) -> String {
    let tell = |major: f64| money(major, at.price.currency());
    let verdict = if at.price.minor() <= bid.price.minor() {
        "within your limits"
    } else {
        "above what your limits allow"
    };
    format!(
        "\nAsked: {} — {verdict}. There: chance of loss {}, expected gain {}, worst tenth {}.\n",
        at.price,
        in_a_hundred(at.chance_of_loss),
        tell(at.expected_gain),
        tell(at.gain.worst_mean(0.1)),
    )
}

/// The most to pay for a piece.
#[must_use]
pub fn bid(facts: &BidFacts<'_>, detail: Detail) -> String {
    let bid = facts.bid;
    let currency = bid.price.currency();
    let tell = |major: f64| money(major, currency);
    let mut out = if bid.binding == Binding::NotWorthBuying {
        format!("{}: do not buy.\n", facts.piece)
    } else {
        format!("{}: pay at most {}.\n", facts.piece, at_most(bid.price))
    };
    out.push_str(&format!("{}\n", set_by(bid.binding, facts.limits)));
    out.push_str(&at_that_price(bid));
    if let Some(at) = facts.at_asking {
        out.push_str(&asked(bid, at));
    }
    if let Some(shaded) = facts.tender {
        let (low, high) = shaded.chance_between;
        out.push_str(&format!(
            "\nAgainst others: bid {}. There you get it {} ({:.0} to {:.0}, as far as your past \
             tenders tell).\n",
            tell(shaded.bid),
            in_a_hundred(shaded.chance),
            100.0 * low,
            100.0 * high
        ));
    }
    out.push_str(&format!("\n{}\n", facts.sentence));
    if detail == Detail::Figures {
        out.push_str("\nWhat each limit alone would allow\n");
        for (limit, price) in &bid.by_limit {
            out.push_str(&format!(
                "  {:<22} {}\n",
                crate::json::binding_key(*limit),
                price.map_or_else(|| "not set".to_owned(), tell)
            ));
        }
        out.push_str("\nGain\n");
        out.push_str(&statistics(&bid.gain, tell));
        out.push_str(&format!(
            "  {} interiors, seed {}, plan: {}\n",
            bid.gain.len(),
            facts.seed,
            facts.plan
        ));
    }
    out.push_str(&listed("It rests on", facts.rests_on));
    out.push_str(&listed("Mind", facts.warnings));
    out
}
