//! Edits during playback, made directly on one stand and read back from their text on another. Both
//! send the same bytes at the same nanoseconds. After undo, both send what they sent at first.

use crate::common::edits::edit;
use crate::common::{Chooser, steady_tape, tape};
use crate::stand::{Line, MS, SECOND, Stand};
use chaconne_engine::{Command, When};
use chaconne_song::{Commit, Edit, Song, text};
use chaconne_time::Tick;
use proptest::prelude::*;

/// How many edits are tried on a song.
const EDITS: usize = 16;

/// The messages sent since the last call, without the pulses, which do not depend on the song.
fn sent(stand: &mut Stand) -> Vec<Line> {
    let lines = std::mem::take(&mut stand.paper.lines);
    lines.into_iter().filter(|line| line.bytes[0] != 0xF8).collect()
}

/// The messages of the first two seconds of the song, with times counted from the start.
fn from_the_top(stand: &mut Stand) -> Vec<Line> {
    stand.command(Command::Stop);
    let first = stand.engine.song().sections[0].letter;
    stand.command(Command::Jump(first, When::Seam));
    stand.run_to(stand.now + SECOND);
    sent(stand);
    let start = stand.now;
    stand.command(Command::Play);
    stand.run_to(start + 2 * SECOND);
    sent(stand).into_iter().map(|line| Line { ns: line.ns - start, ..line }).collect()
}

/// The same lines without the messages that put a controller to rest at the start. Before a fresh start
/// there is none; later there is one for each controller that an edit has moved meanwhile and that a
/// stop leaves alone, such as expression.
fn without_rests(lines: Vec<Line>) -> Vec<Line> {
    // Where a reset of all controllers puts them (MMA RP-015), and the low byte of the modulation.
    let rests = |bytes: &[u8]| {
        matches!(
            (bytes[0] & 0xF0, &bytes[1..]),
            (0xB0, [1 | 33 | 64..=67, 0] | [11, 127])
                | (0xE0, [0, 64])
                | (0xA0, [_, 0])
                | (0xD0, [0])
        )
    };
    let is_first = |line: &Line| line.tick.is_some_and(|(at, _)| at <= Tick::ZERO);
    lines.into_iter().filter(|line| !(is_first(line) && rests(&line.bytes))).collect()
}

/// Two rolling stands: one with the song, one with the song read back from its text.
fn stands(song: &Song) -> [Stand; 2] {
    let copy = text::read(&text::write(song)).unwrap();
    [song.clone(), copy].map(|song| {
        let mut stand = Stand::new(song, 50 * MS, 0);
        stand.command(Command::CountIn(0));
        stand.command(Command::Play);
        stand
    })
}

/// Makes random edits on both stands and compares them. Returns how many edits were accepted.
fn edit_both(tape: Vec<u64>) -> usize {
    let mut chooser = Chooser::new(tape);
    let song = chooser.song();
    let [mut one, mut other] = stands(&song);
    let mut made = 0;
    for _ in 0..EDITS {
        let wait = chooser.within(1, 700) * MS;
        let edit: Edit = edit(&mut chooser, one.engine.song());
        let read = text::read_edit(&text::write_edit(&edit));
        for stand in [&mut one, &mut other] {
            stand.run_to(stand.now + wait);
        }
        let done = one.command(Command::Edit(Commit::of(edit)));
        match read {
            Ok(read) => assert_eq!(other.command(Command::Edit(Commit::of(read))), done),
            // An edit that the reader refuses is also refused by the song.
            Err(_) => assert!(!done),
        }
        assert_eq!(sent(&mut one), sent(&mut other));
        made += usize::from(done);
    }
    assert_eq!(from_the_top(&mut one), from_the_top(&mut other));
    assert_eq!(text::write(one.engine.song()), text::write(other.engine.song()));
    let [mut first, _] = stands(&song);
    let at_first = from_the_top(&mut first);
    for stand in [&mut one, &mut other] {
        while stand.command(Command::Undo) {}
        assert_eq!(text::write(stand.engine.song()), text::write(&song));
        assert_eq!(without_rests(from_the_top(stand)), without_rests(at_first.clone()));
        stand.end();
    }
    made
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn edits_read_from_text_send_the_same_bytes_and_can_be_undone(tape in tape(3000)) {
        edit_both(tape);
    }
}

#[test]
fn many_random_edits_are_accepted_during_playback() {
    let made: usize = (1..6).map(|seed| edit_both(steady_tape(seed, 3000))).sum();
    assert!(made > 20, "{made}");
}
