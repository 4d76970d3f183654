//! Through-play: sends what is played to the armed track's port at once.
//!
//! In: the messages of one input, on that input's thread, and a [`ThruTarget`] that any thread can
//! set. Out: [`ThruEvent`]s in a queue to the scheduler. A release goes to the port and channel of its
//! press, even if the target has changed since. Nothing waits or allocates. A full queue drops
//! presses and controllers, never a release: a place is reserved for the release of each held key
//! and pedal.

use chaconne_clock::{Meter, ThruEvent, Touch};
use chaconne_engine::{Address, PortIx, Voice};
use chaconne_midi::{Channel, Message, U7};
use chaconne_song::NoteId;
use chaconne_time::{Ns, Tick};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};
use std::thread::Thread;

/// Where through-play goes; cheap to clone, and any thread can set it.
#[derive(Debug, Clone, Default)]
pub struct ThruTarget(Arc<AtomicU32>);

const ON: u32 = 1 << 16;
const KEEP: u32 = 1 << 12;

impl ThruTarget {
    /// A target that is off.
    pub fn new() -> ThruTarget {
        ThruTarget::default()
    }

    /// Sets the target: a port and a channel (`None` keeps each message's own channel), or off.
    /// Keys already held are released where they were pressed.
    pub fn set(&self, to: Option<(PortIx, Option<Channel>)>) {
        let code = to.map_or(0, |(port, channel)| {
            let channel = channel.map_or(KEEP, |channel| u32::from(channel.wire()) << 8);
            ON | channel | u32::from(port.0)
        });
        self.0.store(code, Relaxed);
    }

    /// The port and channel, or `None` if it is off.
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
    /// The port and channel to which the press of each key was sent.
    pressed: Box<[Option<(PortIx, Channel)>; KEYS]>,
    /// The port and channel on which the sustain pedal of each channel went down.
    pedals: [Option<(PortIx, Channel)>; 16],
    /// How many keys and pedals are held.
    held: usize,
}

const KEYS: usize = 16 * 128;

/// The sustain pedal (MIDI 1.0, "Controller Numbers").
const SUSTAIN: U7 = U7::low_bits(64);

impl Thru {
    pub(crate) fn new(
        input: u16,
        queue: rtrb::Producer<ThruEvent>,
        scheduler: Thread,
        meter: Arc<Meter>,
    ) -> Thru {
        let pressed = Box::new([None; KEYS]);
        let (target, pedals) = (ThruTarget::new(), [None; 16]);
        Thru { input, target, queue, scheduler, meter, pressed, pedals, held: 0 }
    }

    /// A handle that sets its target from another thread.
    pub fn target(&self) -> ThruTarget {
        self.target.clone()
    }

    /// Sends a message through. Clock, song position and other system messages are not sent.
    pub fn play(&mut self, stamp: Ns, message: Message) {
        match message {
            Message::NoteOn { channel, key, velocity } => {
                self.press(stamp, channel, key, velocity);
            }
            Message::NoteOff { channel, key, velocity } => self.lift(stamp, channel, key, velocity),
            Message::Change { channel, controller: SUSTAIN, value } => {
                self.pedal(stamp, channel, value);
            }
            other => self.send(stamp, other),
        }
    }

    /// Releases every key and pedal that the input holds, because the input is gone.
    pub fn lost(&mut self, stamp: Ns) {
        for index in 0..KEYS {
            let channel = Channel::from_wire((index / 128) as u8);
            self.lift(stamp, channel, U7::low_bits((index % 128) as u8), U7::CENTRE);
        }
        for channel in (0..16).map(Channel::from_wire) {
            if self.pedals[usize::from(channel.wire())].is_some() {
                self.pedal(stamp, channel, U7::MIN);
            }
        }
    }

    /// How many keys and pedals the input holds.
    pub fn held(&self) -> usize {
        self.held
    }

