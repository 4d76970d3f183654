//! Tests of the walker, against values worked out by hand and against a song read tick by tick.

use super::*;
use chaconne_time::{MetreChange, MetreMap, TempoMap, TempoPoint, pulse};
use proptest::prelude::*;

const MS: Ns = 1_000_000;

pub(super) fn bpm(text: &str) -> Tempo {
    Tempo::parse_bpm(text).unwrap()
}

fn section(letter: &str, metre: &str) -> Section {
    let metre: Metre = metre.parse().unwrap();
    Section::new(letter.parse().unwrap(), MetreMap::new(1, metre).unwrap(), Tempo::DEFAULT)
}

/// A: one bar of 3/4; B: one bar of 5/8.
pub(super) fn two_metres() -> Song {
    let mut song = Song::new("walk", section("A", "3/4"));
    song.sections.push(Arc::new(section("B", "5/8")));
    song
}

pub(super) fn letters(text: &str) -> Vec<Letter> {
    text.chars().map(|letter| letter.to_string().parse().unwrap()).collect()
}

#[test]
fn the_beats_of_a_route_follow_each_sections_metre() {
    let song = two_metres();
    let route = Route::of(&song, &letters("ABA")).unwrap();
    let beats = |from, to| -> Vec<(i64, bool)> {
        let beats = Walk::along(&song, &route).beats(Tick(from));
        beats.take_while(|beat| beat.at < Tick(to)).map(|beat| (beat.at.0, beat.first)).collect()
    };
    let three = [(0, true), (960, false), (1920, false)];
    let five = (0..5).map(|k| (2880 + 480 * k, k == 0));
    let again = three.map(|(at, first)| (5280 + at, first));
    let expected: Vec<(i64, bool)> = three.into_iter().chain(five).chain(again).collect();
    assert_eq!(beats(0, 99_999), expected);
    assert_eq!(beats(960, 3361), expected[1..5]);
    // A count-in of two bars has the metre it leads into.
    let before = [(-2880, true), (-1920, false), (-960, false)];
    assert_eq!(beats(-2880, 1), [&before[..], &three[..1]].concat());
    assert_eq!(beats(-961, 0), before[2..]);
}

#[test]
fn a_visit_without_end_repeats_for_ever_and_can_be_read_from_any_tick() {
    let song = two_metres();
    let route = Route::open("B".parse().unwrap());
    let walk = Walk::along(&song, &route);
    let far = Tick(2400 * 1_000_000_000);
    let bar = walk.bars(far + Tick(7)).next().unwrap();
    assert_eq!((bar.number, bar.start, bar.end), (1, far, far + Tick(2400)));
    let round = walk.rounds(far).nth(2).unwrap();
    assert_eq!((round.index, round.start), (1_000_000_002, far + Tick(4800)));
    assert_eq!(walk.beats(far).nth(5).unwrap(), Beat { at: far + Tick(2400), first: true });
    // One tempo throughout: 2400 ticks at 120 are 1.25 s.
    assert_eq!(walk.tempo_steps(Tick(24_000)).count(), 1);
    assert_eq!(walk.timeline(Tick(24_000)).ns_at(Tick(2400)), 1250 * MS);
}

#[test]
fn the_times_along_a_route_follow_the_tempo_of_each_section() {
    // By hand from ms = 60,000 / BPM: a bar of 3/4 at 60 lasts 3 s and one of 5/8 (two and a half
    // quarters) at 150 lasts 1 s.
    let mut song = two_metres();
    let tempi = [("60", 0), ("150", 1)];
    for (tempo, place) in tempi {
        Arc::make_mut(&mut song.sections[place]).tempo = TempoMap::new(bpm(tempo));
    }
    let route = Route::of(&song, &letters("ABBA")).unwrap();
    let walk = Walk::along(&song, &route);
    let steps: Vec<_> = walk.tempo_steps(Tick::MAX).map(|step| (step.at.0, step.ns / MS)).collect();
    assert_eq!(steps, [(0, 0), (2880, 3000), (7680, 5000)]);
    assert_eq!(walk.ns_at(Tick(7680 + 960)), 6000 * MS);
    assert_eq!(walk.ns_at(Tick(-960)), -1000 * MS);
    assert_eq!(walk.timeline(Tick::MAX).ns_at(Tick(7680 + 960)), 6000 * MS);
}

