//! What is believed of a form of rough before looking: the starting priors.
//!
//! Every number here is common practice, no source (cutters' rules of thumb on
//! how seams, nobbies, boulder and pipe opal lie inside), widened so that it does
//! not bind; the cutter's own ledger is to replace them. Nothing here may be
//! shown as a measured fact. The ranges are the widest: the relief of measured surfaces
//! about their plane (terrain, a worn coin) loses half its correlation within a
//! tenth of the width looked at, that of a gentle bar only within half of it.
//! Measured surfaces also bend as a whole, which no field of one range does: see [`BEND`].

use opal_evidence::{Form, SpeckKind, TorchLook};
use opal_geostat::stereology::SizePrior;

/// A positive number known by its middle and the factor it may be off by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Around {
    /// The median.
    pub median: f64,
    /// Standard deviation of the logarithm.
    pub log_sd: f64,
}

const fn around(median: f64, log_sd: f64) -> Around {
    Around { median, log_sd }
}

impl Around {
    /// The value at a standard normal score.
    #[must_use]
    pub fn at(self, z: f64) -> f64 {
        self.median * (self.log_sd * z).exp()
    }

    /// The mean.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.at(0.5 * self.log_sd)
    }

    /// The root of the mean square: what stands for a standard deviation that is itself
    /// known so.
    #[must_use]
    pub fn root_mean_square(self) -> f64 {
        self.at(self.log_sd)
    }

    /// The standard deviation.
    #[must_use]
    pub fn sd(self) -> f64 {
        self.mean() * (self.log_sd * self.log_sd).exp_m1().sqrt()
    }
}

/// How far a bar bends, along each axis, between its middle and its edge: one standard
/// deviation, over that of its bulges.
///
/// Measured: a quadratic fitted to the disc in windows of two terrains and a worn coin has
/// coefficients of 1.4 to 2.0 of what it leaves over, root mean square, where a field
/// of one range, as short as theirs, has 1.1 to 1.2; this is the difference, in quadrature.
pub const BEND: f64 = 1.25;
/// How much a bar's thickness grows between its middle and its edge along each axis, as
/// a wedge does, over its standard deviation. Common practice, no source.
pub const WEDGE: f64 = 0.5;

/// The starting priors of one form.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FormPrior {
    /// The form in a sentence's words.
    pub words: &'static str,
    /// Chance that a piece that shows no bar holds one.
    pub hidden_bar: f64,
    /// Standard deviation of the bar's slope against the piece's lie, along each axis.
    pub slope_sd: f64,
    /// Standard deviation of the bar's mean height, as a share of the piece's height.
    pub height_share_sd: f64,
    /// How far the bar's top bulges from its bend (one standard deviation), mm.
    pub relief_mm: Around,
    /// Range of that bulge, as a share of the mean of length and width.
    pub relief_range_share: Around,
    /// Mean thickness of the bar where nobody judged it, mm.
    pub thickness_mm: Around,
    /// Mean thickness over its standard deviation from place to place. Below
    /// about 2 the bar often pinches out.
    pub steadiness: Around,
    /// Range of the thickness, as a share of the mean of length and width.
    pub thickness_range_share: Around,
    /// Cracks nobody saw, a cm³ of rough.
    pub unseen_cracks_per_cm3: f64,
    /// Specks by kind.
    pub specks: [SpeckPrior; 3],
}

/// What is believed of one kind of speck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeckPrior {
    /// The kind.
    pub kind: SpeckKind,
    /// Mean number a mm³.
    pub per_mm3: f64,
    /// Shape of its Gamma law: small is unsure.
    pub shape: f64,
    /// Diameters.
    pub size: SizePrior,
    /// How they lie together; `None`: each for itself.
    pub pockets: Option<Pockets>,
}

/// Specks that lie together in round pockets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pockets {
    /// Mean number in a pocket.
    pub mean_number: f64,
    /// One standard deviation of a speck's place about the middle of its pocket, along
    /// each axis, mm.
    pub spread_mm: f64,
}

const fn specks(potch: f64, sand: f64, lens: f64) -> [SpeckPrior; 3] {
    [
        SpeckPrior {
            kind: SpeckKind::Potch,
            per_mm3: potch,
            shape: 0.6,
            size: size(0.5, 0.5),
            pockets: None,
        },
        SpeckPrior {
            kind: SpeckKind::Sand,
            per_mm3: sand,
            shape: 0.5,
            size: size(0.6, 0.6),
            pockets: None,
        },
        SpeckPrior {
            kind: SpeckKind::Lens,
            per_mm3: lens,
            shape: 0.6,
            size: size(1.2, 0.5),
            pockets: None,
        },
    ]
}

const fn size(median_mm: f64, log_spread: f64) -> SizePrior {
    SizePrior {
        median_mm,
        log_spread,
        log_sd: 0.45,
        log_sd_spread: 0.3,
    }
}

