//! Ports that are full, lost or found again.

use super::*;

#[test]
fn a_full_port_is_owed_its_releases_and_gets_them_first() {
    let mut bench = Bench::rolling();
    for cue in [press(0, 1, 60, 1), press(0, 1, 64, 2), change(0, 1, 64, 127)] {
        bench.order(Order::Play(cue));
    }
    bench.run(MS);
    bench.words();
    bench.paper.answers[0] = Sent::Full;
    for cue in [
        lift(40, 1, 60, 1),
        lift(40, 1, 64, 2),
        change(40, 1, 64, 0),
        press(80, 1, 62, 3),
        change(80, 1, 7, 100),
        clock(80),
    ] {
        bench.order(Order::Play(cue));
    }
    bench.run(100 * MS);
    assert_eq!(bench.words(), "");
    let stats = bench.stats();
    assert_eq!((stats.sounding, stats.ports[0].dropped), (2, 0));
    assert!(!bench.machine.is_silent());
    // The port takes one message and is full again; later it takes everything.
    bench.paper.answers[0] = Sent::Done;
    bench.paper.room[0] = 1;
    bench.run(110 * MS);
    assert_eq!(bench.words(), "803C40");
    bench.paper.room[0] = usize::MAX;
    bench.order(Order::Play(press(0, 1, 64, 4)));
    bench.order(Order::Play(lift(300, 1, 64, 4)));
    bench.order(Order::Play(lift(300, 1, 62, 3)));
    bench.run(200 * MS);
    assert_eq!(bench.words(), "804040 B04000 F8 B00764 903E64 904064 804040 803E40");
    bench.assert_silent();
}

#[test]
fn a_press_that_waits_too_long_for_a_full_port_is_dropped_with_its_release() {
    let mut bench = Bench::rolling();
    bench.paper.answers[0] = Sent::Full;
    for cue in [press(0, 1, 60, 1), clock(0), change(0, 1, 7, 90), lift(960, 1, 60, 1)] {
        bench.order(Order::Play(cue));
    }
    bench.order(Order::Play(press(380, 1, 62, 2)));
    bench.run(250 * MS);
    bench.paper.answers[0] = Sent::Done;
    bench.run(1000 * MS);
    // The press of key 62 was due at 198 ms, so it waited less than a tenth of a second.
    assert_eq!(bench.words(), "B0075A 903E64");
    assert_eq!(bench.stats().ports[0].dropped, 2);
}

#[test]
fn the_backlog_of_a_full_port_is_limited_but_keeps_every_release() {
    let mut bench = Bench::rolling();
    for note in 0..100u8 {
        bench.order(Order::Play(press(0, 1, note, note.into())));
    }
    bench.run(MS);
    bench.words();
    bench.paper.answers[0] = Sent::Full;
    for value in 0..600 {
        bench.order(Order::Play(change(20 + value, 1, 7, (value % 128) as u8)));
    }
    for note in 0..100u8 {
        bench.order(Order::Play(lift(700, 1, note, note.into())));
    }
    bench.run(700 * MS);
    assert_eq!(bench.stats().ports[0].dropped, 600 - 96);
    bench.paper.answers[0] = Sent::Done;
    bench.run(800 * MS);
    let words = bench.words();
    assert_eq!(words.split(' ').filter(|word| word.starts_with("80")).count(), 100);
    bench.assert_silent();
}

#[test]
fn a_stop_that_a_full_port_could_not_take_is_sent_later() {
    let mut bench = Bench::rolling();
    bench.order(Order::Now { port: PortIx(2), message: Message::Start });
    bench.words();
    bench.paper.answers[2] = Sent::Full;
    bench.order(Order::Now { port: PortIx(2), message: Message::Stop });
    bench.run(10 * MS);
    assert!(!bench.machine.is_silent());
    bench.paper.answers[2] = Sent::Done;
    bench.run(20 * MS);
    assert_eq!(bench.words(), "FC");
    assert!(bench.machine.next_deadline().is_none());
}

#[test]
fn one_full_port_does_not_hold_up_another() {
    let mut bench = Bench::rolling();
    bench.paper.answers[1] = Sent::Full;
    for port in [1, 0] {
        bench.order(Order::Play(Cue { port: PortIx(port), ..press(0, 1, 60, port.into()) }));
        bench.order(Order::Play(Cue { port: PortIx(port), ..lift(40, 1, 60, port.into()) }));
    }
    bench.run(100 * MS);
    assert_eq!(bench.words(), "903C64 803C40");
    // The press that waits for the full port becomes too old to send.
    bench.run(200 * MS);
    bench.assert_silent();
}

