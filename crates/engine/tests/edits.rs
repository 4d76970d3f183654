//! Makes every kind of edit while the loop plays. From then on the engine must play what `perform`
//! gives for the new song. No kind of edit can be forgotten: a variant that is missing from the table
//! does not compile, and a row of the table without an example fails.

mod bench;

use bench::{Bench, MS};
use chaconne_engine::{Command, Message, Route, View, Wire, perform};
use chaconne_song::{
    Channel, ChordSymbol, Commit, Control, Edit, Feel, Form, GivenGroove, Groove, GrooveEdit,
    GrooveId, Human, KeySignature, Laid, Lane, LaneId, Lean, Letter, Note, NoteId, Pass, PassEdit,
    PassId, Placed, Placement, Point, PointId, Release, Section, SectionEdit, Shape, Song, StepAt,
    Stroke, Swing, SysEx, Track, TrackEdit, TrackId, Transpose, U7, U14,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, TempoMap, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

const BAR: i64 = 3840;
const ONE: TrackId = TrackId(1);
const PASS: PassId = PassId(11);
const OTHER: PassId = PassId(12);

/// Names each kind of edit; the compiler checks that none is missing.
macro_rules! kinds {
    ($($pattern:pat => $name:literal,)*) => {
        fn kind(edit: &Edit) -> &'static str {
            match edit {
                $($pattern => $name,)*
            }
        }

        const KINDS: &[&str] = &[$($name),*];
    };
}

use PassEdit as P;
use SectionEdit as S;
use TrackEdit as T;

kinds! {
    Edit::Title(_) => "title",
    Edit::Key(_) => "key",
    Edit::Transpose(_) => "transpose",
    Edit::Form(_) => "form",
    Edit::AddTrack { .. } => "add track",
    Edit::RemoveTrack(_) => "remove track",
    Edit::AddGroove { .. } => "add groove",
    Edit::RemoveGroove(_) => "remove groove",
    Edit::Groove(_, GrooveEdit::Name(_)) => "groove name",
    Edit::Groove(_, GrooveEdit::Step(..)) => "groove step",
    Edit::AddSection { .. } => "add section",
    Edit::RemoveSection(_) => "remove section",
    Edit::MoveSection(..) => "move section",
    Edit::MoveTrack(..) => "move track",
    Edit::Track(_, T::Name(_)) => "track name",
    Edit::Track(_, T::Port(_)) => "track port",
    Edit::Track(_, T::Channel(_)) => "track channel",
    Edit::Track(_, T::Bank(_)) => "track bank",
    Edit::Track(_, T::Program(_)) => "track program",
    Edit::Track(_, T::Pitched(_)) => "track pitched",
    Edit::Track(_, T::Grid(_)) => "track grid",
    Edit::Track(_, T::Pull(_)) => "track pull",
    Edit::Track(_, T::Swing(_)) => "track swing",
    Edit::Track(_, T::Reach(_)) => "track reach",
    Edit::Track(_, T::Rolls(_)) => "track rolls",
    Edit::Track(_, T::Groove(_)) => "track groove",
    Edit::Track(_, T::Human(_)) => "track human",
    Edit::Track(_, T::Volume(_)) => "track volume",
    Edit::Track(_, T::Pan(_)) => "track pan",
    Edit::Track(_, T::Mute(_)) => "track mute",
    Edit::Track(_, T::PassLength(_)) => "track pass length",
    Edit::Track(_, T::Compass(_)) => "track compass",
    Edit::Track(_, T::KeysPlay(_)) => "track keys play",
    Edit::Track(_, T::ChordStack(_)) => "track chord stack",
    Edit::Track(_, T::ChordInversion(_)) => "track chord inversion",
    Edit::Track(_, T::ChordOpen(_)) => "track chord open",
    Edit::Track(_, T::ChordLeading(_)) => "track chord leading",
    Edit::Track(_, T::ChordKey(..)) => "track chord key",
    Edit::Section(_, S::Letter(_)) => "section letter",
    Edit::Section(_, S::Name(_)) => "section name",
    Edit::Section(_, S::Key(_)) => "section key",
    Edit::Section(_, S::Transpose(_)) => "section transpose",
    Edit::Section(_, S::Metre(_)) => "section metre",
    Edit::Section(_, S::Tempo(_)) => "section tempo",
    Edit::Section(_, S::Fermata(..)) => "section fermata",
    Edit::Section(_, S::Chord(..)) => "section chord",
    Edit::Section(_, S::Lay { .. }) => "lay",
    Edit::Section(_, S::Remove(_)) => "remove layer",
    Edit::Section(_, S::Move(..)) => "move layer",
    Edit::Section(_, S::Mute(..)) => "mute layer",
    Edit::Section(_, S::Replace(..)) => "replace layer",
    Edit::Pass(_, P::Name(_)) => "pass name",
    Edit::Pass(_, P::Feel(_)) => "pass feel",
    Edit::Pass(_, P::Length(_)) => "pass length",
    Edit::Pass(_, P::Covers(_)) => "pass covers",
    Edit::Pass(_, P::AddNotes(_)) => "add notes",
    Edit::Pass(_, P::RemoveNotes(_)) => "remove notes",
    Edit::Pass(_, P::Played(_)) => "played",
    Edit::Pass(_, P::Place(_)) => "place",
    Edit::Pass(_, P::AddLane(_)) => "add lane",
    Edit::Pass(_, P::RemoveLane(_)) => "remove lane",
    Edit::Pass(_, P::LaneSpan(..)) => "lane span",
    Edit::Pass(_, P::AddPoint(..)) => "add point",
    Edit::Pass(_, P::RemovePoint(_)) => "remove point",
    Edit::Pass(_, P::PointValue(..)) => "point value",
    Edit::Pass(_, P::PointShape(..)) => "point shape",
    Edit::Pass(_, P::AddSysEx(..)) => "add sysex",
    Edit::Pass(_, P::RemoveSysEx(..)) => "remove sysex",
}

