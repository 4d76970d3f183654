//! Writes grooves, and how much of one a part is given.

use super::line::{Record, quoted};
use super::write::Page;
use crate::{GivenGroove, Groove, Human, Lean, StepAt};

impl Page<'_> {
    /// Writes a groove, each step on its own line.
    pub(super) fn groove(&mut self, name: &str, groove: &Groove) {
        self.open(name);
        self.field("id", groove.id.0);
        self.field("name", quoted(&groove.name));
        self.field("grid", quoted(&groove.grid.to_string()));
        if groove.bars != 1 {
            self.field("bars", groove.bars);
        }
        let steps: Vec<(&StepAt, &Lean)> = groove.steps.iter().collect();
        self.list("steps", &steps, |page, (at, lean)| page.line(step_record(**at, Some(lean))));
        self.close();
    }
}

/// The record of a step: its place and, if something was played on it, how it leans.
pub(super) fn step_record(at: StepAt, lean: Option<&Lean>) -> String {
    let record = Record::new().unless(1, "bar", at.bar).plain("step", at.step);
    let Some(lean) = lean else { return record.end() };
    let usual = Lean::default();
    record
        .unless(usual.timing.0, "timing", lean.timing.0)
        .unless(usual.timing_spread.0, "timing_spread", lean.timing_spread.0)
        .unless(usual.loudness, "loudness", lean.loudness)
        .unless(usual.loudness_spread, "loudness_spread", lean.loudness_spread)
        .end()
}

/// The record of a groove that is given to a part.
pub(super) fn given_record(given: &GivenGroove) -> String {
    let whole = GivenGroove::whole(given.groove);
    Record::new()
        .plain("id", given.groove.0)
        .unless(whole.timing, "timing", given.timing)
        .unless(whole.loudness, "loudness", given.loudness)
        .end()
}

/// The record of human variation.
pub(super) fn human_record(human: &Human) -> String {
    let none = Human::NONE;
    Record::new()
        .unless(none.timing, "timing", human.timing)
        .unless(none.loudness, "loudness", human.loudness)
        .unless(none.seed, "seed", human.seed)
        .end()
}
