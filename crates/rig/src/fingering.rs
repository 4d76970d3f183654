//! What the keys of the armed track play, on its way from the engine thread to the inputs.
//!
//! In: the harmonies around the present moment, from the engine thread. Out: on each input's own thread, the messages
//! that a message sounds, which go to the port at once and to the engine. An input never waits for the engine thread:
//! if that is just setting something new, what was set before counts.

use chaconne_engine::{Engine, Message};
use chaconne_harmony::{Fingers, Harmony, KeysNow};
use chaconne_time::Ns;
use std::sync::{Arc, Mutex, PoisonError};

/// What keys play now; cheap to clone, and shared.
#[derive(Debug, Clone, Default)]
pub(crate) struct Fingering(Arc<Mutex<Arc<KeysNow>>>);

impl Fingering {
    fn set(&self, now: KeysNow) {
        let now = Arc::new(now);
        let mut place = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let before = std::mem::replace(&mut *place, now);
        drop(place);
        drop(before);
    }
}

/// The engine thread's side.
#[derive(Debug, Default)]
pub(crate) struct Announcer {
    to: Fingering,
    /// What was set last.
    last: KeysNow,
}

impl Announcer {
    pub fn new(to: Fingering) -> Announcer {
        Announcer { to, last: KeysNow::default() }
    }

    /// Sets what the keys play, if it has changed.
    pub fn tell(&mut self, engine: &Engine, now: Ns) {
        let present = keys_now(engine, now);
        if present != self.last {
            self.last = present.clone();
            self.to.set(present);
        }
    }
}

fn keys_now(engine: &Engine, now: Ns) -> KeysNow {
    let Some(track) = engine.fingered() else { return KeysNow::default() };
    let grounds = engine.grounds(now).into_iter();
    let harmonies = grounds
        .map(|ground| (ground.from, Harmony::heard(ground.key, ground.chord, ground.transpose)))
        .collect();
    let (plays, keys) = (track.keys_play, track.chord_keys.clone());
    KeysNow { plays, keys, take: engine.take(), harmonies }
}

/// The fingers on one input.
#[derive(Debug, Default)]
pub(crate) struct Player {
    fingers: Fingers,
    from: Fingering,
    known: Arc<KeysNow>,
}

impl Player {
    pub fn new(from: Fingering) -> Player {
        Player { from, ..Player::default() }
    }

    /// Passes on what a message that was played at `stamp` sounds.
    pub fn play(&mut self, stamp: Ns, message: Message, out: impl FnMut(Message)) {
        if let Ok(place) = self.from.0.try_lock()
            && !Arc::ptr_eq(&place, &self.known)
        {
            self.known = Arc::clone(&place);
        }
        self.fingers.play(stamp, message, &self.known, out);
    }

    /// Forgets what is down: the input is gone.
    pub fn lost(&mut self) {
        self.fingers.lost();
    }
}
