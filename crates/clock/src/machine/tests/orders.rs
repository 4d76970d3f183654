//! Order within a tick, epochs, tempo and lateness: one rule in each test.

use super::*;

#[test]
fn within_a_tick_pulses_come_first_then_lifts_controllers_and_presses() {
    // MIDI 1.0 does not say. Pulses first, releases before presses: common practice; no source.
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    for cue in [press(960, 1, 60, 2), change(960, 1, 0, 3), change(960, 1, 32, 4)] {
        bench.order(Order::Play(cue));
    }
    let program = Message::Program { channel: Channel::default(), program: U7::low_bits(5) };
    for cue in [cue(960, 1, Action::Send(program)), lift(960, 1, 60, 1), clock(960)] {
        bench.order(Order::Play(cue));
    }
    bench.order(Order::Play(lift(1000, 1, 60, 2)));
    bench.run(1000 * MS);
    assert_eq!(bench.words(), "903C64 F8 803C40 B00003 B02004 C005 903C64 803C40");
    bench.assert_silent();
}

#[test]
fn a_note_without_length_is_struck_and_released_however_its_cues_arrive() {
    for turned in [false, true] {
        let mut bench = Bench::rolling();
        let mut cues = vec![press(960, 1, 60, 1), lift(960, 1, 60, 1)];
        if turned {
            cues.reverse();
        }
        cues.into_iter().for_each(|cue| bench.order(Order::Play(cue)));
        bench.run(1000 * MS);
        assert_eq!(bench.words(), "903C64 803C40", "turned: {turned}");
        bench.assert_silent();
    }
}

#[test]
fn a_note_without_length_does_not_release_a_second_note_at_its_tick() {
    let mut bench = Bench::rolling();
    for cue in [press(960, 1, 60, 1), lift(960, 1, 60, 1), press(960, 1, 60, 2)] {
        bench.order(Order::Play(cue));
    }
    bench.order(Order::Play(lift(1920, 1, 60, 2)));
    bench.run(999 * MS);
    assert_eq!(bench.words(), "903C64 803C40 903C64");
    bench.run(2000 * MS);
    assert_eq!(bench.words(), "803C40");
    bench.assert_silent();
}

#[test]
fn a_revised_slot_plays_the_new_epoch_and_keeps_the_notes_that_continue() {
    let mut bench = Bench::rolling();
    for cue in [press(0, 1, 60, 1), press(0, 1, 64, 2), press(0, 2, 67, 3)] {
        bench.order(Order::Play(cue));
    }
    // The rest of the old epoch, which must not be played.
    for cue in [lift(480, 1, 60, 1), press(480, 1, 61, 4), lift(960, 1, 64, 2)] {
        bench.order(Order::Play(cue));
    }
    bench.order(Order::Play(lift(960, 2, 67, 3)));
    bench.run(100 * MS);
    assert_eq!(bench.words(), "903C64 904064 904364");
    let renew = |cue: Cue| Order::Play(Cue { epoch: 1, ..cue });
    bench.order(Order::Revise { slot: Slot(1), epoch: 1 });
    bench.order(keep(1, 60, 1));
    bench.order(renew(lift(720, 1, 60, 1)));
    bench.order(renew(press(500, 1, 62, 5)));
    bench.order(renew(lift(600, 1, 62, 5)));
    bench.order(Order::Settle { slot: Slot(1) });
    assert_eq!(bench.words(), "804040");
    bench.run(1000 * MS);
    assert_eq!(bench.words(), "903E64 803E40 803C40 804340");
    bench.assert_silent();
}

#[test]
fn a_revision_first_plays_what_was_due() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.now = 10 * MS;
    bench.order(Order::Revise { slot: Slot(1), epoch: 1 });
    assert_eq!(bench.words(), "903C64");
    bench.order(Order::Settle { slot: Slot(1) });
    assert_eq!(bench.words(), "803C40");
}

