//! JACK ports with a real server and its dummy driver: messages arrive whole and in order, and the
//! program notices when peers go and come back.
#![cfg(target_os = "linux")]

mod common;
#[path = "common/peer.rs"]
mod peer;
#[path = "common/server.rs"]
mod server;

use chaconne_engine::{Action, Order, PortIx, Wire};
use chaconne_ports::{
    InputEvent, Output, PortSpec, PortState, Running, Setup, Thru, now, open_input, open_output,
    start,
};
use chaconne_song::{Channel, U7};
use chaconne_time::{Ns, Tempo, Tick};
use common::*;
use peer::*;
use server::*;
use std::sync::{Arc, Mutex};

fn to(name: &str) -> Output {
    open_output(&PortSpec::Jack(name.to_string())).unwrap()
}

fn play_to(name: &str) -> Running {
    start(vec![to(name)], Setup { inputs: 1, ..Setup::default() }).unwrap()
}

/// A press and a lift on one channel.
fn note(at: i64, channel: u8, key: u8, id: u32) -> [Order; 2] {
    let (channel, key, velocity) = (Channel::from_wire(channel), U7::low_bits(key), U7::CENTRE);
    let voice = voice(id);
    [
        play(0, at, Action::Press { channel, key, velocity, voice }),
        play(0, at + 40, Action::Lift { channel, key, velocity, voice }),
    ]
}

#[test]
fn notes_arrive_whole_and_in_order_at_their_frames() {
    with_own_server("notes_arrive_whole_and_in_order_at_their_frames", |name| {
        let _server = Server::start(&name, 64);
        let peer = Peer::start("desk");
        let mut running = play_to("desk:in");
        assert_eq!(state(&running.scheduler.stats(), 0), PortState::Open);
        // A sixteenth at 60 ms per quarter note: 3.75 ms.
        let tempo = Tempo::FASTEST;
        let ns = now() + 50_000_000;
        running.orders.send(Order::Roll { at: Tick(0), ns, tempo, song: 0 }).unwrap();
        let sysex: Arc<[u8]> = [&[0xF0][..], &[5; 500], &[0xF7]].concat().into();
        for id in 0..400u32 {
            let at = i64::from(id) * 60;
            running.orders.send_all(note(at, 0, (id % 128) as u8, id));
        }
        running.orders.send(play(0, 400 * 60, Action::SysEx(sysex.clone()))).unwrap();
        eventually("all of it", || peer.count() == 801);
        let heard = peer.heard();
        let expected = (0..400u32).flat_map(|id| {
            let key = (id % 128) as u8;
            [vec![0x90, key, 64], vec![0x80, key, 64]]
        });
        let expected: Vec<Vec<u8>> = expected.chain([sysex.to_vec()]).collect();
        assert_eq!(peer.bytes(), expected);
        assert!(heard.is_sorted_by_key(|heard| heard.frame), "frames go back");
        print_intervals(&heard, tempo);
        // The messages are spread over many blocks: the song lasts 1.5 s.
        let frames = heard[800].frame - heard[0].frame;
        assert!(frames > 64 * 10, "{frames} frames");
        assert_eq!(running.scheduler.stats().dropped, 0);
    });
}

/// Prints how far the distances between presses are from 60 ticks.
fn print_intervals(heard: &[Heard], tempo: Tempo) {
    let frames = 60.0 / 960.0 * f64::from(tempo.micros()) / 1e6 * 48_000.0;
    let presses: Vec<u32> =
        heard.iter().filter(|heard| heard.bytes[0] == 0x90).map(|heard| heard.frame).collect();
    let mut errors: Vec<f64> = presses
        .windows(2)
        .map(|pair| ((f64::from(pair[1] - pair[0]) - frames).abs() / 48.0) * 1000.0)
        .collect();
    errors.sort_by(f64::total_cmp);
    let at = |percent: usize| errors[(errors.len() - 1) * percent / 100];
    println!(
        "errors of intervals: p50 {:.0} us, p99 {:.0} us, most {:.0} us",
        at(50),
        at(99),
        at(100)
    );
}

