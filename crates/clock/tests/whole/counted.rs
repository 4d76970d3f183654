//! A count-in that leads to any bar, on the wire: clicks, pulses, position and Continue to the nanosecond, what the song
//! has there, and what happens if something changes before the bar comes.
//!
//! Sources: MIDI 1.0 Detailed Specification, "System Real Time" (24 pulses to the quarter; after Continue the first
//! pulse is the position that was kept), "Song Position Pointer" (F2, least significant seven bits first, in sixteenths;
//! sent while stopped).

use crate::stand::{CLICK, Line, MS, SECOND, Stand};
use chaconne_clock::Follower;
use chaconne_engine::{Command, Lead, Message, PortIx, Route, Transport, Walk};
use chaconne_song::{
    Channel, Control, Lane, Letter, Note, NoteId, Pass, PassId, Point, Section, Song, Stroke,
    Track, TrackId, U7, U14,
};
use chaconne_time::{Metre, MetreMap, Ns, Span, Tempo, TempoMap, TempoPoint, Tick, pulse};
use std::sync::Arc;

const BAR: i64 = 3840;
/// The bar that the count-in leads to: the third.
const TOP: Tick = Tick(2 * BAR);
const FIRST: PortIx = PortIx(0);

/// Four bars of 4/4, two at 120 and two at 100, with a pass that has a pedal, a bend and notes around bar 3.
fn four_bars() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut section = Section::new(Letter::A, metre, Tempo::DEFAULT);
    let tempo = |bpm| vec![Tempo::parse_bpm(bpm).unwrap()];
    let points = [(0, tempo("120")), (TOP.0, tempo("100"))];
    let points = points.map(|(at, tempi)| TempoPoint { at: Tick(at), tempi });
    section.tempo = TempoMap::with_points(points.to_vec()).unwrap();
    let mut song = Song::new("counted", section);
    let mut track = Track::pitched(TrackId(1), "Keys");
    track.channel = Channel::from_number(1);
    song.tracks.push(Arc::new(track));
    let mut pass = Pass::empty(PassId(11), TrackId(1), Tick(4 * BAR));
    let notes = [(0, 9000, 48), (TOP.0 - 100, 400, 60), (TOP.0, 900, 64), (TOP.0 + 960, 900, 67)];
    for (id, (start, length, key)) in (1..).zip(notes) {
        let [key, velocity, release] = [key, 90, 64].map(U7::low_bits);
        let played = Stroke { start: Tick(start), length: Tick(length), key, velocity, release };
        let (id, channel) = (NoteId(id), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Default::default() });
    }
    let lane = |control, points: [(i64, u16); 2]| {
        let span = Span::new(Tick(points[0].0), Tick(points[1].0 + 1));
        let point = |(at, value)| Point::step(Tick(at), U14::new(value).unwrap());
        Lane { channel: Channel::default(), control, span, points: points.map(point).to_vec() }
    };
    pass.notes_mut().lanes = vec![
        lane(Control::SUSTAIN, [(480, 127), (TOP.0 + 1920, 0)]),
        lane(Control::Bend, [(BAR, 10_000), (TOP.0 + 480, 8192)]),
    ];
    pass.sort();
    song.lay(Letter::A, pass);
    song
}

/// A stand at bar 3, which counts in two bars.
fn at_bar_3(step: Ns) -> Stand {
    let mut stand = Stand::new(four_bars(), step, 0);
    for command in [Command::CountIn(2), Command::LocateBars(2)] {
        assert!(stand.command(command));
    }
    stand.paper.lines.clear();
    stand
}

/// The time at which the music begins, after a command to record now.
fn begin(stand: &mut Stand) -> Ns {
    assert!(stand.command(Command::Record(true)));
    assert_eq!(stand.engine.status(stand.now).transport, Transport::CountingIn);
    stand.engine.ns_at(TOP).unwrap()
}

fn of(stand: &Stand, port: PortIx, wanted: impl Fn(&Line) -> bool) -> Vec<(Ns, Vec<u8>)> {
    let lines = stand.paper.lines.iter().filter(|line| line.port == port && wanted(line));
    lines.map(|line| (line.ns, line.bytes.clone())).collect()
}