#[test]
fn a_press_that_an_older_epoch_has_played_is_never_played_again() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(press(40, 1, 64, 2)));
    bench.order(Order::Play(lift(80, 1, 64, 2)));
    bench.run(100 * MS);
    assert_eq!(bench.words(), "903C64 904064 804040");
    bench.order(Order::Revise { slot: Slot(1), epoch: 1 });
    // The engine did not know yet that these had been played, so it sends them again.
    for cue in [
        press(0, 1, 60, 1),
        press(40, 1, 64, 2),
        lift(80, 1, 64, 2),
        change(100, 1, 7, 90),
        lift(480, 1, 60, 1),
    ] {
        bench.order(Order::Play(Cue { epoch: 1, ..cue }));
    }
    bench.order(Order::Settle { slot: Slot(1) });
    bench.run(1000 * MS);
    assert_eq!(bench.words(), "B0075A 803C40");
    bench.assert_silent();
}

#[test]
fn a_halt_plays_what_is_due_empties_the_queue_and_leaves_the_players_key_down() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(change(0, 1, 64, 127)));
    bench.order(Order::Play(clock(0)));
    bench.order(Order::Play(press(960, 1, 62, 2)));
    let address = Address { port: PortIx(0), channel: Channel::default(), key: U7::low_bits(72) };
    let hand = Voice { pass: Voice::NO_PASS, note: NoteId(72), cycle: Tick(0) };
    bench.touch(Touch::Press { address, velocity: U7::MAX, voice: hand });
    bench.now = 20 * MS;
    bench.order(Order::Halt);
    bench.order(Order::Play(cue(-1, Slot::CLOCK.0, Action::Send(Message::Stop))));
    bench.run(5000 * MS);
    assert_eq!(bench.words(), "F8 B0407F 903C64 90487F 803C40 B04000 FC");
    assert_eq!(bench.machine.queued(), 0);
    bench.touch(Touch::Lift { address, velocity: U7::MIN, voice: hand });
    assert_eq!(bench.words(), "804800");
    bench.assert_silent();
}

#[test]
fn a_halt_brings_controllers_to_rest_but_not_the_players_pedal() {
    let mut bench = Bench::rolling();
    let channel = Channel::default();
    let bend = Message::Bend { channel, value: U14::default() };
    for message in [change(0, 1, 64, 127), change(0, 1, 1, 80), cue(0, 1, Action::Send(bend))] {
        bench.order(Order::Play(message));
    }
    bench.touch(foot(100));
    bench.run(MS);
    assert_eq!(bench.words(), "B0407F B00150 E00000");
    bench.order(Order::Halt);
    // Bend has its centre at 2000h (MIDI 1.0, "Pitch Bend Change").
    assert_eq!(bench.words(), "B04064 E00040 B00100");
    bench.touch(foot(0));
    assert_eq!(bench.words(), "B04000");
    bench.assert_silent();
}

/// The player's sustain pedal.
fn foot(value: u8) -> Touch {
    let (controller, value) = (U7::low_bits(64), U7::low_bits(value));
    let message = Message::Change { channel: Channel::default(), controller, value };
    Touch::Send { port: PortIx(0), message }
}

#[test]
fn a_pedal_held_by_song_and_player_comes_up_when_both_release_it() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(change(0, 1, 64, 127)));
    bench.order(Order::Play(change(960, 1, 64, 0)));
    bench.order(Order::Play(change(1920, 1, 64, 127)));
    bench.run(100 * MS);
    assert_eq!(bench.words(), "B0407F");
    bench.touch(foot(127));
    bench.touch(foot(0));
    bench.touch(foot(90));
    assert_eq!(bench.words(), "", "the song still holds it");
    bench.run(600 * MS);
    assert_eq!(bench.words(), "B0405A", "the song releases it, the player still holds it");
    bench.touch(foot(0));
    assert_eq!(bench.words(), "B04000");
    bench.run(1100 * MS);
    assert_eq!(bench.words(), "B0407F");
}

#[test]
fn a_port_that_follows_our_clock_gets_one_stop_after_the_last_release() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(clock(0)));
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.run(MS);
    bench.words();
    bench.machine.shut(bench.now, &mut bench.paper);
    assert_eq!(bench.words(), "803C40 FC");
    bench.machine.reopen();
    bench.order(Order::Halt);
    bench.order(Order::Now { port: PortIx(0), message: Message::Stop });
    assert_eq!(bench.words(), "");
}

