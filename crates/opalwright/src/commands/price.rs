//! `price`: what a finished stone would fetch, and how to offer it.

use super::output::{say, say_json};
use super::plan::prices_in_force;
use crate::args::{Answer, Args, EffortWord, Planning};
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_grade::{Grade, SCALES};
use opal_job::{Finished, JobError};
use opal_units::{Length, Mass};

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Example: opalwright price \"Gully 7\" --carats 3.2 --sizes 14,10,4 --colour 1.5 \\\n         \
                  --grade variety=light --grade \"brightness=bright, very bright\" --cost 210\n\
                  The scales and their words: opalwright price --scales"
)]
pub(crate) struct Price {
    /// What you call it; a stone that was taken in lends its origin and its look, and
    /// keeps the answer.
    #[arg(required_unless_present = "scales")]
    stone: Option<String>,
    /// Its weight, ct.
    #[arg(
        long,
        value_name = "CT",
        allow_negative_numbers = true,
        required_unless_present = "scales"
    )]
    carats: Option<f64>,
    /// Its length, width and thickness, mm.
    #[arg(
        long,
        value_name = "L,W,T",
        allow_negative_numbers = true,
        value_delimiter = ',',
        num_args = 1,
        required_unless_present = "scales"
    )]
    sizes: Vec<f64>,
    /// Mean thickness of its colour, mm [default: half of the whole].
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    colour: Option<f64>,
    /// Clean share of its face, 0 to 1.
    #[arg(
        long,
        value_name = "SHARE",
        allow_negative_numbers = true,
        default_value_t = 1.0
    )]
    clean: f64,
    /// Its outline: `oval`, `round`, `freeform`, `specimen`, ….
    #[arg(long, value_name = "NAME", default_value = Finished::OUTLINE)]
    outline: String,
    /// A scale and its word, or the words that it may be; repeatable. What nobody
    /// judged is carried as spread.
    #[arg(long, value_name = "SCALE=WORDS")]
    grade: Vec<String>,
    /// What was seen, in your own words.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Where its rough came from [default: as taken in].
    #[arg(long, value_name = "FIELD")]
    origin: Option<String>,
    /// What it cost so far: sets the floor [default: what the books say].
    #[arg(long, value_name = "AMOUNT", allow_negative_numbers = true)]
    cost: Option<f64>,
    /// List the scales with what each word means.
    #[arg(long)]
    scales: bool,
    #[command(flatten)]
    planning: Planning,
    #[command(flatten)]
    answer: Answer,
}

pub(super) fn run(args: &Args, command: &Price) -> Result<(), Failure> {
    let (Some(name), Some(carats), false) = (&command.stone, command.carats, command.scales) else {
        return say(&scales());
    };
    let &[length, width, thickness] = command.sizes.as_slice() else {
        return Err(Failure::user(
            "--sizes needs three numbers: length,width,thickness",
        ));
    };
    let finished = Finished {
        name: name.clone(),
        origin: command.origin.clone(),
        shape: command.outline.trim().to_lowercase(),
        weight: Mass::from_carats(carats),
        sizes: [length, width, thickness].map(Length::from_mm),
        colour: command.colour.map(Length::from_mm),
        clean_share: command.clean,
        grade: Grade::default(),
        cost: command.cost,
    };
    let finished = graded(finished, command)?;
    let bench = wire::bench_to_look(args)?;
    let prices = prices_in_force(&bench, command.planning.prices.as_deref())?;
    let ask = command.planning.ask_with(EffortWord::Settled)?;
    let doc = bench.price(&finished, &prices, &ask)?;
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::price(&doc, command.answer.detail()))
    }
}

/// The stone with the marks of its grade; all that is wrong with either at once.
fn graded(finished: Finished, command: &Price) -> Result<Finished, Failure> {
    const SCALES_HINT: &str = "opalwright price --scales lists the scales and their words";
    let mut pairs = Vec::with_capacity(command.grade.len());
    for mark in &command.grade {
        let Some((scale, words)) = mark.split_once('=') else {
            return Err(
                Failure::user(format!("--grade {mark}: write it as SCALE=WORDS"))
                    .with_hint(SCALES_HINT),
            );
        };
        pairs.push((scale.trim(), words.trim()));
    }
    finished
        .graded(pairs, command.note.as_deref())
        .map_err(|faults| {
            Failure::from(JobError::Faults(faults))
                .of_the_command()
                .with_hint(SCALES_HINT)
        })
}

/// Every scale with what each word means.
fn scales() -> String {
    let mut out = String::from(
        "body-tone: how dark the body is, N1 black to N9 white, and from which side\n  \
         'N4', 'N4-N6', 'N3 from the side'; face up where no side is said\n",
    );
    for scale in SCALES {
        let several = if scale.several {
            " (several may hold)"
        } else {
            ""
        };
        out.push_str(&format!("\n{}: {}{several}\n", scale.key, scale.says));
        for word in scale.words {
            out.push_str(&format!("  {:<22} {}\n", word.word, word.plain));
        }
    }
    out.push_str(
        "\nWords of the trade as a whole; several words, with commas, mean: one of them.\n",
    );
    out
}
