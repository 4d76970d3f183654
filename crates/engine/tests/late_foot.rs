//! Record, next and stop that are pressed within one beat after a seam count for that seam, whatever
//! was played around it, and whether the input arrives at once or late.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Message, Rounds, Route, When};
use chaconne_song::{Channel, Feel, Letter, Note, Section, Song, TrackId, U7};
use chaconne_time::{MetreChange, MetreMap, NoteValue, Ns, Tempo, Tick, Timeline};
use std::sync::Arc;

const BAR: i64 = 3840;

/// When the foot comes, in ticks after the seam: at once, after half a beat, a tick before a whole
/// beat, and a tick after it.
const FEET: [i64; 4] = [0, 480, 959, 961];

/// Start, length and key of each note.
type Notes = Vec<(i64, i64, u8)>;

enum Event {
    On(u8),
    Off(u8),
    Foot(Command),
}
use Event::{Foot, Off, On};

fn message(event: &Event) -> Option<Message> {
    let (channel, velocity) = (Channel::default(), U7::low_bits(99));
    match *event {
        On(key) => Some(Message::NoteOn { channel, key: U7::low_bits(key), velocity }),
        Off(key) => Some(Message::NoteOff { channel, key: U7::low_bits(key), velocity }),
        Foot(_) => None,
    }
}

/// Plays events from the moment the transport starts. Notes arrive `late` nanoseconds after they were
/// played; a foot is never late in this sense.
fn play(b: &mut Bench, start: Command, mut events: Vec<(i64, Event)>, late: Ns) {
    let line = Timeline::new(Tick::ZERO, b.now, Tempo::DEFAULT);
    assert!(b.command(start));
    let comes = |tick: i64, event: &Event| {
        line.ns_at(Tick(tick)) + if matches!(event, Foot(_)) { 0 } else { late }
    };
    events.sort_by_key(|(tick, event)| comes(*tick, event));
    for (tick, event) in events {
        b.run_to(comes(tick, &event));
        match (message(&event), event) {
            (Some(message), _) => b.late_input(line.ns_at(Tick(tick)), message),
            (None, Foot(command)) => assert!(b.command(command), "refused at {tick}"),
            (None, _) => {}
        }
    }
}

/// The notes around the seam at the end of the first bar: one held over it, one just before it, one
/// early for it, two after it (the second at the end of the beat within which a foot counts for the
/// seam), and one after that beat.
fn round_the_seam() -> Vec<(i64, Event)> {
    vec![
        (BAR - 1000, On(48)),
        (BAR - 130, On(55)),
        (BAR - 125, Off(55)),
        (BAR - 60, On(60)),
        (BAR - 20, Off(60)),
        (BAR + 100, On(62)),
        (BAR + 200, Off(62)),
        (BAR + 940, On(64)),
        (BAR + 945, Off(64)),
        (BAR + 1200, Off(48)),
        (BAR + 1300, On(67)),
        (BAR + 1400, Off(67)),
    ]
}

fn with_foot(at: i64, command: Command) -> Vec<(i64, Event)> {
    let mut events = round_the_seam();
    events.push((at, Foot(command)));
    events
}

fn b() -> Letter {
    "B".parse().unwrap()
}

/// A song of two sections of one bar, A and B, and one track.
fn two_sections() -> Song {
    let mut two = song(1, 1);
    let section = Section { letter: b(), layers: Vec::new(), ..(*two.sections[0]).clone() };
    two.sections.push(section.into());
    two
}

/// The passes of a section.
fn passes(bench: &Bench, letter: Letter) -> Vec<Notes> {
    let spell = |note: &Note| (note.played.start.0, note.played.length.0, note.played.key.get());
    let song = bench.engine.song();
    let passes = song.passes_in(song.section(letter).unwrap());
    passes.iter().map(|pass| pass.notes().iter().map(spell).collect()).collect()
}

