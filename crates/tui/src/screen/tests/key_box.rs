//! The box of suggested keys, and of parts with a compass.

use super::*;
use crate::testing::pass;
use chaconne_engine::When;
use chaconne_song::{Commit, Compass, Edit, KeySignature, Track, TrackId, Transpose};
use chaconne_time::Tick;
use std::sync::Arc;

const DOWN: Key = Key::new(Code::Down);

/// A singer who goes up to the key `high` in section A and a semitone further in B, with the compass of an alto
/// in a choir, G3 to D5 (common practice, no source).
fn sung(high: u8) -> Song {
    let mut song = empty_song(1, "4/4");
    let key = |number| U7::new(number).unwrap();
    let alto = Compass::new(key(55), key(74)).unwrap();
    let singer = Track { compass: Some(alto), ..Track::pitched(TrackId(1), "singer") };
    song.tracks.push(Arc::new(singer));
    song.lay(Letter::A, pass(10, 1, 3840, &[(0, 960, 60, 90), (960, 960, high, 90)]));
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let b = "B".parse().unwrap();
    song.sections.push(Arc::new(Section::new(b, metre, Tempo::DEFAULT)));
    song.lay(b, pass(11, 1, 3840, &[(0, 960, high + 1, 90)]));
    song
}

/// A section with these lengths, in quarters, of each pitch class from middle C up.
fn of_totals(totals: [i64; 12]) -> Song {
    let mut song = empty_song(16, "4/4");
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "piano")));
    let notes: Vec<_> = (60..)
        .zip(totals)
        .filter(|(_, total)| *total > 0)
        .map(|(key, total)| (0, total * 960, key, 90))
        .collect();
    song.lay(Letter::A, pass(10, 1, 16 * 3840, &notes));
    song
}

fn open(song: Song) -> Player {
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6))]);
    player.type_text("Y");
    player
}

fn rows(player: &Player) -> Vec<KeyRow> {
    match player.screen.overlays.top() {
        Some(Overlay::Key(open)) => open.rows.clone(),
        _ => Vec::new(),
    }
}

fn sentence(player: &Player) -> String {
    match player.screen.overlays.top() {
        Some(Overlay::Key(open)) => open.sentence(),
        _ => String::new(),
    }
}

/// The correlations were computed with numpy and with music21 9, which agree to four decimals.
#[test]
fn keys_are_suggested_with_their_correlation_and_enter_takes_one() {
    let mut player = open(of_totals([1, 0, 1, 0, 1, 1, 0, 0, 1, 1, 0, 1]));
    let suggested: Vec<String> = rows(&player)
        .iter()
        .map(|row| match row {
            KeyRow::Key { sounds, fits, is_set, .. } => {
                format!("{sounds} {} {is_set}", hundredths(*fits))
            }
            KeyRow::Compass { .. } => panic!("{row:?}"),
            KeyRow::Step(_) => String::new(),
        })
        .collect();
    assert_eq!(
        suggested,
        [
            "A minor 0.69 false",
            "F major 0.39 false",
            "C major 0.38 false",
            "D minor 0.38 false",
            "",
            ""
        ]
    );
    let before = player.bench.state().status.song;
    player.press([DOWN, Key::new(Code::Up)]);
    assert!(
        sentence(&player)
            .starts_with("Only a suggestion: the notes of A fit A minor (correlation 0.69).")
    );
    player.enter();
    let song = player.bench.state().status.song;
    assert_eq!(song.sections[0].key, "A minor".parse::<KeySignature>().ok());
    assert_eq!(player.screen.notice.text, "Section A is in A minor; u undoes that.");
    assert_eq!(player.bench.state().status.undo.unwrap().to_string(), "section key");
    player.type_text("Y");
    assert!(matches!(rows(&player)[0], KeyRow::Key { is_set: true, .. }));
    assert_eq!(sentence(&player), "A is in A minor already.");
    player.enter();
    player.type_text("u");
    assert_eq!(*player.bench.state().status.song, *before);
}

