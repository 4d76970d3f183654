//! Choosing and arming tracks.

use super::*;
use std::sync::Arc;

#[test]
fn arrows_arm_except_while_recording() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    assert_eq!(player.bench.state().status.armed, Some(TrackId(2)));
    player.type_text("r");
    player.press([Key::new(Code::Down)]);
    assert_eq!(player.screen.chosen, Some(TrackId(3)));
    assert_eq!(player.bench.state().status.armed, Some(TrackId(2)));
    player.type_text("m");
    assert_eq!(player.last(), "Command(Next(MuteTrack(TrackId(3))))");
    player.enter();
    assert_eq!(player.bench.state().status.armed, Some(TrackId(3)));
}

#[test]
fn the_choice_of_a_track_stops_at_both_ends_of_the_list() {
    let mut player = Player::new(four_parts());
    player.press((0..9).map(|_| Key::new(Code::Down)));
    assert_eq!(player.screen.chosen, Some(TrackId(4)));
    player.press((0..9).map(|_| Key::new(Code::Up)));
    assert_eq!(player.screen.chosen, Some(TrackId(1)));
}

#[test]
fn undoing_a_new_track_arms_the_earlier_track_again() {
    let armed = |player: &Player| player.bench.state().status.armed;
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down), Key::new(Code::Down)]);
    player.type_text("a");
    player.enter();
    let new = armed(&player);
    assert_ne!(new, Some(TrackId(3)));
    assert_eq!(player.screen.chosen, new);
    player.type_text("u");
    assert_eq!((armed(&player), player.screen.chosen), (Some(TrackId(3)), Some(TrackId(3))));
    player.type_text("U");
    assert_eq!((armed(&player), player.screen.chosen), (new, new));
    assert_eq!(player.screen.notice.text, "Redone: new track (lead).");
}

#[test]
fn no_track_is_chosen_once_the_last_one_is_gone() {
    let mut player = Player::new(empty_song(1, "4/4"));
    player.type_text("a");
    player.enter();
    player.type_text("u");
    assert_eq!(player.screen.chosen, None);
}

impl Player {
    fn track_names(&self) -> Vec<String> {
        let song = self.bench.state().status.song;
        song.tracks.iter().map(|track| track.name.clone()).collect()
    }
}

#[test]
fn a_track_is_renamed_moved_and_removed_with_its_passes_and_brought_back() {
    let mut player = Player::new(four_parts());
    let before = player.bench.state().status.song;
    let names = player.track_names();
    player.press([Key::new(Code::Down)]);
    player.type_text("e");
    player.type_text("low end");
    player.enter();
    assert_eq!(player.track_names()[1], "low end");
    player.type_text("..");
    assert_eq!(player.track_names(), [&*names[0], &names[2], &names[3], "low end"]);
    player.type_text(".");
    assert_eq!(player.screen.notice.text, "This is the last track.");
    player.type_text("X");
    let song = player.bench.state().status.song;
    assert_eq!(player.track_names(), [&*names[0], &names[2], &names[3]]);
    assert!(song.passes.len() < before.passes.len(), "its passes are gone with it");
    player.type_text("u");
    assert_eq!(player.track_names()[3], "low end");
    player.type_text("uuu");
    assert_eq!(player.bench.state().status.song.tracks, before.tracks);
    assert_eq!(player.bench.state().status.song.passes, before.passes);
}

#[test]
fn a_wrong_channel_is_refused_and_a_right_one_taken() {
    let mut player = Player::new(four_parts());
    player.type_text("e");
    player.press([Key::new(Code::Tab), Key::new(Code::Tab), Key::ctrl('u')]);
    player.type_text("17");
    player.enter();
    let Some(Overlay::Form(form)) = player.screen.overlays.top() else { panic!("closed") };
    let error = form.error.as_deref();
    assert_eq!(error, Some("'17' is not a channel: use 1 to 16, or leave it empty."));
    player.press([Key::ctrl('u')]);
    player.type_text("16");
    player.enter();
    let song = player.bench.state().status.song;
    assert_eq!(song.tracks[0].channel.map(|channel| channel.number()), Some(16));
}

#[test]
fn the_song_gets_a_title_a_key_and_a_transposition() {
    let mut player = Player::new(four_parts());
    player.type_text("E");
    player.type_text("Evening");
    player.press([Key::new(Code::Tab), Key::ctrl('u')]);
    player.type_text("Eb major");
    player.press([Key::new(Code::Tab), Key::ctrl('u')]);
    player.type_text("-3");
    player.enter();
    let song = player.bench.state().status.song;
    assert_eq!(song.title, "Evening");
    assert_eq!(song.key.map(|key| key.to_string()).as_deref(), Some("Eb major"));
    assert_eq!(song.transpose.semitones(), -3);
    assert_eq!(player.screen.notice.text, "The song now sounds in C major; u undoes that.");
    player.type_text("u");
    assert_eq!(player.bench.state().status.song.title, four_parts().title);
}

#[test]
fn a_song_without_a_key_says_how_far_it_sounds_from_what_is_written() {
    let mut player = Player::new(four_parts());
    for (semitones, said) in [
        ("-2", "The song now sounds 2 semitones lower than written; u undoes that."),
        ("1", "The song now sounds 1 semitone higher than written; u undoes that."),
        ("0", "The song now sounds as written; u undoes that."),
    ] {
        player.type_text("E");
        player.press([Key::new(Code::Tab), Key::new(Code::Tab), Key::ctrl('u')]);
        player.type_text(semitones);
        player.enter();
        assert_eq!(player.screen.notice.text, said);
    }
}

#[test]
fn a_muted_track_that_is_soloed_is_said_to_be_muted() {
    let mut player = Player::new(four_parts());
    player.type_text("s");
    assert!(!player.screen.notice.text.contains("muted"), "{}", player.screen.notice.text);
    player.type_text("sms");
    assert_eq!(player.screen.notice.text, "The track is muted: m unmutes it.");
}

#[test]
fn a_track_that_becomes_drums_plays_on_the_channel_of_drums() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("e");
    player.press([Key::new(Code::Tab), Key::new(Code::Right)]);
    player.enter();
    let track = player.bench.state().status.song.tracks[1].clone();
    assert_eq!((track.pitched, track.channel), (false, Some(chaconne_song::Channel::PERCUSSION)));
}

#[test]
fn a_compass_is_shown_as_it_is_spelled_in_the_key_of_the_song() {
    let mut song = four_parts();
    song.key = "F minor".parse().ok();
    Arc::make_mut(&mut song.tracks[3]).compass = "G#3 to A#4".parse().ok();
    let of = song.tracks[3].clone();
    let form = crate::form::Form::edit_track(&song, &of);
    let crate::form::Value::Text(line) = &form.fields[4].value else { panic!("{form:?}") };
    assert_eq!(line.text(), "Ab3 to Bb4");
    // In the box of keys, too, where the part goes beyond it.
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6)), Key::char('Y'), Key::new(Code::End)]);
    let Some(Overlay::Key(open)) = player.screen.overlays.top() else { panic!("no box") };
    let reach = open.rows.iter().find_map(|row| match row {
        crate::screen::KeyRow::Compass { compass, .. } => Some(compass.clone()),
        _ => None,
    });
    assert_eq!(reach.unwrap(), "Ab3 to Bb4");
}