fn value(value: u8) -> U7 {
    U7::new(value).unwrap()
}

fn note(id: u32, start: i64, length: i64, key: u8) -> Note {
    let (key, velocity, release) = (value(key), value(90), value(40));
    let played = Stroke { start: Tick(start), length: Tick(length), key, velocity, release };
    Note { id: NoteId(id), channel: Channel::default(), played, placed: Placed::UNCHANGED }
}

fn lane(controller: u8, points: &[(i64, u8)]) -> Lane {
    let point = |&(at, to): &(i64, u8)| Point::step(Tick(at), value(to).into());
    Lane {
        channel: Channel::default(),
        control: Control::Change(value(controller)),
        span: Span::new(Tick(points[0].0), Tick(2 * BAR)),
        points: points.iter().map(point).collect(),
    }
}

fn wheel() -> LaneId {
    lane(1, &[(480, 10)]).id()
}

fn step(step: u32) -> StepAt {
    StepAt { bar: 1, step }
}

fn late(timing: i64, loudness: u16) -> Lean {
    Lean { timing: Tick(timing), loudness, ..Lean::default() }
}

fn groove(id: u32) -> Groove {
    let (id, name, grid) = (GrooveId(id), "late".to_string(), NoteValue::SIXTEENTH);
    let steps = [(step(1), late(30, 120)), (step(9), late(-20, 80))].into();
    Groove { id, name, grid, bars: 1, steps }
}

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

fn pass(id: PassId, track: u32, notes: &[Note]) -> Pass {
    let mut pass = Pass::empty(id, TrackId(track), Tick(2 * BAR));
    pass.notes_mut().notes = notes.to_vec();
    pass
}