#[test]
fn a_panic_arrives_whole() {
    with_own_server("a_panic_arrives_whole", |name| {
        let _server = Server::start(&name, 64);
        let peer = Peer::start("desk");
        let mut running = play_to("desk");
        roll(&mut running.orders);
        // Every key of every channel, which is more than a block holds.
        for id in 0..2048u32 {
            let [press, _] = note(0, (id / 128) as u8, (id % 128) as u8, id);
            running.orders.send(press).unwrap();
        }
        eventually("the presses", || running.scheduler.stats().sounding == 2048);
        running.orders.send(Order::Halt).unwrap();
        running.orders.send(Order::Silence).unwrap();
        eventually("all of it", || peer.count() == 2 * 2048 + 16 * 3);
        let count = |kind: u8| peer.bytes().iter().filter(|bytes| bytes[0] & 0xF0 == kind).count();
        assert_eq!((count(0x90), count(0x80), count(0xB0)), (2048, 2048, 48));
        let stats = running.scheduler.stats();
        assert_eq!((stats.sounding, stats.ports[0].dropped), (0, 0));
        // The first release comes after the last press.
        let is_release = |bytes: &Vec<u8>| bytes[0] & 0xF0 == 0x80;
        assert_eq!(peer.bytes().iter().position(is_release), Some(2048));
    });
}

#[test]
fn a_lost_peer_is_noticed_and_used_again_when_it_is_back() {
    with_own_server("a_lost_peer_is_noticed_and_used_again_when_it_is_back", |name| {
        let _server = Server::start(&name, 256);
        // The peer does not exist yet, so the output waits for it, and its notice says so.
        let (waiting, (kept, memory)) = (to("desk:in"), Output::memory("kept"));
        assert_eq!(waiting.state(), PortState::Waiting);
        assert!(waiting.notice().unwrap().contains("no JACK output is called 'desk:in'"));
        let setup = Setup { inputs: 0, ..Setup::default() };
        let mut running = start(vec![waiting, kept], setup).unwrap();
        let monitor = running.scheduler.monitor();
        let peer = Peer::start("desk");
        eventually("the peer", || state(&monitor.stats(), 0) == PortState::Open);
        roll(&mut running.orders);
        for port in [0, 1] {
            running.orders.send(press(port, 0, 60, port.into())).unwrap();
        }
        eventually("both notes", || monitor.stats().sounding == 2);
        eventually("its note", || peer.bytes() == [[0x90, 60, 100]]);

        drop(peer);
        eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
        eventually("its note forgotten", || monitor.stats().sounding == 1);
        running.orders.send(lift(1, 1, 60, 1)).unwrap();
        eventually("the other port's release", || memory.sendings().len() == 2);

        let peer = Peer::start("desk");
        eventually("the peer again", || state(&monitor.stats(), 0) == PortState::Open);
        running.orders.send(press(0, 2, 62, 7)).unwrap();
        running.orders.send(lift(0, 3, 62, 7)).unwrap();
        // First silence whatever kept sounding there: pedal up, all notes off, all sound off (MIDI
        // 1.0 Detailed Specification, "Channel Mode Messages").
        let off = |controller| vec![0xB0, controller, 0];
        let note = [vec![0x90, 62, 100], vec![0x80, 62, 64]];
        let expected: Vec<Vec<u8>> = [64, 123, 120].map(off).into_iter().chain(note).collect();
        eventually("what it is sent", || peer.bytes() == expected);
    });
}

