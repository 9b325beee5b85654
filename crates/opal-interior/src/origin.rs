//! What the cutter's own stones of one origin taught, in place of what is usual for
//! their form.

use crate::InteriorError;
use crate::forms::{Around, FormPrior, Pockets};
use opal_evidence::SpeckKind;

/// Starting priors learnt from one origin; what is `None` stays the form's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OriginPrior {
    /// Name of the origin.
    pub origin: String,
    /// How many of the cutter's own stones it was learnt from.
    pub stones: usize,
    /// Chance that a piece that shows no bar holds one.
    pub hidden_bar: Option<f64>,
    /// How far the bar's top bulges from its bend (one standard deviation), mm.
    pub relief_mm: Option<Around>,
    /// Range of that bulge, as a share of the mean of length and width.
    pub relief_range_share: Option<Around>,
    /// Mean thickness of the bar where nobody judged it, mm.
    pub thickness_mm: Option<Around>,
    /// Mean thickness over its standard deviation from place to place.
    pub steadiness: Option<Around>,
    /// Range of the thickness, as a share of the mean of length and width.
    pub thickness_range_share: Option<Around>,
    /// How many times the form's specks one piece holds.
    pub specks: Option<Around>,
    /// Sand lies in pockets such as these.
    pub sand_pockets: Option<Pockets>,
}

impl OriginPrior {
    /// The form's priors with what was learnt in their place.
    ///
    /// # Errors
    /// A median or spread that is not positive and finite; a chance outside 0..=1.
    pub fn over(&self, form: FormPrior) -> Result<FormPrior, InteriorError> {
        let fault = |field, value, limit| InteriorError::Prior {
            origin: self.origin.clone(),
            field,
            value,
            limit,
        };
        let mut prior = form;
        for (field, learnt, place) in [
            ("relief", self.relief_mm, &mut prior.relief_mm),
            (
                "range of the relief",
                self.relief_range_share,
                &mut prior.relief_range_share,
            ),
            ("thickness", self.thickness_mm, &mut prior.thickness_mm),
            ("steadiness", self.steadiness, &mut prior.steadiness),
            (
                "range of the thickness",
                self.thickness_range_share,
                &mut prior.thickness_range_share,
            ),
        ] {
            let Some(around) = learnt else { continue };
            for value in [around.median, around.log_sd] {
                if !(value > 0.0 && value.is_finite()) {
                    return Err(fault(field, value, "above 0"));
                }
            }
            *place = around;
        }
        if let Some(times) = self.specks {
            for value in [times.median, times.log_sd] {
                if !(value > 0.0 && value.is_finite()) {
                    return Err(fault("specks", value, "above 0"));
                }
            }
            for speck in &mut prior.specks {
                speck.per_mm3 *= times.mean();
                // A Gamma law of that shape has the same relative variance; never vaguer
                // than the form's.
                let shape = (times.log_sd * times.log_sd).exp_m1().recip();
                speck.shape = speck.shape.max(shape);
            }
        }
        if let Some(chance) = self.hidden_bar {
            if !(0.0..=1.0).contains(&chance) {
                return Err(fault("chance of a hidden bar", chance, "from 0 to 1"));
            }
            prior.hidden_bar = chance;
        }
        if let Some(pockets) = self.sand_pockets {
            for (field, value) in [
                ("number in a pocket", pockets.mean_number),
                ("spread of a pocket", pockets.spread_mm),
            ] {
                if !(value > 0.0 && value.is_finite()) {
                    return Err(fault(field, value, "above 0"));
                }
            }
            for speck in &mut prior.specks {
                if speck.kind == SpeckKind::Sand {
                    speck.pockets = Some(pockets);
                }
            }
        }
        Ok(prior)
    }

    /// What stands in place of what, in plain words.
    #[must_use]
    pub fn words(&self, form: &FormPrior) -> String {
        format!(
            "What {} of your own stones from {} taught stands in place of what is usual for {} \
             rough.",
            self.stones, self.origin, form.words
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_evidence::Form;

    #[test]
    fn what_was_learnt_replaces_the_form_and_nothing_else() {
        let form = FormPrior::of(Form::Seam);
        let thick = Around {
            median: 3.0,
            log_sd: 0.2,
        };
        let origin = OriginPrior {
            origin: "Lantern Hill".to_owned(),
            stones: 12,
            thickness_mm: Some(thick),
            ..OriginPrior::default()
        };
        let prior = origin.over(form).expect("valid");
        assert_eq!(prior.thickness_mm, thick);
        assert_eq!(
            FormPrior {
                thickness_mm: form.thickness_mm,
                ..prior
            },
            form
        );
    }

    #[test]
    fn a_field_with_more_specks_has_more_of_every_kind() {
        let form = FormPrior::of(Form::Seam);
        let origin = OriginPrior {
            specks: Some(Around {
                median: 2.0,
                log_sd: 0.5,
            }),
            ..OriginPrior::default()
        };
        let prior = origin.over(form).expect("valid");
        for (learnt, usual) in prior.specks.iter().zip(&form.specks) {
            // Mean of a log-normal law: 2·exp(0.5²/2).
            assert!((learnt.per_mm3 / usual.per_mm3 - 2.0 * 0.125_f64.exp()).abs() < 1e-12);
            assert!((learnt.shape - 1.0 / (0.25_f64.exp() - 1.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn refuses_by_name_and_limit() {
        let origin = OriginPrior {
            origin: "Lantern Hill".to_owned(),
            hidden_bar: Some(1.5),
            ..OriginPrior::default()
        };
        assert_eq!(
            origin
                .over(FormPrior::of(Form::Seam))
                .expect_err("refused")
                .to_string(),
            "the prior learnt from Lantern Hill: chance of a hidden bar is 1.5, it must be from 0 to 1"
        );
    }
}
