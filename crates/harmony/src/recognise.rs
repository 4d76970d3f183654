//! The chords of what is played, bar by bar, as a chart to offer.

use crate::{PitchClass, names, tones};
use chaconne_song::{Chord, ChordSymbol, KeySignature, U7};
use chaconne_time::{MetreMap, Span, Tick};

/// What a change of chord counts against a chart. A chart with fewer and simpler chords is the likelier one.
const CHANGE: u32 = 6;
/// What each tone of a chord beyond three counts: more than a change, so that two triads that share tones are
/// not taken for one seventh chord.
const TONE: u32 = 7;
/// What a bass note other than the root counts.
const BASS: u32 = 2;
/// What a whole bar counts in which notes sound that are no chord; a part of it counts less.
const UNNAMED: u32 = 100;
/// What a beat counts in which another chord sounds than that of its stretch.
const OTHER: u32 = 10;
/// A pitch that sounds for a smaller part of a stretch than one in so many, measured by the pitch that
/// sounds longest, is passing by.
const PASSING: i64 = 3;

/// A note that is at most one part in so many of a stretch before or after its beginning is struck there.
const EARLY: i64 = 8;

/// The chords of notes, each with the span in which it sounds, spelled for a key. A bar has one chord, or one
/// for each half or each beat, whichever gives the plainest chart. Where nothing sounds, the chord before goes
/// on. Chords that go on are not repeated; none past the last bar.
pub fn recognised(notes: &[(Span, U7)], metre: &MetreMap, key: Option<KeySignature>) -> Vec<Chord> {
    let notes = &unpushed(notes, metre);
    let mut chords: Vec<Chord> = Vec::new();
    for bar in 1..=i64::from(metre.bars()) {
        let span = Span::new(metre.bar_start(bar), metre.bar_start(bar + 1));
        let before = chords.last().map(|chord| chord.symbol);
        let ways = ways(span, metre.metre_of(bar).click());
        let beats: Vec<Heard> = ways
            .last()
            .into_iter()
            .flatten()
            .map(|&beat| Heard::in_span(notes, beat, key))
            .collect();
        let charts = ways.iter().map(|stretches| Bar::of(notes, stretches, &beats, key, before));
        if let Some(plainest) = charts.min_by_key(|bar| bar.cost) {
            chords.extend(plainest.chords);
        }
    }
    chords
}

/// The notes with those that push a bar line put on it: struck up to an eighth before it and held over it, they are
/// meant for the bar (common practice, no source).
fn unpushed(notes: &[(Span, U7)], metre: &MetreMap) -> Vec<(Span, U7)> {
    const PUSH: Tick = Tick(480);
    let put = |&(span, key): &(Span, U7)| {
        let line = metre.bar_start(metre.bar_at(span.from) + 1);
        let pushes = line - span.from <= PUSH && span.to - line > PUSH;
        (Span::new(if pushes { line } else { span.from }, span.to), key)
    };
    notes.iter().map(put).collect()
}

/// The ways to divide a bar: not at all, into halves, into beats.
fn ways(bar: Span, beat: Tick) -> Vec<Vec<Span>> {
    let beats = ((bar.to - bar.from).0 / beat.0.max(1)).max(1);
    let counts = [1, 2, beats].into_iter().filter(|&count| beats % count == 0);
    let way = |count| {
        let each = Tick((bar.to - bar.from).0 / count);
        let stretch = |nth: i64| Span::new(bar.from + each * nth, bar.from + each * (nth + 1));
        (0..count).map(stretch).collect()
    };
    counts.map(way).collect()
}

/// What sounds in a stretch.
struct Heard {
    span: Span,
    /// Whether anything sounds.
    any: bool,
    /// Its chord, if it is one.
    chord: Option<ChordSymbol>,
}

impl Heard {
    fn in_span(notes: &[(Span, U7)], span: Span, key: Option<KeySignature>) -> Heard {
        let keys = sounding(notes, span);
        Heard { span, any: !keys.is_empty(), chord: names(&keys, key).first().copied() }
    }

    /// Whether a chord sounds that is another one, whatever its bass.
    fn is_other(&self, than: ChordSymbol) -> bool {
        let of = |symbol| match symbol {
            ChordSymbol::Chord { root, kind, .. } => Some((root, kind)),
            _ => None,
        };
        self.chord.is_some_and(|chord| of(chord) != of(than))
    }
}

/// The chords of a bar that was divided in one way, and what speaks against it.
struct Bar {
    chords: Vec<Chord>,
    cost: u32,
}

