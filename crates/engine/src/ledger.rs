//! The ledger of voices: which voices hold which key, and what must be sent for that.
//!
//! In: presses and lifts by voice. Out: note-ons and note-offs, such that every key that was struck is
//! released once, a key that is down is released just before it is struck again, and the release goes
//! out when the last voice that holds the key lifts it. Playback and exports use the same ledger.
//!
//! After [`Ledger::new`] only [`Ledger::reserve`] allocates. A press beyond the capacity is not sent,
//! but counted.

use crate::away::{Away, Hand};
use crate::{Address, Message, PortIx, Slot, Voice};
use chaconne_song::U7;

/// A voice that holds a key.
#[derive(Debug, Clone, Copy)]
struct Holder {
    address: Address,
    slot: Slot,
    voice: Voice,
    /// Whether it sounds on in the present epoch of its slot.
    keep: bool,
}

/// Which voices hold which keys.
#[derive(Debug, Clone)]
pub struct Ledger {
    holders: Vec<Holder>,
    /// How many voices hold each key, by port, channel and key.
    counts: Box<[u16]>,
    away: Away,
    refused: u64,
    /// How many holders were removed so far. An unfinished [`Releases`] starts over if it was not the
    /// one that removed the last.
    removed: u64,
}

/// A series of releases, made one by one with [`Ledger::next_release`].
#[derive(Debug, Clone, Copy)]
pub struct Releases {
    scope: Scope,
    at: usize,
    removed: u64,
}

#[derive(Debug, Clone, Copy)]
enum Scope {
    /// The keys that this slot holds and that were not kept.
    Unkept(Slot),
    /// All but through-played keys.
    Played,
    All,
}

impl Releases {
    /// The keys that a slot holds and that were not kept.
    pub fn unkept(slot: Slot) -> Releases {
        Releases { scope: Scope::Unkept(slot), at: 0, removed: 0 }
    }

    /// All keys but through-played ones, and all controllers but a pedal that the player holds.
    pub fn played() -> Releases {
        Releases { scope: Scope::Played, at: 0, removed: 0 }
    }

    /// All keys and controllers.
    pub fn all() -> Releases {
        Releases { scope: Scope::All, at: 0, removed: 0 }
    }
}

impl Scope {
    fn covers(self, holder: &Holder) -> bool {
        match self {
            Scope::Unkept(slot) => holder.slot == slot && !holder.keep,
            Scope::Played => holder.slot != Slot::LIVE,
            Scope::All => true,
        }
    }
}

/// Keys of a port: 16 channels of 128.
const KEYS: usize = 16 * 128;

fn cell(address: Address) -> usize {
    usize::from(address.port.0) * KEYS
        + usize::from(address.channel.wire()) * 128
        + usize::from(address.key.get())
}

fn off(address: Address, velocity: U7) -> (PortIx, Message) {
    let Address { port, channel, key } = address;
    (port, Message::NoteOff { channel, key, velocity })
}

impl Ledger {
    /// A ledger for `ports` ports (at most [`PortIx::MOST`]) and `capacity` voices at a time.
    pub fn new(ports: usize, capacity: usize) -> Ledger {
        let ports = ports.clamp(1, PortIx::MOST);
        Ledger {
            holders: Vec::with_capacity(capacity),
            counts: vec![0; ports * KEYS].into_boxed_slice(),
            away: Away::new(ports),
            refused: 0,
            removed: 0,
        }
    }

    /// Makes room for `more` voices beside those that hold a key now. Allocates.
    pub fn reserve(&mut self, more: usize) {
        self.holders.reserve(more);
    }

    /// A voice presses a key; the messages to send go to `emit`. Returns whether it did: nothing happens
    /// if the voice already holds the key, if the port is unknown, or if the ledger is full.
    pub fn press(
        &mut self,
        address: Address,
        velocity: U7,
        slot: Slot,
        voice: Voice,
        emit: &mut impl FnMut(PortIx, Message),
    ) -> bool {
        let known = cell(address) < self.counts.len();
        if !known || self.holders.len() == self.holders.capacity() {
            self.refused += 1;
            return false;
        }
        if self.find(address, slot, voice).is_some() {
            return false;
        }
        if self.counts[cell(address)] > 0 {
            let (port, message) = off(address, U7::CENTRE);
            emit(port, message);
        }
        let Address { port, channel, key } = address;
        emit(port, Message::NoteOn { channel, key, velocity });
        self.counts[cell(address)] += 1;
        self.holders.push(Holder { address, slot, voice, keep: true });
        true
    }