/// The notes that belong to the round which ends at the seam.
fn before() -> Notes {
    vec![(BAR - 1000, 2200, 48), (BAR - 130, 5, 55)]
}

/// The notes that belong to the round which begins at the seam, up to the end of its first beat, in a
/// pass that has the seam at tick `from`.
fn around(from: i64) -> Notes {
    vec![(from - 60, 40, 60), (from + 100, 100, 62), (from + 940, 5, 64)]
}

/// The notes of the round which ends at the seam if the take ends there too: no round begins there, so
/// the early note stays where it was played.
fn before_the_end() -> Notes {
    vec![before()[0], before()[1], (BAR - 60, 40, 60)]
}

/// The notes between the seam and a late foot, which become a pass of their own.
fn since_the_seam(foot: i64) -> Notes {
    around(0).into_iter().filter(|note| (0..=foot).contains(&note.0)).collect()
}

/// The notes after a late foot, which are in no pass.
fn since_the_foot(foot: i64) -> Notes {
    around(0).into_iter().chain(after(0)).filter(|note| note.0 > foot).collect()
}

/// The note after the beat within which a foot counts for the seam, in a pass that has the seam at tick
/// `from`.
fn after(from: i64) -> Notes {
    vec![(from + 1300, 100, 67)]
}

/// Checks every foot, first with input that arrives at once. Then with input that arrives 100 ms late,
/// often after a foot before which it was played, to an engine that leaves rounds open for 120 ms.
fn every_foot(song: &Song, check: impl Fn(&mut Bench, i64, Ns)) {
    for foot in FEET {
        check(&mut Bench::new(song.clone()), foot, 0);
        check(&mut Bench::with_grace(song.clone(), 120 * MS), foot, 100 * MS);
    }
}

fn stop(b: &mut Bench) {
    b.command(Command::Stop);
    b.check_wire();
}

/// Records until a foot in the second bar, which gives these passes if it is more than a beat after
/// the seam. An earlier foot counts for the seam.
fn record_until(b: &mut Bench, foot: i64, late: Ns, inside: Vec<Notes>) {
    let events = with_foot(BAR + foot, Command::Record(false));
    play(b, Command::Record(true), events, late);
    b.to(3 * BAR);
    let at_the_seam = vec![before_the_end(), since_the_seam(foot)];
    let expected = if foot > 960 { inside } else { at_the_seam };
    let expected: Vec<Notes> = expected.into_iter().filter(|notes| !notes.is_empty()).collect();
    assert_eq!(b.passes(), expected, "{foot} {late}");
}

#[test]
fn a_late_record_off_ends_the_take_at_the_seam() {
    every_foot(&song(1, 1), |b, foot, late| {
        record_until(b, foot, late, vec![before(), around(0)]);
        let rest = if foot > 960 { after(0) } else { since_the_foot(foot) };
        // What was played after the take can still be kept.
        assert!(b.command(Command::Keep), "{foot} {late}");
        assert_eq!(b.passes().pop(), Some(rest), "{foot} {late}");
        stop(b);
    });
}

#[test]
fn a_late_record_off_ends_a_take_of_one_pass_at_the_seam() {
    every_foot(&song(1, 1), |b, foot, late| {
        b.command(Command::Rounds(Rounds::One));
        record_until(b, foot, late, vec![[before(), around(BAR)].concat()]);
        let length = b.engine.song().passes_in(&b.engine.song().sections[0])[0].length.0;
        assert_eq!(length, if foot > 960 { 2 * BAR } else { BAR });
        stop(b);
    });
}

#[test]
fn a_late_record_on_begins_the_take_at_the_seam() {
    every_foot(&song(1, 1), |b, foot, late| {
        let events = with_foot(BAR + foot, Command::Record(true));
        play(b, Command::Play, events, late);
        b.to(2 * BAR + 400);
        let expected = if foot < 960 { [around(0), after(0)].concat() } else { after(0) };
        assert_eq!(b.passes(), [expected], "{foot} {late}");
        stop(b);
    });
}

