//! Feel: where a note sounds, given where it was played.
//!
//! Quantise moves notes to the swung grid. The grid restarts at each bar, and its last cell may be
//! short. A note halfway between two points goes to the later one. Strokes of one drum less than
//! 50 ms apart are a roll: they all move as far as the loudest does, and keep their spacing. A groove that
//! is given, and human variation, are added to where quantise has put a note.

use crate::View;
use crate::groove::{groove_loudness, groove_timing};
use crate::human::{Player, rounded};
use chaconne_song::{Channel, Feel, Groove, Human, Pass, Stroke, Swing, U7, is_roll};
use chaconne_time::{MetreMap, NoteValue, Tempo, TempoMap, Tick};
use std::collections::BTreeMap;

/// The feel that a view applies, given the one that is set.
pub(crate) fn seen_by(view: View, feel: Feel) -> Feel {
    match view {
        View::Played => Feel { grid: None, groove: None, human: Human::NONE, ..feel },
        View::Corrected => feel,
        View::Straight => {
            let (pull, reach, swing) = (100, 100, Swing::STRAIGHT);
            Feel { pull, reach, swing, groove: None, human: Human::NONE, ..feel }
        }
    }
}

/// A track's grid in words, to follow its name: `quantise 1/16, pull 100 %`.
pub fn quantise_words(feel: &Feel) -> String {
    match feel.grid {
        Some(grid) => {
            let swing = match feel.swing {
                Swing::STRAIGHT => String::new(),
                swing => format!(", swing {swing} %"),
            };
            format!("quantise {grid}, pull {} %{swing}", feel.pull)
        }
        None => "quantise off, as you played it".to_string(),
    }
}

/// Where feel puts a note, and how loud it makes it. Places are counted from the start of a cycle of its pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Felt {
    /// Where it sounds.
    pub on: Tick,
    /// Where quantise puts it, before groove and human variation: which seam or cover it is meant for does
    /// not depend on those.
    pub meant: Tick,
    /// The velocity with which it sounds.
    pub velocity: U7,
}

/// What feel makes of each note of a pass, in the order of its notes. The groove is the one that the feel names.
/// The metre and the tempo are those of the section.
pub fn felt(
    pass: &Pass,
    feel: &Feel,
    groove: Option<&Groove>,
    metre: &MetreMap,
    tempo: &TempoMap,
) -> Vec<Felt> {
    let strokes: Vec<(Channel, Stroke)> =
        pass.notes().iter().map(|note| (note.channel, note.stroke())).collect();
    let tempo_at = |at: Tick| tempo.at(at.cycle(metre.length()).1);
    let player = Player::new(&feel.human, pass.track, pass.length);
    let late = |at: Tick| {
        let given = groove.zip(feel.groove.as_ref());
        let groove = given.map(|(groove, given)| groove_timing(groove, given, at, metre));
        let human = feel.human.timing;
        let human = (human > 0).then(|| player.timing(at, human, tempo_at(at).micros()));
        groove.unwrap_or_default() + human.unwrap_or_default()
    };
    let louder = |at: Tick, velocity: U7| {
        let given = groove.zip(feel.groove.as_ref());
        let groove =
            given.map_or(10_000, |(groove, given)| groove_loudness(groove, given, at, metre));
        let human = player.loudness(at, feel.human.loudness);
        let changed = i64::from(velocity.get()) * groove * human;
        U7::low_bits(rounded(changed, 10_000 << 16).clamp(1, 127) as u8)
    };
    let mut all: Vec<Felt> = strokes.iter().map(|(_, stroke)| as_played(stroke)).collect();
    if !feel.is_on() {
        return all;
    }
    let groups = match feel.rolls {
        true => rolls(&strokes, tempo_at),
        false => (0..strokes.len()).map(|index| vec![index]).collect(),
    };
    for group in groups {
        let main = strokes[main_stroke(&group, &strokes)].1.start;
        let meant = corrected(main, feel, metre);
        for index in group {
            let felt = &mut all[index];
            felt.meant += meant - main;
            felt.on = felt.meant + late(meant);
            felt.velocity = louder(meant, felt.velocity);
        }
    }
    all
}

fn as_played(stroke: &Stroke) -> Felt {
    Felt { on: stroke.start, meant: stroke.start, velocity: stroke.velocity }
}

/// Half a grid step, or half a sixteenth if feel is off. A note that starts this close before a seam
/// belongs to the round that begins there.
pub fn half_step(feel: &Feel) -> Tick {
    Tick(feel.grid.unwrap_or(NoteValue::SIXTEENTH).ticks().0 / 2)
}

