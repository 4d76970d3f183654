//! Where a line of the listing lies: on the route, and in its section.

use chaconne_engine::{Entry, Route};
use chaconne_song::{Section, Song};
use chaconne_time::Tick;
use std::fmt::Write;
use std::sync::Arc;

/// A stay in a section, and how many bars lie before it.
struct Stay<'a> {
    entry: Entry,
    section: &'a Arc<Section>,
    before: i64,
}

/// The bars of a route.
pub(super) struct Bars<'a> {
    stays: Vec<Stay<'a>>,
}

impl<'a> Bars<'a> {
    pub fn new(song: &'a Song, route: &Route) -> Bars<'a> {
        let mut stays = Vec::with_capacity(route.entries.len());
        let mut before = 0;
        for &entry in &route.entries {
            let Some(section) = song.section(entry.section) else { continue };
            stays.push(Stay { entry, section, before });
            // A section left inside a bar leaves that bar short; the next starts a new one.
            before += section.metre.bar_at(entry.until - entry.at - Tick(1));
        }
        Bars { stays }
    }

    /// Writes a line: place, section and bar, track (padded by the caller), what.
    pub fn row(&self, text: &mut String, at: Tick, track: &str, what: &str) {
        let after = self.stays.partition_point(|stay| stay.entry.at <= at);
        let (place, bar) = match self.stays.get(after.max(1) - 1) {
            None => (format!("tick {}", at.0), "-".to_string()),
            Some(stay) => {
                let mut place = stay.section.metre.place(at - stay.entry.at);
                let inside = (place.bar - 1).rem_euclid(i64::from(stay.section.metre.bars())) + 1;
                place.bar += stay.before;
                (place.to_string(), format!("{}{inside}", stay.section.letter))
            }
        };
        // Writing to a text cannot fail.
        let _ = writeln!(text, "{place:<11} {bar:<5} {track}  {what}");
    }
}