#[test]
fn a_late_jump_takes_the_notes_since_the_seam_to_the_new_section() {
    every_foot(&two_sections(), |bench, foot, late| {
        play(
            bench,
            Command::Record(true),
            with_foot(BAR + foot, Command::Jump(b(), When::Seam)),
            late,
        );
        bench.to(2 * BAR + 400);
        let since = [around(0), after(0)].concat();
        let expected = match foot {
            ..960 => (vec![before()], vec![since]),
            _ => (vec![before(), since], vec![]),
        };
        let found = (passes(bench, Letter::A), passes(bench, b()));
        assert_eq!(found, expected, "{foot} {late}");
        stop(bench);
    });
}

#[test]
fn a_late_jump_in_a_take_of_one_pass_keeps_what_was_played_before_the_seam() {
    every_foot(&two_sections(), |bench, foot, late| {
        bench.command(Command::Rounds(Rounds::One));
        play(
            bench,
            Command::Record(true),
            with_foot(BAR + foot, Command::Jump(b(), When::Seam)),
            late,
        );
        bench.to(2 * BAR + 400);
        bench.command(Command::Record(false));
        let expected = match foot {
            ..960 => (vec![before()], vec![[around(0), after(0)].concat()]),
            _ => (vec![[before(), around(BAR), after(BAR)].concat()], vec![]),
        };
        let found = (passes(bench, Letter::A), passes(bench, b()));
        assert_eq!(found, expected, "{foot} {late}");
        stop(bench);
    });
}

#[test]
fn a_late_stop_ends_the_take_at_the_seam_and_held_notes_at_the_stop() {
    every_foot(&song(1, 1), |b, foot, late| {
        play(b, Command::Record(true), with_foot(BAR + foot, Command::Stop), late);
        // A held note ends at the stop.
        let mut first = vec![(BAR - 1000, 1000 + foot, 48), before()[1]];
        let since: Notes = around(0).into_iter().filter(|note| note.0 < foot).collect();
        let since = if foot > 960 { since } else { since_the_seam(foot) };
        if foot < 960 {
            first.push(before_the_end()[2]);
        }
        let expected: Vec<Notes> =
            [first, since].into_iter().filter(|notes| !notes.is_empty()).collect();
        assert_eq!(b.passes(), expected, "{foot} {late}");
        b.check_wire();
        assert!(!b.command(Command::Keep), "everything is in a pass: {foot} {late}");
    });
}

#[test]
fn what_was_played_without_recording_can_be_kept_after_a_stop() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.press(BAR + 100, 60);
    b.lift(BAR + 200, 60);
    b.press(2 * BAR + 50, 62);
    b.to(2 * BAR + 1000);
    b.command(Command::Stop);
    b.lift(2 * BAR + 1100, 62);
    assert!(b.command(Command::Keep));
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(100, 100, 60)], vec![(50, 950, 62)]]);
    assert!(!b.command(Command::Keep));
    b.command(Command::Undo);
    b.command(Command::Undo);
    assert!(b.passes().is_empty());
    b.command(Command::Play);
    assert!(!b.command(Command::Keep), "a new run begins with nothing played");
    b.command(Command::Stop);
}

/// A song of one bar whose track makes passes of two.
fn long_passes() -> Song {
    let mut song = two_sections();
    Arc::make_mut(&mut song.tracks[0]).pass_length = Some(Tick(2 * BAR));
    song
}

#[test]
fn in_a_pass_longer_than_the_section_a_late_foot_counts_for_the_sections_seam() {
    every_foot(&long_passes(), |b, foot, late| {
        record_until(b, foot, late, vec![[before(), around(BAR)].concat()]);
        assert_eq!(
            b.engine.song().passes_in(&b.engine.song().sections[0])[0].length,
            Tick(2 * BAR)
        );
        stop(b);
    });
    every_foot(&long_passes(), |b, foot, late| {
        let events = with_foot(BAR + foot, Command::Record(true));
        play(b, Command::Play, events, late);
        b.to(2 * BAR + 400);
        let expected = if foot < 960 { [around(BAR), after(BAR)].concat() } else { after(BAR) };
        assert_eq!(b.passes(), [expected], "{foot} {late}");
        stop(b);
    });
}

