//! Two programs on one clock: one leads, the other follows it over a FIFO.
//!
//! The cable carries what MIDI 1.0 has for it ("System Real Time"): Start, then 24 pulses to the
//! quarter. What is asserted is what was played and in which order; how far apart the two were is
//! printed, since that is this machine's.
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
