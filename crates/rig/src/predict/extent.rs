//! How much of a song's form the forecast covers: all of it, unless that would take too long. Even
//! a short file can hold years of music.

use chaconne_engine::Route;
use chaconne_song::{Lane, Letter, Section, Shape, Song};
use chaconne_time::Tick;
use std::collections::BTreeMap;

/// The most events that the forecast performs, roughly.
const MOST: u64 = 5_000_000;

/// The music that the forecast covers.
#[derive(Debug)]
pub struct Extent {
    /// The form twice in a row; once if it is cut short, or twice would be too long.
    pub route: Route,
    /// The length of one time through, in ticks.
    pub once: Tick,
}

/// The part of the form that is performed (of the first section, if there is no form), or `None` if
/// even one section is too long; and the number of its sections, if that is not all.
pub fn of(song: &Song) -> (Option<Extent>, Option<usize>) {
    within(song, MOST)
}

fn within(song: &Song, most: u64) -> (Option<Extent>, Option<usize>) {
    let form = Route::letters(song);
    let mut weights: BTreeMap<Letter, u64> = BTreeMap::new();
    let (mut count, mut total, mut once) = (0, 0u64, Tick::ZERO);
    for &letter in &form {
        let Some(section) = song.section(letter) else { break };
        let more = *weights.entry(letter).or_insert_with(|| weight(song, section));
        if total.saturating_add(more) > most {
            break;
        }
        (total, once, count) = (total + more, once + section.length(), count + 1);
    }
    let cut = (count < form.len()).then_some(count);
    let times = if cut.is_none() && total.saturating_mul(2) <= most { 2 } else { 1 };
    let route = Route::of(song, &form[..count].repeat(times));
    (route.map(|route| Extent { route, once }), cut)
}

/// The most events that a round of a section can have, landmarks included.
fn weight(song: &Song, section: &Section) -> u64 {
    let length = section.length().0.max(1) as u64;
    let steps: usize = section.tempo.points().iter().map(|point| point.tempi.len()).sum();
    let played: u64 = song
        .layers(section)
        .map(|(_, pass)| {
            let points: usize = pass.lanes().iter().map(|lane| 1 + moves(lane) * 6).sum();
            let once = pass.notes().len() * 2 + points + pass.sysex().len() + 1;
            (once as u64).saturating_mul(length / pass.length.0.max(1) as u64 + 1)
        })
        .fold(0, u64::saturating_add);
    // Each pass may be the only one of its track, and then the track's settings are sent.
    let set = section.layers.len() * 8 + section.metre.bars() as usize + steps;
    played.saturating_add(set as u64)
}

/// The most messages a lane can send in a round. A registered parameter takes six for each value,
/// and between two points there is at most one value every ten ticks.
fn moves(lane: &Lane) -> usize {
    let glides = lane.points.windows(2).filter(|pair| pair[0].shape != Shape::Step);
    let between = glides.map(|pair| ((pair[1].at - pair[0].at).0 / 10).unsigned_abs() as usize);
    lane.points.len() + between.sum::<usize>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song_of;

    #[test]
    fn a_form_that_is_too_long_is_predicted_in_part() {
        let mut song = song_of("long", &[("A", 4), ("B", 8)]);
        song.form = "A B A".parse().unwrap();
        // An empty section counts its bars and its one tempo: 5 + 9 + 5.
        let bars = |most| {
            let (extent, cut) = within(&song, most);
            (extent.map_or(0, |extent| extent.route.span().to.0 / 3840), cut)
        };
        assert_eq!(bars(38), (32, None));
        assert_eq!(bars(37), (16, None));
        assert_eq!(bars(19), (16, None));
        assert_eq!(bars(18), (12, Some(2)));
        assert_eq!(bars(4), (0, Some(0)));
        song.form = Default::default();
        assert_eq!(within(&song, 5).1, None);
    }
}
