//! A second, simpler serial line to test the real one against: it looks at every byte alone,
//! compares every pair of messages, and moves in steps of 10 us. It shares no code with the real
//! line.

use super::*;

/// One step of time. Tests with this line use whole steps; 320 us is a whole number of them.
pub const STEP: Ns = 10_000;

#[derive(Debug, Clone)]
struct Note {
    id: usize,
    bytes: Vec<u8>,
    came: Ns,
    due: Ns,
    rank: u8,
    /// Fixed in its place: before everything on its channel, or before notes on its key.
    bound: bool,
    bound_to_key: bool,
}

/// The line, and what happened to each item.
#[derive(Debug, Default)]
pub struct Naive {
    waiting: Vec<Note>,
    real_time: Vec<Note>,
    current: Option<(Note, Vec<u8>)>,
    busy_until: Ns,
    running: Option<(u8, Ns)>,
    /// Each byte, and when it started.
    pub bytes: Vec<(Ns, u8)>,
    /// Which item finished, and when its last byte was transmitted.
    pub ended: Vec<(usize, Ns)>,
    pub worst: Ns,
    pub thinned: u64,
}

impl Naive {
    /// Sends everything, byte by byte.
    pub fn run(items: &[(Ns, Wire)]) -> Naive {
        let mut naive = Naive::default();
        let mut next = 0;
        let mut now = 0;
        while next < items.len() || naive.is_busy() {
            while next < items.len() && items[next].0 == now {
                naive.push(now, next, &items[next].1);
                next += 1;
            }
            if naive.busy_until <= now {
                naive.send_a_byte(now);
            }
            now += STEP;
        }
        naive
    }

    fn is_busy(&self) -> bool {
        !self.waiting.is_empty() || !self.real_time.is_empty() || self.current.is_some()
    }

    fn push(&mut self, now: Ns, id: usize, wire: &Wire) {
        let bytes = match wire {
            Wire::Message(message) => message.bytes().to_vec(),
            Wire::SysEx(bytes) => bytes.to_vec(),
        };
        let rank = rank(&bytes);
        let mut note =
            Note { id, bytes, came: now, due: now, rank, bound: false, bound_to_key: false };
        if note.bytes[0] >= 0xF8 {
            return self.real_time.push(note);
        }
        if is_value(&note) {
            if let Some(coarse) = coarse(&note).filter(|_| note.bytes[1] < 32) {
                self.overwrite(|other| is_fine_of(other, coarse));
            }
            let same = |other: &Note| is_value(other) && knob(other) == knob(&note);
            if let Some((place, came, rank)) = self.overwrite(same) {
                (note.came, note.rank) = (came, rank);
                return self.waiting.insert(place, note);
            }
        }
        self.bind(&note);
        self.waiting.push(note);
    }

    /// Removes the value that a newer one replaces, and returns its place. If a message that
    /// changes its meaning has arrived since, it stays, fixed in its place.
    fn overwrite(&mut self, which: impl Fn(&Note) -> bool) -> Option<(usize, Ns, u8)> {
        let place = self.waiting.iter().position(which)?;
        let channel = self.waiting[place].bytes[0] & 15;
        let since = &self.waiting[place + 1..];
        if since.iter().any(|other| is_state(other) && other.bytes[0] & 15 == channel) {
            let old = &mut self.waiting[place];
            (old.bound, old.rank) = (true, old.rank.min(3));
            return None;
        }
        self.thinned += 1;
        let old = self.waiting.remove(place);
        Some((place, old.came, old.rank))
    }

