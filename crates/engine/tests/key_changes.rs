//! Transposing the song or a section while it plays, at the next seam, bar or beat, on the virtual-time bench.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{ByHand, Command, HandStep, KeyOf, NewKey, Route, Turn, View, When, perform};
use chaconne_song::{
    Channel, Commit, Control, Edit, Label, Lane, Letter, Note, NoteId, Pass, PassId, Point,
    Section, SectionEdit, Song, Stroke, Track, TrackId, Transpose, U7, U14,
};
use chaconne_time::{Ns, Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
const BEAT: i64 = 960;

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

fn to(by: i8) -> Transpose {
    Transpose::new(by).unwrap()
}

/// A pass of two bars: the start, the length and the key of each note.
fn pass(id: u32, track: u32, notes: &[(i64, i64, u8)]) -> Pass {
    let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(2 * BAR));
    for (&(start, length, key), id) in notes.iter().zip(1..) {
        let played = Stroke {
            start: Tick(start),
            length: Tick(length),
            key: U7::low_bits(key),
            velocity: U7::low_bits(80),
            release: U7::CENTRE,
        };
        let (id, channel) = (NoteId(id), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Default::default() });
    }
    pass
}

/// Two bars, a pass on them, and a stroke of a drum track in each.
fn playing(notes: &[(i64, i64, u8)]) -> Song {
    let mut song = song(2, 1);
    song.tracks.push(Arc::new(Track::drums(TrackId(2), "Drums")));
    song.lay(Letter::A, pass(9, 1, notes));
    song.lay(Letter::A, pass(10, 2, &[(0, 8000, 40)]));
    song
}

/// A bench that plays a song from the top of its first section.
fn started(song: Song) -> Bench {
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b
}

fn up(by: i8, when: When) -> Command {
    Command::Transpose(KeyOf::Song, NewKey::By(by), Some(when))
}

fn said(b: &Bench) -> String {
    b.engine.status(b.now).said.1
}

/// What is pending: the tick, and the transposition of the song.
fn coming(b: &Bench) -> Option<(i64, i8)> {
    let change = b.engine.status(b.now).key_change?;
    Some((change.at.0, change.to[&KeyOf::Song].semitones()))
}

fn of_song(b: &Bench) -> i8 {
    b.engine.song().transpose.semitones()
}

/// Stops, and checks that nothing hangs.
fn end(mut b: Bench) {
    b.command(Command::Stop);
    b.run_to(b.now + 100 * MS);
    b.check_wire();
}

/// Notes of a beat and a half on each beat, an octave of keys apart from the drum's.
const OVERLAPPING: [(i64, i64, u8); 4] =
    [(0, 1440, 60), (BEAT, 1440, 62), (2 * BEAT, 1440, 64), (7 * BEAT, 1440, 65)];

#[test]
fn the_new_key_begins_at_the_next_seam_bar_or_beat() {
    // (when, asked for at, the tick at which it comes)
    for (when, asked, at) in [
        (When::Seam, 1500, 2 * BAR),
        (When::Bar, 1500, BAR),
        (When::Beat, 1500, 2 * BEAT),
        (When::Bar, 5 * BEAT + 10, 2 * BAR),
        (When::Beat, 7 * BEAT + 10, 2 * BAR),
        // So near that it has been performed already.
        (When::Beat, 2 * BEAT - 30, 2 * BEAT),
        (When::Seam, 2 * BAR - 5, 2 * BAR),
        // The tick at which the music began is no seam.
        (When::Seam, 500, 2 * BAR),
        (When::Bar, 500, BAR),
    ] {
        let mut b = started(playing(&OVERLAPPING));
        b.to(asked);
        assert!(b.command(up(2, when)));
        assert_eq!(coming(&b), Some((at, 2)), "{when:?} at {asked}");
        assert_eq!(of_song(&b), 0);
        b.to(at - 1);
        assert_eq!(of_song(&b), 0);
        b.to(at);
        b.turn();
        assert_eq!((coming(&b), of_song(&b)), (None, 2), "{when:?} at {asked}");
        b.to(at + 2 * BAR);
        end(b);
    }
}

