//! From the bytes of an input to its events: parser and active sensing.
//!
//! In: bytes with the moment they arrived, and regularly the time. Out: [`InputEvent`]s to the
//! sink. Active sensing (MIDI 1.0 Detailed Specification, "Active Sensing"): once a sender has
//! sent FE, 300 ms without a byte mean that it is gone.

use super::InputEvent;
use chaconne_midi::parser::Parser;
use chaconne_midi::{Message, Wire};
use chaconne_time::Ns;

/// How long a sender that sent FE may be silent: 300 ms.
const PATIENCE: Ns = 300_000_000;

/// Where an input's events go.
pub(crate) type EventSink = Box<dyn FnMut(Ns, InputEvent) + Send>;

/// The bytes of one input on their way to its sink.
pub(crate) struct Feed {
    parser: Parser,
    /// When the sender was last heard, if it has sent FE.
    sensed: Option<Ns>,
    sink: EventSink,
}

impl Feed {
    pub fn new(sink: EventSink) -> Feed {
        Feed { parser: Parser::new(), sensed: None, sink }
    }

    /// Reads bytes that arrived at `stamp`.
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

    /// Checks whether the sender has fallen silent, and returns that.
    pub fn look(&mut self, now: Ns) -> bool {
        let gone = self.sensed.is_some_and(|last| now - last > PATIENCE);
        if gone {
            self.cut(now);
        }
        gone
    }

    /// The sender is gone.
    pub fn cut(&mut self, now: Ns) {
        self.parser.reset();
        self.sensed = None;
        (self.sink)(now, InputEvent::Lost);
    }

    /// How many data bytes belonged to no message.
    pub fn stray(&self) -> u64 {
        self.parser.stray()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    const MS: Ns = 1_000_000;

    type Told = Arc<Mutex<Vec<(Ns, InputEvent)>>>;

    fn feed() -> (Feed, Told) {
        let told = Told::default();
        let sink = {
            let told = told.clone();
            move |stamp, event| told.lock().unwrap().push((stamp, event))
        };
        (Feed::new(Box::new(sink)), told)
    }

    #[test]
    fn a_sender_that_said_it_is_there_and_falls_silent_is_gone_once() {
        // MIDI 1.0 Detailed Specification, "Active Sensing": 300 ms.
        let (mut feed, told) = feed();
        feed.bytes(0, &[0xFE]);
        feed.bytes(200 * MS, &[0x90, 0x3C]);
        assert!(!feed.look(500 * MS));
        assert!(feed.look(501 * MS));
        assert!(!feed.look(2000 * MS));
        // The half note was forgotten with the sender.
        feed.bytes(2000 * MS, &[0x64]);
        assert_eq!(*told.lock().unwrap(), [(501 * MS, InputEvent::Lost)]);
        assert_eq!(feed.stray(), 2);
    }

    #[test]
    fn a_sender_that_never_said_so_may_be_silent() {
        let (mut feed, told) = feed();
        feed.bytes(0, &[0xF0, 1, 0xF7]);
        assert!(!feed.look(3_600_000 * MS));
        assert_eq!(
            *told.lock().unwrap(),
            [(0, InputEvent::Heard(Wire::SysEx(vec![0xF0, 1, 0xF7])))]
        );
    }
}