    /// A voice lifts a key; the messages to send go to `emit`. Nothing happens if it does not hold it.
    pub fn lift(
        &mut self,
        address: Address,
        velocity: U7,
        slot: Slot,
        voice: Voice,
        emit: &mut impl FnMut(PortIx, Message),
    ) {
        if let Some(index) = self.find(address, slot, voice)
            && let Some((port, message)) = self.let_go(index, velocity)
        {
            emit(port, message);
        }
    }

    /// Takes a message that is not a note, so that its controller can go to rest at an end. Returns the
    /// message to send; `None` if the pedal that song and player share does not move.
    pub fn resolve(&mut self, port: PortIx, message: Message, hand: Hand) -> Option<Message> {
        self.away.resolve(port, message, hand)
    }

    /// Begins a new epoch of a slot: of the keys it holds, only those that [`Ledger::keep`] names will
    /// outlast [`Ledger::settle`].
    pub fn revise(&mut self, slot: Slot) {
        for holder in self.holders.iter_mut().filter(|holder| holder.slot == slot) {
            holder.keep = false;
        }
    }

    /// Keeps a voice in the new epoch, on this key. Returns whether it sounds there. A voice that holds
    /// another key is not kept, because its release, on the new key, would not find it.
    pub fn keep(&mut self, slot: Slot, voice: Voice, address: Address) -> bool {
        let mut found = false;
        for holder in self.holders.iter_mut() {
            if holder.slot == slot && holder.voice == voice && holder.address == address {
                holder.keep = true;
                found = true;
            }
        }
        found
    }

    /// Releases the keys that a slot holds and that were not kept.
    pub fn settle(&mut self, slot: Slot, emit: &mut impl FnMut(PortIx, Message)) {
        self.release(Releases::unkept(slot), emit);
    }

    /// Releases all but through-played keys, and brings controllers to rest. The sustain pedal stays
    /// where the player holds it.
    pub fn halt(&mut self, emit: &mut impl FnMut(PortIx, Message)) {
        self.release(Releases::played(), emit);
    }

    /// Releases everything, and brings controllers to rest.
    pub fn silence(&mut self, emit: &mut impl FnMut(PortIx, Message)) {
        self.release(Releases::all(), emit);
    }

    fn release(&mut self, mut releases: Releases, emit: &mut impl FnMut(PortIx, Message)) {
        while let Some((port, message)) = self.next_release(&mut releases) {
            emit(port, message);
        }
    }

    /// Makes the next release of a series, or brings the next controller to rest, and returns the
    /// message to send; `None` when all is done. Between two calls the ledger may be used otherwise.
    pub fn next_release(&mut self, releases: &mut Releases) -> Option<(PortIx, Message)> {
        if releases.removed != self.removed {
            releases.at = 0;
        }
        while let Some(holder) = self.holders.get(releases.at) {
            if !releases.scope.covers(holder) {
                releases.at += 1;
                continue;
            }
            let message = self.let_go(releases.at, U7::CENTRE);
            releases.removed = self.removed;
            if message.is_some() {
                return message;
            }
        }
        match releases.scope {
            Scope::Unkept(_) => None,
            Scope::Played => self.away.next_rest(Some(Hand::Live)),
            Scope::All => self.away.next_rest(None),
        }
    }

    /// Forgets the keys and controllers of a port that is gone.
    pub fn lose(&mut self, port: PortIx) {
        let mut index = 0;
        while let Some(holder) = self.holders.get(index) {
            if holder.address.port == port {
                self.let_go(index, U7::CENTRE);
            } else {
                index += 1;
            }
        }
        self.away.lose(port);
    }

    /// The number of keys that are held.
    pub fn held(&self) -> usize {
        self.counts.iter().filter(|&&count| count > 0).count()
    }

    /// Whether no voice holds any key.
    pub fn is_empty(&self) -> bool {
        self.holders.is_empty()
    }

    /// The number of presses that were refused because the ledger was full or the port unknown.
    pub fn refused(&self) -> u64 {
        self.refused
    }

    fn find(&self, address: Address, slot: Slot, voice: Voice) -> Option<usize> {
        self.holders.iter().position(|holder| {
            holder.voice == voice && holder.slot == slot && holder.address == address
        })
    }

