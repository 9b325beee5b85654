//! What a bid rests on, in sentences.

use opal_units::Draws;

/// What went into a bid, in plain numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Grounds {
    /// Possible insides that were tried.
    pub interiors: usize,
    /// Places where a bar was seen, measured or found missing.
    pub sightings: usize,
    /// True when a quick look stands for the bar.
    pub quick_look: bool,
    /// How the outside was measured: "a scan", "an outline with heights",
    /// "three calliper sizes".
    pub shape: String,
    /// True when the piece was weighed.
    pub weighed: bool,
    /// The variety, where it was judged.
    pub variety: Option<String>,
    /// The brightness words that it may turn out to be.
    pub brightness: Vec<String>,
    /// Surfaces on which specks and sand were counted.
    pub surfaces_counted: usize,
    /// The price book's title.
    pub price_book: String,
    /// True when its prices are invented.
    pub invented_prices: bool,
    /// The plan that the bid comes from, in words: "one freeform stone".
    pub plan: String,
    /// What the spread comes from: cause and its draws, one for each interior.
    pub causes: Vec<(String, Draws)>,
}

/// What the bid rests on, sentence by sentence, the weightiest first.
#[must_use]
pub fn rests_on(grounds: &Grounds, value: &Draws) -> Vec<String> {
    let mut said = vec![format!(
        "It rests on {} possible insides of this piece{}.",
        grounds.interiors,
        if grounds.plan.is_empty() {
            String::new()
        } else {
            format!(", cut as {}", grounds.plan)
        }
    )];
    said.push(bar_sentence(grounds));
    if !grounds.shape.is_empty() {
        said.push(format!(
            "The outside comes from {}{}.",
            grounds.shape,
            if grounds.weighed {
                ", held to the weight on the scale"
            } else {
                "; it was not weighed, so its size may be off"
            }
        ));
    }
    said.push(look_sentence(grounds));
    if grounds.surfaces_counted == 0 {
        said.push(
            "No surface was searched for sand and specks: what usually hides in such rough is assumed."
                .to_owned(),
        );
    }
    said.extend(cause_sentence(grounds, value));
    said.push(if grounds.invented_prices {
        format!(
            "The prices are invented ({}): put your own in before you pay anything.",
            grounds.price_book
        )
    } else {
        format!("The prices are your own: {}.", grounds.price_book)
    });
    said
}

/// The share of the spread of `value` that goes with `cause`, 0..=1.
///
/// # Method
/// Correlation ratio (Pearson 1905): the variance between the means of
/// equally filled classes of the cause over the whole variance, less what as
/// many classes of pure chance would give.
///
/// # Validity
/// A rough guide; 0 below 40 draws. Shares of causes that go together overlap.
#[must_use]
pub fn share_of_spread(value: &Draws, cause: &Draws) -> f64 {
    let n = value.len();
    if n != cause.len() || n < 40 {
        return 0.0;
    }
    let classes = (n / 20).clamp(2, 50);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| {
        cause.values()[a]
            .total_cmp(&cause.values()[b])
            .then(a.cmp(&b))
    });
    let (mean, mut between, mut whole) = (value.mean(), 0.0, 0.0);
    for class in 0..classes {
        let members = &order[class * n / classes..(class + 1) * n / classes];
        let class_mean =
            members.iter().map(|&i| value.values()[i]).sum::<f64>() / members.len() as f64;
        between += members.len() as f64 * (class_mean - mean) * (class_mean - mean);
        whole += members
            .iter()
            .map(|&i| (value.values()[i] - mean) * (value.values()[i] - mean))
            .sum::<f64>();
    }
    if whole <= 0.0 {
        return 0.0;
    }
    // Adjusted as R² is for its parameters.
    let unexplained = (1.0 - between / whole) * (n as f64 - 1.0) / (n as f64 - classes as f64);
    (1.0 - unexplained).clamp(0.0, 1.0)
}

