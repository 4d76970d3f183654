//! Through-play: what is played goes to the armed track's port at once.
//!
//! In: the messages of one input, on that input's thread, and a [`ThruTarget`] that anyone may
//! turn. Out: [`ThruEvent`]s in a queue to the scheduler. A release goes where its press went,
//! even if the target has been turned since. Nothing waits or allocates; a queue that is full
//! drops presses and controllers, never a release: each held key keeps a place free for its own.

use crate::meter::Meter;
use chaconne_engine::{Address, Message, PortIx, Voice};
use chaconne_song::{Channel, NoteId, U7};
use chaconne_time::{Ns, Tick};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};
use std::thread::Thread;

/// What through-play asks of the scheduler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ThruEvent {
    /// When it was played.
    pub stamp: Ns,
    /// What was done.
    pub touch: Touch,
}

/// What a hand did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// A key is struck.
    Press {
        /// Where it sounds.
        address: Address,
        /// How hard.
        velocity: U7,
        /// Which input's which key.
        voice: Voice,
    },
    /// A key is let go.
    Lift {
        /// Where it sounds.
        address: Address,
        /// How fast.
        velocity: U7,
        /// Which input's which key.
        voice: Voice,
    },
    /// A message that is no key.
    Send {
        /// The port.
        port: PortIx,
        /// The message.
        message: Message,
    },
}

/// Where through-play goes; cheap to clone and to turn from any thread.
#[derive(Debug, Clone, Default)]
pub struct ThruTarget(Arc<AtomicU32>);

const ON: u32 = 1 << 16;
const KEEP: u32 = 1 << 12;

impl ThruTarget {
    /// A target that is off.
    pub fn new() -> ThruTarget {
        ThruTarget::default()
    }

    /// Turns it: to a port and a channel (`None` keeps each message's own), or off. Keys that
    /// are down are released where they were pressed.
    pub fn set(&self, to: Option<(PortIx, Option<Channel>)>) {
        let code = to.map_or(0, |(port, channel)| {
            let channel = channel.map_or(KEEP, |channel| u32::from(channel.wire()) << 8);
            ON | channel | u32::from(port.0)
        });
        self.0.store(code, Relaxed);
    }

    /// Where it points.
    pub fn get(&self) -> Option<(PortIx, Option<Channel>)> {
        let code = self.0.load(Relaxed);
        let channel = (code & KEEP == 0).then(|| Channel::from_wire((code >> 8) as u8));
        (code & ON != 0).then_some((PortIx(code as u8), channel))
    }
}

/// The through-play of one input, owned by that input's thread.
#[derive(Debug)]
pub struct Thru {
    input: u16,
    target: ThruTarget,
    queue: rtrb::Producer<ThruEvent>,
    scheduler: Thread,
    meter: Arc<Meter>,
    /// Where each key of each channel was pressed.
    pressed: Box<[Option<(PortIx, Channel)>; KEYS]>,
    held: usize,
}

const KEYS: usize = 16 * 128;

impl Thru {
    pub(crate) fn new(
        input: u16,
        queue: rtrb::Producer<ThruEvent>,
        scheduler: Thread,
        meter: Arc<Meter>,
    ) -> Thru {
        let pressed = Box::new([None; KEYS]);
        Thru { input, target: ThruTarget::new(), queue, scheduler, meter, pressed, held: 0 }
    }

    /// Its target, to be turned from elsewhere.
    pub fn target(&self) -> ThruTarget {
        self.target.clone()
    }

    /// Plays a message on. Clock, song position and their like are not passed on.
    pub fn play(&mut self, stamp: Ns, message: Message) {
        match message {
            Message::NoteOn { channel, key, velocity } => {
                self.press(stamp, channel, key, velocity);
            }
            Message::NoteOff { channel, key, velocity } => self.lift(stamp, channel, key, velocity),
            other => self.send(stamp, other),
        }
    }

    /// The input is gone: lets go of every key it holds.
    pub fn lost(&mut self, stamp: Ns) {
        for index in 0..KEYS {
            let channel = Channel::from_wire((index / 128) as u8);
            self.lift(stamp, channel, U7::low_bits((index % 128) as u8), U7::CENTRE);
        }
    }

    /// How many keys it holds.
    pub fn held(&self) -> usize {
        self.held
    }

    fn press(&mut self, stamp: Ns, channel: Channel, key: U7, velocity: U7) {
        self.lift(stamp, channel, key, U7::CENTRE);
        let Some((port, to)) = self.target.get() else { return };
        let to = to.unwrap_or(channel);
        // One place for this press, one for its lift, and one for each lift still to come.
        if self.queue.slots() < self.held + 2 {
            return self.meter.drop_message(usize::from(port.0));
        }
        self.pressed[cell(channel, key)] = Some((port, to));
        self.held += 1;
        let address = Address { port, channel: to, key };
        self.push(stamp, Touch::Press { address, velocity, voice: self.voice(channel, key) });
    }

    fn lift(&mut self, stamp: Ns, channel: Channel, key: U7, velocity: U7) {
        let Some((port, to)) = self.pressed[cell(channel, key)].take() else { return };
        self.held -= 1;
        let address = Address { port, channel: to, key };
        self.push(stamp, Touch::Lift { address, velocity, voice: self.voice(channel, key) });
    }

    fn send(&mut self, stamp: Ns, message: Message) {
        let (Some(channel), Some((port, to))) = (message.channel(), self.target.get()) else {
            return;
        };
        if self.queue.slots() <= self.held {
            return self.meter.drop_message(usize::from(port.0));
        }
        let message = message.on_channel(to.unwrap_or(channel));
        self.push(stamp, Touch::Send { port, message });
    }

    /// The caller has made sure that there is a place.
    fn push(&mut self, stamp: Ns, touch: Touch) {
        if self.queue.push(ThruEvent { stamp, touch }).is_err() {
            self.meter.drop_order();
        }
        self.scheduler.unpark();
    }

    fn voice(&self, channel: Channel, key: U7) -> Voice {
        let note = NoteId(cell(channel, key) as u32);
        Voice { note, cycle: Tick(i64::from(self.input)) }
    }
}

fn cell(channel: Channel, key: U7) -> usize {
    usize::from(channel.wire()) * 128 + usize::from(key.get())
}
