//! Following another device's clock: it starts and stops the transport and sets its tempo, and what the
//! player does by hand meanwhile.
//!
//! MIDI clock has 24 pulses to the quarter, and a device that gets Start begins at the top, one that
//! gets Continue where it was (MIDI 1.0, "System Real Time").

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{
    Command, Config, Follow, Followed, Lead, LeaderClock, Line, Message, OnLoss, Order, PortIx,
    Route, Transport,
};
use chaconne_song::{Commit, Edit, Letter, Section};
use chaconne_time::{Ns, Tempo, Tick};

const BAR: i64 = 3840;
/// The length of a quarter at 120.
const QUARTER: Ns = 500 * MS;

fn following(on_loss: OnLoss, tracks: u32) -> Bench {
    let mut two = song(2, tracks);
    let section = Section { letter: b(), ..(*two.sections[0]).clone() };
    two.sections.push(section.into());
    let follow = Some(Follow { name: "desk".into(), on_loss });
    let clock_ports = vec![PortIx(0)];
    Bench::with(two, Config { lead: 0, clock_ports, follow, ..Config::default() })
}

fn b() -> Letter {
    "B".parse().unwrap()
}

/// A pulse at the present moment; the length of a quarter.
fn line(bench: &Bench, pulse: i64, quarter: Ns, locked: bool) -> Line {
    Line { pulse, ns: bench.now, quarter, locked }
}

fn lead(bench: &mut Bench, lead: Lead) {
    bench.engine.lead(bench.now, lead);
    bench.turn();
}

/// The leader, stopped, sends a pulse at 120.
fn idle(bench: &mut Bench) {
    let line = line(bench, 0, QUARTER, true);
    lead(bench, Lead::Idle(line));
}

/// The leader starts with a pulse.
fn roll(bench: &mut Bench, pulse: i64, quarter: Option<Ns>) {
    let ns = bench.now;
    lead(bench, Lead::Roll { pulse, ns, quarter });
}

fn followed(bench: &Bench) -> Followed {
    bench.engine.status(bench.now).followed.unwrap()
}

fn said(bench: &Bench) -> String {
    bench.engine.status(bench.now).said.1
}

fn transport(bench: &Bench) -> Transport {
    bench.engine.status(bench.now).transport
}

/// Start, Continue and Stop as they were sent.
fn sent(bench: &Bench) -> Vec<Message> {
    let all = bench.wire.iter().map(|(_, message)| *message);
    all.filter(|message| matches!(message, Message::Start | Message::Continue | Message::Stop))
        .collect()
}

#[test]
fn the_status_tells_what_is_known_of_the_clock() {
    let mut bench = following(OnLoss::Keep, 1);
    let told = bench.engine.status(bench.now).said;
    let known = followed(&bench);
    assert_eq!((known.name.as_str(), known.tempo, known.leads), ("desk", None, false));
    for (locked, clock) in [(false, LeaderClock::Locking), (true, LeaderClock::Locked)] {
        let line = line(&bench, 0, 600 * MS, locked);
        lead(&mut bench, Lead::Idle(line));
        let known = followed(&bench);
        assert_eq!((known.clock, known.leads), (clock, false));
        assert_eq!(known.tempo.map(|tempo| tempo.to_string()), Some("100".into()));
    }
    assert_eq!(bench.engine.status(bench.now).said, told, "nothing happened");
    lead(&mut bench, Lead::Lost);
    assert_eq!(followed(&bench).clock, LeaderClock::Lost);
    assert_eq!(said(&bench), "the clock of 'desk' is lost: start it here, at the song's own tempo");
    idle(&mut bench);
    assert_eq!(followed(&bench).clock, LeaderClock::Locked);
    assert_eq!(said(&bench), "the clock of 'desk' is back: start it there");
    assert!(Bench::new(song(1, 1)).engine.status(0).followed.is_none());
}

#[test]
fn nothing_is_started_by_hand_while_the_pulses_come() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    for command in [Command::Play, Command::Continue, Command::Locate(Tick(960))] {
        assert!(!bench.command(command));
        assert_eq!(said(&bench), "the clock of 'desk' leads: start it there");
        assert_eq!(transport(&bench), Transport::Stopped);
    }
    lead(&mut bench, Lead::Lost);
    for command in [Command::Play, Command::Continue] {
        assert!(bench.command(command));
        assert_eq!(
            said(&bench),
            "the clock of 'desk' is still lost: playing at the song's own tempo"
        );
        assert_eq!((transport(&bench), followed(&bench).leads), (Transport::Rolling, false));
        bench.command(Command::Stop);
        assert_eq!(said(&bench), "stopped; the clock of 'desk' is still lost");
    }
    // A clock that has never come is not lost.
    let mut bench = following(OnLoss::Keep, 1);
    let told = bench.engine.status(bench.now).said;
    assert!(bench.command(Command::Play));
    bench.command(Command::Stop);
    assert_eq!(bench.engine.status(bench.now).said, told);
}

