//! What the thread of an input does with what it hears.
//!
//! In: messages with the moment they arrived. Out: the same to the armed track's port at once,
//! and to the engine, stamped with the moment they were played: the input's latency earlier. What
//! is of the control that is tapped for the tempo becomes taps, and goes no other way.

use crate::engine_thread::{Asked, Played, Request, Shared};
use crate::following::is_clock;
use crate::keys::tell;
use crate::tap::{TapWatch, Use};
use chaconne_engine::{Input, Wire};
use chaconne_ports::Thru;
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
    /// Looks for taps, where a control is tapped.
    pub taps: Option<TapWatch>,
    /// Whether its clock is followed: then what is about that goes to the engine too.
    pub follows: bool,
    pub thru: Thru,
    pub played: Sender<Played>,
    pub requests: Sender<Asked>,
    pub shared: Arc<Shared>,
}

impl Hearing {
    /// Takes what arrived at `arrival`. Never waits.
    pub fn hear(&mut self, arrival: Ns, input: Input) {
        let (stamp, source) = (arrival - self.latency, self.source);
        match &input {
            &Input::Heard(Wire::Message(message)) => {
                match self.taps.as_mut().map_or(Use::Other, |taps| taps.look(message)) {
                    Use::Other => {}
                    Use::Up => return,
                    Use::Tap => return self.tap(arrival, stamp),
                }
                self.thru.play(arrival, message);
                if message.channel().is_none() && !(self.follows && is_clock(message)) {
                    return;
                }
            }
            Input::Heard(Wire::SysEx(_)) => {}
            Input::Lost => {
                self.thru.lost(arrival);
                self.taps.iter_mut().for_each(TapWatch::lost);
            }
        }
        tell(&self.played, Played { stamp, source, input }, &self.shared);
    }

    fn tap(&self, arrival: Ns, at: Ns) {
        // The engine thread is only gone after a panic, which has been told.
        let _ = self.requests.send(Asked { stamp: arrival, request: Request::Tap(at) });
    }
}
