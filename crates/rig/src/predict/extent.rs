//! How much of a song's form is foretold: all of it, unless that would be more events than a
//! moment's work. A file of a few lines can ask for years of music.

use chaconne_engine::Route;
use chaconne_song::{Lane, Letter, Section, Shape, Song};
use chaconne_time::Tick;
use std::collections::BTreeMap;

/// How many events the part that is performed can have, about.
const MOST: u64 = 5_000_000;

/// What is performed.
#[derive(Debug)]
pub struct Extent {
    /// The form twice running; once where it is not whole, or twice would be too much.
    pub route: Route,
    /// How long one time through is, in ticks.
    pub once: Tick,
}

/// The form, or the first section where there is none, as far as it is foretold (none where not
/// even its first section is); and how many sections of it that is, where it is not all.
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

/// At most how many events a round of a section has, landmarks among them.
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
    // Each pass may be the only one of its track, whose settings are sent.
    let set = section.layers.len() * 8 + section.metre.bars() as usize + steps;
    played.saturating_add(set as u64)
}

/// At most how many values a lane sends in a round; a registered parameter takes six messages for
/// each. On the way from one point to the next there is one every ten ticks at most.
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
    fn a_form_that_is_too_long_is_foretold_in_part() {
        let mut song = song_of("long", &[("A", 4), ("B", 8)]);
        song.form = "A B A".parse().unwrap();
        // An empty section weighs its bars and its one tempo: 5 + 9 + 5.
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
