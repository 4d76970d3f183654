//! A song as a score for the sound crate: frames and bytes instead of ticks and messages.
//!
//! In: a song, and how to bounce it. Out: the frames to keep, and the messages in them. A loop is
//! played until its tail is complete, and the last round is kept.

use super::HowToBounce;
use crate::Extent;
use chaconne_engine::{Beat, Route, View, Walk, Wire, perform};
use chaconne_song::{Letter, Song, Track, TrackId};
use chaconne_sound::bounce::{LONGEST_TAIL, Score, ScoreEvent};
use chaconne_time::{Ns, Tick, Timeline};
use std::collections::BTreeMap;
use std::sync::Arc;

const SECOND: i128 = 1_000_000_000;
/// The most rounds to play until all passes of a loop start together again.
const MOST_ROUNDS: u64 = 64;

/// A route, and its place in frames.
pub struct Played {
    route: Route,
    timeline: Timeline,
    rate: u32,
    /// The first frame to keep.
    pub from: u64,
    /// The frame after the last of the music.
    pub to: u64,
}

impl Played {
    /// Works out the route to play, and the frames to keep.
    pub fn new(song: &Song, how: &HowToBounce) -> Result<Played, String> {
        let mut route = how.extent.route(song)?;
        let once = route.span().to;
        let mut timeline = Walk::along(song, &route).timeline(once);
        let mut from = Tick::ZERO;
        if let (true, Extent::Section(letter, often)) = (how.looped, how.extent) {
            let kept = often.of(song, letter);
            let before = rounds_before(timeline.ns_at(once), turn(song, letter, kept));
            route = rounds(song, letter, (before + 1).saturating_mul(kept))?;
            timeline = Walk::along(song, &route).timeline(route.span().to);
            from = once * i64::from(before);
        }
        let frame = |at: Tick| frame(timeline.ns_at(at), how.rate);
        let (from, to) = (frame(from), frame(route.span().to));
        Ok(Played { route, timeline, rate: how.rate, from, to })
    }

    /// The messages of these tracks, one stem for each, then the click if it is wanted.
    pub fn score(&self, song: &Song, tracks: &[Arc<Track>], click: bool) -> Score {
        let stems: BTreeMap<TrackId, usize> =
            tracks.iter().enumerate().map(|(place, track)| (track.id, place)).collect();
        let performance = perform(song, &self.route, self.route.span(), View::Corrected);
        let messages = performance.events.into_iter().map(|event| {
            let frame = frame(self.timeline.ns_at(event.at), self.rate);
            let stem = stems.get(&event.track).copied().unwrap_or(usize::MAX);
            match &event.wire {
                Wire::Message(message) => {
                    ScoreEvent::new(frame, stem, event.port.0, &message.bytes())
                }
                Wire::SysEx(bytes) => ScoreEvent::new(frame, stem, event.port.0, bytes),
            }
        });
        let mut score = Score { stems: tracks.len(), events: messages.collect() };
        if click {
            let strike = |Beat { at, first }| {
                ScoreEvent::strike(frame(self.timeline.ns_at(at), self.rate), tracks.len(), first)
            };
            score.stems += 1;
            let beats = Walk::along(song, &self.route).beats(Tick::ZERO);
            score.events.extend(beats.map(strike));
            score.events.sort_by_key(|event| event.frame);
        }
        score
    }
}

fn rounds(song: &Song, letter: Letter, count: u32) -> Result<Route, String> {
    Route::rounds(song, letter, count).ok_or_else(|| crate::export::missing(song, letter))
}

/// How many times the rounds to keep are played before they are kept: enough for the longest tail,
/// at least once, and a multiple of `turn`, so that what is kept sounds as it does the first time.
fn rounds_before(round: Ns, turn: u32) -> u32 {
    let tail = i128::from(LONGEST_TAIL) * SECOND;
    let turns = i128::from(round.max(1_000_000)) * i128::from(turn);
    ((tail + turns - 1).div_euclid(turns).clamp(1, 10_000) as u32) * turn
}

/// How often `kept` rounds of a section are played until all passes start together again; 1 if that
/// would be more than [`MOST_ROUNDS`].
fn turn(song: &Song, letter: Letter, kept: u32) -> u32 {
    let Some(section) = song.section(letter) else { return 1 };
    let length = section.length().0.max(1) as u64 * u64::from(kept);
    let mut rounds = 1u64;
    for (_, pass) in song.layers(section) {
        let pass = pass.length.0.max(1) as u64;
        let own = pass / common(pass, length);
        rounds = rounds / common(rounds, own) * own;
        if rounds > MOST_ROUNDS {
            return 1;
        }
    }
    rounds as u32
}

/// The greatest common divisor.
fn common(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { common(b, a % b) }
}

/// The frame nearest to a time; 0 for a time before the first.
fn frame(at: Ns, rate: u32) -> u64 {
    let frames = i128::from(at.max(0)) * i128::from(rate);
    ((frames + SECOND / 2) / SECOND) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_rounded_to_the_nearest_frame() {
        assert_eq!(frame(500_000_000, 44_100), 22_050);
        assert_eq!(frame(-5, 48_000), 0);
        // Half a frame at 48 kHz is 10,416.67 ns.
        assert_eq!([10_416, 10_417].map(|ns| frame(ns, 48_000)), [0, 1]);
    }

    #[test]
    fn a_loop_is_played_until_its_tail_is_complete() {
        let seconds = |count: Ns| rounds_before(count * 1_000_000_000, 1);
        assert_eq!([1, 3, 9, 10, 60].map(seconds), [10, 4, 2, 1, 1]);
        assert_eq!(rounds_before(0, 1), 10_000);
        assert_eq!(rounds_before(3_000_000_000, 3), 6);
    }
}
