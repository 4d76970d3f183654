//! Following a simulated leader. Pulses that jitter, get lost or arrive twice go through the follower
//! into the engine, and the engine's timeline is compared with the leader's.
//!
//! Nothing here runs on a real clock, so the same seed gives the same results.

mod leader;

use chaconne_clock::Follower;
use chaconne_engine::{Command, Lead, LeaderClock, Message, OnLoss, Route, Transport};
use chaconne_song::{Channel, Letter, U7, U14};
use chaconne_time::{Ns, Tick, pulse};
use leader::{Leader, Link, MS, Report, World};

const BAR: i64 = 96;

/// A cable with a uniform jitter of 2 ms either way; it loses 1 % of the pulses and doubles 1 %.
fn rough(seed: u64) -> Link {
    Link { seed, jitter: 2 * MS, lost: 100, doubled: 100, ..Link::CLEAN }
}

#[test]
fn a_rough_clock_is_followed_within_a_millisecond() {
    for seed in 1..=40 {
        let leader = Leader::steady(120.0, 32 * BAR);
        let mut world = World::new(OnLoss::Keep);
        world.start(&leader, rough(seed));
        let report = world.play(&leader);
        assert!(report.locked_at <= BAR, "seed {seed}: locked at pulse {}", report.locked_at);
        assert!(report.rms < 1.0, "seed {seed}: {} ms RMS", report.rms);
        assert!(report.worst_tempo < 0.1, "seed {seed}: tempo off by {} %", report.worst_tempo);
    }
}

#[test]
fn stalls_of_the_machine_shift_no_pulse() {
    // Pulses are even to a tenth of a millisecond, except when the machine stalls for up to 80 ms:
    // then they arrive all at once.
    for tempo in [60.0, 120.0, 200.0] {
        for seed in 1..=30 {
            let jitter = seed as Ns % 3 * MS / 20;
            let stall = 80 * MS;
            let link = Link { seed, jitter, ..Link::CLEAN };
            let leader = Leader::steady(tempo, 40 * BAR);
            let mut world = World::new(OnLoss::Keep);
            world.send(leader.pulses[0] as Ns - 3 * MS, Message::Start);
            let bar = BAR as usize;
            world.pulses(&leader, link, 0..bar);
            world.pulses(&leader, Link { stalls: 100, stall, ..link }, bar..40 * bar);
            let report = world.play(&leader);
            assert!(report.rms < 0.2 && report.worst < 4.0, "{tempo}, {seed}: {report:?}");
        }
    }
}

#[test]
fn seconds_of_heavy_load_shift_no_pulse() {
    // As measured on a badly overloaded machine: for seconds at a time, at a quarter of all pulses,
    // it stalls for up to 40 ms.
    for tempo in [90.0, 120.0, 150.0] {
        for seed in 1..=40 {
            let link = Link { seed, jitter: MS / 25, ..Link::CLEAN };
            let storm = |seed| Link { seed, stalls: 2500, stall: 40 * MS, ..link };
            let bar = BAR as usize;
            let leader = Leader::steady(tempo, 60 * BAR);
            let mut world = World::new(OnLoss::Keep);
            world.send(leader.pulses[0] as Ns - 3 * MS, Message::Start);
            for (k, first) in (0..60 * bar).step_by(2 * bar).enumerate() {
                let link = if k % 4 == 2 { storm(seed * 100 + k as u64) } else { link };
                world.pulses(&leader, link, first..first + 2 * bar);
            }
            let report = world.play(&leader);
            assert!(report.rms < 0.5 && report.worst < 5.0, "{tempo}, {seed}: {report:?}");
        }
    }
}