#[test]
fn silence_releases_the_players_keys_too_and_sends_all_notes_off_on_used_channels() {
    // MIDI 1.0, "Channel Mode Messages": 123 all notes off, 120 all sound off.
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(lift(960, 1, 60, 1)));
    bench.order(Order::Play(press(1920, 1, 60, 2)));
    bench.order(Order::Play(lift(1930, 1, 60, 2)));
    bench.run(MS);
    let address = Address { port: PortIx(0), channel: Channel::default(), key: U7::low_bits(72) };
    bench.touch(Touch::Press { address, velocity: U7::MAX, voice: voice(72) });
    assert_eq!(bench.words(), "903C64 90487F");
    bench.order(Order::Silence);
    assert_eq!(bench.words(), "803C40 804840 B04000 B07B00 B07800");
    bench.assert_silent();
    bench.run(2000 * MS);
    assert_eq!(bench.words(), "903C64 803C40");
}

#[test]
fn a_message_for_now_is_sent_while_stopped_unless_it_is_a_note() {
    let mut bench = Bench::new(Limits { cues: 16, voices: 16 });
    let message = Message::Program { channel: Channel::default(), program: U7::low_bits(9) };
    bench.order(Order::Now { port: PortIx(1), message });
    assert_eq!(bench.words(), "C009");
    // Only the key book may send notes.
    let (channel, key, velocity) = (Channel::default(), U7::MAX, U7::MAX);
    bench
        .order(Order::Now { port: PortIx(1), message: Message::NoteOn { channel, key, velocity } });
    assert_eq!((bench.words().as_str(), bench.stats().refused), ("", 1));
}

#[test]
fn a_late_cue_is_sent_at_once_with_its_due_time_and_counted_as_late() {
    let mut bench = Bench::rolling();
    bench.now = 30 * MS;
    bench.order(Order::Play(clock(0)));
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.poll();
    let due: Vec<(Ns, Ns)> = bench.paper.log.iter().map(|line| (line.due, line.at)).collect();
    assert_eq!(due, [(0, 30 * MS), (0, 30 * MS)]);
    let stats = bench.stats();
    assert_eq!((stats.sent, stats.late, stats.worst), (2, 2, 30 * MS));
    assert_eq!((stats.pulses.count, stats.notes.count), (1, 1));
    assert_eq!(stats.pulses.p99, 30 * MS);
}

#[test]
fn a_tempo_change_moves_the_queued_cues_after_it() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(clock(960)));
    bench.order(Order::Play(clock(1920)));
    bench.order(Order::Tempo { at: Tick(960), tempo: Tempo::parse_bpm("60").unwrap() });
    bench.run(3000 * MS);
    let due: Vec<Ns> = bench.paper.log.iter().map(|line| line.due).collect();
    assert_eq!(due, [500 * MS, 1500 * MS]);
}

#[test]
fn a_flood_of_tempo_changes_stays_within_the_reserved_memory() {
    let mut bench = Bench::rolling();
    for tick in 0..100_000 {
        let tempo = Tempo::from_micros(400_000 + tick as u32 % 2 * 1000).unwrap();
        bench.order(Order::Tempo { at: Tick(tick), tempo });
        bench.now += MS / 2;
    }
    assert!(bench.machine.timeline.len() <= TEMPI);
    assert_eq!(bench.stats().dropped, 0);
}

#[test]
fn a_full_queue_drops_presses_but_no_lift() {
    let mut bench = Bench::new(Limits { cues: 8, voices: 64 });
    bench.order(Order::Roll { at: Tick(0), ns: 0, tempo: Tempo::DEFAULT, song: 0 });
    bench.order(Order::Play(press(0, 1, 1, 1)));
    bench.run(0);
    // Six places are for any cue, two more for lifts only. Presses fill the six, lifts the other two.
    for note in 2..=9 {
        bench.order(Order::Play(press(960, 1, note, note.into())));
    }
    assert_eq!((bench.machine.queued(), bench.stats().dropped), (6, 2));
    // The last lift is for the note that is sounding. It finds no place, and is played early.
    for note in (1..=9).rev() {
        bench.order(Order::Play(lift(1920, 1, note, note.into())));
    }
    bench.run(2000 * MS);
    audit(&bench.paper.log).unwrap();
    bench.assert_silent();
    let early = bench.paper.log.iter().find(|line| line.bytes[..2] == [0x80, 1]).unwrap();
    assert_eq!(early.at, 0);
}

