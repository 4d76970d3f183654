//! Engine and scheduler play the songs on a virtual clock: the bytes and nanoseconds are the export's.

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
fn songs_are_heard_as_they_are_exported() {
    let mut heard = 0;
    for path in files() {
        let Some(mut song) = imported(&path) else { continue };
        for track in &mut song.tracks {
            // The stand has two ports for songs; tracks on others are left out.
            let track = Arc::make_mut(track);
            match track.port.as_str() {
                "" | "port 1" => track.port = PORTS[0].into(),
                "port 2" => track.port = PORTS[1].into(),
                _ => track.mute = true,
            }
        }
        let route = Route::rounds(&song, Letter::A, 2).unwrap();
        let (lines, said) = (play(&song, &route), said(&song, &route));
        for port in [PortIx(0), PortIx(1)] {
            let of_port = |lines: &[Line]| -> Vec<(Ns, Vec<u8>)> {
                let lines = lines.iter().filter(|line| line.port == port);
                lines.map(|line| (line.ns, line.bytes.clone())).collect()
            };
            let (heard, said) = (of_port(&lines), of_port(&said));
            let differs = std::iter::zip(&heard, &said).position(|(heard, said)| heard != said);
            let place = differs.map(|index| (&heard[index], &said[index]));
            assert!(heard == said, "{}: port {port:?}: {place:?}", path.display());
        }
        heard += 1;
    }
    assert!(heard > 50, "{heard} songs");
}

/// The moment at which the run starts: the stand begins a second after the epoch.
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
    // Clock pulses and song position are not the song's.
    let of_song = |line: &Line| line.ns < end && line.bytes[0] < 0xF8 && line.bytes[0] != 0xF2;
    lines.into_iter().filter(of_song).collect()
}

/// What the export says of the same span.
fn said(song: &Song, route: &Route) -> Vec<Line> {
    let line = expected::timeline(song, route, Tick::ZERO, start());
    expected::song_lines(song, route, Tick::ZERO, &line, stand::config(0).set_up)
}