#[test]
fn every_tempo_is_followed() {
    for tempo in [20.0, 33.3, 45.0, 60.0, 93.7, 120.0, 138.0, 174.0, 220.0, 260.0, 300.0] {
        for seed in 1..=4 {
            let leader = Leader::steady(tempo, 24 * BAR);
            let mut world = World::new(OnLoss::Keep);
            world.start(&leader, rough(seed));
            let report = world.play(&leader);
            assert!(report.locked_at <= BAR, "{tempo}: locked at pulse {}", report.locked_at);
            assert!(report.rms < 1.0, "{tempo}, seed {seed}: {} ms RMS", report.rms);
            // At 300 BPM the jitter from one pulse to the next is up to half a pulse.
            assert!(report.worst_tempo < 0.2, "{tempo}: off by {} %", report.worst_tempo);
        }
    }
}

/// A ramp from 90 to 140 BPM over eight bars, after two bars at 90 and before four at 140.
fn ramp() -> Leader {
    Leader::with(14 * BAR, |k| {
        90.0 + 50.0 * ((k - 2 * BAR) as f64 / (8 * BAR) as f64).clamp(0.0, 1.0)
    })
}

#[test]
fn a_ramp_is_followed_without_losing_a_beat() {
    for (link, most) in [(Link::CLEAN, 2.0), (rough(1), 6.0), (rough(2), 6.0), (rough(3), 6.0)] {
        let leader = ramp();
        let mut world = World::new(OnLoss::Keep);
        world.start(&leader, link);
        let report = world.play(&leader);
        println!("ramp 90-140 over 8 bars, jitter {} ms: {report:?}", link.jitter / MS);
        // A lost beat would be an error of 430 ms, a lost pulse of 18 ms.
        assert!(report.worst < most, "{report:?}");
        assert!(report.rms < 2.0, "{report:?}");
    }
}

/// A leader that changes from one tempo to another after six bars.
fn then(first: f64, second: f64) -> Leader {
    Leader::with(16 * BAR, |k| if k < 6 * BAR { first } else { second })
}

#[test]
fn a_sudden_tempo_change_shifts_no_bar() {
    let pairs = [
        (60.0, 120.0),
        (120.0, 60.0),
        (120.0, 90.0),
        (90.0, 120.0),
        (100.0, 108.0),
        (120.0, 150.0),
        (120.0, 132.0),
        (140.0, 133.0),
    ];
    for (first, second) in pairs {
        for link in [Link::CLEAN, Link { seed: 5, jitter: MS, ..Link::CLEAN }] {
            let leader = then(first, second);
            let mut world = World::new(OnLoss::Keep);
            world.start(&leader, link);
            world.to(leader.pulses[5 * BAR as usize] as Ns);
            // Two bars after the change it is in step again.
            let k = 8 * BAR as usize;
            world.to(leader.pulses[k] as Ns);
            let report = world.play_from(&leader, k);
            assert!(report.worst < 1.0, "{first} to {second}: {report:?}");
        }
    }
}

#[test]
fn without_a_clock_the_tempo_stays_and_the_clocks_return_corrects_the_position() {
    let leader = Leader::steady(93.7, 20 * BAR);
    let mut world = World::new(OnLoss::Keep);
    world.send(leader.pulses[0] as Ns - 2 * MS, Message::Start);
    let link = Link { seed: 3, jitter: MS, ..Link::CLEAN };
    let (gone, back) = (5 * BAR as usize + 7, 9 * BAR as usize + 1);
    world.pulses(&leader, link, 0..gone);
    world.pulses(&leader, link, back..leader.pulses.len());
    world.to(leader.pulses[gone - 1] as Ns + 40 * MS);
    assert_eq!(world.clock(), LeaderClock::Locked);
    // The clock is lost after four and a half periods without a pulse, and at least 100 ms.
    world.to(leader.pulses[gone + 4] as Ns);
    assert_eq!(world.clock(), LeaderClock::Lost);
    assert_eq!(world.said.last().unwrap(), "the clock of 'desk' is lost: playing on at 93.7");
    assert_eq!(world.status().transport, Transport::Rolling);
    // After four bars at the last tempo, the error is only a few milliseconds.
    world.to(leader.pulses[back - 1] as Ns);
    assert!(world.error(back as i64 - 1, leader.pulses[back - 1]).abs() < 10.0);
    world.to(leader.pulses[back + 9] as Ns);
    assert_eq!(world.said.last().unwrap(), "the clock of 'desk' is back");
    let k = back + BAR as usize;
    world.to(leader.pulses[k] as Ns);
    let report = world.play_from(&leader, k);
    assert!(report.rms < 1.0 && report.worst < 2.0, "{report:?}");
    assert_eq!(report.locked_at, 0);
}

