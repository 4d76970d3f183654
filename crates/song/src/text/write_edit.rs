//! Writes edits, commits and histories. Each edit or commit is one record on one line. The first
//! field of an edit says what it changes; positions are in ticks.

use super::line::{Record, quoted};
use super::scale::Scale;
use super::write::{
    Page, cover_record, feel_record, message_record, note_record, point_record, shown, track_record,
};
use super::write_groove::{given_record, human_record, step_record};
use crate::{
    Channel, Commit, Edit, Form, GrooveEdit, GrooveId, History, KeySignature, Laid, LaneId, Letter,
    NoteId, PassEdit, PassId, Placement, PointId, Release, Section, SectionEdit, SharedPass, Step,
    TrackEdit, TrackId, U7,
};
use chaconne_time::Tick;
use std::collections::BTreeMap;
use std::fmt::Display;

/// A value, or `None`.
fn maybe(value: Option<impl Display>) -> String {
    value.map_or("None".into(), |value| value.to_string())
}

/// A value in quotes, or `None`.
fn maybe_text(value: Option<impl Display>) -> String {
    maybe(value.map(|value| quoted(&value.to_string())))
}

/// Items in brackets.
fn list<T>(items: &[T], each: impl FnMut(&T) -> String) -> String {
    format!("[{}]", items.iter().map(each).collect::<Vec<_>>().join(", "))
}

