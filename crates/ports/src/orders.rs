//! The queue of orders from the engine to the scheduler.

use chaconne_clock::Meter;
use chaconne_engine::{Action, Order};
use chaconne_time::Ns;
use std::sync::Arc;
use std::thread::Thread;

/// Sends orders to the scheduler, from one thread. Does not wait or allocate.
#[derive(Debug)]
pub struct Orders {
    queue: rtrb::Producer<Order>,
    /// Places reserved for lifts and for orders that are not cues.
    kept_free: usize,
    scheduler: Thread,
    meter: Arc<Meter>,
}

impl Orders {
    /// The longest time the scheduler leaves an order unread while the song plays, in nanoseconds:
    /// 20 ms.
    pub const UNREAD: Ns = 20_000_000;

    pub(crate) fn new(
        queue: rtrb::Producer<Order>,
        scheduler: Thread,
        meter: Arc<Meter>,
    ) -> Orders {
        let kept_free = queue.buffer().capacity() / 8;
        Orders { queue, kept_free, scheduler, meter }
    }

    /// Sends one order and wakes the scheduler. The last eighth of the places is reserved for lifts
    /// and for orders that are not cues.
    ///
    /// # Errors
    /// Returns the order, and counts it, if there is no place for it.
    pub fn send(&mut self, order: Order) -> Result<(), Order> {
        let sent = self.push(order);
        self.scheduler.unpark();
        sent
    }

    /// Sends one order without waking the scheduler. It is read within [`Orders::UNREAD`] while the
    /// song plays, or at once after [`Orders::wake`].
    ///
    /// # Errors
    /// As [`Orders::send`].
    pub fn put(&mut self, order: Order) -> Result<(), Order> {
        self.push(order)
    }

    /// Wakes the scheduler, so that it reads its orders now.
    pub fn wake(&self) {
        self.scheduler.unpark();
    }

    /// Sends many orders and wakes the scheduler once; returns how many did not fit.
    pub fn send_all(&mut self, orders: impl IntoIterator<Item = Order>) -> usize {
        let lost = orders.into_iter().filter_map(|order| self.push(order).err()).count();
        self.scheduler.unpark();
        lost
    }

    /// How many more cues fit.
    pub fn room(&self) -> usize {
        self.queue.slots().saturating_sub(self.kept_free)
    }

    fn push(&mut self, order: Order) -> Result<(), Order> {
        let may_be_lost =
            matches!(&order, Order::Play(cue) if !matches!(cue.action, Action::Lift { .. }));
        if may_be_lost && self.room() == 0 {
            self.meter.drop_order();
            return Err(order);
        }
        self.queue.push(order).map_err(|rtrb::PushError::Full(order)| {
            self.meter.drop_order();
            order
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_engine::{Cue, PortIx, Slot, Voice};
    use chaconne_midi::{Channel, Message, U7};
    use chaconne_song::NoteId;
    use chaconne_time::Tick;

    fn cue(action: Action) -> Order {
        let (at, slot, port) = (Tick(0), Slot(0), PortIx(0));
        Order::Play(Cue { at, slot, epoch: 0, port, action })
    }

    #[test]
    fn a_full_queue_reserves_places_for_lifts_and_orders_and_counts_the_rest() {
        let (queue, mut out) = rtrb::RingBuffer::new(16);
        let meter = Arc::new(Meter::new([]));
        let mut orders = Orders::new(queue, std::thread::current(), meter.clone());
        let pulse = || cue(Action::Send(Message::Clock));
        assert_eq!(orders.send_all((0..20).map(|_| pulse())), 6);
        let voice = Voice { pass: Voice::NO_PASS, note: NoteId(1), cycle: Tick(0) };
        let (channel, key, velocity) = (Channel::default(), U7::MIN, U7::MIN);
        assert!(orders.send(cue(Action::Lift { channel, key, velocity, voice })).is_ok());
        assert!(orders.send(Order::Halt).is_ok());
        assert_eq!(orders.send(Order::Silence), Err(Order::Silence));
        assert_eq!(meter.stats().dropped, 7);
        assert!(out.pop().is_ok() && orders.send(Order::Silence).is_ok());
    }
}
