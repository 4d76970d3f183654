//! Properties that must be true for any orders.

use super::serial::{needed, serial, spoken};
use super::*;
use proptest::prelude::*;

/// One step of a script. Ticks and times are relative to the script's current position.
#[derive(Debug, Clone)]
enum Step {
    Wait(Ns),
    Note { slot: u16, port: u8, key: u8, after: i64, length: i64 },
    Pulse { after: i64 },
    Pedal { port: u8, down: bool, after: i64 },
    Revise { slot: u16, kept: u8 },
    Tempo { after: i64, micros: u32 },
    Hand { port: u8, key: u8, down: bool },
    Halt,
    Silence,
    Answer { port: u8, answer: Sent },
    Found { port: u8 },
    Serve { port: u8, ahead: Ns },
}

fn step(with_ports: bool) -> impl Strategy<Value = Step> {
    let common = prop_oneof![
        6 => (0i64..60_000_000).prop_map(Step::Wait),
        12 => (0u16..3, 0u8..2, 60u8..64, 200i64..400, 0i64..400).prop_map(
            |(slot, port, key, after, length)| Step::Note { slot, port, key, after, length }
        ),
        2 => (200i64..400).prop_map(|after| Step::Pulse { after }),
        1 => (0u8..2, any::<bool>(), 200i64..400)
            .prop_map(|(port, down, after)| Step::Pedal { port, down, after }),
        3 => (0u16..3, any::<u8>()).prop_map(|(slot, kept)| Step::Revise { slot, kept }),
        1 => (200i64..400, 60_000u32..2_000_000)
            .prop_map(|(after, micros)| Step::Tempo { after, micros }),
        4 => (0u8..2, 60u8..64, any::<bool>())
            .prop_map(|(port, key, down)| Step::Hand { port, key, down }),
        1 => Just(Step::Halt),
        1 => Just(Step::Silence),
    ];
    let answer = prop::sample::select(vec![Sent::Done, Sent::Full, Sent::Full, Sent::Lost]);
    let port = prop_oneof![
        (0u8..2, answer).prop_map(|(port, answer)| Step::Answer { port, answer }),
        (0u8..2).prop_map(|port| Step::Found { port }),
        (0u8..2, 0i64..100_000_000).prop_map(|(port, ahead)| Step::Serve { port, ahead }),
    ];
    let weight = if with_ports { 6 } else { 0 };
    prop_oneof![34 => common, weight => port]
}

/// A bench, and what a script needs to know about it.
struct Player {
    bench: Bench,
    /// From the last start of the transport, with the tempo changes since.
    timeline: Timeline,
    epochs: [u32; 3],
    notes: u32,
    /// The notes that may still be sounding: slot, voice, port, key, end.
    open: Vec<(u16, Voice, u8, u8, Tick)>,
}

impl Player {
    fn new(jitter: Ns) -> Player {
        Player::on(jitter, &[])
    }

    /// A player with these services for its ports.
    fn on(jitter: Ns, services: &[Service]) -> Player {
        let mut bench = Bench::with(Limits { cues: 4096, voices: 512 }, services);
        bench.jitter = jitter;
        let mut player = Player {
            bench,
            timeline: Timeline::new(Tick(0), 0, Tempo::DEFAULT),
            epochs: [0; 3],
            notes: 0,
            open: Vec::new(),
        };
        player.roll();
        player
    }

    fn roll(&mut self) {
        let now = self.bench.now;
        self.timeline.restart(Tick(0), now, Tempo::DEFAULT);
        self.bench.order(Order::Roll { at: Tick(0), ns: now, tempo: Tempo::DEFAULT, song: 0 });
    }

    fn here(&self) -> Tick {
        self.timeline.tick_at(self.bench.now)
    }

    /// Orders a cue in the slot's current epoch.
    fn play(&mut self, slot: u16, port: u8, at: Tick, action: Action) {
        let epoch = self.epochs[usize::from(slot)];
        let cue = Cue { at, slot: Slot(slot), epoch, port: PortIx(port), action };
        self.bench.order(Order::Play(cue));
    }