/// The text that `write` writes, on one line.
fn inline(passes: &BTreeMap<PassId, SharedPass>, write: impl FnOnce(&mut Page<'_>)) -> String {
    let mut page = Page::new(passes, true);
    write(&mut page);
    page.text.trim_end().trim_end_matches(',').to_string()
}

/// The text of an edit.
pub(super) fn edit(edit: &Edit) -> String {
    match edit {
        Edit::Title(title) => Record::new().text("title", title).end(),
        Edit::Key(key) => Record::new().plain("key", key_text(*key)).end(),
        Edit::Transpose(to) => Record::new().plain("transpose", to).end(),
        Edit::Form(form) => form_record(form),
        Edit::AddTrack { at, track } => {
            Record::new().plain("add_track", track_record(track)).plain("at", at).end()
        }
        Edit::RemoveTrack(id) => Record::new().plain("remove_track", id.0).end(),
        Edit::MoveTrack(id, to) => Record::new().plain("move_track", id.0).plain("to", to).end(),
        Edit::Track(id, edit) => track_edit(*id, edit),
        Edit::AddGroove { at, groove } => {
            let text = inline(&BTreeMap::new(), |page| page.groove("", groove));
            Record::new().plain("add_groove", text).plain("at", at).end()
        }
        Edit::RemoveGroove(id) => Record::new().plain("remove_groove", id.0).end(),
        Edit::Groove(id, edit) => groove_edit(*id, edit),
        Edit::AddSection { at, section, passes } => add_section(*at, section, passes),
        Edit::RemoveSection(letter) => Record::new().text("remove_section", letter).end(),
        Edit::MoveSection(letter, to) => {
            Record::new().text("move_section", letter).plain("to", to).end()
        }
        Edit::Section(letter, edit) => section_edit(*letter, edit),
        Edit::Pass(id, edit) => pass_edit(*id, edit),
    }
}

fn key_text(key: Option<KeySignature>) -> String {
    maybe_text(key)
}

fn form_record(form: &Form) -> String {
    Record::new().text("form", form).end()
}

fn add_section(at: usize, section: &Section, passes: &[SharedPass]) -> String {
    let new = passes.iter().map(|pass| (pass.id, pass.clone())).collect();
    let text = inline(&new, |page| page.section("", section, Scale::Ticks));
    Record::new().plain("add_section", text).plain("at", at).end()
}

fn track_edit(id: TrackId, edit: &TrackEdit) -> String {
    use TrackEdit as E;
    let record = Record::new().plain("track", id.0);
    match edit {
        E::Name(name) => record.text("name", name),
        E::Port(port) => record.text("port", port),
        E::Channel(channel) => record.plain("channel", maybe(*channel)),
        E::Bank(bank) => record.plain("bank", maybe(*bank)),
        E::Program(program) => {
            record.plain("program", maybe(program.map(|program| program.get() + 1)))
        }
        E::Pitched(pitched) => record.plain("pitched", pitched),
        E::Grid(grid) => record.plain("grid", maybe_text(*grid)),
        E::Pull(pull) => record.plain("pull", pull),
        E::Swing(swing) => record.plain("swing", swing),
        E::Reach(reach) => record.plain("reach", reach),
        E::Rolls(rolls) => record.plain("rolls", rolls),
        E::Groove(given) => record.plain("groove", maybe(given.as_ref().map(given_record))),
        E::Human(human) => record.plain("human", human_record(human)),
        E::Volume(volume) => record.plain("volume", maybe(*volume)),
        E::Pan(pan) => record.plain("pan", maybe(*pan)),
        E::Mute(mute) => record.plain("mute", mute),
        E::PassLength(length) => record.plain("pass_length", maybe(length.map(|ticks| ticks.0))),
        E::Compass(compass) => record.plain("compass", maybe_text(*compass)),
        E::KeysPlay(play) => record.text("keys_play", play),
        E::ChordStack(stack) => record.text("chord_stack", stack),
        E::ChordInversion(nth) => record.plain("chord_inversion", nth),
        E::ChordOpen(open) => record.plain("chord_open", open),
        E::ChordLeading(leading) => record.plain("chord_leading", leading),
        E::ChordKey(key, chord) => {
            record.plain("chord", maybe_text(*chord)).plain("key", key.get())
        }
    }
    .end()
}

fn groove_edit(id: GrooveId, edit: &GrooveEdit) -> String {
    let record = Record::new().plain("groove", id.0);
    match edit {
        GrooveEdit::Name(name) => record.text("name", name),
        GrooveEdit::Step(at, Some(lean)) => record.plain("step", step_record(*at, Some(lean))),
        GrooveEdit::Step(at, None) => record.plain("clear_step", step_record(*at, None)),
    }
    .end()
}

fn section_edit(letter: Letter, edit: &SectionEdit) -> String {
    use SectionEdit as E;
    let record = Record::new().text("section", letter);
    let none = BTreeMap::new();
    match edit {
        E::Letter(to) => record.text("letter", to),
        E::Name(name) => record.text("name", name),
        E::Key(key) => record.plain("key", key_text(*key)),
        E::Transpose(to) => record.plain("transpose", to),
        E::Metre(metre) => {
            let text = inline(&none, |page| page.metre(metre));
            record.plain("bars", metre.bars()).joined(&text)
        }
        E::Tempo(tempo) => {
            // The metre's tempo unit matters only for comments, and an edit has none.
            let text = inline(&none, |page| page.tempo(None, tempo, Scale::Ticks));
            record.joined(&text)
        }
        E::Fermata(at, on) => record.plain("fermata", on).plain("at", at.0),
        E::Chord(at, symbol) => record.plain("chord", maybe_text(*symbol)).plain("at", at.0),
        E::Lay { at, pass, mute } => {
            laid(record, pass).plain("at", at).unless(false, "mute", *mute)
        }
        E::Remove(pass) => record.plain("remove", pass.0),
        E::Move(pass, to) => record.plain("layer", pass.0).plain("to", to),
        E::Mute(pass, mute) => record.plain("layer", pass.0).plain("mute", mute),
        E::Replace(pass, by) => laid(record.plain("replace", pass.0), by),
    }
    .end()
}

fn laid(record: Record, laid: &Laid) -> Record {
    match laid {
        Laid::New(pass) => {
            let none = BTreeMap::new();
            let text = inline(&none, |page| page.pass("", Scale::Ticks, false, pass));
            record.plain("lay", text)
        }
        Laid::Shared(id) => record.plain("share", id.0),
        Laid::Copy { of, id } => record.plain("copy", of.0).plain("id", id.0),
    }
}

fn pass_edit(id: PassId, edit: &PassEdit) -> String {
    use PassEdit as E;
    let record = Record::new().plain("pass", id.0);
    let note = |note: &crate::Note| note_record(Scale::Ticks, Channel::default(), note);
    match edit {
        E::Name(name) => record.text("name", name),
        E::Feel(feel) => {
            record.plain("feel", maybe(feel.as_ref().map(|feel| feel_record(feel, false))))
        }
        E::Length(length) => record.plain("length", length.0),
        E::Covers(covers) => {
            record.plain("covers", list(covers, |cover| cover_record(Scale::Ticks, cover)))
        }
        E::AddNotes(notes) => record.plain("add_notes", list(notes, note)),
        E::RemoveNotes(notes) => {
            record.plain("remove_notes", list(notes, |note| note.0.to_string()))
        }
        E::Played(releases) => record.plain("played", list(releases, release_record)),
        E::Place(places) => record.plain("place", list(places, placement_record)),
        E::AddLane(lane) => {
            let none = BTreeMap::new();
            let text = inline(&none, |page| {
                page.lane("", Scale::Ticks, Channel::default(), lane);
            });
            record.plain("add_lane", text)
        }
        E::RemoveLane(lane) => record.plain("remove_lane", lane_record(lane)),
        E::LaneSpan(lane, span) => record
            .plain("lane", lane_record(lane))
            .plain("from", span.from.0)
            .plain("to", span.to.0),
        E::AddPoint(PointId { lane, nth, .. }, point) => {
            let text = point_record(Scale::Ticks, lane.control, point);
            nth_of(record.plain("lane", lane_record(lane)).plain("add_point", text), *nth)
        }
        E::RemovePoint(PointId { lane, at, nth }) => {
            nth_of(record.plain("lane", lane_record(lane)).plain("remove_point", at.0), *nth)
        }
        E::PointValue(point, value) => {
            point_fields(record, point).plain("value", shown(point.lane.control, *value))
        }
        E::PointShape(point, shape) => point_fields(record, point).text("shape", shape.word()),
        E::AddSysEx(nth, message) => {
            nth_of(record.plain("add_sysex", message_record(Scale::Ticks, message)), *nth)
        }
        E::RemoveSysEx(nth, at) => nth_of(record.plain("remove_sysex", at.0), *nth),
    }
    .end()
}

fn nth_of(record: Record, nth: usize) -> Record {
    record.unless(0, "nth", nth)
}

fn point_fields(record: Record, PointId { lane, at, nth }: &PointId) -> Record {
    nth_of(record.plain("lane", lane_record(lane)).plain("point", at.0), *nth)
}

fn lane_record(lane: &LaneId) -> String {
    Record::new()
        .text("control", lane.control)
        .unless(Channel::default(), "channel", lane.channel)
        .plain("from", lane.from.0)
        .end()
}

fn release_record(release: &Release) -> String {
    let Release { note, length, release } = release;
    Record::new()
        .plain("id", note.0)
        .plain("length", length.0)
        .unless(U7::CENTRE, "release", *release)
        .end()
}

fn placement_record((note, placement): &(NoteId, Placement)) -> String {
    let record = Record::new().plain("id", note.0);
    let ticks = |ticks: Option<Tick>| maybe(ticks.map(|ticks| ticks.0));
    match *placement {
        Placement::Start(start) => record.plain("at", ticks(start)),
        Placement::Length(length) => record.plain("length", ticks(length)),
        Placement::Key(key) => record.plain("key", maybe(key)),
        Placement::Velocity(velocity) => record.plain("velocity", maybe(velocity)),
        Placement::Release(release) => record.plain("release", maybe(release)),
    }
    .end()
}

/// The text of a commit.
pub(super) fn commit(commit: &Commit) -> String {
    labelled(commit.label, &commit.edits)
}

fn labelled(label: crate::Label, edits: &[Edit]) -> String {
    Record::new().text("label", label).plain("edits", list(edits, edit)).end()
}

/// The text of a history: one step a line.
pub(super) fn history(history: &History) -> String {
    let steps = |name: &str, steps: &[Step]| {
        let lines =
            steps.iter().map(|step| format!("        {},\n", labelled(step.label, &step.edits)));
        format!("    {name}: [\n{}    ],\n", lines.collect::<String>())
    };
    let (undo, redo) = (history.undo_steps(), history.redo_steps());
    format!("(\n{}{})\n", steps("undo", undo), steps("redo", redo))
}

impl Record {
    /// Adds a field from its text, `name: value`.
    fn joined(self, text: &str) -> Record {
        match text.split_once(": ") {
            Some((name, value)) => self.plain(name, value),
            None => self,
        }
    }
}
