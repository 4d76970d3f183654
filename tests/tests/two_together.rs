//! Two programs on one clock: one leads, the other follows it over a FIFO.
//!
//! The cable carries Start, then 24 pulses to the quarter (MIDI 1.0, "System Real Time"). The test
//! asserts what was played and in which order; it only prints how far apart the two were, since that
//! depends on the machine.
#![cfg(unix)]

use chaconne_tests::follow::{Cable, along};

#[test]
fn a_follower_plays_what_the_leader_plays() {
    const ROUNDS: u32 = 3;
    let folder = tempfile::tempdir().unwrap();
    let together = along(folder.path(), ROUNDS, Cable::Fifo);
    together.assert_same(ROUNDS);
    println!("{:?}", together.apart());
}
