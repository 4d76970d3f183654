//! The actions of a random player while the loop goes round.

use crate::judge::{Cause, Judge};
use crate::songs::letter;
use crate::stand::{CLICK, Stand};
use chaconne_engine::{
    ByHand, Command, HandStep, KeyOf, Message, Mode, NewKey, PortIx, Rounds, Route, Transport, When,
};
use chaconne_song::{
    Channel, Commit, Control, Curve, Edit, Feel, Form, KeySignature, Laid, Letter, Note, NoteRef,
    Pass, PassEdit, PassId, Picked, Placed, Placement, PointId, Ramp, SectionEdit, Shape,
    SharedPass, Song, Stroke, TrackId, Transpose, U7,
};
use chaconne_time::{MetreMap, NoteValue, Span, Tempo, Tick};
use proptest::prelude::*;

/// One action. Passes, notes and sections are picked by a number of any size.
#[derive(Debug, Clone)]
pub enum PlayerAction {
    Press(u8),
    Lift(u8),
    Wheel(u8),
    Play,
    /// Plays the form, if the transport is stopped.
    PlayForm,
    /// Plays on from where it stopped.
    Continue,
    Stop,
    Record(bool),
    /// Goes this many bars on or back, if the transport is stopped.
    GoTo(i32),
    CountIn(u8),
    RecordAgain,
    Mode(Mode),
    Rounds(Rounds),
    Keep,
    Undo,
    Redo,
    RemoveTop,
    Arm(u32),
    MuteTrack(u32, bool),
    MutePass(usize, bool),
    Solo(u32, bool),
    SoloPass(usize, bool),
    Feel(u32, bool),
    PassFeel(usize, bool),
    Tempo(u32),
    /// Steps the volume of a track.
    Volume(u32, i8),
    Jump(usize, When),
    Stay,
    BackToForm(When),
    LastTime,
    Repeat(bool),
    KeepForm,
    Bars(u32),
    AddNote(usize, i64, i64, u8),
    RemoveNote(usize, usize),
    PlaceNote(usize, usize, i64, u8),
    RemovePass(usize),
    /// Shares a pass of another section.
    Share(usize, usize),
    /// Replaces the pass of a layer by the section's own copy.
    Own(usize, usize),
    MoveLayer(usize, usize, usize),
    Transpose(i8),
    TransposeSection(usize, i8),
    /// Transposes the song, or a section, by semitones, at a seam, bar or beat or at once.
    KeyChange(Option<usize>, i8, Option<When>),
    Key(usize, i8),
    Chord(usize, i64, Option<&'static str>),
    /// Sets or removes a fermata on a beat of a section.
    Fermata(usize, i64, bool),
    Tap,
    ByHand(Option<ByHand>),
    Form(&'static str),
    Shape(usize, usize, Shape),
    /// Sets the wheel of a pass at a tick.
    Point(usize, i64, u8),
    /// Draws a ramp of the wheel over a pass: from a tick, so many ticks long, between two values.
    Ramp(usize, (i64, i64), (u8, u8), Shape),
    /// Tries such a ramp, in place of the one tried before.
    TryRamp(usize, (i64, i64), (u8, u8), Shape),
    /// Draws a ramp over the velocities of a pass.
    Crescendo(usize, (u8, u8), Shape),
    /// Keeps what was tried, or takes it back.
    EndTry(bool),
    Panic,
}

/// Forms with endings and groups, and plain ones.
pub const FORMS: [&str; 6] = [
    "A B A",
    "A (B C) x2",
    "(A B [1 C] [2 A])",
    "(C [1 2 A] [3 B]) x3",
    "A x3 B",
    "((A B) x2 C) x2",
];

pub fn any_action() -> impl Strategy<Value = PlayerAction> {
    let track = 1u32..4;
    prop_oneof![
        6 => (58u8..62).prop_map(PlayerAction::Press),
        6 => (58u8..62).prop_map(PlayerAction::Lift),
        2 => (0u8..128).prop_map(PlayerAction::Wheel),
        2 => Just(PlayerAction::Play),
        1 => Just(PlayerAction::Stop),
        4 => any::<bool>().prop_map(PlayerAction::Record),
        1 => Just(PlayerAction::Keep),
        4 => Just(PlayerAction::Undo),
        3 => Just(PlayerAction::Redo),
        1 => Just(PlayerAction::RemoveTop),
        1 => track.clone().prop_map(PlayerAction::Arm),
        3 => (track.clone(), any::<bool>()).prop_map(|(track, on)| PlayerAction::MuteTrack(track, on)),
        3 => (any::<usize>(), any::<bool>()).prop_map(|(pass, on)| PlayerAction::MutePass(pass, on)),
        1 => (track.clone(), any::<bool>()).prop_map(|(track, on)| PlayerAction::Solo(track, on)),
        1 => (any::<usize>(), any::<bool>()).prop_map(|(pass, on)| PlayerAction::SoloPass(pass, on)),
        2 => (track.clone(), any::<bool>()).prop_map(|(track, on)| PlayerAction::Feel(track, on)),
        3 => (track, -40i8..40).prop_map(|(track, by)| PlayerAction::Volume(track, by)),
        1 => (any::<usize>(), any::<bool>()).prop_map(|(pass, on)| PlayerAction::PassFeel(pass, on)),
        1 => (60u32..240).prop_map(PlayerAction::Tempo),
        2 => jump(),
        4 => direction(),
        1 => (1u32..4).prop_map(PlayerAction::Bars),
        3 => (any::<usize>(), 0i64..4000, 1i64..4000, 60u8..64)
            .prop_map(|(pass, at, long, key)| PlayerAction::AddNote(pass, at, long, key)),
        2 => (any::<usize>(), any::<usize>()).prop_map(|(pass, note)| PlayerAction::RemoveNote(pass, note)),
        4 => (any::<usize>(), any::<usize>(), -900i64..900, 60u8..64)
            .prop_map(|(pass, note, by, key)| PlayerAction::PlaceNote(pass, note, by, key)),
        1 => any::<usize>().prop_map(PlayerAction::RemovePass),
        1 => Just(PlayerAction::Panic),
        1 => prop_oneof![Just(Mode::Layer), Just(Mode::Replace), Just(Mode::Punch)]
            .prop_map(PlayerAction::Mode),
        1 => prop_oneof![Just(Rounds::All), Just(Rounds::Newest), Just(Rounds::One)]
            .prop_map(PlayerAction::Rounds),
        7 => of_document(),
        4 => drawn(),
    ]
}

fn when() -> impl Strategy<Value = When> {
    prop_oneof![Just(When::Seam), Just(When::Bar), Just(When::Beat)]
}

/// A jump to one of the sections.
pub fn jump() -> impl Strategy<Value = PlayerAction> {
    (0usize..3, when()).prop_map(|(to, when)| PlayerAction::Jump(to, when))
}

/// A new key, mostly at a seam, bar or beat.
pub fn key_change() -> impl Strategy<Value = PlayerAction> {
    let of = prop::option::weighted(0.3, 0usize..3);
    let when = prop_oneof![5 => when().prop_map(Some), 1 => Just(None)];
    (of, -4i8..5, when).prop_map(|(of, by, when)| PlayerAction::KeyChange(of, by, when))
}

/// An action that leads the form.
fn direction() -> impl Strategy<Value = PlayerAction> {
    prop_oneof![
        3 => Just(PlayerAction::PlayForm),
        1 => Just(PlayerAction::Stay),
        2 => when().prop_map(PlayerAction::BackToForm),
        1 => Just(PlayerAction::LastTime),
        1 => any::<bool>().prop_map(PlayerAction::Repeat),
        1 => Just(PlayerAction::KeepForm),
    ]
}

/// An action with which the time waits, or goes on.
pub fn waiting() -> impl Strategy<Value = PlayerAction> {
    let step = prop_oneof![Just(HandStep::QuarterBar), Just(HandStep::Beat), Just(HandStep::Bar)];
    let by_hand = step.prop_map(|step| ByHand { step, loudness: false });
    prop_oneof![
        12 => Just(PlayerAction::Tap),
        2 => (0usize..3, 0i64..8, any::<bool>())
            .prop_map(|(of, beat, on)| PlayerAction::Fermata(of, beat, on)),
        1 => prop::option::of(by_hand).prop_map(PlayerAction::ByHand),
    ]
}

/// An action that starts at another bar, or makes ready for it.
pub fn any_start() -> impl Strategy<Value = PlayerAction> {
    prop_oneof![
        2 => (-2i32..4).prop_map(PlayerAction::GoTo),
        1 => (0u8..3).prop_map(PlayerAction::CountIn),
        1 => Just(PlayerAction::Continue),
        3 => Just(PlayerAction::RecordAgain),
    ]
}

/// A stop, and a start at another bar, perhaps after a count-in.
pub fn start_elsewhere() -> impl Strategy<Value = Vec<PlayerAction>> {
    let start = prop_oneof![
        1 => Just(PlayerAction::Play),
        1 => Just(PlayerAction::Continue),
        3 => Just(PlayerAction::Record(true)),
    ];
    (1i32..4, 0u8..3, start).prop_map(|(bars, count_in, start)| {
        vec![PlayerAction::Stop, PlayerAction::GoTo(bars), PlayerAction::CountIn(count_in), start]
    })
}

/// An action that only edits the song.
fn of_document() -> impl Strategy<Value = PlayerAction> {
    let section = 0usize..3;
    let form = (0..FORMS.len()).prop_map(|form| FORMS[form]);
    let chord = prop_oneof![Just(Some("Am7")), Just(Some("F")), Just(None)];
    prop_oneof![
        3 => (section.clone(), any::<usize>()).prop_map(|(to, pass)| PlayerAction::Share(to, pass)),
        2 => (section.clone(), any::<usize>()).prop_map(|(of, pass)| PlayerAction::Own(of, pass)),
        2 => (section.clone(), any::<usize>(), any::<usize>())
            .prop_map(|(of, pass, to)| PlayerAction::MoveLayer(of, pass, to)),
        1 => (-3i8..4).prop_map(PlayerAction::Transpose),
        1 => (section.clone(), -3i8..4).prop_map(|(of, by)| PlayerAction::TransposeSection(of, by)),
        1 => (section.clone(), -7i8..8).prop_map(|(of, fifths)| PlayerAction::Key(of, fifths)),
        1 => (section, 0i64..8, chord).prop_map(|(of, beat, chord)| PlayerAction::Chord(of, beat, chord)),
        1 => form.prop_map(PlayerAction::Form),
        1 => Just(PlayerAction::PlayForm),
        3 => (any::<usize>(), any::<usize>(), 0..Shape::ALL.len())
            .prop_map(|(pass, point, shape)| PlayerAction::Shape(pass, point, Shape::ALL[shape])),
    ]
}

/// Something drawn over a pass.
fn drawn() -> impl Strategy<Value = PlayerAction> {
    let span = || (0i64..7000, 1i64..4000);
    let values = || (1u8..128, 1u8..128);
    let shape = || prop::sample::select(&Shape::ALL);
    prop_oneof![
        2 => (any::<usize>(), 0i64..8000, 0u8..128)
            .prop_map(|(pass, at, value)| PlayerAction::Point(pass, at, value)),
        2 => (any::<usize>(), span(), values(), shape())
            .prop_map(|(pass, span, values, shape)| PlayerAction::Ramp(pass, span, values, shape)),
        3 => (any::<usize>(), span(), values(), shape())
            .prop_map(|(pass, span, values, shape)| PlayerAction::TryRamp(pass, span, values, shape)),
        2 => (any::<usize>(), values(), shape())
            .prop_map(|(pass, values, shape)| PlayerAction::Crescendo(pass, values, shape)),
        2 => any::<bool>().prop_map(PlayerAction::EndTry),
    ]
}

/// The wheel.
const WHEEL: Curve =
    Curve { channel: Channel::from_wire(0), control: Control::Change(U7::low_bits(1)) };

/// A ramp inside a pass.
fn ramp(
    pass: &Pass,
    (from, length): (i64, i64),
    (first, last): (u8, u8),
    shape: Shape,
) -> Option<Ramp> {
    let from = Tick(from).min(pass.length - Tick(2)).max(Tick::ZERO);
    let to = (from + Tick(length)).min(pass.length - Tick(1));
    let value = |value| U7::low_bits(value).into();
    (from < to).then(|| Ramp { from, to, first: value(first), last: value(last), shape })
}

/// The commit that draws something, if the action does.
fn draw(song: &Song, action: &PlayerAction) -> Option<Commit> {
    match *action {
        PlayerAction::Point(pass, at, value) => {
            let pass = pick(song, pass)?;
            let at = Tick(at).min(pass.length - Tick(1));
            WHEEL.set(pass, at, U7::low_bits(value).into()).ok()
        }
        PlayerAction::Ramp(pass, span, values, shape)
        | PlayerAction::TryRamp(pass, span, values, shape) => {
            let pass = pick(song, pass)?;
            WHEEL.ramp(pass, &ramp(pass, span, values, shape)?).ok()
        }
        PlayerAction::Crescendo(pass, values, shape) => {
            let pass = pick(song, pass)?;
            let ramp = ramp(pass, (0, pass.length.0), values, shape)?;
            let named = |note: &Note| NoteRef { pass: pass.id, note: note.id };
            let all = pass.notes().iter().map(named).collect();
            let start = |name: NoteRef| {
                let note = pass.notes().iter().find(|note| note.id == name.note);
                note.map(|note| note.stroke().start)
            };
            Picked::new([pass], &all).ramp(&ramp, start).ok()
        }
        _ => None,
    }
}

/// The most passes that a song may get; a day of playing would otherwise add thousands.
const MOST_PASSES: usize = 16;

fn pick(song: &Song, index: usize) -> Option<&SharedPass> {
    song.passes.values().nth(index % song.passes.len().max(1))
}

fn pick_note(pass: &Pass, index: usize) -> Option<&Note> {
    pass.notes().get(index % pass.notes().len().max(1))
}

/// The first section that contains a pass.
fn home(song: &Song, pass: PassId) -> Option<Letter> {
    song.sections_with(pass).next().map(|section| section.letter)
}

/// The edit that the action makes, if it makes one.
fn edit(song: &Song, action: &PlayerAction) -> Option<Edit> {
    let (pass, edit) = match *action {
        PlayerAction::PassFeel(pass, on) => {
            let feel = Feel::off(true).on(NoteValue::SIXTEENTH);
            (pick(song, pass)?, PassEdit::Feel(on.then_some(feel)))
        }
        PlayerAction::AddNote(pass, at, long, key) => {
            let pass = pick(song, pass)?;
            let (start, length) =
                (Tick(at).min(pass.length - Tick(1)), Tick(long).min(pass.length));
            let (key, velocity, release) = (U7::low_bits(key), U7::low_bits(77), U7::CENTRE);
            let played = Stroke { start, length, key, velocity, release };
            let (id, channel) = (pass.free_note_id(), Channel::default());
            (
                pass,
                PassEdit::AddNotes(vec![Note { id, channel, played, placed: Placed::UNCHANGED }]),
            )
        }
        PlayerAction::RemoveNote(pass, note) => {
            let pass = pick(song, pass)?;
            (pass, PassEdit::RemoveNotes(vec![pick_note(pass, note)?.id]))
        }
        PlayerAction::PlaceNote(pass, note, by, key) => {
            let pass = pick(song, pass)?;
            let note = pick_note(pass, note)?;
            let (first, last) = (Tick(1) - pass.length, pass.length - Tick(1));
            let start = (note.stroke().start + Tick(by)).max(first).min(last);
            let place = match by % 2 {
                0 => Placement::Start(Some(start)),
                _ => Placement::Key(Some(U7::low_bits(key))),
            };
            (pass, PassEdit::Place(vec![(note.id, place)]))
        }
        PlayerAction::RemovePass(pass) => {
            let pass = pick(song, pass)?.id;
            return Some(Edit::Section(home(song, pass)?, SectionEdit::Remove(pass)));
        }
        PlayerAction::Shape(pass, point, shape) => {
            let pass = pick(song, pass)?;
            let points = pass.lanes().iter().flat_map(|lane| {
                lane.points.iter().map(|point| PointId { lane: lane.id(), at: point.at, nth: 0 })
            });
            let points: Vec<PointId> = points.collect();
            (pass, PassEdit::PointShape(*points.get(point % points.len().max(1))?, shape))
        }
        _ => return edit_of_section(song, action).or_else(|| edit_of_song(action)),
    };
    Some(Edit::Pass(pass.id, edit))
}

fn edit_of_song(action: &PlayerAction) -> Option<Edit> {
    Some(match *action {
        PlayerAction::Transpose(by) => Edit::Transpose(Transpose::new(by).unwrap()),
        PlayerAction::Form(form) => Edit::Form(form.parse::<Form>().unwrap()),
        _ => return None,
    })
}

fn edit_of_section(song: &Song, action: &PlayerAction) -> Option<Edit> {
    let layer = |section: usize, pass: usize| {
        let layers = &song.section(letter(section))?.layers;
        layers.get(pass % layers.len().max(1)).map(|layer| layer.pass)
    };
    let count = |section: usize| song.section(letter(section)).map_or(0, |one| one.layers.len());
    let (section, edit) = match *action {
        PlayerAction::Share(to, pass) if song.passes.len() < MOST_PASSES => {
            let pass = Laid::Shared(pick(song, pass)?.id);
            (to, SectionEdit::Lay { at: count(to), pass, mute: false })
        }
        PlayerAction::Own(of, pass) => {
            let pass = layer(of, pass)?;
            (of, SectionEdit::Replace(pass, Laid::Copy { of: pass, id: song.ids().pass() }))
        }
        PlayerAction::MoveLayer(of, pass, to) => {
            (of, SectionEdit::Move(layer(of, pass)?, to % count(of).max(1)))
        }
        PlayerAction::TransposeSection(of, by) => {
            (of, SectionEdit::Transpose(Transpose::new(by).unwrap()))
        }
        PlayerAction::Key(of, fifths) => (of, SectionEdit::Key(KeySignature::new(fifths, false))),
        PlayerAction::Fermata(of, beat, on) => {
            let at = Tick(beat) * song.section(letter(of))?.metre.first().beat().0;
            (of, SectionEdit::Fermata(at, on))
        }
        PlayerAction::Chord(of, beat, chord) => {
            let at = Tick(beat) * song.section(letter(of))?.metre.first().beat().0;
            (of, SectionEdit::Chord(at, chord.map(|chord| chord.parse().unwrap())))
        }
        _ => return None,
    };
    Some(Edit::Section(letter(section), edit))
}

fn command(stand: &Stand, action: &PlayerAction) -> Option<Command> {
    let song = stand.engine.song();
    let pass = |index| pick(song, index).map(|pass| pass.id);
    Some(match *action {
        PlayerAction::Play => Command::Play,
        PlayerAction::PlayForm => Command::PlayRoute(Route::form(song)?),
        PlayerAction::Continue => Command::Continue,
        PlayerAction::Stop => Command::Stop,
        PlayerAction::Mode(mode) => Command::Mode(mode),
        PlayerAction::Rounds(rounds) => Command::Rounds(rounds),
        PlayerAction::Record(on) => Command::Record(on && song.passes.len() < MOST_PASSES),
        PlayerAction::GoTo(bars) => Command::LocateBars(bars),
        PlayerAction::CountIn(bars) => Command::CountIn(bars),
        PlayerAction::RecordAgain if song.passes.len() < MOST_PASSES => Command::RecordAgain,
        PlayerAction::RecordAgain => Command::Stop,
        PlayerAction::Keep => Command::Keep,
        PlayerAction::Undo => Command::Undo,
        PlayerAction::Redo => Command::Redo,
        PlayerAction::RemoveTop => Command::RemoveTop,
        PlayerAction::Arm(track) => Command::Arm(TrackId(track)),
        PlayerAction::MuteTrack(track, on) => Command::MuteTrack(TrackId(track), on),
        PlayerAction::MutePass(index, on) => {
            let pass = pass(index)?;
            Command::MutePass(home(song, pass)?, pass, on)
        }
        PlayerAction::Solo(track, on) => Command::SoloTrack(TrackId(track), on),
        PlayerAction::SoloPass(index, on) => Command::SoloPass(pass(index)?, on),
        PlayerAction::Feel(track, on) => {
            let off = Feel::off(true);
            let feel = if on { off.on(NoteValue::SIXTEENTH) } else { off };
            Command::Feel(TrackId(track), feel)
        }
        PlayerAction::Tempo(bpm) => Command::Tempo(Tempo::from_milli_bpm(bpm * 1000).unwrap()),
        PlayerAction::ByHand(how) => Command::ByHand(how),
        PlayerAction::KeyChange(of, by, when) => {
            let of = of.map_or(KeyOf::Song, |section| KeyOf::Section(letter(section)));
            Command::Transpose(of, NewKey::By(by), when)
        }
        PlayerAction::Jump(section, when) => Command::Jump(letter(section), when),
        PlayerAction::Stay => Command::Stay,
        PlayerAction::BackToForm(when) => Command::BackToForm(when),
        PlayerAction::LastTime => Command::LastTime,
        PlayerAction::Repeat(on) => Command::Repeat(on),
        PlayerAction::KeepForm => Command::KeepForm,
        PlayerAction::Bars(bars) => {
            let section = stand.engine.status(stand.now).section;
            let metre = song.section(section)?.metre.first().clone();
            let map = MetreMap::new(bars, metre).ok()?;
            Command::Edit(Commit::of(Edit::Section(section, SectionEdit::Metre(map))))
        }
        PlayerAction::Panic => Command::Panic,
        PlayerAction::TryRamp(..) => Command::Try(draw(song, action)?),
        PlayerAction::EndTry(keep) => Command::EndTry { keep },
        PlayerAction::Point(..) | PlayerAction::Ramp(..) | PlayerAction::Crescendo(..) => {
            Command::Edit(draw(song, action)?)
        }
        _ => Command::Edit(Commit::of(edit(song, action)?)),
    })
}

/// Does an action, and lets the judge check it.
pub fn act_judged(stand: &mut Stand, judge: &mut Judge, action: &PlayerAction) {
    judge.read(stand);
    let mut tick = stand.engine.tick_at(stand.now);
    if tick.is_some_and(|at| stand.engine.entries().last().is_some_and(|last| last.until <= at)) {
        // The route has ended since the last poll. The judge must see the end before a new start.
        stand.run_to(stand.now);
        stand.poll();
        judge.look(stand, None, Cause::Plain);
        tick = None;
    }
    if matches!(action, PlayerAction::RecordAgain) {
        // It stops first, and the judge must see the end before the new start.
        act_judged(stand, judge, &PlayerAction::Stop);
        tick = None;
    }
    let keys = stand.engine.status(stand.now).key_change;
    if keys.zip(tick).is_some_and(|(keys, at)| keys.at <= at) {
        // The keys have changed since the last poll. The judge must see that before another change.
        stand.poll();
        judge.look(stand, tick, Cause::Plain);
    }
    let recording = stand.engine.status(stand.now).recording;
    act(stand, judge, action);
    if let (PlayerAction::Undo, Some(at)) = (action, tick) {
        judge.release_levels(at);
    }
    let cause = match action {
        PlayerAction::Keep | PlayerAction::Record(_) => Cause::FromSeam,
        // These undo the unfinished round, or make a pass of it.
        PlayerAction::Undo
        | PlayerAction::Redo
        | PlayerAction::Stop
        | PlayerAction::Arm(_)
        | PlayerAction::Jump(..)
        | PlayerAction::Stay
        | PlayerAction::BackToForm(_)
        | PlayerAction::LastTime
        | PlayerAction::Repeat(_)
        | PlayerAction::Bars(_)
            if recording =>
        {
            Cause::FromSeam
        }
        PlayerAction::Panic => Cause::Silence,
        _ => Cause::Plain,
    };
    judge.look(stand, tick, cause);
}

/// Does an action.
pub fn act(stand: &mut Stand, judge: &mut Judge, action: &PlayerAction) {
    let (channel, velocity) = (Channel::default(), U7::low_bits(80));
    match *action {
        PlayerAction::Press(key) => {
            let key = U7::low_bits(key);
            stand.play(CLICK, Message::NoteOn { channel, key, velocity });
        }
        PlayerAction::Lift(key) => {
            let (key, velocity) = (U7::low_bits(key), U7::CENTRE);
            stand.play(CLICK, Message::NoteOff { channel, key, velocity });
        }
        PlayerAction::Wheel(value) => wheel(stand, judge, value),
        PlayerAction::Tap => {
            stand.tap(None);
        }
        PlayerAction::Volume(track, by) => volume(stand, judge, TrackId(track), by),
        _ => {
            if let Some(command) = command(stand, action) {
                stand.command(command);
            }
        }
    }
}

/// Moves the wheel of the armed track's instrument. The song does not move it again before the seam.
fn wheel(stand: &mut Stand, judge: &mut Judge, value: u8) {
    let Some(target) = stand.engine.live_target() else { return };
    let channel = target.channel.unwrap_or_default();
    let message =
        Message::Change { channel, controller: U7::low_bits(1), value: U7::low_bits(value) };
    touch(stand, judge, target.port, &message);
    stand.play(target.port, message);
}

/// Steps the volume of a track. While it is being recorded, that is a move, as that of a wheel; in the
/// count-in it is not recorded yet.
fn volume(stand: &mut Stand, judge: &mut Judge, track: TrackId, by: i8) {
    let status = stand.engine.status(stand.now);
    let records = status.recording && status.transport == Transport::Rolling;
    if records && status.armed == Some(track) {
        let Some(target) = stand.engine.live_target() else { return };
        let (channel, value) = (target.channel.unwrap_or_default(), U7::MIN);
        let message = Message::Change { channel, controller: U7::low_bits(7), value };
        touch(stand, judge, target.port, &message);
    }
    stand.command(Command::StepVolume(track, by));
}

/// Tells the judge that the song does not move a controller again before the seam.
fn touch(stand: &Stand, judge: &mut Judge, port: PortIx, message: &Message) {
    let status = stand.engine.status(stand.now);
    let length = status.song.section(status.section).map_or(Tick(1), |section| section.length());
    let over = status.at - status.in_section + length;
    let until = status.leaves_in.map_or(over, |left| over.min(status.at + left));
    judge.touch(port, &message.bytes(), Span::new(status.at, until));
}
