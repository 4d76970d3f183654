//! What a random player does while the loop goes round.

use crate::judge::{Cause, Judge};
use crate::songs::letter;
use crate::stand::{CLICK, Stand};
use chaconne_engine::{Command, Message};
use chaconne_song::{
    Channel, Commit, Edit, Feel, Letter, Note, Pass, PassEdit, PassId, Placed, Placement,
    SectionEdit, SharedPass, Song, Stroke, TrackId, U7,
};
use chaconne_time::{MetreMap, NoteValue, Tempo, Tick};
use proptest::prelude::*;

/// One deed. Passes, notes and sections are picked by a number that is brought into range.
#[derive(Debug, Clone)]
pub enum Deed {
    Press(u8),
    Lift(u8),
    Wheel(u8),
    Play,
    Stop,
    Record(bool),
    Keep,
    Undo,
    Redo,
    RemoveTop,
    Arm(u32),
    MuteTrack(u32, bool),
    MutePass(usize, bool),
    Solo(u32, bool),
    Feel(u32, bool),
    PassFeel(usize, bool),
    Tempo(u32),
    Jump(usize),
    Bars(u32),
    AddNote(usize, i64, i64, u8),
    RemoveNote(usize, usize),
    PlaceNote(usize, usize, i64, u8),
    RemovePass(usize),
    Panic,
}

pub fn deed() -> impl Strategy<Value = Deed> {
    let track = 1u32..4;
    prop_oneof![
        6 => (58u8..62).prop_map(Deed::Press),
        6 => (58u8..62).prop_map(Deed::Lift),
        2 => (0u8..128).prop_map(Deed::Wheel),
        2 => Just(Deed::Play),
        1 => Just(Deed::Stop),
        4 => any::<bool>().prop_map(Deed::Record),
        1 => Just(Deed::Keep),
        4 => Just(Deed::Undo),
        3 => Just(Deed::Redo),
        1 => Just(Deed::RemoveTop),
        1 => track.clone().prop_map(Deed::Arm),
        3 => (track.clone(), any::<bool>()).prop_map(|(track, on)| Deed::MuteTrack(track, on)),
        3 => (any::<usize>(), any::<bool>()).prop_map(|(pass, on)| Deed::MutePass(pass, on)),
        1 => (track.clone(), any::<bool>()).prop_map(|(track, on)| Deed::Solo(track, on)),
        2 => (track, any::<bool>()).prop_map(|(track, on)| Deed::Feel(track, on)),
        1 => (any::<usize>(), any::<bool>()).prop_map(|(pass, on)| Deed::PassFeel(pass, on)),
        1 => (60u32..240).prop_map(Deed::Tempo),
        2 => (0usize..3).prop_map(Deed::Jump),
        1 => (1u32..4).prop_map(Deed::Bars),
        3 => (any::<usize>(), 0i64..4000, 1i64..4000, 60u8..64)
            .prop_map(|(pass, at, long, key)| Deed::AddNote(pass, at, long, key)),
        2 => (any::<usize>(), any::<usize>()).prop_map(|(pass, note)| Deed::RemoveNote(pass, note)),
        4 => (any::<usize>(), any::<usize>(), -900i64..900, 60u8..64)
            .prop_map(|(pass, note, by, key)| Deed::PlaceNote(pass, note, by, key)),
        1 => any::<usize>().prop_map(Deed::RemovePass),
        1 => Just(Deed::Panic),
    ]
}

/// The most passes that a day's playing leaves in a song.
const MOST_PASSES: usize = 16;

fn pick(song: &Song, index: usize) -> Option<&SharedPass> {
    song.passes.values().nth(index % song.passes.len().max(1))
}

fn pick_note(pass: &Pass, index: usize) -> Option<&Note> {
    pass.notes().get(index % pass.notes().len().max(1))
}

/// The section of a pass.
fn home(song: &Song, pass: PassId) -> Option<Letter> {
    song.sections_with(pass).next().map(|section| section.letter)
}

