//! The scheduler thread's loop: wake, read requests, send, wait.
//!
//! Everything it needs is handed over at the start. From then on it does not allocate, free, lock
//! or log, and waits for nothing but the clock: it reads queues that never block and calls ports
//! that never wait. The porter frees what it no longer needs. Through-play comes before orders, and
//! the switch before both. Each gets a bounded share of a turn, so that none can keep the others
//! waiting.

use crate::monotonic::{now, until};
use crate::orders::Orders;
use crate::outputs::Outputs;
use crate::porter::{Arrival, Discard};
use crate::switch::Flags;
use chaconne_clock::Machine;
use chaconne_clock::Pacer;
use chaconne_clock::ThruEvent;
use chaconne_engine::{Order, PortIx};
use chaconne_time::Ns;
use std::sync::Arc;
use std::thread;

/// How many orders, or events of one input, are read per turn.
const TURN: usize = 256;
/// The longest sleep while the song is stopped: 500 ms.
const LONGEST: Ns = 500_000_000;
/// How long full ports are retried at the end: 300 ms.
const LAST_TRIES: Ns = 300_000_000;

/// The scheduler thread's state.
pub(crate) struct Worker {
    pub machine: Machine,
    pub outputs: Outputs,
    pub orders: rtrb::Consumer<Order>,
    pub thrus: Vec<rtrb::Consumer<ThruEvent>>,
    pub arrivals: rtrb::Consumer<Arrival>,
    pub discards: rtrb::Producer<Discard>,
    pub flags: Arc<Flags>,
    /// The switch's request that has not been answered yet.
    pub asked: Option<u64>,
    pub pacer: Pacer,
    /// The latest time passed to the machine. It may be a few microseconds ahead.
    pub latest: Ns,
}

impl Worker {
    /// Runs until asked to end; then releases everything and returns the ports, to be closed on a
    /// thread that may wait.
    pub fn run(mut self) -> Outputs {
        while !self.flags.is_over() {
            let busy = self.turn();
            if !busy {
                self.wait();
            }
        }
        self.end();
        self.outputs
    }

    /// One turn; returns whether there is more to do at once.
    fn turn(&mut self) -> bool {
        self.obey();
        self.read_reports();
        let mut busy = false;
        for index in 0..self.thrus.len() {
            busy |= self.touches(index);
        }
        busy |= self.take_orders();
        let time = self.time();
        self.machine.poll(time, &mut self.outputs);
        self.answer();
        self.retire();
        busy
    }

    /// The current time as the machine sees it: it never goes back.
    fn time(&mut self) -> Ns {
        self.latest = self.latest.max(now());
        self.latest
    }

    /// Carries out a request of the switch.
    fn obey(&mut self) {
        if let Some(request) = self.flags.pending()
            && self.asked != Some(request)
        {
            self.asked = Some(request);
            let time = self.time();
            self.machine.shut(time, &mut self.outputs);
        }
        if self.machine.is_shut() && !self.flags.is_shut() {
            self.machine.reopen();
        }
    }

    /// Answers the switch once the last release has been sent.
    fn answer(&mut self) {
        if let Some(request) = self.asked
            && self.machine.is_silent()
        {
            self.asked = None;
            self.flags.answer(request);
        }
    }

    /// Reads the porter's reports.
    fn read_reports(&mut self) {
        while let Ok(arrival) = self.arrivals.pop() {
            let time = self.time();
            match arrival {
                Arrival::Gone(port) => {
                    self.machine.lose(port);
                    self.outputs.lose(port);
                }
                Arrival::Found(port) => self.connected(time, port),
                Arrival::Opened(port, connection) => {
                    let before = self.outputs.replace(port, connection);
                    self.connected(time, port);
                    if let Some(before) = before {
                        self.discard(Discard::Connection(before));
                    }
                }
            }
        }
    }

    /// Takes notice that a port is connected (again). It may need its messages earlier or later than
    /// before.
    fn connected(&mut self, time: Ns, port: PortIx) {
        self.machine.serve(port, self.outputs.ahead(port));
        self.machine.find(time, port, &mut self.outputs);
    }

    fn touches(&mut self, index: usize) -> bool {
        for _ in 0..TURN {
            let Ok(event) = self.thrus[index].pop() else { return false };
            let time = self.time();
            self.machine.thru(time, event, &mut self.outputs);
        }
        true
    }

    fn take_orders(&mut self) -> bool {
        for _ in 0..TURN {
            let Ok(order) = self.orders.pop() else { return false };
            let time = self.time();
            self.machine.handle(time, order, &mut self.outputs);
        }
        true
    }

    /// Gives the porter everything that must be dropped. A stream without a reader must be closed, or
    /// the data still in it would reach the next reader.
    fn retire(&mut self) {
        while let Some(connection) = self.outputs.take_gone() {
            self.discard(Discard::Connection(connection));
        }
        while !self.discards.is_full() {
            let Some(bytes) = self.machine.retired() else { break };
            self.discard(Discard::Bytes(bytes));
        }
    }

    /// Gives the porter something to drop. If its queue is full, which takes a thousand at once,
    /// the object is leaked rather than freed here.
    fn discard(&mut self, discard: Discard) {
        if let Err(rtrb::PushError::Full(discard)) = self.discards.push(discard) {
            std::mem::forget(discard);
        }
    }

    /// Sleeps until just before the next deadline, then watches the clock and the queues until the
    /// deadline.
    fn wait(&mut self) {
        let longest = if self.machine.is_rolling() { Orders::UNREAD } else { LONGEST };
        let asleep = now();
        let Some(deadline) = self.machine.next_deadline() else {
            return thread::park_timeout(until(0, longest));
        };
        let wake = self.pacer.wake(asleep, deadline);
        if wake - asleep > longest {
            return thread::park_timeout(until(0, longest));
        }
        if wake > asleep {
            thread::park_timeout(until(asleep, wake));
            let awake = now();
            if awake < wake {
                // Woken early: there is something to read.
                return;
            }
            self.pacer.woke(wake, awake);
        }
        if self.machine.next_due().is_some_and(|due| due <= deadline) {
            self.watch(deadline);
        }
    }

    /// Watches the clock and the queues until the deadline, and sends what is due then. The turn
    /// starts early by the time it takes to send the first message.
    fn watch(&mut self, deadline: Ns) {
        let (begin, end) = (now(), deadline - self.pacer.aim());
        let mut time = begin;
        while time < end && !self.is_called() {
            std::hint::spin_loop();
            time = now();
        }
        self.pacer.spent(time - begin);
        if time < end {
            return;
        }
        let was_in_time = begin < end;
        self.latest = self.latest.max(deadline);
        self.outputs.forget_first();
        let time = self.time();
        self.machine.poll(time, &mut self.outputs);
        if let (true, Some(first)) = (was_in_time, self.outputs.first()) {
            self.pacer.handed(deadline, first);
        }
    }

    /// Whether there is something to read.
    fn is_called(&self) -> bool {
        self.thrus.iter().any(|thru| !thru.is_empty())
            || !self.orders.is_empty()
            || !self.arrivals.is_empty()
            || self.flags.is_over()
            || self.flags.pending() != self.asked && self.flags.pending().is_some()
    }

    fn end(&mut self) {
        let start = self.time();
        self.machine.shut(start, &mut self.outputs);
        loop {
            let time = self.time();
            self.machine.poll(time, &mut self.outputs);
            if self.machine.is_silent() || now() - start > LAST_TRIES {
                break;
            }
            self.wait();
        }
        self.answer();
        self.retire();
    }
}
