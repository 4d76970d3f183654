//! Files from outside, each imported, looped and laid: no move of a controller is lost at a seam.
//!
//! Five Python packages publish the files: miditok (ten piano performances of the MAESTRO set, with
//! pedals, are among its files), symusic, music21, miditoolkit and partitura. Not all of their licences
//! let us distribute them, so `cargo xtask open-sets` fetches them and runs these tests;
//! `cargo xtask test` does not.

mod heard;

use chaconne_engine::{Event, Message, PortIx, Rounds, Route, View, Wire, perform};
use chaconne_exchange::{Take, export, import, take};
use chaconne_rig::{HowToLay, lay};
use chaconne_song::{Control, Letter, Section, Song, U7};
use chaconne_time::{Metre, MetreMap, Tempo, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The folder with the files, from `cargo xtask open-sets`.
const FOLDER: &str = "CHACONNE_OPEN_SETS";

/// Every file of the sets, in order of their paths.
fn files() -> Vec<PathBuf> {
    let folder = std::env::var_os(FOLDER).expect("run by 'cargo xtask open-sets'");
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|name| name == "mid") {
                found.push(path);
            }
        }
    }
    found.sort();
    // Some files are in several sets.
    let mut known = BTreeSet::new();
    found.retain(|path| known.insert(std::fs::read(path).unwrap()));
    assert!(found.len() > 20, "{} files", found.len());
    found
}

/// The song of a file; `None` if the file is refused.
fn imported(path: &Path) -> Option<Song> {
    match import(&std::fs::read(path).unwrap(), "a file") {
        Ok(imported) => Some(imported.song),
        Err(error) => {
            println!("{}: {error}", path.display());
            None
        }
    }
}

/// What a receiver remembers: the value of each controller, for each port and channel. Registered and
/// non-registered parameters are decoded as in MIDI 1.0 ("Registered Parameter Numbers").
#[derive(Debug, Clone, Default, PartialEq)]
struct Receiver {
    values: BTreeMap<(PortIx, u8, String), u16>,
    selected: BTreeMap<(PortIx, u8), [Option<u8>; 3]>,
}

impl Receiver {
    fn hear(&mut self, event: &Event) {
        let Wire::Message(message) = event.wire else { return };
        let bytes = message.bytes().to_vec();
        let channel = bytes[0] & 15;
        let place = (event.port, channel);
        let selected = self.selected.entry(place).or_insert([None, None, Some(0)]);
        let name = match (bytes[0] >> 4, bytes.get(1).copied().unwrap_or_default()) {
            (0xB, 101) => return *selected = [Some(bytes[2]), selected[1], Some(0)],
            (0xB, 100) => return *selected = [selected[0], Some(bytes[2]), Some(0)],
            (0xB, 99) => return *selected = [Some(bytes[2]), selected[1], Some(1)],
            (0xB, 98) => return *selected = [selected[0], Some(bytes[2]), Some(1)],
            (0xB, data @ (6 | 38)) => format!("parameter {selected:?} {data}"),
            (0xB, controller) => format!("controller {controller}"),
            (0xA, key) => format!("key pressure {key}"),
            (0xC, _) => "program".into(),
            (0xD, _) => "pressure".into(),
            (0xE, _) => "bend".into(),
            _ => return,
        };
        let value = match bytes[..] {
            [_, low, high] if bytes[0] >> 4 == 0xE => u16::from(high) << 7 | u16::from(low),
            [_, _, value] => value.into(),
            [_, value] => value.into(),
            _ => return,
        };
        self.values.insert((event.port, channel, name), value);
    }
}

/// Presses or releases, each with its tick in the round.
type Keys = Vec<(i64, PortIx, Vec<u8>)>;

/// The messages of a round whose status has these upper bits: 9 for presses, 8 for releases.
fn keys(events: &[Event], from: Tick, length: Tick, status: u8) -> Keys {
    let inside = events.iter().filter(|event| event.at >= from && event.at < from + length);
    let mut keys: Keys = inside
        .filter_map(|event| match event.wire {
            Wire::Message(message) => {
                let bytes = message.bytes().to_vec();
                let picked = bytes[0] >> 4 == status;
                picked.then(|| ((event.at - from).0, event.port, bytes))
            }
            Wire::SysEx(_) => None,
        })
        .collect();
    keys.sort();
    keys
}