#[test]
fn a_transposed_song_is_offered_the_key_that_sounds_and_gets_the_one_that_is_written() {
    let mut song = of_totals([1, 0, 1, 0, 1, 1, 0, 0, 1, 1, 0, 1]);
    song.transpose = Transpose::new(2).unwrap();
    let mut player = open(song);
    let KeyRow::Key { sounds, written, .. } = &rows(&player)[0] else { panic!() };
    assert_eq!((sounds.to_string(), written.to_string()), ("B minor".into(), "A minor".into()));
    player.enter();
    assert_eq!(player.screen.notice.text, "Section A is in B minor; u undoes that.");
    let song = player.bench.state().status.song;
    assert_eq!(song.sections[0].key.unwrap().to_string(), "A minor");
}

#[test]
fn a_part_beyond_its_compass_is_named_with_the_transposition_that_fits_and_enter_transposes() {
    let mut player = open(sung(75));
    player.press([Key::new(Code::Up), DOWN, DOWN, DOWN, DOWN]);
    assert_eq!(
        sentence(&player),
        "singer is 1 semitone too high in A, 2 semitones too high in B. Transposed by -2 it fits: {confirm} does \
         that to the whole song."
    );
    player.enter();
    let song = player.bench.state().status.song;
    assert_eq!(song.transpose.semitones(), -2);
    assert_eq!(
        player.screen.notice.text,
        "The song now sounds 2 semitones lower than written; u undoes that."
    );
    player.type_text("Y");
    player.press([DOWN, DOWN, DOWN, DOWN]);
    assert_eq!(sentence(&player), "singer stays within G3 to D5 in every section.");
    player.enter();
    assert_eq!(player.bench.state().status.song.transpose.semitones(), -2);
    player.type_text("u");
    assert_eq!(*player.bench.state().status.song, sung(75));
}

#[test]
fn a_part_too_wide_for_any_key_is_said_to_be_so() {
    let mut song = sung(84);
    // From middle C to C#6: 25 semitones, in a compass of 19.
    let mut player = open(song.clone());
    player.press([DOWN, DOWN, DOWN, DOWN]);
    let said = sentence(&player);
    assert!(said.contains("it is still 6 semitones out"), "{said}");
    song.sections.clear();
    song = empty_song(1, "4/4");
    let player = open(song);
    assert_eq!(player.screen.scene(), Scene::SongForm);
    assert!(player.screen.notice.text.starts_with("There are no pitched notes here"));
}

/// The row of the song, and the one of the section after it.
fn steps(player: &mut Player) {
    player.press([Key::new(Code::Up); 12]);
    player.press([DOWN; 5]);
}

const RIGHT: Key = Key::new(Code::Right);

#[test]
fn the_last_rows_transpose_the_song_or_the_section_by_semitones() {
    let mut song = sung(70);
    song.key = "E minor".parse().ok();
    let mut player = open(song.clone());
    steps(&mut player);
    assert_eq!(
        sentence(&player),
        "The left and right arrows choose by how many semitones to transpose the song."
    );
    player.press([RIGHT, RIGHT, RIGHT, Key::new(Code::Left)]);
    assert_eq!(
        sentence(&player),
        "{confirm} transposes the song by +2. It then sounds in F# minor; drums stay."
    );
    player.enter();
    let status = player.bench.state().status;
    assert_eq!(status.song.transpose.semitones(), 2);
    assert_eq!(player.screen.notice.text, "The song now sounds in F# minor; u undoes that.");
    player.type_text("Y");
    steps(&mut player);
    player.press([DOWN, Key::new(Code::Left)]);
    assert_eq!(
        sentence(&player),
        "{confirm} transposes section A by -1. It then sounds in F minor; drums stay."
    );
    player.enter();
    let status = player.bench.state().status;
    assert_eq!(status.song.sections[0].transpose.semitones(), -1);
    assert_eq!(player.screen.notice.text, "Section A now sounds in F minor; u undoes that.");
    player.type_text("uu");
    assert_eq!(*player.bench.state().status.song, song);
}