/// The point of the swung grid nearest to `at`; the later one if two are equally near.
pub(crate) fn nearest(at: Tick, step: Tick, swing: Swing, metre: &MetreMap) -> Tick {
    let bar = metre.bar_at(at);
    let (start, end) = (metre.bar_start(bar), metre.bar_start(bar + 1));
    let into = (at - start).0;
    let pair = 2 * step.0;
    // Swing is in hundredths of a percent of the pair.
    let off_beat = (pair * i64::from(swing.hundredths()) + 5000) / 10_000;
    let first = into / pair * pair;
    [first, first + off_beat, first + pair]
        .into_iter()
        .map(|point| if point >= (end - start).0 { end } else { start + Tick(point) })
        .min_by_key(|&point| ((point - at).0.abs(), -point.0))
        .unwrap_or(at)
}

/// Where feel moves a stroke at `at`.
pub(crate) fn corrected(at: Tick, feel: &Feel, metre: &MetreMap) -> Tick {
    let Some(grid) = feel.grid else { return at };
    let step = grid.ticks();
    let distance = (nearest(at, step, feel.swing, metre) - at).0;
    let near = feel.reach >= 100 || 200 * distance.abs() <= i64::from(feel.reach) * step.0;
    if !near {
        return at;
    }
    // Rounded half up.
    at + Tick((2 * i64::from(feel.pull) * distance + 100).div_euclid(200))
}

/// Groups strokes into rolls: the indices of strokes of one drum, each less than 50 ms after the one
/// before. Every index is in exactly one group. The groups are in order of their first stroke.
pub(crate) fn rolls(
    strokes: &[(Channel, Stroke)],
    tempo_at: impl Fn(Tick) -> Tempo,
) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..strokes.len()).collect();
    order.sort_by_key(|&index| (strokes[index].1.start, index));
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut latest: BTreeMap<(Channel, U7), usize> = BTreeMap::new();
    for index in order {
        let (channel, stroke) = &strokes[index];
        let known = latest.get(&(*channel, stroke.key)).copied();
        let joined = known.filter(|&group: &usize| {
            let before = groups[group].last().map_or(stroke.start, |&last| strokes[last].1.start);
            is_roll(stroke.start - before, tempo_at(before))
        });
        match joined {
            Some(group) => groups[group].push(index),
            None => {
                latest.insert((*channel, stroke.key), groups.len());
                groups.push(vec![index]);
            }
        }
    }
    groups
}

