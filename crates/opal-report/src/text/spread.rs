//! Spread drawn with characters; money and chances in words.

use opal_units::{Currency, Draws, Money};

/// Characters of a bar. Chosen: because it leaves room for both ends on a line
/// of 80.
const WIDTH: usize = 24;
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The draws between their 2.5th and 97.5th centile as a row of blocks: the
/// taller, the likelier. A space: it does not happen there.
#[must_use]
pub fn spread_bar(draws: &Draws) -> String {
    let (low, high) = (draws.quantile(0.025), draws.quantile(0.975));
    let range = high - low;
    if range <= 0.0 {
        return BLOCKS[7].to_string();
    }
    let mut counts = [0_usize; WIDTH];
    for &value in draws.sorted() {
        if (low..=high).contains(&value) {
            let place = ((value - low) / range * WIDTH as f64) as usize;
            counts[place.min(WIDTH - 1)] += 1;
        }
    }
    let most = counts.iter().copied().max().unwrap_or(1).max(1);
    counts
        .iter()
        .map(|&count| match (count * BLOCKS.len()).div_ceil(most) {
            0 => ' ',
            eighths => BLOCKS[eighths - 1],
        })
        .collect()
}

/// A chance in plain words: `about 18 in 100`.
#[must_use]
pub fn in_a_hundred(share: f64) -> String {
    let percent = 100.0 * share;
    if percent == 0.0 {
        "none in all the insides drawn".to_owned()
    } else if percent < 0.95 {
        "less than 1 in 100".to_owned()
    } else if percent > 99.05 && percent < 100.0 {
        "more than 99 in 100".to_owned()
    } else {
        format!("about {percent:.0} in 100")
    }
}

/// A forecast's money: whole units, three leading figures, thousands parted,
/// with the currency's code. Nobody knows a forecast better.
#[must_use]
pub fn money(major: f64, currency: Currency) -> String {
    let whole = three_figures(major);
    if !whole.is_finite() {
        return format!("{major} {currency}");
    }
    let digits = format!("{:.0}", whole.abs());
    let mut out = String::from(if whole < 0.0 { "−" } else { "" });
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    format!("{out} {currency}")
}

/// A price a carat: two figures after the point below 100, whole above.
#[must_use]
pub fn rate(major: f64, currency: Currency) -> String {
    if major < 100.0 {
        format!("{major:.2} {currency}")
    } else {
        money(major, currency)
    }
}

/// The nearest whole number with at most three leading figures.
fn three_figures(value: f64) -> f64 {
    let mut step = 1.0;
    while value.is_finite() && value.abs() / step >= 1000.0 {
        step *= 10.0;
    }
    (value / step).round() * step
}

/// The most to pay, told in whole units and never above what was worked out.
#[must_use]
pub fn at_most(price: Money) -> String {
    let whole = Money::from_major_rounded(price.major().floor(), price.currency());
    let text = whole.unwrap_or(price).to_string();
    text.replacen(".00 ", " ", 1)
}

/// One line: what, the bar, and the bounds that hold nine chances in ten.
pub(super) fn line(what: &str, draws: &Draws, tell: impl Fn(f64) -> String) -> String {
    format!(
        "  {what:<22} {}  {} to {}, middle {}\n",
        spread_bar(draws),
        tell(draws.quantile(0.05)),
        tell(draws.quantile(0.95)),
        tell(draws.quantile(0.5)),
    )
}

/// The statistics behind a line.
pub(super) fn statistics(draws: &Draws, tell: impl Fn(f64) -> String) -> String {
    let mut out = format!(
        "    mean {} ± {} (from the number of draws), standard deviation {}\n    quantiles",
        tell(draws.mean()),
        tell(draws.mean_error()),
        tell(draws.sd()),
    );
    for level in opal_units::Spread::LEVELS {
        out.push_str(&format!("  {level}: {}", tell(draws.quantile(level))));
    }
    out.push('\n');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aud() -> Currency {
        Currency::new("AUD").expect("a code")
    }

    #[test]
    fn money_reads_as_a_price_tag() {
        for (major, text) in [
            (0.0, "0 AUD"),
            (-0.2, "0 AUD"),
            (3.5, "4 AUD"),
            (-12.25, "−12 AUD"),
            (640.4, "640 AUD"),
            (5_897.6, "5,900 AUD"),
            (12_345.6, "12,300 AUD"),
            (-1_234_567.0, "−1,230,000 AUD"),
        ] {
            assert_eq!(money(major, aud()), text);
        }
    }

    #[test]
    fn a_bid_is_never_told_higher_than_it_is() {
        let price = Money::parse("669.62", aud()).expect("an amount");
        assert_eq!(at_most(price), "669 AUD");
    }

    #[test]
    fn a_bar_is_tall_where_draws_are_many() {
        let flat = Draws::new((0..2400).map(f64::from).collect()).expect("finite");
        assert!(spread_bar(&flat).chars().all(|c| c == '█' || c == '▇'));
        let two = Draws::new([vec![0.0; 50], vec![1.0; 50]].concat()).expect("finite");
        let bar: Vec<char> = spread_bar(&two).chars().collect();
        assert_eq!((bar[0], bar[12], bar[23]), ('█', ' ', '█'));
        assert_eq!(spread_bar(&Draws::new(vec![2.0; 9]).expect("finite")), "█");
    }
}