#[test]
fn what_sounds_is_released_there_and_drums_play_on() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1500);
    b.command(up(2, When::Beat));
    b.to(5000);
    // The second note is struck before the beat and cut there; the drum is held for two bars.
    assert_eq!(b.heard(0, 5000), "0+40 0+60 960+62 1440-60 1920-62 1920+66 3360-66");
    b.to(2 * BAR + 100);
    assert_eq!(b.heard(5000, 2 * BAR + 1), "6720+67 7680-40 7680+40 7680+62");
    end(b);
}

/// A note within half a grid step before the beat, here 120 ticks, is meant for it (docs/time.md, "Rounds and the
/// seam"): it is in the new key, and it sounds on.
#[test]
fn an_early_note_that_is_meant_for_the_beat_is_in_the_new_key() {
    for (early, heard) in [
        (121, "1799+62 1920-62 1920+66 2400-66"),
        (120, "1800+64 1920+66 2400-66 2760-64"),
        (1, "1919+64 1920+66 2400-66 2879-64"),
    ] {
        let notes = [(2 * BEAT - early, BEAT, 62), (2 * BEAT, 480, 64)];
        let mut b = started(playing(&notes));
        b.to(1500);
        b.command(up(2, When::Beat));
        b.to(5000);
        assert_eq!(b.heard(1, 5000), heard, "{early} ticks early");
        end(b);
    }
}

/// What begins early for the round is in its key; the same note would be in the old one if the round went on.
#[test]
fn an_early_note_of_the_next_round_is_in_the_new_key() {
    let mut b = started(playing(&[(-200, BEAT, 60)]));
    b.to(5 * BEAT);
    b.command(up(-3, When::Seam));
    b.to(2 * BAR + 2 * BEAT);
    assert_eq!(b.heard(BAR, 2 * BAR + 2 * BEAT), "7480+57 7680-40 7680+40 8440-57");
    end(b);
}

/// If an early note of the beat sounds already, it is corrected at once.
#[test]
fn an_early_note_that_sounds_already_is_struck_again_in_the_new_key() {
    let mut b = started(playing(&[(2 * BEAT - 100, BEAT, 62)]));
    b.to(2 * BEAT - 60);
    b.command(up(2, When::Beat));
    b.to(BAR);
    assert_eq!(b.heard(1, BAR), "1820+62 1860-62 1861+64 2821-64");
    end(b);
}

/// A pedal that is down goes up and down again where the key changes: what it holds is in the old key. Controllers
/// that do not depend on the key go on as they were.
#[test]
fn a_pedal_that_is_down_is_taken_anew() {
    let mut song = playing(&OVERLAPPING);
    let lane = |control, from: i64, to: i64, values: &[(i64, u16)]| Lane {
        channel: Channel::default(),
        control,
        span: Span::new(Tick(from), Tick(to)),
        points: values
            .iter()
            .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
            .collect(),
    };
    let mut moved = pass(11, 1, &[]);
    let wheel = Control::Change(U7::low_bits(1));
    moved.notes_mut().lanes = vec![
        lane(Control::SUSTAIN, 500, 3001, &[(500, 127), (3000, 0)]),
        lane(wheel, 600, 5001, &[(600, 40), (2500, 90), (5000, 0)]),
    ];
    song.lay(Letter::A, moved);
    let mut b = started(song);
    b.to(1500);
    b.command(up(2, When::Beat));
    b.to(5500);
    assert_eq!(
        b.heard(400, 5500),
        "500c64=127 600c1=40 960+62 1440-60 1920-62 1920c64=0 1920c64=127 1920+66 2500c1=90 3000c64=0 \
         3360-66 5000c1=0"
    );
    // Where it is up, it is left alone.
    b.command(up(-2, When::Bar));
    b.to(2 * BAR + 100);
    assert_eq!(b.heard(5500, 2 * BAR + 100), "6720+67 7680-67 7680-40 7680+60 7680+40");
    end(b);
}

