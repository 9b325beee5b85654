//! What the cutter's own stones say of the field that they came from.
//!
//! A look at a stone counts from the day it was taken in, bought or not: so that what
//! is learned of insides does not lean to the stones that looked good.

use crate::bench::Bench;
use crate::error::JobError;
use crate::parting::came_off;
use crate::records::StoneNo;
use opal_evidence::{Evidence, Form, Seen};
use opal_geostat::stereology::SizeLaw;
use opal_interior::OriginPrior;
use opal_interior::forms::{Around, FormPrior};
use opal_learn::{GroupSpread, Groups, NormalGroups, PoolingError, cautious, normal_groups};
use std::collections::BTreeMap;

/// One stone's say on a quantity of its field: the logarithm of what was found over
/// what is usual, and how far a single stone may lie from its field.
pub(crate) type Say = (f64, f64);

/// How far single stones of one field scatter in the logarithm, thickness and yield
/// alike. Chosen: two of three within a factor 1.6.
pub(crate) const OF_ONE: f64 = 0.5;
/// The same for specks: two of three within a factor 2.2. Chosen.
const SPECKS_OF_ONE: f64 = 0.8;
/// How far fields may differ, and how far all of them may lie from what is usual, in the
/// logarithm. Chosen.
const BETWEEN: f64 = 0.35;
const MIDDLE_SD: f64 = 0.4;
/// How many stones it takes until each counts half. Chosen: so that one stone moves a
/// field by less than a fifth of what ten such would.
const CAUTION: f64 = 6.0;

/// What a look at one stone says.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct FieldLook {
    pub(crate) origin: Option<String>,
    pub(crate) thickness: Option<Say>,
    pub(crate) specks: Option<Say>,
}

impl FieldLook {
    pub(crate) fn of(evidence: &Evidence) -> Self {
        let form = FormPrior::of(evidence.piece.form);
        Self {
            origin: evidence.piece.origin.clone(),
            thickness: mean_thickness_mm(evidence)
                .map(|mm| ((mm / form.thickness_mm.median).ln(), OF_ONE)),
            specks: specks(evidence, &form),
        }
    }
}

fn mean_thickness_mm(evidence: &Evidence) -> Option<f64> {
    let bar = evidence.bars.first()?;
    let read: Vec<f64> = bar
        .sightings
        .iter()
        .filter_map(|sighting| match sighting.seen {
            Seen::Measured {
                thickness: Some(read),
                ..
            } => Some(read.value.mm()),
            Seen::Measured {
                top: Some(top),
                bottom: Some(bottom),
                ..
            } => Some(top.value.mm() - bottom.value.mm()),
            _ => None,
        })
        .collect();
    let mean = if read.is_empty() {
        bar.quick?.thickness.value.mm()
    } else {
        read.iter().sum::<f64>() / read.len() as f64
    };
    (mean > 0.0).then_some(mean)
}

/// Specks counted over those that such rough usually shows on as much surface. Half a
/// speck is added to both, so that none counted on a small surface says little.
fn specks(evidence: &Evidence, form: &FormPrior) -> Option<Say> {
    if evidence.exposures.is_empty() {
        return None;
    }
    let (mut counted, mut usual) = (0.5, 0.5);
    for exposure in &evidence.exposures {
        counted += exposure.specks.len() as f64;
        for kind in &form.specks {
            // Sections on a surface: number in the volume times the diameter seen.
            let seen = SizeLaw::new(kind.size.median_mm, kind.size.log_sd)
                .ok()?
                .seen_caliper(exposure.smallest_seen.mm());
            usual += kind.per_mm3 * seen * exposure.area.mm2();
        }
    }
    Some((
        (counted / usual).ln(),
        SPECKS_OF_ONE.hypot(counted.recip().sqrt()),
    ))
}

/// Whose field is asked about.
#[derive(Clone, Copy, Debug)]
pub(crate) enum OwnField {
    /// One of those that were pooled, by its place.
    Met(usize),
    /// Another.
    NotMet,
}

/// Fields pooled: those that anything is said of, in the order given.
pub(crate) struct Pooled {
    groups: NormalGroups,
    fields: Vec<usize>,
}

