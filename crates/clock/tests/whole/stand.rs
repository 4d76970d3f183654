//! A test stand: the real engine and the real scheduler on one virtual clock, with paper in place of
//! the ports.
//!
//! The engine is polled at even steps, as its thread does; the machine is woken at exactly the
//! nanosecond for which it asks. So anything late, early or wrong on paper is the fault of one of
//! them.

use chaconne_clock::{Limits, Machine, Meter, Sent, Sink, ThruEvent, Touch};
use chaconne_engine::{Address, Command, Config, Engine, Message, Order, PortIx, Voice};
use chaconne_song::{NoteId, Song, U7};
use chaconne_time::{Ns, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

pub const MS: Ns = 1_000_000;
pub const SECOND: Ns = 1000 * MS;

/// The ports of every stand: the first one, a named one, and the click's.
pub const PORTS: [&str; 3] = ["", "pads", "click"];
/// The click's port.
pub const CLICK: PortIx = PortIx(2);

/// One message on paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// When it was sent.
    pub ns: Ns,
    /// The port that got it.
    pub port: PortIx,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Whether an order or a player sent it at once, rather than a cue that was due.
    pub prompt: bool,
    /// The transport's tick, and whether it was sent exactly on that tick; `None` while stopped.
    pub tick: Option<(Tick, bool)>,
}

/// A sink that writes down every message. It fails if a key is struck while it is down, or released
/// while it is up.
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
    /// How far the engine's time lags behind, as on a machine where inputs arrive late.
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

    /// How long after a command the transport starts.
    pub fn lead(&self) -> Ns {
        config(self.grace).lead
    }

    /// Gives the engine a command; returns whether it accepted it.
    pub fn command(&mut self, command: Command) -> bool {
        let done = self.engine.command(self.now, command).is_ok();
        self.poll();
        // If the time waited and goes on, something is due now.
        self.run_to(self.now);
        done
    }

    /// Taps; returns whether the engine accepted it.
    pub fn tap(&mut self, struck: Option<U7>) -> bool {
        let done = self.engine.tapped(self.now, self.now, struck).is_ok();
        self.poll();
        // What the tap lets go is due now.
        self.run_to(self.now);
        done
    }

    /// Plays a message by hand, which is also passed through to a port.
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

    /// Polls the engine, and hands its orders to the machine.
    pub fn poll(&mut self) {
        self.engine.poll(self.now - self.grace);
        self.carry_out();
    }

    /// Lets time pass until `to`.
    pub fn run_to(&mut self, to: Ns) {
        self.run_watched(to, |_| {});
    }

    /// The same, and calls `watch` after each poll of the engine.
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

    /// Tells the paper the time.
    fn note_time(&mut self, prompt: bool) {
        let exact = |at: Tick| (at, self.engine.ns_at(at) == Some(self.now));
        let tick = self.engine.tick_at(self.now).map(exact);
        (self.paper.now, self.paper.prompt, self.paper.tick) = (self.now, prompt, tick);
    }

    /// Wakes the machine.
    fn wake(&mut self) {
        self.note_time(false);
        self.machine.poll(self.now, &mut self.paper);
        while self.machine.retired().is_some() {}
    }

    /// Hands the engine's orders to the machine.
    fn carry_out(&mut self) {
        let orders: Vec<Order> = self.engine.take_orders().collect();
        for order in orders {
            // What an order before this one has let go is due now, and no order's own message.
            if self.machine.next_deadline().is_some_and(|due| due <= self.now) {
                self.wake();
            }
            self.note_time(true);
            self.machine.handle(self.now, order, &mut self.paper);
        }
    }

    /// Stops, and checks that nothing is still sounding.
    pub fn end(&mut self) {
        self.command(Command::Stop);
        self.command(Command::Panic);
        self.run_to(self.now + SECOND);
        assert!(self.machine.is_silent(), "a key is down after the end");
        assert_eq!(self.machine.queued(), 0, "cues wait after the end");
        assert!(self.paper.down.is_empty(), "keys hang: {:?}", self.paper.down);
    }
}
