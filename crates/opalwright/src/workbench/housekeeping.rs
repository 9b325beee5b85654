//! The workbench keeping the shop in order, on the use cases of `wheels`, `backup` and
//! `import`.

use super::{BenchWorkbench, SETTINGS_OF_THIS_BENCH, document_value, job_error, locked, on_a_form};
use opal_evidence::Fault;
use opal_files::{example_wheels, wheels_as_json, wheels_from_json};
use opal_job::{HeldInsides, Holdings, JobError, StoreFault};
use opal_server::{
    COPY_BYTES_MAX, CopyView, Download, HoldingsView, Housekeeping, Imported, NamedFile, PutBack,
    WheelsPage, WorkbenchError,
};
use serde_json::Value;
use std::path::Path;

impl Housekeeping for BenchWorkbench {
    fn wheels(&self) -> Result<WheelsPage, WorkbenchError> {
        let wheels = self.bench.wheels().map_err(job_error)?;
        let text = wheels.text.as_deref().unwrap_or(example_wheels());
        let file = wheels_as_json(text).ok_or_else(|| {
            let said = "the wheels in force cannot be read as a form; put them in force anew";
            WorkbenchError::Store(said.to_owned())
        })?;
        let prices = self.bench.prices().map_err(job_error)?;
        Ok(WheelsPage {
            set: document_value(&wheels.doc())?,
            file,
            currency: prices.settings.currency().code().to_owned(),
        })
    }

    fn set_wheels(&self, fields: &Value) -> Result<(), WorkbenchError> {
        let text =
            wheels_from_json(fields).map_err(|faults| WorkbenchError::Faults(on_a_form(faults)))?;
        let set = self.bench.set_wheels("wheels.toml", &text);
        set.map(|_| ()).map_err(job_error)
    }

    fn copy_of_everything(&self) -> Result<Download, WorkbenchError> {
        let failed = |why: std::io::Error| {
            WorkbenchError::Store(format!("the copy could not be written: {why}"))
        };
        let folder = tempfile::tempdir().map_err(failed)?;
        let place = folder.path().join("copy.db");
        self.bench.backup(&place).map_err(job_error)?;
        if std::fs::metadata(&place).map_err(failed)?.len() > COPY_BYTES_MAX {
            let said = "the store is too large to be sent: copy it at the bench computer, with \
                        opalwright backup";
            return Err(WorkbenchError::NotNow(said.to_owned()));
        }
        let day = self.bench.ports().clock.today();
        Ok(Download {
            name: format!("opalwright-{day}.db"),
            media_type: "application/vnd.sqlite3",
            bytes: std::fs::read(&place).map_err(failed)?,
        })
    }

    fn import(&self, file: &NamedFile, under: Option<&str>) -> Result<Imported, WorkbenchError> {
        let text = std::str::from_utf8(&file.bytes).map_err(|why| {
            let limit = "it must be a stone that was exported, as it came";
            WorkbenchError::Faults(Fault::new(&file.name, why.to_string(), limit).into())
        })?;
        let imported = self.bench.import(&file.name, text, under);
        Ok(match imported.map_err(job_error)? {
            opal_job::Imported::Added(number) => Imported {
                number: number.0,
                added: true,
            },
            opal_job::Imported::AlreadyHere(number) => Imported {
                number: number.0,
                added: false,
            },
        })
    }

    fn look_into_copy(&self, copy: &Path) -> Result<CopyView, WorkbenchError> {
        let (here, there) = self.bench.look_into_backup(copy).map_err(copy_error)?;
        Ok(CopyView {
            copy: view(&there),
            here: view(&here),
        })
    }

    fn put_back(&self, copy: &Path) -> Result<PutBack, WorkbenchError> {
        // Nothing is logged while the records are exchanged, and what was worked out
        // from those of before is forgotten.
        let _logging = locked(&self.logging);
        let kept = self.bench.restore(copy, &SETTINGS_OF_THIS_BENCH);
        let kept = kept.map_err(copy_error)?;
        locked(&self.jobs).clear();
        *locked(&self.insides) = HeldInsides::default();
        *locked(&self.lots) = None;
        Ok(PutBack {
            stones: self.bench.stones().map_err(job_error)?.len(),
            kept: kept.display().to_string(),
        })
    }
}

fn view(held: &Holdings) -> HoldingsView {
    HoldingsView {
        stones: held.stones,
        entries: held.entries,
        last: held.last.map(|at| at.to_string()),
    }
}

