//! Choosing the sound of a track by ear.

use super::*;

impl Player {
    /// The track's program in the song, from 1.
    fn program(&self, track: usize) -> Option<u8> {
        let song = self.bench.state().status.song;
        song.tracks[track].program.map(|program| program.get() + 1)
    }

    /// The programs auditioned since the last call, from 1; 0 for going back to the song's own.
    fn auditioned(&mut self) -> Vec<u8> {
        let heard = |effect: &Effect| match effect {
            Effect::Command(Command::Audition(_, program)) => {
                Some(program.map_or(0, |program| program.get() + 1))
            }
            _ => None,
        };
        self.effects.drain(..).collect::<Vec<_>>().iter().filter_map(heard).collect()
    }
}

#[test]
fn a_sound_is_chosen_by_ear_and_is_one_change_of_the_song() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("i");
    assert_eq!(player.screen.scene(), Scene::Sounds);
    player.press([Code::PageDown, Code::Up, Code::End, Code::Home].map(Key::new));
    // With no sound chosen, program 1 is heard, as an instrument starts (General MIDI System Level
    // 1).
    assert_eq!(player.auditioned(), [8, 7, 128, 1]);
    player.type_text("cel");
    player.type_text("lo");
    assert_eq!(player.auditioned(), [8, 9, 43]);
    assert_eq!((player.program(1), player.bench.state().status.undo), (None, None));
    player.enter();
    assert_eq!((player.screen.scene(), player.program(1)), (Scene::Loop, Some(43)));
    player.type_text("u");
    assert_eq!((player.program(1), player.bench.state().status.undo), (None, None));
}

#[test]
fn leaving_the_choice_of_a_sound_changes_nothing_and_ends_the_audition() {
    let mut player = Player::new(four_parts());
    player.type_text("i");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.auditioned(), [], "nothing was heard, so there is nothing to end");
    player.type_text("i9");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.auditioned(), [9, 0]);
    player.type_text("i9");
    player.press([Key::new(Code::Home)]);
    player.enter();
    assert_eq!(player.auditioned(), [9, 1, 0]);
    assert_eq!((player.program(0), player.bench.state().status.undo), (None, None));
}

#[test]
fn an_unknown_sound_is_refused_and_can_be_typed_again() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("iflutex");
    player.enter();
    assert_eq!(player.screen.scene(), Scene::Sounds);
    assert!(player.screen.notice.wrong && player.screen.notice.text.contains("'flutex'"));
    player.press([Key::new(Code::Backspace)]);
    player.enter();
    assert_eq!(player.program(1), Some(74));
    player.type_text("izz");
    player.press([Key::ctrl('u')]);
    player.type_text("none");
    player.enter();
    assert_eq!(player.program(1), None);
}

#[test]
fn a_new_track_gets_the_sound_that_its_name_suggests() {
    let mut player = Player::new(empty_song(4, "4/4"));
    for name in ["drums", "bass", "oddity"] {
        player.type_text("a");
        player.type_text(name);
        player.enter();
    }
    assert_eq!([0, 1, 2].map(|track| player.program(track)), [Some(1), Some(34), None]);
}