#[test]
fn while_the_song_plays_the_box_transposes_at_the_next_seam_or_when_it_is_told() {
    let mut player = open(sung(75));
    player.press([Key::new(Code::Esc)]);
    player.bench.command(Command::Play);
    player.wait(1000);
    player.type_text("Y");
    player.press([DOWN, DOWN, DOWN, DOWN]);
    assert!(sentence(&player).ends_with("does that to the whole song at the next seam."));
    for when in [" at the next bar.", " at the next beat.", " now.", " at the next seam."] {
        player.press([Key::new(Code::Tab)]);
        assert!(sentence(&player).ends_with(when), "{when}");
    }
    player.enter();
    let status = player.bench.state().status;
    let change = status.key_change.unwrap();
    assert_eq!((status.song.transpose.semitones(), change.when), (0, When::Seam));
    assert_eq!(change.at, status.at.round_up(Tick(3840)));
    assert_eq!(player.screen.notice.text, "The song goes down 2 semitones at the next seam.");
    // Now told: at once, with what was to come.
    player.type_text("Y");
    steps(&mut player);
    player.press([RIGHT, Key::new(Code::Tab), Key::new(Code::Tab), Key::new(Code::Tab)]);
    player.enter();
    let status = player.bench.state().status;
    assert_eq!((status.song.transpose.semitones(), status.key_change), (-1, None));
}

#[test]
fn an_open_box_follows_what_changes_meanwhile() {
    let mut player = open(sung(75));
    player.press([DOWN, DOWN, DOWN, DOWN]);
    assert!(sentence(&player).contains("Transposed by -2 it fits"));
    // Somebody else transposes; the row now says what is true.
    let to = |by| chaconne_engine::NewKey::To(Transpose::new(by).unwrap());
    let song = chaconne_engine::KeyOf::Song;
    player.bench.command(Command::Transpose(song, to(-2), None));
    player.wait(50);
    assert_eq!(sentence(&player), "singer stays within G3 to D5 in every section.");
    player.bench.command(Command::Undo);
    player.wait(50);
    assert!(sentence(&player).contains("Transposed by -2 it fits"));
    // The steps that are chosen stay chosen, and the cursor stays on its row.
    steps(&mut player);
    player.press([RIGHT, RIGHT]);
    player.bench.command(Command::Transpose(song, to(3), None));
    player.wait(50);
    assert_eq!(
        sentence(&player),
        "{confirm} transposes the song by +2. It then sounds 5 semitones higher than written; drums stay."
    );
    player.enter();
    assert_eq!(player.bench.state().status.song.transpose.semitones(), 5);
}

#[test]
fn the_box_closes_if_its_section_is_gone() {
    let mut player = Player::new(sung(75));
    player.press([Key::new(Code::F(6)), DOWN]);
    player.type_text("Y");
    assert!(!rows(&player).is_empty());
    let gone = Edit::RemoveSection("B".parse().unwrap());
    player.bench.command(Command::Edit(Commit::of(gone)));
    player.wait(50);
    assert_eq!(player.screen.scene(), Scene::SongForm);
}

#[test]
fn two_keys_of_the_form_transpose_the_song_by_semitones() {
    let mut player = Player::new(sung(70));
    player.press([Key::new(Code::F(6))]);
    player.type_text("]]");
    assert_eq!(player.bench.state().status.song.transpose.semitones(), 2);
    assert_eq!(player.screen.notice.text, "The song goes up 1 semitone now.");
    player.bench.command(Command::Play);
    player.wait(100);
    player.type_text("W[[[");
    let status = player.bench.state().status;
    let change = status.key_change.unwrap();
    assert_eq!((change.when, change.at), (When::Bar, status.at.round_up(Tick(3840))));
    assert_eq!(player.screen.notice.text, "The song goes down 3 semitones at the next bar.");
    player.wait(2000);
    assert_eq!(player.bench.state().status.song.transpose.semitones(), -1);
    // Past the first beat of the bar, and early enough for the undo.
    while !(1000..2000).contains(&player.bench.state().status.in_section.0) {
        player.wait(100);
    }
    player.type_text("[u");
    assert_eq!(player.screen.notice.text, "Undone: coming key change.");
    player.type_text("u");
    assert_eq!(player.bench.state().status.song.transpose.semitones(), 2);
}
