//! Collects the notes and controller moves of one channel of a track chunk.

use super::remarks::Tally;
use chaconne_engine::{Gathered, Message, Parameters};
use chaconne_song::{Channel, Control, Lane, Pairing, Point, Stroke, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// The moves of one controller, before the length of the section is known.
#[derive(Debug)]
pub(super) struct Moves {
    pub channel: Channel,
    pub control: Control,
    /// In order of time; never empty.
    pub points: Vec<Point>,
}

impl Moves {
    /// The moves as a lane that holds its controller from the first move to the end of a pass.
    pub fn covering(self, length: Tick) -> Lane {
        let from = self.points.first().map_or(Tick::ZERO, |point| point.at);
        Lane {
            channel: self.channel,
            control: self.control,
            span: Span::new(from, length),
            points: self.points,
        }
    }
}

/// The first program change of a channel, and the bank selected before it.
#[derive(Debug, Clone, Copy)]
pub(super) struct FirstProgram {
    pub at: Tick,
    pub program: U7,
    pub bank: Option<U14>,
}

/// What a channel of a track chunk plays.
pub(super) struct Gather {
    pub channel: Channel,
    /// In the order of their presses.
    pub notes: Vec<Stroke>,
    pub lanes: BTreeMap<Control, Vec<Point>>,
    pub program: Option<FirstProgram>,
    /// The held keys, with one pairing per key, so that a release finds its press at once even if the
    /// file never releases many keys.
    down: Vec<Pairing<usize>>,
    held: usize,
    /// One bit for each key that may be held.
    keys: u128,
    parameters: Parameters,
}

const BANK: Control = Control::Change(U7::low_bits(0));
const BANK_FINE: Control = Control::Change(U7::low_bits(32));

impl Gather {
    pub fn new(channel: Channel) -> Gather {
        Gather {
            channel,
            notes: Vec::new(),
            lanes: BTreeMap::new(),
            program: None,
            down: vec![Pairing::default(); 128],
            held: 0,
            keys: 0,
            parameters: Parameters::default(),
        }
    }

    /// Reads a message of this channel.
    pub fn add(&mut self, at: Tick, message: Message, tally: &mut Tally) {
        match message {
            Message::NoteOn { key, velocity, .. } => self.press(at, key, velocity),
            Message::NoteOff { key, velocity, .. } => self.release(at, key, velocity, tally),
            Message::Change { controller, .. } if controller.get() >= 120 => {
                tally.modes += 1;
                self.mode(at, controller, tally);
            }
            Message::Change { controller, value, .. } => self.change(at, controller, value),
            Message::Program { program, .. } => {
                if self.program.is_none() {
                    self.program = Some(FirstProgram { at, program, bank: self.bank() });
                }
                self.push(Control::Program, at, program.into());
            }
            other => {
                if let Some((control, value)) = other.control() {
                    self.push(control, at, value);
                }
            }
        }
    }

    /// Ends the notes that are still held.
    pub fn finish(&mut self, end: Tick, tally: &mut Tally) {
        tally.held += self.held;
        self.release_all(end, tally);
    }

    fn press(&mut self, at: Tick, key: U7, velocity: U7) {
        let stroke = Stroke { start: at, length: Tick(1), key, velocity, release: U7::CENTRE };
        self.down[usize::from(key.get())].press(self.channel, key, self.notes.len());
        self.held += 1;
        self.keys |= 1 << key.get();
        self.notes.push(stroke);
    }

    fn release(&mut self, at: Tick, key: U7, velocity: U7, tally: &mut Tally) {
        match self.down[usize::from(key.get())].release(self.channel, key, at, velocity) {
            None => tally.unmatched += 1,
            Some(paired) => {
                self.held -= 1;
                let stroke = &mut self.notes[paired.tag];
                stroke.release = paired.release;
                end_at(stroke, paired.end, tally);
            }
        }
    }

    fn release_all(&mut self, at: Tick, tally: &mut Tally) {
        while self.held > 0 {
            // Only held keys, lowest first: far fewer than all keys.
            let key = self.keys.trailing_zeros() as usize;
            self.keys &= self.keys - 1;
            for index in self.down[key].drain() {
                self.held -= 1;
                end_at(&mut self.notes[index], at, tally);
            }
        }
        self.keys = 0;
    }

    /// Carries out a channel mode message instead of storing it (MIDI 1.0, "Channel Mode").
    fn mode(&mut self, at: Tick, controller: U7, tally: &mut Tally) {
        if ends_notes(controller) {
            self.release_all(at, tally);
        } else if controller.get() == 121 {
            self.reset(at);
        }
    }

    /// Moves every controller that has moved to its reset value (RP-015, "Response to Reset All
    /// Controllers").
    fn reset(&mut self, at: Tick) {
        self.parameters = Parameters::default();
        for (control, points) in &mut self.lanes {
            let rest = match control {
                Control::Change(number) => match number.get() {
                    1 | 64..=67 => 0,
                    11 => 127,
                    _ => continue,
                },
                Control::Bend => U14::CENTRE.get(),
                Control::Pressure | Control::KeyPressure(_) => 0,
                _ => continue,
            };
            let value = U14::new(rest).unwrap_or_default();
            if points.last().is_some_and(|point| point.value != value) {
                points.push(Point::step(at, value));
            }
        }
    }

    fn change(&mut self, at: Tick, controller: U7, value: U7) {
        match self.parameters.gather(self.channel, controller, value) {
            Gathered::Plain => self.push(Control::Change(controller), at, value.into()),
            Gathered::Part => {}
            Gathered::Moved(control, value) => {
                // Two halves of a value at one tick are one move.
                let last = self.lanes.get_mut(&control).and_then(|points| points.last_mut());
                match last.filter(|point| point.at == at) {
                    Some(point) => point.value = value,
                    None => self.push(control, at, value),
                }
            }
        }
    }

    fn push(&mut self, control: Control, at: Tick, value: U14) {
        self.lanes.entry(control).or_default().push(Point::step(at, value));
    }

    /// The bank selected so far.
    fn bank(&self) -> Option<U14> {
        let last = |control| Some(self.lanes.get(&control)?.last()?.value.lsb());
        let (coarse, fine) = (last(BANK), last(BANK_FINE));
        let parts = U14::from_parts(coarse.unwrap_or_default(), fine.unwrap_or_default());
        (coarse.is_some() || fine.is_some()).then_some(parts)
    }

    /// Removes the moves that become settings of the track: a program and bank, a volume or a pan that
    /// is set before the first note and never changes. A controller that changes later keeps its whole
    /// lane, so that each round starts where the file starts.
    pub fn take_settings(&mut self) -> Settings {
        let Some(first_note) = self.notes.iter().map(|stroke| stroke.start).min() else {
            return Settings::default();
        };
        let mut settings = Settings {
            volume: self.take_only(Control::VOLUME, first_note),
            pan: self.take_only(Control::PAN, first_note),
            ..Settings::default()
        };
        let Some(first) = self.program.filter(|first| first.at <= first_note) else {
            return settings;
        };
        settings.program = Some(first.program);
        settings.bank = first.bank;
        if self.take_only(Control::Program, first_note).is_some() {
            for bank in [BANK, BANK_FINE] {
                let points = self.lanes.get(&bank);
                if points.is_some_and(|points| points.iter().all(|point| point.at <= first.at)) {
                    self.lanes.remove(&bank);
                }
            }
        }
        settings
    }

    /// Removes a controller that is set once, at `before` or earlier.
    fn take_only(&mut self, control: Control, before: Tick) -> Option<U7> {
        match self.lanes.get(&control)?.as_slice() {
            [only] if only.at <= before => {
                let value = only.value.lsb();
                self.lanes.remove(&control);
                Some(value)
            }
            _ => None,
        }
    }
}

/// Whether a channel mode message releases the keys of its channel: all sound off, all notes off, and
/// the four that include the latter (MIDI 1.0, "Channel Mode").
pub(crate) fn ends_notes(controller: U7) -> bool {
    matches!(controller.get(), 120 | 123..)
}

/// The settings of a track.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Settings {
    pub bank: Option<U14>,
    pub program: Option<U7>,
    pub volume: Option<U7>,
    pub pan: Option<U7>,
}

fn end_at(stroke: &mut Stroke, end: Tick, tally: &mut Tally) {
    let length = end - stroke.start;
    if length < Tick(1) {
        tally.instants += 1;
    }
    stroke.length = length.max(Tick(1));
}