#[test]
fn a_section_left_early_counts_its_short_bar_and_round() {
    // Two bars of 4/4, left a quarter into the second; then 7/8 twice.
    let two = MetreMap::new(2, Metre::common()).unwrap();
    let mut song = Song::new("early", Section::new(Letter::A, two, Tempo::DEFAULT));
    song.sections.push(Arc::new(section("B", "7/8")));
    let entry = |letter: &str, at, until| {
        let section = letter.parse().unwrap();
        Entry { section, at: Tick(at), until: Tick(until), cut: true }
    };
    let entries = [entry("A", 0, 4800), entry("B", 4800, 4800 + 2 * 3360)];
    let walk = Walk::new(&song, &entries);
    let bars: Vec<_> = walk.bars(Tick(0)).map(|bar| (bar.start.0, bar.end.0, bar.number)).collect();
    assert_eq!(bars, [(0, 3840, 1), (3840, 4800, 2), (4800, 8160, 1), (8160, 11_520, 1)]);
    let counts = walk.counts();
    let at = |at| {
        let Position { section, bar, round, place, .. } = counts.at(Tick(at)).unwrap();
        format!("{place} {section}{bar} round {round}")
    };
    assert_eq!(at(4799), "2.1.959 A2 round 1");
    assert_eq!(at(4800), "3.1.0 B1 round 2");
    assert_eq!(at(8160), "4.1.0 B1 round 3");
    assert_eq!(at(11_525), "5.1.5 B1 round 4");
    assert_eq!(at(-20), "0.4.940 A2 round 0");
    // A single tick can be looked up without counting the whole route.
    for tick in [-20, 0, 4799, 4800, 8160, 11_525] {
        assert_eq!(walk.position(Tick(tick)), counts.at(Tick(tick)), "{tick}");
    }
    let starts: Vec<_> = (0..=5).map(|bar| counts.bar_start(bar).map(|at| at.0)).collect();
    assert_eq!(starts, [None, Some(0), Some(3840), Some(4800), Some(8160), None]);
    assert_eq!((counts.bars(), walk.rounds_in_all()), (4, 3));
    assert_eq!(walk.beats(Tick(3840)).nth(1).unwrap(), Beat { at: Tick(4800), first: true });
}

#[test]
fn a_tempo_set_where_the_section_is_left_is_not_heard() {
    let mut song = two_metres();
    let points = [(0, "120"), (960, "90")]
        .map(|(at, tempo)| TempoPoint { at: Tick(at), tempi: vec![bpm(tempo)] });
    Arc::make_mut(&mut song.sections[0]).tempo = TempoMap::with_points(points.into()).unwrap();
    let entry =
        |at, until| Entry { section: Letter::A, at: Tick(at), until: Tick(until), cut: true };
    let tempi = |entries: &[Entry]| -> Vec<(i64, Tempo)> {
        Walk::new(&song, entries).tempi(Tick(0)).map(|(at, tempo)| (at.0, tempo)).collect()
    };
    let (slow, quick) = (bpm("90"), bpm("120"));
    assert_eq!(tempi(&[entry(0, 960)]), [(0, quick)]);
    assert_eq!(tempi(&[entry(0, 961)]), [(0, quick), (960, slow)]);
    // A search up to a tick leaves out what changes there.
    let entries = [entry(0, 2880)];
    let steps = |to| Walk::new(&song, &entries).tempo_steps(Tick(to)).count();
    assert_eq!([960, 961].map(steps), [1, 2]);
}