/// The edit of a deed that is one.
fn edit(song: &Song, deed: &Deed) -> Option<Edit> {
    let (pass, edit) = match *deed {
        Deed::PassFeel(pass, on) => {
            let feel = Feel::off(true).on(NoteValue::SIXTEENTH);
            (pick(song, pass)?, PassEdit::Feel(on.then_some(feel)))
        }
        Deed::AddNote(pass, at, long, key) => {
            let pass = pick(song, pass)?;
            let (start, length) =
                (Tick(at).min(pass.length - Tick(1)), Tick(long).min(pass.length));
            let (key, velocity, release) = (U7::low_bits(key), U7::low_bits(77), U7::CENTRE);
            let played = Stroke { start, length, key, velocity, release };
            let (id, channel) = (pass.free_note_id(), Channel::default());
            (pass, PassEdit::AddNotes(vec![Note { id, channel, played, placed: Placed::NOWHERE }]))
        }
        Deed::RemoveNote(pass, note) => {
            let pass = pick(song, pass)?;
            (pass, PassEdit::RemoveNotes(vec![pick_note(pass, note)?.id]))
        }
        Deed::PlaceNote(pass, note, by, key) => {
            let pass = pick(song, pass)?;
            let note = pick_note(pass, note)?;
            let (first, last) = (Tick(1) - pass.length, pass.length - Tick(1));
            let start = (note.stroke().start + Tick(by)).max(first).min(last);
            let place = Placement::Start(Some(start));
            let places = vec![(note.id, place), (note.id, Placement::Key(Some(U7::low_bits(key))))];
            (pass, PassEdit::Place(places))
        }
        Deed::RemovePass(pass) => {
            let pass = pick(song, pass)?.id;
            return Some(Edit::Section(home(song, pass)?, SectionEdit::Remove(pass)));
        }
        _ => return None,
    };
    Some(Edit::Pass(pass.id, edit))
}

fn command(stand: &Stand, deed: &Deed) -> Option<Command> {
    let song = stand.engine.song();
    let pass = |index| pick(song, index).map(|pass| pass.id);
    Some(match *deed {
        Deed::Play => Command::Play,
        Deed::Stop => Command::Stop,
        Deed::Record(on) => Command::Record(on && song.passes.len() < MOST_PASSES),
        Deed::Keep => Command::Keep,
        Deed::Undo => Command::Undo,
        Deed::Redo => Command::Redo,
        Deed::RemoveTop => Command::RemoveTop,
        Deed::Arm(track) => Command::Arm(TrackId(track)),
        Deed::MuteTrack(track, on) => Command::MuteTrack(TrackId(track), on),
        Deed::MutePass(index, on) => Command::MutePass(pass(index)?, on),
        Deed::Solo(track, on) => Command::SoloTrack(TrackId(track), on),
        Deed::Feel(track, on) => {
            let off = Feel::off(true);
            let feel = if on { off.on(NoteValue::SIXTEENTH) } else { off };
            Command::Feel(TrackId(track), feel)
        }
        Deed::Tempo(bpm) => Command::Tempo(Tempo::from_milli_bpm(bpm * 1000).unwrap()),
        Deed::Jump(section) => Command::Jump(letter(section)),
        Deed::Bars(bars) => {
            let section = stand.engine.status(stand.now).section;
            let metre = song.section(section)?.metre.first().clone();
            let map = MetreMap::new(bars, metre).ok()?;
            Command::Edit(Commit::of(Edit::Section(section, SectionEdit::Metre(map))))
        }
        Deed::Panic => Command::Panic,
        _ => Command::Edit(Commit::of(edit(song, deed)?)),
    })
}

/// Does it, and has the judge look.
pub fn act(stand: &mut Stand, judge: &mut Judge, deed: &Deed) {
    judge.read(stand);
    let tick = stand.engine.tick_at(stand.now);
    let recording = stand.engine.status(stand.now).recording;
    do_it(stand, judge, deed);
    let cause = match deed {
        Deed::Keep | Deed::Record(_) => Cause::FromSeam,
        // The unfinished round goes first, or becomes a pass.
        Deed::Undo | Deed::Redo | Deed::Stop | Deed::Jump(_) | Deed::Bars(_) if recording => {
            Cause::FromSeam
        }
        Deed::Panic => Cause::Silence,
        _ => Cause::Plain,
    };
    judge.look(stand, tick, cause);
}

/// Does it.
pub fn do_it(stand: &mut Stand, judge: &mut Judge, deed: &Deed) {
    let (channel, velocity) = (Channel::default(), U7::low_bits(80));
    match *deed {
        Deed::Press(key) => {
            let key = U7::low_bits(key);
            stand.play(CLICK, Message::NoteOn { channel, key, velocity });
        }
        Deed::Lift(key) => {
            let (key, velocity) = (U7::low_bits(key), U7::CENTRE);
            stand.play(CLICK, Message::NoteOff { channel, key, velocity });
        }
        Deed::Wheel(value) => wheel(stand, judge, value),
        _ => {
            if let Some(command) = command(stand, deed) {
                stand.command(command);
            }
        }
    }
}

/// The wheel of the armed track's instrument; it is the player's until the seam.
fn wheel(stand: &mut Stand, judge: &mut Judge, value: u8) {
    let Some(target) = stand.engine.live_target() else { return };
    let channel = target.channel.unwrap_or_default();
    let message =
        Message::Change { channel, controller: U7::low_bits(1), value: U7::low_bits(value) };
    let status = stand.engine.status(stand.now);
    let length = status.song.section(status.section).map_or(Tick(1), |section| section.length());
    let until = status.at - status.in_section + length;
    judge.touch(target.port, &message.bytes(), until);
    stand.play(target.port, message);
}