#[test]
fn a_restarted_server_is_used_again() {
    with_own_server("a_restarted_server_is_used_again", |name| {
        let server = Server::start(&name, 256);
        let peer = Peer::start("desk");
        let mut running = play_to("desk");
        let monitor = running.scheduler.monitor();
        let (heard, sink) = recording_sink();
        let input = open_input(&PortSpec::Jack("desk:out".into()), sink).unwrap();
        roll(&mut running.orders);
        running.orders.send(press(0, 0, 60, 1)).unwrap();
        eventually("the note", || peer.count() == 1);
        eventually("the input", || input.state() == PortState::Open);

        drop(server);
        eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
        eventually("the input's loss", || input.state() == PortState::Lost);
        assert_eq!(monitor.stats().sounding, 0);
        assert_eq!(events(&heard), [InputEvent::Lost]);
        drop(peer);

        let _server = Server::start(&name, 64);
        let peer = Peer::start("desk");
        eventually("the port again", || state(&monitor.stats(), 0) == PortState::Open);
        eventually("the input again", || input.state() == PortState::Open);
        running.orders.send(press(0, 1, 62, 2)).unwrap();
        eventually("the next note", || peer.bytes().last() == Some(&vec![0x90, 62, 100]));
        peer.play(&[(3, &[0x90, 64, 100])]);
        eventually("its note", || events(&heard).len() == 2);
        drop(running);
        // Stopping releases the note, and the release is out before our port is closed.
        eventually("the release", || peer.bytes().last() == Some(&vec![0x80, 62, 64]));
    });
}

#[test]
fn a_server_restarted_before_its_loss_is_noticed_is_used_again() {
    with_own_server("a_server_restarted_before_its_loss_is_noticed_is_used_again", |name| {
        let mut server = Server::start(&name, 256);
        let mut peer = Peer::start("desk");
        let mut running = play_to("desk:in");
        let monitor = running.scheduler.monitor();
        let (heard, sink) = recording_sink();
        let input = open_input(&PortSpec::Jack("desk:out".into()), sink).unwrap();
        roll(&mut running.orders);
        for round in 0..3u32 {
            let key = 60 + round as u8;
            running.orders.send(press(0, i64::from(round), key, round)).unwrap();
            eventually("the note", || peer.bytes().last() == Some(&vec![0x90, key, 100]));
            peer.play(&[(3, &[0x90, key, 100])]);
            eventually("its note", || events(&heard).len() == 2 * round as usize + 1);

            // As short a gap as stopping and starting takes. The library cannot have a client in
            // this process that outlives its server, so the peer goes with it.
            drop(server);
            drop(peer);
            server = Server::start(&name, 256);
            peer = Peer::start("desk");
            eventually("the loss", || monitor.stats().sounding == 0);
            eventually("the input's loss", || events(&heard).len() == 2 * round as usize + 2);
            assert_eq!(events(&heard).last(), Some(&InputEvent::Lost));
            eventually("the port again", || peer.hears("chaconne:out"));
            eventually("the port's state", || state(&monitor.stats(), 0) == PortState::Open);
            eventually("the input again", || input.state() == PortState::Open);
        }
    });
}

/// Orders 64 presses, a little over 7 ms apart, half a second before the first. Returns how many
/// are heard at the first frame of a block, which is where late messages go.
fn at_first_frames(running: &mut Running, peer: &Peer, round: u32) -> usize {
    let before = peer.count();
    let (tempo, ns) = (Tempo::FASTEST, now() + 500_000_000);
    running.orders.send(Order::Roll { at: Tick(0), ns, tempo, song: 0 }).unwrap();
    for id in 0..64 {
        let [press, _] = note(i64::from(id) * 117, 1, id as u8, round * 64 + id);
        running.orders.send(press).unwrap();
    }
    eventually("the presses", || peer.count() == before + 64);
    running.orders.send(Order::Halt).unwrap();
    eventually("their releases", || peer.count() == before + 128);
    peer.heard()[before..before + 64].iter().filter(|heard| heard.time == 0).count()
}

