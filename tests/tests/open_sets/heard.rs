//! Engine and scheduler play the songs on a virtual clock: they send the bytes of the export, at its
//! nanoseconds.

#[allow(dead_code, reason = "another test uses the rest")]
#[path = "../../../crates/clock/tests/whole/expected.rs"]
mod expected;
#[allow(dead_code, reason = "another test uses the rest")]
#[path = "../../../crates/clock/tests/whole/stand.rs"]
mod stand;

use super::{files, imported};
use chaconne_engine::{Click, Command, PortIx, Route};
use chaconne_song::{Letter, Song};
use chaconne_time::{Ns, Tick};
use stand::{Line, MS, PORTS, Stand};
use std::sync::Arc;

#[test]
fn songs_sound_as_they_are_exported() {
    let mut count = 0;
    for path in files() {
        let Some(mut song) = imported(&path) else { continue };
        for track in &mut song.tracks {
            // The stand has two ports for songs; tracks on other ports are muted.
            let track = Arc::make_mut(track);
            match track.port.as_str() {
                "" | "port 1" => track.port = PORTS[0].into(),
                "port 2" => track.port = PORTS[1].into(),
                _ => track.mute = true,
            }
        }
        let route = Route::rounds(&song, Letter::A, 2).unwrap();
        let (lines, exported) = (play(&song, &route), exported(&song, &route));
        for port in [PortIx(0), PortIx(1)] {
            let of_port = |lines: &[Line]| -> Vec<(Ns, Vec<u8>)> {
                let lines = lines.iter().filter(|line| line.port == port);
                lines.map(|line| (line.ns, line.bytes.clone())).collect()
            };
            let (heard, expected) = (of_port(&lines), of_port(&exported));
            let differs = std::iter::zip(&heard, &expected).position(|(one, other)| one != other);
            let place = differs.map(|index| (&heard[index], &expected[index]));
            assert!(heard == expected, "{}: port {port:?}: {place:?}", path.display());
        }
        count += 1;
    }
    assert!(count > 50, "{count} songs");
}

/// When the song starts. The stand starts a second after the epoch.
fn start() -> Ns {
    stand::SECOND + stand::config(0).lead
}

/// What engine and scheduler send before the end of the route.
fn play(song: &Song, route: &Route) -> Vec<Line> {
    let mut stand = Stand::new(song.clone(), 50 * MS, 0);
    stand.command(Command::CountIn(0));
    // Without a count-in there are no clicks.
    stand.command(Command::Click(Click::CountIn));
    stand.paper.lines.clear();
    assert!(stand.command(Command::PlayRoute(route.clone())));
    while stand.engine.tick_at(stand.now).is_some() {
        stand.run_to(stand.now + 300 * MS);
    }
    let end = expected::timeline(song, route, Tick::ZERO, start()).ns_at(route.span().to);
    let lines = std::mem::take(&mut stand.paper.lines);
    stand.end();
    // Leave out clock pulses and song positions, which an export does not contain.
    let of_song = |line: &Line| line.ns < end && line.bytes[0] < 0xF8 && line.bytes[0] != 0xF2;
    lines.into_iter().filter(of_song).collect()
}

/// The messages of an export of the same span.
fn exported(song: &Song, route: &Route) -> Vec<Line> {
    let line = expected::timeline(song, route, Tick::ZERO, start());
    expected::song_lines(song, route, Tick::ZERO, &line, stand::config(0).set_up)
}
