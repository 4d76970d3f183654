//! The octave of the two rows of letters, track by track.

use super::*;
use chaconne_song::{Track, drum_name};
use std::sync::Arc;

const UP: Key = Key::new(Code::Right);
const NEXT: Key = Key::new(Code::PageDown);
const BACK: Key = Key::new(Code::PageUp);

impl Player {
    /// The key that the letter f plays.
    fn under_the_finger(&self) -> u8 {
        self.screen.piano.key_of('f').unwrap().get()
    }
}

#[test]
fn each_track_has_its_own_octave_and_keeps_it() {
    // Drums, a bass from 41 to 60, chords, and a line from 71 to 79.
    let mut player = Player::new(four_parts());
    player.type_text("p");
    assert_eq!(player.under_the_finger(), 36);
    player.press([NEXT]);
    assert_eq!(player.under_the_finger(), 48);
    player.press([UP, UP]);
    assert_eq!(player.under_the_finger(), 72);
    player.press([NEXT]);
    assert_ne!(player.under_the_finger(), 72);
    player.press([BACK]);
    assert_eq!(player.under_the_finger(), 72);
    player.press([BACK]);
    assert_eq!(player.under_the_finger(), 36);
}

#[test]
fn a_track_without_notes_starts_where_its_sound_usually_plays_until_somebody_plays_it() {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(Arc::new(Track { program: U7::new(33), ..Track::pitched(TrackId(1), "low") }));
    let mut player = Player::new(song);
    player.type_text("p");
    assert_eq!(player.under_the_finger(), 36);
    // Another sound, before anything is played: a piano.
    player.press([Key::new(Code::Esc)]);
    let sound = |program| {
        let edit = chaconne_song::TrackEdit::Program(U7::new(program));
        Command::Edit(chaconne_song::Commit::of(chaconne_song::Edit::Track(TrackId(1), edit)))
    };
    player.bench.command(sound(0));
    player.follow();
    assert_eq!(player.under_the_finger(), 60);
    player.type_text("pf");
    player.bench.command(sound(33));
    player.follow();
    assert_eq!(player.under_the_finger(), 60, "it was played there");
}

#[test]
fn another_song_starts_afresh() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.press([UP]);
    assert_eq!(player.under_the_finger(), 48);
    player.bench.command(Command::Open(Box::new(four_parts())));
    player.follow();
    assert_eq!(player.under_the_finger(), 36);
}

#[test]
fn a_letter_on_a_drum_track_plays_what_it_is_labelled_with() {
    // General MIDI System Level 1 (RP-003), "Percussion Key Map": keys 35 to 81.
    let mut player = Player::new(four_parts());
    player.type_text("p");
    let piano = &player.screen.piano;
    let letters = piano.keyboard.white().into_iter().chain(piano.keyboard.black());
    let keys: Vec<(char, U7)> = letters.filter_map(|c| Some((c, piano.key_of(c)?))).collect();
    let unnamed = keys.iter().filter(|(_, key)| drum_name(*key).is_none()).count();
    assert_eq!((keys.len(), unnamed), (19, 5));
    for (letter, key) in keys {
        player.effects.clear();
        player.press([Key::char(letter)]);
        let played = player.effects.iter().find_map(|effect| match effect {
            Effect::Play(LiveKey::Press { key, .. }) => Some(*key),
            _ => None,
        });
        assert_eq!(played, Some(key), "{letter}");
    }
}