#[test]
fn a_server_restarted_with_longer_blocks_gets_its_messages_in_time() {
    with_own_server("a_server_restarted_with_longer_blocks_gets_its_messages_in_time", |name| {
        let server = Server::start(&name, 64);
        let peer = Peer::start("desk");
        let mut running = play_to("desk:in");
        let monitor = running.scheduler.monitor();
        assert_eq!(monitor.early(), 4_000_000);
        drop(server);
        eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
        drop(peer);

        // These blocks take 43 ms: nine in ten messages that are handed over 4 ms early would miss
        // their block.
        let _server = Server::start(&name, 2048);
        let peer = Peer::start("desk");
        eventually("the port again", || state(&monitor.stats(), 0) == PortState::Open);
        // Two blocks of 2048 frames at 48,000 per second, and a millisecond.
        assert_eq!(monitor.early(), 86_333_332);
        let late = at_first_frames(&mut running, &peer, 0);
        assert!(late < 32, "{late} of 64 at the first frame");

        // If a running server changes to shorter blocks, the port is reconnected and served later.
        peer.set_block(128);
        eventually("its shorter blocks", || monitor.early() == 6_333_332);
        eventually("the port again", || state(&monitor.stats(), 0) == PortState::Open);
        peer.set_block(2048);
        eventually("its longer blocks", || monitor.early() == 86_333_332);
        eventually("the port again", || state(&monitor.stats(), 0) == PortState::Open);
        // Pedal up, all notes off and all sound off on the channel that was used.
        eventually("the silencing messages", || peer.count() == 2 * 64 + 2 * 3);
        let late = at_first_frames(&mut running, &peer, 1);
        assert!(late < 32, "{late} of 64 at the first frame");
    });
}

type Received = Arc<Mutex<Vec<(Ns, InputEvent)>>>;

fn recording_sink() -> (Received, impl FnMut(Ns, InputEvent) + Send + 'static) {
    let received = Received::default();
    let sink = {
        let received = received.clone();
        move |stamp, event| received.lock().unwrap().push((stamp, event))
    };
    (received, sink)
}

fn events(received: &Received) -> Vec<InputEvent> {
    received.lock().unwrap().iter().map(|(_, event)| event.clone()).collect()
}

#[test]
fn a_peers_messages_are_stamped_by_frame_and_its_end_is_reported() {
    with_own_server("a_peers_messages_are_stamped_by_frame_and_its_end_is_reported", |name| {
        let _server = Server::start(&name, 256);
        let peer = Peer::start("desk");
        let (received, sink) = recording_sink();
        let before = now();
        let input = open_input(&PortSpec::Jack("desk".into()), sink).unwrap();
        assert_eq!((input.state(), input.notice()), (PortState::Open, None));
        let sysex = [&[0xF0][..], &[7; 300], &[0xF7]].concat();
        peer.play(&[(0, &[0x90, 60, 1]), (48, &[0x90, 61, 1]), (144, &sysex), (255, &[0xF8])]);
        eventually("four messages", || events(&received).len() == 4);
        let stamps: Vec<Ns> = received.lock().unwrap().iter().map(|(stamp, _)| *stamp).collect();
        // The stamps are on our clock. How exactly JACK knows the start of a block depends on the
        // machine.
        let (from, to) = (before - 1_000_000_000, now() + 1_000_000_000);
        assert!(stamps[0] > from && stamps[0] < to, "{from} {} {to}", stamps[0]);
        // 48 frames are a millisecond; a block may be slightly long or short by JACK's clock.
        let ms: Vec<f64> = stamps.iter().map(|&stamp| (stamp - stamps[0]) as f64 / 1e6).collect();
        for (ms, expected) in ms.iter().zip([0.0, 1.0, 3.0, 255.0 / 48.0]) {
            assert!(*ms >= expected * 0.5 && *ms <= expected * 2.0, "{ms} ms for {expected}");
        }
        assert!(stamps.is_sorted());
        assert_eq!(events(&received)[2], InputEvent::Heard(Wire::SysEx(sysex)));

        drop(peer);
        eventually("the loss", || input.state() == PortState::Lost);
        assert_eq!(events(&received).last(), Some(&InputEvent::Lost));
        let peer = Peer::start("desk");
        eventually("the peer again", || input.state() == PortState::Open);
        peer.play(&[(9, &[0x90, 65, 1])]);
        eventually("its note", || events(&received).len() == 6);
    });
}