#[test]
fn the_leader_starts_and_stops_the_transport() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    for (pulse, start) in [(0, Message::Start), (96, Message::Continue)] {
        let from = sent(&bench).len();
        roll(&mut bench, pulse, Some(QUARTER));
        assert_eq!(said(&bench), "the clock of 'desk' leads");
        let known = followed(&bench);
        assert_eq!((known.clock, known.leads), (LeaderClock::Locked, true));
        assert_eq!(bench.engine.tick_at(bench.now), Some(Tick(pulse * 40)));
        bench.run_to(bench.now + 300 * MS);
        let ns = bench.now;
        lead(&mut bench, Lead::Stop { ns });
        assert_eq!(said(&bench), "the clock of 'desk' has stopped");
        assert_eq!((transport(&bench), followed(&bench).leads), (Transport::Stopped, false));
        assert_eq!(sent(&bench)[from..], [start, Message::Stop]);
    }
    // A start of which no pulse was heard before.
    let mut bench = following(OnLoss::Keep, 1);
    roll(&mut bench, 0, None);
    assert_eq!(followed(&bench).clock, LeaderClock::Locking);
    assert_eq!(bench.engine.status(bench.now).tempo.to_string(), "120", "the song's own");
}

#[test]
fn a_stop_or_loss_of_the_clock_leaves_a_song_that_was_started_by_hand_alone() {
    let mut bench = following(OnLoss::Stop, 1);
    let told = bench.engine.status(bench.now).said;
    bench.command(Command::Play);
    idle(&mut bench);
    bench.run_to(bench.now + 100 * MS);
    let ns = bench.now;
    for news in [Lead::Stop { ns }, Lead::Locate { pulse: 96 }, Lead::Lost] {
        lead(&mut bench, news);
        let said = bench.engine.status(bench.now).said;
        assert_eq!((transport(&bench), &said), (Transport::Rolling, &told), "{news:?}");
    }
    let line = line(&bench, 48, 300 * MS, true);
    lead(&mut bench, Lead::Pulse(line));
    assert_eq!(said(&bench), "the clock of 'desk' is back: start it there");
    assert_eq!(bench.engine.status(bench.now).tempo.to_string(), "120");
}

#[test]
fn the_tempo_is_the_leaders_to_a_tenth_and_the_songs_own_after_a_stop() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    // 93.75 quarter notes per minute.
    roll(&mut bench, 0, Some(640 * MS));
    let tempo = |bench: &Bench| bench.engine.status(bench.now).tempo.to_string();
    assert_eq!(tempo(&bench), "93.8");
    let [top, beat] = [0, 960].map(|tick| bench.engine.ns_at(Tick(tick)).unwrap());
    assert_eq!(beat - top, 640 * MS);
    assert!(!bench.command(Command::Tempo(Tempo::DEFAULT)));
    assert_eq!(said(&bench), "the clock of 'desk' sets the tempo while it is followed");
    let ns = bench.now;
    lead(&mut bench, Lead::Stop { ns });
    assert_eq!(tempo(&bench), "120");
}

/// The tempi ordered after a pulse that falls so many nanoseconds earlier on the leader's line than on
/// the transport's, each with its tick. Both are at 120.
fn steered(early: Ns) -> Vec<(i64, u32)> {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    roll(&mut bench, 0, Some(QUARTER));
    bench.run_to(bench.now + QUARTER);
    let at = bench.engine.tick_at(bench.now).unwrap();
    assert_eq!(at, Tick(960));
    let line = Line { ns: bench.now - early, ..line(&bench, 24, QUARTER, true) };
    bench.engine.take_orders().for_each(drop);
    bench.engine.lead(bench.now, Lead::Pulse(line));
    let tempi = bench.engine.take_orders().filter_map(|order| match order {
        Order::Tempo { at, tempo } => Some((at.0, tempo.micros())),
        _ => None,
    });
    tempi.collect()
}

#[test]
fn a_pulse_steers_the_transport_onto_the_leaders_line_within_a_sixteenth() {
    assert_eq!(steered(0), []);
    // A sixteenth lasts 125 ms. The transport makes up for 10 ms in it: a quarter in 460 or 540 ms.
    assert_eq!(steered(10 * MS), [(961, 460_000)]);
    assert_eq!(steered(-10 * MS), [(961, 540_000)]);
    // It is never more than twice or less than half as fast as the leader.
    assert_eq!(steered(2000 * MS), [(961, 250_000)]);
    assert_eq!(steered(-2000 * MS), [(961, 1_000_000)]);
}

