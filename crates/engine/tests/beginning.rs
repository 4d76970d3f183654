//! Playing and recording from any bar: the count-in that leads there, what is recorded, what is heard, and what
//! other gear gets.
//!
//! The rules of play say that a count-in has the metre and the tempo of what it leads into, and that a start within
//! half a grid step before its end belongs to what begins there. What other gear gets is in the MIDI 1.0 Detailed
//! Specification: a song position counts sixteenths and is sent while stopped, and after Continue the first pulse is
//! that position ("Song Position Pointer", "System Real Time").

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Message, Mode, Rounds, Route, Transport, When};
use chaconne_song::{
    Channel, Commit, Control, Edit, Letter, Note, NoteId, Pass, PassId, Section, SectionEdit, Song,
    Stroke, TrackId, U7, U14,
};
use chaconne_time::{Metre, MetreChange, MetreMap, Ns, Place, Tempo, TempoMap, TempoPoint, Tick};
use proptest::prelude::*;
use std::sync::Arc;

const BAR: i64 = 3840;

/// Adds a pass to a section: start, length and key of each note.
fn lay(song: &mut Song, letter: Letter, id: u32, length: i64, notes: &[(i64, i64, u8)]) {
    let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(length));
    for (nth, &(start, length, key)) in (0..).zip(notes) {
        let (key, velocity, release) = (U7::low_bits(key), U7::low_bits(100), U7::CENTRE);
        let (start, length) = (Tick(start), Tick(length));
        let played = Stroke { start, length, key, velocity, release };
        let (id, channel) = (NoteId(id * 1000 + nth), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Default::default() });
    }
    pass.sort();
    song.lay(letter, pass);
}

/// A bench with a song of four bars with a pass, at one of its bars, from 1.
fn at_bar(bar: i32, count_in: u8, notes: &[(i64, i64, u8)]) -> Bench {
    let mut song = song(4, 2);
    if !notes.is_empty() {
        lay(&mut song, Letter::A, 11, 4 * BAR, notes);
    }
    go_to(Bench::leading(song), bar, count_in)
}

fn go_to(mut bench: Bench, bar: i32, count_in: u8) -> Bench {
    bench.command(Command::CountIn(count_in));
    bench.command(Command::LocateBars(bar - 1));
    bench
}

/// The notes and pulses aside, what other gear was sent.
fn commands(bench: &Bench) -> Vec<(i64, Message)> {
    let is_one = |message: &Message| {
        matches!(
            message,
            Message::Start | Message::Continue | Message::Stop | Message::SongPosition(_)
        )
    };
    bench.wire.iter().filter(|(_, sent)| is_one(sent)).map(|&(at, sent)| (at.0, sent)).collect()
}

fn position(sixteenths: u16) -> Message {
    Message::SongPosition(U14::new(sixteenths).unwrap())
}

/// The keys struck on the first track's channel, and when.
fn struck(bench: &Bench) -> Vec<(i64, u8)> {
    let keys = bench.wire.iter().filter_map(|&(at, message)| match message {
        Message::NoteOn { channel, key, .. } if channel == Channel::default() => {
            Some((at.0, key.get()))
        }
        _ => None,
    });
    keys.collect()
}

/// The clicks, and whether each is that of beat one.
fn clicks(bench: &Bench) -> Vec<(i64, bool)> {
    let clicks = bench.wire.iter().filter_map(|&(at, message)| match message {
        Message::NoteOn { channel, key, .. } if channel == Channel::PERCUSSION => {
            Some((at.0, key.get() == 76))
        }
        _ => None,
    });
    clicks.collect()
}

fn transport(bench: &Bench) -> Transport {
    bench.engine.status(bench.now).transport
}

fn said(bench: &Bench) -> String {
    bench.engine.status(bench.now).said.1
}

fn bpm(text: &str) -> Tempo {
    Tempo::parse_bpm(text).unwrap()
}

/// Two bars of 4/4 at 120 and two of 3/4 at 90.
fn changing() -> Song {
    let mut song = song(4, 1);
    let (first, three) = (MetreChange { bar: 1, metre: Metre::common() }, "3/4".parse().unwrap());
    let changes = vec![first, MetreChange { bar: 3, metre: three }];
    let section = Arc::make_mut(&mut song.sections[0]);
    section.metre = MetreMap::with_changes(4, changes).unwrap();
    let point = |at, tempo| TempoPoint { at: Tick(at), tempi: vec![bpm(tempo)] };
    section.tempo = TempoMap::with_points(vec![point(0, "120"), point(2 * BAR, "90")]).unwrap();
    song
}