#[test]
fn through_play_works_over_a_server() {
    with_own_server("through_play_works_over_a_server", |name| {
        let _server = Server::start(&name, 64);
        let (keys, desk) = (Peer::start("keys"), Peer::start("desk"));
        let mut running = play_to("desk:in");
        let mut thru: Thru = running.thrus.remove(0);
        thru.target().set(Some((PortIx(0), Channel::from_number(3))));
        let _input =
            open_input(&PortSpec::Jack("keys:out".into()), move |stamp, event| match event {
                InputEvent::Heard(Wire::Message(message)) => thru.play(stamp, message),
                InputEvent::Heard(Wire::SysEx(_)) => {}
                InputEvent::Lost => thru.lost(stamp),
            })
            .unwrap();
        keys.play(&[(5, &[0x90, 60, 99]), (6, &[0xB0, 1, 64])]);
        eventually("the note", || desk.bytes() == [[0x92, 60, 99], [0xB2, 1, 64]]);
        drop(keys);
        eventually("its release", || desk.bytes().last() == Some(&vec![0x82, 60, 64]));
        eventually("silence", || running.scheduler.stats().sounding == 0);
    });
}

#[test]
fn only_other_programs_ports_are_listed_and_found() {
    with_own_server("only_other_programs_ports_are_listed_and_found", |name| {
        let _server = Server::start(&name, 64);
        let _peers = (Peer::start("desk"), Peer::start("pads"));
        let list = chaconne_ports::list_jack_ports().unwrap();
        assert_eq!((list.block, list.rate, list.ahead), (64, 48_000, 4_000_000));
        assert!(list.ports.outputs.contains(&"desk:in".to_string()));
        assert!(list.ports.inputs.contains(&"pads:out".to_string()));
        assert!(!list.ports.inputs.contains(&"pads:in".to_string()));
        let error = open_output(&PortSpec::Jack("s:in".into())).map(drop);
        assert!(error.is_ok(), "only one has that in its name");
        let error = open_output(&PortSpec::Jack("in".into())).unwrap_err().to_string();
        assert!(error.starts_with("more than one JACK output has 'in' in its name: "), "{error}");
    });
}

#[test]
fn a_name_that_later_matches_several_ports_lists_them_until_one_is_left() {
    let test = "a_name_that_later_matches_several_ports_lists_them_until_one_is_left";
    with_own_server(test, |name| {
        let _server = Server::start(&name, 256);
        let one = Peer::start("desk one");
        let (output, (_, sink)) = (to("desk"), recording_sink());
        let input = open_input(&PortSpec::Jack("desk".into()), sink).unwrap();
        let running = start(vec![output], Setup::default()).unwrap();
        let monitor = running.scheduler.monitor();
        let said = || monitor.stats().ports[0].ambiguity.clone();
        let (two, three) = (Peer::start("desk two"), Peer::start("desk three"));
        // It stays connected to the first peer, whatever others appear.
        assert!(one.hears("chaconne:out"));
        assert_eq!((said(), input.ambiguity()), Default::default());
        drop(one);
        eventually("the output's sentence", || !said().is_empty());
        eventually("the input's sentence", || !input.ambiguity().is_empty());
        let sentence = |way: &str, port: &str| {
            format!(
                "more than one JACK {way} has 'desk' in its name: 'desk two:{port}', \
                 'desk three:{port}'; type more of the name"
            )
        };
        let expected = (sentence("output", "in"), sentence("input", "out"));
        assert_eq!((said(), input.ambiguity()), expected);
        assert_eq!(state(&monitor.stats(), 0), PortState::Lost);
        drop(three);
        eventually("the port", || state(&monitor.stats(), 0) == PortState::Open);
        eventually("the input", || input.state() == PortState::Open);
        assert!(two.hears("chaconne:out"));
        eventually("no sentence", || said().is_empty() && input.ambiguity().is_empty());
    });
}