/// The pressure of a key moves with the key.
#[test]
fn the_pressure_of_a_key_goes_to_its_new_key() {
    let mut song = playing(&[(0, 4000, 60)]);
    let mut moved = pass(11, 1, &[]);
    moved.notes_mut().lanes = vec![Lane {
        channel: Channel::default(),
        control: Control::KeyPressure(U7::low_bits(60)),
        span: Span::new(Tick(500), Tick(4000)),
        points: [(500, 50), (3000, 70)]
            .map(|(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
            .into(),
    }];
    song.lay(Letter::A, moved);
    let mut b = started(song);
    b.to(1500);
    b.command(up(2, When::Beat));
    b.to(4500);
    let pressure = b.wire.iter().filter_map(|(at, message)| match message {
        chaconne_engine::Message::KeyPressure { key, value, .. } => {
            Some((at.0, key.get(), value.get()))
        }
        _ => None,
    });
    let pressure: Vec<_> = pressure.filter(|&(at, ..)| at > 0).collect();
    assert_eq!(
        pressure,
        [(500, 60, 50), (1501, 62, 0), (1920, 60, 0), (1920, 62, 50), (3000, 62, 70)]
    );
    end(b);
}

/// From the tick on the wire has what an export of the transposed song has, in the second round as in the first,
/// and with a layer muted meanwhile.
#[test]
fn from_there_on_it_plays_what_the_transposed_song_plays() {
    for (asked, when, at) in [
        (1500, When::Beat, 2 * BEAT),
        (2 * BAR + 1500, When::Bar, 3 * BAR),
        (BAR, When::Seam, 2 * BAR),
    ] {
        let mut song = playing(&OVERLAPPING);
        song.lay(Letter::A, pass(12, 1, &[(0, 300, 72), (5000, 2000, 74)]));
        let mut b = started(song);
        b.to(asked);
        assert!(b.command(up(4, when)));
        b.to(asked + 40);
        assert!(b.command(Command::MutePass(Letter::A, PassId(12), true)));
        b.to(at - 20);
        assert!(b.command(Command::MutePass(Letter::A, PassId(12), false)));
        b.to(at + 10);
        // Another edit just after it does not disturb it.
        assert!(b.command(Command::MutePass(Letter::A, PassId(10), true)));
        b.to(at + 2 * BAR);
        let song = Song::clone(b.engine.song());
        assert_eq!(song.transpose, to(4));
        let route = Route::rounds(&song, Letter::A, 4).unwrap();
        let span = Span::new(Tick::ZERO, Tick(8 * BAR));
        let said = perform(&song, &route, span, View::Corrected);
        let said = said.events.iter().filter_map(|event| match event.wire {
            chaconne_engine::Wire::Message(message) => Some((event.at, message)),
            chaconne_engine::Wire::SysEx(_) => None,
        });
        let presses = |all: Vec<(Tick, chaconne_engine::Message)>| -> Vec<(i64, u8)> {
            let on = |(at, message): &(Tick, chaconne_engine::Message)| match message {
                chaconne_engine::Message::NoteOn { key, .. } if key.get() != 40 => {
                    Some((at.0, key.get()))
                }
                _ => None,
            };
            let inside = |at: i64| at..at + 2 * BAR;
            all.iter().filter_map(on).filter(|(tick, _)| inside(at).contains(tick)).collect()
        };
        assert_eq!(presses(b.wire.clone()), presses(said.collect()), "{when:?}");
        end(b);
    }
}

#[test]
fn undo_takes_back_the_one_that_is_coming_and_then_the_step() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1000);
    b.command(up(2, When::Seam));
    assert_eq!(b.engine.status(b.now).undo, Some(Turn::KeyChange));
    b.to(2 * BAR - 10);
    assert!(b.command(Command::Undo));
    assert_eq!(
        (coming(&b), of_song(&b), said(&b).as_str()),
        (None, 0, "undone: coming key change")
    );
    b.to(2 * BAR + 500);
    assert_eq!(b.heard(2 * BAR - 5, 2 * BAR + 500), "7680-40 7680+40 7680+60 8160-65");
    b.command(up(2, When::Beat));
    b.to(2 * BAR + 2 * BEAT);
    assert_eq!(of_song(&b), 2);
    assert_eq!(b.engine.status(b.now).undo, Some(Turn::Step(Label::Transpose, None, None)));
    assert!(b.command(Command::Undo));
    assert_eq!(of_song(&b), 0);
    assert!(!b.command(Command::Undo));
    assert!(b.command(Command::Redo));
    assert_eq!(of_song(&b), 2);
    end(b);
}

