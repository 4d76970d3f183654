//! What an input's thread does with the messages that arrive.
//!
//! In: messages with their time of arrival. Out: the same messages to the armed track's port at
//! once, and to the engine with the time they were played, which is earlier by the input's latency. Where keys
//! play chords, or notes of the harmony, those go both ways in place of what was played.
//! Messages of the control for tapping the tempo become taps and go nowhere else.

use crate::engine_thread::{Asked, EngineShared, Played, Request};
use crate::fingering::Player;
use crate::following::is_clock;
use crate::keys::send;
use crate::tap::{Meaning, TapWatch};
use chaconne_engine::{Input, Message, Wire};
use chaconne_ports::Thru;
use chaconne_song::U7;
use chaconne_time::Ns;
use crossbeam_channel::Sender;
use std::sync::Arc;

/// Passes the messages of one input to the ports and to the engine.
#[derive(Debug)]
pub(crate) struct Hearing {
    /// The number of the input.
    pub source: u8,
    /// How long before its arrival a message was played, in nanoseconds.
    pub latency: Ns,
    /// Recognises taps, if there is a control for tapping.
    pub taps: Option<TapWatch>,
    /// Whether its clock is followed: then its clock messages go to the engine, too.
    pub follows: bool,
    pub player: Player,
    pub thru: Thru,
    pub played: Sender<Played>,
    pub requests: Sender<Asked>,
    pub shared: Arc<EngineShared>,
}

impl Hearing {
    /// Takes a message that arrived at `arrival`. Never waits.
    pub fn hear(&mut self, arrival: Ns, input: Input) {
        let (stamp, source) = (arrival - self.latency, self.source);
        match &input {
            &Input::Heard(Wire::Message(message)) => {
                match self.taps.as_mut().map_or(Meaning::Other, |taps| taps.look(message)) {
                    Meaning::Other => {}
                    Meaning::UsedUp => return,
                    Meaning::Tap(struck) => return self.tap(arrival, stamp, struck),
                }
                return self.sound(arrival, stamp, message);
            }
            Input::Heard(Wire::SysEx(_)) => {}
            Input::Lost => {
                self.thru.lost(arrival);
                self.player.lost();
                self.taps.iter_mut().for_each(TapWatch::lost);
            }
        }
        send(&self.played, Played { stamp, source, input }, &self.shared);
    }

    fn sound(&mut self, arrival: Ns, stamp: Ns, message: Message) {
        let Hearing { player, thru, played, shared, source, follows, .. } = self;
        player.play(stamp, message, |message| {
            thru.play(arrival, message);
            if message.channel().is_some() || (*follows && is_clock(message)) {
                send(played, Played { stamp, source: *source, input: message.into() }, shared);
            }
        });
    }

    fn tap(&self, arrival: Ns, at: Ns, struck: Option<U7>) {
        // The engine thread only ends early after a panic, which was reported.
        let _ = self.requests.send(Asked { stamp: arrival, request: Request::Tap(at, struck) });
    }
}