/// What a device that follows the clock of the first port makes of it: `from` the pulse with which it begins, and
/// whether it begins when it should, to a microsecond: it smooths the times of the pulses.
fn followed(stand: &Stand, begins: &[Ns]) -> Vec<String> {
    let mut follower = Follower::new();
    let mut events = Vec::new();
    for (ns, bytes) in of(stand, FIRST, |line| line.bytes[0] >= 0xF0) {
        let message = match bytes[..] {
            [0xF8] => Message::Clock,
            [0xFA] => Message::Start,
            [0xFB] => Message::Continue,
            [0xFC] => Message::Stop,
            [0xF2, low, high] => {
                let value = u16::from(high) << 7 | u16::from(low);
                Message::SongPosition(U14::new(value).unwrap())
            }
            _ => continue,
        };
        follower.handle(ns, message);
        while let Some(lead) = follower.next_event() {
            match lead {
                Lead::Roll { pulse, ns, .. } => {
                    let is_then = |&begins: &Ns| (ns - begins).abs() < 1000;
                    assert!(begins.iter().any(is_then), "{ns} is none of {begins:?}");
                    events.push(format!("from {pulse}"));
                }
                Lead::Locate { pulse } => events.push(format!("at {pulse}")),
                Lead::Stop { .. } => events.push("stop".into()),
                Lead::Idle(_) | Lead::Pulse(_) | Lead::Lost => {}
            }
        }
    }
    events
}

#[test]
fn clicks_pulses_and_continue_lead_to_the_bar_on_the_nanosecond() {
    let mut stand = at_bar_3(20 * MS);
    let top = begin(&mut stand);
    // Eight quarters of 600,000 microseconds at 100.
    let quarter = 600 * MS;
    let start = top - 8 * quarter;
    stand.run_to(top + 8 * quarter - MS);
    let clicks = of(&stand, CLICK, |line| line.bytes[0] & 0xF0 == 0x90);
    let expected = (0..16).map(|k| (start + k * quarter, k % 4 == 0));
    let accent = |bytes: &[u8]| bytes[1] == 76;
    assert!(clicks.iter().map(|(ns, bytes)| (*ns, accent(bytes))).eq(expected));
    let pulses = of(&stand, FIRST, |line| line.bytes == [0xF8]);
    let expected = (0..16 * 24).map(|k| start + k * quarter / 24);
    assert!(pulses.iter().map(|(ns, _)| *ns).eq(expected));
    let told = of(&stand, FIRST, |line| line.bytes[0] >= 0xF0 && line.bytes[0] != 0xF8);
    // Bar 3 is sixteenth 32. Continue goes out a little more than a millisecond before its pulse.
    assert_eq!(
        told.iter().map(|(_, bytes)| &bytes[..]).collect::<Vec<_>>(),
        [&[0xF2, 32, 0][..], &[0xFB]]
    );
    assert!(told[0].0 < start && (MS..3 * MS).contains(&(top - told[1].0)));
    // Two bars of 96 pulses come before it.
    assert_eq!(followed(&stand, &[top]), ["at 192", "from 192"]);
    stand.end();
}

#[test]
fn pedal_and_bend_are_right_at_the_bar_and_silent_before_it() {
    let mut stand = at_bar_3(20 * MS);
    let top = begin(&mut stand);
    stand.run_to(top + 1);
    let early = stand.engine.ns_at(TOP - Tick(100)).unwrap();
    let sent = of(&stand, FIRST, |line| line.bytes[0] < 0xF0);
    // The long note from bar 1 is not struck; the one that is early for the bar is, in the count-in. The bend of
    // 10,000 is 78 * 128 + 16.
    let expected = [
        (early, vec![0x90, 60, 90]),
        (top, vec![0xB0, 64, 127]),
        (top, vec![0xE0, 16, 78]),
        (top, vec![0x90, 64, 90]),
    ];
    assert_eq!(sent, expected);
    // From there on everything is where an export of the form has it.
    stand.run_to(stand.engine.ns_at(Tick(4 * BAR)).unwrap());
    let song = Arc::clone(stand.engine.song());
    let route = Route::rounds(&song, Letter::A, 1).unwrap();
    let line = Walk::along(&song, &route).timeline(Tick(4 * BAR));
    let zero = top - line.ns_at(TOP);
    for (ns, bytes) in of(&stand, FIRST, |line| line.bytes[0] < 0xF0 && line.ns > top) {
        let at = line.tick_at(ns - zero);
        assert_eq!(line.ns_at(at) + zero, ns, "{bytes:?} is off its tick");
    }
    let releases = of(&stand, FIRST, |line| line.bytes[0] == 0x80);
    let at = |tick: i64| zero + line.ns_at(Tick(tick));
    let ends = [TOP.0 + 300, TOP.0 + 900, TOP.0 + 1860].map(at);
    assert!(releases.iter().map(|(ns, _)| *ns).eq(ends));
    stand.end();
}

