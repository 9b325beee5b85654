//! Interiors that take in further evidence without being drawn again.

use crate::bar::DrawnBar;
use crate::draw::{DrawOptions, Frame, draw_unsighted};
use crate::sighted::{BarDraft, BarRefusal, KeptBar, Sighted};
use crate::{BarDraws, InteriorError, Interiors, OriginPrior};
use opal_evidence::{Evidence, Piece};
use opal_geostat::Packed;
use opal_stone::Stone;
use rayon::prelude::*;

/// The possible insides of one stone together with what is needed to take in more
/// evidence of it.
///
/// The evidence only grows: sightings are added to the ends of their lists. For
/// anything else, and where [`Ensemble::absorb`] asks for it, draw again.
///
/// # Memory
/// Two bytes for each number of a bar's [`Interiors`], which have four.
#[derive(Clone)]
pub struct Ensemble {
    evidence: Evidence,
    stone: Stone,
    origin: Option<OriginPrior>,
    options: DrawOptions,
    bars: Vec<HeldBar>,
}

#[derive(Clone)]
enum HeldBar {
    Sighted(Box<KeptBar>),
    Unsighted(PackedBar),
}

/// What came of further evidence.
#[derive(Clone, Debug, PartialEq)]
pub enum Absorbed {
    /// It was taken in.
    TakenIn {
        /// In how many interiors a bar had to be drawn anew, over all bars.
        drawn_anew: usize,
    },
    /// Nothing was changed: the interiors are to be drawn again.
    DrawAgain(DrawAgain),
}

/// Why interiors have to be drawn again.
#[derive(Clone, Debug, PartialEq)]
pub enum DrawAgain {
    /// Something other than added evidence: the piece, its shape, an earlier sighting.
    Changed,
    /// The first sighting of a bar that had a quick look at most.
    FirstSighting {
        /// Name of the bar.
        bar: String,
    },
    /// A sighting that the others hardly allow.
    Contradicted {
        /// Name of the bar.
        bar: String,
        /// Which sighting, counted from 1.
        sighting: usize,
        /// Where it is, mm.
        at_mm: [f64; 2],
    },
    /// The new sightings speak for a bar that bends or pinches out otherwise than was
    /// thought.
    Otherwise {
        /// Name of the bar.
        bar: String,
    },
}

impl DrawAgain {
    /// The reason in plain words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Changed => "More than a look was added: the insides are worked out anew.".into(),
            Self::FirstSighting { bar } => {
                format!("The first measured look at bar {bar}: its insides are worked out anew.")
            }
            Self::Contradicted {
                bar,
                sighting,
                at_mm,
            } => format!(
                "Sighting {sighting} of bar {bar} near ({:.1}, {:.1}) mm is not what the others \
                 led to expect: the insides are worked out anew.",
                at_mm[0], at_mm[1]
            ),
            Self::Otherwise { bar } => format!(
                "The new looks show that bar {bar} runs otherwise than was thought: its insides \
                 are worked out anew."
            ),
        }
    }
}

impl Ensemble {
    /// Draws as [`Interiors::draw`] does, or [`Interiors::draw_for_origin`] where the
    /// cutter's own stones of this origin taught something, and keeps what further
    /// evidence needs.
    ///
    /// # Errors
    /// As [`Interiors::draw_for_origin`].
    pub fn draw(
        evidence: &Evidence,
        stone: &Stone,
        origin: Option<&OriginPrior>,
        options: &DrawOptions,
        progress: &(dyn Fn(f64) + Sync),
    ) -> Result<Self, InteriorError> {
        let frame = Frame::new(evidence, stone, origin, options)?;
        let bars = frame.each_bar(progress, |bar, setting, told| match bar {
            Some(bar) if !bar.sightings.is_empty() => {
                let learned = Sighted::learn(bar, setting, &|share| told(0.4 * share))?;
                let kept = learned.keep(options.n, &|share| told(0.4 + 0.6 * share));
                Ok(HeldBar::Sighted(Box::new(kept)))
            }
            other => {
                let drawn = draw_unsighted(other, setting, told)?;
                Ok(HeldBar::Unsighted(PackedBar::new(drawn, stone.grid.len())))
            }
        })?;
        Ok(Self {
            evidence: evidence.clone(),
            stone: stone.clone(),
            origin: origin.cloned(),
            options: *options,
            bars,
        })
    }