    /// Fixes the values that a new item must not overtake, and drops those it overrides.
    fn bind(&mut self, new: &Note) {
        let channel = new.bytes[0] & 15;
        let is_reset = new.bytes[0] >> 4 == 0xB && new.bytes[1] == 121;
        let before = self.waiting.len();
        self.waiting.retain(|old| {
            let hit = is_value(old) && old.bytes[0] & 15 == channel && is_reset;
            let void = match old.bytes[0] >> 4 {
                0xB => [1, 11, 33, 43].contains(&old.bytes[1]),
                _ => true,
            };
            !(hit && void)
        });
        self.thinned += (before - self.waiting.len()) as u64;
        for old in self.waiting.iter_mut().filter(|old| is_value(old)) {
            let same_channel = old.bytes[0] & 15 == channel;
            if is_whole(new) || (is_reset && same_channel) {
                (old.bound, old.rank) = (true, old.rank.min(3));
            }
            let touch = old.bytes[0] >> 4 == 0xA && same_channel && old.bytes[1] == new.bytes[1];
            if touch && is_note(new) {
                (old.bound_to_key, old.rank) = (true, old.rank.min(new.rank));
            }
        }
    }

    fn send_a_byte(&mut self, now: Ns) {
        if let Some(first) = self.real_time.first() {
            let is_cue = |note: &Note| matches!(note.bytes[0], 0xF2 | 0xF3);
            let held = matches!(first.bytes[0], 0xFA | 0xFB)
                && (self.waiting.iter().any(is_cue)
                    || self.current.as_ref().is_some_and(|(note, _)| is_cue(note)));
            if !held {
                let note = self.real_time.remove(0);
                self.busy_until = now + 320_000;
                self.bytes.push((now, note.bytes[0]));
                return self.end(note);
            }
        }
        if self.current.is_none() {
            self.current = self.choose(now).map(|note| (note.clone(), self.encode(&note, now)));
        }
        let Some((note, mut rest)) = self.current.take() else { return };
        let byte = rest.remove(0);
        self.busy_until = now + 320_000;
        self.bytes.push((now, byte));
        match byte {
            0x80..=0xEF => self.running = Some((byte, now)),
            0xF0..=0xF7 => self.running = None,
            _ => {}
        }
        if !rest.is_empty() {
            self.current = Some((note, rest));
            return;
        }
        // A newer coarse half that waits has the fine half.
        let newer = |other: &Note| is_value(other) && knob(other) == knob(&note);
        if let Some(coarse) = coarse(&note).filter(|_| note.bytes[1] < 32)
            && !self.waiting.iter().any(newer)
            && let Some(fine) = self.waiting.iter_mut().find(|other| is_fine_of(other, coarse))
        {
            fine.rank = 0;
        }
        self.end(note);
    }

    fn end(&mut self, note: Note) {
        self.worst = self.worst.max(self.busy_until - note.due);
        self.ended.push((note.id, self.busy_until));
    }

    fn choose(&mut self, now: Ns) -> Option<Note> {
        let free = |place: usize| {
            let one = &self.waiting[place];
            !self.waiting[..place].iter().any(|before| keeps_order(before, one))
        };
        let rank = |place: &usize| {
            let one = &self.waiting[*place];
            let patient = now - one.came < 100_000_000;
            (if one.rank > 0 && !patient { 1 } else { one.rank }, *place)
        };
        let place = (0..self.waiting.len()).filter(|&place| free(place)).min_by_key(rank)?;
        Some(self.waiting.remove(place))
    }

    /// The bytes to send under running status.
    fn encode(&self, note: &Note, now: Ns) -> Vec<u8> {
        let mut bytes = note.bytes.clone();
        if let Some((running, sent)) = self.running
            && now - sent < 200_000_000
        {
            if bytes[0] >> 4 == 8 && bytes[2] == 64 && running == bytes[0] + 0x10 {
                (bytes[0], bytes[2]) = (running, 0);
            }
            if bytes[0] == running {
                bytes.remove(0);
            }
        }
        bytes
    }
}

