//! Converts the metres and tempi of a file to those of a section.
//!
//! In: the metre and tempo events of a file, and how far its music reaches. Out: the section's
//! metres and tempi. A metre starts at a bar line, so one inside a bar moves to the next line. The
//! section is as long as the music and the metres require, in whole bars. A note released less than
//! a beat after the last bar adds no bar: it rings over the end, as in a loop. Nor does a pedal
//! that comes up there. Silence at the end of the file counts only as whole bars.

use super::remarks::Tally;
use super::tempo_of;
use crate::ImportError;
use crate::reader::{File, Meta};
use crate::scale::Scale;
use chaconne_time::{
    Metre, MetreChange, MetreMap, NoteKind, NoteValue, Tempo, TempoMap, TempoPoint, Tick, pulse,
};

/// The bars and tempi of the section.
pub(super) struct Bars {
    pub metre: MetreMap,
    pub tempo: TempoMap,
}

/// How far the music reaches, in ticks of the song.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Reach {
    /// Every note and system-exclusive message starts before this tick.
    pub begun: Tick,
    /// Every note ends by this tick, and no controller moves later.
    pub ended: Tick,
    /// The length of the longest note.
    pub longest: Tick,
}

impl Reach {
    /// The larger value of the two in each field.
    pub fn or(self, other: Reach) -> Reach {
        Reach {
            begun: self.begun.max(other.begun),
            ended: self.ended.max(other.ended),
            longest: self.longest.max(other.longest),
        }
    }
}

/// Plans the bars of a file whose music reaches as far as `played`, and which ends at `end` in its
/// own ticks.
pub(super) fn plan(
    file: &File,
    scale: &mut Scale,
    played: Reach,
    end: u64,
    tally: &mut Tally,
) -> Result<Bars, ImportError> {
    let mut layout = Layout::new();
    for (at, metre) in metres(file, scale, tally) {
        if !layout.add(at, metre) {
            tally.metres_moved.push(at);
        }
        if layout.bar > i64::from(MetreMap::MAX_BARS) {
            return Err(ImportError::TooLong(layout.bar));
        }
    }
    let metre = layout.finish(played, scale.tick(end), tally)?;
    let tempo = tempi(file, scale, metre.length(), tally);
    Ok(Bars { metre, tempo })
}

/// The bars planned so far, up to the last change of metre.
struct Layout {
    changes: Vec<MetreChange>,
    /// The bar of the last change, and its tick.
    bar: i64,
    start: Tick,
}

impl Layout {
    fn new() -> Layout {
        // A file without a metre means 4/4 (Standard MIDI Files 1.0, "Time Signature").
        let changes = vec![MetreChange { bar: 1, metre: Metre::common() }];
        Layout { changes, bar: 1, start: Tick::ZERO }
    }

    fn last(&mut self) -> &mut Metre {
        let last = self.changes.len() - 1;
        &mut self.changes[last].metre
    }

    /// Adds a metre at a tick, in ascending order. Returns whether the tick is on a bar line; if
    /// not, the metre starts at the next one.
    fn add(&mut self, at: Tick, metre: Metre) -> bool {
        let bar = self.last().bar();
        let into = (at - self.start).max(Tick::ZERO);
        let bars = into.round_up(bar).0 / bar.0;
        let on_line = self.start + bar * bars == at;
        if bars == 0 {
            *self.last() = metre;
        } else {
            self.bar = self.bar.saturating_add(bars);
            self.start += bar * bars;
            let number = u32::try_from(self.bar).unwrap_or(u32::MAX);
            self.changes.push(MetreChange { bar: number, metre });
        }
        on_line
    }

