//! `trace`: a stone's outline from photos.

use super::output::{say, say_json, write_file};
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_evidence::Faults;
use opal_files::{PICTURE_BYTES_MAX, evidence_to_toml, read_picture};
use opal_job::{JobError, PhotoToTrace, ScaleBy, TraceAsk, trace, traced_evidence};
use opal_photo::Picture;
use opal_report::json::TraceDoc;
use opal_units::{Length, Mass};
use std::path::{Path, PathBuf};

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "By the card: opalwright trace top.jpg --rule 49.9 --height 12 --weight 210 --out gully.toml\n\
                  By a rule:   opalwright trace top.jpg --points 410,880,1610,884 --apart 100"
)]
pub(crate) struct Trace {
    /// The photo from above (JPEG or PNG): the stone in the window of the scale card, or
    /// alone on a plain ground.
    top: PathBuf,
    /// A photo from the side, the stone's foot down: gives the height.
    #[arg(long, value_name = "PHOTO")]
    side: Option<PathBuf>,
    /// What the card's 50 mm rule measures on your print, mm.
    #[arg(long, value_name = "MM")]
    rule: Option<f64>,
    /// Without a card: two points in the photo from above, pixels from its upper left.
    #[arg(
        long,
        value_name = "X,Y,X,Y",
        value_delimiter = ',',
        num_args = 1,
        allow_hyphen_values = true,
        requires = "apart"
    )]
    points: Vec<f64>,
    /// How far those two points are apart, mm.
    #[arg(long, value_name = "MM", requires = "points")]
    apart: Option<f64>,
    /// Without a card: two points in the photo from the side.
    #[arg(
        long,
        value_name = "X,Y,X,Y",
        value_delimiter = ',',
        num_args = 1, allow_hyphen_values = true,
        requires_all = ["side_apart", "side"]
    )]
    side_points: Vec<f64>,
    /// How far those two points are apart, mm.
    #[arg(long, value_name = "MM", requires = "side_points")]
    side_apart: Option<f64>,
    /// How high the stone stands, mm; counts before the photo from the side.
    #[arg(long, value_name = "MM")]
    height: Option<f64>,
    /// How far the camera was over the card, mm.
    #[arg(long, value_name = "MM")]
    camera: Option<f64>,
    /// Write an evidence file to go on with; needs the height.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// With --out: what the stone is called [default: the photo's name].
    #[arg(long, value_name = "NAME", requires = "out")]
    name: Option<String>,
    /// With --out: its weight, ct.
    #[arg(long, value_name = "CT", requires = "out")]
    weight: Option<f64>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(command: &Trace) -> Result<(), Failure> {
    let top_scale = command.scale(&command.points, command.apart)?;
    let side_scale = command.scale(&command.side_points, command.side_apart)?;
    let weight = command.weight()?;
    // Both photos are read before either is complained of.
    let top = photo(&command.top)?;
    let side = command.side.as_deref().map(photo).transpose()?;
    let (top, side) = both(top, side)?;
    let side_name = command.side.as_deref().map(shown).unwrap_or_default();
    let traced = trace(&TraceAsk {
        top: PhotoToTrace {
            name: &shown(&command.top),
            picture: &top,
            scale: top_scale,
        },
        side: side.as_ref().map(|picture| PhotoToTrace {
            name: &side_name,
            picture,
            scale: side_scale,
        }),
        height: command.height.map(Length::from_mm),
        camera: command.camera.map(Length::from_mm),
        corrected_px: None,
        follow: None,
    })
    .map_err(JobError::from)?;
    let written = match &command.out {
        Some(out) => Some(command.write(out, weight, &traced)?),
        None => None,
    };
    if command.json {
        return say_json(&traced);
    }
    let mut text = opal_report::text::trace(&traced);
    if let Some(place) = written {
        text.push_str(&format!(
            "\nThe evidence is in {place}: add the form and the bar.\nNext: opalwright take-in {place}\n"
        ));
    }
    say(&text)
}

impl Trace {
    fn scale(&self, points: &[f64], apart: Option<f64>) -> Result<ScaleBy, Failure> {
        match (points, apart) {
            ([a, b, c, d], Some(apart)) => Ok(ScaleBy::TwoPoints {
                px: [[*a, *b], [*c, *d]],
                apart: Length::from_mm(apart),
            }),
            ([], _) => Ok(ScaleBy::Card {
                rule: self.rule.map(Length::from_mm),
            }),
            _ => Err(Failure::user(format!(
                "{} numbers were given for two points; four are needed: X,Y,X,Y",
                points.len()
            ))),
        }
    }

    fn weight(&self) -> Result<Option<Mass>, Failure> {
        match self.weight {
            Some(ct) if !(ct.is_finite() && ct > 0.0 && ct <= 2.5e6) => Err(Failure::user(
                format!("--weight is {ct}; it must be above 0 and at most 2500000 ct"),
            )),
            ct => Ok(ct.map(Mass::from_carats)),
        }
    }

    fn write(
        &self,
        out: &Path,
        weight: Option<Mass>,
        traced: &TraceDoc,
    ) -> Result<String, Failure> {
        let stem = self.top.file_stem().map(|s| s.to_string_lossy());
        let name = self.name.clone().or(stem.map(|s| s.into_owned()));
        let evidence = traced_evidence(&name.unwrap_or_default(), weight, traced)
            .map_err(JobError::from)
            .map_err(|why| Failure::from(why).of_the_command())
            .map_err(|why| why.with_hint("give --height MM, or --side PHOTO"))?;
        write_file(out, evidence_to_toml(&evidence).as_bytes())?;
        Ok(out.display().to_string())
    }
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}

fn photo(path: &Path) -> Result<Result<Picture, Faults>, Failure> {
    let bytes = wire::bounded_file(path, PICTURE_BYTES_MAX as u64)?;
    Ok(read_picture(&shown(path), &bytes))
}

/// Both pictures, or the faults of both.
fn both(
    top: Result<Picture, Faults>,
    side: Option<Result<Picture, Faults>>,
) -> Result<(Picture, Option<Picture>), Failure> {
    let mut faults = Vec::new();
    let top = top.map_err(|f| faults.extend(f.0)).ok();
    let side = side.and_then(|side| side.map_err(|f| faults.extend(f.0)).ok());
    match top {
        Some(top) if faults.is_empty() => Ok((top, side)),
        _ => Err(JobError::from(Faults(faults)).into()),
    }
}
