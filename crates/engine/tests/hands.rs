//! Faults that were found where the player's hands and feet meet the song's, each as the smallest case
//! that showed it.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Message, PortIx, When};
use chaconne_song::{
    Channel, Commit, Control, Edit, Laid, Lane, Letter, Pass, PassId, Point, Section, SectionEdit,
    Song, TrackEdit, TrackId, U7, U14,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
const WHEEL: u8 = 1;
const VOLUME: u8 = 7;
const EXPRESSION: u8 = 11;
const SUSTAIN: u8 = 64;

/// A pass of one bar with one gesture: its moves, and where it ends.
fn pass(id: u32, track: u32, number: u8, moves: &[(i64, u16)], to: i64) -> Pass {
    let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(BAR));
    let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
    pass.notes_mut().lanes.push(Lane {
        channel: Channel::default(),
        control: Control::Change(U7::low_bits(number)),
        span: Span::new(Tick(moves[0].0), Tick(to)),
        points: moves.iter().map(point).collect(),
    });
    pass
}

/// A song of a bar, with this pass.
fn with(pass: Pass) -> Song {
    let mut song = song(1, 2);
    song.lay(Letter::A, pass);
    song
}

/// The same, with an empty section B of so many bars.
fn with_b(pass: Pass, bars: u32) -> Song {
    let mut song = with(pass);
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    song.sections.push(Arc::new(Section::new(b(), metre, Tempo::DEFAULT)));
    song
}

fn b() -> Letter {
    "B".parse().unwrap()
}

/// The player moves a controller at a tick.
fn touch(bench: &mut Bench, tick: i64, number: u8, value: u8) {
    bench.to(tick);
    let (controller, value) = (U7::low_bits(number), U7::low_bits(value));
    let message = Message::Change { channel: Channel::default(), controller, value };
    bench.touch(message, PortIx(0), message);
}

/// The values of a controller that were sent, each with its tick.
fn sent(bench: &Bench, number: u8) -> Vec<(i64, u8)> {
    let value = |(at, message): &(Tick, Message)| match message {
        Message::Change { controller, value, .. } if controller.get() == number => {
            Some((at.0, value.get()))
        }
        _ => None,
    };
    bench.wire.iter().filter_map(value).collect()
}

#[test]
fn a_foot_that_is_lifted_after_a_stop_does_not_leave_the_songs_foot_on_the_pedal() {
    let mut bench = Bench::new(with(pass(10, 1, SUSTAIN, &[(0, 127)], BAR)));
    bench.command(Command::Play);
    touch(&mut bench, 960, SUSTAIN, 127);
    bench.command(Command::Stop);
    assert_eq!(sent(&bench, SUSTAIN), [(0, 127)], "the player still holds it");
    touch(&mut bench, 0, SUSTAIN, 0);
    assert_eq!(sent(&bench, SUSTAIN).last().unwrap().1, 0);
}

#[test]
fn a_section_without_expression_is_not_silent_after_a_fade_and_a_stop() {
    let mut bench = Bench::new(with_b(pass(10, 1, EXPRESSION, &[(960, 0)], BAR), 1));
    bench.command(Command::Play);
    bench.to(2000);
    bench.command(Command::Stop);
    bench.command(Command::Jump(b(), When::Seam));
    bench.command(Command::Play);
    bench.to(100);
    assert_eq!(sent(&bench, EXPRESSION), [(0, 127), (960, 0), (0, 127)]);
    // What the player does with it while stopped stays.
    bench.command(Command::Stop);
    bench.command(Command::Jump(Letter::A, When::Seam));
    bench.command(Command::Play);
    bench.to(2000);
    bench.command(Command::Stop);
    touch(&mut bench, 0, EXPRESSION, 40);
    bench.command(Command::Jump(b(), When::Seam));
    bench.command(Command::Play);
    bench.to(100);
    assert_eq!(sent(&bench, EXPRESSION).last().unwrap().1, 40);
}

#[test]
fn expression_is_reset_from_the_first_tick_on_wherever_the_next_start_is() {
    let mut bench = Bench::new(with_b(pass(10, 1, EXPRESSION, &[(960, 0)], BAR), 1));
    bench.command(Command::Play);
    bench.to(2000);
    bench.command(Command::Stop);
    bench.command(Command::Jump(b(), When::Seam));
    bench.command(Command::Locate(Tick(960)));
    bench.command(Command::Continue);
    bench.to(1100);
    assert_eq!(sent(&bench, EXPRESSION), [(0, 127), (960, 0), (960, 127)]);
}

#[test]
fn a_section_without_a_wheel_sends_nothing_for_one_that_a_stop_has_brought_to_rest() {
    let mut bench = Bench::new(with_b(pass(10, 1, WHEEL, &[(960, 90)], BAR), 1));
    bench.command(Command::Play);
    bench.to(2000);
    bench.command(Command::Stop);
    bench.command(Command::Jump(b(), When::Seam));
    bench.command(Command::Play);
    bench.to(100);
    let values: Vec<u8> = sent(&bench, WHEEL).into_iter().map(|(_, value)| value).collect();
    assert_eq!(values, [0, 90, 0], "at the top, moved, and at rest after the stop");
}

/// Two tracks on one channel, each with a volume of its own, and a gesture.
fn one_channel() -> Song {
    let mut song = with(pass(10, 1, WHEEL, &[(0, 9)], BAR));
    song.lay(Letter::A, pass(11, 2, WHEEL, &[(960, 5)], 1000));
    for (track, volume) in song.tracks.iter_mut().zip([70, 90]) {
        let track = Arc::make_mut(track);
        track.channel = Some(Channel::default());
        track.levels.volume = Some(U7::low_bits(volume));
    }
    song
}