    /// The bars up to the end of the music, plus any whole bars up to the end of the file.
    fn finish(
        mut self,
        played: Reach,
        end: Tick,
        tally: &mut Tally,
    ) -> Result<MetreMap, ImportError> {
        let (bar, beat) = (self.last().bar(), self.last().beat());
        let most = i64::from(MetreMap::MAX_BARS);
        // Bars since the last change of metre, up to a tick.
        let up_to = |at: Tick| ((at - self.start).round_up(bar).0 / bar.0).max(1);
        let begun = up_to(played.begun);
        let length = self.start + bar * begun;
        let rings = played.ended < length + beat && played.longest <= length;
        let needed = self.bar - 1 + if rings { begun } else { up_to(played.ended).max(begun) };
        tally.ringing = rings && played.ended > length;
        if needed > most {
            return Err(ImportError::TooLong(needed));
        }
        let silent = (end - self.start).0.div_euclid(bar.0) + self.bar - 1;
        tally.silence_cut = silent > most;
        let bars = needed.max(silent.min(most)) as u32;
        self.changes.dedup_by(|next, kept| next.metre == kept.metre);
        MetreMap::with_changes(bars, self.changes)
            .map_err(|_| ImportError::TooLong(i64::from(bars)))
    }
}

/// The metres of a file, in order of time.
fn metres(file: &File, scale: &mut Scale, tally: &mut Tally) -> Vec<(Tick, Metre)> {
    let mut changes = Vec::new();
    let metas = file.tracks.iter().flat_map(|track| &track.metas);
    for meta in metas.filter(|meta| meta.kind == Meta::METRE) {
        let [count, power, clocks, thirty_seconds] =
            [meta.data[0], meta.data[1], meta.data[2], meta.data[3]];
        let unit = 1u8.checked_shl(u32::from(power)).unwrap_or(0);
        match Metre::new(count, unit) {
            Ok(metre) => {
                changes.push((scale.tick(meta.at), metre.with_tempo_unit(tempo_unit(clocks))))
            }
            Err(_) => tally.metres_unknown += 1,
        }
        if thirty_seconds != 8 {
            tally.quarters_odd += 1;
        }
    }
    changes.sort_by_key(|&(at, _)| at);
    changes
}

/// The note value that lasts as many MIDI clocks as one metronome click; a quarter if none does.
fn tempo_unit(clocks: u8) -> NoteValue {
    let length = pulse::tick_of(i64::from(clocks));
    let values = [1, 2, 4, 8, 16, 32, 64].into_iter().flat_map(|division| {
        [NoteKind::Straight, NoteKind::Dotted].map(|kind| NoteValue::new(division, kind))
    });
    let mut fitting = values.flatten().filter(|value| value.ticks() == length);
    fitting.next().unwrap_or(NoteValue::QUARTER)
}