    /// Removes a holder. Returns the release to send, if it was the last one of its key.
    fn let_go(&mut self, index: usize, velocity: U7) -> Option<(PortIx, Message)> {
        let address = self.holders.swap_remove(index).address;
        self.removed += 1;
        let count = &mut self.counts[cell(address)];
        *count -= 1;
        (*count == 0).then(|| off(address, velocity))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Channel, NoteId};
    use chaconne_time::Tick;

    fn at(key: u8) -> Address {
        Address { port: PortIx(0), channel: Channel::default(), key: U7::low_bits(key) }
    }

    fn voice(note: u32) -> Voice {
        Voice { pass: Voice::NO_PASS, note: NoteId(note), cycle: Tick(0) }
    }

    /// Runs `script` and spells out what was sent: + for a note-on, - for a note-off.
    fn wire(script: impl FnOnce(&mut Ledger, &mut dyn FnMut(PortIx, Message))) -> String {
        wire_of(Ledger::new(1, 8), script)
    }

    fn wire_of(
        mut ledger: Ledger,
        script: impl FnOnce(&mut Ledger, &mut dyn FnMut(PortIx, Message)),
    ) -> String {
        let mut out = String::new();
        let mut spell = |_: PortIx, message: Message| {
            let text = match message {
                Message::NoteOn { key, .. } => format!("+{key} "),
                Message::NoteOff { key, .. } => format!("-{key} "),
                other => format!("{other:?} "),
            };
            out.push_str(&text);
        };
        script(&mut ledger, &mut spell);
        out.trim_end().to_string()
    }

    #[test]
    fn a_key_struck_by_two_voices_sounds_twice_and_is_released_twice() {
        let said = wire(|ledger, mut emit| {
            ledger.press(at(60), U7::MAX, Slot(0), voice(1), &mut emit);
            ledger.press(at(60), U7::MAX, Slot(1), voice(2), &mut emit);
            ledger.lift(at(60), U7::MIN, Slot(0), voice(1), &mut emit);
            ledger.lift(at(60), U7::MIN, Slot(1), voice(2), &mut emit);
            ledger.lift(at(60), U7::MIN, Slot(1), voice(2), &mut emit);
            assert!(ledger.is_empty());
        });
        assert_eq!(said, "+60 -60 +60 -60");
    }

    #[test]
    fn a_revised_slot_releases_all_keys_that_were_not_kept() {
        let said = wire(|ledger, mut emit| {
            ledger.press(at(60), U7::MAX, Slot(0), voice(1), &mut emit);
            ledger.press(at(64), U7::MAX, Slot(0), voice(2), &mut emit);
            ledger.press(at(67), U7::MAX, Slot(1), voice(3), &mut emit);
            ledger.revise(Slot(0));
            assert!(ledger.keep(Slot(0), voice(2), at(64)));
            assert!(!ledger.keep(Slot(0), voice(9), at(64)));
            ledger.settle(Slot(0), &mut emit);
            assert_eq!(ledger.held(), 2);
        });
        assert_eq!(said, "+60 +64 +67 -60");
    }

    #[test]
    fn a_voice_that_continues_on_another_key_releases_the_old_one() {
        let said = wire(|ledger, mut emit| {
            ledger.press(at(60), U7::MAX, Slot(0), voice(1), &mut emit);
            ledger.revise(Slot(0));
            assert!(!ledger.keep(Slot(0), voice(1), at(62)));
            ledger.settle(Slot(0), &mut emit);
            ledger.lift(at(62), U7::MIN, Slot(0), voice(1), &mut emit);
            assert!(ledger.is_empty());
        });
        assert_eq!(said, "+60 -60");
    }

    #[test]
    fn a_halt_leaves_the_players_keys_and_lifts_the_songs_pedal() {
        let said = wire(|ledger, mut emit| {
            ledger.press(at(60), U7::MAX, Slot(0), voice(1), &mut emit);
            ledger.press(at(64), U7::MAX, Slot::LIVE, voice(2), &mut emit);
            let controller = U7::low_bits(64);
            let down = Message::Change { channel: Channel::default(), controller, value: U7::MAX };
            ledger.resolve(PortIx(0), down, Hand::Song);
            ledger.halt(&mut emit);
            assert_eq!(ledger.held(), 1);
        });
        assert!(said.starts_with("+60 +64 -60 Change"), "{said}");
    }