/// Two sections of two bars and three tracks, the third without a pass. A has three passes, and B
/// shares one of them.
fn rich() -> Song {
    let metre = || MetreMap::new(2, Metre::common()).unwrap();
    let mut song = Song::new("every edit", Section::new(Letter::A, metre(), Tempo::DEFAULT));
    for id in 1..=3 {
        let mut track = Track::pitched(TrackId(id), &format!("Track {id}"));
        track.channel = Channel::from_number(id as u8);
        song.tracks.push(Arc::new(track));
    }
    let notes = [
        note(1, 0, 400, 60),
        note(2, 1000, 900, 62),
        note(3, 3900, 600, 64),
        note(4, 5500, 90, 65),
    ];
    let mut first = pass(PASS, 1, &notes);
    first.notes_mut().lanes = vec![lane(1, &[(480, 10), (2000, 50), (5000, 90)])];
    first.notes_mut().sysex = vec![SysEx { at: Tick(700), bytes: vec![0xf0, 0x7d, 1, 0xf7] }];
    first.sort();
    song.lay(Letter::A, first);
    song.grooves = vec![Arc::new(groove(20)), Arc::new(groove(21))];
    let notes = [note(1, 200, 300, 72), note(2, 4000, 500, 74), note(3, 1300, 700, 76)];
    song.lay(Letter::A, pass(OTHER, 1, &notes));
    song.lay(Letter::A, pass(PassId(13), 2, &[note(1, 2000, 100, 40), note(2, 1200, 800, 45)]));
    let mut section = Section::new(letter("B"), metre(), Tempo::DEFAULT);
    section.layers.push(chaconne_song::Layer::of(PASS));
    song.sections.push(Arc::new(section));
    song
}

/// An example of every kind of edit, in the order of the table.
fn examples() -> Vec<Edit> {
    let mut all = of_song();
    all.extend(of_track().into_iter().map(|edit| Edit::Track(ONE, edit)));
    all.extend(of_section().into_iter().map(|edit| Edit::Section(Letter::A, edit)));
    all.extend(of_pass().into_iter().map(|edit| Edit::Pass(PASS, edit)));
    all
}

fn of_song() -> Vec<Edit> {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let section = Arc::new(Section::new(letter("C"), metre, Tempo::DEFAULT));
    vec![
        Edit::Title("another".into()),
        Edit::Key(None::<KeySignature>),
        Edit::Transpose(Transpose::new(3).unwrap()),
        Edit::Form("A B A".parse::<Form>().unwrap()),
        Edit::AddTrack { at: 3, track: Arc::new(Track::drums(TrackId(50), "Kit")) },
        Edit::RemoveTrack(TrackId(3)),
        Edit::AddGroove { at: 1, groove: Arc::new(groove(51)) },
        Edit::RemoveGroove(GrooveId(21)),
        Edit::Groove(GrooveId(20), GrooveEdit::Name("early".into())),
        Edit::Groove(GrooveId(20), GrooveEdit::Step(step(6), Some(late(-50, 70)))),
        Edit::AddSection { at: 2, section, passes: Vec::new() },
        Edit::RemoveSection(letter("B")),
        Edit::MoveSection(letter("B"), 0),
        Edit::MoveTrack(TrackId(2), 0),
    ]
}

fn of_track() -> Vec<TrackEdit> {
    vec![
        T::Name("Lead".into()),
        T::Port("Other".into()),
        T::Channel(Channel::from_number(9)),
        T::Bank(Some(U14::CENTRE)),
        T::Program(Some(value(20))),
        T::Pitched(false),
        T::Grid(Some(NoteValue::SIXTEENTH)),
        T::Pull(50),
        T::Swing(Swing::from_hundredths(6000).unwrap()),
        T::Reach(60),
        T::Rolls(true),
        T::Groove(Some(GivenGroove::whole(GrooveId(20)))),
        T::Human(Human { timing: 50, loudness: 50, seed: 1 }),
        T::Volume(Some(value(80))),
        T::Pan(Some(value(30))),
        T::Mute(true),
        T::PassLength(Some(Tick(BAR))),
        T::Compass("A3 to E5".parse().ok()),
        T::KeysPlay(chaconne_song::KeysPlay::Chords),
        T::ChordStack(chaconne_song::Stack::Ninth),
        T::ChordInversion(2),
        T::ChordOpen(true),
        T::ChordLeading(false),
        T::ChordKey(value(60), "Am7".parse().ok()),
    ]
}

