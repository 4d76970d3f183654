//! The queues of cues: one for the ports that get their messages when due or later, and one for each
//! lead time by which some port gets them earlier.
//!
//! An early port is always ahead of the others, so each queue knows how far it has played. Ports
//! whose lead time may change have queues of their own from the start, one for each offset. So a
//! change allocates nothing and moves no cue; it only changes when the queue is played. Such ports
//! change at almost the same time, since all JACK ports are on one server. Until all of them have
//! changed, the earliest of those that are connected decides.

use super::outlet::Service;
use super::queue::{Entry, Queue};
use chaconne_engine::{Cue, PortIx};
use chaconne_time::{Ns, Tick};

/// The cues of the ports with one lead time.
#[derive(Debug)]
pub(crate) struct Stream {
    /// How much earlier than due its cues are played, as a negative number of nanoseconds; 0 if they
    /// are played when due or later.
    pub shift: Ns,
    pub queue: Queue,
    /// The last tick that has been played.
    pub played: Tick,
}

/// The streams of all ports.
#[derive(Debug)]
pub(crate) struct Streams {
    streams: Box<[Stream]>,
    of_port: [u8; PortIx::MOST],
}

impl Streams {
    /// Queues for these ports, with room for this many cues each.
    pub fn new(services: &[Service], places: usize) -> Streams {
        // What the ports of each queue have in common, and when the queue is played.
        let mut kinds = vec![((false, 0), 0)];
        let mut of_port = [0; PortIx::MOST];
        for (service, place) in services.iter().zip(&mut of_port) {
            let shift = service.shift.min(0);
            let kind = (service.varies, if service.varies { service.offset() } else { shift });
            let known = kinds.iter().position(|(known, _)| *known == kind);
            let index = known.unwrap_or_else(|| {
                kinds.push((kind, shift));
                kinds.len() - 1
            });
            kinds[index].1 = shift.min(kinds[index].1);
            *place = index as u8;
        }
        let stream = |(_, shift)| Stream { shift, queue: Queue::new(places), played: Tick::MIN };
        Streams { streams: kinds.into_iter().map(stream).collect(), of_port }
    }

    /// The longest lead time, in nanoseconds, 0 or more.
    pub fn earliest(&self) -> Ns {
        self.streams.iter().map(|stream| -stream.shift).max().unwrap_or(0)
    }

    /// How many queues there are.
    pub fn count(&self) -> usize {
        self.streams.len()
    }

    /// The index of a port's queue.
    pub fn of(&self, port: PortIx) -> usize {
        self.of_port.get(usize::from(port.0)).copied().map_or(0, usize::from)
    }

    pub fn get(&mut self, index: usize) -> &mut Stream {
        &mut self.streams[index]
    }

    pub fn iter(&self) -> impl Iterator<Item = &Stream> {
        self.streams.iter()
    }

    pub fn iter_mut(&mut self) -> impl Iterator<Item = &mut Stream> {
        self.streams.iter_mut()
    }

    /// The index of the queue whose next cue is due first, and when that cue is due.
    pub fn first(&self, due: impl Fn(&Stream, &Cue) -> Ns) -> Option<(usize, Ns)> {
        let heads = self.streams.iter().enumerate();
        let heads = heads
            .filter_map(|(index, stream)| stream.queue.peek().map(|cue| (index, due(stream, cue))));
        heads.min_by_key(|&(_, due)| due)
    }

    /// Drops the void cues at the head of each queue.
    pub fn shed(&mut self, void: impl Fn(&Cue) -> bool, mut shed: impl FnMut(Entry)) {
        for stream in &mut self.streams {
            while stream.queue.peek().is_some_and(&void) {
                stream.queue.pop().into_iter().for_each(&mut shed);
            }
        }
    }

    /// How many cues are waiting.
    pub fn len(&self) -> usize {
        self.streams.iter().map(|stream| stream.queue.len()).sum()
    }
}