    /// The evidence that was taken in so far.
    #[must_use]
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// The interiors that honour it.
    ///
    /// # Errors
    /// Counts of specks that could not be used.
    pub fn interiors(&self) -> Result<Interiors, InteriorError> {
        let cells = self.stone.grid.len();
        let drawn = self
            .bars
            .iter()
            .map(|bar| match bar {
                HeldBar::Sighted(kept) => kept.drawn(cells),
                HeldBar::Unsighted(packed) => packed.drawn(cells),
            })
            .collect();
        let origin = self.origin.as_ref();
        Frame::new(&self.evidence, &self.stone, origin, &self.options)?.interiors(drawn)
    }

    /// Takes in what `evidence` adds to what was taken in so far, or tells why the
    /// interiors have to be drawn again; nothing is changed then.
    ///
    /// A bar without a new sighting stays as it is; specks and cracks are drawn from
    /// all that was seen of them. In law this is drawing again, as long as the
    /// sightings do not speak for another choice of parameters.
    ///
    /// # Errors
    /// A sighting off the stone, or one that repeats another without error.
    pub fn absorb(&mut self, evidence: &Evidence) -> Result<Absorbed, InteriorError> {
        if !self.only_grew(evidence) {
            return Ok(Absorbed::DrawAgain(DrawAgain::Changed));
        }
        let grid = &self.stone.grid;
        let mut drafts = Vec::new();
        let pairs = self.evidence.bars.iter().zip(&evidence.bars);
        for (held, (old, new)) in self.bars.iter_mut().zip(pairs) {
            let before = old.sightings.len();
            let added = &new.sightings[before..];
            if added.is_empty() {
                continue;
            }
            let bar = new.name.clone();
            let HeldBar::Sighted(kept) = held else {
                return Ok(Absorbed::DrawAgain(DrawAgain::FirstSighting { bar }));
            };
            match kept.weigh(added, grid)? {
                Ok(draft) => drafts.push(draft),
                Err(BarRefusal::Contradicted { sighting }) => {
                    return Ok(Absorbed::DrawAgain(DrawAgain::Contradicted {
                        bar,
                        sighting: before + sighting + 1,
                        at_mm: added[sighting].at_mm,
                    }));
                }
                Err(BarRefusal::Otherwise) => {
                    return Ok(Absorbed::DrawAgain(DrawAgain::Otherwise { bar }));
                }
            }
        }
        let drawn_anew = drafts.into_iter().map(BarDraft::take_in).sum();
        self.evidence = evidence.clone();
        Ok(Absorbed::TakenIn { drawn_anew })
    }

    /// True when the evidence is the old one with sightings, exposures or cracks added.
    fn only_grew(&self, evidence: &Evidence) -> bool {
        let old = &self.evidence;
        let piece = |piece: &Piece| Piece {
            // The asking price says nothing of the stone.
            asking: None,
            ..piece.clone()
        };
        piece(&old.piece) == piece(&evidence.piece)
            && old.shape == evidence.shape
            && old.step == evidence.step
            && old.bars.len() == evidence.bars.len()
            && old.bars.iter().zip(&evidence.bars).all(|(old, new)| {
                old.name == new.name
                    && old.quick == new.quick
                    && new.sightings.starts_with(&old.sightings)
            })
    }
}

/// A drawn bar in half its room.
#[derive(Clone)]
struct PackedBar {
    tops: Vec<Packed>,
    thicknesses: Vec<Packed>,
    /// Its name and words, without the draws.
    shell: DrawnBar,
}

impl PackedBar {
    fn new(drawn: DrawnBar, cells: usize) -> Self {
        let packed = |values: &[f32]| values.par_chunks_exact(cells).map(Packed::new).collect();
        let BarDraws {
            name,
            top_mm,
            thickness_mm,
        } = drawn.draws;
        Self {
            tops: packed(&top_mm),
            thicknesses: packed(&thickness_mm),
            shell: DrawnBar {
                draws: BarDraws {
                    name,
                    top_mm: Vec::new(),
                    thickness_mm: Vec::new(),
                },
                ..drawn
            },
        }
    }

    fn drawn(&self, cells: usize) -> DrawnBar {
        let written = |packed: &[Packed]| {
            let mut out = vec![0.0_f32; packed.len() * cells];
            out.par_chunks_exact_mut(cells)
                .zip(packed)
                .for_each(|(out, packed)| packed.write(out));
            out
        };
        let mut bar = self.shell.clone();
        bar.draws.top_mm = written(&self.tops);
        bar.draws.thickness_mm = written(&self.thicknesses);
        bar
    }
}