#[test]
fn a_lost_clock_stops_the_transport_if_so_configured() {
    let leader = Leader::steady(120.0, 4 * BAR);
    let mut world = World::new(OnLoss::Stop);
    world.start(&leader, Link::CLEAN);
    world.to(leader.pulses[4 * BAR as usize - 1] as Ns);
    assert_eq!(world.status().transport, Transport::Rolling);
    world.to(world.now + 500 * MS);
    let status = world.status();
    assert_eq!(status.transport, Transport::Stopped);
    assert_eq!(world.said.last().unwrap(), "the clock of 'desk' is lost: playback stopped");
    // The position stays where the transport stopped, and the leader has to start it again.
    assert!(status.at > Tick(3840 * 3) && status.at < Tick(3840 * 4 + 480), "{:?}", status.at);
    let more = Leader::steady(120.0, 4 * BAR);
    let later = world.now - more.pulses[0] as Ns + 100 * MS;
    for at in &more.pulses {
        world.send(*at as Ns + later, Message::Clock);
    }
    world.to(world.now + 1_000 * MS);
    assert_eq!(world.status().transport, Transport::Stopped);
    assert!(world.said.last().unwrap().ends_with("is back: start it there"));
    world.send(world.now + 1, Message::Start);
    world.to(world.now + 100 * MS);
    assert_eq!(world.status().transport, Transport::Rolling);
    assert!(world.status().at < Tick(240));
}

/// The follower's events for a script: `S` start, `C` continue, `X` stop, `[n]` song position, `.` a
/// pulse 20 ms after the last one.
fn script(text: &str) -> String {
    let mut follower = Follower::new();
    let (mut now, mut events) = (0, Vec::new());
    let mut rest = text;
    while let Some(one) = rest.chars().next() {
        let mut used = 1;
        let message = match one {
            '.' => {
                now += 20 * MS;
                Message::Clock
            }
            'S' => Message::Start,
            'C' => Message::Continue,
            'X' => Message::Stop,
            '[' => {
                used = rest.find(']').unwrap() + 1;
                Message::SongPosition(U14::new(rest[1..used - 1].parse().unwrap()).unwrap())
            }
            _ => Message::ActiveSensing,
        };
        rest = &rest[used..];
        follower.handle(now, message);
        while let Some(lead) = follower.next_event() {
            events.push(match lead {
                Lead::Idle(_) => "-".to_string(),
                Lead::Locate { pulse } => format!("at {pulse}"),
                Lead::Roll { pulse, .. } => format!("from {pulse}"),
                Lead::Pulse(line) => (line.pulse - 1).to_string(),
                Lead::Stop { .. } => "stop".to_string(),
                Lead::Lost => "lost".to_string(),
            });
        }
    }
    events.join(" ")
}

