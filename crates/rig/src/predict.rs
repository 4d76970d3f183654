//! How late a song's notes would be on serial MIDI cables, computed from the song alone.
//!
//! In: a song, and what else its cables carry. Out: for each port it plays on, the latest note on a
//! line of 31,250 baud, its place, and the number of late bars. The form is performed as for an
//! export, but twice in a row, so that messages still on the line at its end delay its beginning.
//! Its events, clock pulses, time code and the messages for recorders before the start go through
//! the same [`SerialLine`](chaconne_midi::serial::SerialLine) that paces a real port, on a
//! simulated clock with a scheduler that is never late. So the figures are the cost of the line
//! itself; the lateness of the machine is added to that.

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

/// The smallest shift of a note that is audible in a fast run: 6 ms (A. Friberg and
/// J. Sundberg, "Time discrimination in a monotonic, isochronous sequence", Journal of the
/// Acoustical Society of America 98(5), 1995).
pub const HEARD: Ns = 6_000_000;

/// The forecast for a song on serial cables.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlook {
    /// Each port it plays on, in the order in which its tracks name them.
    pub ports: Vec<Forecast>,
    /// If the form is too long to perform all of it here, the number of sections that were
    /// performed.
    pub cut: Option<usize>,
}

/// The forecast for one port on a serial cable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forecast {
    /// The port's name in the song; empty for the first port.
    pub port: String,
    /// The latest note; `None` if there are no notes.
    pub latest: Option<LateNote>,
    /// The number of bars of the form with a note later than the limit, in the first time through
    /// or the second.
    pub late_bars: usize,
    /// The number of continuous controller values that are left out in one time through the form,
    /// because a newer one replaced them while they waited.
    pub thinned: u64,
    /// The number of messages lost for lack of room in one time through the form.
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

/// The forecast for `song`: for its form, or its first section if it has no form. A bar is late if
/// one of its notes is later than `limit` nanoseconds. Leaves out the ports that are not serial
/// cables according to `cables`.
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
    let mut forecasts = Vec::new();
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
        for wire in start::at_start(carries) {
            cable.take(span.from, wire);
        }
        for event in music.iter().filter(of_port) {
            cable.clocks_until(event.at);
            cable.take(event.at, event.wire.clone());
        }
        forecasts.push(cable.forecast(name));
    }
    forecasts
}

#[cfg(test)]
mod tests;
