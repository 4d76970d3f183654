//! Two programs on one clock: one leads, the other follows it over a FIFO.
//!
//! The cable carries Start, then 24 pulses to the quarter (MIDI 1.0, "System Real Time"). The test
//! asserts the notes and their order. It only prints how far apart the two were, because that depends on
//! the machine.
#![cfg(unix)]

use chaconne_tests::follow::{Cable, along};

#[test]
fn a_follower_plays_the_same_notes_as_the_leader() {
    const ROUNDS: u32 = 3;
    let folder = tempfile::tempdir().unwrap();
    let together = along(folder.path(), ROUNDS, Cable::Fifo);
    together.assert_same(ROUNDS);
    println!("{:?}", together.apart());
}
