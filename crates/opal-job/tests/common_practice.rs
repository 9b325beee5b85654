//! What cutters do, reached from numbers alone: evidence in, advice out. Each rule is
//! common practice, without a source. That a stone too big to set is left whole or
//! free is held in `main_job`.

use opal_evidence::Evidence;
use opal_files::{NoAttachments, example_prices, read_evidence, read_prices};
use opal_job::{Ask, BookAppraiser, Job, NoProgress, Settings};
use opal_plan::{BenchRules, Effort, Plan, PlanKind, ValuedPlan};
use opal_units::{Length, Volume};

fn settings() -> Settings {
    let prices =
        read_prices("prices.toml", example_prices().as_bytes()).expect("the example reads");
    Settings::new(
        prices.book,
        prices.costs,
        prices.limits,
        BenchRules::default(),
    )
}

fn job(text: &str) -> Job {
    let evidence: Evidence = read_evidence("piece.toml", text.as_bytes(), &NoAttachments)
        .map_err(|faults| faults.to_string())
        .expect("the piece reads");
    let ask = Ask {
        n_interiors: 120,
        cell: Some(Length::from_mm(0.8)),
        effort: Effort::Quick,
        ..Ask::default()
    };
    Job::new(evidence, settings(), ask).expect("a job")
}

/// A seam piece of these sizes whose bar lies under its upper skin.
fn seam(weight_ct: f64, size_mm: [f64; 3], top_mm: f64, thickness_mm: f64) -> String {
    let [length, width, height] = size_mm;
    format!(
        r#"
format = "opalwright-evidence/1"
[piece]
name = "a piece"
form = "seam"
weight_ct = {weight_ct}
[shape]
callipers = {{ length_mm = {length}, width_mm = {width}, height_mm = {height} }}
[[bar]]
name = "A"
quick = {{ thickness_mm = {thickness_mm}, sigma_mm = 0.3, edge_share = 0.9, top_mm = {top_mm}, top_sigma_mm = 0.5 }}
[look]
variety = "light"
brightness = "bright"
"#
    )
}

/// What the wheel would take off where nothing were sawn.
fn ground_away(job: &mut Job, valued: &ValuedPlan) -> Plan {
    let stone = job.stone(&NoProgress).expect("a stone");
    let finished: f64 = valued
        .stones
        .iter()
        .map(|s| s.weight_ct.mean() / (Volume::from_mm3(1.0) * stone.gravity.value).carats())
        .sum();
    let mut plan = valued.plan.clone();
    plan.cuts.clear();
    plan.stock.volume = Volume::from_mm3(stone.volume.0.mm3() - finished);
    plan
}

/// On a big piece barren stock is sawn off, not ground away, and that is the cheaper
/// way in the cutter's own minutes and blades; what it saves shrinks with the piece.
#[test]
fn barren_stock_is_sawn_off_a_big_piece() {
    let saved = |text: &str| -> (f64, usize) {
        let mut job = job(text);
        let plans = job.plans(&NoProgress).expect("plans");
        let freeform = plans
            .plans
            .iter()
            .find(|v| v.plan.kind == PlanKind::Freeform)
            .expect("a freeform");
        let wheel_alone = ground_away(&mut job, freeform);
        let stone = job.stone(&NoProgress).expect("a stone");
        let settings = settings();
        let appraiser = BookAppraiser::new(job.evidence(), &stone, &settings, 1, job.ask().seed)
            .expect("priced");
        let saved = appraiser.middle_cost(&wheel_alone) - appraiser.middle_cost(&freeform.plan);
        (saved, freeform.plan.cuts.len())
    };
    let (big, cuts) = saved(&seam(700.0, [70.0, 50.0, 36.0], 30.0, 3.0));
    let (small, _) = saved(&seam(9.0, [15.0, 12.0, 6.0], 4.8, 2.0));
    println!("sawing saves {big:.0} on the big piece ({cuts} cuts), {small:.0} on the small");
    assert!(cuts > 0 && big > 0.0, "{big} with {cuts} cuts");
    assert!(small < big / 5.0, "{small} {big}");
}

/// An oval can still be cut from a freeform later: where an end is in doubt, the
/// cutter who opens the freeform ends with a standard size inside it now and then,
/// and that chance is part of what the freeform is worth.
#[test]
fn an_oval_can_still_be_cut_from_a_freeform() {
    let text = r#"
format = "opalwright-evidence/1"
[piece]
name = "a piece"
form = "nobby"
weight_ct = 90.0
[shape]
callipers = { length_mm = 36.0, width_mm = 26.0, height_mm = 13.0 }
[[bar]]
name = "A"
[[bar.sighting]]
at_mm = [3.0, 13.0]
top_mm = 7.5
thickness_mm = 2.4
sigma_mm = 0.2
[[bar.sighting]]
at_mm = [18.0, 2.0]
top_mm = 7.2
thickness_mm = 2.2
sigma_mm = 0.2
[[bar.sighting]]
at_mm = [34.0, 13.0]
absent = true
[look]
variety = "light"
brightness = "bright"
"#;
    let mut job = job(text);
    let plans = job.plans(&NoProgress).expect("plans");
    let sizes: f64 = plans
        .plans
        .iter()
        .filter(|v| v.plan.kind == PlanKind::Freeform)
        .flat_map(|v| &v.revisions)
        .filter(|(words, _)| words.contains(" mm instead"))
        .map(|(_, share)| share)
        .sum();
    println!(
        "a standard size instead in {:.1} % of the insides",
        100.0 * sizes
    );
    assert!(sizes > 0.0);
    for valued in &plans.plans {
        let (gain, _) = valued.value.worth_of_adapting();
        assert!(gain >= -1e-9, "{:?}", valued.plan.kind);
    }
}