/// The stroke that decides how far a roll moves: its loudest, or the latest of several that are
/// equally loud.
pub(crate) fn main_stroke(group: &[usize], strokes: &[(Channel, Stroke)]) -> usize {
    let loudest = group.iter().copied().max_by_key(|&index| {
        let stroke = &strokes[index].1;
        (stroke.velocity, stroke.start, index)
    });
    loudest.unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{GivenGroove, GrooveId, Note, NoteId, PassId, Placed, TrackId};
    use chaconne_time::{Metre, NoteKind};
    use proptest::prelude::*;

    fn four() -> MetreMap {
        MetreMap::new(4, Metre::common()).unwrap()
    }

    fn sixteenths(pull: u8) -> Feel {
        Feel { pull, ..Feel::off(false).on(NoteValue::SIXTEENTH) }
    }

    #[test]
    fn pull_moves_part_of_the_way() {
        // t' = t + s/100 (q - t), rounded half up (common practice; no source). By hand at 480 to
        // the quarter: 503 goes to 480, 491.5 and 485.75; at 960, 1006 goes to 960, 983 and 971.5.
        for (pull, at) in [(100, 960), (50, 983), (75, 972), (0, 1006)] {
            assert_eq!(corrected(Tick(1006), &sixteenths(pull), &four()), Tick(at));
        }
    }

    #[test]
    fn a_note_halfway_between_two_grid_points_goes_to_the_later_one() {
        assert_eq!(corrected(Tick(1080), &sixteenths(100), &four()), Tick(1200));
        assert_eq!(corrected(Tick(-120), &sixteenths(100), &four()), Tick(0));
        assert_eq!(corrected(Tick(-121), &sixteenths(100), &four()), Tick(-240));
    }

    #[test]
    fn swing_delays_every_second_step() {
        // The delay of the off-beat eighth by arithmetic: at 480 to the quarter 19.2 ticks for 54 %,
        // 48 for 60 %, 80 for 66.67 %, 120 for 75 %; at 960 twice as many.
        let eighth = NoteValue::new(8, NoteKind::Straight).unwrap();
        for (hundredths, delay) in [(5400, 38), (6000, 96), (6667, 160), (7500, 240)] {
            let swing = Swing::from_hundredths(hundredths).unwrap();
            let feel = Feel { swing, ..Feel::off(false).on(eighth) };
            assert_eq!(corrected(Tick(490), &feel, &four()), Tick(480 + delay));
            assert_eq!(corrected(Tick(970), &feel, &four()), Tick(960));
        }
    }

    #[test]
    fn the_grid_restarts_at_each_bar() {
        // Five thirty-seconds are 600 ticks: sixteenth points at 0, 240, 480, then the next bar.
        let metre = MetreMap::new(4, Metre::new(5, 32).unwrap()).unwrap();
        for (at, goal) in [(530, 480), (540, 600), (599, 600), (700, 600), (730, 840)] {
            assert_eq!(corrected(Tick(at), &sixteenths(100), &metre), Tick(goal), "{at}");
        }
    }

    #[test]
    fn notes_beyond_the_reach_stay_where_they_are() {
        let feel = Feel { reach: 50, ..sixteenths(100) };
        assert_eq!(corrected(Tick(60), &feel, &four()), Tick(0));
        assert_eq!(corrected(Tick(61), &feel, &four()), Tick(61));
    }

    #[test]
    fn for_print_every_note_goes_all_the_way_to_the_straight_grid() {
        let swing = Swing::from_hundredths(6000).unwrap();
        let groove = Some(GivenGroove::whole(GrooveId(4)));
        let human = Human { timing: 20, loudness: 10, seed: 0 };
        let feel = Feel { pull: 40, reach: 50, swing, groove, human, ..sixteenths(100) };
        let straight = seen_by(View::Straight, feel);
        let plain = Feel { groove: None, human: Human::NONE, ..feel };
        assert_eq!(straight, Feel { pull: 100, reach: 100, swing: Swing::STRAIGHT, ..plain });
        assert_eq!(seen_by(View::Corrected, feel), feel);
        assert_eq!(seen_by(View::Played, feel), Feel { grid: None, ..plain });
    }

    #[test]
    fn half_a_step_is_half_the_grid_or_half_a_sixteenth_without_one() {
        let triplet = NoteValue::new(8, NoteKind::Triplet).unwrap();
        assert_eq!(half_step(&Feel::off(false)), Tick(120));
        assert_eq!(half_step(&Feel::off(false).on(triplet)), Tick(160));
    }

    #[test]
    fn the_grid_in_words_names_value_and_pull() {
        assert_eq!(quantise_words(&sixteenths(75)), "quantise 1/16, pull 75 %");
        assert_eq!(quantise_words(&Feel::off(false)), "quantise off, as you played it");
    }

    #[test]
    fn a_roll_moves_as_far_as_its_loudest_stroke() {
        let mut pass = Pass::empty(PassId(1), TrackId(1), Tick(3840));
        let mut stroke = |start, velocity| {
            let (velocity, key, length) = (U7::low_bits(velocity), U7::low_bits(38), Tick(10));
            let played = Stroke { start: Tick(start), length, key, velocity, release: U7::CENTRE };
            let (id, channel, placed) =
                (NoteId(start as u32), Channel::PERCUSSION, Placed::UNCHANGED);
            pass.notes_mut().notes.push(Note { id, channel, played, placed });
        };
        // 40 ticks at 120 are 20.8 ms; 200 ticks are 104 ms.
        for (start, velocity) in [(200, 30), (235, 100), (270, 60), (470, 80)] {
            stroke(start, velocity);
        }
        let feel = Feel { rolls: true, ..sixteenths(100) };
        let tempo = TempoMap::new(Tempo::DEFAULT);
        let all = felt(&pass, &feel, None, &four(), &tempo);
        let starts: Vec<Tick> = all.into_iter().map(|felt| felt.on).collect();
        assert_eq!(starts, [Tick(205), Tick(240), Tick(275), Tick(480)]);
    }

    #[test]
    fn strokes_fifty_milliseconds_apart_are_no_roll() {
        let stroke = |start| {
            let (velocity, key, length) = (U7::CENTRE, U7::low_bits(38), Tick(10));
            let stroke = Stroke { start: Tick(start), length, key, velocity, release: U7::CENTRE };
            (Channel::PERCUSSION, stroke)
        };
        // By hand: at 120 a quarter of 960 ticks lasts 500 ms, so 50 ms are 96 ticks; at 60, 48.
        let groups = |apart: i64, bpm| {
            let tempo = Tempo::parse_bpm(bpm).unwrap();
            rolls(&[stroke(100), stroke(100 + apart)], |_| tempo).len()
        };
        assert_eq!((groups(95, "120"), groups(96, "120")), (1, 2));
        assert_eq!((groups(47, "60"), groups(48, "60")), (1, 2));
    }

    proptest! {
        #[test]
        fn no_note_moves_further_than_half_a_swung_cell(
            at in -5000i64..50_000, pull in 0u8..=100, swing in 5000u16..=7500,
        ) {
            let swing = Swing::from_hundredths(swing).unwrap();
            let feel = Feel { pull, swing, ..sixteenths(100) };
            let moved = (corrected(Tick(at), &feel, &four()) - Tick(at)).0.abs();
            prop_assert!(moved <= 240 * 3 / 4);
        }

        #[test]
        fn quantising_twice_with_full_pull_is_the_same_as_once(at in -5000i64..50_000, swing in 5000u16..=7500) {
            let swing = Swing::from_hundredths(swing).unwrap();
            let feel = Feel { swing, ..sixteenths(100) };
            let once = corrected(Tick(at), &feel, &four());
            prop_assert_eq!(corrected(once, &feel, &four()), once);
        }
    }
}
