//! An output to a link provided by the caller: the output waits for the link, loses it, and uses a
//! new one.

mod common;

use chaconne_ports::{Link, LinkKeeper, LinkNews, Output, PortState, Sent, Setup, start};
use common::*;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// The far end: what it received, or `None` if it is gone.
type Far = Arc<Mutex<Option<Vec<u8>>>>;

#[derive(Debug)]
struct TestLink(Far);

impl Link for TestLink {
    fn send(&mut self, _due: i64, bytes: &[u8]) -> Sent {
        match &mut *self.0.lock().unwrap() {
            Some(sent) => {
                sent.extend_from_slice(bytes);
                Sent::Done
            }
            None => Sent::Lost,
        }
    }

    fn ahead(&self) -> i64 {
        7_000_000
    }

    fn is_drained(&self) -> bool {
        true
    }

    fn drain(&self) -> Duration {
        Duration::ZERO
    }
}

/// Where the keeper finds a new far end, or learns that it is gone.
#[derive(Debug, Default)]
struct Place {
    fresh: Option<Far>,
    gone: bool,
}

#[derive(Debug)]
struct TestKeeper(Arc<Mutex<Place>>);

impl LinkKeeper for TestKeeper {
    fn look(&mut self, is_open: bool) -> Option<LinkNews> {
        let mut place = self.0.lock().unwrap();
        match is_open {
            true => place.gone.then_some(LinkNews::Gone),
            false => place.fresh.take().map(|far| LinkNews::Opened(Box::new(TestLink(far)))),
        }
    }
}

#[test]
fn an_output_waits_for_a_link_and_for_a_new_one_after_a_loss() {
    let place = Arc::new(Mutex::new(Place::default()));
    let keeper = Box::new(TestKeeper(place.clone()));
    let outputs = vec![Output::linked("made", None, Some(keeper))];
    let mut running = start(outputs, Setup { inputs: 0, ..Setup::default() }).unwrap();
    roll(&mut running.orders);
    let monitor = running.scheduler.monitor();
    assert_eq!(state(&monitor.stats(), 0), PortState::Waiting);
    assert_eq!(monitor.early(), 0);
    for key in [60, 62] {
        let far: Far = Arc::new(Mutex::new(Some(Vec::new())));
        *place.lock().unwrap() = Place { fresh: Some(far.clone()), gone: false };
        eventually("the link", || state(&monitor.stats(), 0) == PortState::Open);
        // Only now does the scheduler know how early the link wants its messages.
        assert_eq!(monitor.early(), 7_000_000);
        running.orders.send(press(0, 0, key, key.into())).unwrap();
        eventually("the note", || monitor.stats().sounding == 1);
        // After a loss, notes that may still be sounding are silenced first.
        let silenced: &[u8] =
            if key == 60 { &[] } else { &[0xB0, 64, 0, 0xB0, 123, 0, 0xB0, 120, 0] };
        let expected = [silenced, &[0x90, key, 100]].concat();
        assert_eq!(far.lock().unwrap().as_ref(), Some(&expected));
        if key == 60 {
            // Nothing is sent: the keeper reports the loss.
            place.lock().unwrap().gone = true;
        } else {
            // The keeper has not seen it yet: the link reports the loss.
            *far.lock().unwrap() = None;
            running.orders.send(lift(0, 1, key, key.into())).unwrap();
        }
        eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
        assert_eq!(monitor.stats().sounding, 0);
    }
}