#[test]
fn start_continue_and_song_position_mean_what_the_standard_says() {
    // MIDI 1.0 Detailed Specification, "System Real Time": the first clock after Start is beat
    // one, the first after Continue the held position; clocks after Stop do not advance it. "Song
    // Position Pointer": 14 bits, six clocks each.
    assert_eq!(script("S..."), "from 0 1 2");
    assert_eq!(script("..S.."), "- from 0 1");
    assert_eq!(script("S..X..C.."), "from 0 1 stop - - from 2 3");
    assert_eq!(script("S..X[16]C.."), "from 0 1 stop at 96 from 96 97");
    assert_eq!(script("[10]C.."), "at 60 from 60 61");
    assert_eq!(script("[16383]C.."), "at 98298 from 98298 98299");
    assert_eq!(script("[127]C."), "at 762 from 762");
    assert_eq!(script("[128]C."), "at 768 from 768");
    // Start is the same as song position 0 and Continue; a second Start begins again.
    assert_eq!(script("[16]S.."), "at 96 from 0 1");
    assert_eq!(script("S..S.."), "from 0 1 from 0 1");
    // Continue while rolling changes nothing, nor does Stop while stopped.
    assert_eq!(script("S.C.."), "from 0 1 2");
    assert_eq!(script("..XX.."), "- - -");
    assert_eq!(script("SX.."), "-");
}

#[test]
fn pulses_while_stopped_lock_the_follower_before_the_start() {
    let leader = Leader::steady(138.0, 8 * BAR);
    let mut world = World::new(OnLoss::Keep);
    let early = 2 * BAR as usize;
    world.pulses(&leader, rough(9), 0..early);
    world.to(leader.pulses[early - 1] as Ns + 5 * MS);
    assert_eq!(world.clock(), LeaderClock::Locked);
    assert_eq!(world.status().transport, Transport::Stopped);
    // The pulse after Start is beat one.
    let rest = Leader { pulses: leader.pulses[early..].to_vec() };
    world.start(&rest, Link { seed: 4, jitter: 2 * MS, ..Link::CLEAN });
    let report = world.play(&rest);
    assert_eq!(report.locked_at, 0);
    assert!(report.rms < 1.0 && report.worst < 2.0, "{report:?}");
}

#[test]
fn the_leader_controls_the_transport_while_its_clock_is_present() {
    let leader = Leader::steady(120.0, 8 * BAR);
    let mut world = World::new(OnLoss::Keep);
    // No pulse has arrived yet, so it can play by itself, at the song's own tempo.
    assert!(world.command(Command::Play));
    assert!(!world.status().followed.unwrap().leads);
    world.to(50 * MS);
    assert!(world.command(Command::Stop));
    world.pulses(&leader, Link::CLEAN, 0..BAR as usize);
    world.to(leader.pulses[BAR as usize - 1] as Ns);
    for command in [Command::Play, Command::Continue, Command::Locate(Tick(960))] {
        assert!(!world.command(command));
        let said = world.status().said.1;
        assert_eq!(said, "the clock of 'desk' leads: start it there");
    }
    let rest = Leader { pulses: leader.pulses[BAR as usize..].to_vec() };
    world.start(&rest, Link::CLEAN);
    world.to(rest.pulses[BAR as usize] as Ns);
    let status = world.status();
    assert!(status.followed.unwrap().leads);
    assert_eq!(status.tempo.to_string(), "120");
    assert!(!world.command(Command::Tempo(chaconne_time::Tempo::DEFAULT)));
    // Stop always works, and pulses do not start the transport again.
    assert!(world.command(Command::Stop));
    world.to(rest.pulses[2 * BAR as usize] as Ns);
    assert_eq!(world.status().transport, Transport::Stopped);
}