/// Whether two items must be sent in order; `before` arrived first.
fn keeps_order(before: &Note, after: &Note) -> bool {
    let system = |note: &Note| note.bytes[0] >= 0xF0 && !is_whole(note);
    if system(before) || system(after) {
        return system(before) && system(after);
    }
    if is_whole(before) {
        return !ends_sound(&after.bytes);
    }
    if is_whole(after) {
        return !is_value(before);
    }
    if before.bytes[0] & 15 != after.bytes[0] & 15 {
        return false;
    }
    if is_state(before) || before.bound {
        return true;
    }
    if is_state(after) || after.bound {
        return !is_value(before);
    }
    let on_key = |note: &Note| is_note(note) || note.bytes[0] >> 4 == 0xA;
    let same_key = on_key(before) && on_key(after) && before.bytes[1] == after.bytes[1];
    let halves =
        coarse(before).is_some_and(|coarse| before.bytes[1] < 32 && is_fine_of(after, coarse));
    (same_key && !is_value(before)) || (halves && is_value(before))
}

/// 0 is sent next, then 2, 3, 4; 1 is for an item that has waited long.
fn rank(bytes: &[u8]) -> u8 {
    let percussion = bytes[0] & 15 == 9 && bytes[0] < 0xF0;
    match bytes[0] >> 4 {
        0xF => {
            if bytes[0] != 0xF0 || is_control(bytes) {
                0
            } else {
                3
            }
        }
        _ if ends_sound(bytes) => 2,
        0x9 | 0xC => {
            if percussion {
                2
            } else {
                3
            }
        }
        0xB if STATE.contains(&bytes[1]) => {
            if percussion {
                2
            } else {
                3
            }
        }
        _ => 4,
    }
}

/// Bank, data entry, parameter numbers, switches, portamento's source key, velocity prefix, channel
/// mode.
const STATE: [u8; 26] = [
    0, 32, 6, 38, 96, 97, 98, 99, 100, 101, 64, 65, 66, 67, 68, 69, 84, 88, 120, 121, 122, 123,
    124, 125, 126, 127,
];

fn is_control(bytes: &[u8]) -> bool {
    bytes[0] == 0xF0 && bytes.len() > 4 && bytes[1] == 0x7F && [1, 6, 7].contains(&bytes[3])
}

fn is_whole(note: &Note) -> bool {
    note.bytes[0] == 0xF0 && !is_control(&note.bytes)
}

fn is_note(note: &Note) -> bool {
    matches!(note.bytes[0] >> 4, 8 | 9)
}

fn ends_sound(bytes: &[u8]) -> bool {
    match bytes[0] >> 4 {
        8 => true,
        0xB => [120, 123].contains(&bytes[1]) || ((64..70).contains(&bytes[1]) && bytes[2] < 64),
        _ => false,
    }
}

fn is_state(note: &Note) -> bool {
    match note.bytes[0] >> 4 {
        0xC => true,
        0xB => note.bound || STATE.contains(&note.bytes[1]),
        0xD | 0xE => note.bound,
        0xA => note.bound,
        _ => false,
    }
}

fn is_value(note: &Note) -> bool {
    let value = match note.bytes[0] >> 4 {
        0xB => !STATE.contains(&note.bytes[1]),
        kind => matches!(kind, 0xA | 0xD | 0xE),
    };
    value && !note.bound && !note.bound_to_key
}

/// The channel and number of a coarse half, for both halves.
fn coarse(note: &Note) -> Option<(u8, u8)> {
    (note.bytes[0] >> 4 == 0xB && note.bytes[1] < 64).then(|| (note.bytes[0], note.bytes[1] % 32))
}

fn is_fine_of(note: &Note, of: (u8, u8)) -> bool {
    is_value(note)
        && note.bytes[0] == of.0
        && note.bytes[0] >> 4 == 0xB
        && note.bytes[1] == of.1 + 32
}

fn knob(note: &Note) -> (u8, u8) {
    let number = if matches!(note.bytes[0] >> 4, 0xA | 0xB) { note.bytes[1] } else { 0 };
    (note.bytes[0], number)
}