#[test]
fn a_route_may_start_later_and_counts_in_and_keeps_time_from_there() {
    let song = two_metres();
    let section = "B".parse().unwrap();
    let entries = [Entry { section, at: Tick(1000), until: Tick(1000 + 4800), cut: false }];
    let walk = Walk::new(&song, &entries);
    let first: Vec<_> = walk.beats(Tick(0)).take(4).map(|beat| (beat.at.0, beat.first)).collect();
    assert_eq!(first, [(40, false), (520, false), (1000, true), (1480, false)]);
    // 480 ticks at 120 are a quarter of a second.
    assert_eq!([520, 1000, 1480].map(|at| walk.ns_at(Tick(at)) / MS), [-250, 0, 250]);
    assert_eq!(walk.timeline(Tick::MAX).ns_at(Tick(1480)), 250 * MS);
    assert_eq!(walk.visit_at(Tick(3500)).unwrap().inside(Tick(3500)), Tick(100));
    assert_eq!(walk.visit_at(Tick(10)).unwrap().inside(Tick(10)), Tick(0));
}

#[test]
fn the_bars_of_a_section_are_counted_anew_in_each_round() {
    let three = MetreMap::new(3, Metre::common()).unwrap();
    let song = Song::new("three", Section::new(Letter::A, three, Tempo::DEFAULT));
    let route = Route::rounds(&song, Letter::A, 2).unwrap();
    let counts = Walk::along(&song, &route).counts();
    let bars = |bar: i64| {
        let position = counts.at(Tick(3840 * bar)).unwrap();
        (position.bar, position.place.bar)
    };
    let expected = [(3, 0), (1, 1), (2, 2), (3, 3), (1, 4), (2, 5)];
    assert_eq!([-1, 0, 1, 2, 3, 4].map(bars), expected);
}

#[test]
fn a_place_in_the_count_in_has_the_metre_of_the_section_and_counts_up_from_one() {
    let song = two_metres();
    let route = Route::of(&song, &letters("BA")).unwrap();
    let walk = Walk::along(&song, &route);
    // Two bars of 5/8 are 4800 ticks.
    let place = |at| walk.count_in_place(Tick(-4800), Tick(at)).unwrap().to_string();
    assert_eq!(
        [-4800, -4321, -4320, -2401, -2400, -1].map(place),
        ["1.1.0", "1.1.479", "1.2.0", "1.5.479", "2.1.0", "2.5.479"]
    );
}

/// One, two, three, and the pickup is four (common practice, no source); the loop's short last bar and the pickup
/// make one bar, so that a beat one follows every fourth beat.
#[test]
fn a_pickup_is_counted_in_by_the_bar_that_it_completes() {
    let map = MetreMap::of_written(4, "pickup 1/4, 4/4", |metre| metre).unwrap();
    let song = Song::new("pickup", Section::new(Letter::A, map, bpm("120")));
    let route = Route::open(Letter::A);
    let walk = Walk::along(&song, &route);
    let beats = |from: i64, count| -> Vec<(i64, bool)> {
        walk.beats(Tick(from * 960)).map(|beat| (beat.at.0 / 960, beat.first)).take(count).collect()
    };
    // One bar of count-in is three beats; then twelve beats a round.
    let expected: Vec<(i64, bool)> = (-3..20).map(|beat| (beat, (beat + 3) % 4 == 0)).collect();
    assert_eq!(beats(-3, 23), expected);
    assert_eq!(beats(-7, 4), [(-7, true), (-6, false), (-5, false), (-4, false)], "two bars");
    let place = |at: i64| walk.count_in_place(Tick(-7 * 960), Tick(at * 960)).unwrap().to_string();
    assert_eq!([-7, -4, -3, -1].map(place), ["1.1.0", "1.4.0", "2.1.0", "2.3.0"]);
}