#[test]
fn a_clock_lost_or_found_while_stopped_is_reported() {
    let leader = Leader::steady(120.0, BAR);
    let last = |world: &World| world.said.last().unwrap().clone();
    // Gives a command, then lets the clock get lost.
    let after = |asked: Command| {
        let mut world = World::new(OnLoss::Keep);
        world.pulses(&leader, Link::CLEAN, 0..BAR as usize);
        world.to(leader.pulses[BAR as usize - 1] as Ns);
        world.command(asked);
        world.to(world.now + 2_000 * MS);
        assert_eq!(
            (world.clock(), world.status().transport),
            (LeaderClock::Lost, Transport::Stopped)
        );
        world
    };
    let recording = after(Command::Record(true));
    let here_or_there = "the clock of 'desk' is lost: recording begins with a start, here or there";
    assert_eq!(last(&recording), here_or_there);
    let route = after(Command::PlayRoute(Route::open(Letter::A)));
    assert_eq!(last(&route), "the clock of 'desk' is lost: still waiting for its start");
    let mut world = after(Command::Play);
    let here = "the clock of 'desk' is lost: start it here, at the song's own tempo";
    assert_eq!(last(&world), here);
    // And that works.
    assert!(world.command(Command::Play));
    world.to(world.now + 100 * MS);
    let alone = "the clock of 'desk' is still lost: playing at the song's own tempo";
    assert_eq!(last(&world), alone);
    assert_eq!(world.status().tempo, world.status().song.sections[0].tempo.first());
    assert!(world.command(Command::Stop));
    let later = world.now - leader.pulses[0] as Ns + 100 * MS;
    for at in &leader.pulses {
        world.send(*at as Ns + later, Message::Clock);
    }
    world.to(world.now + 1_000 * MS);
    assert_eq!(last(&world), "the clock of 'desk' is back: start it there");
}

#[test]
fn continue_starts_at_the_song_position() {
    let leader = Leader::steady(120.0, 3 * BAR);
    let mut world = World::new(OnLoss::Keep);
    let begin = leader.pulses[0] as Ns;
    world.send(begin - 20 * MS, Message::SongPosition(U14::new(16).unwrap()));
    world.to(begin - 10 * MS);
    assert_eq!(world.status().at, Tick(3840));
    assert_eq!(world.status().place.bar, 2);
    world.send(begin - 2 * MS, Message::Continue);
    world.pulses(&leader, Link::CLEAN, 0..leader.pulses.len());
    world.to(leader.pulses[BAR as usize] as Ns + 8 * MS);
    // The first pulse was pulse 96: a bar later it is pulse 192.
    assert!(world.error(2 * BAR, leader.pulses[BAR as usize]).abs() < 1.0);
}

/// The recorded starts of notes that are struck a third of the way from each of these pulses to the
/// next.
fn recorded(world: &mut World, leader: &Leader, at: &[usize]) -> Vec<i64> {
    for &k in at {
        let due = leader.pulses[k] + (leader.pulses[k + 1] - leader.pulses[k]) / 3.0;
        // The note is stamped when it is played, and handed over at the end of the turn.
        world.to(due as Ns + 7 * MS);
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(60), U7::CENTRE);
        let press = Message::NoteOn { channel, key, velocity };
        let lift = Message::NoteOff { channel, key, velocity };
        world.engine.input(due as Ns, 0, press.into());
        world.engine.input(due as Ns + 5 * MS, 0, lift.into());
    }
    world.to(leader.pulses[9 * BAR as usize] as Ns);
    let song = world.engine.song();
    let passes = &song.passes_in(&song.sections[0]);
    let starts = passes.iter().flat_map(|pass| pass.notes()).map(|note| note.played.start.0);
    starts.collect()
}

#[test]
fn recording_while_following_is_as_exact_as_while_leading() {
    // The four bars of the loop are recorded in the second round; by then the clock is locked.
    let pulses: Vec<usize> = (0..60).map(|k| 4 * BAR as usize + k * 6 + k % 5).collect();
    let exact: Vec<i64> =
        pulses.iter().map(|&k| (k as i64 - 4 * BAR) * pulse::TICKS_PER_PULSE + 13).collect();
    let run = |link: Link| {
        let leader = Leader::steady(104.0, 10 * BAR);
        let mut world = World::new(OnLoss::Keep);
        world.start(&leader, link);
        world.to(leader.pulses[4 * BAR as usize - 4] as Ns);
        assert!(world.command(Command::Record(true)));
        recorded(&mut world, &leader, &pulses)
    };
    // On an even clock, within one tick: a third of a pulse is 13.3 ticks.
    let even = run(Link::CLEAN);
    assert_eq!(even.len(), exact.len());
    assert!(even.iter().zip(&exact).all(|(a, b)| (a - b).abs() <= 1), "{even:?}");
    // On a rough one, within the jitter that the filter leaves: a millisecond is 1.7 ticks.
    let rough = run(rough(11));
    assert!(rough.iter().zip(&exact).all(|(a, b)| (a - b).abs() <= 3), "{rough:?}");
}