#[test]
fn a_mute_does_not_send_the_settings_of_its_track_to_others_on_the_channel() {
    let mut bench = Bench::new(one_channel());
    bench.command(Command::Play);
    bench.to(500);
    bench.command(Command::MuteTrack(TrackId(1), true));
    bench.to(900);
    assert_eq!(sent(&bench, VOLUME).last(), Some(&(0, 90)));
}

#[test]
fn a_changed_volume_of_a_track_with_nothing_to_play_does_not_reach_the_one_that_plays() {
    let mut song = one_channel();
    Arc::make_mut(&mut song.tracks[0]).mute = true;
    let mut bench = Bench::new(song);
    bench.command(Command::Play);
    bench.to(500);
    let edit = Edit::Track(TrackId(1), TrackEdit::Volume(Some(U7::low_bits(10))));
    assert!(bench.command(Command::Edit(Commit::of(edit))));
    bench.to(900);
    assert_eq!(sent(&bench, VOLUME).last(), Some(&(0, 90)));
}

#[test]
fn a_layer_that_is_moved_over_one_of_another_track_within_the_look_ahead_moves_the_wheel() {
    let mut bench = Bench::new(one_channel());
    bench.command(Command::Play);
    bench.to(900);
    let over = Edit::Section(Letter::A, SectionEdit::Move(PassId(10), 1));
    assert!(bench.command(Command::Edit(Commit::of(over))));
    bench.to(BAR - 1);
    assert_eq!(sent(&bench, WHEEL), [(0, 9)]);
}

#[test]
fn a_volume_that_the_player_moved_is_the_songs_again_once_its_track_is_unmuted() {
    let mut song = with(pass(10, 1, WHEEL, &[(0, 9)], BAR));
    Arc::make_mut(&mut song.tracks[0]).levels.volume = Some(U7::low_bits(70));
    let mut bench = Bench::new(song);
    bench.command(Command::Play);
    bench.to(500);
    bench.command(Command::MuteTrack(TrackId(1), true));
    touch(&mut bench, 600, VOLUME, 30);
    bench.to(BAR + 500);
    bench.command(Command::MuteTrack(TrackId(1), false));
    bench.to(BAR + 900);
    assert_eq!(sent(&bench, VOLUME).last(), Some(&(BAR + 501, 70)));
}

#[test]
fn after_a_late_jump_the_player_has_a_wheel_until_the_seam_of_the_section_entered() {
    // Section B has two bars, so its seam comes a bar later than that of A would.
    let mut song = with_b(pass(10, 1, WHEEL, &[(0, 9)], BAR), 2);
    let lay = SectionEdit::Lay { at: 0, pass: Laid::Shared(PassId(10)), mute: false };
    Edit::Section(b(), lay).apply(&mut song).unwrap();
    let mut bench = Bench::new(song);
    bench.command(Command::Play);
    touch(&mut bench, BAR + 100, WHEEL, 99);
    bench.to(BAR + 200);
    bench.command(Command::Jump(b(), When::Seam));
    bench.to(3 * BAR + 100);
    assert_eq!(sent(&bench, WHEEL), [(0, 9), (BAR + 100, 99), (3 * BAR, 9)]);
}

#[test]
fn after_a_panic_a_pedal_that_the_song_lifts_where_it_is_performed_next_comes_up() {
    // The song puts it down again within the look-ahead, 192 ticks, and lifts it at each tick around
    // its end.
    for lifted in 1150..1165 {
        let pedal = pass(10, 1, SUSTAIN, &[(0, 127), (900, 0), (1000, 127), (lifted, 0)], BAR);
        let mut bench = Bench::new(with(pedal));
        bench.command(Command::Play);
        bench.to(960);
        bench.command(Command::Panic);
        bench.to(3000);
        assert_eq!(sent(&bench, SUSTAIN).last(), Some(&(lifted, 0)));
    }
}

#[test]
fn after_a_panic_a_wheel_that_the_song_has_left_goes_to_rest_at_the_seam_as_before() {
    let mut bench = Bench::new(with_b(pass(10, 1, WHEEL, &[(0, 9)], BAR), 1));
    bench.command(Command::Play);
    bench.to(100);
    bench.command(Command::Jump(b(), When::Seam));
    bench.to(BAR + 100);
    bench.command(Command::Panic);
    touch(&mut bench, BAR + 500, WHEEL, 99);
    bench.to(2 * BAR + 100);
    assert_eq!(sent(&bench, WHEEL).last(), Some(&(2 * BAR, 0)));
}

/// The panic key lifts everything, and the song goes on: its pedal and wheel are at once where it has them, and move on
/// from there.
#[test]
fn after_a_panic_the_songs_pedal_and_wheel_return_at_once() {
    let mut song = with(pass(1, 1, SUSTAIN, &[(100, 127), (3000, 0)], 3000));
    song.lay(Letter::A, pass(2, 1, WHEEL, &[(100, 40), (2500, 70), (3000, 0)], 3000));
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(2000);
    // Lowering the tempo leaves what was performed at the faster one.
    b.command(Command::Tempo(Tempo::from_milli_bpm(60_000).unwrap()));
    b.command(Command::Panic);
    b.to(BAR);
    let moves = b.heard(1900, BAR);
    let of = |number: u8| {
        let mark = format!("c{number}=");
        moves.split(' ').filter(|word| word.contains(&mark)).collect::<Vec<_>>().join(" ")
    };
    assert_eq!(of(SUSTAIN), "2000c64=0 2001c64=127 3000c64=0");
    assert_eq!(of(WHEEL), "2000c1=0 2001c1=40 2500c1=70 3000c1=0");
    b.command(Command::Stop);
    b.check_wire();
}
