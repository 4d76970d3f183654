//! Forecasts, compared with byte counts worked out by hand from MIDI 1.0.

use super::*;
use crate::testing::song_of;
use chaconne_song::{
    Channel, Control, Lane, Note, Pass, Point, SharedPass, Stroke, Track, U7, U14,
};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// A song of sections with one track that plays `chords` in the first: the tick, and how
/// many keys are struck.
fn song(sections: &[(&str, u32)], chords: &[(i64, u8)]) -> Song {
    let mut song = song_of("late", sections);
    let mut ids = song.ids();
    let track = Track::pitched(ids.track(), "Keys");
    let mut pass = Pass::empty(ids.pass(), track.id, song.sections[0].length());
    for &(at, keys) in chords {
        for key in 40..40 + keys {
            let played = Stroke {
                start: Tick(at),
                length: Tick(470),
                key: U7::low_bits(key),
                velocity: U7::low_bits(90),
                release: U7::CENTRE,
            };
            let id = pass.free_note_id();
            pass.notes_mut().notes.push(Note {
                id,
                channel: Channel::default(),
                played,
                placed: Default::default(),
            });
        }
    }
    pass.sort();
    song.tracks.push(Arc::new(track));
    song.lay(song.sections[0].letter, pass);
    song
}

#[test]
fn a_chord_is_as_late_as_its_bytes_are_long() {
    // MIDI 1.0, "Hardware" and "Running Status": at bar 3 of A the line carries a pulse and
    // ten notes, 1 + 21 bytes of 320 us: 7.04 ms. The eight notes of bar 2 take 1 + 17
    // bytes, 5.76 ms.
    let mut song = song(&[("A", 4), ("B", 2)], &[(3840, 8), (7680, 10)]);
    let letter = |text: &str| text.parse::<Letter>().unwrap();
    song.form = "A B A".parse().unwrap();
    let found = forecast(&song, &Cables::default(), HEARD).ports;
    let latest = Some(LateNote { late: 7_040_000, section: letter("A"), bar: 3 });
    let expected = Forecast { port: String::new(), latest, late_bars: 2, thinned: 0, lost: 0 };
    assert_eq!(found, [expected]);
    // With a lower limit the smaller chord is late, too; A comes twice in the form.
    assert_eq!(forecast(&song, &Cables::default(), 5_700_000).ports[0].late_bars, 4);
    assert_eq!(forecast(&song, &Cables::default(), 7_040_000).ports[0].late_bars, 0);
}

#[test]
fn each_port_has_a_line_of_its_own() {
    let mut song = song(&[("A", 4)], &[(7680, 10)]);
    let mut ids = song.ids();
    let mut track = Track::pitched(ids.track(), "Bells");
    track.port = "bells".into();
    let mut pass = song.passes_in(&song.sections[0])[0].as_ref().clone();
    (pass.id, pass.track) = (ids.pass(), track.id);
    pass.notes_mut().notes.truncate(1);
    song.tracks.push(Arc::new(track));
    song.lay(song.sections[0].letter, pass);
    let found = forecast(&song, &Cables::default(), HEARD).ports;
    let late: Vec<(&str, Ns)> =
        found.iter().map(|port| (port.port.as_str(), port.latest.unwrap().late)).collect();
    // A pulse and one note: 1 + 3 bytes.
    assert_eq!(late, [("", 7_040_000), ("bells", 1_280_000)]);
}

#[test]
fn a_flood_of_controllers_is_thinned_and_delays_no_note_by_more_than_a_message() {
    let mut song = song(&[("A", 1)], &[(1920, 1)]);
    let mut pass = song.passes_in(&song.sections[0])[0].as_ref().clone();
    // Two knobs move at each tick, 0.52 ms at 120: twice what the line carries.
    for number in [1, 74] {
        let points =
            (0..3840).map(|at| Point::step(Tick(at), U14::new((at % 128) as u16).unwrap()));
        pass.notes_mut().lanes.push(Lane {
            channel: Channel::default(),
            control: Control::Change(U7::low_bits(number)),
            span: Span::new(Tick(0), Tick(3840)),
            points: points.collect(),
        });
    }
    song.passes.insert(pass.id, SharedPass::from(pass));
    let found = &forecast(&song, &Cables::default(), HEARD).ports[0];
    // 2 s of line carry 6,250 bytes: 3,125 values, less the rest.
    assert!((4_300..5_000).contains(&found.thinned), "{found:?}");
    // The message being sent (3 bytes at most), a pulse, and the note.
    assert!(found.latest.unwrap().late <= 7 * 320_000, "{found:?}");
    assert_eq!((found.late_bars, found.lost), (0, 0));
}

#[test]
fn an_empty_song_has_no_port() {
    assert_eq!(forecast(&song_of("empty", &[("A", 4)]), &Cables::default(), HEARD).ports, []);
}