#[test]
fn the_count_in_has_the_metre_and_the_tempo_of_the_bar_it_leads_into() {
    let mut b = go_to(Bench::leading(changing()), 3, 2);
    let begun = b.now;
    b.command(Command::Record(true));
    let (status, top) = (b.engine.status(b.now), 2 * BAR);
    assert_eq!((status.transport, status.at), (Transport::CountingIn, Tick(top - 6 * 960)));
    assert_eq!((status.place, status.begins), (Place { bar: 1, beat: 1, tick: 0 }, Tick(top)));
    assert_eq!((status.bar_to_begin(), status.tempo), (3, bpm("90")));
    assert_eq!(status.metre.to_string(), "3/4");
    b.to(top + 1);
    let beat = |k: i64| (top - 6 * 960 + k * 960, k % 3 == 0);
    assert_eq!(clicks(&b), (0..6).map(beat).collect::<Vec<_>>());
    // Six quarters at 90: 666,667 microseconds each, the whole number nearest to 60 s / 90.
    assert_eq!(b.engine.ns_at(Tick(top)), Some(begun + 6 * 666_667_000));
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.place.bar), (Transport::Rolling, 3));
    // It goes round from the top, at the tempo there.
    b.to(top + 6 * 960 + 10);
    let status = b.engine.status(b.now);
    assert_eq!((status.place.bar, status.round, status.tempo), (1, 1, bpm("120")));
}