#[test]
fn cues_of_older_epochs_make_room_before_anything_is_dropped() {
    let mut bench = Bench::new(Limits { cues: 8, voices: 64 });
    bench.order(Order::Roll { at: Tick(0), ns: 0, tempo: Tempo::DEFAULT, song: 0 });
    let bytes: Arc<[u8]> = Arc::new([0xF0, 1, 0xF7]);
    for epoch in 0..50 {
        bench.order(Order::Revise { slot: Slot(1), epoch });
        let sysex = cue(900, 1, Action::SysEx(bytes.clone()));
        bench.order(Order::Play(Cue { epoch, ..sysex }));
        bench.order(Order::Play(Cue { epoch, ..press(960, 1, 60, epoch) }));
        bench.order(Order::Play(Cue { epoch, ..lift(1000, 1, 60, epoch) }));
        bench.order(Order::Settle { slot: Slot(1) });
    }
    bench.run(1000 * MS);
    assert_eq!(bench.words(), "F001F7 903C64 803C40");
    assert_eq!(bench.stats().dropped, 0);
    let retired = std::iter::from_fn(|| bench.machine.retired()).count();
    assert_eq!((retired, Arc::strong_count(&bytes)), (50, 1));
}

#[test]
fn orders_for_unknown_slots_or_ports_are_refused() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, Slot::MOST, 60, 1)));
    bench.order(Order::Play(Cue { port: PortIx(4), ..press(0, 1, 60, 1) }));
    bench.order(Order::Revise { slot: Slot(60_000), epoch: 3 });
    bench.run(MS);
    assert_eq!((bench.words().as_str(), bench.stats().refused), ("", 2));
}

#[test]
fn a_shut_machine_sends_only_releases() {
    let mut bench = Bench::rolling();
    bench.order(Order::Play(press(0, 1, 60, 1)));
    bench.order(Order::Play(change(0, 1, 64, 127)));
    bench.order(Order::Play(press(960, 1, 61, 2)));
    bench.run(MS);
    bench.words();
    bench.machine.shut(bench.now, &mut bench.paper);
    assert_eq!(bench.words(), "803C40 B04000");
    bench.order(Order::Roll { at: Tick(0), ns: 2 * MS, tempo: Tempo::DEFAULT, song: 0 });
    bench.order(Order::Play(press(0, 1, 62, 3)));
    let address = Address { port: PortIx(0), channel: Channel::default(), key: U7::MAX };
    bench.touch(Touch::Press { address, velocity: U7::MAX, voice: voice(127) });
    let value = U14::CENTRE;
    let message = Message::Bend { channel: Channel::default(), value };
    bench.touch(Touch::Send { port: PortIx(0), message });
    bench.run(1000 * MS);
    assert_eq!(bench.words(), "");
    bench.machine.reopen();
    bench.touch(Touch::Send { port: PortIx(0), message });
    assert_eq!(bench.words(), "E00040");
    bench.assert_silent();
}

#[test]
fn a_day_of_pulses_at_93_7_falls_on_the_exact_nanosecond() {
    // MIDI 1.0: 24 clocks to the quarter note. Pulse k is due at exactly k * micros / 24
    // microseconds, a rational number. It is compared in integers, rounded down once.
    let tempo = Tempo::parse_bpm("93.7").unwrap();
    let day = 24 * 3600 * 1000 * MS;
    let quarters = day / (i64::from(tempo.micros()) * 1000) + 1;
    let mut bench = Bench::new(Limits { cues: 256, voices: 16 });
    bench.order(Order::Roll { at: Tick(0), ns: 7, tempo, song: 0 });
    bench.jitter = 3 * MS;
    let mut k = 0i128;
    for quarter in 0..quarters {
        let span = chaconne_time::Span::new(Tick(quarter * 960), Tick((quarter + 1) * 960));
        for at in pulse::within(span) {
            bench.order(Order::Play(clock(at.0)));
        }
        // Run until just before the next quarter note.
        let next = 7 + (i128::from(quarter + 1) * i128::from(tempo.micros()) * 1000) as i64;
        bench.run(next - 1);
        for line in bench.paper.log.drain(..) {
            let exact = 7 + k * i128::from(tempo.micros()) * 1000 / 24;
            assert_eq!(i128::from(line.due), exact, "pulse {k}");
            k += 1;
        }
    }
    assert_eq!(k, i128::from(quarters) * 24);
    assert_eq!(TICKS_PER_QUARTER / pulse::TICKS_PER_PULSE, 24);
    assert!(bench.stats().pulses.worst <= 3 * MS);
}