#[test]
fn record_waits_for_the_leaders_start_and_has_no_count_in() {
    let leader = Leader::steady(120.0, 10 * BAR);
    let mut world = World::new(OnLoss::Keep);
    world.command(Command::CountIn(2));
    assert!(world.command(Command::Record(true)));
    let status = world.status();
    assert_eq!((status.transport, status.recording), (Transport::Stopped, true));
    assert_eq!(status.said.1, "recording begins with the start of the clock of 'desk'");
    world.start(&leader, Link::CLEAN);
    let notes = recorded(&mut world, &leader, &[0, 30, 96]);
    assert_eq!(notes.len(), 3);
    // At the very first pulse the tempo was still unknown.
    for (note, (exact, off)) in notes.iter().zip([(13, 6), (1213, 1), (3853, 1)]) {
        assert!((note - exact).abs() <= off, "{notes:?}");
    }
    // Record off while it waits: it stops waiting.
    world.command(Command::Stop);
    world.command(Command::Record(true));
    world.command(Command::Record(false));
    assert!(!world.status().recording);
}

#[test]
fn only_the_stamps_of_pulses_count_not_when_they_are_handed_over() {
    // The engine polls every 1 ms or every 15 ms.
    let run = |turn: Ns| {
        let leader = Leader::steady(120.0, 12 * BAR);
        let mut world = World::with_turn(OnLoss::Keep, turn);
        world.start(&leader, rough(6));
        world.play(&leader)
    };
    let (quick, slow): (Report, Report) = (run(MS), run(15 * MS));
    assert!(quick.rms < 1.0 && slow.rms < 1.0, "{quick:?} {slow:?}");
    assert!((quick.rms - slow.rms).abs() < 0.2, "{quick:?} {slow:?}");
}

#[test]
fn nonsense_pulses_do_not_keep_it_from_following_a_clock_later() {
    // A flood of pulses all at once, then one pulse an hour, then a real clock.
    let mut follower = Follower::new();
    follower.handle(0, Message::Start);
    for _ in 0..100_000 {
        follower.handle(5, Message::Clock);
    }
    for hour in 1..20 {
        follower.handle(hour * 3_600_000 * MS, Message::Clock);
        follower.poll(hour * 3_600_000 * MS + 10_000 * MS);
    }
    while follower.next_event().is_some() {}
    let start = 21 * 3_600_000 * MS;
    follower.handle(start - 1, Message::Start);
    for k in 0..100 {
        follower.handle(start + k * 20 * MS, Message::Clock);
    }
    let mut last = None;
    while let Some(lead) = follower.next_event() {
        last = Some(lead);
    }
    let Some(Lead::Pulse(line)) = last else { panic!("{last:?}") };
    assert_eq!((line.pulse, line.quarter, line.locked), (100, 480 * MS, true));
}

#[test]
fn the_timeline_never_goes_back() {
    let leader = then(120.0, 97.0);
    let mut world = World::new(OnLoss::Keep);
    world.start(&leader, Link { seed: 8, jitter: 4 * MS, lost: 500, doubled: 500, ..Link::CLEAN });
    let mut last = Tick::MIN;
    while world.now < leader.pulses[15 * BAR as usize] as Ns {
        world.to(world.now + 2 * MS);
        let Some(at) = world.engine.tick_at(world.now) else { continue };
        assert!(at >= last, "{at:?} after {last:?}");
        // The times of past ticks do not move into the future.
        if last >= Tick::ZERO {
            assert!(world.engine.ns_at(last).unwrap() <= world.now);
        }
        last = at;
    }
}