    fn act(&mut self, step: &Step) {
        match *step {
            Step::Wait(ns) => self.bench.run(self.bench.now + ns),
            Step::Note { slot, port, key, after, length } => {
                self.notes += 1;
                self.note(slot, port, key, self.here() + Tick(after), length);
            }
            Step::Pulse { after } => {
                let cue = clock(self.here().0 + after);
                self.bench.order(Order::Play(cue));
            }
            Step::Pedal { port, down, after } => {
                let pedal = change(self.here().0 + after, Slot::CLICK.0, 64, u8::from(down) * 127);
                self.bench.order(Order::Play(Cue { port: PortIx(port), ..pedal }));
            }
            Step::Revise { slot, kept } => self.revise(slot, kept),
            Step::Tempo { after, micros } => {
                let (at, tempo) = (self.here() + Tick(after), Tempo::from_micros(micros).unwrap());
                self.timeline.push(at, tempo);
                self.bench.order(Order::Tempo { at, tempo });
            }
            Step::Hand { port, key, down } => self.hand(port, key, down),
            Step::Halt => {
                self.bench.order(Order::Halt);
                self.open.clear();
                self.roll();
            }
            Step::Silence => self.bench.order(Order::Silence),
            Step::Answer { port, answer } => self.bench.paper.answers[usize::from(port)] = answer,
            Step::Found { port } => {
                self.bench.paper.answers[usize::from(port)] = Sent::Done;
                let Bench { machine, paper, now, .. } = &mut self.bench;
                machine.find(*now, PortIx(port), paper);
            }
            Step::Serve { port, ahead } => self.bench.machine.serve(PortIx(port), ahead),
        }
    }

    /// Does a step that may lose ports. A lost port may have left keys sounding that nobody can
    /// release, so the messages sent to it before are not checked.
    fn act_and_forget(&mut self, step: &Step) {
        self.act(step);
        let Bench { machine, paper, .. } = &mut self.bench;
        paper.log.retain(|line| !machine.wires.is_lost(PortIx(line.port)));
    }

    /// Orders a note. Its velocity shows the epoch and its channel shows the slot.
    fn note(&mut self, slot: u16, port: u8, key: u8, at: Tick, length: i64) {
        let velocity = U7::low_bits(self.epochs[usize::from(slot)] as u8 % 127 + 1);
        let (channel, pitch) = (Channel::from_wire(slot as u8), U7::low_bits(key));
        let voice = voice(self.notes);
        let end = at + Tick(length);
        self.play(slot, port, at, Action::Press { channel, key: pitch, velocity, voice });
        self.play(slot, port, end, Action::Lift { channel, key: pitch, velocity, voice });
        self.open.push((slot, voice, port, key, end));
    }

    /// Starts a new epoch of a slot. Of the notes that may be sounding, those whose bit is set in
    /// `kept` continue.
    fn revise(&mut self, slot: u16, kept: u8) {
        self.epochs[usize::from(slot)] += 1;
        let epoch = self.epochs[usize::from(slot)];
        self.bench.order(Order::Revise { slot: Slot(slot), epoch });
        let open = std::mem::take(&mut self.open);
        for (index, (owner, voice, port, key, end)) in open.into_iter().enumerate() {
            if owner == slot && kept >> (index % 8) & 1 == 1 {
                let (channel, key) = (Channel::from_wire(slot as u8), U7::low_bits(key));
                let address = Address { port: PortIx(port), channel, key };
                self.bench.order(Order::Keep { slot: Slot(slot), voice, address });
                let velocity = U7::CENTRE;
                let end = end.max(self.here() + Tick(200));
                self.play(slot, port, end, Action::Lift { channel, key, velocity, voice });
            } else if owner != slot {
                self.open.push((owner, voice, port, key.to_owned(), end));
            }
        }
        self.bench.order(Order::Settle { slot: Slot(slot) });
    }

    fn hand(&mut self, port: u8, key: u8, down: bool) {
        let voice = Voice {
            pass: Voice::NO_PASS,
            note: NoteId(u32::from(key)),
            cycle: Tick(i64::from(port)),
        };
        let key = U7::low_bits(key);
        // The player shares a channel with slot 0.
        let address = Address { port: PortIx(port), channel: Channel::default(), key };
        self.bench.touch(if down {
            Touch::Press { address, velocity: U7::MAX, voice }
        } else {
            Touch::Lift { address, velocity: U7::MIN, voice }
        });
    }

    fn end(&mut self) {
        self.bench.paper.answers = [Sent::Done; 4];
        self.bench.order(Order::Halt);
        self.bench.order(Order::Silence);
        // A serial line that was silenced many times needs some time to send it all.
        self.bench.run(self.bench.now + 2000 * MS);
        self.bench.assert_silent();
    }
}