#[test]
fn bytes_still_on_the_line_at_the_end_delay_the_next_round() {
    // Ten notes five ticks (2.604 ms) before the end of bar 2, at 120: 21 bytes. At the seam come
    // a pulse and, since the key of bar 1's note is down, its release of two bytes, which goes
    // first: so the last of the ten is 24 bytes late, 7.68 ms. Then comes the note, two bytes with
    // running status: 26 * 0.32 - 2.604 = 5.716 ms late. The first time it is 1.28 ms late, behind
    // a pulse.
    let song = song(&[("A", 2)], &[(0, 1), (7675, 10)]);
    let late_bars = |limit: Ns| forecast(&song, &Cables::default(), limit).ports[0].late_bars;
    assert_eq!([5_715_000, 5_716_000, 7_681_000].map(late_bars), [2, 1, 0]);
    // If another section comes in between, the line is empty by then.
    let mut apart = song.clone();
    apart.sections.push(Arc::new(song_of("x", &[("B", 1)]).sections[0].as_ref().clone()));
    Arc::make_mut(&mut apart.sections[1]).letter = "B".parse().unwrap();
    apart.form = "A B".parse().unwrap();
    assert_eq!(forecast(&apart, &Cables::default(), 5_000_000).ports[0].late_bars, 1);
}

fn cables(outs: &[&str]) -> Cables {
    let outs: Vec<crate::Out> = outs.iter().map(|out| out.parse().unwrap()).collect();
    Cables::of(&outs).unwrap()
}

#[test]
fn time_code_of_the_port_goes_before_its_notes() {
    // Bar 3 is at 4 s, where a quarter frame of 25 falls, too. It is two bytes (MIDI Time Code,
    // "Quarter Frame Messages") and goes before the ten notes with the pulse: 1 + 2 + 21 bytes. The
    // same is true at 24 and 30 frames a second, where 4 s are whole frames, too. At 29.97, 4 s are
    // 479.52 quarter frames: the next one comes among the notes and ends their running status (MIDI
    // 1.0, "Running Status"), so that one of them has three bytes.
    let song = song(&[("A", 4)], &[(7680, 10)]);
    let late = |out: &str| forecast(&song, &cables(&[out]), HEARD).ports[0].latest.unwrap().late;
    assert_eq!(late("none,serial"), 22 * 320_000);
    for rate in ["24", "25", "30"] {
        assert_eq!(late(&format!("none,serial,mtc={rate}")), 24 * 320_000);
        assert_eq!(late(&format!("none,serial,mtc={rate},no-clock")), 23 * 320_000);
    }
    assert_eq!(late("none,serial,mtc=29.97"), 25 * 320_000);
    assert_eq!(late("none,serial,no-clock"), 21 * 320_000);
}

#[test]
fn time_code_is_as_late_as_on_a_line_computed_byte_by_byte() {
    // Single notes, each far from the next: a note only waits for the pulse and the quarter
    // frame that are still on the line when it is due. Computed here without that model.
    let rate = chaconne_time::FrameRate::Drop30;
    let starts: Vec<i64> = (0..16).map(|k| k * 960 + k * 7).collect();
    let chords: Vec<(i64, u8)> = starts.iter().map(|&at| (at, 1)).collect();
    let song = song(&[("A", 4)], &chords);
    let found = forecast(&song, &cables(&["none,serial,mtc=29.97"]), 0);
    let ns = |tick: i64| tick * 500_000_000 / 960;
    let late = |start: &i64| {
        let due = ns(*start);
        let mut bytes: Vec<(Ns, Ns)> = (0..=start / 40).map(|k| (ns(k * 40), 1)).collect();
        let quarters = rate.parts_at(due, 4);
        bytes.extend((0..=quarters).map(|k| (rate.ns_of(k, 4), 2)));
        bytes.sort_unstable();
        let free = bytes.iter().fold(0, |free, &(at, count)| at.max(free) + count * 320_000);
        free.max(due) + 3 * 320_000 - due
    };
    // At tick 0 the start message goes before it, too.
    let expected = starts.iter().skip(1).map(late).max().unwrap().max(late(&0) + 320_000);
    assert_eq!(found.ports[0].latest.unwrap().late, expected);
}

/// A second, simple line to compare with: of the messages that are due, real-time bytes go first,
/// then machine control and time code, then the rest in the order in which they came. A message is
/// its time, its rank in that order and its length in bytes. Returns when the last one has been
/// sent.
fn byte_by_byte(messages: &[(Ns, u8, usize)]) -> Ns {
    let mut waiting = messages.to_vec();
    waiting.sort_by_key(|&(due, ..)| due);
    let (mut now, mut end) = (waiting[0].0, 0);
    while !waiting.is_empty() {
        let here = |due: Ns| due <= now;
        let kinds = waiting.iter().enumerate().filter(|(_, (due, ..))| here(*due));
        let Some((next, _)) = kinds.min_by_key(|(place, (_, kind, _))| (*kind, *place)) else {
            now = waiting.iter().map(|&(due, ..)| due).min().unwrap();
            continue;
        };
        now += waiting[next].2 as Ns * 320_000;
        end = now;
        waiting.remove(next);
    }
    end
}

