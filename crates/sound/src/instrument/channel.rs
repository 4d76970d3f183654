//! What one MIDI channel holds, and how it is told to the player.
//!
//! In: controllers by number and value, keys going down and up. Out: calls of the player's
//! channel of the same number. All of the state is here, so that a channel can be told anew to a
//! player that was put to rest.

use super::glide::Glide;
use super::laws;
use rustysynth_ext::Synthesizer;

/// Steps (blocks) in which a channel that has to be silent is faded out: about 3 ms.
const FADE: u8 = 11;

/// The state of a channel; as it is made, that after 'General MIDI on'.
#[derive(Debug, Clone)]
pub struct Channel {
    number: i32,
    /// The bank as selected; it holds from the next program change on.
    bank_coarse: u8,
    bank_fine: u8,
    bank: u8,
    program: u8,
    volume: u8,
    expression: u8,
    pan: u8,
    wheel: u8,
    pressure: u8,
    key_pressure: [u8; 128],
    sustain: bool,
    bend: u16,
    reverb: u8,
    chorus: u8,
    /// The registered parameter that data entry sets: 0 to 2, others are unknown.
    parameter: Option<(u8, u8)>,
    /// Bend range, fine and coarse tuning, as data entry sets them: coarse and fine value.
    parameters: [(u8, u8); 3],
    keys: Keys,
    /// Keys that ring whether they are held or not, a bit each: drums that others cut off. Where
    /// there are any, no foot on the pedal holds anything either.
    rings: u128,
    level: Glide,
    place: Glide,
    /// Steps until a channel that fades out is silent; 0 when it does not.
    fade: u8,
}

/// The keys of a channel, a bit each.
#[derive(Debug, Clone, Copy, Default)]
struct Keys {
    down: u128,
    /// Held by the sostenuto pedal, and those of them that were let go since.
    caught: u128,
    owed: u128,
}

impl Channel {
    /// Channel 0 to 15, with what 'General MIDI on' sets (General MIDI Level 1 Developer
    /// Guidelines: volume 100, expression 127, pan 64, bend range 2 semitones, all else at rest)
    /// and a reverb send of 40 (General MIDI 2).
    pub fn new(number: u8) -> Channel {
        let (volume, expression, pan) = (100, 127, 64);
        Channel {
            number: i32::from(number),
            bank_coarse: 0,
            bank_fine: 0,
            bank: 0,
            program: 0,
            volume,
            expression,
            pan,
            wheel: 0,
            pressure: 0,
            key_pressure: [0; 128],
            sustain: false,
            bend: 0x2000,
            reverb: 40,
            chorus: 0,
            parameter: None,
            parameters: [(2, 0), (64, 0), (64, 0)],
            keys: Keys::default(),
            rings: 0,
            level: Glide::at(laws::level(volume, expression)),
            place: Glide::at(laws::place(pan)),
            fade: 0,
        }
    }

    /// The same, with these keys ringing until others cut them off.
    pub fn with_rings(self, rings: u128) -> Channel {
        Channel { rings, ..self }
    }

    /// Back to what 'General MIDI on' sets; what sounds fades out.
    pub fn restart(&mut self, synth: &mut Synthesizer) {
        self.silence();
        let (fade, level, place, rings) = (self.fade, self.level, self.place, self.rings);
        *self = Channel { fade, level, place, rings, ..Channel::new(self.number as u8) };
        self.set_targets();
        self.tell(synth);
    }

    /// Tells the player everything.
    pub fn tell(&self, synth: &mut Synthesizer) {
        self.tell_program(synth);
        self.tell_fine(synth, 11, laws::FULL);
        self.tell_vibrato(synth);
        self.tell_sustain(synth);
        self.control(synth, 91, self.reverb);
        self.control(synth, 93, self.chorus);
        self.tell_bend(synth);
        (0..3).for_each(|parameter| self.tell_parameter(synth, parameter));
        self.tell_fine(synth, 7, self.level.value() * self.fading());
        self.tell_fine(synth, 10, self.place.value());
    }

