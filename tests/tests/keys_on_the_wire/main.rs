//! What is edited with keys while the song rolls is what the ports get: random keys on the real screen,
//! the real engine and the real scheduler on one virtual clock.
//!
//! After each change that a key makes, what goes out must be what `perform` gives for the changed song. The
//! judge and the stand are those of the engine and the scheduler's own test.

#[path = "../../../crates/clock/tests/whole/expected.rs"]
#[allow(dead_code)]
mod expected;
#[path = "../../../crates/clock/tests/whole/judge.rs"]
#[allow(dead_code)]
mod judge;
#[path = "../../../crates/clock/tests/whole/songs.rs"]
#[allow(dead_code)]
mod songs;
#[path = "../../../crates/clock/tests/whole/stand.rs"]
#[allow(dead_code)]
mod stand;

use chaconne_engine::{Click, Command, Message, Setting, When};
use chaconne_song::{Channel, Edit, SectionEdit, Song, U7};
use chaconne_time::Ns;
use chaconne_tui::driven::Hands;
use chaconne_tui::{DeskState, Disk, Export, Health, Kits, Timing};
use judge::{Cause, Judge, Judged};
use proptest::prelude::*;
use stand::{CLICK, MS, Stand};
use std::time::Duration;

/// Keys of all views and boxes, as a terminal sends them (ECMA-48; the function keys as xterm does). Keys
/// that lead out of the program, to files or to the piano are left out.
const KEYS: &[&str] = &[
    // The views.
    "\x1bOQ",
    "\x1bOR",
    "\x1bOS",
    "\x1bOS",
    "\x1bOS",
    "\x1b[17~",
    // Everywhere.
    " ",
    "r",
    "u",
    "u",
    "U",
    "k",
    "m",
    "s",
    "g",
    "l",
    "R",
    "+",
    "-",
    "f",
    "\r",
    "\x1b",
    // Arrows, twice as often as others.
    "\x1b[A",
    "\x1b[B",
    "\x1b[C",
    "\x1b[D",
    "\x1b[A",
    "\x1b[B",
    "\x1b[C",
    "\x1b[D",
    "\x1b[H",
    "\x1b[F",
    "\x1b[3~",
    ".",
    ",",
    "o",
    "O",
    "x",
    "b",
    "d",
    "e",
    "h",
    "H",
    "y",
    "z",
    "B",
    // The feel, with changes, and taken.
    "v\x1b[C\x1b[B\x1b[C\r",
    "v\x1b[B\x1b[B\x1b[D\r",
    // Another section at the next seam.
    "jA\r",
    "jB\r",
    "jC\r",
    // All notes, harder; all notes, moved.
    "sa",
    "\x1bOSsaH\x1b[A\x1b",
    "\x1bOSsam\x1b[C\x1b",
    "\x1bOSsah\x1b[C\x1b",
    // Draws notes, and deletes some.
    "\x1bOSd",
    "\x1bOSd\x1b[C\x1b[Cd",
    "\x1bOSsa\x1b[3~",
    // Another length of the section: its box, the third field.
    "\x1b[17~e\x1b[B\x1b[B2\r",
    "\x1b[17~e\x1b[B\x1b[B3\r",
    // Another form.
    "\x1b[17~FA B A\r",
    "\x1b[17~b",
];

#[derive(Debug, Clone)]
enum Act {
    Keys(usize),
    Press(u8),
    Lift(u8),
}

fn any_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        8 => (0..KEYS.len()).prop_map(Act::Keys),
        1 => (58u8..64).prop_map(Act::Press),
        1 => (58u8..64).prop_map(Act::Lift),
    ]
}

/// Somebody who plays and edits, watched by the judge.
struct Session {
    stand: Stand,
    judge: Judge,
    hands: Hands,
    /// How many commands the engine took.
    done: u32,
}

fn state_of(stand: &Stand) -> DeskState {
    DeskState {
        status: stand.engine.status(stand.now),
        ports: Vec::new(),
        sound: None,
        kits: Kits::Any,
        disk: Disk::default(),
        timing: Timing::default(),
        health: Health::default(),
        export: Export::default(),
        folder: None,
        read: None,
    }
}

impl Session {
    fn new(song: Song, step: Ns) -> Session {
        let mut stand = Stand::new(song, step, 0);
        let mut judge = Judge::new(&stand);
        for command in [Command::Click(Click::CountIn), Command::CountIn(0), Command::Play] {
            stand.command(command);
        }
        judge.look(&mut stand, None, Cause::Plain);
        let hands = Hands::new(&state_of(&stand));
        Session { stand, judge, hands, done: 0 }
    }