/// The tempi of a file. If several are at one tick, the last one counts.
fn tempi(file: &File, scale: &mut Scale, length: Tick, tally: &mut Tally) -> TempoMap {
    let mut changes: Vec<(Tick, Tempo)> = Vec::new();
    let metas = file.tracks.iter().flat_map(|track| &track.metas);
    for meta in metas.filter(|meta| meta.kind == Meta::TEMPO) {
        let (tempo, clamped) = tempo_of(meta.data);
        tally.tempi_clamped += usize::from(clamped);
        changes.push((scale.tick(meta.at), tempo));
    }
    changes.sort_by_key(|&(at, _)| at);
    let mut points = vec![TempoPoint { at: Tick::ZERO, tempi: vec![Tempo::DEFAULT] }];
    for (at, tempo) in changes {
        if at >= length {
            tally.tempi_late += 1;
            continue;
        }
        let last = points.len() - 1;
        if points[last].at == at {
            points[last].tempi = vec![tempo];
        } else {
            points.push(TempoPoint { at, tempi: vec![tempo] });
        }
    }
    points.dedup_by(|next, kept| next.tempi == kept.tempi);
    // The points are in order and distinct, so this cannot fail.
    TempoMap::with_points(points).unwrap_or_else(|_| TempoMap::new(Tempo::DEFAULT))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metre(text: &str) -> Metre {
        text.parse().unwrap()
    }

    /// Music that ends at a tick.
    fn up_to(tick: i64) -> Reach {
        Reach { begun: Tick(tick), ended: Tick(tick), longest: Tick(tick.min(10)) }
    }

    fn laid(
        changes: &[(i64, &str)],
        played: i64,
        end: i64,
    ) -> (Vec<(u32, String)>, u32, Vec<bool>) {
        let mut layout = Layout::new();
        let lines: Vec<bool> =
            changes.iter().map(|&(at, text)| layout.add(Tick(at), metre(text))).collect();
        let map = layout.finish(up_to(played), Tick(end), &mut Tally::default()).unwrap();
        let changes = map.changes().iter();
        let changes = changes.map(|change| (change.bar, change.metre.to_string())).collect();
        (changes, map.bars(), lines)
    }

    #[test]
    fn metres_start_at_bar_lines() {
        // Bar lengths from note values: 4/4 is 3840 ticks, 3/4 is 2880, 7/8 is 3360.
        let (changes, bars, lines) =
            laid(&[(0, "3/4"), (5760, "4/4"), (5760 + 3840, "7/8")], 12_960, 12_960);
        assert_eq!(changes, [(1, "3/4".into()), (3, "4/4".into()), (4, "7/8".into())]);
        assert_eq!((bars, lines), (4, vec![true, true, true]));
    }

    #[test]
    fn a_metre_inside_a_bar_starts_at_the_next_bar_line() {
        let (changes, bars, lines) = laid(&[(0, "4/4"), (960, "3/4")], 6000, 0);
        assert_eq!(changes, [(1, "4/4".into()), (2, "3/4".into())]);
        assert_eq!((bars, lines), (2, vec![true, false]));
        // Of two inside one bar, the later one starts at the line.
        let (changes, ..) = laid(&[(0, "4/4"), (960, "3/4"), (1920, "5/4")], 6000, 0);
        assert_eq!(changes, [(1, "4/4".into()), (2, "5/4".into())]);
    }

    #[test]
    fn the_bars_cover_the_music_and_whole_bars_of_silence() {
        for (played, end, bars) in
            [(0, 0, 1), (3840, 3840, 1), (3841, 3841, 2), (10, 15_360, 4), (10, 15_359, 3)]
        {
            assert_eq!(laid(&[], played, end).1, bars, "{played} {end}");
        }
        let layout = Layout::new();
        let refused = layout.finish(up_to(3840 * 999 + 1), Tick(0), &mut Tally::default());
        assert!(matches!(refused, Err(ImportError::TooLong(1000))));
        let mut tally = Tally::default();
        let silent = Layout::new().finish(up_to(1), Tick::MAX, &mut tally).unwrap();
        assert_eq!((silent.bars(), tally.silence_cut), (999, true));
    }

    #[test]
    fn a_late_release_adds_no_bar() {
        let bars = |begun, ended, longest| {
            let (begun, ended, longest) = (Tick(begun), Tick(ended), Tick(longest));
            let reach = Reach { begun, ended, longest };
            let mut tally = Tally::default();
            let map = Layout::new().finish(reach, ended, &mut tally).unwrap();
            (map.bars(), tally.ringing)
        };
        assert_eq!(bars(7000, 7680, 700), (2, false));
        assert_eq!(bars(7000, 7681, 700), (2, true));
        assert_eq!(bars(7000, 7680 + 959, 1700), (2, true));
        // A beat or more needs its own bar, as does a note longer than all the bars.
        assert_eq!(bars(7000, 7680 + 960, 1700), (3, false));
        assert_eq!(bars(1, 3841, 3841), (2, false));
    }

    #[test]
    fn the_metronome_click_sets_the_unit_of_the_tempo() {
        // Standard MIDI Files 1.0, "Time Signature": 6/8 with 24 hexadecimal (36) clocks a click
        // beats in dotted quarters; 18 hexadecimal (24) in quarters.
        for (clocks, value) in
            [(36, "1/4 dotted"), (24, "1/4"), (12, "1/8"), (0, "1/4"), (7, "1/4")]
        {
            assert_eq!(tempo_unit(clocks).to_string(), value);
        }
    }
}