    /// A key goes down. Velocity 1 to 127.
    pub fn press(&mut self, synth: &mut Synthesizer, key: u8, velocity: u8) {
        self.keys.down |= bit(key);
        // A new note begins with what is set, not on the way there; a channel that is fading out
        // for 'all sound off' is silent at once.
        if std::mem::take(&mut self.fade) > 0 {
            self.control(synth, 120, 0);
        }
        self.level.jump();
        self.place.jump();
        self.tell_fine(synth, 7, self.level.value());
        self.tell_fine(synth, 10, self.place.value());
        synth.note_on(self.number, i32::from(key), i32::from(velocity));
    }

    /// A key is let go.
    pub fn lift(&mut self, synth: &mut Synthesizer, key: u8) {
        self.keys.down &= !bit(key);
        if std::mem::take(&mut self.key_pressure[usize::from(key)]) > 0 {
            self.tell_vibrato(synth);
        }
        if self.keys.caught & bit(key) != 0 {
            self.keys.owed |= bit(key);
        } else {
            self.end(synth, bit(key));
        }
    }

    /// A control change or channel mode message.
    pub fn change(&mut self, synth: &mut Synthesizer, controller: u8, value: u8) {
        match controller {
            0 => self.bank_coarse = value,
            32 => self.bank_fine = value,
            1 => {
                self.wheel = value;
                self.tell_vibrato(synth);
            }
            6 | 38 => self.enter(synth, controller == 6, value),
            7 => self.volume = value,
            10 => self.pan = value,
            11 => self.expression = value,
            64 => {
                self.sustain = value >= 64;
                self.tell_sustain(synth);
            }
            66 => self.sostenuto(synth, value >= 64),
            91 | 93 => {
                *(if controller == 91 { &mut self.reverb } else { &mut self.chorus }) = value;
                self.control(synth, controller, value);
            }
            98 | 99 => self.parameter = None,
            100 => self.parameter = Some((self.parameter.map_or(127, |p| p.0), value)),
            101 => self.parameter = Some((value, self.parameter.map_or(127, |p| p.1))),
            120 => self.silence(),
            121 => self.reset(synth),
            // Omni and poly modes change nothing here, but they end what sounds (MIDI 1.0
            // Detailed Specification, channel mode messages).
            123..=127 => self.lift_all(synth),
            _ => {}
        }
        self.set_targets();
    }

    /// A program change: with the bank that was selected.
    pub fn program(&mut self, synth: &mut Synthesizer, program: u8) {
        self.bank = if self.bank_coarse == 0 { self.bank_fine } else { self.bank_coarse };
        self.program = program;
        self.tell_program(synth);
    }

    /// Pressure of the channel, or of one key of it.
    pub fn press_harder(&mut self, synth: &mut Synthesizer, key: Option<u8>, pressure: u8) {
        match key {
            Some(key) if self.keys.down & bit(key) == 0 => {}
            Some(key) => self.key_pressure[usize::from(key)] = pressure,
            None => self.pressure = pressure,
        }
        self.tell_vibrato(synth);
    }

    /// The bend wheel, 0 to 16383.
    pub fn bend(&mut self, synth: &mut Synthesizer, bend: u16) {
        self.bend = bend;
        self.tell_bend(synth);
    }

    /// One block has gone by: levels and places move on to where they were set. Tells whether
    /// anything moved.
    pub fn step(&mut self, synth: &mut Synthesizer) -> bool {
        let (level, fades) = (self.level.step(), self.fade > 0);
        if fades {
            self.fade -= 1;
            if self.fade == 0 {
                self.control(synth, 120, 0);
            }
            self.tell_fine(synth, 7, self.level.value() * self.fading());
        } else if level {
            self.tell_fine(synth, 7, self.level.value());
        }
        let place = self.place.step();
        if place {
            self.tell_fine(synth, 10, self.place.value());
        }
        level || place || fades
    }

    /// Whether nothing is held, by a finger or a foot.
    pub fn is_free(&self) -> bool {
        self.keys.down | self.keys.owed == 0 && !self.sustain
    }

    /// All sound off: fades out what sounds, and holds nothing.
    fn silence(&mut self) {
        self.keys = Keys::default();
        self.key_pressure = [0; 128];
        self.fade = FADE;
    }

    fn fading(&self) -> f32 {
        if self.fade == 0 { 1.0 } else { f32::from(self.fade - 1) / f32::from(FADE) }
    }