#[test]
fn a_jump_ends_a_pass_longer_than_the_section_where_the_section_is_left() {
    every_foot(&long_passes(), |bench, foot, late| {
        play(
            bench,
            Command::Record(true),
            with_foot(BAR + foot, Command::Jump(b(), When::Seam)),
            late,
        );
        bench.to(5 * BAR);
        let expected = match foot {
            ..960 => (vec![before()], vec![[around(0), after(0)].concat()]),
            _ => (vec![[before(), around(BAR), after(BAR)].concat()], vec![]),
        };
        let found = (passes(bench, Letter::A), passes(bench, b()));
        assert_eq!(found, expected, "{foot} {late}");
        stop(bench);
    });
    // Here the jump comes before the seam in the middle of the pass.
    let mut bench = Bench::new(long_passes());
    let mut events = with_foot(BAR - 500, Command::Jump(b(), When::Seam));
    events.push((BAR + 2000, On(70)));
    events.push((BAR + 2100, Off(70)));
    play(&mut bench, Command::Record(true), events, 0);
    bench.to(4 * BAR);
    assert_eq!(passes(&bench, Letter::A), [before()]);
    let since = [around(0), after(0), vec![(2000, 100, 70)]].concat();
    assert_eq!(passes(&bench, b()), [since]);
    stop(&mut bench);
}

#[test]
fn a_jump_within_a_beat_after_the_form_changed_section_replaces_that_section() {
    let mut three = two_sections();
    let c: Letter = "C".parse().unwrap();
    let section = Section { letter: c, layers: Vec::new(), ..(*three.sections[0]).clone() };
    three.sections.push(section.into());
    for (foot, wanted) in [(0, c), (959, c), (961, c), (300, Letter::A), (300, b())] {
        let mut bench = Bench::new(three.clone());
        let route = Route::of(&three, &[Letter::A, b(), Letter::A]).unwrap();
        play(&mut bench, Command::PlayRoute(route), vec![], 0);
        bench.command(Command::Record(true));
        bench.press(BAR - 60, 60);
        bench.lift(BAR - 10, 60);
        bench.to(BAR + foot);
        bench.command(Command::Jump(wanted, When::Seam));
        let status = bench.engine.status(bench.now);
        let expected = if foot < 960 { wanted } else { b() };
        assert_eq!(status.section, expected, "{foot}");
        let stays = bench.engine.entries();
        assert!(stays.iter().all(|stay| stay.at < stay.until), "{foot}: {stays:?}");
        assert_eq!(status.in_section, Tick(foot));
        assert_eq!(status.next_section, (foot > 960).then_some(c));
        bench.to(2 * BAR + 200);
        assert_eq!(passes(&bench, expected), [[(-60, 50, 60)]], "{foot}");
        stop(&mut bench);
    }
}

#[test]
fn the_newest_round_does_not_mute_a_pass_that_was_undone() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR + 100);
    assert!(b.command(Command::Undo));
    b.press(BAR + 500, 62);
    b.lift(BAR + 600, 62);
    b.to(2 * BAR + 10);
    assert_eq!(b.passes(), [[(500, 100, 62)]]);
    stop(&mut b);
}

