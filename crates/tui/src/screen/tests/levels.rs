//! The view of the levels: every key, against the song of a real engine.

use super::*;

impl Player {
    /// Volume and pan of each track.
    fn levels(&self) -> Vec<(Option<u8>, Option<u8>)> {
        let song = self.bench.state().status.song;
        let levels = song.tracks.iter().map(|track| track.levels);
        levels.map(|it| (it.volume.map(U7::get), it.pan.map(U7::get))).collect()
    }
}

#[test]
fn volume_and_pan_follow_the_arrows_and_a_run_is_one_undo_step() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(5)), Key::new(Code::Down)]);
    assert_eq!(player.screen.view, View::Levels);
    player.press_ten_times(Key::new(Code::Left));
    player.press_ten_times(Key::char('.'));
    assert_eq!(player.levels()[1], (Some(80), Some(84)));
    player.press([Key::new(Code::Right), Key::char(',')]);
    assert_eq!(player.levels()[1], (Some(82), Some(82)));
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.levels()[1], (None, None));
    player.type_text("u");
    assert_eq!(player.levels()[1], (Some(82), Some(82)));
    assert_eq!(player.screen.notice.text, "Undone: levels of bass.");
    player.type_text("uuuu");
    assert_eq!(player.levels(), [(None, None); 4]);
    assert_eq!(player.bench.state().status.undo, None);
}

#[test]
fn the_levels_view_mutes_solos_and_arms_as_the_loop_does() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(5)), Key::new(Code::Down)]);
    player.type_text("ms");
    let status = player.bench.state().status;
    assert!(status.song.tracks[1].mute);
    let bass = status.song.tracks[1].id;
    assert_eq!((status.armed, status.solo_tracks), (Some(bass), [bass].into()));
}

#[test]
fn levels_of_another_track_than_the_recorded_one_are_set_and_it_is_said() {
    let mut player = Player::new(four_parts());
    player.press([Key::char('0'), Key::new(Code::F(5)), Key::char('r')]);
    player.bench.wait(1000);
    player.press([Key::new(Code::Right)]);
    assert_eq!(player.levels()[0], (None, None), "a move of the take");
    assert!(!player.screen.notice.text.contains("Only"), "{}", player.screen.notice.text);
    player.press([Key::new(Code::Down), Key::new(Code::Right)]);
    assert_eq!(player.levels()[1], (Some(102), None));
    let said = "Only drums is being recorded: this sets the volume of bass everywhere.";
    assert_eq!(player.screen.notice.text, said);
    player.press([Key::char('.')]);
    assert!(player.screen.notice.text.contains("sets the pan of bass"));
    player.type_text("r");
    player.press([Key::new(Code::Left)]);
    assert!(!player.screen.notice.text.contains("Only"), "{}", player.screen.notice.text);
}

#[test]
fn levels_changed_while_recording_are_moves_of_the_take() {
    let mut player = Player::new(four_parts());
    player.press([Key::char('0'), Key::new(Code::F(5)), Key::char('r')]);
    player.bench.wait(1000);
    player.press([Key::new(Code::Right), Key::new(Code::Right)]);
    let status = player.bench.state().status;
    let track = status.armed.unwrap();
    assert_eq!(status.moved_levels[&track].volume, Some(U7::low_bits(104)));
    assert_eq!(player.levels()[0], (None, None));
    player.bench.wait(8000);
    player.type_text("r");
    assert_eq!(player.levels()[0], (Some(100), None), "a level to go back to");
    let song = player.bench.state().status.song;
    let newest = song.passes.values().next_back().unwrap();
    assert_eq!((newest.track, newest.notes().len(), newest.lanes().len()), (track, 0, 1));
    player.type_text("u");
    assert_eq!(player.screen.notice.text, "Undone: moves of drums.");
    assert_eq!((player.levels()[0], player.bench.state().status.undo), ((None, None), None));
}
