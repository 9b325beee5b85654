//! The schemas that stand under `docs/schema` are those of the shapes.

use std::path::Path;

/// Run with `OPAL_WRITE_SCHEMAS=1` to write them afresh.
#[test]
fn schemas_on_disk_are_fresh() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema");
    let write = std::env::var_os("OPAL_WRITE_SCHEMAS").is_some();
    if write {
        std::fs::create_dir_all(&folder).expect("a folder");
    }
    for (name, schema) in opal_report::json::schemas() {
        let path = folder.join(name);
        if write {
            std::fs::write(&path, &schema).expect("writes");
        }
        let found = std::fs::read_to_string(&path).expect("the schema is checked in");
        assert!(
            found == schema,
            "{name} is stale: run OPAL_WRITE_SCHEMAS=1 cargo test -p opal-report --test schemas"
        );
    }
}
