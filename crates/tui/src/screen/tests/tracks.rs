//! Choosing and arming tracks.

use super::*;

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
    assert_eq!(player.screen.notice.text, "Redone: new track (track 5).");
}

#[test]
fn no_track_is_chosen_once_the_last_one_is_gone() {
    let mut player = Player::new(empty_song(1, "4/4"));
    player.type_text("a");
    player.enter();
    player.type_text("u");
    assert_eq!(player.screen.chosen, None);
}