impl Bar {
    fn of(
        notes: &[(Span, U7)],
        stretches: &[Span],
        beats: &[Heard],
        key: Option<KeySignature>,
        before: Option<ChordSymbol>,
    ) -> Bar {
        let (mut bar, mut now) = (Bar { chords: Vec::new(), cost: 0 }, before);
        for &stretch in stretches {
            let heard = Heard::in_span(notes, stretch, key);
            match heard.chord {
                _ if !heard.any => {}
                Some(symbol) => {
                    let inside = beats
                        .iter()
                        .filter(|beat| stretch.contains(beat.span.from) && beat.is_other(symbol));
                    bar.cost += OTHER * u32::try_from(inside.count()).unwrap_or(u32::MAX);
                    if now != Some(symbol) {
                        bar.cost += CHANGE + cost(symbol);
                        bar.chords.push(Chord { at: stretch.from, symbol });
                        now = Some(symbol);
                    }
                }
                None => bar.cost += UNNAMED / u32::try_from(stretches.len()).unwrap_or(u32::MAX),
            }
        }
        bar
    }
}

/// How far a chord is from a plain triad over its root.
fn cost(symbol: ChordSymbol) -> u32 {
    match symbol {
        ChordSymbol::Chord { kind, bass, .. } => {
            let more = u32::try_from(tones(kind).len().saturating_sub(3)).unwrap_or(u32::MAX);
            more * TONE + if bass.is_some() { BASS } else { 0 }
        }
        _ => 0,
    }
}

/// The keys that sound in a stretch, without those that only pass by.
fn sounding(notes: &[(Span, U7)], stretch: Span) -> Vec<U7> {
    let inside = |span: Span| (span.to.min(stretch.to) - span.from.max(stretch.from)).0.max(0);
    let mut totals = [0i64; 12];
    for &(span, key) in notes {
        totals[usize::from(PitchClass::of(key).semitones())] += inside(span);
    }
    let longest = totals.iter().copied().max().unwrap_or(0);
    let stays = |key: U7| totals[usize::from(PitchClass::of(key).semitones())] * PASSING >= longest;
    let mut keys: Vec<U7> = notes
        .iter()
        .filter(|&&(span, key)| inside(span) > 0 && stays(key))
        .map(|&(_, key)| key)
        .collect();
    keys.sort_unstable();
    keys.dedup();
    // What is below the bass and only passes by is no bass, but it may be part of the chord.
    let bass = keys.iter().copied().find(|&key| is_bass(notes, stretch, key));
    if let Some(bass) = bass {
        keys.iter_mut().filter(|key| **key < bass).for_each(|key| *key = above(*key, bass));
        keys.sort_unstable();
        keys.dedup();
    }
    keys
}

/// Whether a key can be the bass of a stretch: it is struck where the stretch begins, or sounds for more than
/// half of it.
fn is_bass(notes: &[(Span, U7)], stretch: Span, key: U7) -> bool {
    let length = (stretch.to - stretch.from).0;
    let own = notes.iter().filter(|&&(_, other)| other == key).map(|&(span, _)| span);
    let sounds = |span: Span| (span.to.min(stretch.to) - span.from.max(stretch.from)).0.max(0);
    let at_start = |span: Span| (span.from - stretch.from).0.abs() * EARLY <= length;
    own.clone().any(|span| sounds(span) > 0 && at_start(span))
        || own.map(sounds).sum::<i64>() * 2 > length
}