#[test]
fn ports_wait_for_a_server_that_is_not_running_yet() {
    with_own_server("ports_wait_for_a_server_that_is_not_running_yet", |name| {
        let error = chaconne_ports::list_jack_ports().unwrap_err().to_string();
        assert!(error.starts_with("no JACK server answers, so there are no jack: ports"));
        let output = to("desk:in");
        let (heard, sink) = recording_sink();
        let input = open_input(&PortSpec::Jack("desk:out".into()), sink).unwrap();
        let sentence = "port jack:desk:in is not connected yet: no JACK server answers";
        assert_eq!((output.state(), output.notice()), (PortState::Waiting, Some(sentence)));
        let sentence = "port jack:desk:out is not connected yet: no JACK server answers";
        assert_eq!((input.state(), input.notice()), (PortState::Waiting, Some(sentence)));
        let mut running = start(vec![output], Setup::default()).unwrap();
        let monitor = running.scheduler.monitor();
        roll(&mut running.orders);
        running.orders.send(press(0, 0, 60, 1)).unwrap();
        eventually("the drop", || monitor.stats().ports[0].dropped == 1);

        let _server = Server::start(&name, 256);
        let peer = Peer::start("desk");
        eventually("the port", || state(&monitor.stats(), 0) == PortState::Open);
        eventually("the input", || input.state() == PortState::Open);
        running.orders.send(press(0, 1, 62, 2)).unwrap();
        eventually("the next note", || peer.bytes() == [[0x90, 62, 100]]);
        peer.play(&[(3, &[0x90, 64, 100])]);
        eventually("its note", || events(&heard).len() == 1);
    });
}

#[test]
fn each_of_our_ports_keeps_its_name_when_the_server_restarts() {
    with_own_server("each_of_our_ports_keeps_its_name_when_the_server_restarts", |name| {
        const PEERS: [&str; 4] = ["a", "b", "c", "d"];
        let all = || PEERS.map(Peer::start);
        // The ports are opened while there is no server, but their names are still assigned in order.
        let outputs = PEERS.map(|peer| to(&format!("{peer}:in"))).into();
        let running = start(outputs, Setup::default()).unwrap();
        let monitor = running.scheduler.monitor();
        for round in 0..3 {
            let server = Server::start(&name, 128);
            let peers = all();
            let stats = || monitor.stats();
            eventually("all", || (0..4).all(|port| state(&stats(), port) == PortState::Open));
            for (peer, own) in peers.iter().zip(["", "-01", "-02", "-03"]) {
                assert!(peer.hears(&format!("chaconne{own}:out")), "round {round}: {own}");
            }
            // The library cannot have a client in this process that outlives its server for long.
            drop(server);
            drop(peers);
            eventually("no more", || (0..4).all(|port| state(&stats(), port) == PortState::Lost));
        }
    });
}

#[test]
fn a_client_name_that_another_program_has_is_not_waited_for() {
    with_own_server("a_client_name_that_another_program_has_is_not_waited_for", |name| {
        let _server = Server::start(&name, 128);
        let (_other, peer) = (Peer::start("chaconne"), Peer::start("desk"));
        let output = to("desk:in");
        assert_eq!(output.state(), PortState::Open);
        assert!(peer.hears("chaconne-01:out"));
    });
}

#[test]
fn a_server_that_hangs_blocks_nothing() {
    with_own_server("a_server_that_hangs_blocks_nothing", |name| {
        let server = Server::start(&name, 256);
        let _peer = Peer::start("desk");
        let running = play_to("desk:in");
        server.hang(true);
        let error = open_output(&PortSpec::Jack("desk".into())).unwrap_err().to_string();
        assert_eq!(error, "port jack:desk cannot be opened: the JACK server does not answer");
        assert!(chaconne_ports::list_jack_ports().is_err());
        let monitor = running.scheduler.monitor();
        eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
        // Stopping must not hang either.
        drop(running);
        server.hang(false);
    });
}
