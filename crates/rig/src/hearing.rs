//! What the thread of an input does with what it hears.
//!
//! In: messages with the moment they arrived. Out: the same to the armed track's port at once,
//! and to the engine, stamped with the moment they were played: the input's latency earlier.

use crate::engine_thread::{Played, Shared};
use crate::keys::tell;
use chaconne_clock::{InputEvent, Thru};
use chaconne_engine::Input;
use chaconne_time::Ns;
use crossbeam_channel::Sender;
use std::sync::Arc;

/// One input's way to the ports and to the engine.
#[derive(Debug)]
pub(crate) struct Hearing {
    /// Tells inputs apart.
    pub source: u8,
    /// How long before its arrival a message was played.
    pub latency: Ns,
    pub thru: Thru,
    pub played: Sender<Played>,
    pub shared: Arc<Shared>,
}

impl Hearing {
    /// Takes what arrived at `arrival`. Never waits.
    pub fn hear(&mut self, arrival: Ns, event: InputEvent) {
        let input = match event {
            InputEvent::Message(message) => {
                self.thru.play(arrival, message);
                if message.channel().is_none() {
                    return;
                }
                Input::Message(message)
            }
            InputEvent::SysEx(bytes) => Input::SysEx(bytes),
            InputEvent::Lost => {
                self.thru.lost(arrival);
                Input::Lost
            }
        };
        let (stamp, source) = (arrival - self.latency, self.source);
        tell(&self.played, Played { stamp, source, input }, &self.shared);
    }
}