#[test]
fn a_second_request_replaces_the_first_and_steps_add_up() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1000);
    b.command(up(1, When::Seam));
    assert_eq!(said(&b), "the song goes up 1 semitone at the next seam");
    b.command(up(1, When::Seam));
    b.command(up(1, When::Bar));
    assert_eq!(coming(&b), Some((BAR, 3)));
    assert_eq!(said(&b), "the song goes up 3 semitones at the next bar");
    b.command(Command::Transpose(KeyOf::Song, NewKey::To(to(-5)), Some(When::Seam)));
    assert_eq!(coming(&b), Some((2 * BAR, -5)));
    assert_eq!(said(&b), "the song goes down 5 semitones at the next seam");
    // The section's transposition comes with it.
    let section = KeyOf::Section(Letter::A);
    b.command(Command::Transpose(section, NewKey::By(1), Some(When::Bar)));
    let change = b.engine.status(b.now).key_change.unwrap();
    assert_eq!((change.at, change.when), (Tick(BAR), When::Bar));
    assert_eq!(change.to, [(KeyOf::Song, to(-5)), (section, to(1))].into());
    // Back to where it is: nothing is left to come.
    b.command(Command::Transpose(section, NewKey::By(-1), Some(When::Bar)));
    b.command(up(5, When::Seam));
    assert_eq!(b.engine.status(b.now).key_change, None);
    assert_eq!(said(&b), "the song stays in its key");
    // At once, it takes with it what was to come.
    b.command(up(2, When::Seam));
    assert!(b.command(Command::Transpose(KeyOf::Song, NewKey::By(1), None)));
    assert_eq!((coming(&b), of_song(&b)), (None, 3));
    assert_eq!(said(&b), "the song goes up 3 semitones now");
    b.to(2000);
    assert!(b.heard(1100, 2000).ends_with("1920+67"), "{}", b.heard(1100, 2000));
    end(b);
}

#[test]
fn a_request_out_of_range_is_refused_and_leaves_what_is_to_come() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1000);
    b.command(up(30, When::Seam));
    assert!(!b.command(up(7, When::Bar)));
    assert_eq!(said(&b), "a transposition goes up to 36 semitones up or down");
    assert_eq!(coming(&b), Some((2 * BAR, 30)));
    let gone = KeyOf::Section(letter("Q"));
    assert!(!b.command(Command::Transpose(gone, NewKey::By(1), Some(When::Bar))));
    assert_eq!(said(&b), "there is no section Q");
    end(b);
}

/// The band has agreed on the key; the next start is in it. It is one step of undo.
#[test]
fn a_stop_before_it_gives_the_song_the_key_at_once() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1000);
    b.command(up(2, When::Seam));
    b.command(Command::Stop);
    assert_eq!((coming(&b), of_song(&b)), (None, 2));
    b.command(Command::Play);
    b.run_to(b.now + 20 * MS);
    assert!(b.heard(0, 1).contains("0+62"));
    b.command(Command::Stop);
    b.command(Command::Undo);
    assert_eq!(of_song(&b), 0);
    end(b);
    // While stopped, it is at once in any case; the end of a route is a stop, too.
    let mut b = Bench::new(playing(&OVERLAPPING));
    b.command(up(1, When::Seam));
    assert_eq!(of_song(&b), 1);
    let route = Route::rounds(b.engine.song(), Letter::A, 1).unwrap();
    b.command(Command::PlayRoute(route));
    b.to(1000);
    b.command(up(1, When::Seam));
    b.run_to(b.now + 5000 * MS);
    assert_eq!((b.engine.tick_at(b.now), of_song(&b)), (None, 2));
    end(b);
}

#[test]
fn it_counts_at_once_just_after_a_seam_or_a_bar_line() {
    for (when, asked) in [(When::Seam, 2 * BAR + 900), (When::Bar, BAR + 900)] {
        let mut b = started(playing(&OVERLAPPING));
        b.to(asked);
        b.command(up(2, when));
        assert_eq!((coming(&b), of_song(&b)), (None, 2), "{when:?}");
        end(b);
    }
}