fn of_section() -> Vec<SectionEdit> {
    let new = Arc::new(pass(PassId(60), 2, &[note(1, 3000, 200, 50)]));
    let slower = Tempo::parse_bpm("90").unwrap();
    vec![
        S::Letter(letter("K")),
        S::Name("Verse".into()),
        S::Key(None),
        S::Transpose(Transpose::new(-2).unwrap()),
        S::Metre(MetreMap::new(2, Metre::new(3, 4).unwrap()).unwrap()),
        S::Tempo(TempoMap::new(slower)),
        S::Fermata(Tick(960), true),
        S::Chord(Tick(0), Some("Am".parse::<ChordSymbol>().unwrap())),
        S::Lay { at: 3, pass: Laid::New(new), mute: false },
        S::Remove(OTHER),
        S::Move(OTHER, 0),
        S::Mute(PASS, true),
        S::Replace(PASS, Laid::Copy { of: PASS, id: PassId(61) }),
    ]
}

fn of_pass() -> Vec<PassEdit> {
    let point = |at, nth| PointId { lane: wheel(), at: Tick(at), nth };
    let release = Release { note: NoteId(2), length: Tick(1500), release: value(3) };
    let sysex = SysEx { at: Tick(6000), bytes: vec![0xf0, 0x7d, 2, 0xf7] };
    vec![
        P::Name("hats".into()),
        P::Feel(Some(Feel { pull: 100, ..Feel::off(false).on(NoteValue::SIXTEENTH) })),
        P::Length(Tick(4 * BAR)),
        P::Covers(vec![Span::new(Tick(0), Tick(BAR))]),
        P::AddNotes(vec![note(9, 2500, 200, 77)]),
        P::RemoveNotes(vec![NoteId(3)]),
        P::Played(vec![release]),
        P::Place(vec![(NoteId(2), Placement::Key(Some(value(67))))]),
        P::AddLane(lane(11, &[(0, 100), (3000, 20)])),
        P::RemoveLane(wheel()),
        P::LaneSpan(wheel(), Span::new(Tick(480), Tick(6000))),
        P::AddPoint(point(3000, 0), Point::step(Tick(3000), value(5).into())),
        P::RemovePoint(point(2000, 0)),
        P::PointValue(point(2000, 0), value(33).into()),
        P::PointShape(point(2000, 0), Shape::Straight),
        P::AddSysEx(0, sysex),
        P::RemoveSysEx(0, Tick(700)),
    ]
}

/// An edit to make first, if this edit would change nothing without it.
fn needs(edit: &Edit) -> Option<Edit> {
    let fits =
        |grid: &TrackEdit| matches!(grid, T::Pull(_) | T::Swing(_) | T::Reach(_) | T::Rolls(_));
    match edit {
        Edit::Groove(id, _) => Some(Edit::Track(ONE, T::Groove(Some(GivenGroove::whole(*id))))),
        Edit::Track(id, edit) if fits(edit) => {
            Some(Edit::Track(*id, T::Grid(Some(NoteValue::SIXTEENTH))))
        }
        _ => None,
    }
}

/// Messages and system-exclusive messages, sent or expected, each in order.
#[derive(Debug, Default, PartialEq)]
struct Events {
    messages: Vec<(Tick, Message)>,
    exclusive: Vec<(Tick, Vec<u8>)>,
}

impl Events {
    fn inside(&self, span: Span) -> Events {
        fn within<T: Clone>(all: &[(Tick, T)], span: Span) -> Vec<(Tick, T)> {
            all.iter().filter(|(at, _)| span.contains(*at)).cloned().collect()
        }
        let Events { messages, exclusive } = self;
        Events { messages: within(messages, span), exclusive: within(exclusive, span) }
    }

    /// Only the note-ons and note-offs, and all system-exclusive messages.
    fn of_keys(mut self) -> Events {
        self.messages.retain(|(_, message)| key(message).is_some());
        self
    }

    /// Without the first release of each of these keys, which were never struck.
    fn without_releases(mut self, mut unstruck: BTreeSet<(Channel, U7)>) -> Events {
        self.messages.retain(|(_, message)| match key(message) {
            Some((key, false)) => !unstruck.remove(&key),
            _ => true,
        });
        self
    }
}