#[test]
fn each_round_of_an_imported_file_is_like_the_first() {
    let mut loops = 0;
    for path in files() {
        let Some(song) = imported(&path) else { continue };
        let length = song.sections[0].length();
        let route = Route::rounds(&song, Letter::A, 3).unwrap();
        let events = perform(&song, &route, route.span(), View::Corrected).events;
        let starts = [Tick(0), length, length * 2];
        let rounds = starts.map(|from| keys(&events, from, length, 9));
        assert!(rounds[0] == rounds[1] && rounds[1] == rounds[2], "{}: presses", path.display());
        let ends = starts.map(|from| keys(&events, from, length, 8));
        assert!(ends[1] == ends[2], "{}: releases", path.display());
        same_values(&events, &starts, length, &path);
        loops += 1;
    }
    assert!(loops > 20, "{loops} files imported");
}

/// Fails unless every controller has the same value at the same place of each round.
fn same_values(events: &[Event], starts: &[Tick; 3], length: Tick, path: &Path) {
    let round_of = |at: Tick| starts.iter().rposition(|&from| from <= at).unwrap_or(0);
    let mut moves: BTreeMap<i64, [Vec<&Event>; 3]> = BTreeMap::new();
    let whole = events.iter().filter(|event| event.at < starts[2] + length);
    for event in whole.clone() {
        let round = round_of(event.at);
        moves.entry((event.at - starts[round]).0).or_default()[round].push(event);
    }
    // Each receiver starts with the values that the rounds before its own have set.
    let mut receivers = [0, 1, 2].map(|round| {
        let mut receiver = Receiver::default();
        whole.clone().filter(|e| e.at < starts[round]).for_each(|event| receiver.hear(event));
        receiver
    });
    for (at, heard) in moves {
        for (receiver, heard) in receivers.iter_mut().zip(&heard) {
            heard.iter().for_each(|event| receiver.hear(event));
        }
        let [one, two, three] = &receivers;
        for other in [two, three] {
            // A controller that has not been set before has no value to return to.
            let differs = other
                .values
                .iter()
                .find(|(place, value)| one.values.get(place).is_some_and(|first| first != *value));
            assert!(
                differs.is_none(),
                "{}: tick {at}: {differs:?}, in round 1 {:?}",
                path.display(),
                differs.and_then(|(place, _)| one.values.get(place))
            );
        }
    }
}

#[test]
fn an_export_contains_the_performed_messages() {
    for path in files() {
        let Some(song) = imported(&path) else { continue };
        let route = Route::rounds(&song, Letter::A, 2).unwrap();
        let performance = perform(&song, &route, route.span(), View::Corrected);
        let mut performed: Vec<(i64, Vec<u8>)> = performance
            .events
            .iter()
            .filter_map(|event| match event.wire {
                Wire::Message(message) => Some((event.at.0, message.bytes().to_vec())),
                Wire::SysEx(_) => None,
            })
            .collect();
        performed.sort();
        let bytes = export(&song, &route, View::Corrected).unwrap();
        let file = midly::Smf::parse(&bytes).unwrap();
        let mut written = Vec::new();
        for track in &file.tracks {
            let mut now = 0;
            for event in track {
                now += i64::from(event.delta.as_int());
                if let midly::TrackEventKind::Midi { .. } = event.kind {
                    let mut bytes = Vec::new();
                    event.kind.as_live_event().unwrap().write_std(&mut bytes).unwrap();
                    written.push((now, bytes));
                }
            }
        }
        written.sort();
        let counts = (performed.len(), written.len());
        assert!(performed == written, "{}: {counts:?}", path.display());
    }
}

/// The piano performances: those with many moves of a pedal.
fn performances() -> Vec<(PathBuf, Take)> {
    let takes = files().into_iter().filter_map(|path| {
        let take = take(&std::fs::read(&path).unwrap()).ok()?;
        let pedals = take.events.iter().filter(|event| {
            matches!(event.wire, Wire::Message(Message::Change { controller, .. })
                if (64..=67).contains(&controller.get()))
        });
        (pedals.count() > 500).then_some((path, take))
    });
    let takes: Vec<_> = takes.collect();
    assert!(takes.len() >= 10, "{} performances with pedals", takes.len());
    takes
}

fn empty(bars: u32) -> Song {
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    Song::new("Takes", Section::new(Letter::A, metre, Tempo::DEFAULT))
}

/// A move of a controller: which one, its tick, the new value.
type Move = (Control, i64, u16);