/// Section B plays next, so nothing has to wait; section A plays, so it does.
#[test]
fn a_section_that_does_not_play_is_transposed_at_once() {
    let mut song = playing(&OVERLAPPING);
    let second = Section { letter: letter("B"), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(second));
    song.form = "A B A".parse().unwrap();
    let route = Route::form(&song).unwrap();
    let mut b = Bench::new(song);
    b.command(Command::PlayRoute(route));
    b.to(2000);
    let of = |letter| KeyOf::Section(letter);
    b.command(Command::Transpose(of(letter("B")), NewKey::By(5), Some(When::Seam)));
    assert_eq!(b.engine.status(b.now).key_change, None);
    assert_eq!(b.engine.song().sections[1].transpose, to(5));
    b.command(Command::Transpose(of(Letter::A), NewKey::By(1), Some(When::Bar)));
    assert_eq!(b.engine.status(b.now).key_change.unwrap().at, Tick(BAR));
    b.to(BAR + 10);
    assert_eq!(b.engine.song().sections[0].transpose, to(1));
    b.to(4 * BAR + 100);
    let keys = b.heard(BAR + 10, 4 * BAR + 100).replace("7680-40 ", "").replace("15360-40 ", "");
    assert_eq!(
        keys,
        "6720+66 7680+40 7680+65 8160-66 8640+67 9120-65 9600+69 10080-67 11040-69 14400+70 15360+40 15360+61"
    );
    end(b);
}

/// A jump at the next bar is a seam that comes sooner.
#[test]
fn it_follows_the_seam_where_a_jump_moves_it() {
    let mut song = playing(&OVERLAPPING);
    let second = Section { letter: letter("B"), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(second));
    let mut b = started(song);
    b.to(1000);
    b.command(up(2, When::Seam));
    b.command(Command::Jump(letter("B"), When::Bar));
    assert_eq!(coming(&b), Some((BAR, 2)));
    b.to(BAR + 100);
    assert_eq!(of_song(&b), 2);
    assert!(b.heard(BAR, BAR + 100).contains("3840+62"));
    // Other bars in mid-round: the section starts from the top, and that is its seam.
    b.command(up(2, When::Seam));
    b.to(BAR + 1500);
    b.command(up(2, When::Seam));
    let bars = chaconne_time::MetreMap::new(3, chaconne_time::Metre::common()).unwrap();
    let edit = Edit::Section(letter("B"), SectionEdit::Metre(bars));
    b.command(Command::Edit(Commit::of(edit)));
    b.to(BAR + 1600);
    assert_eq!((coming(&b), of_song(&b)), (None, 6));
    end(b);
}

/// A new tempo does not move it: it is at its tick.
#[test]
fn a_new_tempo_does_not_move_it() {
    let mut b = started(playing(&OVERLAPPING));
    b.to(1500);
    b.command(up(2, When::Bar));
    b.command(Command::Tempo(chaconne_time::Tempo::parse_bpm("171").unwrap()));
    b.to(BAR - 3);
    assert_eq!(of_song(&b), 0);
    b.to(BAR);
    b.turn();
    assert_eq!(of_song(&b), 2);
    end(b);
}

/// At a fermata the time waits before the tick; the new key begins with the tap.
#[test]
fn it_comes_when_the_time_goes_on_after_a_fermata() {
    let mut song = playing(&OVERLAPPING);
    let fermata = SectionEdit::Fermata(Tick(BEAT), true);
    Edit::Section(Letter::A, fermata).apply(&mut song).unwrap();
    let mut b = started(song);
    b.to(1500);
    b.command(up(2, When::Beat));
    b.run_to(b.now + 3000 * MS);
    assert_eq!((b.engine.tick_at(b.now), of_song(&b)), (Some(Tick(1919)), 0));
    assert_eq!(b.heard(1500, 3000), "");
    b.tap(b.now);
    b.run_to(b.now + 5 * MS);
    assert_eq!((b.heard(1500, 1921).as_str(), of_song(&b)), ("1920-62 1920+66", 2));
    end(b);
}

