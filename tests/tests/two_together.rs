//! Two programs on one clock: one leads, the other follows it over a FIFO.
//!
//! The cable carries what MIDI 1.0 has for it ("System Real Time"): Start, then 24 pulses to the
//! quarter. What is asserted is what was played and in which order; how far apart the two were is
//! printed, since that is this machine's.
#![cfg(unix)]

use chaconne_tests::follow::{STRIKES, along, key};

#[test]
fn a_follower_plays_what_the_leader_plays() {
    const ROUNDS: u32 = 3;
    let folder = tempfile::tempdir().unwrap();
    let together = along(folder.path(), ROUNDS);
    let keys = |strikes: &[(u8, i64)]| strikes.iter().map(|strike| strike.0).collect::<Vec<_>>();
    let expected: Vec<u8> = (0..ROUNDS as usize * STRIKES).map(key).collect();
    assert_eq!(keys(&together.leader), expected);
    // It stops when it hears of it: the top of another round may have begun by then.
    let mut followed = keys(&together.follower);
    assert!((expected.len()..=expected.len() + 2).contains(&followed.len()), "{followed:?}");
    followed.truncate(expected.len());
    assert_eq!(followed, expected);
    println!("{:?}", together.apart());
}