#[test]
fn the_transport_follows_a_leader_at_another_tempo() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    roll(&mut bench, 0, Some(QUARTER));
    let start = bench.now;
    // Pulses at 100, 25 ms apart.
    for pulse in 1..=96 {
        bench.run_to(start + pulse * 25 * MS);
        let line = line(&bench, pulse, 600 * MS, true);
        lead(&mut bench, Lead::Pulse(line));
    }
    let off = bench.engine.ns_at(Tick(BAR)).unwrap() - (start + 2400 * MS);
    assert!(off.abs() < MS, "{off} ns");
    assert_eq!(bench.engine.status(bench.now).tempo.to_string(), "100");
}

#[test]
fn a_clock_that_is_lost_is_said_and_the_music_goes_on_or_stops() {
    for (on_loss, sentence) in [
        (OnLoss::Keep, "the clock of 'desk' is lost: playing on at 120"),
        (OnLoss::Stop, "the clock of 'desk' is lost: playback stopped"),
    ] {
        let mut bench = following(on_loss, 1);
        idle(&mut bench);
        roll(&mut bench, 0, Some(QUARTER));
        bench.run_to(bench.now + QUARTER);
        // The transport is 10 ms behind and catches up.
        let line = Line { ns: bench.now - 10 * MS, ..line(&bench, 24, QUARTER, true) };
        lead(&mut bench, Lead::Pulse(line));
        bench.run_to(bench.now + 20 * MS);
        bench.engine.lead(bench.now, Lead::Lost);
        assert_eq!(said(&bench), sentence);
        let goes_on = on_loss == OnLoss::Keep;
        assert_eq!(transport(&bench) == Transport::Rolling, goes_on);
        if goes_on {
            // From the next tick on it has the last tempo of the leader.
            let next = bench.engine.tick_at(bench.now).unwrap() + Tick(1);
            let [one, other] =
                [Tick(0), Tick(9600)].map(|by| bench.engine.ns_at(next + by).unwrap());
            assert_eq!(other - one, 10 * QUARTER);
            let back = Line { ns: bench.now, pulse: 25, ..line };
            bench.engine.lead(bench.now, Lead::Pulse(back));
            assert_eq!(said(&bench), "the clock of 'desk' is back");
        }
    }
}

#[test]
fn a_clock_lost_while_stopped_says_what_a_start_does_now() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    bench.command(Command::Record(true));
    lead(&mut bench, Lead::Lost);
    assert_eq!(
        said(&bench),
        "the clock of 'desk' is lost: recording begins with a start, here or there"
    );
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    let once = Route::rounds(bench.engine.song(), Letter::A, 1).unwrap();
    bench.command(Command::PlayRoute(once));
    assert_eq!(said(&bench), "waiting for the start of the clock of 'desk'");
    lead(&mut bench, Lead::Lost);
    assert_eq!(said(&bench), "the clock of 'desk' is lost: still waiting for its start");
}

#[test]
fn recording_waits_for_the_leaders_start_unless_it_is_lost() {
    let recording = |bench: &Bench| {
        let status = bench.engine.status(bench.now);
        (status.recording, followed(bench).record_waits, status.transport)
    };
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    bench.command(Command::Record(true));
    assert_eq!(said(&bench), "recording begins with the start of the clock of 'desk'");
    assert_eq!(recording(&bench), (true, true, Transport::Stopped));
    bench.command(Command::Record(false));
    assert_eq!(recording(&bench), (false, false, Transport::Stopped));
    // A stop calls it off, too.
    bench.command(Command::Record(true));
    bench.command(Command::Stop);
    assert_eq!(recording(&bench), (false, false, Transport::Stopped));
    roll(&mut bench, 0, Some(QUARTER));
    assert_eq!(recording(&bench), (false, false, Transport::Rolling));
    // While it plays, recording begins at once.
    bench.run_to(bench.now + 100 * MS);
    bench.command(Command::Record(true));
    assert_eq!(recording(&bench), (true, false, Transport::Rolling));
    let ns = bench.now;
    lead(&mut bench, Lead::Stop { ns });
    bench.command(Command::Record(true));
    roll(&mut bench, 0, Some(QUARTER));
    assert_eq!(recording(&bench), (true, false, Transport::Rolling));
    let ns = bench.now;
    lead(&mut bench, Lead::Stop { ns });
    lead(&mut bench, Lead::Lost);
    bench.command(Command::Record(true));
    assert_eq!(recording(&bench), (true, false, Transport::Rolling));
    assert_eq!(said(&bench), "the clock of 'desk' is still lost: playing at the song's own tempo");
    bench.command(Command::Record(false));
    let told = bench.engine.status(bench.now).said.0;
    bench.command(Command::Record(true));
    assert_eq!(bench.engine.status(bench.now).said.0, told, "it was going already");
}