/// The key as many octaves up as lead above the bass.
fn above(key: U7, bass: U7) -> U7 {
    let octaves = (bass.get() - key.get()).div_ceil(12);
    U7::new(key.get() + 12 * octaves).unwrap_or(bass)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{chart, chart_text, pitches};
    use chaconne_time::Metre;
    use proptest::prelude::*;

    fn metre(bars: u32, of: &str) -> MetreMap {
        MetreMap::new(bars, of.parse::<Metre>().unwrap().counted()).unwrap()
    }

    /// The chart of notes as (from, to, key), in quarters.
    fn named(metre: &MetreMap, notes: &[(i64, i64, u8)]) -> String {
        let note = |&(from, to, key): &(i64, i64, u8)| {
            (Span::new(Tick(from * 960), Tick(to * 960)), U7::new(key).unwrap())
        };
        let notes: Vec<(Span, U7)> = notes.iter().map(note).collect();
        chart_text(&recognised(&notes, metre, None), metre)
    }

    #[test]
    fn a_chord_a_bar_or_a_half_or_a_beat() {
        let c = |from, to| [(from, to, 48), (from, to, 64), (from, to, 67)];
        let am = |from, to| [(from, to, 45), (from, to, 60), (from, to, 64)];
        let four = metre(2, "4/4");
        assert_eq!(named(&four, &[c(0, 4), am(4, 8)].concat()), "C | Am");
        assert_eq!(named(&four, &[c(0, 2), am(2, 4), c(4, 8)].concat()), "C Am | C");
        assert_eq!(named(&four, &[c(0, 3), am(3, 4)].concat()), "C / / Am | Am");
        assert_eq!(
            named(&four, &[c(0, 1), am(1, 2), c(2, 3), am(3, 4)].concat()),
            "C Am C Am | Am"
        );
        // Broken chords, and a passing D in the first.
        let broken = [(0, 1, 48), (1, 2, 64), (2, 4, 67), (4, 8, 43), (4, 6, 59), (6, 8, 62)];
        assert_eq!(named(&four, &broken), "C | G");
        assert_eq!(named(&four, &[]), "");
        assert_eq!(named(&metre(1, "6/8"), &[(0, 3, 48), (0, 3, 64), (0, 3, 67)]), "C");
    }

    #[test]
    fn early_and_passing_notes_do_not_count() {
        let at =
            |from: i64, to: i64, key: u8| (Span::new(Tick(from), Tick(to)), U7::new(key).unwrap());
        let four = metre(2, "4/4");
        let mut notes: Vec<(Span, U7)> = [48, 64, 67].map(|key| at(-30, 3700, key)).to_vec();
        notes.push(at(1000, 1400, 62));
        // The next chord comes a sixteenth early.
        notes.extend([45, 60, 64].map(|key| at(3600, 7600, key)));
        assert_eq!(chart_text(&recognised(&notes, &four, None), &four), "C | Am");
    }

    #[test]
    fn chords_that_push_the_bar_line_belong_to_the_bar_after_it() {
        let at = |from: i64, to: i64, keys: [u8; 3]| {
            keys.map(|key| (Span::new(Tick(from), Tick(to)), U7::new(key).unwrap()))
        };
        let four = metre(4, "4/4");
        // Each chord but the first comes an eighth early.
        let pushed = [
            at(0, 3360, [52, 55, 59]),
            at(3360, 7200, [45, 60, 64]),
            at(7200, 11_040, [48, 52, 55]),
            at(11_040, 15_360, [47, 51, 54]),
        ];
        let notes = pushed.concat();
        assert_eq!(chart_text(&recognised(&notes, &four, None), &four), "Em | Am | C | B");
        // A short chord on the last eighth is a change of its own.
        let short =
            [at(0, 2880, [48, 52, 55]), at(2880, 3840, [45, 60, 64]), at(3840, 7680, [48, 52, 55])];
        let two = metre(2, "4/4");
        assert_eq!(chart_text(&recognised(&short.concat(), &two, None), &two), "C / / Am | C");
    }

    #[test]
    fn a_bass_note_that_only_passes_is_not_the_bass_of_a_chord() {
        let at =
            |from: i64, to: i64, key: u8| (Span::new(Tick(from), Tick(to)), U7::new(key).unwrap());
        let four = metre(2, "4/4");
        let named = |notes: &[(Span, U7)]| chart_text(&recognised(notes, &four, None), &four);
        // A minor over A, which rings on into F over F, whose A above is held.
        let rings = |late: i64, early: i64| {
            let mut notes = [60, 64].map(|key| at(0, 3840, key)).to_vec();
            notes.push(at(0, 3840 + late, 33));
            notes.extend([53, 57, 60].map(|key| at(3840 - early, 7680, key)));
            named(&notes)
        };
        for (late, early) in [(0, 0), (40, 0), (300, 0), (0, 30)] {
            assert_eq!(rings(late, early), "Am | F");
        }
        assert_eq!(rings(3840, 0), "Am | F/A", "one that stays is the bass");
        // An A below leads from F over F back to it.
        let chord = [57, 60, 65].map(|key| at(0, 7680, key));
        let walk = [at(0, 2880, 41), at(2880, 3840, 33), at(3840, 7680, 41)];
        assert_eq!(named(&[&chord[..], &walk].concat()), "F | %");
        // Root and fifth by turns, the fifth below.
        let turns = [0, 3840].map(|bar| [at(bar, bar + 1900, 41), at(bar + 1920, bar + 3800, 36)]);
        assert_eq!(named(&[&chord[..], &turns.concat()].concat()), "F | %");
        // A short bass note that the bar begins with counts.
        let mut notes = [60, 64, 67].map(|key| at(0, 3840, key)).to_vec();
        notes.push(at(0, 240, 40));
        assert_eq!(named(&notes), "C/E | %");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn a_chart_that_is_played_is_recognised(
            bars in prop::collection::vec(prop::collection::vec((0usize..12, 0usize..6), 1..3), 1..6),
        ) {
            const ROOTS: [&str; 12] =
                ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"];
            const KINDS: [&str; 6] = ["", "m", "7", "maj7", "m7b5", "dim"];
            let symbol = |&(root, kind): &(usize, usize)| format!("{}{}", ROOTS[root], KINDS[kind]);
            let text: Vec<String> = bars
                .iter()
                .map(|bar| bar.iter().map(symbol).collect::<Vec<_>>().join(" "))
                .collect();
            let four = metre(bars.len() as u32, "4/4");
            let written = chart(&text.join(" | "), &four).unwrap();
            let mut notes = Vec::new();
            for (index, chord) in written.iter().enumerate() {
                let until = written.get(index + 1).map_or(four.length(), |next| next.at);
                let ChordSymbol::Chord { root, kind, .. } = chord.symbol else { continue };
                let low = 36 + PitchClass::named(root).semitones();
                let keys = tones(kind).iter().map(|tone| low + tone);
                notes.extend(keys.map(|key| (Span::new(chord.at, until), U7::new(key).unwrap())));
                prop_assert!(pitches(chord.symbol).count() >= 3);
            }
            prop_assert_eq!(recognised(&notes, &four, None), written);
        }
    }
}