/// A file that cannot be put back is the sender's to change, not a fault of the store
/// here. Where it was kept while it was looked at says nothing to them.
fn copy_error(error: JobError) -> WorkbenchError {
    match error {
        JobError::Store(why) if matches!(why.fault, StoreFault::Damaged | StoreFault::Newer) => {
            let limit = if why.fault == StoreFault::Newer {
                "it was written by a newer version of this program; use that one"
            } else {
                "it must be a copy of everything as this program saves it, whole and unchanged"
            };
            WorkbenchError::Faults(Fault::new("copy", "the file", limit).into())
        }
        other => job_error(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire;
    use opal_server::{DeviceBook as _, Workbench as _};
    use serde_json::json;

    fn empty() -> BenchWorkbench {
        let Ok(bench) = wire::bench_in_memory() else {
            unreachable!("a store in memory opens");
        };
        BenchWorkbench::new(bench)
    }

    #[test]
    fn wheels_put_in_force_by_the_form_are_those_that_answers_use() {
        let bench = empty();
        let usual = bench.wheels().expect("a usual set");
        assert_eq!(usual.set["own"], false);
        // The form begins with the example; one name is changed.
        let mut file = usual.file;
        file["wheel"][0]["name"] = json!("My coarse one");
        bench.set_wheels(&file).expect("in force");
        let own = bench.wheels().expect("my own");
        assert_eq!(own.set["own"], true);
        assert_eq!(own.set["wheels"][0]["name"], "My coarse one");
        assert_eq!(own.file, file);
        // All that is wrong at once, by the form's paths; nothing changes.
        file["wheel"][1]["removal_mm3_per_min"] = json!(-1.0);
        file["title"] = json!("");
        let Err(WorkbenchError::Faults(faults)) = bench.set_wheels(&file) else {
            unreachable!("two faults");
        };
        let mut fields: Vec<&str> = faults.0.iter().map(|f| f.field.as_str()).collect();
        fields.sort_unstable();
        assert_eq!(fields, ["title", "wheel[1].removal_mm3_per_min"]);
        assert!(
            faults
                .0
                .iter()
                .all(|f| f.file.is_none() && f.line.is_none())
        );
        assert_eq!(bench.wheels().expect("as before"), own);
    }

    #[test]
    fn a_copy_of_everything_opens_as_a_store_and_a_stone_goes_from_bench_to_bench() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
        let Ok(file) = wire::evidence_file(path.as_ref()) else {
            unreachable!("the example is readable");
        };
        let bench = empty();
        let how = opal_job::TakeIn::New { invented: true };
        bench.bench.take_in(file, &how).expect("takes in");
        let copy = bench.copy_of_everything().expect("a copy");
        assert!(copy.bytes.starts_with(b"SQLite format 3\0"));
        let stone = bench.export(1).expect("a file");
        let file = NamedFile {
            name: stone.name,
            bytes: stone.bytes,
        };
        let other = empty();
        let taken = other.import(&file, None).expect("comes in");
        assert!(taken.added);
        assert!(!other.import(&file, None).expect("is there already").added);
        assert_eq!(other.stones().expect("stones").len(), 1);
        let broken = NamedFile {
            name: "broken.json".to_owned(),
            bytes: vec![0xff, 0xfe],
        };
        assert!(matches!(
            other.import(&broken, None),
            Err(WorkbenchError::Faults(_))
        ));
    }

    #[test]
    fn a_copy_is_looked_into_and_put_back_with_what_stood_here_kept() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
        let Ok(file) = wire::evidence_file(path.as_ref()) else {
            unreachable!("the example is readable");
        };
        let folder = tempfile::tempdir().expect("a folder");
        let Ok(bench) = wire::bench_at(&folder.path().join("bench.db")) else {
            unreachable!("a store opens");
        };
        let bench = BenchWorkbench::new(bench);
        let how = opal_job::TakeIn::New { invented: true };
        bench.bench.take_in(file.clone(), &how).expect("takes in");
        bench.set_device_book("[1]").expect("kept");
        let copy = folder.path().join("sent.db");
        let whole = bench.copy_of_everything().expect("a copy");
        std::fs::write(&copy, whole.bytes).expect("writes");
        // Later a stone comes in, and a device is shut out.
        let mut other = file;
        other.text = other.text.replace("name = \"", "name = \"Other ");
        bench.bench.take_in(other, &how).expect("takes in");
        bench.set_device_book("[]").expect("kept");

        let seen = bench.look_into_copy(&copy).expect("a copy");
        assert_eq!((seen.copy.stones, seen.here.stones), (1, 2));
        assert!(seen.copy.last <= seen.here.last);
        assert_eq!(
            bench.stones().expect("stones").len(),
            2,
            "a look changes nothing"
        );
        let back = bench.put_back(&copy).expect("is put back");
        assert_eq!(back.stones, 1);
        assert_eq!(bench.stones().expect("stones").len(), 1);
        let book = bench.device_book().expect("reads");
        assert_eq!(book.as_deref(), Some("[]"), "who was shut out stays out");
        // What stood here goes back the same way.
        let kept = std::path::PathBuf::from(back.kept);
        assert_eq!(bench.look_into_copy(&kept).expect("a store").copy.stones, 2);

        std::fs::write(&copy, "no store").expect("writes");
        for wrong in [
            bench.look_into_copy(&copy).map(|_| ()),
            bench.put_back(&copy).map(|_| ()),
        ] {
            let Err(WorkbenchError::Faults(faults)) = wrong else {
                unreachable!("it is no store");
            };
            assert_eq!(faults.0[0].field, "copy");
        }
        assert_eq!(bench.stones().expect("stones").len(), 1);
    }
}
