//! How the colour looks: what a price depends on beside size.
//!
//! The words are the trade's (nomenclature agreed in 1997 by the Australian
//! gemmological and mining associations for tone and variety; five brightness
//! words in general use). `None` means nobody judged it yet: it is then carried
//! as spread.

/// What kind of opal, by the look of its body.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Variety {
    /// Body tone N1 to N4 seen from above.
    Black,
    /// Body tone N5 or N6.
    Dark,
    /// Body tone N7 to N9.
    Light,
    /// Transparent to semi-transparent.
    Crystal,
    /// On its natural host rock.
    Boulder,
    /// Spread through its host rock.
    Matrix,
}

impl Variety {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Black,
        Self::Dark,
        Self::Light,
        Self::Crystal,
        Self::Boulder,
        Self::Matrix,
    ];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Dark => "dark",
            Self::Light => "light",
            Self::Crystal => "crystal",
            Self::Boulder => "boulder",
            Self::Matrix => "matrix",
        }
    }
}

/// Body tone on the nine steps N1 (black) to N9 (white), judged face up.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct BodyTone(u8);

impl BodyTone {
    /// From the step's number.
    #[must_use]
    pub fn new(step: u8) -> Option<Self> {
        (1..=9).contains(&step).then_some(Self(step))
    }

    /// The step's number, 1 black to 9 white.
    #[must_use]
    pub fn step(self) -> u8 {
        self.0
    }

    /// The variety that a tone makes where nothing else names it: N1 to N4 black, N5
    /// and N6 dark, N7 to N9 light (nomenclature of 1997, as the gemmological
    /// glossaries give it).
    #[must_use]
    pub fn variety(self) -> Variety {
        match self.0 {
            1..=4 => Variety::Black,
            5..=6 => Variety::Dark,
            _ => Variety::Light,
        }
    }
}

/// Brightness by its word; numbers run both ways in the trade.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Brightness {
    /// Hardly any.
    Dull,
    /// A little.
    Subdued,
    /// Clear.
    Bright,
    /// Strong.
    VeryBright,
    /// As strong as it comes.
    Brilliant,
}

impl Brightness {
    /// All steps, dullest first.
    pub const ALL: [Self; 5] = [
        Self::Dull,
        Self::Subdued,
        Self::Bright,
        Self::VeryBright,
        Self::Brilliant,
    ];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Dull => "dull",
            Self::Subdued => "subdued",
            Self::Bright => "bright",
            Self::VeryBright => "very bright",
            Self::Brilliant => "brilliant",
        }
    }
}

/// How the colour looks, as far as it was judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Look {
    /// The variety.
    pub variety: Option<Variety>,
    /// The body tone, face up.
    pub body_tone: Option<BodyTone>,
    /// The brightness words that it may turn out to be, all equally likely;
    /// empty when not judged.
    pub brightness: Vec<Brightness>,
    /// The dominant hue, as a plain word, for the record and the papers.
    pub hue: Option<String>,
    /// The pattern word, for the record and the papers.
    pub pattern: Option<String>,
}

/// What the torch showed in the quick look.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum TorchLook {
    /// Light goes through, nothing in it.
    Clean,
    /// A milky haze.
    Hazy,
    /// Specks or sand in it.
    Specks,
    /// No light goes through.
    Dark,
}

impl TorchLook {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Clean, Self::Hazy, Self::Specks, Self::Dark];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Hazy => "hazy",
            Self::Specks => "specks",
            Self::Dark => "dark",
        }
    }
}
