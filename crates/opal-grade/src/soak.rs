//! Whether a stone may go into water at all.

/// Yes, no, or nobody knows.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum Known {
    /// Yes.
    Yes,
    /// No.
    No,
    /// Not known.
    #[default]
    Unknown,
}

/// What is known about a stone that water could harm.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct SoakFacts {
    /// It takes up water: a drop sinks in.
    pub porous: Known,
    /// It is glued: a doublet, a triplet, a repair.
    pub glued: Known,
    /// It is treated matrix, smoked or dyed.
    pub treated: Known,
    /// Open cracks reach its skin.
    pub open_cracks: Known,
    /// It is set in metal.
    pub mounted: bool,
}

impl SoakFacts {
    /// Looked at all round and found sound: water may touch it.
    pub const SOUND: Self = Self {
        porous: Known::No,
        glued: Known::No,
        treated: Known::No,
        open_cracks: Known::No,
        mounted: false,
    };

    /// Why it must not go into water, in plain words; empty when it may.
    ///
    /// What nobody knows counts as a reason: the look that settles it is named.
    #[must_use]
    pub fn reasons_against(&self) -> Vec<String> {
        let mut why = Vec::new();
        for (known, yes, unknown) in [
            (
                self.porous,
                "it takes up water: the reading would drift toward that of solid opal, and it may crack",
                "nobody knows whether it takes up water; put one small drop on the back and watch it for five minutes",
            ),
            (
                self.glued,
                "it is glued: water creeps in and clouds the glue",
                "nobody knows whether it is glued; look along the whole edge under a loupe",
            ),
            (
                self.treated,
                "its colour was put in: water can take it out or leave marks",
                "nobody knows whether its colour was put in; look into pits and cracks under a loupe",
            ),
            (
                self.open_cracks,
                "cracks reach its skin: water runs in and they may grow",
                "nobody has looked for cracks; turn it under a lamp with a torch behind it",
            ),
        ] {
            match known {
                Known::Yes => why.push(yes.to_owned()),
                Known::Unknown => why.push(unknown.to_owned()),
                Known::No => {}
            }
        }
        if self.mounted {
            why.push("it is set in metal: the metal would be weighed with it".to_owned());
        }
        why
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_known_is_a_reason() {
        assert_eq!(SoakFacts::default().reasons_against().len(), 4);
        assert!(SoakFacts::SOUND.reasons_against().is_empty());
        let hydrophane = SoakFacts {
            porous: Known::Yes,
            ..SoakFacts::SOUND
        };
        assert!(hydrophane.reasons_against()[0].contains("drift"));
    }
}
