//! The MIDI parser: bytes in, messages out (MIDI 1.0).
//!
//! In: bytes, split anywhere. Out: each message as soon as its last byte arrives. The parser
//! follows running status. Real-time bytes may arrive between any two bytes; they are passed on at
//! once and change nothing else. System common messages end running status. Undefined bytes are
//! ignored; data bytes outside any message are dropped and counted. A system-exclusive message ends
//! at F7 or at any status byte that is not real-time (MIDI 1.0 Detailed Specification, "System
//! Exclusive"); one longer than [`SYSEX_MOST`] is dropped and counted.
//!
//! Memory: one buffer for system-exclusive messages, at most [`SYSEX_MOST`] bytes.

use crate::{Message, U7, U14, Wire};

/// The longest system-exclusive message that is accepted, F0 and F7 included, in bytes.
pub const SYSEX_MOST: usize = 65_536;

/// Which message the parser is in the middle of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum State {
    /// None: data bytes are strays.
    #[default]
    Idle,
    /// The data bytes of a message. A channel message keeps its status for the next (running
    /// status).
    Data { status: u8, first: Option<U7> },
    /// A system-exclusive message.
    SysEx,
    /// A system-exclusive message that is too long: skipping its bytes.
    Overlong,
}

/// The parser of one stream.
#[derive(Debug, Clone, Default)]
pub struct Parser {
    state: State,
    sysex: Vec<u8>,
    stray: u64,
    overlong: u64,
}

impl Parser {
    /// A parser at the start of a stream.
    pub fn new() -> Parser {
        Parser::default()
    }

    /// Reads bytes and calls `emit` with each message they complete, in order. A note-on of
    /// velocity 0 is passed on as a note-off of velocity 64.
    pub fn feed(&mut self, bytes: &[u8], emit: &mut impl FnMut(Wire<&[u8]>)) {
        for &byte in bytes {
            match byte {
                0x00..=0x7F => self.data(byte, emit),
                0x80..=0xEF => {
                    self.end(emit);
                    self.state = State::Data { status: byte, first: None };
                }
                0xF0..=0xF7 => self.common(byte, emit),
                0xF8..=0xFF => {
                    if let Some(message) = real_time(byte) {
                        emit(Wire::Message(message));
                    }
                }
            }
        }
    }

    /// Drops an unfinished message, because the stream was interrupted.
    pub fn reset(&mut self) {
        self.drop_half();
        self.state = State::Idle;
        self.sysex.clear();
    }

    /// How many data bytes were dropped: outside any message, or because the second data byte of
    /// their message did not follow.
    pub fn stray(&self) -> u64 {
        self.stray
    }

    /// How many system-exclusive messages were too long.
    pub fn overlong(&self) -> u64 {
        self.overlong
    }

    fn data(&mut self, byte: u8, emit: &mut impl FnMut(Wire<&[u8]>)) {
        match self.state {
            State::Idle => self.stray += 1,
            State::Data { status, first } => {
                self.state = self.gather(status, first, U7::low_bits(byte), emit);
            }
            // Leave room for the F7.
            State::SysEx if self.sysex.len() < SYSEX_MOST - 1 => self.sysex.push(byte),
            State::SysEx => {
                self.overlong += 1;
                self.sysex.clear();
                self.state = State::Overlong;
            }
            State::Overlong => {}
        }
    }

    /// Reads one data byte of a message; returns the next state.
    fn gather(
        &self,
        status: u8,
        first: Option<U7>,
        byte: U7,
        emit: &mut impl FnMut(Wire<&[u8]>),
    ) -> State {
        let message = match (status, first) {
            (0xC0..=0xDF, _) => Message::channel_voice(status, byte, U7::MIN),
            (0x80..=0xEF, Some(first)) => Message::channel_voice(status, first, byte),
            (0xF1, _) => Some(Message::QuarterFrame(byte)),
            (0xF2, Some(first)) => Some(Message::SongPosition(U14::from_parts(byte, first))),
            (0xF3, _) => Some(Message::SongSelect(byte)),
            _ => return State::Data { status, first: Some(byte) },
        };
        if let Some(message) = message {
            emit(Wire::Message(message));
        }
        if status < 0xF0 { State::Data { status, first: None } } else { State::Idle }
    }

    fn common(&mut self, byte: u8, emit: &mut impl FnMut(Wire<&[u8]>)) {
        self.end(emit);
        match byte {
            0xF0 => {
                self.sysex.clear();
                self.sysex.push(byte);
                self.state = State::SysEx;
            }
            0xF1..=0xF3 => self.state = State::Data { status: byte, first: None },
            0xF6 => emit(Wire::Message(Message::TuneRequest)),
            _ => {}
        }
    }

    /// Ends the message in progress, because another status byte has arrived.
    fn end(&mut self, emit: &mut impl FnMut(Wire<&[u8]>)) {
        self.drop_half();
        if self.state == State::SysEx {
            self.sysex.push(0xF7);
            emit(Wire::SysEx(&self.sysex));
            self.sysex.clear();
        }
        self.state = State::Idle;
    }

    fn drop_half(&mut self) {
        if let State::Data { first: Some(_), .. } = self.state {
            self.stray += 1;
        }
    }
}

fn real_time(byte: u8) -> Option<Message> {
    Some(match byte {
        0xF8 => Message::Clock,
        0xFA => Message::Start,
        0xFB => Message::Continue,
        0xFC => Message::Stop,
        0xFE => Message::ActiveSensing,
        0xFF => Message::Reset,
        _ => return None,
    })
}

#[cfg(test)]
mod tests;