#[test]
fn late_input_after_the_foot_is_in_the_same_step_of_undo() {
    let mut b = Bench::with_grace(song(1, 1), 120 * MS);
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR + 100);
    b.command(Command::Record(false));
    b.late_note(BAR - 200, 40, 62);
    let both = [vec![(100, 100, 60), (BAR - 200, 40, 62)]];
    assert_eq!(b.passes(), both);
    b.to(2 * BAR);
    let heard = "3940+60 4040-60 7480+62 7520-62";
    assert_eq!(b.heard(BAR, 2 * BAR), heard, "it sounds where it was played");
    b.command(Command::Undo);
    assert!(b.passes().is_empty());
    b.command(Command::Redo);
    assert_eq!(b.passes(), both);
    stop(&mut b);
}

#[test]
fn late_input_makes_a_pass_of_a_round_that_was_empty_at_the_foot() {
    let mut b = Bench::with_grace(song(1, 1), 120 * MS);
    b.command(Command::Record(true));
    b.to(BAR + 100);
    b.command(Command::Record(false));
    b.late_note(BAR - 200, 40, 62);
    b.to(2 * BAR);
    b.late_note(2 * BAR - 200, 40, 64);
    assert_eq!(b.passes(), [[(BAR - 200, 40, 62)]], "only what belongs to the take");
    b.command(Command::Undo);
    b.late_note(BAR - 150, 10, 65);
    assert!(b.passes().is_empty(), "what was undone stays undone");
    stop(&mut b);
}

#[test]
fn a_beat_after_the_seam_is_no_longer_late() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Play);
    bench.press(BAR + 100, 60);
    bench.lift(BAR + 200, 60);
    bench.to(BAR + 960);
    bench.command(Command::Record(true));
    bench.press(BAR + 1000, 62);
    bench.lift(BAR + 1100, 62);
    bench.to(2 * BAR + 400);
    assert_eq!(bench.passes(), [[(1000, 100, 62)]]);
    stop(&mut bench);
}

#[test]
fn the_beat_is_that_of_the_metre_at_the_seam() {
    // In B a bar of 4/4 is followed by one of 6/8, whose beat is half as long. Passes of the track are
    // as long as the first bar, so one begins where the metre changes.
    for (foot, expected) in [(470, vec![(100, 40, 60)]), (490, vec![])] {
        let mut song = song(1, 1);
        let bars = |metre: &str| MetreMap::new(1, metre.parse().unwrap()).unwrap();
        let tempo = Tempo::DEFAULT;
        song.sections = vec![Arc::new(Section::new(Letter::A, bars("2/4"), tempo))];
        let change = |bar, metre: &str| MetreChange { bar, metre: metre.parse().unwrap() };
        let metre = MetreMap::with_changes(2, vec![change(1, "4/4"), change(2, "6/8")]).unwrap();
        song.sections.push(Arc::new(Section::new(b(), metre, tempo)));
        Arc::make_mut(&mut song.tracks[0]).pass_length = Some(Tick(BAR));
        let route = Route::of(&song, &[Letter::A, b()]).unwrap();
        let mut bench = Bench::new(song);
        bench.command(Command::PlayRoute(route));
        let seam = BAR / 2 + BAR;
        bench.press(seam + 100, 60);
        bench.lift(seam + 140, 60);
        bench.to(seam + foot);
        bench.command(Command::Record(true));
        bench.to(seam + 1500);
        bench.command(Command::Record(false));
        let found: Notes = passes(&bench, b()).into_iter().flatten().collect();
        assert_eq!(found, expected, "{foot}");
        stop(&mut bench);
    }
}

#[test]
fn a_late_jump_leaves_a_take_of_one_pass_as_long_as_its_rounds() {
    let mut bench = Bench::new(two_sections());
    bench.command(Command::Rounds(Rounds::One));
    bench.command(Command::Play);
    bench.to(BAR + 10);
    bench.command(Command::Record(true));
    for (tick, key) in [(BAR + 500, 60), (2 * BAR + 1000, 62)] {
        bench.press(tick, key);
        bench.lift(tick + 100, key);
    }
    bench.to(3 * BAR + 500);
    bench.command(Command::Jump(b(), When::Seam));
    bench.to(4 * BAR + 100);
    bench.command(Command::Record(false));
    assert_eq!(passes(&bench, Letter::A), [[(500, 100, 60), (BAR + 1000, 100, 62)]]);
    let song = bench.engine.song();
    assert_eq!(song.passes_in(&song.sections[0])[0].length, Tick(2 * BAR));
    stop(&mut bench);
}

