//! Turns the bytes of an input into events: parser and active sensing.
//!
//! In: bytes with their arrival time, and regularly the current time. Out: [`InputEvent`]s to the
//! sink. Active sensing (MIDI 1.0 Detailed Specification, "Active Sensing"): once a sender has sent
//! FE, 300 ms without a byte mean that it has gone.

use super::InputEvent;
use chaconne_midi::parser::Parser;
use chaconne_midi::{Message, Wire};
use chaconne_time::Ns;

/// How long a sender that has sent FE may be silent: 300 ms.
const PATIENCE: Ns = 300_000_000;

/// Receives an input's events.
pub(crate) type EventSink = Box<dyn FnMut(Ns, InputEvent) + Send>;

/// Parses the bytes of one input for its sink.
pub(crate) struct Feed {
    parser: Parser,
    /// When a byte last arrived; `None` if the sender has not sent FE.
    sensed: Option<Ns>,
    sink: EventSink,
}

impl Feed {
    pub fn new(sink: EventSink) -> Feed {
        Feed { parser: Parser::new(), sensed: None, sink }
    }

    /// Parses bytes that arrived at `stamp`.
    pub fn bytes(&mut self, stamp: Ns, bytes: &[u8]) {
        let Feed { parser, sensed, sink } = self;
        if sensed.is_some() && !bytes.is_empty() {
            *sensed = Some(stamp);
        }
        parser.feed(bytes, &mut |parsed| match parsed {
            Wire::Message(Message::ActiveSensing) => *sensed = Some(stamp),
            whole => sink(stamp, InputEvent::Heard(whole.to_owned())),
        });
    }

    /// Reports the sender lost if it has been silent too long; returns whether it did.
    pub fn look(&mut self, now: Ns) -> bool {
        let gone = self.sensed.is_some_and(|last| now - last > PATIENCE);
        if gone {
            self.cut(now);
        }
        gone
    }

    /// Reports that the sender has gone, and forgets its unfinished message.
    pub fn cut(&mut self, now: Ns) {
        self.parser.reset();
        self.sensed = None;
        (self.sink)(now, InputEvent::Lost);
    }

    /// How many data bytes belonged to no complete message.
    pub fn stray(&self) -> u64 {
        self.parser.stray()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    const MS: Ns = 1_000_000;

    type Received = Arc<Mutex<Vec<(Ns, InputEvent)>>>;

    fn feed() -> (Feed, Received) {
        let received = Received::default();
        let sink = {
            let received = received.clone();
            move |stamp, event| received.lock().unwrap().push((stamp, event))
        };
        (Feed::new(Box::new(sink)), received)
    }

    #[test]
    fn a_sender_of_active_sensing_that_falls_silent_is_lost_once() {
        // MIDI 1.0 Detailed Specification, "Active Sensing": 300 ms.
        let (mut feed, received) = feed();
        feed.bytes(0, &[0xFE]);
        feed.bytes(200 * MS, &[0x90, 0x3C]);
        assert!(!feed.look(500 * MS));
        assert!(feed.look(501 * MS));
        assert!(!feed.look(2000 * MS));
        // The unfinished note was forgotten when the sender went.
        feed.bytes(2000 * MS, &[0x64]);
        assert_eq!(*received.lock().unwrap(), [(501 * MS, InputEvent::Lost)]);
        assert_eq!(feed.stray(), 2);
    }

    #[test]
    fn a_sender_without_active_sensing_may_be_silent() {
        let (mut feed, received) = feed();
        feed.bytes(0, &[0xF0, 1, 0xF7]);
        assert!(!feed.look(3_600_000 * MS));
        assert_eq!(
            *received.lock().unwrap(),
            [(0, InputEvent::Heard(Wire::SysEx(vec![0xF0, 1, 0xF7])))]
        );
    }
}