#[test]
fn music_that_begins_inside_a_section_is_counted_in_by_the_bar_there() {
    let metre = |bar, metre: &str| MetreChange { bar, metre: metre.parse().unwrap() };
    let map = MetreMap::with_changes(3, vec![metre(1, "4/4"), metre(3, "5/8")]).unwrap();
    let mut section = Section::new(Letter::A, map, bpm("120"));
    let point = |at, tempo| TempoPoint { at: Tick(at), tempi: vec![bpm(tempo)] };
    section.tempo = TempoMap::with_points(vec![point(0, "120"), point(7680, "90")]).unwrap();
    let song = Song::new("later", section);
    let route = Route::open(Letter::A);
    let walk = Walk::along(&song, &route).beginning(Tick(7680));
    // A bar of 5/8 is 2400 ticks.
    let beats: Vec<_> =
        walk.beats(Tick(5280)).map(|beat| (beat.at.0, beat.first)).take(6).collect();
    let count_in = [5280, 5760, 6240, 6720, 7200, 7680].map(|at| (at, (at - 5280) % 2400 == 0));
    assert_eq!(beats, count_in);
    let visit = walk.visit_at(Tick(6000)).unwrap();
    for before in [0, 6000, 7680] {
        assert_eq!((visit.inside(Tick(before)), visit.round(Tick(before)).index), (Tick(7680), 0));
        assert_eq!(walk.tempo_at(Tick(before)), Some(bpm("90")));
        assert_eq!(visit.metre(Tick(before)).to_string(), "5/8");
    }
    assert_eq!([7680, 8000, 10_080].map(|at| visit.bar_start(Tick(at)).0), [7680, 7680, 10_080]);
    let place = |at| walk.count_in_place(Tick(5280), Tick(at)).unwrap().to_string();
    assert_eq!([5280, 5760, 7679].map(place), ["1.1.0", "1.2.0", "1.5.479"]);
    // Bars and times from a tick on are those of the route: two bars of 2 s come before.
    assert_eq!(walk.bars(Tick(0)).next().map(|bar| bar.number), Some(1));
    assert_eq!(walk.ns_at(Tick(7680)) / MS, 4000);
    // The walk along the route itself has the first bar's.
    let plain = Walk::along(&song, &route);
    assert_eq!(plain.visit_at(Tick(6000)).unwrap().inside(Tick(6000)), Tick(6000));
    assert_eq!(plain.tempo_at(Tick(-10)), Some(bpm("120")));
}

#[test]
fn a_route_of_unknown_sections_is_empty() {
    let song = two_metres();
    let entry = Entry { section: "Q".parse().unwrap(), at: Tick(0), until: Tick::MAX, cut: false };
    let entries = [entry];
    for walk in [Walk::new(&song, &entries), Walk::new(&song, &[])] {
        assert_eq!((walk.beats(Tick(-99)).count(), walk.tempo_at(Tick(5))), (0, None));
        assert_eq!((walk.counts().at(Tick(0)), walk.counts().bar_start(1)), (None, None));
        assert_eq!(walk.ns_at(Tick(960)), 500 * MS);
        assert!(walk.landmarks(Span::new(Tick(0), Tick(99))).is_empty());
    }
}

/// A section of random metres and tempi.
fn any_section(letter: &'static str) -> impl Strategy<Value = Section> {
    let metre = (1u8..=7, prop_oneof![Just(4u8), Just(8), Just(16)]);
    let ramp = prop::collection::vec(60_000u32..2_000_000, 1..4);
    (1u32..4, metre.clone(), metre, ramp.clone(), ramp).prop_map(
        move |(bars, (count, unit), (second, other), first, ramp)| {
            let metre = |count, unit| Metre::new(count, unit).unwrap();
            let mut changes = vec![MetreChange { bar: 1, metre: metre(count, unit) }];
            if bars > 1 {
                changes.push(MetreChange { bar: bars, metre: metre(second, other) });
            }
            let map = MetreMap::with_changes(bars, changes).unwrap();
            let tempi = |all: Vec<u32>| -> Vec<Tempo> {
                all.into_iter().map(|micros| Tempo::from_micros(micros).unwrap()).collect()
            };
            let later = pulse::tick_of(first.len() as i64 + 1);
            let points = vec![
                TempoPoint { at: Tick::ZERO, tempi: tempi(first) },
                TempoPoint { at: later, tempi: tempi(ramp) },
            ];
            let mut section = Section::new(letter.parse().unwrap(), map, Tempo::DEFAULT);
            section.tempo = TempoMap::with_points(points).unwrap();
            section
        },
    )
}

