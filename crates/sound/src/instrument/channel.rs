//! The state of one MIDI channel, and how it reaches the player.
//!
//! In: controllers by number and value, key presses and releases. Out: calls to the player's channel
//! of the same number. All of the state is kept here, so that it can be sent again after the player
//! has been reset.

use super::glide::Glide;
use super::laws;
use rustysynth_ext::Synthesizer;

/// Blocks over which a channel is faded out for silence: about 3 ms.
const FADE: u8 = 11;

/// The state of a channel; at first that of 'General MIDI on'.
#[derive(Debug, Clone)]
pub struct Channel {
    number: i32,
    /// The selected bank, which takes effect with the next program change.
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
    /// The registered parameter that data entry sets: 0 to 2; others are ignored.
    parameter: Option<(u8, u8)>,
    /// Bend range, fine tuning and coarse tuning, each as its coarse and fine value.
    parameters: [(u8, u8); 3],
    keys: Keys,
    /// Keys that ring whether they are held or not, one bit each: drums that other drums cut off.
    /// If there are any, the pedal does nothing either.
    rings: u128,
    level: Glide,
    place: Glide,
    /// How many blocks remain until a fading channel is silent; 0 if it is not fading.
    fade: u8,
}

/// The keys of a channel, one bit each.
#[derive(Debug, Clone, Copy, Default)]
struct Keys {
    down: u128,
    /// Keys that the sostenuto pedal holds, and those of them that have been released since.
    caught: u128,
    owed: u128,
}

impl Channel {
    /// Channel 0 to 15, in the state of 'General MIDI on' (General MIDI Level 1 Developer
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

    /// The same channel, with keys (one bit each) that ring until others cut them off.
    pub fn with_rings(self, rings: u128) -> Channel {
        Channel { rings, ..self }
    }

    /// Returns to the state of 'General MIDI on'; whatever sounds fades out.
    pub fn restart(&mut self, synth: &mut Synthesizer) {
        self.silence();
        let (fade, level, place, rings) = (self.fade, self.level, self.place, self.rings);
        *self = Channel { fade, level, place, rings, ..Channel::new(self.number as u8) };
        self.set_targets();
        self.send_all(synth);
    }

    /// Sends the whole state to the player.
    pub fn send_all(&self, synth: &mut Synthesizer) {
        self.send_program(synth);
        self.send_fine(synth, 11, laws::FULL);
        self.send_vibrato(synth);
        self.send_sustain(synth);
        self.control(synth, 91, self.reverb);
        self.control(synth, 93, self.chorus);
        self.send_bend(synth);
        (0..3).for_each(|parameter| self.send_parameter(synth, parameter));
        self.send_fine(synth, 7, self.level.value() * self.fading());
        self.send_fine(synth, 10, self.place.value());
    }

    /// Presses a key. Velocity 1 to 127.
    pub fn press(&mut self, synth: &mut Synthesizer, key: u8, velocity: u8) {
        self.keys.down |= bit(key);
        // A new note starts at the set levels, not at values still gliding; a channel that is
        // fading out for 'all sound off' falls silent at once.
        if std::mem::take(&mut self.fade) > 0 {
            self.control(synth, 120, 0);
        }
        self.level.jump();
        self.place.jump();
        self.send_fine(synth, 7, self.level.value());
        self.send_fine(synth, 10, self.place.value());
        synth.note_on(self.number, i32::from(key), i32::from(velocity));
    }

    /// Releases a key.
    pub fn lift(&mut self, synth: &mut Synthesizer, key: u8) {
        self.keys.down &= !bit(key);
        if std::mem::take(&mut self.key_pressure[usize::from(key)]) > 0 {
            self.send_vibrato(synth);
        }
        if self.keys.caught & bit(key) != 0 {
            self.keys.owed |= bit(key);
        } else {
            self.end(synth, bit(key));
        }
    }

