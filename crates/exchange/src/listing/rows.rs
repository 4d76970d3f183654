//! A line of the listing: the place on the route and in the section, the track, and the event.

use chaconne_engine::Counts;
use chaconne_time::Tick;
use std::fmt::Write;

/// Writes a line: place, section and bar, track (padded by the caller), event.
pub(super) fn row(counts: &Counts, text: &mut String, at: Tick, track: &str, event: &str) {
    let (place, bar) = match counts.at(at) {
        None => (format!("tick {}", at.0), "-".to_string()),
        Some(position) => {
            (position.place.to_string(), format!("{}{}", position.section, position.bar))
        }
    };
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{place:<11} {bar:<5} {track}  {event}");
}