#[test]
fn it_comes_with_the_beat_that_the_hand_gives() {
    let mut b = Bench::new(playing(&OVERLAPPING));
    b.command(Command::ByHand(Some(ByHand { step: HandStep::Beat, loudness: false })));
    b.command(Command::Play);
    let beats = |b: &mut Bench, count: usize| {
        for _ in 0..count {
            b.run_to(b.now + 500 * MS as Ns);
            b.tap(b.now);
        }
        b.run_to(b.now + 200 * MS);
    };
    beats(&mut b, 2);
    b.command(up(2, When::Beat));
    b.run_to(b.now + 2000 * MS);
    assert_eq!(of_song(&b), 0);
    beats(&mut b, 1);
    assert_eq!(of_song(&b), 2);
    assert_eq!(b.heard(1500, 1921), "1920-62 1920+66");
    end(b);
}

/// In the count-in it comes where the music begins: that is the next seam, bar and beat.
#[test]
fn in_the_count_in_it_comes_where_the_music_begins() {
    let mut b = Bench::new(playing(&OVERLAPPING));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.run_to(b.now + 300 * MS);
    b.command(up(2, When::Seam));
    assert_eq!(coming(&b), Some((0, 2)));
    b.to(100);
    assert_eq!(of_song(&b), 2);
    assert!(b.heard(0, 1).contains("0+62"));
    end(b);
}

/// What is played is in the key of its time: it is heard again as it was played, and moves with the song from the
/// tick on. A note within half a grid step before the tick is meant for the new key.
#[test]
fn what_is_recorded_belongs_to_the_key_of_its_time() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Record(true));
    for (at, key) in [(100, 60), (2 * BEAT - 130, 62), (2 * BEAT - 110, 70), (2 * BEAT + 200, 71)] {
        if at == 2 * BEAT - 130 {
            b.to(1500);
            b.command(up(3, When::Beat));
        }
        b.press(at, key);
        b.lift(at + 10, key);
    }
    b.to(2 * BAR);
    b.command(Command::Record(false));
    b.to(3 * BAR);
    assert_eq!(b.passes(), [[(100, 10, 60), (1790, 10, 62), (1810, 10, 67), (2120, 10, 68)]]);
    // The next round is in the new key.
    assert_eq!(
        b.heard(2 * BAR, 3 * BAR),
        "7780+63 7790-63 9470+65 9480-65 9490+70 9500-70 9800+71 9810-71"
    );
    end(b);
}

/// The round that ends at the seam of the change moves with the song, exactly from the seam on.
#[test]
fn a_round_that_ends_at_the_seam_is_heard_in_the_new_key_from_there_on() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Record(true));
    b.press(0, 60);
    b.lift(400, 60);
    b.to(BAR);
    b.command(up(2, When::Seam));
    b.to(2 * BAR + BEAT);
    assert_eq!(b.heard(1, 2 * BAR + BEAT), "7680+62 8080-62");
    assert_eq!(b.passes(), [[(0, 400, 60)]]);
    // Undo takes the key back, then the pass.
    b.command(Command::Undo);
    assert_eq!((of_song(&b), b.passes().len()), (0, 1));
    b.command(Command::Undo);
    assert_eq!(b.passes().len(), 0);
    end(b);
}

/// A route that repeats is appended to itself four bars before its end, here just as the change is performed.
#[test]
fn it_comes_at_its_seam_in_a_form_that_goes_round_and_round() {
    let mut song = playing(&[(0, 400, 60), (BAR, 400, 62)]);
    let b = Section { letter: letter("B"), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(b));
    let route = Route::of(&song, &["A", "B", "A"].map(letter)).unwrap();
    for when in [When::Seam, When::Bar] {
        let mut b = Bench::new(song.clone());
        assert!(b.command(Command::Repeat(true)));
        b.command(Command::PlayRoute(route.clone()));
        b.to(BAR + 1000);
        b.command(up(2, when));
        assert_eq!(coming(&b), Some((2 * BAR, 2)));
        b.to(2 * BAR - 20);
        assert_eq!(coming(&b), Some((2 * BAR, 2)), "the route was appended");
        b.to(2 * BAR + 500);
        assert_eq!((coming(&b), of_song(&b)), (None, 2));
        assert!(b.heard(2 * BAR, 2 * BAR + 100).contains("+62"));
        end(b);
    }
}