proptest! {
    #[test]
    fn every_press_is_released_once(
        steps in prop::collection::vec(step(false), 0..80),
    ) {
        let mut player = Player::new(0);
        for step in &steps {
            player.act(step);
        }
        player.end();
        audit(&player.bench.paper.log).map_err(TestCaseError::fail)?;
    }

    #[test]
    fn full_ports_lose_no_release(
        steps in prop::collection::vec(step(true), 0..80),
    ) {
        let mut player = Player::new(0);
        for step in &steps {
            player.act_and_forget(step);
        }
        player.end();
        audit(&player.bench.paper.log).map_err(TestCaseError::fail)?;
    }

    #[test]
    fn no_press_of_an_older_epoch_is_sent(
        steps in prop::collection::vec(step(false), 0..80),
    ) {
        let mut player = Player::new(0);
        for step in &steps {
            let from = player.bench.paper.log.len();
            let before = player.epochs;
            player.act(step);
            for line in &player.bench.paper.log[from..] {
                // The player's own keys have velocity 127.
                let struck = line.bytes[0] & 0xF0 == 0x90 && line.bytes[2] != 127;
                let slot = usize::from(line.bytes[0] & 15);
                if struck {
                    // A revision first plays what was due in the epoch before it.
                    prop_assert_eq!(u32::from(line.bytes[2]), before[slot] % 127 + 1);
                }
            }
        }
    }

    #[test]
    fn the_messages_are_the_same_however_late_the_machine_is_woken(
        steps in prop::collection::vec(step(false), 0..60),
    ) {
        let sent = |jitter: Ns| {
            let mut player = Player::new(jitter);
            for step in &steps {
                player.act(step);
            }
            player.end();
            let log = player.bench.paper.log.into_iter();
            log.map(|line| (line.port, line.due, line.bytes)).collect::<Vec<_>>()
        };
        let punctual = sent(0);
        prop_assert_eq!(&punctual, &sent(MS / 2));
        prop_assert_eq!(&punctual, &sent(50 * MS));
    }

    #[test]
    fn cues_are_sent_in_order_of_tick_and_rank(
        cues in prop::collection::vec((0i64..20, 0u8..4, 0u8..4), 1..100),
    ) {
        let mut bench = Bench::rolling();
        for (note, &(at, kind, key)) in cues.iter().enumerate() {
            let note = note as u32;
            match kind {
                0 => bench.order(Order::Play(clock(at))),
                1 => bench.order(Order::Play(change(at, 1, 7, key))),
                _ => {
                    bench.order(Order::Play(press(at, 1, 60 + key, note)));
                    bench.order(Order::Play(lift(at + i64::from(kind), 1, 60 + key, note)));
                }
            }
        }
        bench.run(100 * MS);
        let log = &bench.paper.log;
        prop_assert!(log.is_sorted_by_key(|line| line.due));
        for pair in log.windows(2).filter(|pair| pair[0].due == pair[1].due) {
            let pulse = |line: &Line| line.bytes[0] == 0xF8;
            prop_assert!(pulse(&pair[0]) || !pulse(&pair[1]), "a pulse after something else");
            let change = |line: &Line| line.bytes[0] == 0xB0;
            let on = |line: &Line| line.bytes[0] == 0x90;
            prop_assert!(!(on(&pair[0]) && change(&pair[1])), "a controller after a note");
        }
        audit(log).map_err(TestCaseError::fail)?;
        bench.assert_silent();
    }
}

proptest! {
    // Each case takes a long time.
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn nothing_hangs_on_ports_with_offsets(
        steps in prop::collection::vec(step(false), 0..80),
        shifts in prop::array::uniform2(-100i64..=100),
        jitter in 0i64..30,
    ) {
        let services = shifts.map(|ms| Service { shift: ms * MS, ..Service::default() });
        let mut player = Player::on(jitter * MS, &services);
        for step in &steps {
            player.act(step);
        }
        player.end();
        audit(&player.bench.paper.log).map_err(TestCaseError::fail)?;
    }

    #[test]
    fn nothing_hangs_on_ports_whose_lead_time_changes(
        steps in prop::collection::vec(step(true), 0..80),
        offsets in prop::array::uniform2(-100i64..=100),
        jitter in 0i64..30,
    ) {
        let service = |ms| Service { shift: ms * MS, varies: true, ..Service::default() };
        let mut player = Player::on(jitter * MS, &offsets.map(service));
        for step in &steps {
            player.act_and_forget(step);
        }
        player.end();
        audit(&player.bench.paper.log).map_err(TestCaseError::fail)?;
    }

    #[test]
    fn nothing_hangs_on_serial_lines(
        steps in prop::collection::vec(step(false), 0..80),
        offset in -50i64..=50,
        jitter in 0i64..3,
    ) {
        let moved = Service { shift: offset * MS, ..serial() };
        let mut player = Player::on(jitter * MS, &[serial(), moved]);
        for step in &steps {
            player.act(step);
        }
        player.end();
        for port in 0..2 {
            let spoken = needed(spoken(&player.bench.paper.log, port));
            audit(&spoken).map_err(TestCaseError::fail)?;
        }
    }
}