/// What a song plays along the route of a bench, up to a tick.
fn expected(song: &Song, bench: &Bench, to: Tick) -> Events {
    let route = Route { entries: bench.engine.entries().to_vec() };
    let whole = Span::new(Tick::ZERO, to + Tick(4 * BAR));
    let mut events = Events::default();
    for event in perform(song, &route, whole, View::Corrected).events {
        match event.wire {
            Wire::Message(message) => events.messages.push((event.at, message)),
            Wire::SysEx(bytes) => events.exclusive.push((event.at, bytes.to_vec())),
        }
    }
    events
}

fn heard(bench: &Bench) -> Events {
    let exclusive = bench.exclusive.iter().map(|(at, bytes)| (*at, bytes.to_vec()));
    Events { messages: bench.wire.clone(), exclusive: exclusive.collect() }
}

/// The key of a note message, and whether it is struck (`true`) or released.
fn key(message: &Message) -> Option<((Channel, U7), bool)> {
    match *message {
        Message::NoteOn { channel, key, .. } => Some(((channel, key), true)),
        Message::NoteOff { channel, key, .. } => Some(((channel, key), false)),
        _ => None,
    }
}

/// The keys that are down after messages.
fn down<'m>(messages: impl IntoIterator<Item = &'m (Tick, Message)>) -> BTreeSet<(Channel, U7)> {
    let mut down = BTreeSet::new();
    for (key, struck) in messages.into_iter().filter_map(|(_, message)| key(message)) {
        if struck {
            down.insert(key);
        } else {
            down.remove(&key);
        }
    }
    down
}

/// Makes an edit in mid-round, or undoes it. Of the notes that sound, those that the new song has
/// sounding there must go on. From the next tick on, notes and system-exclusive messages must be those
/// of the new song, and two rounds later controllers too.
fn check(edit: &Edit, undone: bool) {
    let mut bench = Bench::new(rich());
    if let Some(edit) = needs(edit) {
        assert!(bench.command(Command::Edit(Commit::of(edit))));
    }
    bench.command(Command::Play);
    if undone {
        bench.to(500);
        assert!(bench.command(Command::Edit(Commit::of(edit.clone()))), "{}", kind(edit));
    }
    bench.to(2 * BAR + 1500);
    let before = down(&bench.wire);
    assert_eq!(before.len(), if undone { before.len() } else { 3 }, "something sounds to be kept");
    let command = if undone { Command::Undo } else { Command::Edit(Commit::of(edit.clone())) };
    assert!(bench.command(command), "{}: {}", kind(edit), bench.engine.status(bench.now).said.1);
    let from = bench.engine.tick_at(bench.now).unwrap() + Tick(1);
    let song = bench.engine.song().clone();
    let expected = expected(&song, &bench, Tick(8 * BAR));
    let sounding = down(expected.messages.iter().take_while(|(at, _)| *at < from));
    let kept = down(&bench.wire);
    assert_eq!(kept, before.intersection(&sounding).copied().collect(), "{} keeps", kind(edit));
    bench.to(8 * BAR + 2000);
    let rest = Span::new(from, Tick(8 * BAR));
    let unstruck = sounding.difference(&kept).copied().collect();
    assert_eq!(
        heard(&bench).inside(rest).of_keys(),
        expected.inside(rest).of_keys().without_releases(unstruck),
        "{}: from {from:?} on",
        kind(edit)
    );
    let settled = Span::new(Tick(6 * BAR), Tick(8 * BAR));
    assert_eq!(heard(&bench).inside(settled), expected.inside(settled), "{}", kind(edit));
    bench.command(Command::Stop);
    bench.run_to(bench.now + 100 * MS);
    bench.check_wire();
}

#[test]
fn there_is_an_example_of_every_edit() {
    let examples: BTreeSet<&str> = examples().iter().map(kind).collect();
    assert_eq!(examples, KINDS.iter().copied().collect());
}

#[test]
fn after_any_edit_the_engine_plays_what_perform_gives() {
    examples().iter().for_each(|edit| check(edit, false));
}

#[test]
fn after_any_edit_is_undone_the_engine_plays_what_perform_gives() {
    examples().iter().for_each(|edit| check(edit, true));
}