    /// RP-015 (MMA): what 'reset all controllers' sets; it leaves bank, program, volume, pan,
    /// effects and the registered parameters' values alone.
    fn reset(&mut self, synth: &mut Synthesizer) {
        self.expression = 127;
        (self.wheel, self.pressure, self.key_pressure) = (0, 0, [0; 128]);
        self.tell_vibrato(synth);
        self.bend(synth, 0x2000);
        self.parameter = None;
        self.sostenuto(synth, false);
        self.sustain = false;
        self.tell_sustain(synth);
    }

    fn lift_all(&mut self, synth: &mut Synthesizer) {
        self.keys.owed |= self.keys.caught & self.keys.down;
        self.keys.down = 0;
        self.key_pressure = [0; 128];
        self.tell_vibrato(synth);
        self.end(synth, !self.keys.caught);
    }

    /// Ends the notes of these keys, a bit each, that a release ends.
    fn end(&self, synth: &mut Synthesizer, keys: u128) {
        let ending = keys & !self.rings;
        let keys = (0..128u8).filter(|&key| ending & bit(key) != 0);
        keys.for_each(|key| synth.note_off(self.number, i32::from(key)));
    }

    fn sostenuto(&mut self, synth: &mut Synthesizer, pressed: bool) {
        if pressed {
            // Keys that are down as the pedal goes down; one that repeats itself catches no more.
            if self.keys.caught == 0 {
                self.keys.caught = self.keys.down;
            }
            return;
        }
        let owed = self.keys.owed & !self.keys.down;
        (self.keys.caught, self.keys.owed) = (0, 0);
        self.end(synth, owed);
    }

    /// Data entry for the registered parameter that is selected.
    fn enter(&mut self, synth: &mut Synthesizer, coarse: bool, value: u8) {
        let Some((0, index @ 0..=2)) = self.parameter else { return };
        let parameter = &mut self.parameters[usize::from(index)];
        *(if coarse { &mut parameter.0 } else { &mut parameter.1 }) = value;
        self.tell_parameter(synth, index);
    }

    fn set_targets(&mut self) {
        self.level.to(laws::level(self.volume, self.expression));
        self.place.to(laws::place(self.pan));
    }

    fn tell_program(&self, synth: &mut Synthesizer) {
        self.control(synth, 0, self.bank);
        synth.process_midi_message(self.number, 0xC0, i32::from(self.program), 0);
    }

    fn tell_vibrato(&self, synth: &mut Synthesizer) {
        let key = self.key_pressure.iter().max().copied().unwrap_or(0);
        let depth = laws::vibrato(self.wheel, self.pressure.max(key));
        self.control(synth, 1, (depth >> 7) as u8);
        self.control(synth, 33, (depth & 127) as u8);
    }

    fn tell_sustain(&self, synth: &mut Synthesizer) {
        let holds = self.sustain && self.rings == 0;
        self.control(synth, 64, if holds { 127 } else { 0 });
    }

    fn tell_bend(&self, synth: &mut Synthesizer) {
        let (fine, coarse) = (i32::from(self.bend & 127), i32::from(self.bend >> 7));
        synth.process_midi_message(self.number, 0xE0, fine, coarse);
    }

    fn tell_parameter(&self, synth: &mut Synthesizer, index: u8) {
        let (coarse, fine) = self.parameters[usize::from(index)];
        for (controller, value) in [(101, 0), (100, index), (6, coarse), (38, fine)] {
            self.control(synth, controller, value);
        }
    }

    /// A controller with its fine half, which the player has: 7 (39), 10 (42), 11 (43).
    fn tell_fine(&self, synth: &mut Synthesizer, controller: u8, value: f32) {
        let value = value.round() as u16;
        self.control(synth, controller, (value >> 7) as u8);
        self.control(synth, controller + 32, (value & 127) as u8);
    }

    fn control(&self, synth: &mut Synthesizer, controller: u8, value: u8) {
        let (controller, value) = (i32::from(controller), i32::from(value));
        synth.process_midi_message(self.number, 0xB0, controller, value);
    }
}

fn bit(key: u8) -> u128 {
    1 << (key & 127)
}
