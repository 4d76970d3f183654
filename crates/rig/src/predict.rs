//! How late a song would be on serial MIDI cables, told from the song alone.
//!
//! In: a song, and what else its cables carry. Out: for each port that it plays on, the note that
//! would come latest on a line of 31,250 baud, where that is, and how many bars are late. The form
//! is performed twice running, as the export does it, so that what is still under way at its end
//! delays its beginning; its events, the clock's pulses, time code and what recorders are told before
//! the start go through the same [`SerialLine`](chaconne_midi::serial::SerialLine) that paces a real port, on
//! a simulated clock with a scheduler that is always in time. So the figures are what the line itself costs; a machine's
//! own lateness comes on top.

mod cable;
mod cables;
mod clocks;
mod extent;
mod start;

pub use cables::Cables;

use cable::Cable;
use chaconne_engine::{Event, PortIx, View, Walk, perform};
use chaconne_song::{Letter, Song};
use chaconne_time::Ns;
use extent::Extent;

/// The least displacement of a note that is heard in a fast series: 6 ms (A. Friberg and
/// J. Sundberg, "Time discrimination in a monotonic, isochronous sequence", Journal of the
/// Acoustical Society of America 98(5), 1995).
pub const HEARD: Ns = 6_000_000;

/// What is to be expected of a song on serial cables.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlook {
    /// Each port that it plays on, in the order in which its tracks name them.
    pub ports: Vec<Forecast>,
    /// Where the form is too long to be performed here: how many of its sections were.
    pub cut: Option<usize>,
}

/// What is to be expected of one port on a serial cable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forecast {
    /// The port's name in the song; empty for the first one.
    pub port: String,
    /// The latest note; `None` where none is struck.
    pub latest: Option<LateNote>,
    /// How many bars along the form have a note that is later than the limit, the first time
    /// through or once it goes round.
    pub late_bars: usize,
    /// How many continuous controller values are left out, because newer ones came before their
    /// turn: in one time through the form.
    pub thinned: u64,
    /// How many messages would find no room and be lost, in one time through the form.
    pub lost: usize,
}

/// A note, and how late it would be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LateNote {
    /// From the moment it is due to the end of its last byte, in nanoseconds.
    pub late: Ns,
    /// The section it is due in.
    pub section: Letter,
    /// The bar of that section, from 1.
    pub bar: i64,
}

/// What is to be expected of `song`. The form is performed, or the first section where there is
/// none; a bar is late where a note is later than `limit` nanoseconds. Ports that `cables` says
/// are no serial cables are left out.
pub fn forecast(song: &Song, cables: &Cables, limit: Ns) -> Outlook {
    let song = &cables.joined(song);
    let (extent, cut) = extent::of(song);
    let ports = extent.map_or(Vec::new(), |extent| ports(song, &extent, cables, limit));
    Outlook { ports, cut }
}

fn ports(song: &Song, extent: &Extent, cables: &Cables, limit: Ns) -> Vec<Forecast> {
    let span = extent.route.span();
    let performance = perform(song, &extent.route, span, View::Corrected);
    let (set_up, music) = performance.events.split_at(performance.set_up);
    let walk = Walk::along(song, &extent.route);
    let (timeline, counts) = (walk.timeline(span.to), walk.counts());
    let mut told = Vec::new();
    for (index, name) in performance.ports.iter().enumerate() {
        let port = PortIx(index as u8);
        let of_port = |event: &&Event| event.port == port;
        let plays = performance.events.iter().any(|event| event.port == port);
        let carries = cables.carries(name).filter(|_| plays);
        let Some(carries) = carries else { continue };
        let clocks = clocks::Clocks::new(&timeline, span.from, carries.pulses, carries.mtc);
        let mut cable = Cable::new(&counts, extent, &timeline, clocks, limit);
        start::locate(&mut cable, carries);
        for event in set_up.iter().filter(of_port) {
            cable.prepare(-start::set_up(), event.wire.clone());
        }
        for wire in start::loads(carries) {
            cable.take(span.from, wire);
        }
        for event in music.iter().filter(of_port) {
            cable.clocks_until(event.at);
            cable.take(event.at, event.wire.clone());
        }
        told.push(cable.told(name));
    }
    told
}

#[cfg(test)]
mod tests;
