//! A JACK port as an input: from the callback's queue to the input's feed, on the input's thread.

use super::callback::{Heard, Listen};
use super::keeper::{First, Keeper};
use super::line::Shared;
use super::service::{Opened, Side};
use crate::feed::Feed;
use crate::input::Shared as Standing;
use crate::monotonic::now;
use crate::{PortError, PortState};
use chaconne_midi::parser::SYSEX_MOST;
use rtrb::{Consumer, RingBuffer};
use std::sync::Arc;
use std::thread::{self, Thread};
use std::time::Duration;

/// How many messages can be on their way.
const MESSAGES: usize = 8192;
/// How many bytes can be on their way.
const BYTES: usize = 4 * SYSEX_MOST;
/// How often it looks whether the peer is still there.
const LOOK: Duration = Duration::from_millis(50);

/// Inputs: the peer's output plays into our port.
struct In {
    /// Whom the callback wakes.
    thread: Thread,
}

/// The input thread's end.
struct Queue {
    heard: Consumer<Heard>,
    bytes: Consumer<u8>,
}

impl Side for In {
    type Process = Listen;
    type End = Queue;
    const KIND: &'static str = "JACK input";
    const PEERS: jack::PortFlags = jack::PortFlags::IS_OUTPUT;

    fn register(
        &self,
        client: &jack::Client,
        shared: &Arc<Shared>,
    ) -> Result<Opened<Self>, jack::Error> {
        let port = client.register_port("in", jack::MidiIn::default())?;
        let own = port.clone_unowned();
        let (tell, heard) = RingBuffer::new(MESSAGES);
        let (tell_bytes, bytes) = RingBuffer::new(BYTES);
        let process = Listen::new(port, tell, tell_bytes, shared.clone(), self.thread.clone());
        Ok(Opened { own, process, end: Queue { heard, bytes } })
    }

    fn join(client: &jack::Client, own: &str, peer: &str) -> Result<(), jack::Error> {
        client.connect_ports_by_name(peer, own)
    }
}

/// An input, on its thread.
pub(crate) struct Ear {
    keeper: Keeper<In>,
    /// `None` while no server was ever there.
    queue: Option<Queue>,
    /// Why nobody is at the other end, where that is so.
    notice: Option<PortError>,
    /// Which join the peer is heard by; `None` while there is none.
    heard_by: Option<u64>,
}

impl Ear {
    /// Opens an input that the port `name` means plays into; the calling thread will run it.
    pub fn open(name: &str) -> Result<Ear, PortError> {
        let (keeper, First { end, notice }) =
            Keeper::start(In { thread: thread::current() }, name)?;
        let heard_by = keeper.joined();
        Ok(Ear { keeper, queue: end, notice, heard_by })
    }

    /// Why nobody is at the other end, where that is so.
    pub fn notice(&self) -> Option<String> {
        self.notice.as_ref().map(PortError::to_string)
    }

    /// Whether a peer plays into it.
    pub fn is_joined(&self) -> bool {
        self.heard_by.is_some()
    }

    /// Feeds what is heard until told to stop.
    pub fn run(mut self, mut feed: Feed, standing: &Standing) {
        let mut buffer = vec![0; SYSEX_MOST];
        while !standing.is_over() {
            if let Some(queue) = self.keeper.fresh() {
                self.queue = Some(queue);
            }
            let heard =
                self.queue.as_mut().is_some_and(|queue| queue.drain(&mut feed, &mut buffer));
            if heard && self.is_joined() {
                standing.set_state(PortState::Open);
            }
            self.look(&mut feed, standing);
            if feed.look(now()) {
                standing.set_state(PortState::Lost);
            }
            standing.set_strays(feed.stray());
            standing.set_hindrance(self.keeper.hindrance());
            thread::park_timeout(LOOK);
        }
    }

    /// Looks whether the peer is there. One that went and came back between two looks has gone.
    fn look(&mut self, feed: &mut Feed, standing: &Standing) {
        let joined = self.keeper.joined();
        if joined == self.heard_by {
            return;
        }
        if self.heard_by.is_some() {
            feed.cut(now());
        }
        self.heard_by = joined;
        standing.set_state(if joined.is_some() { PortState::Open } else { PortState::Lost });
    }
}

impl Queue {
    /// Feeds what has come; whether anything has.
    fn drain(&mut self, feed: &mut Feed, buffer: &mut Vec<u8>) -> bool {
        let mut any = false;
        while let Ok(Heard { stamp, len }) = self.heard.pop() {
            // Its bytes were put there before it.
            let Ok(chunk) = self.bytes.read_chunk(len) else { return any };
            let (one, two) = chunk.as_slices();
            buffer.clear();
            buffer.extend_from_slice(one);
            buffer.extend_from_slice(two);
            chunk.commit_all();
            feed.bytes(stamp, buffer);
            any = true;
        }
        any
    }
}
