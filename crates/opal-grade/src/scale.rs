//! The trade's own scales, each word with what it means.
//!
//! Words only: numbers run both ways in the trade (some count 5 as the brightest,
//! others 1). Where two words of one scale are in use for the same thing the
//! plainer one stands here.

/// A word of a scale.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Word {
    /// The word.
    pub word: &'static str,
    /// What it means, plainly.
    pub plain: &'static str,
}

/// A scale of the trade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Its key, as files and commands write it.
    pub key: &'static str,
    /// What it says of a stone.
    pub says: &'static str,
    /// Its words, in order where it has one.
    pub words: &'static [Word],
    /// True when a stone may carry several of its words at once.
    pub several: bool,
    /// Where the words come from.
    pub source: &'static str,
}

macro_rules! words {
    ($($word:literal: $plain:literal),+ $(,)?) => {
        &[$(Word { word: $word, plain: $plain }),+]
    };
}

const NOMENCLATURE: &str = "the nomenclature that the Australian gemmological and mining \
                            associations agreed in 1997";
const IN_USE: &str = "words in general use; common practice, no source";

/// The scales, in the order in which a stone is looked at. Body tone is not among
/// them: its steps need the side that was looked at, see [`ToneMark`](crate::ToneMark).
pub const SCALES: [Scale; 10] = [
    Scale {
        key: "variety",
        says: "what its body looks like",
        several: false,
        source: NOMENCLATURE,
        words: words! {
            "black": "body tone N1 to N4, seen face up",
            "dark": "body tone N5 or N6, seen face up",
            "light": "body tone N7 to N9, seen face up",
            "crystal": "light goes through: you can read large print through it",
            "boulder": "on the rock that it grew in, as one piece",
            "matrix": "spread through the pores of its rock",
        },
    },
    Scale {
        key: "brightness",
        says: "how strong the colour is under a plain lamp",
        several: false,
        source: IN_USE,
        words: words! {
            "dull": "colour has to be looked for",
            "subdued": "colour is seen, but only close to the lamp",
            "bright": "colour is clear in ordinary light",
            "very bright": "colour is strong at arm's length and in the shade",
            "brilliant": "colour stays strong across the room and in weak light",
        },
    },
    Scale {
        key: "transparency",
        says: "how much light goes through",
        several: false,
        source: IN_USE,
        words: words! {
            "transparent": "print is read through it",
            "semi-transparent": "print is seen through it, not read",
            "translucent": "light comes through, no shapes do",
            "semi-opaque": "light comes through at thin edges only",
            "opaque": "no light comes through",
        },
    },
    Scale {
        key: "hue",
        says: "which colours play, the one that is seen most first",
        several: true,
        source: IN_USE,
        words: words! {
            "red": "red flashes",
            "orange": "orange flashes",
            "yellow": "yellow flashes",
            "green": "green flashes",
            "blue": "blue flashes",
            "violet": "violet flashes",
        },
    },
    Scale {
        key: "pattern",
        says: "how the colour is laid out",
        several: false,
        source: "general lists of pattern names; no standard has limits for them",
        words: words! {
            "pinfire": "points of colour, close together",
            "flash": "sheets of colour that come and go as it turns",
            "broad flash": "one sheet over much of the face",
            "rolling flash": "a sheet that runs across as it turns",
            "block": "large patches with straight edges",
            "flagstone": "patches with straight edges that fit together unevenly",
            "harlequin": "even, angular patches in a regular mosaic; rare, and disputed",
            "mosaic": "patches that fit together like tiles of many shapes",
            "ribbon": "long bands side by side",
            "straw": "thin strokes crossing each other",
            "script": "strokes like writing",
            "moss": "soft branching colour",
            "mackerel sky": "rows of small clouds",
            "picture": "looks like something",
        },
    },
    Scale {
        key: "consistency",
        says: "how even colour, brightness and pattern are over the face",
        several: false,
        source: IN_USE,
        words: words! {
            "even": "the same all over",
            "nearly even": "a little weaker somewhere",
            "patchy": "parts of the face show little",
            "part of the face": "less than half of the face shows colour",
        },
    },
    Scale {
        key: "direction",
        says: "what is lost when it is turned",
        several: false,
        source: IN_USE,
        words: words! {
            "non-directional": "as good from every side",
            "slightly directional": "changes a little as it is turned",
            "somewhat directional": "loses a step of brightness from some sides",
            "very directional": "loses most of its colour from some sides",
            "highly directional": "loses all colour from some sides",
        },
    },
    Scale {
        key: "clarity",
        says: "what there is in the face beside colour",
        several: true,
        source: IN_USE,
        words: words! {
            "clean": "nothing that is seen without a loupe",
            "sand": "grains or spots of sand",
            "potch line": "a line without colour",
            "potch patch": "a patch without colour",
            "ironstone": "host rock in the face",
            "crack": "a break that reaches the skin",
            "crazing": "a net of fine cracks",
            "pit": "a small hole",
            "haze": "a white veil",
        },
    },
    Scale {
        key: "shape",
        says: "the outline",
        several: false,
        source: IN_USE,
        words: words! {
            "oval": "an ellipse",
            "round": "a circle",
            "cushion": "a square with round sides and corners",
            "pear": "round at one end, pointed at the other",
            "marquise": "pointed at both ends",
            "heart": "a heart",
            "square": "a square",
            "rectangle": "longer than wide, with corners",
            "triangle": "three sides",
            "freeform": "an outline of its own",
            "specimen": "kept as it grew",
        },
    },
    Scale {
        key: "thickness",
        says: "how thick the whole stone is for its size",
        several: false,
        source: IN_USE,
        words: words! {
            "thin": "care is needed in setting it",
            "usual": "what buyers and settings expect",
            "thick": "more back than a setting takes; its carats mislead",
        },
    },
];

/// A scale by its key.
#[must_use]
pub fn scale(key: &str) -> Option<&'static Scale> {
    SCALES.iter().find(|scale| scale.key == key)
}

impl Scale {
    /// A word of it, capitals and dashes aside.
    #[must_use]
    pub fn find(&self, word: &str) -> Option<&'static Word> {
        let plain = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
        let wanted = plain(word);
        self.words.iter().find(|known| plain(known.word) == wanted)
    }
}
