//! The workbench asking how well it does, on the studies of the command line.

use super::{BenchWorkbench, job_error, store_error};
use crate::study_words::{LawWord, LookWord, out_of_range, stage};
use clap::ValueEnum;
use opal_evidence::{Fault, Faults};
use opal_server::{Studies, StudyForm, StudyFound, StudyName, Watch, WorkbenchError};
use opal_study::{
    CalibrationOptions, FacingOptions, LearningOptions, PlansOptions, Study, StudyError,
};
use opal_testkit::measured_surfaces;
use opal_units::Seed;
use std::ops::ControlFlow;

/// Stones, insides or careers that are asked for from the page at most. Chosen: more run
/// for a day and belong on the command line.
const MOST_ON_THE_PAGE: usize = 2_000;

/// Where what a study found is kept, among the settings.
fn key(study: StudyName) -> String {
    format!("study-{}", study.word())
}

impl Studies for BenchWorkbench {
    fn studies(&self) -> Result<Vec<StudyFound>, WorkbenchError> {
        let mut all = Vec::new();
        for study in StudyName::ALL {
            let kept = self.bench.ports().store.setting(&key(study));
            // What an older version wrote in another form is run again, not mourned.
            let found = kept.map_err(store_error)?;
            all.extend(found.and_then(|text| serde_json::from_str(&text).ok()));
        }
        Ok(all)
    }

    fn look_over_study(&self, asked: &StudyForm) -> Result<(), WorkbenchError> {
        study(asked).map(|_| ()).map_err(WorkbenchError::Faults)
    }

