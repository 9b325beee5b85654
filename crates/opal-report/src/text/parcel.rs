//! What a parcel may bring, told.

use super::bid::{asked, at_that_price, set_by};
use super::spread::{at_most, in_a_hundred, line, money, rate, statistics};
use super::{Detail, listed};
use crate::json::ParcelFacts;
use opal_value::Binding;

/// What a parcel may bring, what to pay for it, and how many to look into first.
#[must_use]
pub fn parcel(facts: &ParcelFacts<'_>, detail: Detail) -> String {
    let (bid, offer) = (facts.bid, facts.offer);
    let currency = bid.price.currency();
    let tell = |major: f64| money(major, currency);
    let mut out = if bid.binding == Binding::NotWorthBuying {
        format!("{}: do not buy on what is known now.\n", offer.name)
    } else {
        format!("{}: pay at most {}.\n", offer.name, at_most(bid.price))
    };
    out.push_str(&format!("{}\n", set_by(bid.binding, facts.limits)));
    out.push_str(&looking(facts));
    out.push_str(&inside(facts));
    out.push_str(&at_that_price(bid));
    if let Some(at) = facts.at_asking {
        out.push_str(&asked(bid, at));
    }
    if detail == Detail::Figures {
        let belief = &facts.forecast.belief;
        out.push_str("\nWhat the parcel brings\n");
        out.push_str(&statistics(&facts.forecast.worth, tell));
        out.push_str(&format!(
            "  share that pays {:.3}, a paying piece brings {} a carat on average\n\
             \nLooking into more before deciding (pieces: gain over deciding now ± error)\n",
            belief.share_that_pays(),
            rate(belief.per_carat(), currency),
        ));
        for plan in &facts.looks.plans {
            out.push_str(&format!(
                "  {:>5}: {:.2} ± {:.2}, bought {}\n",
                plan.pieces,
                plan.gain,
                plan.gain_error,
                in_a_hundred(plan.bought)
            ));
        }
        out.push_str(&format!(
            "  knowing every piece at no cost: {:.2}; {} draws, seed {}\n",
            facts.looks.knowing,
            facts.forecast.worth.len(),
            facts.seed
        ));
    }
    out.push_str(&listed("It rests on", facts.rests_on));
    out.push_str(&listed("Mind", facts.warnings));
    out
}

/// How many to look into before deciding.
fn looking(facts: &ParcelFacts<'_>) -> String {
    let currency = facts.bid.price.currency();
    let best = facts.looks.best;
    if facts.forecast.paying.trials == 0 {
        return String::new();
    }
    let price = facts.at_asking.map_or(facts.bid.price, |at| at.price);
    if best.pieces == 0 {
        let now = if facts.looks.buying_now > 0.0 {
            "on average it earns"
        } else {
            "on average it loses"
        };
        return format!(
            "Looking into more pieces first would not pay: at {price} {now} {} as it stands, and \
             no look is likely to change that.\n",
            money(facts.looks.buying_now.abs(), currency)
        );
    }
    format!(
        "Before you decide on {price}, look into {} more ({}): worth about {} on average, for you \
         would buy in {} and leave it otherwise.\n",
        best.pieces,
        time(best.pieces as f64 * facts.minutes_a_look),
        money(best.gain, currency),
        in_a_hundred(best.bought),
    )
}

/// What is in it.
fn inside(facts: &ParcelFacts<'_>) -> String {
    let (offer, forecast) = (facts.offer, facts.forecast);
    let currency = facts.bid.price.currency();
    let tell = |major: f64| money(major, currency);
    let parcel = &offer.parcel;
    let paying = parcel.looked.iter().filter(|p| p.pays()).count();
    let mut out = format!(
        "\n{} pieces, {:.0} ct\n",
        parcel.pieces,
        parcel.weight.carats()
    );
    if !parcel.looked.is_empty() {
        out.push_str(&format!(
            "  looked into            {}, of which {paying} pay: {}\n",
            parcel.looked.len(),
            tell(forecast.known)
        ));
    }
    let law = forecast.paying;
    if law.trials > 0 {
        out.push_str(&format!(
            "  not looked into        {}, of which {} to {} pay, middle {}\n",
            law.trials,
            law.quantile(0.05),
            law.quantile(0.95),
            law.quantile(0.5)
        ));
    }
    out.push_str(&line("it brings", &forecast.worth, tell));
    if law.trials > 0 {
        out.push_str(&format!(
            "  after looking into the rest, {}\n",
            time(law.trials as f64 * facts.minutes_a_look)
        ));
    }
    out
}

/// Minutes as a person says them.
fn time(minutes: f64) -> String {
    if minutes < 90.0 {
        format!("{minutes:.0} minutes")
    } else {
        format!("{:.1} hours", minutes / 60.0)
    }
}