    fn wait(&mut self, ns: Ns) {
        let Session { stand, judge, .. } = self;
        stand.run_watched(stand.now + ns, |stand| {
            let tick = stand.engine.tick_at(stand.now);
            judge.look(stand, tick, Cause::Plain);
        });
        let state = state_of(&self.stand);
        let commands = self.hands.follow(&state, self.time());
        self.carry_out(commands);
    }

    fn time(&self) -> Duration {
        Duration::from_nanos(self.stand.now as u64)
    }

    fn act(&mut self, act: &Act) {
        let (channel, velocity) = (Channel::default(), U7::low_bits(80));
        match *act {
            Act::Keys(at) => {
                let state = state_of(&self.stand);
                let commands = self.hands.types(KEYS[at].as_bytes(), &state, self.time());
                self.carry_out(commands);
            }
            Act::Press(key) => {
                let key = U7::low_bits(key);
                self.play(Message::NoteOn { channel, key, velocity });
            }
            Act::Lift(key) => {
                let (key, velocity) = (U7::low_bits(key), U7::CENTRE);
                self.play(Message::NoteOff { channel, key, velocity });
            }
        }
    }

    fn play(&mut self, message: Message) {
        let tick = self.before();
        self.stand.play(CLICK, message);
        self.judge.look(&mut self.stand, tick, Cause::Plain);
    }

    /// Where the transport is. If the route has ended since the last poll, the judge sees that first.
    fn before(&mut self) -> Option<chaconne_time::Tick> {
        let Session { stand, judge, .. } = self;
        judge.read(stand);
        let tick = stand.engine.tick_at(stand.now)?;
        if stand.engine.entries().last().is_some_and(|last| last.until <= tick) {
            stand.run_to(stand.now);
            stand.poll();
            judge.look(stand, None, Cause::Plain);
            return None;
        }
        Some(tick)
    }

    fn carry_out(&mut self, commands: Vec<Command>) {
        for command in commands {
            // These move the place, which has tests of its own; the judge knows a run from the top.
            if matches!(command, Command::Locate(_) | Command::LocateBars(_) | Command::Continue) {
                continue;
            }
            let tick = self.before();
            let recording = self.stand.engine.status(self.stand.now).recording;
            let cause = cause(&command, recording);
            self.done += u32::from(self.stand.command(command));
            self.judge.look(&mut self.stand, tick, cause);
        }
    }

    fn end(mut self) -> (Judged, u32) {
        self.carry_out(vec![Command::Stop]);
        self.stand.end();
        (self.judge.judged, self.done)
    }
}

/// How a command takes effect. While recording, many end the round, or make a pass of it.
fn cause(command: &Command, recording: bool) -> Cause {
    match command {
        Command::Keep | Command::Record(_) | Command::Next(Setting::Recording) => Cause::FromSeam,
        Command::Undo
        | Command::Redo
        | Command::Stop
        | Command::Next(Setting::Playing)
        | Command::Arm(_)
        | Command::Jump(_, When::Seam)
            if recording =>
        {
            Cause::FromSeam
        }
        Command::Edit(commit) | Command::EditOn(commit) if recording => {
            let moves_seam = |edit: &Edit| matches!(edit, Edit::Section(_, SectionEdit::Metre(_)));
            if commit.edits.iter().any(moves_seam) { Cause::FromSeam } else { Cause::Plain }
        }
        Command::Panic => Cause::Silence,
        _ => Cause::Plain,
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 48,
        failure_persistence: None,
        max_shrink_iters: 300,
        ..ProptestConfig::default()
    })]

    #[test]
    fn what_keys_change_is_heard_as_perform_has_it(
        song in songs::song(),
        script in prop::collection::vec((0i64..900, any_act()), 1..60),
        step in 5i64..50,
    ) {
        let mut session = Session::new(song, step * MS);
        for (wait, act) in &script {
            session.wait(wait * MS);
            session.act(act);
        }
        session.end();
    }
}

/// A long script that never changes, so that this test is known to judge something.
#[test]
fn an_hour_at_the_keys_is_heard_as_perform_has_it() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut draw =
        |strategy: &BoxedStrategy<(i64, Act)>| strategy.new_tree(&mut runner).unwrap().current();
    let steps = (0i64..1500, any_act()).boxed();
    let mut session = Session::new(some_song(), 20 * MS);
    for _ in 0..4800 {
        let (wait, act) = draw(&steps);
        session.wait(wait * MS);
        session.act(&act);
        if session.stand.engine.tick_at(session.stand.now).is_none() {
            session.carry_out(vec![Command::Play]);
        }
    }
    let (judged, done) = session.end();
    assert!(done > 500 && judged.presses > 1000, "{done} commands, {judged:?}");
}

fn some_song() -> Song {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut songs =
        std::iter::repeat_with(|| songs::song().new_tree(&mut runner).unwrap().current());
    songs.find(|song| song.passes.len() > 3).unwrap()
}
