//! Reads edits, commits and histories. An edit that reads well may still be refused when it is
//! applied: only the song shows whether it has the track, or whether a note fits its pass.

use super::fault::short;
use super::fields::Fields;
use super::layout::{
    CommitText, CoverText, GrooveText, HistoryText, LaneText, MessageText, NoteText, PassText,
    PointText, SectionText, TrackText,
};
use super::leaf::{Leaf, options};
use super::read::Reader;
use super::read_pass::{self, Inside};
use super::{TextError, control, read_section};
use crate::{
    ChordKeys, Commit, Edit, GrooveEdit, GrooveId, History, Label, Laid, LaneId, NoteId, PassEdit,
    PassId, Placement, PointId, Release, SectionEdit, Song, Step, TrackEdit, TrackId, U7, U14,
};
use chaconne_time::{MetreMap, Span, Tick};
use serde::Deserialize;
use std::sync::Arc;

/// Reads a text that is one value.
fn whole<'a, T: Deserialize<'a>, R>(
    text: &'a str,
    read: impl FnOnce(&mut Reader<'a>, T) -> Option<R>,
) -> Result<R, Vec<TextError>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = Reader::of_edits(text);
    let made = match options().from_str(text) {
        Ok(value) => read(&mut reader, value),
        Err(error) => {
            reader.faults.syntax(text, &error);
            None
        }
    };
    let errors = reader.faults.into_errors();
    made.filter(|_| errors.is_empty()).ok_or(errors)
}

/// The edit in `text`.
pub(super) fn edit(text: &str) -> Result<Edit, Vec<TextError>> {
    whole(text, |reader, leaf: Leaf<'_>| one(reader, leaf))
}

/// The commit in `text`.
pub(super) fn commit(text: &str) -> Result<Commit, Vec<TextError>> {
    whole(text, |reader, text: CommitText<'_>| {
        let (label, edits) = labelled(reader, &text)?;
        Some(Commit { label, edits })
    })
}

/// The history in `text`.
pub(super) fn history(text: &str) -> Result<History, Vec<TextError>> {
    whole(text, |reader, text: HistoryText<'_>| {
        let (undo, redo) = (steps(reader, &text.undo), steps(reader, &text.redo));
        Some(History::new(undo?, redo?))
    })
}

fn steps<'a>(reader: &mut Reader<'a>, texts: &[CommitText<'a>]) -> Option<Vec<Step>> {
    let steps: Vec<_> = texts
        .iter()
        .map(|text| labelled(reader, text).map(|(label, edits)| Step { label, edits }))
        .collect();
    steps.into_iter().collect()
}

fn labelled<'a>(reader: &mut Reader<'a>, text: &CommitText<'a>) -> Option<(Label, Vec<Edit>)> {
    let label = reader.faults.parsed(text.label, "label", str::parse);
    let edits: Vec<_> = text.edits.iter().map(|&leaf| one(reader, leaf)).collect();
    Some((label?, edits.into_iter().collect::<Option<_>>()?))
}

fn one<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<Edit> {
    let mut record = Record { whole: leaf, fields: reader.faults.nested(leaf)?, reader };
    let edit = record.edit();
    let end = record.fields.end(record.reader);
    edit.filter(|_| end.is_some())
}

/// A record that is being read: an edit, or a part of one.
struct Record<'r, 'a> {
    reader: &'r mut Reader<'a>,
    whole: Leaf<'a>,
    fields: Fields<'a>,
}