/// The moves of a take, without those that become settings of a new track. If a controller moves several
/// times at one tick, only the last move counts.
fn moves(take: &Take) -> Vec<Move> {
    let mut moves: BTreeMap<(Control, i64), u16> = BTreeMap::new();
    for event in &take.events {
        let Wire::Message(message) = &event.wire else { continue };
        if let Some((control, value)) = message.control()
            && is_moved(control)
        {
            moves.insert((control, event.at.0), value.get());
        }
    }
    moves.into_iter().map(|((control, at), value)| (control, at, value)).collect()
}

/// Whether a take records the moves of a controller, instead of making it a setting of the new track.
fn is_moved(control: Control) -> bool {
    let settings = [0, 7, 10, 32].map(|number| Control::Change(U7::low_bits(number)));
    control != Control::Program && !settings.contains(&control)
}

#[test]
fn every_move_of_a_controller_is_in_a_pass_where_it_was_played() {
    for (path, take) in performances() {
        for bars in [1, 2, 4, 8] {
            let song = empty(bars);
            let length = song.sections[0].length().0;
            let how = HowToLay { track: "Piano".into(), ..HowToLay::default() };
            let laid = lay(&song, &take, &how).unwrap();
            let mut kept: BTreeMap<Move, usize> = BTreeMap::new();
            for lane in laid.passes.iter().flat_map(|pass| pass.lanes()) {
                for point in &lane.points {
                    let place = point.at.0.rem_euclid(length);
                    *kept.entry((lane.control, place, point.value.get())).or_default() += 1;
                }
            }
            let moves = moves(&take);
            let mut missing = Vec::new();
            for &(control, at, value) in &moves {
                let place = (control, at.rem_euclid(length), value);
                match kept.get_mut(&place).filter(|count| **count > 0) {
                    Some(count) => *count -= 1,
                    None => missing.push((control, at, value)),
                }
            }
            assert!(
                missing.is_empty(),
                "{}: {:?}",
                path.display(),
                &missing[..missing.len().min(8)]
            );
            // A pedal that is down when recording ends is released there. No other move is added.
            kept.retain(|_, count| *count > 0);
            let lifts = kept.iter().all(|(&(_, _, value), &count)| value == 0 && count == 1);
            assert!(lifts && kept.len() <= 3, "{}: {bars} bars: {kept:?}", path.display());
        }
    }
}

#[test]
fn one_long_pass_plays_the_take_exactly_as_recorded() {
    let mut whole = 0;
    for (path, take) in performances() {
        let song = empty(4);
        let how = HowToLay { track: "Piano".into(), rounds: Rounds::One, ..HowToLay::default() };
        let laid = lay(&song, &take, &how).unwrap();
        let length = song.sections[0].length();
        let [pass] = &laid.passes[..] else {
            assert!(take.length > song.sections[0].longest_pass(), "{}", path.display());
            continue;
        };
        whole += 1;
        let rounds = (pass.length.0 / length.0) as u32;
        let route = Route::rounds(&laid.song, Letter::A, rounds).unwrap();
        let performance = perform(&laid.song, &route, route.span(), View::Corrected);
        // A pedal that is down at the end of the route is released there, so the end does not count.
        let heard = performance.events.iter().filter_map(|event| match event.wire {
            Wire::Message(message) if event.at < route.span().to => Some((event.at, message)),
            _ => None,
        });
        let played = take.events.iter().filter_map(|event| match event.wire {
            Wire::Message(message) => Some((event.at, message)),
            Wire::SysEx(_) => None,
        });
        let (heard, played) = (effective(heard), effective(played));
        let lost: Vec<_> = played.difference(&heard).collect();
        let added: Vec<_> = heard.difference(&played).collect();
        assert!(
            lost.is_empty() && added.is_empty(),
            "{}: lost {:?}, added {:?}",
            path.display(),
            &lost[..lost.len().min(5)],
            &added[..added.len().min(5)]
        );
    }
    assert!(whole >= 9, "{whole} takes of one pass");
}

/// The messages with their ticks, without moves that do not change the value and without a track's
/// settings. Every controller starts at 0.
fn effective(messages: impl Iterator<Item = (Tick, Message)>) -> BTreeSet<(i64, Vec<u8>)> {
    let mut values: BTreeMap<Control, u16> = BTreeMap::new();
    let mut effective = BTreeSet::new();
    for (at, message) in messages {
        if let Some((control, value)) = message.control() {
            let old = values.insert(control, value.get()).unwrap_or(0);
            if !is_moved(control) || old == value.get() {
                continue;
            }
        }
        effective.insert((at.0, message.bytes().to_vec()));
    }
    effective
}