    fn run_study(&self, asked: &StudyForm, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        let study = study(asked).map_err(WorkbenchError::Faults)?;
        let words = stage(&study).words();
        let report = study.run(&|share| {
            watch.at(words, share);
            if watch.cancelled() {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        });
        let report = report.map_err(|error| match error {
            StudyError::Stopped => WorkbenchError::Cancelled,
            other => WorkbenchError::Internal(other.to_string()),
        })?;
        let now = self.bench.ports().clock.now();
        let found = StudyFound {
            asked: asked.clone(),
            at: now.to_string(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            table: report.table(),
            drawing: report.svg(),
            document: report
                .document()
                .map_err(|error| WorkbenchError::Internal(error.to_string()))?,
        };
        let text = serde_json::to_string(&found).map_err(|error| job_error(error.into()))?;
        let store = &self.bench.ports().store;
        store
            .set_setting(&key(asked.study), &text, now)
            .map_err(store_error)
    }
}

/// What is asked, as the study takes it; every fault of it at once.
fn study(asked: &StudyForm) -> Result<Study, Faults> {
    let mut faults = Vec::new();
    let laws: Vec<LawWord> = words("laws", &asked.laws, &mut faults);
    let looks: Vec<LookWord> = words("looks", &asked.looks, &mut faults);
    let counts = [
        ("stones", asked.stones),
        ("interiors", asked.interiors),
        ("careers", asked.careers),
    ];
    for (name, count) in counts {
        if let Some(count) = count.filter(|&count| count > MOST_ON_THE_PAGE) {
            let limit =
                format!("at most {MOST_ON_THE_PAGE} from the page; opalwright study takes more");
            faults.push(Fault::new(name, count, limit));
        }
    }
    let strange: &[(&str, bool)] = match asked.study {
        StudyName::Calibration => &[("careers", asked.careers.is_some())],
        StudyName::Facing | StudyName::Plans => &[
            ("careers", asked.careers.is_some()),
            ("looks", !asked.looks.is_empty()),
        ],
        StudyName::Learning => &[
            ("interiors", asked.interiors.is_some()),
            ("laws", !asked.laws.is_empty()),
            ("looks", !asked.looks.is_empty()),
        ],
    };
    for (name, _) in strange.iter().filter(|(_, told)| *told) {
        let limit = format!("the study '{}' has none; leave it out", asked.study.word());
        faults.push(Fault::new(*name, "told", limit));
    }
    if asked.study != StudyName::Calibration && laws.len() > 1 {
        let limit = "one law at a time; only calibration takes several";
        faults.push(Fault::new("laws", laws.len(), limit));
    }
    let law = laws.first().map(|law| law.departing());
    let study = match asked.study {
        StudyName::Calibration => {
            let mut options = CalibrationOptions {
                surfaces: measured_surfaces(),
                ..CalibrationOptions::default()
            };
            set(&mut options.stones, asked.stones);
            set(&mut options.interiors, asked.interiors);
            set(&mut options.seed, asked.seed.map(Seed));
            if !laws.is_empty() {
                options.laws = laws.iter().map(|law| law.departing()).collect();
            }
            if !looks.is_empty() {
                options.looks = looks.iter().map(|look| look.evidenced()).collect();
            }
            Study::Calibration(options)
        }
        StudyName::Facing => {
            let mut options = FacingOptions::default();
            set(&mut options.stones, asked.stones);
            set(&mut options.interiors, asked.interiors);
            set(&mut options.law, law);
            set(&mut options.seed, asked.seed.map(Seed));
            Study::Facing(options)
        }
        StudyName::Plans => {
            let mut options = PlansOptions::default();
            set(&mut options.stones, asked.stones);
            set(&mut options.interiors, asked.interiors);
            set(&mut options.law, law);
            set(&mut options.seed, asked.seed.map(Seed));
            Study::Plans(options)
        }
        StudyName::Learning => {
            let mut options = LearningOptions::default();
            set(&mut options.careers, asked.careers);
            set(&mut options.stones, asked.stones);
            set(&mut options.seed, asked.seed.map(Seed));
            Study::Learning(options)
        }
    };
    faults.extend(out_of_range(&study, str::to_owned).0);
    if faults.is_empty() {
        Ok(study)
    } else {
        Err(Faults(faults))
    }
}

fn set<T>(place: &mut T, told: Option<T>) {
    if let Some(told) = told {
        *place = told;
    }
}

/// Words of a list; each that is none of them is a fault.
fn words<T: ValueEnum>(field: &str, said: &[String], faults: &mut Vec<Fault>) -> Vec<T> {
    let names = || {
        let all = T::value_variants().iter();
        let all = all.filter_map(|word| Some(word.to_possible_value()?.get_name().to_owned()));
        all.collect::<Vec<_>>().join(", ")
    };
    let mut known = Vec::new();
    for (k, word) in said.iter().enumerate() {
        match T::from_str(word, false) {
            Ok(word) => known.push(word),
            Err(_) => faults.push(Fault::new(
                format!("{field}[{k}]"),
                format!("'{word}'"),
                format!("one of {}", names()),
            )),
        }
    }
    known
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire;
    use std::sync::atomic::{AtomicBool, Ordering};

    fn asked(study: StudyName) -> StudyForm {
        StudyForm {
            study,
            stones: None,
            interiors: None,
            careers: None,
            laws: Vec::new(),
            looks: Vec::new(),
            seed: None,
        }
    }

    fn bench() -> BenchWorkbench {
        let Ok(bench) = wire::bench_in_memory() else {
            unreachable!("a store in memory opens");
        };
        BenchWorkbench::new(bench)
    }

    struct Ear(AtomicBool);

    impl Watch for Ear {
        fn at(&self, _: &str, share: f64) {
            assert!((0.0..=1.0).contains(&share), "{share}");
        }

        fn cancelled(&self) -> bool {
            self.0.load(Ordering::Relaxed)
        }
    }

    /// The page's answer is the command's, for the same stones.
    #[test]
    fn a_study_is_run_kept_and_is_the_command_lines() {
        let bench = bench();
        let form = StudyForm {
            stones: Some(8),
            interiors: Some(40),
            laws: vec!["stepped".to_owned()],
            looks: vec!["sighted".to_owned()],
            seed: Some(5),
            ..asked(StudyName::Calibration)
        };
        let ear = Ear(AtomicBool::new(false));
        bench.run_study(&form, &ear).expect("runs");
        let found = bench.studies().expect("kept");
        assert_eq!(found.len(), 1);
        let options = CalibrationOptions {
            stones: 8,
            interiors: 40,
            laws: vec![opal_testkit::Departing::Stepped],
            looks: vec![opal_study::Evidenced::Sighted],
            surfaces: measured_surfaces(),
            seed: Seed(5),
            ..CalibrationOptions::default()
        };
        let report = Study::Calibration(options).run(&|_| ControlFlow::Continue(()));
        let Ok(report) = report else {
            unreachable!("the same study runs");
        };
        assert_eq!(found[0].table, report.table());
        assert_eq!(found[0].drawing, report.svg());
        assert_eq!(found[0].document, report.document().expect("a document"));
        assert_eq!(found[0].asked, form);
        // Run again with another seed, the newer answer is told.
        let other = StudyForm {
            seed: Some(6),
            ..form
        };
        bench.run_study(&other, &ear).expect("runs");
        let found = bench.studies().expect("kept");
        assert_eq!((found.len(), &found[0].asked), (1, &other));
    }

    #[test]
    fn a_study_that_is_stopped_leaves_nothing() {
        let bench = bench();
        let form = StudyForm {
            stones: Some(40),
            ..asked(StudyName::Facing)
        };
        let stopped = bench.run_study(&form, &Ear(AtomicBool::new(true)));
        assert_eq!(stopped, Err(WorkbenchError::Cancelled));
        assert!(bench.studies().expect("reads").is_empty());
    }

    #[test]
    fn all_that_is_wrong_with_a_study_is_told_at_once() {
        let form = StudyForm {
            stones: Some(0),
            interiors: Some(5_000),
            careers: Some(3),
            laws: vec!["assumed".to_owned(), "usual".to_owned()],
            ..asked(StudyName::Facing)
        };
        let Err(WorkbenchError::Faults(faults)) = bench().look_over_study(&form) else {
            unreachable!("four faults");
        };
        let fields: Vec<&str> = faults.0.iter().map(|f| f.field.as_str()).collect();
        assert_eq!(fields, ["laws[1]", "interiors", "careers", "stones"]);
        assert!(faults.0[0].limit.contains("heavy-tails"), "{faults}");
        for study in StudyName::ALL {
            assert_eq!(bench().look_over_study(&asked(study)), Ok(()));
        }
    }
}
