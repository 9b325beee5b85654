//! Why a plan stands where it stands, in plain words.

use crate::plan::{Plan, PlanKind, PlanValue};
use crate::value::StoneValue;

pub(crate) fn reasons(plan: &Plan, stones: &[StoneValue], value: &PlanValue) -> Vec<String> {
    let mut why = Vec::new();
    for stone in stones {
        let (low, high) = stone.adapting.weight_ct.spread().nine_in_ten();
        why.push(format!(
            "Finished weight {low:.0} to {high:.0} ct in nine cases of ten; clean colour on \
             {:.0} % of the face in the middle case.",
            100.0 * stone.adapting.clean_share.quantile(0.5),
        ));
        let thin = stone.adapting.least_colour_mm.quantile(0.1);
        if plan.kind != PlanKind::Specimen && thin < 0.3 {
            why.push(format!(
                "In one case of ten the colour is down to {thin:.1} mm or less somewhere \
                 under the face."
            ));
        }
        if stone.adapting.whole_chance < 0.9 {
            why.push(format!(
                "It comes off the bench whole in {:.0} cases of 100.",
                100.0 * stone.adapting.whole_chance
            ));
        }
    }
    let (gain, error) = value.worth_of_adapting();
    if gain > 2.0 * error && gain > 0.05 * value.adapting.mean().abs() {
        why.push(
            "Much of its worth comes from opening the face first and then choosing; do not \
             saw or shape on before you have looked."
                .to_owned(),
        );
    }
    why
}