#[test]
fn what_was_played_since_the_seam_is_heard_from_the_next_round_on() {
    // Feel would move this note later than the foot.
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Feel(TrackId(1), Feel::off(false).on(NoteValue::SIXTEENTH)));
    bench.command(Command::Record(true));
    bench.press(BAR + 900, 60);
    bench.lift(BAR + 930, 60);
    bench.to(BAR + 940);
    bench.command(Command::Record(false));
    bench.to(3 * BAR);
    assert_eq!(bench.heard(0, 3 * BAR), "8640+60 8670-60");
    stop(&mut bench);
}

#[test]
fn a_jump_a_whole_beat_after_the_seam_waits_for_the_next_one() {
    for (foot, section) in [(959, b()), (960, Letter::A)] {
        let mut bench = Bench::new(two_sections());
        bench.command(Command::Play);
        bench.to(BAR + foot);
        bench.command(Command::Jump(b(), When::Seam));
        assert_eq!(bench.engine.status(bench.now).section, section, "{foot}");
        stop(&mut bench);
    }
}

#[test]
fn a_take_that_begins_and_ends_within_a_beat_of_one_seam_has_the_note_played_early_for_it() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Play);
    bench.press(BAR - 60, 60);
    bench.lift(BAR - 20, 60);
    bench.to(BAR + 100);
    bench.command(Command::Record(true));
    bench.press(BAR + 200, 62);
    bench.lift(BAR + 300, 62);
    bench.to(BAR + 500);
    bench.command(Command::Record(false));
    assert_eq!(bench.passes(), [[(-60, 40, 60), (200, 100, 62)]]);
    stop(&mut bench);
}

#[test]
fn a_note_that_feel_moves_later_than_the_foot_is_not_heard_in_that_round() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Feel(TrackId(1), Feel::off(false).on(NoteValue::QUARTER)));
    bench.command(Command::Record(true));
    bench.press(2450, 60);
    bench.lift(2480, 60);
    bench.to(2600);
    bench.command(Command::Record(false));
    bench.to(2 * BAR);
    assert_eq!(bench.heard(0, 2 * BAR), "6720+60 6750-60");
    stop(&mut bench);
}

#[test]
fn a_note_struck_at_the_tick_of_the_foot_is_in_the_take() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Record(true));
    for tick in [2000, 2600] {
        bench.press(tick, 60);
        bench.lift(tick, 60);
    }
    assert_eq!(bench.engine.tick_at(bench.now), Some(Tick(2600)));
    bench.command(Command::Record(false));
    let starts: Vec<i64> = bench.passes().concat().iter().map(|note| note.0).collect();
    assert_eq!(starts, [2000, 2600]);
    stop(&mut bench);
}

/// A foot during the count-in records nothing, not even what was early for bar one; a foot at the very beginning keeps
/// that as a round of its own.
#[test]
fn a_foot_before_the_take_begins_keeps_nothing_and_one_at_its_beginning_what_was_early() {
    for (foot, kept) in [(-20, vec![]), (0, vec![vec![(-60, 30, 60)]])] {
        let mut b = Bench::new(song(1, 1));
        b.command(Command::CountIn(1));
        b.command(Command::Record(true));
        b.press(-60, 60);
        b.lift(-30, 60);
        b.to(foot);
        assert_eq!(b.engine.tick_at(b.now), Some(Tick(foot)));
        assert!(b.command(Command::Record(false)));
        b.to(BAR + 100);
        assert_eq!(passes(&b, Letter::A), kept, "a foot at {foot}");
        b.command(Command::Stop);
        b.check_wire();
    }
}
