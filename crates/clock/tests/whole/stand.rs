//! One virtual clock, and on it the real engine, the real scheduler and paper instead of ports.
//!
//! The engine is polled at even steps, as its thread does; the machine is woken at the very
//! nanosecond it asks for. So whatever is late, early or wrong on paper is their doing.

use chaconne_clock::{Limits, Machine, Meter, Sent, Sink, ThruEvent, Touch};
use chaconne_engine::{Address, Command, Config, Engine, Message, PortIx, Voice};
use chaconne_song::{NoteId, Song, U7};
use chaconne_time::{Ns, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

pub const MS: Ns = 1_000_000;
pub const SECOND: Ns = 1000 * MS;

/// The ports of every stand: the first one, one with a name, and the click's.
pub const PORTS: [&str; 3] = ["", "pads", "click"];
/// The click's port.
pub const CLICK: PortIx = PortIx(2);

/// One message on paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// When it was sent.
    pub ns: Ns,
    /// Where to.
    pub port: PortIx,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Whether it was sent at once, by an order or by a hand, and not when a cue was due.
    pub prompt: bool,
    /// The transport tick, and whether it was sent on it to the nanosecond; `None` while nothing
    /// rolled.
    pub tick: Option<(Tick, bool)>,
}

/// What the machine sends to. Every key that is struck must be released, and none may be struck
/// while it is down.
#[derive(Debug, Default)]
pub struct Paper {
    now: Ns,
    prompt: bool,
    tick: Option<(Tick, bool)>,
    pub lines: Vec<Line>,
    /// The keys that are down: port, channel and key.
    down: BTreeSet<(PortIx, u8, u8)>,
}

impl Paper {
    fn key(&mut self, port: PortIx, bytes: &[u8]) {
        let ns = self.now;
        match *bytes {
            [status, key, _] if status & 0xF0 == 0x90 => {
                let struck = self.down.insert((port, status & 15, key));
                assert!(struck, "key {key} struck while down at {ns}");
            }
            [status, key, _] if status & 0xF0 == 0x80 => {
                let released = self.down.remove(&(port, status & 15, key));
                assert!(released, "key {key} released while up at {ns}");
            }
            _ => {}
        }
    }
}

impl Sink for Paper {
    fn send(&mut self, port: PortIx, _: Ns, bytes: &[u8]) -> Sent {
        self.key(port, bytes);
        let Paper { now: ns, prompt, tick, .. } = *self;
        self.lines.push(Line { ns, port, bytes: bytes.to_vec(), prompt, tick });
        Sent::Done
    }
}

/// The stand.
pub struct Stand {
    pub engine: Engine,
    pub machine: Machine,
    pub paper: Paper,
    pub now: Ns,
    /// How often the engine is polled.
    pub step: Ns,
    /// How long before the present moment it is polled for, as where inputs come late.
    grace: Ns,
    next_poll: Ns,
}

/// How the engine of a stand is set up: one port gets clock pulses, the click has its own.
pub fn config(grace: Ns) -> Config {
    let mut config = Config {
        ports: PORTS.map(String::from).to_vec(),
        clock_ports: vec![PortIx(0)],
        ..Config::default()
    };
    config.lookahead += grace;
    config.click.port = CLICK;
    config
}

impl Stand {
    /// A stand at rest, a second after the epoch.
    pub fn new(song: Song, step: Ns, grace: Ns) -> Stand {
        let meter = Arc::new(Meter::new(PORTS.map(String::from)));
        let limits = Limits { cues: 1 << 14, voices: 1 << 11 };
        let mut stand = Stand {
            engine: Engine::new(Arc::new(song), config(grace)),
            machine: Machine::new(meter, limits, &[]),
            paper: Paper::default(),
            now: SECOND,
            step,
            grace,
            next_poll: SECOND,
        };
        stand.carry_out();
        stand
    }

    /// Asks the engine for something now; whether it was done.
    pub fn command(&mut self, command: Command) -> bool {
        let done = self.engine.command(self.now, command).is_ok();
        self.poll();
        done
    }

    /// Somebody plays something now, and it is passed through to a port.
    pub fn play(&mut self, port: PortIx, message: Message) {
        let voice = |key: U7| Voice {
            pass: Voice::NO_PASS,
            note: NoteId(u32::from(key.get())),
            cycle: Tick::ZERO,
        };
        let touch = match message {
            Message::NoteOn { channel, key, velocity } => {
                let address = Address { port, channel, key };
                Touch::Press { address, velocity, voice: voice(key) }
            }
            Message::NoteOff { channel, key, velocity } => {
                let address = Address { port, channel, key };
                Touch::Lift { address, velocity, voice: voice(key) }
            }
            message => Touch::Send { port, message },
        };
        self.note_time(true);
        let event = ThruEvent { stamp: self.now, touch };
        self.machine.thru(self.now, event, &mut self.paper);
        self.engine.input(self.now, 0, message.into());
        self.poll();
    }

    fn poll(&mut self) {
        self.engine.poll(self.now - self.grace);
        self.carry_out();
    }

    /// Lets time pass up to a moment.
    pub fn run_to(&mut self, to: Ns) {
        self.run_watched(to, |_| {});
    }

    /// The same; `watch` is called after each poll of the engine.
    pub fn run_watched(&mut self, to: Ns, mut watch: impl FnMut(&mut Stand)) {
        loop {
            let deadline = self.machine.next_deadline().unwrap_or(Ns::MAX).max(self.now);
            let next = deadline.min(self.next_poll).min(to);
            self.now = next;
            if deadline <= next {
                self.wake();
            } else if self.next_poll <= next {
                self.next_poll = next + self.step;
                self.poll();
                watch(self);
            } else {
                return;
            }
        }
    }

    /// Notes the time on the paper.
    fn note_time(&mut self, prompt: bool) {
        let exact = |at: Tick| (at, self.engine.ns_at(at) == Some(self.now));
        let tick = self.engine.tick_at(self.now).map(exact);
        (self.paper.now, self.paper.prompt, self.paper.tick) = (self.now, prompt, tick);
    }

    /// Lets the machine do what is due.
    fn wake(&mut self) {
        self.note_time(false);
        self.machine.poll(self.now, &mut self.paper);
        while self.machine.retired().is_some() {}
    }

    /// Hands the engine's orders to the machine.
    fn carry_out(&mut self) {
        self.note_time(true);
        for order in self.engine.take_orders() {
            self.machine.handle(self.now, order, &mut self.paper);
        }
    }

    /// Stops, and checks that nothing is left of what sounded.
    pub fn end(&mut self) {
        self.command(Command::Stop);
        self.command(Command::Panic);
        self.run_to(self.now + SECOND);
        assert!(self.machine.is_silent(), "a key is down after the end");
        assert_eq!(self.machine.queued(), 0, "cues wait after the end");
        assert!(self.paper.down.is_empty(), "keys hang: {:?}", self.paper.down);
    }
}