    fn press(&mut self, stamp: Ns, channel: Channel, key: U7, velocity: U7) {
        self.lift(stamp, channel, key, U7::CENTRE);
        let Some((port, to)) = self.target.get() else { return };
        let to = to.unwrap_or(channel);
        // The queue needs a place for this press, one for its release, and one for each release to
        // come.
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

    /// Sends a move of the pedal. Until it is up again it keeps its port and channel, so that it comes
    /// up where it went down.
    fn pedal(&mut self, stamp: Ns, channel: Channel, value: U7) {
        let down = self.pedals[usize::from(channel.wire())];
        let to = |(port, to): (PortIx, Option<Channel>)| (port, to.unwrap_or(channel));
        let Some((port, to)) = down.or_else(|| self.target.get().map(to)) else { return };
        // The queue needs a place for this move, and one for each release to come. A pedal that is
        // down already has its own.
        let holds = value > U7::MIN;
        let needed = self.held + usize::from(down.is_none() && holds);
        let comes_up = down.is_some() && !holds;
        if !comes_up && self.queue.slots() <= needed {
            return self.meter.drop_message(usize::from(port.0));
        }
        self.pedals[usize::from(channel.wire())] = holds.then_some((port, to));
        self.held = self.held + usize::from(holds) - usize::from(down.is_some());
        let message = Message::Change { channel: to, controller: SUSTAIN, value };
        self.push(stamp, Touch::Send { port, message });
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

    /// Queues an event. The caller has checked that there is a place.
    fn push(&mut self, stamp: Ns, touch: Touch) {
        if self.queue.push(ThruEvent { stamp, touch }).is_err() {
            self.meter.drop_order();
        }
        self.scheduler.unpark();
    }

    fn voice(&self, channel: Channel, key: U7) -> Voice {
        let note = NoteId(cell(channel, key) as u32);
        Voice { pass: Voice::NO_PASS, note, cycle: Tick(i64::from(self.input)) }
    }
}

fn cell(channel: Channel, key: U7) -> usize {
    usize::from(channel.wire()) * 128 + usize::from(key.get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_midi::U14;

    fn thru(places: usize) -> (Thru, rtrb::Consumer<ThruEvent>) {
        let (queue, out) = rtrb::RingBuffer::new(places);
        let meter = Arc::new(Meter::new(["port".to_string()]));
        (Thru::new(3, queue, std::thread::current(), meter), out)
    }

    fn on(channel: u8, key: u8) -> Message {
        let (channel, key) = (Channel::from_wire(channel), U7::low_bits(key));
        Message::NoteOn { channel, key, velocity: U7::low_bits(90) }
    }

    fn off(channel: u8, key: u8) -> Message {
        let (channel, key) = (Channel::from_wire(channel), U7::low_bits(key));
        Message::NoteOff { channel, key, velocity: U7::low_bits(10) }
    }

    /// The queue's contents: + for a press, - for a release, with port, channel and key.
    fn queued(out: &mut rtrb::Consumer<ThruEvent>) -> String {
        let mut words = Vec::new();
        while let Ok(event) = out.pop() {
            words.push(match event.touch {
                Touch::Press { address, .. } => format!("+{}", spell(address)),
                Touch::Lift { address, .. } => format!("-{}", spell(address)),
                Touch::Send { port, message } => format!("{}:{:02X?}", port.0, &*message.bytes()),
            });
        }
        words.join(" ")
    }

    fn spell(address: Address) -> String {
        format!("{}/{}/{}", address.port.0, address.channel.wire(), address.key)
    }

    #[test]
    fn a_release_goes_where_its_press_went() {
        let (mut thru, mut out) = thru(64);
        let target = thru.target();
        target.set(Some((PortIx(1), Channel::from_number(10))));
        thru.play(0, on(0, 60));
        target.set(Some((PortIx(2), None)));
        thru.play(1, on(0, 62));
        thru.play(2, off(0, 60));
        target.set(None);
        thru.play(3, on(0, 64));
        thru.play(4, off(0, 64));
        thru.play(5, off(0, 62));
        assert_eq!(queued(&mut out), "+1/9/60 +2/0/62 -1/9/60 -2/0/62");
        assert_eq!(thru.held(), 0);
    }

    #[test]
    fn a_pedal_comes_up_where_it_went_down_and_when_its_input_is_gone() {
        let (mut thru, mut out) = thru(8);
        let target = thru.target();
        let pedal = |value| {
            let value = U7::low_bits(value);
            Message::Change { channel: Channel::from_wire(3), controller: SUSTAIN, value }
        };
        target.set(Some((PortIx(1), Channel::from_number(10))));
        thru.play(0, pedal(127));
        target.set(Some((PortIx(2), None)));
        thru.play(1, pedal(70));
        assert_eq!(thru.held(), 1);
        thru.play(2, pedal(0));
        thru.play(3, pedal(90));
        let sent = "1:[B9, 40, 7F] 1:[B9, 40, 46] 1:[B9, 40, 00] 2:[B3, 40, 5A]";
        assert_eq!(queued(&mut out), sent);
        target.set(None);
        thru.lost(4);
        assert_eq!((queued(&mut out).as_str(), thru.held()), ("2:[B3, 40, 00]", 0));
    }

    #[test]
    fn a_key_struck_twice_is_released_between() {
        let (mut thru, mut out) = thru(64);
        thru.target().set(Some((PortIx(0), None)));
        thru.play(0, on(0, 60));
        thru.play(1, on(0, 60));
        thru.play(2, off(0, 60));
        thru.play(3, off(0, 60));
        assert_eq!(queued(&mut out), "+0/0/60 -0/0/60 +0/0/60 -0/0/60");
    }

    #[test]
    fn controllers_go_to_the_targets_channel_and_clock_goes_nowhere() {
        let (mut thru, mut out) = thru(64);
        thru.target().set(Some((PortIx(0), Channel::from_number(3))));
        let channel = Channel::default();
        thru.play(0, Message::Bend { channel, value: U14::CENTRE });
        for message in [Message::Clock, Message::Start, Message::TuneRequest] {
            thru.play(1, message);
        }
        assert_eq!(queued(&mut out), "0:[E2, 00, 40]");
    }

    #[test]
    fn a_lost_input_releases_all_its_keys() {
        let (mut thru, mut out) = thru(64);
        thru.target().set(Some((PortIx(0), None)));
        thru.play(0, on(0, 60));
        thru.play(1, on(5, 61));
        queued(&mut out);
        thru.lost(2);
        assert_eq!(queued(&mut out), "-0/0/60 -0/5/61");
    }

    #[test]
    fn a_full_queue_never_drops_a_release() {
        let (mut thru, mut out) = thru(16);
        thru.target().set(Some((PortIx(0), None)));
        for key in 0..40 {
            thru.play(0, on(0, key));
        }
        let bend = Message::Bend { channel: Channel::default(), value: U14::CENTRE };
        (0..40).for_each(|_| thru.play(1, bend));
        thru.lost(2);
        let words = queued(&mut out);
        let count = |sign| words.split(' ').filter(|word| word.starts_with(sign)).count();
        assert_eq!((count('+'), count('-')), (8, 8));
        assert_eq!(thru.meter.stats().ports[0].dropped, 72);
    }

    #[test]
    fn a_target_can_be_set_and_read() {
        let target = ThruTarget::new();
        assert_eq!(target.get(), None);
        for port in [0, 31] {
            for channel in (1..=16).map(Channel::from_number).chain([None]) {
                target.set(Some((PortIx(port), channel)));
                assert_eq!(target.clone().get(), Some((PortIx(port), channel)));
            }
        }
    }
}