#[test]
fn messages_to_recorders_before_the_start_use_the_line_too() {
    // A full frame is ten bytes (MIDI Time Code, "Full Message"), a locate thirteen and a play six
    // (MIDI Machine Control 1.0, RP-013, "MMC Commands"). Locate and frame go out 40 ms before the
    // start, programs and controllers 39 ms before it; start, pulse, quarter frame and play at it.
    // No song position is sent before a start from the top.
    let start = -40_000_000;
    let song = song(&[("A", 4)], &[(0, 4)]);
    let late = |out: &str| forecast(&song, &cables(&[out]), HEARD).ports[0].latest.unwrap().late;
    let (real_time, system, other) = (0, 1, 2);
    // Three bytes for the first note and two for each later one, with running status.
    let notes = [3, 2, 2, 2].map(|bytes| (0, other, bytes));
    let clock = [(0, real_time, 1), (0, real_time, 1)];
    let before = [(start, system, 10), (start, system, 13)];
    let at_start = [(0, system, 2), (0, system, 6)];
    let all = [&before[..], &at_start, &clock, &notes].concat();
    assert_eq!(late("none,serial,mtc=25,mmc"), byte_by_byte(&all));
    assert_eq!(late("none,serial,mtc=25,mmc"), 19 * 320_000);
    let play = [&before[1..], &at_start[1..], &clock, &notes].concat();
    assert_eq!(late("none,serial,mmc"), byte_by_byte(&play));
    assert_eq!(late("none,serial,no-clock"), byte_by_byte(&notes));
}

#[test]
fn messages_to_recorders_leave_less_room_for_programs() {
    // Switches of sixteen channels, 112 messages of two bytes at the least, and so more than the
    // line carries in 39 ms (MIDI 1.0, "Running Status"). Without a recorder the line is busy with
    // them from 39 ms before the start. With one, the locate goes out first, 13 bytes from 40 ms
    // before the start; and at the start the play, six bytes, goes ahead of what waits. So the
    // notes are later by those 19 bytes, less a millisecond.
    let mut song = song(&[("A", 4)], &[(0, 4)]);
    // The channels are those that it was played on.
    Arc::make_mut(&mut song.tracks[0]).channel = None;
    let mut pass = song.passes_in(&song.sections[0])[0].as_ref().clone();
    for channel in 1..=16u8 {
        for number in [65, 66, 67, 68, 69, 84, 88] {
            pass.notes_mut().lanes.push(Lane {
                channel: Channel::from_number(channel).unwrap(),
                control: Control::Change(U7::low_bits(number)),
                span: Span::new(Tick(0), Tick(3840)),
                points: vec![Point::step(Tick(0), U14::new(1).unwrap())],
            });
        }
    }
    pass.sort();
    song.passes.insert(pass.id, SharedPass::from(pass));
    let late = |out: &str| forecast(&song, &cables(&[out]), HEARD).ports[0].latest.unwrap().late;
    let alone = late("none,serial,no-clock");
    assert!(alone >= (112 * 2 + 9) * 320_000 - 39_000_000, "{alone}");
    assert_eq!(late("none,serial,no-clock,mmc"), alone + (13 + 6) * 320_000 - 1_000_000);
    // Time code adds a full frame of ten bytes, and at least eight quarter frames while the line is
    // busy.
    let coded = late("none,serial,no-clock,mtc=25,mmc") - late("none,serial,no-clock,mmc");
    assert!(coded >= (10 + 8 * 2) * 320_000, "{coded}");
}

#[test]
fn a_track_counts_for_the_output_that_would_play_it() {
    let mut song = song(&[("A", 4)], &[(7680, 10)]);
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.port = "bells".into();
    let names = |outs: &[&str]| -> Vec<String> {
        forecast(&song, &cables(outs), HEARD).ports.into_iter().map(|port| port.port).collect()
    };
    assert_eq!(names(&["none,serial", "bells=none,serial"]), ["bells"]);
    // No output is called bells, so the first plays it.
    assert_eq!(names(&["desk=none,serial", "keys=none,serial"]), ["desk"]);
    // The port that plays it is not a serial cable.
    assert!(names(&["none,serial", "bells=none"]).is_empty());
    let error = Cables::of(&["none".parse().unwrap()]).unwrap_err();
    assert!(error.contains("--out midi:NAME,serial"), "{error}");
    assert!(Cables::of(&["a=none,serial".parse().unwrap(), "a=none".parse().unwrap()]).is_err());
}
