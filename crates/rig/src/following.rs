//! Following the clock of one input, on the engine thread.
//!
//! In: the configured inputs; then the stamped messages of one, and the time. Out: what its clock
//! says, for the engine.

use crate::ports::In;
use chaconne_clock::Follower;
use chaconne_engine::{Engine, Follow, Input, Message, Wire};
use chaconne_time::Ns;

/// The input whose clock is followed.
#[derive(Debug)]
pub(crate) struct Following {
    source: u8,
    follower: Follower,
}

impl Following {
    /// The first input with the option `follow`, what the engine has to know about it, and a notice
    /// if there are more.
    pub fn of(ins: &[In]) -> (Option<Following>, Option<Follow>, Option<String>) {
        let mut asked = ins.iter().enumerate().filter(|(_, input)| input.follow.is_some());
        let Some((source, input)) = asked.next() else { return (None, None, None) };
        let name = input.spec.to_string();
        let notice = asked.next().map(|(_, other)| {
            format!(
                "only one clock can be followed: the option follow of {} is ignored",
                other.spec
            )
        });
        let follow = Follow { name, on_loss: input.follow.unwrap_or_default() };
        let following = Following { source: source as u8, follower: Follower::new() };
        (Some(following), Some(follow), notice)
    }

    /// Takes a message that arrived on an input. Returns whether it was a message of the followed
    /// clock.
    pub fn hear(
        &mut self,
        stamp: Ns,
        source: u8,
        input: &Input,
        engine: &mut Engine,
        now: Ns,
    ) -> bool {
        match *input {
            Input::Heard(Wire::Message(message)) if source == self.source && is_clock(message) => {
                self.follower.handle(stamp, message);
                self.pass_on(engine, now);
                true
            }
            _ => false,
        }
    }

    /// Checks whether its pulses have stopped.
    pub fn look(&mut self, engine: &mut Engine, now: Ns) {
        self.follower.poll(now);
        self.pass_on(engine, now);
    }

    fn pass_on(&mut self, engine: &mut Engine, now: Ns) {
        while let Some(lead) = self.follower.next_event() {
            engine.lead(now, lead);
        }
    }
}

/// Whether a message is about the clock and the transport.
pub(crate) fn is_clock(message: Message) -> bool {
    matches!(
        message,
        Message::Clock
            | Message::Start
            | Message::Continue
            | Message::Stop
            | Message::SongPosition(_)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song;
    use chaconne_engine::{Config, LeaderClock, OnLoss, Transport};
    use chaconne_song::{Channel, U7};
    use std::sync::Arc;

    fn ins(all: &[&str]) -> Vec<In> {
        all.iter().map(|text| text.parse().unwrap()).collect()
    }

    #[test]
    fn the_first_input_with_follow_is_followed() {
        let (following, follow, notice) = Following::of(&ins(&["none", "midi:Desk,follow=stop"]));
        assert_eq!(following.unwrap().source, 1);
        let expected = Follow { name: "midi:Desk".into(), on_loss: OnLoss::Stop };
        assert_eq!((follow, notice), (Some(expected), None));
        assert!(Following::of(&ins(&["none"])).0.is_none());
        let (.., notice) = Following::of(&ins(&["midi:A,follow", "midi:B,follow"]));
        assert_eq!(
            notice.unwrap(),
            "only one clock can be followed: the option follow of midi:B is ignored"
        );
    }

    #[test]
    fn the_clock_goes_to_the_follower_and_the_notes_to_the_engine() {
        let (following, follow, _) = Following::of(&ins(&["none", "midi:Desk,follow"]));
        let mut following = following.unwrap();
        let config = Config { follow, ..Config::default() };
        let mut engine = Engine::new(Arc::new(song("t", 1)), config);
        let mut hear = |stamp, source, message| {
            following.hear(stamp, source, &Input::from(message), &mut engine, stamp)
        };
        // The clock of another input is not followed.
        assert!(!hear(0, 0, Message::Start));
        assert!(hear(1, 1, Message::Start));
        for k in 0..6 {
            assert!(hear(1_000_000 + k * 20_000_000, 1, Message::Clock));
        }
        let (channel, key, velocity) = (Channel::default(), U7::CENTRE, U7::CENTRE);
        assert!(!hear(102_000_000, 1, Message::NoteOn { channel, key, velocity }));
        let followed = |engine: &Engine| engine.status(102_000_000).followed.unwrap();
        assert_eq!(engine.status(102_000_000).transport, Transport::Rolling);
        assert!(followed(&engine).leads);
        assert_eq!(followed(&engine).tempo.unwrap().to_string(), "125");
        following.look(&mut engine, 300_000_000);
        assert_eq!(followed(&engine).clock, LeaderClock::Lost);
    }
}
