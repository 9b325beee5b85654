//! A finished stone at the counter, as a person runs the commands.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

struct Counter(TempDir);

impl Counter {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        let output = Command::cargo_bin("opalwright")
            .expect("the binary")
            .current_dir(self.0.path())
            .env("OPALWRIGHT_STORE", self.0.path().join("stones.db"))
            .args(args)
            .output()
            .expect("runs");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
        (
            output.status.code().expect("a code"),
            text(output.stdout),
            text(output.stderr),
        )
    }

    fn done(&self, args: &[&str]) -> String {
        let (code, out, err) = self.run(args);
        assert_eq!(code, 0, "{args:?}\n{err}");
        out
    }

    fn json(&self, args: &[&str], schema: &str) -> Value {
        let document: Value = serde_json::from_str(&self.done(args)).expect("JSON");
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../docs/schema")
            .join(schema);
        let schema: Value =
            serde_json::from_str(&std::fs::read_to_string(path).expect("checked in"))
                .expect("JSON");
        assert!(jsonschema::is_valid(&schema, &document), "{document}");
        document
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("writes");
        path.display().to_string()
    }
}

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    path.join(name).display().to_string()
}

const DOUBLET: &str = "format = \"opalwright-readings/1\"\n[stone]\nname = \"Ring stone\"\n\
     described_as = \"solid black opal\"\n\
     [[reading]]\nid = \"edge\"\nlook = \"side-view\"\nvalue = \"straight-join\"\n\
     [[reading]]\nid = \"back\"\nlook = \"back\"\nvalue = \"flat-dark\"\n\
     [[reading]]\nid = \"glow\"\nlook = \"fluorescence\"\nvalue = \"layers-differ\"\n";

/// The published worked example of the method is held in opal-grade; here the
/// command gives the same figure as the formula (ρ_w at 21 °C 0.99799 g/cm³,
/// Tanaka et al. 2001): (0.99799 − 0.0012) · 5.2 / 2.471 + 0.0012, over 0.999975.
#[test]
fn weighs_in_water_only_what_is_known_to_be_sound() {
    let counter = Counter::new();
    let weighing = [
        "weigh", "--air", "5.2", "--water", "2.729", "--temp", "21", "--json",
    ];
    let (code, _, err) = counter.run(&weighing);
    assert_eq!(code, 2);
    assert!(err.contains("nobody knows whether it is glued"), "{err}");
    let sound = counter.json(
        &[&weighing[..], &["--sound"]].concat(),
        "weighing-1.schema.json",
    );
    let gravity = sound["gravity"]["value"].as_f64().expect("a number");
    assert!((gravity - 2.0988).abs() < 2e-4, "{gravity}");
    for fact in [
        "--porous",
        "--glued",
        "--treated",
        "--cracked",
        "--unknown",
        "--mounted",
    ] {
        let (code, _, _) = counter.run(&[&weighing[..], &[fact]].concat());
        assert_eq!(code, 2, "{fact}");
    }
}

#[test]
fn sizes_need_no_water() {
    let counter = Counter::new();
    let sizes = ["weigh", "--sizes", "14,10,4.6", "--json"];
    let doc = counter.json(&sizes, "weighing-1.schema.json");
    assert_eq!(doc["method"], "from-sizes");
    assert!(doc["weight_ct"]["sigma"].as_f64() > Some(0.3));
    let (code, _, err) = counter.run(&["weigh", "--sizes", "14,10", "--json"]);
    assert_eq!((code, err.contains("it must have 3")), (2, true), "{err}");
}

