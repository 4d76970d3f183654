//! Any MIDI message: a short one, or a system-exclusive message of any length.
//!
//! The bytes of a system-exclusive message are borrowed while parsing, owned where they are kept,
//! and shared where a thread that must not copy or free them passes them on.

use crate::Message;
use std::ops::Deref;
use std::sync::Arc;

/// A complete MIDI message.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Wire<B = Arc<[u8]>> {
    /// A message of up to three bytes.
    Message(Message),
    /// A system-exclusive message, including F0 and F7.
    SysEx(B),
}

impl<B> Wire<B> {
    /// The short message; `None` for a system-exclusive one.
    pub fn message(&self) -> Option<Message> {
        match self {
            Wire::Message(message) => Some(*message),
            Wire::SysEx(_) => None,
        }
    }
}

impl<B: Deref<Target = [u8]>> Wire<B> {
    /// The same message, owning its bytes.
    pub fn to_owned(&self) -> Wire<Vec<u8>> {
        match self {
            Wire::Message(message) => Wire::Message(*message),
            Wire::SysEx(bytes) => Wire::SysEx(bytes.to_vec()),
        }
    }
}

impl<B> From<Message> for Wire<B> {
    fn from(message: Message) -> Wire<B> {
        Wire::Message(message)
    }
}