/// The beats, bars, tops and tempi of a route, found tick by tick.
#[derive(Debug, Default, PartialEq)]
struct Naive {
    beats: Vec<Beat>,
    bars: Vec<(Tick, u32)>,
    tops: Vec<Tick>,
    tempi: Vec<(Tick, Tempo)>,
    units: i128,
}

fn naive(song: &Song, entries: &[Entry], from: Tick, to: Tick) -> Naive {
    let mut all = Naive::default();
    for entry in entries {
        let section = song.section(entry.section).unwrap();
        for tick in entry.at.0..entry.until.0.min(to.0) {
            let at = Tick(tick);
            let (_, inside) = (at - entry.at).cycle(section.length());
            if at < to {
                all.units += i128::from(section.tempo.at(inside).micros());
            }
            if at < from {
                continue;
            }
            let place = section.metre.place(inside);
            if place.tick == 0 {
                all.beats.push(Beat { at, first: place.beat == 1 });
            }
            if place.tick == 0 && place.beat == 1 {
                all.bars.push((at, place.bar as u32));
            }
            if inside == Tick::ZERO {
                all.tops.push(at);
            }
            let set = section.tempo.steps().find(|(step, _)| *step == inside);
            all.tempi.extend(set.map(|(_, tempo)| (at, tempo)));
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn a_walk_agrees_with_reading_every_tick(
        first in any_section("A"),
        second in any_section("B"),
        form in "[AB]{1,4}",
        cut in 0i64..4000,
        from in 0i64..9000,
    ) {
        let mut song = Song::new("random", first);
        song.sections.push(Arc::new(second));
        let mut entries = Route::of(&song, &letters(&form)).unwrap().entries;
        // The last visit is left early, as by a jump to nowhere.
        let last = entries.len() - 1;
        entries[last].until = entries[last].until.min(entries[last].at + Tick(cut + 1));
        let (from, to) = (Tick(from), entries[last].until);
        let walk = Walk::new(&song, &entries);
        let naive = naive(&song, &entries, from, to);
        prop_assert_eq!(walk.beats(from).collect::<Vec<_>>(), naive.beats);
        let bars = walk.bars(from).filter(|bar| bar.start >= from);
        prop_assert_eq!(bars.map(|bar| (bar.start, bar.number)).collect::<Vec<_>>(), naive.bars);
        let rounds = walk.rounds(from).filter(|round| round.start >= from);
        prop_assert_eq!(rounds.map(|round| round.start).collect::<Vec<_>>(), naive.tops);
        let tempi: Vec<_> = walk.tempi(from).filter(|&(at, _)| at >= from).collect();
        prop_assert_eq!(tempi, naive.tempi);
        // A tick lasts its tempo's microseconds / 960.
        prop_assert_eq!(i128::from(walk.ns_at(to)), (naive.units * 25).div_euclid(24));
        let steps = walk.tempo_steps(to).filter(|step| step.ns != walk.ns_at(step.at));
        prop_assert_eq!(steps.count(), 0);
    }

    #[test]
    fn tempo_steps_can_be_read_from_any_tick_on(section in any_section("A"), from in -100i64..1000) {
        let all = section.tempo.steps().filter(|&(at, _)| at >= Tick(from));
        let some = section.tempo.steps_from(Tick(from));
        prop_assert_eq!(some.collect::<Vec<_>>(), all.collect::<Vec<_>>());
    }
}