fn bar_sentence(grounds: &Grounds) -> String {
    match (grounds.sightings, grounds.quick_look) {
        (0, true) => "The bar is known from a quick look only: a thickness and how much of the edge shows it.".to_owned(),
        (0, false) => "No bar has been seen yet: it is what such rough usually holds.".to_owned(),
        (1, _) => "The bar was seen at 1 place.".to_owned(),
        (n, _) => format!("The bar was seen at {n} places."),
    }
}

fn look_sentence(grounds: &Grounds) -> String {
    let words = |list: &[String]| list.join(" or ").replace('-', " ");
    match (&grounds.variety, grounds.brightness.as_slice()) {
        (Some(variety), []) => format!(
            "It is taken as {variety} opal; nobody has judged its brightness, so every brightness counts."
        ),
        (Some(variety), bright) => {
            format!("It is taken as {variety} opal, {}.", words(bright))
        }
        (None, []) => {
            "Nobody has judged its colour yet, so every variety and brightness counts.".to_owned()
        }
        (None, bright) => format!(
            "Nobody has said what variety it is, so several count; its brightness is taken as {}.",
            words(bright)
        ),
    }
}

fn cause_sentence(grounds: &Grounds, value: &Draws) -> Option<String> {
    /// A share below this is not worth a word. Chosen: a tenth of the spread.
    const WORTH_A_WORD: f64 = 0.1;
    let mut shares: Vec<(f64, &str)> = grounds
        .causes
        .iter()
        .map(|(name, draws)| (share_of_spread(value, draws), name.as_str()))
        .filter(|(share, _)| *share >= WORTH_A_WORD)
        .collect();
    shares.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    let (share, name) = shares.first()?;
    let rest: Vec<&str> = shares[1..].iter().take(2).map(|(_, name)| *name).collect();
    let then = if rest.is_empty() {
        String::new()
    } else {
        format!("; then from {}", rest.join(" and "))
    };
    Some(format!(
        "About {:.0} % of the spread comes from {name}{then}.",
        100.0 * share
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LuckDraw;
    use opal_units::Seed;

    fn draws(f: impl Fn(LuckDraw) -> f64) -> Draws {
        Draws::new(
            (0..2000)
                .map(|i| f(LuckDraw::draw(Seed(5), i, 0)))
                .collect(),
        )
        .expect("finite")
    }

    /// Value = 3 a + b + c of independent unit normals: a explains 9/11.
    #[test]
    fn shares_of_a_sum_are_shares_of_variance() {
        let value = draws(|l| 3.0 * l.market + l.own + l.work);
        let a = share_of_spread(&value, &draws(|l| l.market));
        let b = share_of_spread(&value, &draws(|l| l.own));
        assert!((a - 9.0 / 11.0).abs() < 0.03, "{a}");
        assert!((b - 1.0 / 11.0).abs() < 0.04, "{b}");
        let curved = draws(|l| l.market * l.market);
        let squared = share_of_spread(&curved, &draws(|l| l.market));
        assert!(squared > 0.85, "{squared}");
        assert!(share_of_spread(&value, &draws(|l| (l.own * 1e4).fract())) < 0.05);
    }

    #[test]
    fn says_what_it_rests_on() {
        let value = draws(|l| 3.0 * l.market + l.own);
        let grounds = Grounds {
            interiors: 1000,
            sightings: 7,
            shape: "three calliper sizes".to_owned(),
            weighed: true,
            variety: Some("light".to_owned()),
            brightness: vec!["bright".to_owned(), "very-bright".to_owned()],
            price_book: "Invented example, not for trade".to_owned(),
            invented_prices: true,
            plan: "one freeform stone".to_owned(),
            causes: vec![("the market".to_owned(), draws(|l| l.market))],
            ..Grounds::default()
        };
        let said = rests_on(&grounds, &value);
        assert_eq!(
            said[0],
            "It rests on 1000 possible insides of this piece, cut as one freeform stone."
        );
        assert!(said.contains(&"The bar was seen at 7 places.".to_owned()));
        assert!(said.contains(&"It is taken as light opal, bright or very bright.".to_owned()));
        assert!(said.iter().any(|s| s.contains("invented")));
        assert!(
            said.iter()
                .any(|s| s.ends_with("% of the spread comes from the market."))
        );
    }
}
