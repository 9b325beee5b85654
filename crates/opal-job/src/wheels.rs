//! The cutter's own wheels, taught by the cutter's own log.

use crate::ask::Ask;
use crate::bench::Bench;
use crate::error::JobError;
use opal_bench::{Stint, taught};
use opal_finish::{LogBelief, WheelSet};
use opal_report::json::{WHEEL_SET_FORMAT, WheelDoc, WheelSetDoc};

/// Key under which the wheel file's text is kept.
const WHEELS_KEY: &str = "wheels";

/// The wheels in force.
#[derive(Clone, Debug, PartialEq)]
pub struct WheelsInForce {
    /// The text of the cutter's own wheel file; `None` while there is none.
    pub text: Option<String>,
    /// The wheels, after what the log taught.
    pub set: WheelSet,
    /// How many stints at these wheels the log holds.
    pub taught_by: usize,
}

impl WheelsInForce {
    /// Teaches a set what was done at its wheels.
    fn new(text: Option<String>, set: WheelSet, stints: &[Stint]) -> Self {
        let taught_by = stints
            .iter()
            .filter(|stint| set.wheel(&stint.wheel).is_some())
            .count();
        Self {
            text,
            set: WheelSet {
                wheels: taught(&set.wheels, stints),
                ..set
            },
            taught_by,
        }
    }

    /// What answers that use them rest on, in plain words.
    pub(crate) fn rests_on(&self) -> String {
        let whose = match self.text {
            Some(_) => format!("the wheels of '{}'", self.set.title),
            None => "a usual set of wheels (your own are not in force yet)".to_owned(),
        };
        match self.taught_by {
            0 => format!(
                "{whose} and their rates; log wheel changes with minutes to make the rates your own"
            ),
            1 => format!("{whose}, and the rates that one stint of your own log taught"),
            n => format!("{whose}, and the rates that {n} stints of your own log taught"),
        }
    }
}

impl WheelsInForce {
    /// The set in machine form.
    #[must_use]
    pub fn doc(&self) -> WheelSetDoc {
        let spread = |belief: LogBelief| [0.05, 0.5, 0.95].map(|p| belief.quantile(p));
        let wheels = self.set.wheels.iter().map(|wheel| WheelDoc {
            name: wheel.name.clone(),
            grain_um: wheel.grain.size.um(),
            grit: wheel.grain.words(),
            damage_um: wheel.damage_um.map(spread),
            removal_mm3_per_min: spread(wheel.removal_mm3_per_min),
            stints: wheel.removal_mm3_per_min.seen(),
        });
        WheelSetDoc {
            format: WHEEL_SET_FORMAT.to_owned(),
            title: self.set.title.clone(),
            own: self.text.is_some(),
            wheels: wheels.collect(),
        }
    }
}

impl Bench {
    /// The wheels in force: the cutter's own, or a usual set as long as there are
    /// none; their rates after all that the log of every stone says of them.
    ///
    /// # Errors
    /// The store fails; a wheel file that this version refuses.
    pub fn wheels(&self) -> Result<WheelsInForce, JobError> {
        let text = self.ports().store.setting(WHEELS_KEY)?;
        let set = match &text {
            Some(text) => self.ports().wheels.read("wheels.toml", text)?,
            None => WheelSet::usual(),
        };
        Ok(WheelsInForce::new(text, set, &self.stints()?))
    }

    /// Wheels from a file, to use once.
    ///
    /// # Errors
    /// All that is wrong with it; the store fails.
    pub fn wheels_from(&self, file_name: &str, text: &str) -> Result<WheelsInForce, JobError> {
        let set = self.ports().wheels.read(file_name, text)?;
        Ok(WheelsInForce::new(
            Some(text.to_owned()),
            set,
            &self.stints()?,
        ))
    }

    /// Puts the cutter's own wheels in force; the older ones stay on record.
    ///
    /// # Errors
    /// All that is wrong with the file (nothing is changed then); the store fails.
    pub fn set_wheels(&self, file_name: &str, text: &str) -> Result<WheelsInForce, JobError> {
        let wheels = self.wheels_from(file_name, text)?;
        let now = self.ports().clock.now();
        self.ports().store.set_setting(WHEELS_KEY, text, now)?;
        Ok(wheels)
    }

    /// What was done at the wheels, over all stones.
    fn stints(&self) -> Result<Vec<Stint>, JobError> {
        let mut stints = Vec::new();
        for stone in self.stones()? {
            let timed = self.ports().store.events(stone.no)?.iter().any(|record| {
                record.event.kind == "wheel-changed" && record.event.body.contains("minutes")
            });
            if !timed {
                continue;
            }
            // A stone that this version cannot follow teaches nothing.
            if let Ok(at) = self.at_the_bench(&stone.name, &Ask::default()) {
                stints.extend(at.worked.stints);
            }
        }
        Ok(stints)
    }
}