#[test]
fn muting_undoing_and_stopping_anywhere_in_the_count_in_leave_nothing_behind() {
    let mute = |on| Command::MuteTrack(TrackId(1), on);
    let scripts: [&[Command]; 5] = [
        &[mute(true)],
        &[mute(true), mute(false)],
        &[Command::RemoveTop],
        &[Command::RemoveTop, Command::Undo],
        &[Command::Stop],
    ];
    for (nth, script) in scripts.into_iter().enumerate() {
        // From half a second before the bar to just after it, over the early note and the look-ahead.
        for before in (-40..500).step_by(27) {
            let mut stand = at_bar_3(10 * MS);
            let top = begin(&mut stand);
            stand.run_to(top - before * MS);
            for command in script {
                let done = stand.command(command.clone());
                let said = stand.engine.status(stand.now).said.1;
                assert!(done, "script {nth}, {before} ms before: {said}");
            }
            stand.run_to(top + 500 * MS);
            let struck = of(&stand, FIRST, |line| line.bytes[0] == 0x90);
            let keys: Vec<u8> = struck.iter().map(|(_, bytes)| bytes[1]).collect();
            // The early note is 62.5 ms before the bar: what was heard before the command stays heard.
            let expected: &[u8] = match (nth, before) {
                (1 | 3, _) => &[60, 64],
                (_, ..=0) => &[60, 64],
                (_, ..=62) => &[60],
                _ => &[],
            };
            assert_eq!(keys, expected, "script {nth}, {before} ms before");
            stand.end();
        }
    }
}

#[test]
fn the_next_take_stops_everything_and_leads_to_the_same_bar_again() {
    let mut stand = at_bar_3(20 * MS);
    let top = begin(&mut stand);
    let (channel, key) = (Channel::default(), U7::low_bits(72));
    stand.run_to(top + 300 * MS);
    // A key that the player holds through everything.
    stand.play(FIRST, Message::NoteOn { channel, key, velocity: U7::low_bits(99) });
    stand.run_to(top + SECOND);
    let before = stand.paper.lines.len();
    assert!(stand.command(Command::RecordAgain));
    // What sounded for the song ends at once, and gear that follows stops; the player's key sounds on.
    let at_once: Vec<Vec<u8>> =
        stand.paper.lines[before..].iter().map(|line| line.bytes.clone()).collect();
    let place = |bytes: &[u8]| at_once.iter().position(|line| line == bytes).unwrap();
    assert!(place(&[0x80, 67, 64]) < place(&[0xFC]) && place(&[0xFC]) < place(&[0xF2, 32, 0]));
    assert!(!at_once.iter().any(|line| line[0] == 0x80 && line[1] == 72));
    let again = stand.engine.ns_at(TOP).unwrap();
    assert_eq!(again, stand.now + stand.lead() + 8 * 600 * MS);
    stand.run_to(again + 100 * MS);
    stand.play(FIRST, Message::NoteOff { channel, key, velocity: U7::CENTRE });
    let told = ["at 192", "from 192", "stop", "at 192", "from 192"];
    assert_eq!(followed(&stand, &[top, again]), told);
    // The first take has the note, up to where it was stopped.
    let song = stand.engine.song();
    let taken = song.passes.values().find(|pass| pass.id != PassId(11)).unwrap();
    assert_eq!(taken.notes()[0].played.start, TOP + Tick(480));
    assert_eq!(TOP.0 % pulse::TICKS_PER_PULSE, 0);
    stand.end();
}