impl Pooled {
    /// Each field leans on the others as far as they agree; `None` where nothing is
    /// said of any.
    ///
    /// # Method
    /// [`normal_groups`] about 0, 'as is usual'; a field's estimate is the mean of its
    /// stones' logarithms weighted by their precision, and its first stones count for
    /// less ([`cautious`]).
    pub(crate) fn of(fields: &[Vec<Say>]) -> Result<Option<Self>, PoolingError> {
        Self::with(fields, BETWEEN, MIDDLE_SD)
    }

    /// The same, where fields differ by `between` and all of them lie off by `middle_sd`,
    /// both in the logarithm.
    pub(crate) fn with(
        fields: &[Vec<Say>],
        between: f64,
        middle_sd: f64,
    ) -> Result<Option<Self>, PoolingError> {
        let met: Vec<usize> = (0..fields.len())
            .filter(|&k| !fields[k].is_empty())
            .collect();
        if met.is_empty() {
            return Ok(None);
        }
        let estimates: Vec<(f64, f64)> = met
            .iter()
            .map(|&k| {
                let precision: f64 = fields[k].iter().map(|(_, sd)| sd.powi(-2)).sum();
                let sum: f64 = fields[k].iter().map(|(log, sd)| log / (sd * sd)).sum();
                let trust = cautious(fields[k].len(), CAUTION);
                (sum / precision, (precision * trust).sqrt().recip())
            })
            .collect();
        let belief = Groups {
            centre: Some((0.0, middle_sd)),
            spread: GroupSpread::HalfNormal(between),
        };
        Ok(Some(Self {
            groups: normal_groups(&estimates, belief)?,
            fields: met,
        }))
    }

    /// A field's logarithm over what is usual: mean and standard deviation.
    fn field(&self, field: usize) -> Option<(f64, f64)> {
        let group = self.fields.iter().position(|&k| k == field)?;
        Some(self.groups.group(group))
    }

    /// The middle of a field's logarithm over what is usual; of one that was not met,
    /// where nothing is said of this one.
    pub(crate) fn middle(&self, own: OwnField) -> f64 {
        let said = match own {
            OwnField::Met(field) => self.field(field),
            OwnField::NotMet => None,
        };
        said.unwrap_or_else(|| self.groups.unmet()).0
    }

    /// Every field with its middle, nine in ten of what it may be, and the middle of a
    /// field not met yet; all over what is usual.
    pub(crate) fn told(&self) -> impl Iterator<Item = (usize, [f64; 3], f64)> {
        let elsewhere = self.groups.unmet().0.exp();
        self.fields.iter().enumerate().map(move |(group, &field)| {
            let at = |share| self.groups.group_quantile(group, share).exp();
            (field, [at(0.05), at(0.5), at(0.95)], elsewhere)
        })
    }
}

/// Looks by field, in the order of the fields' names.
pub(crate) fn by_field<'a>(
    looks: impl IntoIterator<Item = &'a FieldLook>,
) -> BTreeMap<&'a str, Vec<&'a FieldLook>> {
    let mut fields: BTreeMap<&str, Vec<&FieldLook>> = BTreeMap::new();
    for look in looks {
        if let Some(origin) = &look.origin {
            fields.entry(origin).or_default().push(look);
        }
    }
    fields
}

/// What the looks say of the insides of a stone from `origin`, in place of what is
/// usual for its form; `None` where none of them is from there.
fn prior(origin: &str, form: Form, looks: &[FieldLook]) -> Result<Option<OriginPrior>, JobError> {
    let fields = by_field(looks);
    let Some(field) = fields.keys().position(|name| *name == origin) else {
        return Ok(None);
    };
    let said = |of: fn(&FieldLook) -> Option<Say>| -> Result<Option<(f64, f64)>, JobError> {
        let says: Vec<Vec<Say>> = fields
            .values()
            .map(|looks| looks.iter().filter_map(|look| of(look)).collect())
            .collect();
        Ok(Pooled::of(&says)?.and_then(|pooled| pooled.field(field)))
    };
    let usual = FormPrior::of(form);
    let thickness_mm = said(|look| look.thickness)?.map(|(log, sd)| Around {
        median: usual.thickness_mm.median * log.exp(),
        // Never vaguer than before anything was learned.
        log_sd: sd.hypot(OF_ONE).min(usual.thickness_mm.log_sd),
    });
    let specks = said(|look| look.specks)?.map(|(log, sd)| Around {
        median: log.exp(),
        log_sd: sd.hypot(SPECKS_OF_ONE),
    });
    Ok(
        (thickness_mm.is_some() || specks.is_some()).then(|| OriginPrior {
            origin: origin.to_owned(),
            stones: fields.values().nth(field).map_or(0, Vec::len),
            thickness_mm,
            specks,
            ..OriginPrior::default()
        }),
    )
}

