//! Reads grooves, and how much of one a part is given.

use super::layout::{GivenText, GrooveText, HumanText, StepAtText, StepText};
use super::leaf::Leaf;
use super::read::Reader;
use crate::{GivenGroove, Groove, GrooveId, Human, Lean, Song, StepAt};
use chaconne_time::{NoteValue, Tick};
use std::collections::BTreeMap;
use std::sync::Arc;

impl<'a> Reader<'a> {
    pub(super) fn grooves(&mut self, texts: &[GrooveText<'a>]) -> Option<Vec<Arc<Groove>>> {
        if let Some(text) = texts.get(Song::MAX_GROOVES) {
            let message =
                format!("a song has at most {} grooves; this is one more", Song::MAX_GROOVES);
            self.faults.add(text.id, message);
            return None;
        }
        let grooves: Vec<_> = texts.iter().map(|text| self.groove(text).map(Arc::new)).collect();
        grooves.into_iter().collect()
    }

    pub(super) fn groove(&mut self, text: &GrooveText<'a>) -> Option<Groove> {
        let id = self.id(text.id).map(GrooveId);
        match id {
            Some(id) => drop(self.known_grooves.insert(id)),
            None => self.lost.groove = true,
        }
        let name = self.faults.string(text.name, "name");
        let grid = self.faults.parsed(text.grid, "grid", str::parse::<NoteValue>);
        let bars = self.or(text.bars, 1, |reader, leaf| {
            reader.whole(leaf, "bars", 1, i64::from(Groove::MAX_BARS))
        });
        let (id, name) = (id?, name?.into_owned());
        let mut groove = Groove { id, name, grid: grid?, bars: bars?, steps: BTreeMap::new() };
        let (mut places, mut whole) = (BTreeMap::new(), true);
        for text in &text.steps {
            let at = self.step_at(text.bar, text.step, groove.bars);
            let (Some(at), Some(lean)) = (at, self.lean(text, groove.grid)) else {
                whole = false;
                continue;
            };
            if let Some(earlier) = places.insert(at, text.step) {
                let StepAt { bar, step } = at;
                let message = format!("step {step} of bar {bar} is already on line");
                self.twice(text.step, earlier, &message);
                whole = false;
            }
            groove.steps.insert(at, lean);
        }
        Some(groove).filter(|_| whole)
    }

    fn step_at(&mut self, bar: Option<Leaf<'a>>, step: Leaf<'a>, bars: u32) -> Option<StepAt> {
        let bar = self.or(bar, 1, |reader, leaf| reader.whole(leaf, "bar", 1, i64::from(bars)));
        let step = self.whole(step, "step", 1, i64::from(Groove::LAST_STEP));
        Some(StepAt { bar: bar?, step: step? })
    }

    fn lean(&mut self, text: &StepText<'a>, grid: NoteValue) -> Option<Lean> {
        let (usual, half) = (Lean::default(), grid.ticks().0 / 2);
        let ticks = |reader: &mut Self, leaf, usual, what, low, high| {
            reader.or(leaf, usual, |reader, leaf| {
                reader.faults.number(leaf, what, low, high).map(Tick)
            })
        };
        let timing = ticks(self, text.timing, usual.timing, "timing", -half, half);
        let timing_spread =
            ticks(self, text.timing_spread, usual.timing_spread, "timing_spread", 0, 2 * half);
        let mut percent = |leaf, usual, what| {
            self.or(leaf, usual, |reader, leaf| {
                reader
                    .whole(leaf, what, 0, i64::from(Groove::LOUDEST))
                    .map(|percent| percent as u16)
            })
        };
        let loudness = percent(text.loudness, usual.loudness, "loudness");
        let loudness_spread =
            percent(text.loudness_spread, usual.loudness_spread, "loudness_spread");
        Some(Lean {
            timing: timing?,
            timing_spread: timing_spread?,
            loudness: loudness?,
            loudness_spread: loudness_spread?,
        })
    }

    /// Reads a number that is not negative.
    fn whole(&mut self, leaf: Leaf<'a>, what: &str, low: u32, high: i64) -> Option<u32> {
        self.faults.number(leaf, what, i64::from(low), high).map(|number| number as u32)
    }

    /// Reads the place and the lean of a step, for an edit. The grid is not known, so any lean that some
    /// grid allows is read; applying the edit checks it.
    pub(super) fn any_step(&mut self, leaf: Leaf<'a>) -> Option<(StepAt, Lean)> {
        let text: StepText<'a> = self.faults.nested(leaf)?;
        let at = self.step_at(text.bar, text.step, Groove::MAX_BARS);
        let longest = NoteValue::new(1, chaconne_time::NoteKind::Dotted).ok()?;
        Some((at?, self.lean(&text, longest)?))
    }

    /// Reads the place of a step, for an edit.
    pub(super) fn any_place(&mut self, leaf: Leaf<'a>) -> Option<StepAt> {
        let text: StepAtText<'a> = self.faults.nested(leaf)?;
        self.step_at(text.bar, text.step, Groove::MAX_BARS)
    }

    /// Reads the groove that a feel is given, which must be in the song.
    pub(super) fn given(&mut self, text: &GivenText<'a>) -> Option<GivenGroove> {
        let id = self.any_id(text.id).map(GrooveId);
        if let Some(id) = id.filter(|id| !self.is_edit && !self.known_grooves.contains(id)) {
            if !self.lost.groove {
                let id = id.0;
                let message = format!("there is no groove {id}; a feel has a groove of the song");
                self.faults.add(text.id, message);
            }
            return None;
        }
        let most = i64::from(GivenGroove::MOST);
        let mut percent = |leaf, what| {
            self.or(leaf, 100, |reader, leaf| {
                reader.faults.number(leaf, what, 0, most).map(|percent| percent as u8)
            })
        };
        let (timing, loudness) =
            (percent(text.timing, "timing"), percent(text.loudness, "loudness"));
        Some(GivenGroove { groove: id?, timing: timing?, loudness: loudness? })
    }

    /// Reads human variation.
    pub(super) fn human(&mut self, text: &HumanText<'a>) -> Option<Human> {
        let mut number = |leaf, what, most| {
            self.or(leaf, 0, |reader, leaf| {
                reader.faults.number(leaf, what, 0, most).map(|number| number as u16)
            })
        };
        let (timing, loudness) =
            (number(text.timing, "timing", 100), number(text.loudness, "loudness", 100));
        let seed = number(text.seed, "seed", i64::from(Human::LAST_SEED));
        Some(Human { timing: timing? as u8, loudness: loudness? as u8, seed: seed? })
    }
}