const SEAM: FormPrior = FormPrior {
    words: "seam",
    hidden_bar: 0.5,
    slope_sd: 0.05,
    height_share_sd: 0.22,
    relief_mm: around(0.5, 0.7),
    relief_range_share: around(0.26, 0.9),
    thickness_mm: around(1.8, 0.6),
    steadiness: around(2.4, 0.45),
    thickness_range_share: around(0.2, 0.9),
    unseen_cracks_per_cm3: 0.05,
    specks: specks(0.0015, 0.0008, 0.0002),
};

const NOBBY: FormPrior = FormPrior {
    words: "nobby",
    hidden_bar: 0.4,
    slope_sd: 0.10,
    height_share_sd: 0.22,
    relief_mm: around(0.9, 0.7),
    relief_range_share: around(0.26, 0.9),
    thickness_mm: around(1.6, 0.65),
    steadiness: around(1.9, 0.45),
    thickness_range_share: around(0.18, 0.9),
    unseen_cracks_per_cm3: 0.06,
    specks: specks(0.002, 0.002, 0.0004),
};

const BOULDER: FormPrior = FormPrior {
    words: "boulder",
    hidden_bar: 0.3,
    slope_sd: 0.12,
    height_share_sd: 0.25,
    relief_mm: around(0.9, 0.7),
    relief_range_share: around(0.16, 0.9),
    thickness_mm: around(0.7, 0.7),
    steadiness: around(1.4, 0.45),
    thickness_range_share: around(0.13, 0.9),
    unseen_cracks_per_cm3: 0.05,
    specks: specks(0.003, 0.003, 0.0006),
};

const PIPE: FormPrior = FormPrior {
    words: "pipe",
    hidden_bar: 0.5,
    slope_sd: 0.10,
    height_share_sd: 0.22,
    relief_mm: around(0.7, 0.7),
    relief_range_share: around(0.26, 0.9),
    thickness_mm: around(4.0, 0.6),
    steadiness: around(2.2, 0.45),
    thickness_range_share: around(0.2, 0.9),
    unseen_cracks_per_cm3: 0.05,
    specks: specks(0.0015, 0.0015, 0.0002),
};

const MATRIX: FormPrior = FormPrior {
    words: "matrix",
    hidden_bar: 0.3,
    slope_sd: 0.15,
    height_share_sd: 0.28,
    relief_mm: around(0.8, 0.8),
    relief_range_share: around(0.13, 0.9),
    thickness_mm: around(0.6, 0.8),
    steadiness: around(1.1, 0.45),
    thickness_range_share: around(0.1, 0.9),
    unseen_cracks_per_cm3: 0.04,
    specks: specks(0.004, 0.004, 0.001),
};

const UNKNOWN: FormPrior = FormPrior {
    words: "form not known",
    hidden_bar: 0.4,
    slope_sd: 0.12,
    height_share_sd: 0.25,
    relief_mm: around(0.8, 0.9),
    relief_range_share: around(0.23, 0.9),
    thickness_mm: around(1.6, 0.8),
    steadiness: around(1.9, 0.55),
    thickness_range_share: around(0.2, 0.9),
    unseen_cracks_per_cm3: 0.05,
    specks: specks(0.002, 0.002, 0.0005),
};

impl FormPrior {
    /// The starting priors of a form.
    #[must_use]
    pub fn of(form: Form) -> Self {
        match form {
            Form::Seam => SEAM,
            Form::Nobby => NOBBY,
            Form::Boulder => BOULDER,
            Form::Pipe => PIPE,
            Form::Matrix => MATRIX,
            Form::Unknown => UNKNOWN,
        }
    }
}

/// By what factor a torch look changes the belief of how many specks there are.
/// Common practice, no source: a torch shows most sand in clear rough and
/// nothing in dark rough.
#[must_use]
pub fn torch_factor(torch: Option<TorchLook>, kind: SpeckKind) -> f64 {
    match (torch, kind) {
        (Some(TorchLook::Clean), _) => 0.4,
        (Some(TorchLook::Hazy), SpeckKind::Potch) => 1.5,
        (Some(TorchLook::Specks), _) => 3.0,
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_prior_is_a_prior() {
        for form in [
            Form::Seam,
            Form::Nobby,
            Form::Boulder,
            Form::Pipe,
            Form::Matrix,
            Form::Unknown,
        ] {
            let p = FormPrior::of(form);
            for a in [
                p.relief_mm,
                p.relief_range_share,
                p.thickness_mm,
                p.steadiness,
                p.thickness_range_share,
            ] {
                assert!(a.median > 0.0 && a.log_sd > 0.0);
            }
            assert!((0.0..=1.0).contains(&p.hidden_bar));
            for (speck, kind) in p.specks.iter().zip(SpeckKind::ALL) {
                assert_eq!(speck.kind, kind);
                assert!(speck.per_mm3 > 0.0 && speck.shape > 0.0);
            }
        }
    }
}
