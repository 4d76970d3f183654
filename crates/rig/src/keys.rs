//! Playing through the handle instead of a port: for the computer keyboard, and for takes.
//!
//! In: stamped messages. Out: the same as from a port: to the armed track's port at once, and to
//! the engine. Works from any thread.

use crate::engine_thread::{Asked, EngineShared, Played, Request};
use crate::fingering::Player;
use chaconne_engine::{Input, Message, Wire};
use chaconne_ports::{Thru, now};
use chaconne_time::{Ns, Tick};
use crossbeam_channel::{Sender, bounded};
use std::sync::atomic::Ordering::Relaxed;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// How long the engine may take to answer.
const ANSWER: Duration = Duration::from_secs(1);

/// An input without a port.
#[derive(Debug, Clone)]
pub(crate) struct Keys {
    pub hands: Arc<Mutex<Hands>>,
    pub source: u8,
    pub played: Sender<Played>,
    pub requests: Sender<Asked>,
    pub shared: Arc<EngineShared>,
}

/// What plays there.
#[derive(Debug)]
pub(crate) struct Hands {
    pub player: Player,
    pub thru: Thru,
}

impl Keys {
    /// Plays a message, or what it sounds where keys play chords or notes of the harmony.
    pub fn finger(&self, stamp: Ns, message: Message) {
        // The lock keeps two threads from mixing up the order of what is heard and recorded.
        let mut hands = self.hands.lock().unwrap_or_else(PoisonError::into_inner);
        let Hands { player, thru } = &mut *hands;
        player.play(stamp, message, |message| self.sound(thru, stamp, message.into()));
    }

    /// Plays a message as it is. SysEx is recorded, but not passed through.
    pub fn play(&self, stamp: Ns, input: Input) {
        let mut hands = self.hands.lock().unwrap_or_else(PoisonError::into_inner);
        self.sound(&mut hands.thru, stamp, input);
    }

    fn sound(&self, thru: &mut Thru, stamp: Ns, input: Input) {
        match &input {
            Input::Heard(Wire::Message(message)) => thru.play(stamp, *message),
            Input::Heard(Wire::SysEx(_)) => {}
            Input::Lost => thru.lost(stamp),
        }
        send(&self.played, Played { stamp, source: self.source, input }, &self.shared);
    }

    /// When a transport tick falls, in nanoseconds; `None` if the transport is stopped, or the tick
    /// is more than about 100 ms ahead.
    pub fn when(&self, at: Tick) -> Option<Ns> {
        let (reply, answer) = bounded(1);
        // The engine thread only ends early after a panic, which was reported.
        let _ = self.requests.send(Asked { stamp: now(), request: Request::When(at, reply) });
        answer.recv_timeout(ANSWER).ok().flatten()
    }
}

/// Sends a message to the engine thread without waiting. Counts the ones that find the queue full.
pub(crate) fn send(to: &Sender<Played>, played: Played, shared: &EngineShared) {
    if to.try_send(played).is_err() {
        shared.unheard.fetch_add(1, Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_engine::{Config, Engine};

    #[test]
    fn messages_that_find_the_queue_full_are_counted() {
        let engine = Engine::new(Arc::new(crate::testing::song("test", 1)), Config::default());
        let shared = EngineShared::new(engine.status(0));
        let (to, heard) = bounded(1);
        for stamp in 1..=3 {
            send(&to, Played { stamp, source: 0, input: Input::Lost }, &shared);
        }
        assert_eq!(shared.unheard.load(Relaxed), 2);
        // The first message got a place; the others are lost rather than waiting. Then there is
        // room again.
        assert_eq!(heard.try_recv().map(|played| played.stamp), Ok(1));
        send(&to, Played { stamp: 4, source: 0, input: Input::Lost }, &shared);
        assert_eq!(heard.try_recv().map(|played| played.stamp), Ok(4));
        assert_eq!(shared.unheard.load(Relaxed), 2);
    }
}