impl Bench {
    /// What looks at the stones of the store say of their fields, the invented example
    /// left out where the cutter has stones of their own.
    pub(crate) fn field_looks(&self) -> Result<Vec<(StoneNo, FieldLook)>, JobError> {
        let (stones, _) = self.rough()?;
        let mut looks = Vec::with_capacity(stones.len());
        for stone in &stones {
            if came_off(&self.ports().store.events(stone.no)?) {
                continue;
            }
            let look = self.remembered(stone, || {
                Ok(FieldLook::of(&self.open_number(stone.no)?.evidence))
            })?;
            looks.push((stone.no, look));
        }
        Ok(looks)
    }

    /// What the cutter's other stones of the same field say of this one's inside; nothing
    /// of a piece that came off another.
    ///
    /// # Errors
    /// The store fails.
    pub(crate) fn origin_prior(
        &self,
        evidence: &Evidence,
        itself: Option<StoneNo>,
    ) -> Result<Option<OriginPrior>, JobError> {
        let Some(origin) = &evidence.piece.origin else {
            return Ok(None);
        };
        // What was seen of it is the other's look, which must not count twice.
        if let Some(no) = itself
            && came_off(&self.ports().store.events(no)?)
        {
            return Ok(None);
        }
        let looks: Vec<FieldLook> = self
            .field_looks()?
            .into_iter()
            .filter(|(no, _)| Some(*no) != itself)
            .map(|(_, look)| look)
            .collect();
        prior(origin, evidence.piece.form, &looks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(origin: &str, times: f64) -> FieldLook {
        FieldLook {
            origin: Some(origin.to_owned()),
            thickness: Some((times.ln(), OF_ONE)),
            specks: Some((times.ln(), SPECKS_OF_ONE)),
        }
    }

    fn thickness(n: usize, times: f64) -> Around {
        let looks = vec![look("Field A", times); n];
        prior("Field A", Form::Seam, &looks)
            .expect("pools")
            .expect("met")
            .thickness_mm
            .expect("said")
    }

    /// Nothing learned from one stone is over-believed: it moves its field by less than
    /// a fifth of what ten such would, and narrows nothing.
    #[test]
    fn one_stone_is_not_over_believed() {
        let usual = FormPrior::of(Form::Seam).thickness_mm;
        for times in [0.3, 1.5, 3.0] {
            let moved = |n| (thickness(n, times).median / usual.median).ln();
            assert!(moved(1).abs() < 0.2 * moved(10).abs(), "{times}");
            assert!(moved(1) * f64::ln(times) > 0.0);
        }
        assert_eq!(thickness(1, 3.0).log_sd, usual.log_sd);
        let twenty = thickness(20, 3.0);
        assert!(
            (twenty.median / usual.median / 3.0).ln().abs() < 0.2,
            "{twenty:?}"
        );
        assert!(twenty.log_sd < 0.9 * usual.log_sd, "{twenty:?}");
    }

    #[test]
    fn a_field_says_nothing_of_a_stone_from_elsewhere() {
        let looks = vec![look("Field A", 2.0); 5];
        assert_eq!(prior("Field B", Form::Seam, &looks).expect("pools"), None);
        let learned = prior("Field A", Form::Seam, &looks)
            .expect("pools")
            .expect("met");
        assert_eq!((learned.stones, learned.hidden_bar), (5, None));
        assert!(learned.specks.expect("said").median > 1.0);
    }
}