impl<'a> Record<'_, 'a> {
    fn edit(&mut self) -> Option<Edit> {
        let Some((name, leaf)) = self.fields.pop() else {
            self.reader.faults.add(self.whole, "an edit has at least one field");
            return None;
        };
        Some(match name.as_str() {
            "title" => Edit::Title(self.string(leaf, "title")?),
            "key" => Edit::Key(self.parsed_or_none(leaf, "key")?),
            "transpose" => Edit::Transpose(self.reader.transpose(Some(leaf))?),
            "form" => Edit::Form(self.reader.faults.parsed(leaf, "form", str::parse)?),
            "add_track" => {
                let text: TrackText<'a> = self.reader.faults.nested(leaf)?;
                let track = Arc::new(self.reader.track(&text)?);
                Edit::AddTrack { at: self.place("at")?, track }
            }
            "remove_track" => Edit::RemoveTrack(TrackId(self.id(leaf)?)),
            "move_track" => Edit::MoveTrack(TrackId(self.id(leaf)?), self.place("to")?),
            "add_groove" => {
                let text: GrooveText<'a> = self.reader.faults.nested(leaf)?;
                let groove = Arc::new(self.reader.groove(&text)?);
                Edit::AddGroove { at: self.place("at")?, groove }
            }
            "remove_groove" => Edit::RemoveGroove(GrooveId(self.id(leaf)?)),
            "groove" => Edit::Groove(GrooveId(self.id(leaf)?), self.groove()?),
            "track" => Edit::Track(TrackId(self.id(leaf)?), self.track()?),
            "add_section" => self.add_section(leaf)?,
            "remove_section" => {
                Edit::RemoveSection(self.reader.faults.parsed(leaf, "section", str::parse)?)
            }
            "move_section" => {
                let letter = self.reader.faults.parsed(leaf, "section", str::parse)?;
                Edit::MoveSection(letter, self.place("to")?)
            }
            "section" => {
                let letter = self.reader.faults.parsed(leaf, "section", str::parse)?;
                Edit::Section(letter, self.section()?)
            }
            "pass" => Edit::Pass(PassId(self.id(leaf)?), self.pass()?),
            other => return self.unknown(leaf, other),
        })
    }

    /// Adds an error: no edit has this field here.
    fn unknown<T>(&mut self, leaf: Leaf<'a>, name: &str) -> Option<T> {
        self.reader.faults.add(leaf, format!("an edit cannot change '{}' here", short(name)));
        None
    }

    /// Takes the next field, whose name says what the edit changes.
    fn next(&mut self) -> Option<(String, Leaf<'a>)> {
        let next = self.fields.pop();
        if next.is_none() {
            self.reader.faults.add(self.whole, "this edit does not say what it changes");
        }
        next
    }

    fn id(&mut self, leaf: Leaf<'a>) -> Option<u32> {
        self.reader.any_id(leaf)
    }

    fn need(&mut self, name: &str) -> Option<Leaf<'a>> {
        self.fields.need(self.reader, self.whole, name)
    }

    /// Reads an index in a list.
    fn index(&mut self, leaf: Leaf<'a>, name: &str) -> Option<usize> {
        let most = i64::from(Song::LAST_ID);
        usize::try_from(self.reader.faults.number(leaf, name, 0, most)?).ok()
    }

    fn place(&mut self, name: &str) -> Option<usize> {
        let leaf = self.need(name)?;
        self.index(leaf, name)
    }

    /// Reads the index among the points or messages at one tick; 0 if it is left out.
    fn nth(&mut self) -> Option<usize> {
        match self.fields.take("nth") {
            Some(leaf) => self.index(leaf, "nth"),
            None => Some(0),
        }
    }

    fn flag(&mut self, leaf: Leaf<'a>, what: &str) -> Option<bool> {
        self.reader.faults.flag(leaf, what)
    }

    fn string(&mut self, leaf: Leaf<'a>, what: &str) -> Option<String> {
        Some(self.reader.faults.string(leaf, what)?.into_owned())
    }

    fn ticks(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Tick> {
        self.reader.tick(leaf, what, None)
    }

    /// Reads the length of a pass or a note.
    fn length(&mut self, leaf: Leaf<'a>) -> Option<Tick> {
        Inside::any(self.reader).length(leaf)
    }

    fn percent(&mut self, leaf: Leaf<'a>, what: &str) -> Option<u8> {
        Some(self.reader.faults.number(leaf, what, 0, 100)? as u8)
    }

    /// Reads `None`, or a value.
    fn or_none<T>(
        &mut self,
        leaf: Leaf<'a>,
        read: impl FnOnce(&mut Self, Leaf<'a>) -> Option<T>,
    ) -> Option<Option<T>> {
        if leaf.spelt() == "None" { Some(None) } else { read(self, leaf).map(Some) }
    }

    fn parsed_or_none<T: std::str::FromStr<Err: std::fmt::Display>>(
        &mut self,
        leaf: Leaf<'a>,
        what: &str,
    ) -> Option<Option<T>> {
        self.or_none(leaf, |record, leaf| record.reader.faults.parsed(leaf, what, str::parse))
    }

    fn data_or_none(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Option<U7>> {
        self.or_none(leaf, |record, leaf| record.reader.data(leaf, what))
    }

    /// Reads a list of records that also appear in a song.
    fn list<T: Deserialize<'a>, R>(
        &mut self,
        leaf: Leaf<'a>,
        read: impl FnMut(&mut Inside<'_, 'a, '_>, &T) -> Option<R>,
    ) -> Option<Vec<R>> {
        let texts: Vec<T> = self.reader.faults.nested(leaf)?;
        Inside::any(self.reader).each(&texts, read)
    }

    fn track(&mut self) -> Option<TrackEdit> {
        use TrackEdit as E;
        let (name, leaf) = self.next()?;
        Some(match name.as_str() {
            "name" => E::Name(self.string(leaf, "name")?),
            "port" => E::Port(self.string(leaf, "port")?),
            "channel" => {
                E::Channel(self.or_none(leaf, |record, leaf| record.reader.channel(leaf))?)
            }
            "bank" => E::Bank(self.or_none(leaf, |record, leaf| {
                U14::new(record.reader.faults.number(leaf, "bank", 0, 16_383)? as u16)
            })?),
            "program" => E::Program(self.or_none(leaf, |record, leaf| {
                U7::new(record.reader.faults.number(leaf, "program", 1, 128)? as u8 - 1)
            })?),
            "pitched" => E::Pitched(self.flag(leaf, "pitched")?),
            "grid" => E::Grid(self.parsed_or_none(leaf, "grid")?),
            "pull" => E::Pull(self.percent(leaf, "pull")?),
            "swing" => E::Swing(self.reader.faults.keep(leaf, leaf.spelt().parse())?),
            "reach" => E::Reach(self.percent(leaf, "reach")?),
            "rolls" => E::Rolls(self.flag(leaf, "rolls")?),
            "groove" => E::Groove(self.or_none(leaf, |record, leaf| {
                let text = record.reader.faults.nested(leaf)?;
                record.reader.given(&text)
            })?),
            "human" => {
                let text = self.reader.faults.nested(leaf)?;
                E::Human(self.reader.human(&text)?)
            }
            "volume" => E::Volume(self.data_or_none(leaf, "volume")?),
            "pan" => E::Pan(self.data_or_none(leaf, "pan")?),
            "mute" => E::Mute(self.flag(leaf, "mute")?),
            "pass_length" => E::PassLength(self.or_none(leaf, Self::length)?),
            "compass" => E::Compass(self.parsed_or_none(leaf, "compass")?),
            "keys_play" => E::KeysPlay(self.reader.faults.parsed(leaf, "keys_play", str::parse)?),
            "chord_stack" => {
                E::ChordStack(self.reader.faults.parsed(leaf, "chord_stack", str::parse)?)
            }
            "chord_inversion" => {
                let last = i64::from(ChordKeys::LAST_INVERSION);
                let nth = self.reader.faults.number(leaf, "chord_inversion", 0, last)?;
                E::ChordInversion(nth as u8)
            }
            "chord_open" => E::ChordOpen(self.flag(leaf, "chord_open")?),
            "chord_leading" => E::ChordLeading(self.flag(leaf, "chord_leading")?),
            "chord" => {
                let chord = self.parsed_or_none(leaf, "chord")?;
                let key = self.need("key")?;
                E::ChordKey(self.reader.data(key, "key")?, chord)
            }
            other => return self.unknown(leaf, other),
        })
    }

    fn groove(&mut self) -> Option<GrooveEdit> {
        let (name, leaf) = self.next()?;
        Some(match name.as_str() {
            "name" => GrooveEdit::Name(self.string(leaf, "name")?),
            "step" => {
                let (at, lean) = self.reader.any_step(leaf)?;
                GrooveEdit::Step(at, Some(lean))
            }
            "clear_step" => GrooveEdit::Step(self.reader.any_place(leaf)?, None),
            other => return self.unknown(leaf, other),
        })
    }

    fn add_section(&mut self, leaf: Leaf<'a>) -> Option<Edit> {
        let text: SectionText<'a> = self.reader.faults.nested(leaf)?;
        let letter = self.reader.faults.parsed(text.letter, "letter", str::parse);
        let section = read_section::section(self.reader, letter, &text)?;
        let new = std::mem::take(&mut self.reader.passes);
        let passes = section.layers.iter().filter_map(|layer| new.get(&layer.pass).cloned());
        let passes = passes.collect();
        Some(Edit::AddSection { at: self.place("at")?, section: Arc::new(section), passes })
    }

    fn section(&mut self) -> Option<SectionEdit> {
        use SectionEdit as E;
        let (name, leaf) = self.next()?;
        Some(match name.as_str() {
            "letter" => E::Letter(self.reader.faults.parsed(leaf, "letter", str::parse)?),
            "name" => E::Name(self.string(leaf, "name")?),
            "key" => E::Key(self.parsed_or_none(leaf, "key")?),
            "transpose" => E::Transpose(self.reader.transpose(Some(leaf))?),
            "bars" => E::Metre(self.metre(leaf)?),
            "tempo" => E::Tempo(read_section::tempi(self.reader, leaf, None)?),
            "fermata" => {
                let on = self.reader.faults.flag(leaf, "fermata")?;
                let at = self.need("at")?;
                E::Fermata(self.ticks(at, "at")?, on)
            }
            "chord" => {
                let symbol = self.parsed_or_none(leaf, "chord")?;
                let at = self.need("at")?;
                E::Chord(self.ticks(at, "at")?, symbol)
            }
            "remove" => E::Remove(PassId(self.id(leaf)?)),
            "layer" => self.layer(leaf)?,
            "replace" => {
                let pass = PassId(self.id(leaf)?);
                let (name, leaf) = self.next()?;
                E::Replace(pass, self.laid(&name, leaf)?)
            }
            other => {
                let pass = self.laid(other, leaf)?;
                let at = self.place("at")?;
                let mute = match self.fields.take("mute") {
                    Some(leaf) => self.flag(leaf, "mute")?,
                    None => false,
                };
                E::Lay { at, pass, mute }
            }
        })
    }

    fn metre(&mut self, bars: Leaf<'a>) -> Option<MetreMap> {
        let most = i64::from(MetreMap::MAX_BARS);
        let bars = self.reader.faults.number(bars, "bars", 1, most)?;
        let leaf = self.need("metre")?;
        let changes = read_section::metres(self.reader, leaf, bars)?;
        self.reader.faults.keep(leaf, MetreMap::with_changes(bars as u32, changes))
    }

    fn layer(&mut self, leaf: Leaf<'a>) -> Option<SectionEdit> {
        let pass = PassId(self.id(leaf)?);
        match self.next()? {
            (name, leaf) if name == "to" => Some(SectionEdit::Move(pass, self.index(leaf, "to")?)),
            (name, leaf) if name == "mute" => {
                Some(SectionEdit::Mute(pass, self.flag(leaf, "mute")?))
            }
            (name, leaf) => self.unknown(leaf, &name),
        }
    }

    fn laid(&mut self, name: &str, leaf: Leaf<'a>) -> Option<Laid> {
        Some(match name {
            "lay" => {
                let text: PassText<'a> = self.reader.faults.nested(leaf)?;
                if let Some(mute) = text.mute {
                    self.reader
                        .faults
                        .add(mute, "in an edit, 'mute' goes beside the pass, not inside it");
                }
                Laid::New(Arc::new(read_pass::pass(self.reader, &text, None)?))
            }
            "share" => Laid::Shared(PassId(self.id(leaf)?)),
            "copy" => {
                let of = PassId(self.id(leaf)?);
                let id = self.need("id")?;
                Laid::Copy { of, id: PassId(self.id(id)?) }
            }
            other => return self.unknown(leaf, other),
        })
    }

    fn pass(&mut self) -> Option<PassEdit> {
        use PassEdit as E;
        let (name, leaf) = self.next()?;
        Some(match name.as_str() {
            "name" => E::Name(self.string(leaf, "name")?),
            "feel" => E::Feel(self.or_none(leaf, |record, leaf| {
                let text = record.reader.faults.nested(leaf)?;
                record.reader.feel(&text, false)
            })?),
            "length" => E::Length(self.length(leaf)?),
            "covers" => {
                let texts: Vec<CoverText<'a>> = self.reader.faults.nested(leaf)?;
                E::Covers(Inside::any(self.reader).covers(&texts)?)
            }
            "add_notes" => {
                E::AddNotes(self.list(leaf, |inside, text: &NoteText<'a>| inside.note(text))?)
            }
            "remove_notes" => {
                E::RemoveNotes(self.list(leaf, |inside, leaf: &Leaf<'a>| {
                    inside.reader.any_id(*leaf).map(NoteId)
                })?)
            }
            "played" => E::Played(self.records(leaf, Self::release)?),
            "place" => E::Place(self.records(leaf, Self::placement)?),
            "add_lane" => {
                let text: LaneText<'a> = self.reader.faults.nested(leaf)?;
                E::AddLane(Inside::any(self.reader).lane(&text)?)
            }
            "remove_lane" => E::RemoveLane(self.lane_id(leaf)?),
            "lane" => {
                let lane = self.lane_id(leaf)?;
                self.lane(lane)?
            }
            "add_sysex" => {
                let text: MessageText<'a> = self.reader.faults.nested(leaf)?;
                let message = Inside::any(self.reader).message(&text)?;
                E::AddSysEx(self.nth()?, message)
            }
            "remove_sysex" => {
                let at = self.ticks(leaf, "remove_sysex")?;
                E::RemoveSysEx(self.nth()?, at)
            }
            other => return self.unknown(leaf, other),
        })
    }

    /// Reads a change to a lane.
    fn lane(&mut self, lane: LaneId) -> Option<PassEdit> {
        use PassEdit as E;
        let (name, leaf) = self.next()?;
        Some(match name.as_str() {
            "from" => {
                let from = self.ticks(leaf, "from")?;
                let to = self.need("to")?;
                E::LaneSpan(lane, Span::new(from, self.ticks(to, "to")?))
            }
            "add_point" => {
                let text: PointText<'a> = self.reader.faults.nested(leaf)?;
                let point = Inside::any(self.reader).point(&text, lane.control, None, None)?;
                E::AddPoint(PointId { lane, at: point.at, nth: self.nth()? }, point)
            }
            "remove_point" => {
                let at = self.ticks(leaf, "remove_point")?;
                E::RemovePoint(PointId { lane, at, nth: self.nth()? })
            }
            "point" => {
                let at = self.ticks(leaf, "point")?;
                let name = PointId { lane, at, nth: self.nth()? };
                self.point(name)?
            }
            other => return self.unknown(leaf, other),
        })
    }

    fn point(&mut self, point: PointId) -> Option<PassEdit> {
        let control = point.lane.control;
        match self.next()? {
            (name, leaf) if name == "value" => {
                let value = Inside::any(self.reader).value(leaf, control)?;
                Some(PassEdit::PointValue(point, value))
            }
            (name, leaf) if name == "shape" => {
                let shape = Inside::any(self.reader).shape(leaf, control)?;
                Some(PassEdit::PointShape(point, shape))
            }
            (name, leaf) => self.unknown(leaf, &name),
        }
    }

    /// Reads a list of records that appear only in edits.
    fn records<T>(
        &mut self,
        leaf: Leaf<'a>,
        mut read: impl FnMut(&mut Record<'_, 'a>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let leaves: Vec<Leaf<'a>> = self.reader.faults.nested(leaf)?;
        let mut all = Some(Vec::with_capacity(leaves.len()));
        for whole in leaves {
            let made = self.record(whole, &mut read);
            match (made, &mut all) {
                (Some(item), Some(items)) => items.push(item),
                _ => all = None,
            }
        }
        all
    }

    fn record<T>(
        &mut self,
        whole: Leaf<'a>,
        read: impl FnOnce(&mut Record<'_, 'a>) -> Option<T>,
    ) -> Option<T> {
        let fields = self.reader.faults.nested(whole)?;
        let mut record = Record { reader: self.reader, whole, fields };
        let made = read(&mut record);
        let end = record.fields.end(record.reader);
        made.filter(|_| end.is_some())
    }

    fn lane_id(&mut self, leaf: Leaf<'a>) -> Option<LaneId> {
        self.record(leaf, |record| {
            let control = record.need("control")?;
            let control = record.reader.faults.parsed(control, "control", control::read)?;
            let channel = record.fields.take("channel");
            let channel = record.reader.or(channel, Default::default(), Reader::channel)?;
            let from = record.need("from")?;
            Some(LaneId { channel, control, from: record.ticks(from, "from")? })
        })
    }

    fn release(record: &mut Record<'_, 'a>) -> Option<Release> {
        let (id, length) = (record.need("id")?, record.need("length")?);
        let release = record.fields.take("release");
        Some(Release {
            note: NoteId(record.id(id)?),
            length: record.length(length)?,
            release: record
                .reader
                .or(release, U7::CENTRE, |reader, leaf| reader.data(leaf, "release"))?,
        })
    }

    fn placement(record: &mut Record<'_, 'a>) -> Option<(NoteId, Placement)> {
        let id = record.need("id")?;
        let note = NoteId(record.id(id)?);
        let (name, leaf) = record.next()?;
        let placement = match name.as_str() {
            "at" => {
                Placement::Start(record.or_none(leaf, |record, leaf| record.ticks(leaf, "at"))?)
            }
            "length" => Placement::Length(record.or_none(leaf, Record::length)?),
            "key" => Placement::Key(record.data_or_none(leaf, "key")?),
            "velocity" => Placement::Velocity(
                record.or_none(leaf, |record, leaf| Inside::any(record.reader).velocity(leaf))?,
            ),
            "release" => Placement::Release(record.data_or_none(leaf, "release")?),
            other => return record.unknown(leaf, other),
        };
        Some((note, placement))
    }
}