#[test]
fn what_is_recorded_begins_at_that_bar_and_is_heard_from_the_next_round_on() {
    let top = 2 * BAR;
    let mut b = at_bar(3, 1, &[]);
    b.command(Command::Record(true));
    // Rule 1: half a sixteenth, 120 ticks, before the end of the count-in belongs to the bar.
    b.press(top - 121, 59);
    assert_eq!(said(&b), "what you play during the count-in is not recorded");
    b.press(top - 120, 60);
    b.lift(top - 50, 59);
    b.lift(top + 200, 60);
    b.press(top + 960, 62);
    b.lift(top + 1000, 62);
    b.to(6 * BAR + 1000);
    assert_eq!(b.passes(), [vec![(top - 120, 320, 60), (top + 960, 40, 62)]]);
    let pass = b.engine.song().passes.values().next().unwrap();
    assert_eq!(pass.length, Tick(4 * BAR));
    assert_eq!(struck(&b), [(6 * BAR - 120, 60), (6 * BAR + 960, 62)]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_song_plays_from_that_bar_and_the_count_in_has_only_what_is_meant_for_it() {
    let top = 2 * BAR;
    let notes = [
        (0, 100, 50),
        (BAR, 3 * BAR, 51),
        (top - 121, 50, 52),
        (top - 120, 300, 53),
        (top, 100, 54),
        (4 * BAR - 100, 200, 55),
    ];
    let mut b = at_bar(3, 2, &notes);
    // A figure of one bar with an early note, which its cycle at the bar brings along.
    assert!(
        b.command(Command::Edit(Commit::of({
            let mut other = song(4, 2);
            lay(&mut other, Letter::A, 17, BAR, &[(-500, 50, 70), (480, 50, 71)]);
            Edit::lay(Letter::A, 1, other.passes[&PassId(17)].as_ref().clone())
        }))),
        "{}",
        said(&b)
    );
    b.command(Command::Record(true));
    b.to(4 * BAR + 500);
    let heard = struck(&b);
    let expected = [
        (top - 500, 70),
        (top - 120, 53),
        (top, 54),
        (top + 480, 71),
        (3 * BAR - 500, 70),
        (3 * BAR + 480, 71),
        (4 * BAR - 500, 70),
        (4 * BAR - 100, 55),
        (4 * BAR, 50),
        (4 * BAR + 480, 71),
    ];
    assert_eq!(heard, expected);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_pedal_and_a_bend_moved_in_the_count_in_are_the_starting_values_of_the_take() {
    let top = BAR;
    let mut b = at_bar(2, 1, &[]);
    b.command(Command::Record(true));
    b.change(top - 2000, 64, 90);
    b.change(top - 1500, 64, 127);
    // Modulation that is back at rest by then is not part of the take.
    b.change(top - 1800, 1, 30);
    b.change(top - 1700, 1, 0);
    b.to(top - 1000);
    let bend = |value| Message::Bend { channel: Channel::default(), value };
    b.input(bend(U14::new(9000).unwrap()));
    b.press(top + 10, 60);
    b.lift(top + 300, 60);
    b.to(top + 400);
    b.input(bend(U14::new(8192).unwrap()));
    b.change(top + 500, 64, 0);
    b.to(4 * BAR + 10);
    let pass = Arc::clone(b.engine.song().passes.values().next().unwrap());
    let lane = |control| {
        let lane = pass.lanes().iter().find(|lane| lane.control == control)?;
        Some(lane.points.iter().map(|point| (point.at.0, point.value.get())).collect::<Vec<_>>())
    };
    assert_eq!(lane(Control::SUSTAIN), Some(vec![(top, 127), (top + 500, 0)]));
    assert_eq!(lane(Control::Bend), Some(vec![(top, 9000), (top + 400, 8192)]));
    assert_eq!(lane(Control::Change(U7::low_bits(1))), None);
    // In the next round they are where they were, from that bar on.
    b.to(5 * BAR + 600);
    let later = b.heard(4 * BAR + 1, 5 * BAR + 600);
    let pedal: Vec<&str> = later.split(' ').filter(|word| word.contains("c64")).collect();
    assert_eq!(pedal, ["19200c64=127", "19700c64=0"]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn other_gear_gets_the_position_at_once_and_continue_where_the_music_begins() {
    let mut b = at_bar(3, 1, &[]);
    let before = b.wire.len();
    b.command(Command::Record(true));
    // Bar 3 of 4/4 is sixteenth 32. At 120 a millisecond before the bar is two ticks.
    assert_eq!(b.wire[before].1, position(32));
    b.to(2 * BAR + 1);
    assert_eq!(commands(&b)[1..], [(-1, position(32)), (2 * BAR - 2, Message::Continue)]);
    let clocks = b.wire.iter().filter(|(_, sent)| *sent == Message::Clock);
    let pulses: Vec<i64> = clocks.map(|(at, _)| at.0).collect();
    assert_eq!(pulses, (24 * 4..=48 * 4).map(|pulse| pulse * 40).collect::<Vec<_>>());
    // From the top it is Start, and no position.
    b.command(Command::Stop);
    b.command(Command::Locate(Tick(0)));
    let before = commands(&b).len();
    b.command(Command::Record(true));
    b.to(1);
    assert_eq!(commands(&b)[before..], [(-2, Message::Start)]);
}

#[test]
fn playing_begins_at_the_bar_too_and_after_a_stop_at_the_top_again() {
    let notes = [(0, 100, 50), (BAR, 100, 51), (2 * BAR, 100, 52), (3 * BAR, 100, 53)];
    let mut b = at_bar(3, 2, &notes);
    b.command(Command::Play);
    assert_eq!(transport(&b), Transport::Rolling, "playing has no count-in");
    b.to(5 * BAR + 10);
    let ticks = [2, 3, 4, 5].map(|bar| bar * BAR);
    assert_eq!(struck(&b), std::iter::zip(ticks, [52, 53, 50, 51]).collect::<Vec<_>>());
    assert_eq!(commands(&b)[1..], [(-1, position(32)), (2 * BAR - 2, Message::Continue)]);
    b.command(Command::Stop);
    let status = b.engine.status(b.now);
    assert_eq!((status.begins, status.at), (Tick(0), Tick(5 * BAR)));
    b.command(Command::Play);
    assert_eq!(b.engine.status(b.now).at, Tick(0));
}

#[test]
fn without_a_count_in_recording_begins_at_the_bar_at_once() {
    let mut b = at_bar(2, 0, &[]);
    b.command(Command::Record(true));
    assert_eq!(b.engine.status(b.now).at, Tick(BAR));
    b.press(BAR, 60);
    b.lift(BAR + 100, 60);
    b.to(4 * BAR + 10);
    assert_eq!(b.passes(), [vec![(BAR, 100, 60)]]);
}

#[test]
fn a_punch_and_a_replacement_leave_what_comes_before_that_bar() {
    let notes = [(0, 100, 50), (BAR, 100, 51), (2 * BAR, 100, 52), (3 * BAR, 100, 53)];
    for (mode, expected) in [
        (Mode::Punch, &[(2 * BAR + 960, 60)][..]),
        (Mode::Replace, &[(2 * BAR, 52), (2 * BAR + 960, 60), (3 * BAR, 53)]),
    ] {
        let mut b = at_bar(3, 1, &notes);
        b.command(Command::Mode(mode));
        b.command(Command::Record(true));
        b.press(2 * BAR + 960, 60);
        b.lift(2 * BAR + 1000, 60);
        b.to(4 * BAR - 10);
        b.command(Command::Record(false));
        let before = struck(&b).len();
        b.to(8 * BAR - 1);
        let round: Vec<_> =
            struck(&b)[before..].iter().map(|&(at, key)| (at - 4 * BAR, key)).collect();
        assert_eq!(round, [&[(0, 50), (BAR, 51)], expected].concat(), "{mode:?}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_whole_take_is_one_pass_whose_first_round_begins_at_that_bar() {
    let mut b = at_bar(3, 1, &[]);
    b.command(Command::Rounds(Rounds::One));
    b.command(Command::Record(true));
    for (tick, key) in [(2 * BAR, 60), (5 * BAR, 62)] {
        b.press(tick, key);
        b.lift(tick + 100, key);
    }
    b.to(7 * BAR);
    b.command(Command::Record(false));
    assert_eq!(b.passes(), [vec![(2 * BAR, 100, 60), (5 * BAR, 100, 62)]]);
    let pass = b.engine.song().passes.values().next().unwrap();
    assert_eq!(pass.length, Tick(8 * BAR));
}

#[test]
fn nothing_of_the_count_in_can_be_kept_but_what_is_meant_for_the_bar() {
    let top = 2 * BAR;
    let mut b = at_bar(3, 1, &[]);
    b.command(Command::Record(true));
    b.command(Command::Record(false));
    assert_eq!(said(&b), "recording cancelled: the song plays after the count-in");
    b.press(top - 1000, 58);
    b.lift(top - 900, 58);
    b.press(top - 100, 60);
    b.lift(top + 50, 60);
    b.to(4 * BAR + 100);
    assert_eq!(b.passes(), Vec::<Vec<_>>::new());
    b.command(Command::Keep);
    assert_eq!(b.passes(), [vec![(top - 100, 150, 60)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_stop_in_the_count_in_stays_at_the_bar() {
    let mut b = at_bar(3, 2, &[(2 * BAR, 100, 52)]);
    b.command(Command::Record(true));
    b.press(BAR, 60);
    b.to(BAR + 960);
    b.command(Command::Stop);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.at), (Transport::Stopped, Tick(2 * BAR)));
    assert_eq!((status.place.bar, status.begins), (3, Tick(2 * BAR)));
    assert_eq!(b.passes().len(), 1, "nothing was recorded");
    assert_eq!(struck(&b), []);
    // Continue was never sent, so Stop comes alone; and the next start has the position again.
    let before = commands(&b).len();
    b.command(Command::Record(true));
    b.to(2 * BAR + 10);
    assert_eq!(struck(&b), [(2 * BAR, 52)]);
    assert_eq!(commands(&b)[before..], [(-1, position(32)), (2 * BAR - 2, Message::Continue)]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn mutes_and_undo_in_the_count_in_change_what_is_heard_from_the_bar_on() {
    let notes = [(BAR + 10, 2 * BAR, 50), (2 * BAR - 50, 100, 51), (2 * BAR, 100, 52)];
    let mute = |mute| Command::MuteTrack(TrackId(1), mute);
    for changes in [vec![mute(true)], vec![mute(true), mute(false)], vec![Command::RemoveTop]] {
        let mut b = at_bar(3, 1, &notes);
        b.command(Command::Record(true));
        // So near the end of the count-in that the bar is performed already.
        b.to(2 * BAR - 100);
        let silent = changes.len() == 1;
        for change in changes {
            assert!(b.command(change));
        }
        b.to(2 * BAR + 20);
        let expected = if silent { vec![] } else { vec![(2 * BAR - 50, 51), (2 * BAR, 52)] };
        assert_eq!(struck(&b), expected);
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_jump_in_the_count_in_waits_for_the_end_of_the_round() {
    let mut b = at_bar(3, 1, &[(2 * BAR, 100, 52)]);
    let second: Letter = "B".parse().unwrap();
    let section = Section { letter: second, ..(*b.engine.song().sections[0]).clone() };
    let section = Arc::new(Section { layers: Vec::new(), ..section });
    assert!(b.command(Command::Edit(Commit::of(Edit::AddSection {
        at: 1,
        section,
        passes: Vec::new()
    }))));
    b.command(Command::Record(true));
    b.to(2 * BAR - 500);
    b.command(Command::Jump(second, When::Seam));
    let status = b.engine.status(b.now);
    assert_eq!((status.section, status.next_section), (Letter::A, Some(second)));
    b.press(3 * BAR, 60);
    b.lift(3 * BAR + 100, 60);
    b.to(4 * BAR + 10);
    let status = b.engine.status(b.now);
    assert_eq!((status.section, status.place.bar), (second, 1));
    assert_eq!(b.passes()[1], [(3 * BAR, 100, 60)]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_change_of_tempo_in_the_count_in_counts_at_once_and_those_of_earlier_bars_never() {
    let mut b = go_to(Bench::leading(changing()), 4, 1);
    b.command(Command::Record(true));
    let top = 2 * BAR + 2880;
    b.to(top - 1920);
    assert_eq!(b.engine.status(b.now).tempo, bpm("90"));
    b.command(Command::Tempo(bpm("180")));
    let section = &b.engine.song().sections[0];
    // The tempo was set at the bar it leads to; the others change in proportion.
    assert_eq!(section.tempo.at(Tick(top)), bpm("180"));
    let now = b.now;
    b.to(top);
    // Two quarters at 180, but for the tick after which it counts.
    let took = b.now - now;
    let whole: Ns = 2 * 333_333_000;
    assert!((took - whole).abs() < MS, "{took} ns");
}

#[test]
fn if_the_bars_change_in_the_count_in_it_leads_to_the_top() {
    let mut b = at_bar(3, 1, &[(0, 100, 50), (2 * BAR, 100, 52)]);
    b.command(Command::Record(true));
    b.to(2 * BAR - 1000);
    let three = MetreMap::new(4, "3/4".parse().unwrap()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(three));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    assert_eq!(said(&b), "the bars have changed: section A starts from the top");
    b.to(2 * BAR + 10);
    assert_eq!(struck(&b), [(2 * BAR, 50)]);
    assert_eq!(b.engine.status(b.now).place.bar, 1);
    assert!(!b.engine.status(b.now).recording);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_bar_that_begins_inside_a_sixteenth_is_counted_in_exactly_and_told_as_the_next_one() {
    let metre = MetreMap::new(4, "5/32".parse().unwrap()).unwrap();
    let mut song = song(4, 1);
    Arc::make_mut(&mut song.sections[0]).metre = metre;
    let mut b = go_to(Bench::leading(song), 2, 1);
    b.command(Command::Record(true));
    assert_eq!(b.engine.status(b.now).at, Tick(0));
    b.to(721);
    let beats: Vec<i64> = clicks(&b).iter().map(|&(at, _)| at).collect();
    assert_eq!(beats, [0, 120, 240, 360, 480]);
    assert!(clicks(&b).iter().map(|&(_, first)| first).eq([true, false, false, false, false]));
    // Tick 600 lies between the sixteenths 480 and 720: other gear begins at the third, two ticks before its pulse.
    assert_eq!(commands(&b)[1..], [(-1, position(3)), (718, Message::Continue)]);
}

#[test]
fn the_next_take_begins_where_the_last_one_did() {
    let mut b = at_bar(3, 1, &[]);
    let again = |b: &Bench| b.engine.status(b.now).again.map(|(letter, at)| (letter, at.0));
    assert_eq!(again(&b), None);
    assert!(!b.command(Command::RecordAgain));
    assert_eq!(said(&b), "there is no take to record again: record one first");
    b.command(Command::Record(true));
    assert_eq!(again(&b), Some((Letter::A, 2 * BAR)));
    b.press(2 * BAR + 480, 60);
    b.lift(2 * BAR + 500, 60);
    b.to(3 * BAR);
    let before = commands(&b).len();
    // What the unfinished round has is kept as it is at a stop.
    assert!(b.command(Command::RecordAgain));
    assert_eq!(b.passes(), [vec![(2 * BAR + 480, 20, 60)]]);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.at), (Transport::CountingIn, Tick(BAR)));
    assert!(status.recording);
    b.press(2 * BAR + 960, 62);
    b.lift(2 * BAR + 1000, 62);
    b.to(2 * BAR + 1500);
    assert_eq!(
        commands(&b)[before..],
        [(-1, Message::Stop), (-1, position(32)), (2 * BAR - 2, Message::Continue)]
    );
    // The take before sounds with this one, and undo takes it away.
    assert_eq!(struck(&b), [(2 * BAR + 480, 60)]);
    b.to(4 * BAR + 10);
    assert_eq!(b.passes()[1], [(2 * BAR + 960, 20 * 2, 62)]);
    // It also works after a stop, in the count-in, and from a count-in that was stopped.
    b.command(Command::Stop);
    assert!(b.command(Command::RecordAgain));
    b.to(BAR + 500);
    assert!(b.command(Command::RecordAgain));
    assert_eq!(b.engine.status(b.now).at, Tick(BAR));
    b.command(Command::Stop);
    assert!(b.command(Command::RecordAgain));
    assert_eq!((b.engine.status(b.now).at, b.passes().len()), (Tick(BAR), 2));
    b.command(Command::Stop);
    b.check_wire();
}

/// A bench at bar 1 of four, which keeps the newest round; a take with a note at its top and one later was stopped
/// inside its first round.
fn with_a_take() -> Bench {
    let mut b = at_bar(1, 1, &[]);
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    take(&mut b, 60);
    b.command(Command::Stop);
    assert_eq!(mutes(&b), [false]);
    b
}

/// Plays a note at the top and one in bar 3, a semitone higher.
fn take(b: &mut Bench, key: u8) {
    for (at, key) in [(0, key), (2 * BAR, key + 1)] {
        b.press(at, key);
        b.lift(at + 100, key);
    }
    b.to(3 * BAR);
}

/// The mutes of the layers of the first section, lowest first.
fn mutes(b: &Bench) -> Vec<bool> {
    b.engine.song().sections[0].layers.iter().map(|layer| layer.mute).collect()
}

#[test]
fn in_newest_the_take_that_is_recorded_again_is_muted_in_the_step_of_the_new_one() {
    let mut b = with_a_take();
    assert!(b.command(Command::RecordAgain));
    take(&mut b, 70);
    // The take before is heard, as a round is heard in the next one, but from the seam on no more.
    assert_eq!(struck(&b), [(0, 60), (2 * BAR, 61)]);
    let heard = struck(&b).len();
    b.to(6 * BAR + 100);
    assert_eq!(struck(&b)[heard..], [(4 * BAR, 70), (6 * BAR, 71)]);
    assert_eq!((mutes(&b), b.passes().len()), (vec![true, false], 2));
    b.command(Command::Stop);
    b.command(Command::Undo);
    assert_eq!(mutes(&b), [false]);
    b.command(Command::Redo);
    assert_eq!(mutes(&b), [true, false]);
    b.check_wire();
}

#[test]
fn whichever_rounds_are_kept_a_retake_mutes_the_last_take_and_says_so() {
    for rounds in [Rounds::Newest, Rounds::All, Rounds::One] {
        let mut b = with_a_take();
        b.command(Command::Rounds(rounds));
        assert!(b.command(Command::RecordAgain));
        assert!(said(&b).starts_with("retake: your new take"), "{rounds:?}");
        // Two rounds, of which only *newest* mutes the first.
        take(&mut b, 70);
        b.to(4 * BAR + 100);
        b.press(5 * BAR, 75);
        b.lift(5 * BAR + 100, 75);
        b.to(7 * BAR);
        b.command(Command::Stop);
        let expected = match rounds {
            Rounds::Newest => vec![true, true, false],
            Rounds::All => vec![true, false, false],
            Rounds::One => vec![true, false],
        };
        assert_eq!(mutes(&b), expected, "{rounds:?}");
        b.check_wire();
        // A take that is gone is not muted, and not spoken of.
        let mut b = with_a_take();
        b.command(Command::Rounds(rounds));
        assert!(b.command(Command::Undo));
        assert!(b.command(Command::RecordAgain));
        assert!(!said(&b).contains("retake"), "{rounds:?}");
    }
}

#[test]
fn where_every_round_is_kept_the_last_take_is_heard_up_to_the_seam_of_the_retake() {
    let mut b = with_a_take();
    b.command(Command::Rounds(Rounds::All));
    assert!(b.command(Command::RecordAgain));
    take(&mut b, 70);
    assert_eq!(struck(&b), [(0, 60), (2 * BAR, 61)]);
    let heard = struck(&b).len();
    b.to(6 * BAR + 100);
    assert_eq!(struck(&b)[heard..], [(4 * BAR, 70), (6 * BAR, 71)]);
    // A round without notes leaves it as it is.
    b.to(9 * BAR);
    b.command(Command::Stop);
    b.command(Command::Undo);
    assert_eq!(mutes(&b), [false]);
    b.check_wire();
}

#[test]
fn a_late_foot_that_takes_the_new_take_to_another_section_mutes_what_the_last_one_has_there() {
    for foot in [-100, 200] {
        let second: Letter = "B".parse().unwrap();
        let mut song = song(1, 1);
        let section = Section { letter: second, ..(*song.sections[0]).clone() };
        song.sections.push(Arc::new(section));
        let mut b = Bench::new(song);
        b.command(Command::Rounds(Rounds::Newest));
        b.command(Command::Record(true));
        for (round, foot, key) in [(0, -100, 60), (1, foot, 70)] {
            if round > 0 {
                assert!(b.command(Command::RecordAgain));
            }
            b.to(BAR + foot);
            assert!(b.command(Command::Jump(second, When::Seam)));
            b.press(BAR + 1000, key);
            b.lift(BAR + 1100, key);
            b.to(2 * BAR - 200);
            b.command(Command::Stop);
        }
        let layers = &b.engine.song().section(second).unwrap().layers;
        assert_eq!(
            layers.iter().map(|layer| layer.mute).collect::<Vec<_>>(),
            [true, false],
            "{foot}"
        );
        b.check_wire();
    }
}

#[test]
fn a_take_of_part_of_a_round_is_muted_too_and_one_without_notes_mutes_nothing() {
    let mut b = with_a_take();
    assert!(b.command(Command::RecordAgain));
    take(&mut b, 70);
    assert!(b.command(Command::RecordAgain));
    assert_eq!(mutes(&b), [true, false], "recording again keeps what was played");
    // This one is given up before anything is played, and the next one mutes what sounds.
    b.to(2 * BAR);
    assert!(b.command(Command::RecordAgain));
    assert_eq!(mutes(&b), [true, false]);
    // What the player lets sound again stays so.
    let first = b.engine.song().sections[0].layers[0].pass;
    b.command(Command::MutePass(Letter::A, first, false));
    take(&mut b, 80);
    b.command(Command::Stop);
    assert_eq!(mutes(&b), [false, true, false]);
    b.check_wire();
}

#[test]
fn another_track_and_a_take_begun_anew_leave_the_take_before_alone() {
    let mut b = with_a_take();
    b.command(Command::Arm(TrackId(2)));
    assert!(b.command(Command::RecordAgain));
    assert!(!said(&b).contains("retake"));
    take(&mut b, 70);
    b.command(Command::Stop);
    assert_eq!(mutes(&b), [false, false]);
    // A take begun anew is not recorded again.
    let mut b = with_a_take();
    b.command(Command::Record(true));
    take(&mut b, 70);
    b.command(Command::Stop);
    assert_eq!(mutes(&b), [false, false]);
    // What was removed since cannot be muted.
    let mut b = with_a_take();
    b.command(Command::RemoveTop);
    assert!(b.command(Command::RecordAgain));
    take(&mut b, 70);
    b.command(Command::Stop);
    assert_eq!(mutes(&b), [false]);
    b.check_wire();
}

#[test]
fn in_a_form_each_section_mutes_what_the_take_before_recorded_there() {
    let second: Letter = "B".parse().unwrap();
    let mut two = song(2, 1);
    two.sections.push(Section { letter: second, ..(*two.sections[0]).clone() }.into());
    let route = Route::of(&two, &[Letter::A, second, Letter::A]).unwrap();
    let mut b = Bench::new(two);
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::PlayRoute(route));
    let play = |b: &mut Bench, key: u8| {
        for bar in [0, 2, 4] {
            b.press(bar * BAR + 960, key + bar as u8);
            b.lift(bar * BAR + 1200, key + bar as u8);
        }
        b.to(5 * BAR);
    };
    b.command(Command::Record(true));
    play(&mut b, 60);
    let layers = |b: &Bench| -> Vec<Vec<bool>> {
        let sections = &b.engine.song().sections;
        let mutes = |section: &Arc<Section>| -> Vec<bool> {
            section.layers.iter().map(|layer| layer.mute).collect()
        };
        sections.iter().map(mutes).collect()
    };
    assert!(b.command(Command::RecordAgain));
    assert_eq!(layers(&b), [vec![false, false], vec![false]]);
    play(&mut b, 70);
    b.command(Command::Stop);
    assert_eq!(layers(&b), [vec![true, true, false, false], vec![true, false]]);
    b.check_wire();
}

#[test]
fn a_take_that_began_in_a_later_round_or_inside_a_bar_is_recorded_again_from_that_bar() {
    let mut b = at_bar(1, 1, &[]);
    b.command(Command::Play);
    b.to(9 * BAR + 1500);
    b.command(Command::Record(true));
    b.to(9 * BAR + 2000);
    assert!(b.command(Command::RecordAgain));
    // Bar 10 of a loop of four is bar 2.
    let status = b.engine.status(b.now);
    assert_eq!((status.at, status.begins, status.bar_to_begin()), (Tick(0), Tick(BAR), 2));
    assert_eq!(commands(&b).last(), Some(&(-1, position(16))));
}

#[test]
fn a_take_in_the_form_is_recorded_again_in_its_place_in_the_form() {
    let second: Letter = "B".parse().unwrap();
    let mut two = song(2, 1);
    let section = Section { letter: second, ..(*two.sections[0]).clone() };
    two.sections.push(section.into());
    lay(&mut two, Letter::A, 11, 2 * BAR, &[(2 * BAR - 500, 100, 50), (2 * BAR - 20, 100, 51)]);
    lay(&mut two, second, 12, 2 * BAR, &[(-100, 50, 60), (0, 100, 61)]);
    let route = Route::of(&two, &[Letter::A, second, Letter::A]).unwrap();
    let mut b = Bench::leading(two);
    b.command(Command::CountIn(1));
    b.command(Command::PlayRoute(route));
    b.to(2 * BAR + 100);
    // Within a beat after the seam, so that the take begins there.
    b.command(Command::Record(true));
    b.to(3 * BAR);
    b.command(Command::RecordAgain);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.section), (Transport::CountingIn, second));
    assert_eq!((status.at, status.begins), (Tick(BAR), Tick(0)));
    let before = struck(&b).len();
    b.press(3 * BAR, 70);
    b.lift(3 * BAR + 50, 70);
    b.to(4 * BAR + 10);
    // The count-in lies in what would be section A, of which nothing sounds; then the form goes on.
    assert_eq!(struck(&b)[before..], [(2 * BAR - 100, 60), (2 * BAR, 61)]);
    let status = b.engine.status(b.now);
    assert_eq!((status.section, status.in_form), (Letter::A, Some((3, 3))));
    let in_second = b.engine.song().section(second).unwrap().layers.len();
    assert_eq!(in_second, 2);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_take_whose_bars_are_gone_is_recorded_again_from_the_top_of_its_section_if_that_is_there() {
    let second: Letter = "B".parse().unwrap();
    let mut b = at_bar(3, 1, &[]);
    let section = Section { letter: second, ..(*b.engine.song().sections[0]).clone() };
    let section = Arc::new(section);
    b.command(Command::Edit(Commit::of(Edit::AddSection { at: 1, section, passes: Vec::new() })));
    let again = |b: &Bench| b.engine.status(b.now).again.map(|(letter, at)| (letter, at.0));
    b.command(Command::Record(true));
    b.command(Command::Stop);
    let edit = |b: &mut Bench, edit| assert!(b.command(Command::Edit(Commit::of(edit))));
    let third: Letter = "C".parse().unwrap();
    edit(&mut b, Edit::Section(Letter::A, SectionEdit::Letter(third)));
    assert_eq!(again(&b), Some((third, 2 * BAR)));
    // Bars of 3/4: that tick is inside one of them.
    let threes = MetreMap::new(4, "3/4".parse().unwrap()).unwrap();
    edit(&mut b, Edit::Section(third, SectionEdit::Metre(threes)));
    assert_eq!(again(&b), Some((third, 0)));
    assert!(b.command(Command::Undo));
    assert_eq!(again(&b), Some((third, 0)));
    let two = MetreMap::new(2, Metre::common()).unwrap();
    edit(&mut b, Edit::Section(third, SectionEdit::Metre(two)));
    assert_eq!(again(&b), Some((third, 0)));
    b.command(Command::Jump(second, When::Seam));
    assert!(b.command(Command::RecordAgain));
    assert_eq!(b.engine.status(b.now).section, third);
    b.command(Command::Stop);
    b.command(Command::Jump(second, When::Seam));
    edit(&mut b, Edit::RemoveSection(third));
    assert_eq!(again(&b), None);
    b.command(Command::Record(true));
    b.command(Command::Stop);
    assert_eq!(again(&b), Some((second, 0)));
    b.command(Command::Open(Box::new(song(4, 1))));
    assert_eq!(again(&b), None);
}

/// Bars of seven thirty-seconds, 840 ticks, are no whole number of sixteenths: the second begins between two of them.
#[test]
fn steps_by_bars_count_from_the_bar_in_which_it_stopped_or_to_which_the_player_went() {
    let common = song(4, 1);
    let mut sevens = song(1, 1);
    let metre = MetreMap::new(6, "7/32".parse().unwrap()).unwrap();
    Arc::make_mut(&mut sevens.sections[0]).metre = metre;
    let at = |b: &Bench| b.engine.status(b.now).in_section.0;
    // 890 is in the second bar, and the sixteenth before it in the first.
    for (song, stops, bars, goes) in [
        (&sevens, 890, 1, 1680),
        (&sevens, 890, 0, 840),
        (&sevens, 700, 1, 840),
        (&common, BAR - 100, 1, BAR),
        (&common, BAR - 100, 0, 0),
        (&common, BAR, 1, 2 * BAR),
    ] {
        let mut b = Bench::new(song.clone());
        b.command(Command::Play);
        b.to(stops);
        b.command(Command::Stop);
        assert!(b.command(Command::LocateBars(bars)));
        assert_eq!(at(&b), goes, "stopped at {stops}, {bars} bars on");
    }
    // Here the player went to that sixteenth.
    let mut b = Bench::new(sevens);
    b.command(Command::Locate(Tick(730)));
    assert_eq!(at(&b), 720);
    b.command(Command::LocateBars(1));
    assert_eq!(at(&b), 840);
}

/// Notes of a pass of a section of four bars.
fn notes() -> impl Strategy<Value = Vec<(i64, i64, u8)>> {
    proptest::collection::vec((-200..4 * BAR, 1..2 * BAR, 40u8..80), 0..12)
}

/// Everything that was sent from a tick on, but clicks.
fn from(bench: &Bench, tick: i64) -> Vec<(i64, Message)> {
    let clicks = |message: &Message| message.channel() == Some(Channel::PERCUSSION);
    let later = bench.wire.iter().filter(|(at, message)| at.0 >= tick && !clicks(message));
    later.map(|&(at, message)| (at.0, message)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Whatever leads to a bar, from there on the song plays what it plays when it is continued there. What is struck
    /// early for it in the count-in is struck there when it is continued.
    #[test]
    fn from_the_bar_on_a_count_in_plays_what_continuing_there_plays(
        notes in notes(),
        bar in 1..=4,
        count_in in 0..=4u8,
        short in 1..=3i64,
    ) {
        let begin = || {
            let mut song = song(4, 1);
            lay(&mut song, Letter::A, 11, 4 * BAR, &notes);
            let figure = [(0, 300, 81), (short * 960 - 100, 500, 82)];
            lay(&mut song, Letter::A, 12, short * 960, &figure);
            go_to(Bench::leading(song), bar, count_in)
        };
        let top = i64::from(bar - 1) * BAR;
        let (mut counted, mut continued) = (begin(), begin());
        counted.command(Command::Record(true));
        continued.command(Command::Continue);
        let early: Vec<u8> = {
            counted.to(top - 1);
            struck(&counted).iter().map(|&(_, key)| key).collect()
        };
        for bench in [&mut counted, &mut continued] {
            bench.to(top + 9 * BAR);
            bench.command(Command::Stop);
            bench.check_wire();
        }
        let at_top: Vec<u8> = {
            let first = struck(&continued).into_iter().take_while(|&(at, _)| at == top);
            first.map(|(_, key)| key).collect()
        };
        for key in &early {
            prop_assert!(at_top.contains(key), "{key} is meant for the bar: {at_top:?}");
        }
        let mine = |message: &(i64, Message)| match message.1 {
            Message::NoteOn { key, .. } | Message::NoteOff { key, .. } => {
                !early.contains(&key.get())
            }
            _ => true,
        };
        let [one, other] = [&counted, &continued]
            .map(|bench| from(bench, top).into_iter().filter(mine).collect::<Vec<_>>());
        prop_assert_eq!(one, other);
    }
}

/// A song of two sections of four bars, played in the order A B, with a note on each of B's bars.
fn two_sections() -> Song {
    let mut song = song(4, 2);
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let b: Letter = "B".parse().unwrap();
    song.sections.push(Arc::new(Section::new(b, metre, Tempo::DEFAULT)));
    let notes = [(0, 200, 60), (BAR, 200, 61), (2 * BAR, 200, 62), (3 * BAR, 200, 63)];
    lay(&mut song, b, 21, 4 * BAR, &notes);
    song
}

#[test]
fn a_route_can_be_counted_in_from_its_start_or_from_any_bar() {
    let route = |song: &Song| Route::of(song, &[Letter::A, "B".parse().unwrap()]).unwrap();
    for (from, message, told) in
        [(Tick::ZERO, Message::Start, None), (Tick(5 * BAR), Message::Continue, Some(position(80)))]
    {
        let song = two_sections();
        let mut bench = Bench::leading(song.clone());
        bench.command(Command::CountIn(2));
        assert!(bench.command(Command::PlayCounted(route(&song), from)));
        let status = bench.engine.status(bench.now);
        assert_eq!(status.transport, Transport::CountingIn);
        bench.to(9 * BAR);
        let sent: Vec<Message> = commands(&bench).into_iter().map(|(_, sent)| sent).collect();
        let wanted: Vec<Message> = told.into_iter().chain([message, Message::Stop]).collect();
        assert_eq!(sent, wanted, "from {}", from.0);
        // Two bars of clicks, then the music from there to the end.
        let counted = clicks(&bench).into_iter().filter(|(at, _)| *at < from.0).count();
        assert_eq!(counted, 8, "from {}", from.0);
        let keys: Vec<u8> = struck(&bench).into_iter().map(|(_, key)| key).collect();
        let first = if from == Tick::ZERO { 60 } else { 61 };
        assert_eq!(keys, (first..64).collect::<Vec<u8>>());
    }
    let song = two_sections();
    let mut bench = Bench::leading(song.clone());
    assert!(!bench.command(Command::PlayCounted(route(&song), Tick(8 * BAR))), "past its end");
}