#[test]
fn a_lost_port_is_forgotten_and_the_others_continue() {
    let mut bench = Bench::rolling();
    for port in [0, 1] {
        let note = u32::from(port) + 1;
        bench.order(Order::Play(Cue { port: PortIx(port), ..press(0, 1, 60, note) }));
        bench.order(Order::Play(Cue { port: PortIx(port), ..press(40, 1, 64, note + 10) }));
        bench.order(Order::Play(Cue { port: PortIx(port), ..lift(80, 1, 60, note) }));
        bench.order(Order::Play(Cue { port: PortIx(port), ..lift(80, 1, 64, note + 10) }));
    }
    bench.run(MS);
    assert_eq!((bench.stats().sounding, bench.words().as_str()), (2, "903C64 903C64"));
    bench.paper.answers[1] = Sent::Lost;
    bench.run(100 * MS);
    assert_eq!(bench.words(), "904064 803C40 804040");
    assert_eq!(bench.stats().ports[1].state, crate::PortState::Lost);
    bench.assert_silent();
    // Once found again, the port plays the following notes, without releases of notes it never got.
    bench.paper.answers[1] = Sent::Done;
    bench.machine.find(bench.now, PortIx(1), &mut bench.paper);
    assert_eq!(bench.words(), "B04000 B07B00 B07800");
    bench.order(Order::Play(Cue { port: PortIx(1), ..press(300, 1, 67, 20) }));
    bench.order(Order::Play(Cue { port: PortIx(1), ..lift(400, 1, 67, 20) }));
    bench.run(300 * MS);
    assert_eq!(bench.words(), "904364 804340");
    assert_eq!(bench.stats().ports[1].state, crate::PortState::Open);
    bench.assert_silent();
}

#[test]
fn losing_a_port_forgets_its_keys_and_pedals_at_once() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(change(0, 1, 64, 127)));
    bench.run(MS);
    bench.paper.answers[0] = Sent::Lost;
    bench.order(Order::Now { port: PortIx(0), message: Message::Clock });
    bench.assert_silent();
}

#[test]
fn a_lost_port_is_not_owed_releases_any_more() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.run(MS);
    bench.paper.answers[0] = Sent::Full;
    bench.order(Order::Play(lift(40, 1, 60, 1)));
    bench.run(50 * MS);
    bench.paper.answers[0] = Sent::Lost;
    bench.run(60 * MS);
    bench.assert_silent();
    assert!(bench.machine.next_deadline().is_none());
}

#[test]
fn the_players_keys_are_counted_separately_and_released_on_their_own_port() {
    let mut bench = Bench::rolling();
    let key = U7::low_bits(60);
    let at = |port| Address { port: PortIx(port), channel: Channel::default(), key };
    let press = |port| Touch::Press { address: at(port), velocity: U7::MAX, voice: voice(60) };
    let lift = |port| Touch::Lift { address: at(port), velocity: U7::MIN, voice: voice(60) };
    bench.touch(press(0));
    bench.touch(lift(0));
    bench.touch(press(3));
    bench.touch(lift(3));
    let ports: Vec<u8> = bench.paper.log.iter().map(|line| line.port).collect();
    assert_eq!(ports, [0, 0, 3, 3]);
    let stats = bench.stats();
    assert_eq!((stats.through.count, stats.notes.count, stats.late), (4, 0, 0));
    bench.assert_silent();
}

#[test]
fn a_port_lost_during_a_silence_does_not_cost_the_others_a_release() {
    let mut bench = Bench::rolling();
    // The ledger holds the keys in this order, so those of the lost port are between the others'.
    for (note, (port, key)) in [(0, 60), (1, 61), (2, 62), (1, 63), (0, 64)].iter().enumerate() {
        let cue = Cue { port: PortIx(*port), ..press(0, 1, *key, note as u32) };
        bench.order(Order::Play(cue));
    }
    bench.run(MS);
    bench.words();
    bench.paper.answers[1] = Sent::Lost;
    bench.order(Order::Silence);
    let words = bench.words();
    for release in ["803C40", "803E40", "804040"] {
        assert_eq!(words.matches(release).count(), 1, "{release} in {words}");
    }
    assert_eq!(bench.stats().ports[1].state, crate::PortState::Lost);
    bench.assert_silent();
}
