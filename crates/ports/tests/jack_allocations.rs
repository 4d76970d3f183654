//! The JACK callbacks neither allocate nor free while notes, long messages and floods go out and
//! come in. JACK creates its threads on the thread that opens a port, and they inherit its name.
#![cfg(target_os = "linux")]

mod common;
#[path = "common/peer.rs"]
mod peer;
#[path = "common/server.rs"]
mod server;

use chaconne_counting::{Counting, unwatch, watch, watched_calls};
use chaconne_engine::{Action, Message};
use chaconne_ports::{PortSpec, Setup, open_input, open_output, start};
use common::*;
use peer::*;
use server::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn the_jack_callbacks_allocate_nothing() {
    with_own_server("the_jack_callbacks_allocate_nothing", |name| {
        let _server = Server::start(&name, 64);
        // This client's threads have the test's name, and are not watched.
        let peer = Peer::start("desk");
        let output = open_output(&PortSpec::Jack("desk:in".into())).unwrap();
        let heard = Arc::new(AtomicUsize::new(0));
        let count = heard.clone();
        let sink = move |_, _| _ = count.fetch_add(1, Relaxed);
        let _input = open_input(&PortSpec::Jack("desk:out".into()), sink).unwrap();
        let mut running = start(vec![output], Setup { inputs: 0, ..Setup::default() }).unwrap();
        let sysex: Arc<[u8]> = [&[0xF0][..], &[1; 3000], &[0xF7]].concat().into();
        roll(&mut running.orders);
        running.orders.send(play(0, 0, Action::Send(Message::Clock))).unwrap();
        eventually("the first message", || peer.count() == 1);

        // Each port has two threads of that name: its keeper's, which allocates nothing either while
        // nothing is lost, and its callback's.
        assert!(threads_called("jack") >= 4, "the threads have other names on this system");
        let before = peer.count();
        watch("jack");
        for note in 0..3000u32 {
            running.orders.send(press(0, 0, (note % 128) as u8, note)).unwrap();
            running.orders.send(lift(0, 0, (note % 128) as u8, note)).unwrap();
        }
        for _ in 0..20 {
            running.orders.send(play(0, 0, Action::SysEx(sysex.clone()))).unwrap();
            peer.play(&[(0, &[0x90, 60, 1]), (9, &sysex), (63, &[0xF8])]);
        }
        eventually("all of it", || peer.count() == before + 6020);
        eventually("all that was played", || heard.load(Relaxed) == 60);
        assert_eq!(watched_calls(), 0, "calls to the allocator on JACK's thread");

        // Proof that an allocation would be counted: one is, on a thread whose name starts the same.
        let named = std::thread::Builder::new().name("jack too".to_string());
        named.spawn(|| drop(vec![0u8; 64])).unwrap().join().unwrap();
        assert!(watched_calls() > 0);
        unwatch();
    });
}

fn threads_called(name: &str) -> usize {
    let tasks = std::fs::read_dir("/proc/self/task").unwrap();
    let names = tasks.map(|task| std::fs::read_to_string(task.unwrap().path().join("comm")));
    names.filter(|comm| comm.as_ref().is_ok_and(|comm| comm.starts_with(name))).count()
}
