//! The workbench keeping the shop in order, on the use cases of `wheels`, `backup` and
//! `import`.

use super::{BenchWorkbench, document_value, job_error, on_a_form};
use opal_evidence::Fault;
use opal_files::{example_wheels, wheels_as_json, wheels_from_json};
use opal_server::{Download, Housekeeping, Imported, NamedFile, WheelsPage, WorkbenchError};
use serde_json::Value;

/// Largest store that is sent whole, bytes. Chosen: it is held in memory while it goes.
const COPY_BYTES_MAX: u64 = 512 * 1024 * 1024;

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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire;
    use opal_server::Workbench;
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
}