#[test]
fn tells_what_it_is_and_what_to_look_at_next() {
    let counter = Counter::new();
    let doc = counter.json(
        &["identify", &example("readings.toml"), "--json"],
        "identity-1.schema.json",
    );
    assert_eq!(doc["groups"][0]["key"], "natural");
    let shares = doc["classes"].as_array().expect("a list");
    let total: f64 = shares.iter().filter_map(|s| s["share"].as_f64()).sum();
    assert!((total - 1.0).abs() < 2e-3, "{total}");
    assert!(
        doc["no_certificate"]
            .as_str()
            .expect("text")
            .contains("not a laboratory")
    );
    let next = doc["next_tests"].as_array().expect("a list");
    assert!(next.iter().all(|test| test["harm"].is_string()));
    let text = counter.done(&["identify", &example("readings.toml")]);
    for words in [
        "not a laboratory's certificate",
        "Safe to look at next",
        "Do not",
        "hot needle",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

#[test]
fn a_glued_stone_is_never_sent_into_water() {
    let counter = Counter::new();
    let readings = counter.write("ring.toml", DOUBLET);
    let doc = counter.json(&["identify", &readings, "--json"], "identity-1.schema.json");
    assert_eq!(doc["groups"][0]["key"], "assembled");
    let next = doc["next_tests"].as_array().expect("a list");
    assert!(
        next.iter().all(|test| test["key"] != "hydrostatic"),
        "{next:?}"
    );
    let weighed = format!(
        "{DOUBLET}[soak]\nglued = \"yes\"\n[weighing]\nscale_sigma_g = 0.001\n\
         rows = [{{ in_air_g = 1.04, in_water_g = 0.545, water_c = 21.0 }}]\n"
    );
    let readings = counter.write("wet.toml", &weighed);
    let doc = counter.json(&["identify", &readings, "--json"], "identity-1.schema.json");
    let notes = doc["notes"].to_string();
    assert!(
        notes.contains("does not count") && notes.contains("glued"),
        "{notes}"
    );
}

#[test]
fn papers_link_every_claim_and_say_what_was_not_tested() {
    let counter = Counter::new();
    let readings = counter.write("ring.toml", DOUBLET);
    for market in ["us", "world", "au"] {
        let doc = counter.json(
            &["disclose", &readings, "--market", market, "--json"],
            "disclosure-1.schema.json",
        );
        let on_file: Vec<&str> = doc["on_file"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|record| record["id"].as_str())
            .collect();
        for line in doc["card"].as_array().expect("a list") {
            let links = line["rests_on"].as_array().expect("a list");
            let text = line["text"].as_str().expect("text");
            assert!(
                !links.is_empty()
                    || text.starts_with("Not tested")
                    || text.starts_with("Not stated"),
                "{line}"
            );
            assert!(
                links
                    .iter()
                    .all(|id| on_file.contains(&id.as_str().unwrap_or("")))
            );
        }
        assert!(
            doc["not_tested"]
                .as_str()
                .expect("text")
                .contains("Refractive index")
        );
        assert!(
            doc["title"]
                .as_str()
                .expect("text")
                .to_lowercase()
                .contains("doublet")
        );
        // What it was brought as must not be copied.
        assert!(doc["described_as_faults"].to_string().contains("solid"));
    }
    for paper in ["card", "listing"] {
        let text = counter.done(&["disclose", &readings, "--as", paper]);
        assert!(text.contains("not a laboratory's certificate"), "{text}");
    }
    assert!(
        counter
            .done(&["disclose", &readings, "--as", "invoice"])
            .contains("doublet")
    );
}

#[test]
fn a_text_is_looked_over() {
    let counter = Counter::new();
    let readings = counter.write("ring.toml", DOUBLET);
    let check = |text: &str| counter.run(&["disclose", &readings, "--check", text]).0;
    assert_eq!(check("A solid opal"), 3);
    assert_eq!(check("Opal doublet, not a solid"), 0);
    let (code, _, err) = counter.run(&["disclose", "--class", "ruby", "--check", "opal"]);
    assert_eq!((code, err.contains("'ruby'")), (2, true), "{err}");
}

#[test]
fn without_a_look_there_is_no_card() {
    let counter = Counter::new();
    let bare = counter.write(
        "bare.toml",
        "format = \"opalwright-readings/1\"\n[stone]\nname = \"Bare\"\n",
    );
    let (code, _, err) = counter.run(&["disclose", &bare]);
    assert_eq!(
        (code, err.contains("nothing was looked at")),
        (3, true),
        "{err}"
    );
}

#[test]
fn a_card_reprinted_later_is_the_same_card() {
    let counter = Counter::new();
    counter.done(&["take-in", &example("quick-look.toml")]);
    let readings = counter.write("ring.toml", DOUBLET);
    let print = [
        "disclose", &readings, "--market", "au", "--keep", "1", "--pdf", "card.pdf",
    ];
    counter.done(&print);
    let printed = std::fs::read(counter.0.path().join("card.pdf")).expect("written");
    assert!(printed.starts_with(b"%PDF-"));
    // The readings change and another card is made elsewhere: the kept one stays.
    counter.write("ring.toml", &DOUBLET.replace("Ring stone", "Other name"));
    counter.done(&[
        "disclose",
        "--reprint",
        "1",
        "--market",
        "au",
        "--pdf",
        "again.pdf",
    ]);
    let again = std::fs::read(counter.0.path().join("again.pdf")).expect("written");
    assert!(again == printed, "not the same bytes");
    let (code, _, err) = counter.run(&[
        "disclose",
        "--reprint",
        "1",
        "--market",
        "us",
        "--pdf",
        "us.pdf",
    ]);
    assert_eq!((code, err.contains("no card")), (2, true), "{err}");
    // Kept readings and cards do not disturb the log of the bench.
    counter.done(&["log", "1", "list"]);
}

/// A PNG of one pixel, made with Python's zlib and struct after the W3C's PNG
/// specification.
const PIXEL: [u8; 67] = [
    137, 80, 78, 71, 13, 10, 26, 10, 0, 0, 0, 13, 73, 72, 68, 82, 0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0,
    0, 0, 58, 126, 155, 85, 0, 0, 0, 10, 73, 68, 65, 84, 120, 218, 99, 96, 0, 0, 0, 2, 0, 1, 229,
    39, 222, 252, 0, 0, 0, 0, 73, 69, 78, 68, 174, 66, 96, 130,
];
/// Its SHA-256 by Python's hashlib.
const PIXEL_SHA256: &str = "a4d4c009619311d9b83904acfd62fe3b7f918c312522bbcc6ad51cdec4fd1edf";

const WITH_PHOTO: &str = "format = \"opalwright-readings/1\"\n[stone]\nname = \"Ring stone\"\n\
     [[reading]]\nid = \"edge\"\nlook = \"side-view\"\nvalue = \"straight-join\"\n\
     by = \"the cutter\"\nphoto = \"edge.png\"\n\
     [[reading]]\nid = \"back\"\nlook = \"back\"\nvalue = \"flat-dark\"\n\
     [[described]]\nwhat = \"back\"\nvalue = \"black glass\"\nby = \"the seller\"\n";

/// A customer's stone was never rough here: it gets a record of its own, with the
/// readings, the photo's bytes and the card, and no evidence is made up for it.
#[test]
fn a_customers_stone_is_kept_with_photo_and_card_and_found_again() {
    let counter = Counter::new();
    let readings = counter.write("ring.toml", WITH_PHOTO);
    let who = "the customer in blue";
    let keep = [
        "disclose",
        &readings,
        "--market",
        "au",
        "--customer",
        who,
        "--pdf",
        "card.pdf",
    ];
    // Without the photo there is nothing to keep.
    let (code, _, err) = counter.run(&keep);
    assert_eq!((code, err.contains("edge.png")), (3, true), "{err}");
    std::fs::write(counter.0.path().join("edge.png"), PIXEL).expect("writes");
    let text = counter.done(&keep);
    assert!(
        text.contains(&format!("SHA-256 {}", &PIXEL_SHA256[..12])),
        "{text}"
    );
    assert!(
        text.contains("glued to black glass") && text.contains("Not stated"),
        "{text}"
    );
    // Kept twice is kept once.
    counter.done(&keep);
    let kept = counter.json(&["kept", "in blue", "--json"], "kept-1.schema.json");
    let stones = kept["stones"].as_array().expect("a list");
    assert_eq!(stones.len(), 1);
    assert_eq!(stones[0]["customer"], who);
    assert_eq!(stones[0]["readings"].as_array().map(Vec::len), Some(1));
    assert_eq!(stones[0]["readings"][0]["by"][0], "the cutter");
    assert_eq!(
        stones[0]["readings"][0]["photos"][0]["sha256"],
        PIXEL_SHA256
    );
    assert_eq!(stones[0]["cards"].as_array().map(Vec::len), Some(1));
    assert!(
        counter
            .done(&["kept", "ring"])
            .contains("brought by the customer in blue")
    );
    assert!(
        counter
            .done(&["kept", "nobody"])
            .contains("Nothing was kept")
    );
    let number = stones[0]["number"].to_string();
    counter.done(&[
        "disclose",
        "--reprint",
        &number,
        "--market",
        "au",
        "--pdf",
        "again.pdf",
    ]);
    let bytes = |name: &str| std::fs::read(counter.0.path().join(name)).expect("written");
    assert!(
        bytes("card.pdf") == bytes("again.pdf"),
        "not the same bytes"
    );
    // There is no rough to bid on, and it says so.
    let (code, _, err) = counter.run(&["bid", &number]);
    assert_eq!((code != 0, err.contains("no rough")), (true, true), "{err}");
    // It moves to another store whole.
    counter.done(&["export", &number, "--out", "ring.json"]);
    let other = Counter::new();
    let file = counter.0.path().join("ring.json").display().to_string();
    other.done(&["import", &file]);
    let moved = other.json(&["kept", "--json"], "kept-1.schema.json");
    assert_eq!(moved["stones"][0]["readings"], stones[0]["readings"]);
    other.done(&[
        "disclose",
        "--reprint",
        "1",
        "--market",
        "au",
        "--pdf",
        "moved.pdf",
    ]);
    let moved = std::fs::read(other.0.path().join("moved.pdf")).expect("written");
    assert!(moved == bytes("card.pdf"), "not the same bytes");
}

#[test]
fn a_photo_that_was_exchanged_is_refused() {
    let counter = Counter::new();
    std::fs::write(counter.0.path().join("edge.png"), PIXEL).expect("writes");
    let stated = format!(
        "photo = \"edge.png\"\nphoto_sha256 = \"{}\"",
        "0".repeat(64)
    );
    let text = WITH_PHOTO.replace("photo = \"edge.png\"", &stated);
    let readings = counter.write("ring.toml", &text);
    let (code, _, err) = counter.run(&["identify", &readings]);
    assert_eq!((code, err.contains("another photo")), (3, true), "{err}");
    let outside = WITH_PHOTO.replace("edge.png", "../edge.png");
    let readings = counter.write("out.toml", &outside);
    let (code, _, err) = counter.run(&["identify", &readings]);
    assert_eq!((code, err.contains("without a folder")), (3, true), "{err}");
}

#[test]
fn every_paper_prints_on_either_sheet() {
    let counter = Counter::new();
    let readings = counter.write("ring.toml", DOUBLET);
    for kind in ["card", "listing", "invoice", "care", "all"] {
        for paper in ["a4", "letter"] {
            let file = format!("{kind}-{paper}.pdf");
            counter.done(&[
                "disclose", &readings, "--as", kind, "--paper", paper, "--pdf", &file,
            ]);
            let bytes = std::fs::read(counter.0.path().join(&file)).expect("written");
            assert!(bytes.starts_with(b"%PDF-"), "{file}");
        }
    }
}
