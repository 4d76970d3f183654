//! What a random player does while the song plays.

use chaconne_engine::{Command, Engine, Route, When};
use chaconne_song::{
    Commit, Edit, Laid, Letter, Pass, PassEdit, PassId, SectionEdit, SharedPass, Song, TrackId,
};
use chaconne_time::{Span, Tempo, Tick};
use proptest::prelude::*;
use std::sync::Arc;

/// One thing that a player does. Passes are picked by a number of any size.
#[derive(Debug, Clone)]
pub enum Deed {
    /// Moves a controller: its index, the channel of the keyboard, the value.
    Touch(usize, u8, u16),
    MuteTrack(u32, bool),
    SoloTrack(u32, bool),
    MutePass(usize, bool),
    SoloPass(usize, bool),
    RemovePass(usize),
    /// Moves a layer to another place in its section.
    MovePass(usize, usize),
    /// Sets where a pass covers those under it.
    Cover(usize, Option<(i64, i64)>),
    /// Shares a pass with a section.
    Share(usize, Letter),
    /// Replaces a pass in a section by a copy.
    Copy(usize, Letter),
    Undo,
    Redo,
    Arm(u32),
    Jump(Letter, When),
    BackToForm(When),
    LastTime,
    Repeat(bool),
    Tempo(u32),
    Panic,
    Stop,
    /// Goes to a sixteenth of the section, if the transport is stopped.
    GoTo(i64),
    Play,
    PlayRounds(Letter, u32),
    PlayForm(&'static str),
    Continue,
}

fn letter() -> impl Strategy<Value = Letter> {
    prop_oneof![Just(Letter::A), Just("B".parse().unwrap())]
}

/// The value of a controller; often one of the ends, or either side of the middle.
fn value() -> impl Strategy<Value = u16> {
    prop_oneof![2 => Just(0u16), 1 => Just(16383), 3 => 0u16..128, 2 => 0u16..16384]
}

pub fn deed() -> impl Strategy<Value = Deed> {
    let (track, pass) = (1u32..4, any::<usize>);
    let cover = prop::option::weighted(0.7, (0i64..900, 1i64..900));
    let forms = prop::sample::select(vec!["A B", "A x2 B A", "(A B) x2", "B x3 A x2", "A x4"]);
    prop_oneof![
        // Half of the touches are of the sustain pedal.
        8 => (1u8..4, value()).prop_map(|(channel, value)| Deed::Touch(0, channel, value)),
        8 => (0usize..7, 1u8..4, value()).prop_map(|(which, channel, value)| Deed::Touch(which, channel, value)),
        3 => (track.clone(), any::<bool>()).prop_map(|(track, mute)| Deed::MuteTrack(track, mute)),
        2 => (track.clone(), any::<bool>()).prop_map(|(track, solo)| Deed::SoloTrack(track, solo)),
        3 => (pass(), any::<bool>()).prop_map(|(pass, mute)| Deed::MutePass(pass, mute)),
        1 => (pass(), any::<bool>()).prop_map(|(pass, solo)| Deed::SoloPass(pass, solo)),
        2 => pass().prop_map(Deed::RemovePass),
        1 => (pass(), pass()).prop_map(|(pass, to)| Deed::MovePass(pass, to)),
        2 => (pass(), cover).prop_map(|(pass, cover)| Deed::Cover(pass, cover)),
        1 => (pass(), letter()).prop_map(|(pass, to)| Deed::Share(pass, to)),
        1 => (pass(), letter()).prop_map(|(pass, of)| Deed::Copy(pass, of)),
        3 => Just(Deed::Undo),
        2 => Just(Deed::Redo),
        3 => track.prop_map(Deed::Arm),
        3 => (letter(), when()).prop_map(|(to, when)| Deed::Jump(to, when)),
        1 => when().prop_map(Deed::BackToForm),
        1 => Just(Deed::LastTime),
        1 => any::<bool>().prop_map(Deed::Repeat),
        1 => (60u32..240).prop_map(Deed::Tempo),
        1 => Just(Deed::Panic),
        2 => Just(Deed::Stop),
        3 => (0i64..16).prop_map(Deed::GoTo),
        4 => Just(Deed::Play),
        1 => (letter(), 1u32..4).prop_map(|(of, rounds)| Deed::PlayRounds(of, rounds)),
        2 => forms.prop_map(Deed::PlayForm),
        2 => Just(Deed::Continue),
    ]
}

fn pick(song: &Song, index: usize) -> Option<&SharedPass> {
    song.passes.values().nth(index % song.passes.len().max(1))
}

/// The first section that contains a pass.
fn home(song: &Song, pass: PassId) -> Option<Letter> {
    song.sections_with(pass).next().map(|section| section.letter)
}

fn edit(song: &Song, deed: &Deed) -> Option<Edit> {
    let count = |letter| song.section(letter).map_or(0, |section| section.layers.len());
    Some(match *deed {
        Deed::RemovePass(pass) => {
            let pass = pick(song, pass)?.id;
            Edit::Section(home(song, pass)?, SectionEdit::Remove(pass))
        }
        Deed::MovePass(pass, to) => {
            let pass = pick(song, pass)?.id;
            let home = home(song, pass)?;
            Edit::Section(home, SectionEdit::Move(pass, to % count(home).max(1)))
        }
        Deed::Cover(pass, cover) => {
            let pass: &Arc<Pass> = pick(song, pass)?;
            let span = |(from, long)| Span::new(Tick(from), Tick(from + long).min(pass.length));
            let covers = cover.map(span).into_iter().filter(|span| !span.is_empty()).collect();
            Edit::Pass(pass.id, PassEdit::Covers(covers))
        }
        Deed::Share(pass, to) => {
            let pass = Laid::Shared(pick(song, pass)?.id);
            Edit::Section(to, SectionEdit::Lay { at: count(to), pass, mute: false })
        }
        Deed::Copy(pass, of) => {
            let copy = Laid::Copy { of: pick(song, pass)?.id, id: song.ids().pass() };
            Edit::Section(of, SectionEdit::Replace(pick(song, pass)?.id, copy))
        }
        _ => return None,
    })
}

fn when() -> impl Strategy<Value = When> {
    prop_oneof![Just(When::Seam), Just(When::Bar), Just(When::Beat)]
}

/// The command that a deed gives; `None` if it gives none in this song.
pub fn command(engine: &Engine, deed: &Deed) -> Option<Command> {
    let song = engine.song();
    Some(match *deed {
        Deed::MuteTrack(track, mute) => Command::MuteTrack(TrackId(track), mute),
        Deed::SoloTrack(track, solo) => Command::SoloTrack(TrackId(track), solo),
        Deed::MutePass(pass, mute) => {
            let pass = pick(song, pass)?.id;
            Command::MutePass(home(song, pass)?, pass, mute)
        }
        Deed::SoloPass(pass, solo) => Command::SoloPass(pick(song, pass)?.id, solo),
        Deed::Undo => Command::Undo,
        Deed::Redo => Command::Redo,
        Deed::Arm(track) => Command::Arm(TrackId(track)),
        Deed::Jump(letter, when) => Command::Jump(letter, when),
        Deed::BackToForm(when) => Command::BackToForm(when),
        Deed::LastTime => Command::LastTime,
        Deed::Repeat(on) => Command::Repeat(on),
        Deed::Tempo(bpm) => Command::Tempo(Tempo::from_milli_bpm(bpm * 1000).ok()?),
        Deed::Panic => Command::Panic,
        Deed::Stop => Command::Stop,
        Deed::GoTo(sixteenth) => Command::Locate(Tick(240 * sixteenth)),
        Deed::Play => Command::Play,
        Deed::PlayRounds(of, rounds) => Command::PlayRoute(Route::rounds(song, of, rounds)?),
        Deed::PlayForm(form) => {
            let song = Song { form: form.parse().ok()?, ..Song::clone(song) };
            Command::PlayRoute(Route::form(&song)?)
        }
        Deed::Continue => Command::Continue,
        _ => Command::Edit(Commit::of(edit(song, deed)?)),
    })
}
