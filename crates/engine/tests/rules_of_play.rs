//! The rules of play, one by one, on the virtual-time bench.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Config, Message, Mode, Rounds, Transport, When};
use chaconne_song::{
    Channel, Control, Feel, Letter, Note, NoteId, Pass, PassId, Placed, Stroke, Track, TrackId, U7,
    U14,
};
use chaconne_time::{NoteKind, NoteValue, Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

fn recording(bars: u32) -> Bench {
    let mut bench = Bench::new(song(bars, 2));
    bench.command(Command::Record(true));
    bench
}

#[test]
fn a_round_becomes_a_pass_and_repeats_from_the_seam_on() {
    let mut b = recording(1);
    b.press(0, 60);
    b.lift(100, 60);
    b.press(960, 62);
    b.lift(1060, 62);
    b.to(3 * BAR);
    assert_eq!(b.passes(), [vec![(0, 100, 60), (960, 100, 62)]]);
    assert_eq!(b.heard(0, BAR), "");
    assert_eq!(b.heard(BAR, 2 * BAR), "3840+60 3940-60 4800+62 4900-62");
    assert_eq!(b.heard(2 * BAR, 3 * BAR), "7680+60 7780-60 8640+62 8740-62");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_1_an_early_note_belongs_to_the_round_it_is_meant_for() {
    let mut b = recording(1);
    b.press(BAR - 120, 60);
    b.lift(BAR + 50, 60);
    b.press(BAR - 121 + BAR, 62);
    b.lift(2 * BAR - 10, 62);
    b.to(3 * BAR + 10);
    b.command(Command::Stop);
    // With feel off, half a step is half a sixteenth: 120 ticks. A note exactly that early belongs to
    // the next round, one tick earlier it does not. So both notes are in the round of bar two.
    assert_eq!(b.passes(), [vec![(-120, 170, 60), (3719, 111, 62)]]);
    assert_eq!(b.heard(0, 2 * BAR - 120), "");
    assert_eq!(b.heard(2 * BAR - 120, 3 * BAR), "7560+60 7730-60 11399+62 11400+60 11510-62");
    b.check_wire();
}

/// Strokes on one drum less than 50 ms apart are a roll, and the loudest decides for all (docs/time.md,
/// "Grids").
#[test]
fn rule_1_a_roll_at_the_seam_belongs_to_the_round_of_its_loudest_stroke() {
    // 50 ticks at 120 are 26 ms. Alone, the first would be in the old round and the second in the new.
    for (first, second, early) in [(40, 100, true), (100, 40, false)] {
        let mut song = song(1, 0);
        song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
        let mut b = Bench::new(song);
        b.command(Command::Record(true));
        let roll = [(BAR - 150, first), (BAR - 100, second)];
        for (tick, velocity) in [(0, 90), (500, 90), (3500, 90), roll[0], roll[1], (BAR + 300, 90)]
        {
            b.to(tick);
            let (channel, key) = (Channel::default(), U7::low_bits(38));
            b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
            b.lift(tick + 20, 38);
        }
        b.to(2 * BAR + 1000);
        b.command(Command::Stop);
        let strokes = |starts: &[i64]| starts.iter().map(|&at| (at, 20, 38)).collect::<Vec<_>>();
        let expected = if early {
            [strokes(&[0, 500, 3500]), strokes(&[-150, -100, 300])]
        } else {
            [strokes(&[0, 500, 3500, 3690, 3740]), strokes(&[300])]
        };
        assert_eq!(b.passes(), expected);
        b.check_wire();
    }
}

#[test]
fn rule_1_also_holds_before_the_end_of_the_count_in() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    assert_eq!(b.engine.status(b.now).transport, Transport::CountingIn);
    b.press(-400, 59);
    b.lift(-350, 59);
    b.press(-60, 60);
    b.lift(30, 60);
    b.to(BAR + 10);
    b.command(Command::Stop);
    assert_eq!(b.passes(), [vec![(-60, 90, 60)]]);
    let clicks = b.wire.iter().filter(|(at, _)| at.0 < 0).count();
    assert_eq!(clicks, 8, "four beats, struck and released");
    b.check_wire();
}

#[test]
fn rule_3_newest_silences_the_round_before_and_an_empty_round_makes_no_pass() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    // The second bar is empty; the third has something.
    b.press(2 * BAR + 500, 62);
    b.lift(2 * BAR + 600, 62);
    b.to(5 * BAR);
    assert_eq!(b.passes().len(), 2);
    assert_eq!(b.heard(BAR, 3 * BAR), "3940+60 4040-60 7780+60 7880-60");
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "12020+62 12120-62");
    assert!(b.engine.song().sections[0].layers[0].mute);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_3_one_pass_for_the_take_is_as_long_as_the_take() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::One));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.press(BAR + 500, 62);
    b.lift(BAR + 600, 62);
    b.to(2 * BAR + 300);
    // Within a beat after the seam, record off counts for the seam: the take is two rounds long.
    b.command(Command::Record(false));
    b.to(6 * BAR);
    assert_eq!(b.passes(), [vec![(100, 100, 60), (BAR + 500, 100, 62)]]);
    assert_eq!(b.engine.song().passes_in(&b.engine.song().sections[0])[0].length, Tick(2 * BAR));
    assert_eq!(b.heard(0, 2 * BAR), "");
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "12020+62 12120-62");
    assert_eq!(b.heard(4 * BAR, 5 * BAR), "15460+60 15560-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_4_undo_discards_the_unfinished_round_first_and_redo_restores_ids() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    b.press(BAR + 300, 62);
    b.lift(BAR + 400, 62);
    assert_eq!(b.engine.status(b.now).undo, Some(chaconne_engine::Turn::UnfinishedRound));
    let before = b.engine.song().clone();
    b.command(Command::Undo);
    assert_eq!(*b.engine.song(), before);
    b.to(2 * BAR + 10);
    assert_eq!(b.passes(), [vec![(100, 100, 60)]]);
    b.command(Command::Undo);
    assert!(b.passes().is_empty());
    b.to(3 * BAR + 10);
    b.command(Command::Redo);
    assert_eq!(*b.engine.song(), before);
    b.to(4 * BAR + BAR);
    // Undone just after the second seam and redone just after the third.
    assert_eq!(b.heard(2 * BAR, 3 * BAR), "");
    assert_eq!(b.heard(3 * BAR, 5 * BAR), "11620+60 11720-60 15460+60 15560-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_5_record_pressed_within_a_beat_after_a_seam_counts_for_the_seam() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.press(BAR + 10, 60);
    b.lift(BAR + 100, 60);
    b.to(BAR + 900);
    b.command(Command::Record(true));
    b.to(2 * BAR + 950);
    b.press(2 * BAR + 950, 64);
    b.command(Command::Record(false));
    b.lift(2 * BAR + 1000, 64);
    b.to(4 * BAR);
    // What was played since the seam is a pass of its own.
    assert_eq!(b.passes(), [vec![(10, 90, 60)], vec![(950, 50, 64)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_5_record_off_in_mid_round_keeps_what_was_played() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    b.to(2000);
    b.command(Command::Record(false));
    b.to(2 * BAR);
    assert_eq!(b.heard(BAR, 2 * BAR), "3940+60 4040-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_6_what_was_played_without_recording_can_be_kept() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.press(BAR + 100, 60);
    b.lift(BAR + 200, 60);
    b.press(2 * BAR + 50, 62);
    b.lift(2 * BAR + 90, 62);
    b.to(2 * BAR + 1000);
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes(), [vec![(100, 100, 60)]]);
    assert!(b.command(Command::Keep));
    assert_eq!(b.passes().len(), 2, "then the current round");
    assert!(!b.command(Command::Keep));
    b.to(4 * BAR);
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "11570+62 11610-62 11620+60 11720-60");
    b.command(Command::Stop);
    b.check_wire();
}

/// A bench with a two-bar pass of eight quarters on the armed track.
fn four_quarters() -> Bench {
    let mut b = recording(2);
    for beat in 0..8 {
        b.press(beat * 960 + 10, 40);
        b.lift(beat * 960 + 400, 40);
    }
    b.to(2 * BAR + 5);
    b.command(Command::Record(false));
    b
}

#[test]
fn rule_7_replace_silences_from_the_first_note_to_the_end_of_the_bar() {
    let mut b = four_quarters();
    b.command(Command::Mode(Mode::Replace));
    b.to(4 * BAR);
    b.command(Command::Record(true));
    b.press(4 * BAR + 1900, 72);
    b.lift(4 * BAR + 2100, 72);
    b.to(8 * BAR);
    b.command(Command::Record(false));
    // In the round being recorded, the third and fourth quarter of the first bar are silent at once.
    let live = "15370+40 15760-40 16330+40 16720-40 19210+40 19600-40";
    assert!(b.heard(4 * BAR, 5 * BAR + 600).starts_with(live), "{}", b.heard(4 * BAR, 5 * BAR));
    let later = "23050+40 23440-40 24010+40 24400-40 24940+72 25140-72";
    assert_eq!(b.heard(6 * BAR, 7 * BAR), later);
    assert_eq!(
        b.engine.song().passes_in(&b.engine.song().sections[0]).len(),
        2,
        "nothing was thrown away"
    );
    b.command(Command::Undo);
    b.to(10 * BAR);
    assert_eq!(b.heard(8 * BAR, 10 * BAR).matches('+').count(), 8, "it is one step of undo");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_7_punch_silences_the_whole_span() {
    let mut b = four_quarters();
    b.command(Command::Mode(Mode::Punch));
    b.to(4 * BAR + 1500);
    b.command(Command::Record(true));
    b.press(4 * BAR + 2000, 72);
    b.lift(4 * BAR + 2100, 72);
    b.to(5 * BAR + 500);
    b.command(Command::Record(false));
    b.to(8 * BAR);
    let round = "15370+40 15760-40 16330+40 16720-40";
    assert_eq!(b.heard(4 * BAR, 5 * BAR + 500), round);
    let later = "23050+40 23440-40 24010+40 24400-40 25040+72 25140-72 27850+40 28240-40";
    assert!(b.heard(6 * BAR, 8 * BAR).starts_with(later), "{}", b.heard(6 * BAR, 8 * BAR));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_8_a_note_held_over_the_seam_gets_its_length_at_the_release() {
    let mut b = recording(1);
    b.press(3000, 60);
    b.to(BAR + 300);
    assert_eq!(b.passes(), [vec![(3000, BAR, 60)]], "the pass is there at once");
    b.lift(BAR + 400, 60);
    assert_eq!(b.passes(), [vec![(3000, 1240, 60)]]);
    b.to(4 * BAR);
    assert_eq!(b.heard(BAR, 3 * BAR), "6840+60 8080-60 10680+60");
    b.command(Command::Undo);
    assert!(b.passes().is_empty(), "it is one step of undo");
    b.command(Command::Redo);
    assert_eq!(b.passes(), [vec![(3000, 1240, 60)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_8_a_note_released_just_before_it_repeats_repeats_with_its_true_length() {
    let mut b = recording(1);
    b.press(3700, 60);
    b.to(BAR + 100);
    b.command(Command::Record(false));
    // By then its repeat is performed ahead, with the greatest length that it could have.
    b.lift(BAR + 3650, 60);
    b.to(3 * BAR);
    assert_eq!(b.passes(), [vec![(3700, 3790, 60)]]);
    assert_eq!(b.heard(BAR, 3 * BAR), "7540+60 11330-60 11380+60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn rule_8_a_note_longer_than_its_pass_is_cut_where_it_starts_again() {
    let mut b = recording(1);
    b.press(1000, 60);
    b.to(3 * BAR);
    b.lift(3 * BAR + 10, 60);
    b.to(5 * BAR);
    assert_eq!(b.passes(), [vec![(1000, BAR, 60)]]);
    assert_eq!(b.heard(BAR, 3 * BAR), "4840+60 8680-60 8680+60");
    b.command(Command::Stop);
    b.check_wire();
}

/// A bench with two sections of one bar, A and B.
fn two_sections() -> Bench {
    let mut two = song(1, 1);
    let section = chaconne_song::Section {
        letter: "B".parse().unwrap(),
        layers: Vec::new(),
        ..(*two.sections[0]).clone()
    };
    two.sections.push(section.into());
    Bench::new(two)
}

#[test]
fn rule_8_a_live_jump_at_the_seam_releases_held_notes() {
    let mut b = two_sections();
    b.command(Command::Record(true));
    b.press(3000, 60);
    b.lift(3000 + 1500, 60);
    b.to(BAR + 1200);
    b.command(Command::Record(false));
    let other: Letter = "B".parse().unwrap();
    b.to(BAR + 2000);
    b.command(Command::Jump(other, When::Seam));
    assert_eq!(b.engine.status(b.now).next_section, Some(other));
    b.to(2 * BAR + 1000);
    assert_eq!(b.engine.status(b.now).section, other);
    assert_eq!(b.heard(BAR, 2 * BAR + 1000), "6840+60 7680-60", "cut at the jump");
    // Within a beat after the seam, the jump counts as at the seam.
    b.to(3 * BAR + 500);
    b.command(Command::Jump(Letter::A, When::Seam));
    assert_eq!(b.engine.status(b.now).in_section, Tick(500));
    b.to(5 * BAR);
    assert_eq!(b.heard(3 * BAR, 5 * BAR), "14520+60 16020-60 18360+60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_pedal_held_over_the_seam_is_in_its_pass_until_it_comes_up() {
    let mut b = recording(1);
    b.press(100, 60);
    b.change(3000, 64, 127);
    b.lift(3100, 60);
    b.change(BAR + 500, 64, 0);
    b.to(4 * BAR);
    let pass = Arc::clone(b.engine.song().passes.values().next().unwrap());
    let lane = pass.lanes().iter().find(|lane| lane.control == Control::SUSTAIN);
    let lane = lane.expect("a pedal lane");
    let points: Vec<_> = lane.points.iter().map(|point| (point.at.0, point.value)).collect();
    assert_eq!(points, [(3000, U14::new(127).unwrap()), (BAR + 500, U14::default())]);
    let pedal = b.heard(BAR + 600, 4 * BAR);
    let pedal: Vec<&str> = pedal.split(' ').filter(|word| word.contains('c')).collect();
    assert_eq!(pedal, ["6840c64=127", "8180c64=0", "10680c64=127", "12020c64=0", "14520c64=127"]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_controller_that_the_player_moves_stays_theirs_until_the_seam() {
    let mut b = recording(1);
    b.change(500, 1, 10);
    b.change(2000, 1, 20);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b.change(2 * BAR + 1000, 1, 99);
    b.to(4 * BAR);
    // Each round begins at rest, as the first did. The player's move is through-played and not on this
    // wire. The loop does not send its move at 2000, and at the seam it sets its own value again.
    let heard = "7680c1=0 8180c1=10 11520c1=0 12020c1=10 13520c1=20";
    assert_eq!(b.heard(2 * BAR, 4 * BAR), heard);
    b.command(Command::Stop);
}

#[test]
fn a_release_without_its_press_is_ignored() {
    let mut b = recording(1);
    b.lift(100, 60);
    b.press(200, 61);
    b.lift(300, 61);
    b.to(BAR + 10);
    assert_eq!(b.passes(), [vec![(200, 100, 61)]]);
}

#[test]
fn muting_in_mid_note_releases_it_and_unmuting_does_not_strike_it_again() {
    let mut b = recording(1);
    b.press(500, 60);
    b.lift(3000, 60);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b.command(Command::Arm(TrackId(2)));
    b.to(BAR + 1000);
    b.command(Command::MuteTrack(TrackId(1), true));
    b.to(BAR + 1500);
    b.command(Command::MuteTrack(TrackId(1), false));
    b.to(3 * BAR);
    assert_eq!(b.heard(BAR, 3 * BAR), "4340+60 4840-60 8180+60 10680-60");
    b.command(Command::SoloTrack(TrackId(2), true));
    b.to(4 * BAR);
    assert_eq!(b.heard(3 * BAR, 4 * BAR), "");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn removing_a_layer_does_not_cut_the_notes_of_the_one_under_it() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(3700, 60);
    b.press(BAR + 200, 64);
    b.lift(BAR + 3600, 64);
    b.to(2 * BAR + 1000);
    b.command(Command::Record(false));
    assert_eq!(b.passes().len(), 2);
    b.command(Command::RemoveTop);
    b.to(3 * BAR);
    assert_eq!(b.heard(2 * BAR, 3 * BAR), "7780+60 7880+64 8680-64 11380-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn after_a_tempo_change_notes_keep_their_ticks_and_the_position_does_not_jump() {
    let mut b = recording(1);
    for beat in 0..4 {
        b.press(beat * 960, 60);
        b.lift(beat * 960 + 100, 60);
    }
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b.to(BAR + 1234);
    let (at, now) = (b.engine.tick_at(b.now), b.now);
    b.command(Command::Tempo(Tempo::parse_bpm("60").unwrap()));
    assert_eq!(b.engine.tick_at(now), at);
    b.to(3 * BAR);
    let heard = b.heard(BAR, 2 * BAR);
    assert_eq!(heard, "3840+60 3940-60 4800+60 4900-60 5760+60 5860-60 6720+60 6820-60");
    // From tick 1234 of the bar on a quarter lasts a second: 2606 ticks are 2.714583 s.
    let end = b.engine.ns_at(Tick(2 * BAR)).unwrap() - now;
    assert!((end - 2_714_583_333).abs() < 600_000, "{end}");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_very_short_loop_records_and_plays() {
    let mut short = song(1, 1);
    let metre = chaconne_time::Metre::new(1, 32).unwrap();
    let mut section = (*short.sections[0]).clone();
    section.metre = chaconne_time::MetreMap::new(1, metre).unwrap();
    short.sections = vec![section.into()];
    let mut b = Bench::new(short);
    b.command(Command::Feel(TrackId(1), {
        let fine = NoteValue::new(64, NoteKind::Straight).unwrap();
        Feel { pull: 0, ..Feel::off(false).on(fine) }
    }));
    b.command(Command::Record(true));
    b.press(10, 60);
    b.lift(50, 60);
    b.to(130);
    b.command(Command::Record(false));
    b.to(480);
    assert_eq!(b.heard(120, 480), "130+60 170-60 250+60 290-60 370+60 410-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn arming_another_track_in_a_take_goes_on_recording_there() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    b.to(2000);
    b.command(Command::Arm(TrackId(2)));
    b.press(2500, 70);
    b.lift(2600, 70);
    b.to(2 * BAR + 10);
    let song = b.engine.song();
    let of = |track| song.layers_of(&song.sections[0], TrackId(track)).count();
    assert_eq!((of(1), of(2)), (1, 1));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_jump_in_the_count_in_happens_at_the_first_seam() {
    let mut b = two_sections();
    b.command(Command::CountIn(2));
    b.command(Command::Record(true));
    b.to(-5000);
    let other: Letter = "B".parse().unwrap();
    assert!(b.command(Command::Jump(other, When::Seam)));
    assert_eq!(b.engine.status(b.now).section, Letter::A);
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR + 100);
    assert_eq!(b.engine.status(b.now).section, other);
    assert_eq!(b.passes(), [vec![(100, 100, 60)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_note_that_arrives_after_its_round_was_closed_is_not_lost() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    let late = b.engine.ns_at(Tick(BAR - 300)).unwrap();
    b.to(BAR + 50);
    let (channel, key) = (Default::default(), chaconne_song::U7::new(64).unwrap());
    let velocity = chaconne_song::U7::new(90).unwrap();
    let on = chaconne_engine::Message::NoteOn { channel, key, velocity };
    b.engine.input(late, 0, on.into());
    b.lift(BAR + 100, 64);
    b.to(3 * BAR);
    assert_eq!(b.passes(), [[(100, 100, 60), (BAR - 300, 400, 64)]], "it is in its own round");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn notes_of_a_slower_input_are_recorded_in_the_round_in_which_they_were_played() {
    // An input closes no round, so one input may deliver a note from after the seam before the other
    // delivers one from before it.
    let mut b = recording(1);
    b.to(BAR - 960);
    let (before, after) = (Tick(BAR - 480), Tick(BAR + 480));
    for (source, tick, key) in [(0, after, 72), (1, before, 60)] {
        let (channel, key) = (chaconne_song::Channel::default(), chaconne_song::U7::low_bits(key));
        let velocity = chaconne_song::U7::low_bits(90);
        let on = chaconne_engine::Message::NoteOn { channel, key, velocity };
        let off = chaconne_engine::Message::NoteOff { channel, key, velocity };
        for (tick, message) in [(tick, on), (tick + Tick(60), off)] {
            let stamp = b.engine.ns_at(tick).unwrap();
            b.engine.input(stamp, source, message.into());
        }
    }
    b.to(3 * BAR);
    assert_eq!(b.passes(), [vec![(BAR - 480, 60, 60)], vec![(480, 60, 72)]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn pressing_the_pedal_while_the_loop_holds_it_makes_the_loop_send_nothing() {
    let mut b = recording(1);
    b.change(500, 64, 127);
    b.change(3000, 64, 0);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    // The foot goes down and up while the loop holds the pedal. The scheduler keeps it down, so the
    // loop has nothing to send.
    b.change(BAR + 1000, 64, 127);
    b.change(BAR + 1500, 64, 0);
    b.to(2 * BAR);
    assert_eq!(b.heard(BAR, 2 * BAR), "4340c64=127 6840c64=0");
    b.command(Command::Stop);
}

#[test]
fn the_settings_of_a_track_are_sent_before_its_first_note() {
    let mut song = song(1, 1);
    let track = std::sync::Arc::make_mut(&mut song.tracks[0]);
    track.levels.volume = Some(chaconne_song::U7::low_bits(90));
    let mut b = Bench::with(
        song,
        Config { lead: 10 * bench::MS, set_up: 9 * bench::MS, ..Config::default() },
    );
    b.command(Command::Record(true));
    b.change(960, 7, 50);
    b.to(BAR + 1920);
    b.command(Command::Stop);
    let played = b.wire.len();
    b.command(Command::Play);
    b.to(480);
    b.command(Command::Stop);
    // 9 ms are 17 ticks at 120.
    let volume = Message::Change {
        channel: chaconne_song::Channel::default(),
        controller: chaconne_song::U7::low_bits(7),
        value: chaconne_song::U7::low_bits(90),
    };
    assert_eq!(b.wire[played..], [(Tick(-17), volume)]);
}

/// The programs sent so far on channel 1, from 1.
fn programs(b: &Bench) -> Vec<u8> {
    let program = |message: &Message| match *message {
        Message::Program { channel, program } if channel.number() == 1 => Some(program.get() + 1),
        _ => None,
    };
    b.wire.iter().filter_map(|(_, message)| program(message)).collect()
}

#[test]
fn an_auditioned_program_is_heard_at_once_and_does_not_change_the_song() {
    let program = |number: u8| U7::new(number - 1);
    for rolls in [false, true] {
        let mut song = song(1, 1);
        Arc::make_mut(&mut song.tracks[0]).program = program(34);
        let mut b = Bench::new(song);
        if rolls {
            b.command(Command::Play);
            b.to(2 * BAR + 100);
        }
        let known = programs(&b).len();
        let said = |b: &Bench| programs(b)[known..].to_vec();
        let before = b.engine.status(b.now).revision;
        b.command(Command::Audition(TrackId(1), program(5)));
        b.command(Command::Audition(TrackId(1), program(6)));
        assert_eq!(said(&b), [5, 6]);
        b.command(Command::Audition(TrackId(1), None));
        assert_eq!(said(&b), [5, 6, 34]);
        let status = b.engine.status(b.now);
        assert_eq!((status.revision, status.undo), (before, None));
        b.command(Command::Program(TrackId(1), program(7)));
        b.run_to(b.now + 50 * bench::MS);
        assert_eq!(said(&b), [5, 6, 34, 7]);
        assert_eq!(
            b.engine.status(b.now).undo,
            Some(chaconne_engine::Turn::Step(
                chaconne_song::Label::TrackSound,
                Some(TrackId(1)),
                None
            ))
        );
        b.command(Command::Undo);
        b.run_to(b.now + 50 * bench::MS);
        assert_eq!(said(&b), [5, 6, 34, 7, 34]);
    }
}

#[test]
fn a_track_that_no_longer_sets_a_program_resets_its_channel_to_program_1() {
    // General MIDI System Level 1: an instrument that is switched on starts with program 1.
    for rolls in [false, true] {
        let mut b = Bench::new(song(1, 1));
        if rolls {
            b.command(Command::Play);
            b.to(100);
        }
        let settle = |b: &mut Bench| b.run_to(b.now + 50 * bench::MS);
        b.command(Command::Audition(TrackId(1), U7::new(8)));
        b.command(Command::Audition(TrackId(1), None));
        assert_eq!(programs(&b), [9, 1]);
        b.command(Command::Program(TrackId(1), U7::new(33)));
        settle(&mut b);
        b.command(Command::Undo);
        settle(&mut b);
        b.command(Command::Redo);
        settle(&mut b);
        b.command(Command::Program(TrackId(1), None));
        settle(&mut b);
        assert_eq!(programs(&b), [9, 1, 34, 1, 34, 1]);
        assert_eq!(b.engine.status(b.now).song.tracks[0].program, None);
        assert!(!b.command(Command::Audition(TrackId(9), U7::new(1))), "there is no such track");
    }
}

#[test]
fn the_program_of_a_new_track_is_sent_at_once_stopped_or_rolling() {
    for rolls in [false, true] {
        let mut b = Bench::new(song(1, 0));
        b.command(Command::AddTrack { name: "Pad".into(), drums: false, program: None });
        if rolls {
            b.command(Command::Play);
            b.to(100);
        }
        let program = U7::new(48);
        b.command(Command::AddTrack { name: "Bells".into(), drums: false, program });
        b.run_to(b.now + 50 * bench::MS);
        let heard = b.wire.iter().any(|(_, message)| {
            matches!(message, Message::Program { channel, program } if
                (channel.number(), program.get()) == (2, 48))
        });
        assert!(heard);
    }
}

#[test]
fn a_pass_can_be_muted_in_a_section_that_does_not_play() {
    let mut b = two_sections();
    b.command(Command::Record(true));
    b.press(0, 60);
    b.lift(100, 60);
    b.to(BAR + 100);
    b.command(Command::Record(false));
    let other: Letter = "B".parse().unwrap();
    let pass = b.engine.song().sections[0].layers[0].pass;
    assert!(b.command(Command::Jump(other, When::Seam)));
    b.to(2 * BAR + 100);
    assert_eq!(b.engine.status(b.now).section, other);
    assert!(!b.command(Command::MutePass(other, pass, true)), "it is in no layer there");
    assert!(b.command(Command::MutePass(Letter::A, pass, true)));
    assert!(b.engine.song().sections[0].layers[0].mute);
}

#[test]
fn rule_7_punch_also_silences_a_long_note_that_began_rounds_before() {
    let mut song = song(1, 1);
    let mut pass = Pass::empty(PassId(10), TrackId(1), Tick(8 * BAR));
    let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick::ZERO, length: Tick(8 * BAR), key, velocity, release };
    let channel = Channel::default();
    pass.notes_mut().notes =
        vec![Note { id: NoteId(1), channel, played, placed: Placed::UNCHANGED }];
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.command(Command::Mode(Mode::Punch));
    b.to(5 * BAR + 2000);
    b.command(Command::Record(true));
    b.to(6 * BAR);
    assert_eq!(b.heard(0, 6 * BAR), format!("0+60 {}-60", 5 * BAR + 2000));
}

/// A song of one bar: the passes with their track, and the ticks of their notes, each 100 ticks long. The
/// key is 60 plus the pass's id.
fn passes(layers: &[(u32, &[i64])]) -> Bench {
    let mut song = song(1, 2);
    for (id, &(track, starts)) in (1..).zip(layers) {
        let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(BAR));
        for (note, &start) in (1..).zip(starts) {
            let played = Stroke {
                start: Tick(start),
                length: Tick(100),
                key: U7::low_bits(60 + id as u8),
                velocity: U7::low_bits(90),
                release: U7::CENTRE,
            };
            pass.notes_mut().notes.push(Note {
                id: NoteId(note),
                channel: Channel::default(),
                played,
                placed: Placed::UNCHANGED,
            });
        }
        song.lay(Letter::A, pass);
    }
    Bench::new(song)
}

#[test]
fn a_soloed_pass_silences_the_others_of_its_track_and_no_other_track() {
    let mut b = passes(&[(1, &[0]), (1, &[500]), (2, &[1000])]);
    b.command(Command::SoloPass(PassId(2), true));
    b.command(Command::Play);
    b.to(2000);
    assert_eq!(b.heard(0, 2000), "500+62 600-62 1000+63 1100-63");
    b.command(Command::SoloPass(PassId(2), false));
    b.to(BAR + 2000);
    assert_eq!(b.heard(BAR, BAR + 2000), "3840+61 3940-61 4340+62 4440-62 4840+63 4940-63");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn what_is_played_beside_a_soloed_pass_replaces_none_of_it() {
    for (solo, heard) in [(true, "2000+61 2100-61"), (false, "")] {
        let mut b = passes(&[(1, &[2000])]);
        b.command(Command::SoloPass(PassId(1), solo));
        b.command(Command::Mode(Mode::Replace));
        b.command(Command::Record(true));
        b.press(100, 72);
        b.lift(200, 72);
        b.to(BAR + 1200);
        // The new pass would not be heard, so it silences nothing.
        assert_eq!(b.heard(300, BAR), heard, "soloed: {solo}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn an_early_note_replaces_what_is_struck_at_the_seam_it_is_meant_for() {
    // What is due at the seam was performed ahead, before the round of the early note begins.
    for (solo, heard) in [(None, ""), (Some(1), "3840+61 3940-61"), (Some(2), "")] {
        let mut b = passes(&[(1, &[0]), (2, &[3000])]);
        // The second pass is on another track.
        if let Some(id) = solo {
            assert!(b.command(Command::SoloPass(PassId(id), true)));
        }
        b.command(Command::Mode(Mode::Replace));
        b.command(Command::Record(true));
        b.press(BAR - 50, 72);
        b.lift(BAR + 50, 72);
        b.to(BAR + 1200);
        assert_eq!(b.heard(BAR, BAR + 1000), heard, "soloed: {solo:?}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_new_tempo_decides_anew_which_strokes_are_a_roll() {
    let mut b = passes(&[(1, &[300])]);
    let mut song = b.engine.song().as_ref().clone();
    let mut pass = song.passes[&PassId(1)].as_ref().clone();
    let loud = pass.notes()[0];
    let played = Stroke { start: Tick(370), velocity: U7::low_bits(50), ..loud.played };
    pass.notes_mut().notes.push(Note { id: NoteId(2), played, ..loud });
    song.passes.insert(PassId(1), Arc::new(pass));
    b = Bench::new(song);
    let feel = Feel { rolls: true, ..Feel::off(true).on(NoteValue::SIXTEENTH) };
    b.command(Command::Feel(TrackId(1), feel));
    b.command(Command::Play);
    b.to(BAR - 1000);
    // 70 ticks at 120 are 36 ms: a roll, which moves as far as its loud stroke. At 60 they are 73 ms.
    assert_eq!(b.heard(0, 1000), "240+61 310-61 310+61 410-61");
    b.command(Command::Tempo(Tempo::parse_bpm("60").unwrap()));
    b.to(BAR + 1000);
    assert_eq!(b.heard(BAR, BAR + 1000), "4080+61 4180-61 4320+61 4420-61");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_whole_take_goes_on_from_where_it_is_first_heard() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::One));
    b.command(Command::Play);
    // Two bars from the second on: counted from the entry, bar 4 would begin with the second of them.
    b.to(BAR + 100);
    b.command(Command::Record(true));
    for (tick, key) in [(BAR + 500, 60), (2 * BAR + 1500, 62)] {
        b.press(tick, key);
        b.lift(tick + 100, key);
    }
    b.to(3 * BAR + 100);
    b.command(Command::Record(false));
    b.to(5 * BAR);
    assert_eq!(b.passes(), [[(500, 100, 60), (BAR + 1500, 100, 62)]]);
    assert_eq!(b.heard(3 * BAR + 100, 5 * BAR), "12020+60 12120-60 16860+62 16960-62");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_early_note_of_a_whole_take_is_not_lost_if_the_take_is_ended_just_before_the_seam() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::One));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.press(-60, 60);
    b.lift(30, 60);
    // By then the tick at which the note would be early again has passed.
    b.to(2 * BAR - 10);
    b.command(Command::Record(false));
    b.to(5 * BAR);
    assert_eq!(b.passes(), [[(-60, 90, 60)]]);
    assert_eq!(b.heard(BAR, 5 * BAR), "7680+60 7770-60 15300+60 15390-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn an_early_note_is_not_struck_again_by_a_jump_to_the_section_that_plays() {
    let mut b = passes(&[(1, &[-100])]);
    b.command(Command::Play);
    // It has sounded by now, before the seam that it is early for.
    b.to(BAR - 50);
    assert!(b.command(Command::Jump(Letter::A, When::Seam)));
    b.to(BAR + 200);
    assert_eq!(b.heard(BAR - 200, BAR + 200), "3740+61 3840-61");
    b.command(Command::Stop);
    b.check_wire();
}