    /// Carries out a control change or channel mode message.
    pub fn change(&mut self, synth: &mut Synthesizer, controller: u8, value: u8) {
        match controller {
            0 => self.bank_coarse = value,
            32 => self.bank_fine = value,
            1 => {
                self.wheel = value;
                self.send_vibrato(synth);
            }
            6 | 38 => self.enter(synth, controller == 6, value),
            7 => self.volume = value,
            10 => self.pan = value,
            11 => self.expression = value,
            64 => {
                self.sustain = value >= 64;
                self.send_sustain(synth);
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
            // Omni and poly modes change nothing here, but they end all notes (MIDI 1.0 Detailed
            // Specification, channel mode messages).
            123..=127 => self.lift_all(synth),
            _ => {}
        }
        self.set_targets();
    }

    /// Changes the program, in the selected bank.
    pub fn program(&mut self, synth: &mut Synthesizer, program: u8) {
        self.bank = if self.bank_coarse == 0 { self.bank_fine } else { self.bank_coarse };
        self.program = program;
        self.send_program(synth);
    }

    /// Sets the pressure of one key, or of the channel if there is no key.
    pub fn set_pressure(&mut self, synth: &mut Synthesizer, key: Option<u8>, pressure: u8) {
        match key {
            Some(key) if self.keys.down & bit(key) == 0 => {}
            Some(key) => self.key_pressure[usize::from(key)] = pressure,
            None => self.pressure = pressure,
        }
        self.send_vibrato(synth);
    }

    /// Sets the bend wheel, 0 to 16383.
    pub fn bend(&mut self, synth: &mut Synthesizer, bend: u16) {
        self.bend = bend;
        self.send_bend(synth);
    }

    /// Moves level and pan one block closer to their targets. Returns whether anything moved.
    pub fn step(&mut self, synth: &mut Synthesizer) -> bool {
        let (level, fades) = (self.level.step(), self.fade > 0);
        if fades {
            self.fade -= 1;
            if self.fade == 0 {
                self.control(synth, 120, 0);
            }
            self.send_fine(synth, 7, self.level.value() * self.fading());
        } else if level {
            self.send_fine(synth, 7, self.level.value());
        }
        let place = self.place.step();
        if place {
            self.send_fine(synth, 10, self.place.value());
        }
        level || place || fades
    }

    /// Whether no key or pedal holds anything.
    pub fn is_free(&self) -> bool {
        self.keys.down | self.keys.owed == 0 && !self.sustain
    }

    /// All sound off: fades out everything that sounds, and holds nothing any more.
    fn silence(&mut self) {
        self.keys = Keys::default();
        self.key_pressure = [0; 128];
        self.fade = FADE;
    }

    fn fading(&self) -> f32 {
        if self.fade == 0 { 1.0 } else { f32::from(self.fade - 1) / f32::from(FADE) }
    }

    /// Resets the controllers as RP-015 (MMA) defines for 'reset all controllers': bank, program,
    /// volume, pan, effects and the values of registered parameters stay.
    fn reset(&mut self, synth: &mut Synthesizer) {
        self.expression = 127;
        (self.wheel, self.pressure, self.key_pressure) = (0, 0, [0; 128]);
        self.send_vibrato(synth);
        self.bend(synth, 0x2000);
        self.parameter = None;
        self.sostenuto(synth, false);
        self.sustain = false;
        self.send_sustain(synth);
    }

    fn lift_all(&mut self, synth: &mut Synthesizer) {
        self.keys.owed |= self.keys.caught & self.keys.down;
        self.keys.down = 0;
        self.key_pressure = [0; 128];
        self.send_vibrato(synth);
        self.end(synth, !self.keys.caught);
    }

    /// Releases these keys, one bit each, except those that ring.
    fn end(&self, synth: &mut Synthesizer, keys: u128) {
        let ending = keys & !self.rings;
        let keys = (0..128u8).filter(|&key| ending & bit(key) != 0);
        keys.for_each(|key| synth.note_off(self.number, i32::from(key)));
    }

    fn sostenuto(&mut self, synth: &mut Synthesizer, pressed: bool) {
        if pressed {
            // It catches the keys that are down now; a repeated message catches no more.
            if self.keys.caught == 0 {
                self.keys.caught = self.keys.down;
            }
            return;
        }
        let owed = self.keys.owed & !self.keys.down;
        (self.keys.caught, self.keys.owed) = (0, 0);
        self.end(synth, owed);
    }

    /// Sets the selected registered parameter by data entry.
    fn enter(&mut self, synth: &mut Synthesizer, coarse: bool, value: u8) {
        let Some((0, index @ 0..=2)) = self.parameter else { return };
        let parameter = &mut self.parameters[usize::from(index)];
        *(if coarse { &mut parameter.0 } else { &mut parameter.1 }) = value;
        self.send_parameter(synth, index);
    }

    fn set_targets(&mut self) {
        self.level.to(laws::level(self.volume, self.expression));
        self.place.to(laws::place(self.pan));
    }

    fn send_program(&self, synth: &mut Synthesizer) {
        self.control(synth, 0, self.bank);
        synth.process_midi_message(self.number, 0xC0, i32::from(self.program), 0);
    }

    fn send_vibrato(&self, synth: &mut Synthesizer) {
        let key = self.key_pressure.iter().max().copied().unwrap_or(0);
        let depth = laws::vibrato(self.wheel, self.pressure.max(key));
        self.control(synth, 1, (depth >> 7) as u8);
        self.control(synth, 33, (depth & 127) as u8);
    }

    fn send_sustain(&self, synth: &mut Synthesizer) {
        let holds = self.sustain && self.rings == 0;
        self.control(synth, 64, if holds { 127 } else { 0 });
    }

    fn send_bend(&self, synth: &mut Synthesizer) {
        let (fine, coarse) = (i32::from(self.bend & 127), i32::from(self.bend >> 7));
        synth.process_midi_message(self.number, 0xE0, fine, coarse);
    }

    fn send_parameter(&self, synth: &mut Synthesizer, index: u8) {
        let (coarse, fine) = self.parameters[usize::from(index)];
        for (controller, value) in [(101, 0), (100, index), (6, coarse), (38, fine)] {
            self.control(synth, controller, value);
        }
    }

    /// Sends a controller with its fine half, which the player knows: 7 (39), 10 (42), 11 (43).
    fn send_fine(&self, synth: &mut Synthesizer, controller: u8, value: f32) {
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