    #[test]
    fn a_series_of_releases_misses_no_key_if_a_port_is_lost_halfway() {
        let mut ledger = Ledger::new(2, 8);
        let keys: Vec<Address> = [(0, 60), (1, 61), (0, 62), (1, 63), (0, 64)]
            .map(|(port, key)| Address { port: PortIx(port), ..at(key) })
            .into();
        for (note, &address) in keys.iter().enumerate() {
            ledger.press(address, U7::MAX, Slot(0), voice(note as u32), &mut |_, _| {});
        }
        let mut releases = Releases::all();
        let (first, _) = ledger.next_release(&mut releases).unwrap();
        ledger.lose(PortIx(1));
        let rest = std::iter::from_fn(|| ledger.next_release(&mut releases)).take(9).count();
        assert_eq!((first, rest), (PortIx(0), 2));
        assert!(ledger.is_empty());
    }

    /// A key is one of 128 on one of 16 channels (MIDI 1.0, "Channel Voice Messages") of one port.
    #[test]
    fn a_key_of_one_channel_and_port_has_nothing_to_do_with_the_same_key_of_another() {
        let said = wire_of(Ledger::new(3, 64), |ledger, mut emit| {
            let mut note = 0;
            for port in [0, 1, 2] {
                for channel in [1, 2, 16] {
                    for key in [0, 1, 127] {
                        let channel = Channel::from_number(channel).unwrap();
                        let address = Address { port: PortIx(port), channel, ..at(key) };
                        note += 1;
                        assert!(ledger.press(address, U7::MAX, Slot(0), voice(note), &mut emit));
                    }
                }
            }
            assert_eq!((ledger.held(), ledger.refused()), (27, 0));
            assert!(!ledger.is_empty());
        });
        assert!(!said.contains('-'), "no key was down before: {said}");
    }

    #[test]
    fn a_port_that_is_gone_takes_only_its_own_keys_and_controllers_with_it() {
        let on = |port, key| Address { port: PortIx(port), ..at(key) };
        let soft = Message::Change {
            channel: Channel::default(),
            controller: U7::low_bits(67),
            value: U7::MAX,
        };
        let said = wire_of(Ledger::new(2, 8), |ledger, mut emit| {
            for (note, address) in [on(1, 60), on(1, 62), on(0, 64), on(1, 65)].iter().enumerate() {
                ledger.press(*address, U7::MAX, Slot(0), voice(note as u32), &mut emit);
            }
            ledger.resolve(PortIx(1), soft, Hand::Song);
            ledger.lose(PortIx(1));
            assert_eq!((ledger.held(), ledger.is_empty()), (1, false));
            ledger.silence(&mut emit);
            assert!(ledger.is_empty());
        });
        assert_eq!(said, "+60 +62 +64 +65 -64");
    }

    #[test]
    fn a_series_that_passed_over_a_players_key_misses_none_when_that_key_is_gone() {
        let mut ledger = Ledger::new(2, 8);
        let mut press = |port, key, slot| {
            let address = Address { port: PortIx(port), ..at(key) };
            ledger.press(address, U7::MAX, slot, voice(u32::from(key)), &mut |_, _| {});
        };
        press(1, 60, Slot::LIVE);
        press(0, 62, Slot(0));
        press(0, 64, Slot(0));
        let mut releases = Releases::played();
        assert!(ledger.next_release(&mut releases).is_some());
        // The last key takes the place of the player's, which the series has passed.
        ledger.lose(PortIx(1));
        assert!(ledger.next_release(&mut releases).is_some());
        assert!(ledger.is_empty());
    }

    #[test]
    fn a_press_on_a_port_that_does_not_exist_is_refused() {
        let mut ledger = Ledger::new(1, 8);
        for (port, key) in [(1, 0), (1, 127), (2, 0)] {
            let address = Address { port: PortIx(port), ..at(key) };
            assert!(!ledger.press(address, U7::MAX, Slot(0), voice(1), &mut |_, _| {}));
        }
        assert_eq!((ledger.refused(), ledger.is_empty()), (3, true));
    }

    #[test]
    fn a_full_ledger_refuses_a_press_and_counts_it() {
        let mut ledger = Ledger::new(1, 1);
        let mut emit = |_: PortIx, _: Message| {};
        assert!(ledger.press(at(1), U7::MAX, Slot(0), voice(1), &mut emit));
        assert!(!ledger.press(at(2), U7::MAX, Slot(0), voice(2), &mut emit));
        assert_eq!((ledger.refused(), ledger.held()), (1, 1));
    }
}