#[test]
fn the_leader_says_where_a_take_begins_until_it_is_lost() {
    let mut bench = following(OnLoss::Keep, 1);
    bench.command(Command::CountIn(1));
    // Nothing has come from the leader yet: it can be played from here, but a take waits for its start.
    bench.command(Command::LocateBars(1));
    bench.command(Command::Record(true));
    assert_eq!(transport(&bench), Transport::Stopped);
    roll(&mut bench, 48, Some(QUARTER));
    let status = bench.engine.status(bench.now);
    assert_eq!((status.transport, status.at), (Transport::Rolling, Tick(1920)));
    assert_eq!(status.again, Some((Letter::A, Tick(0))), "it began in bar 1");
    bench.press(2000, 60);
    bench.lift(2100, 60);
    assert!(!bench.command(Command::RecordAgain));
    assert_eq!(said(&bench), "the clock of 'desk' is followed: it sets the position");
    assert!(bench.engine.status(bench.now).recording, "a refusal changes nothing");
    lead(&mut bench, Lead::Lost);
    assert!(bench.command(Command::RecordAgain));
    assert_eq!(bench.passes(), [[(2000, 100, 60)]]);
    let status = bench.engine.status(bench.now);
    assert_eq!((status.transport, status.at), (Transport::CountingIn, Tick(-BAR)));
    assert_eq!(said(&bench), "the clock of 'desk' is still lost: playing at the song's own tempo");
}

#[test]
fn without_a_track_there_is_nothing_to_wait_for() {
    let mut bench = following(OnLoss::Keep, 0);
    idle(&mut bench);
    assert!(!bench.command(Command::Record(true)));
    assert!(!followed(&bench).record_waits);
}

#[test]
fn a_start_while_rolling_starts_over_and_recording_goes_on() {
    let mut bench = following(OnLoss::Keep, 1);
    idle(&mut bench);
    bench.command(Command::Record(true));
    roll(&mut bench, 0, Some(QUARTER));
    bench.press(2000, 60);
    bench.lift(2100, 60);
    bench.to(2500);
    roll(&mut bench, 0, Some(QUARTER));
    assert_eq!(bench.engine.tick_at(bench.now), Some(Tick(0)));
    assert_eq!(bench.passes(), [[(2000, 100, 60)]], "what was played is kept");
    let status = bench.engine.status(bench.now);
    assert!(status.recording && !followed(&bench).record_waits);
    bench.command(Command::Record(false));
    roll(&mut bench, 0, Some(QUARTER));
    assert!(!bench.engine.status(bench.now).recording);
}

#[test]
fn the_leaders_start_plays_the_route_that_was_asked_for_while_its_sections_exist() {
    for exists in [true, false] {
        let mut bench = following(OnLoss::Keep, 1);
        idle(&mut bench);
        let route = Route::of(bench.engine.song(), &[Letter::A, b()]).unwrap();
        bench.command(Command::PlayRoute(route));
        if !exists {
            assert!(bench.command(Command::Edit(Commit::of(Edit::RemoveSection(b())))));
        }
        roll(&mut bench, 0, Some(QUARTER));
        assert_eq!(bench.engine.entries().len(), if exists { 2 } else { 1 });
        assert_eq!(bench.engine.entries()[0].until < Tick::MAX, exists);
    }
}

#[test]
fn the_transport_goes_with_the_leader_to_a_position_while_stopped() {
    let mut bench = following(OnLoss::Keep, 1);
    let at = |bench: &Bench| bench.engine.status(bench.now).at;
    lead(&mut bench, Lead::Locate { pulse: 96 });
    assert_eq!(at(&bench), Tick(BAR));
    // Positions are whole sixteenths, of six pulses.
    lead(&mut bench, Lead::Locate { pulse: 11 });
    assert_eq!(at(&bench), Tick(240));
    lead(&mut bench, Lead::Locate { pulse: 0 });
    assert_eq!(at(&bench), Tick(0));
    // On a route it is in a round; the top is none of its positions.
    let twice = Route::rounds(bench.engine.song(), Letter::A, 2).unwrap();
    bench.command(Command::PlayRoute(twice));
    for (pulse, round) in [(192, Some((2, 2))), (0, None)] {
        lead(&mut bench, Lead::Locate { pulse });
        assert_eq!(bench.engine.status(bench.now).in_form, round);
    }
}

#[test]
fn a_recording_that_was_called_off_is_called_off_once() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::CountIn(1));
    bench.command(Command::Record(true));
    bench.to(-1000);
    bench.command(Command::Record(false));
    let told = bench.engine.status(bench.now).said;
    bench.command(Command::Record(false));
    assert_eq!(bench.engine.status(bench.now).said, told);
    // After the count-in, it is recording that stops, and nothing is said about a count-in.
    bench.to(2000);
    bench.command(Command::Record(true));
    bench.command(Command::Record(false));
    assert_eq!(bench.engine.status(bench.now).said, told);
}
