//! Tests of what belongs to a round, tick by tick. The rules of play, as a player meets them, are tested
//! in `tests/rules_of_play.rs`.

use super::*;
use crate::Message;
use chaconne_song::U7;
use chaconne_time::Metre;

const BAR: i64 = 3840;

/// The second bar, from half a sixteenth before its seam.
fn second_bar() -> Round {
    Round {
        from: Tick(BAR),
        length: Tick(BAR),
        low: Tick(BAR - 120),
        high: Tick(2 * BAR - 120),
        off: Tick::MAX,
        first: false,
        punch: Span::new(Tick(BAR), Tick(2 * BAR)),
        mode: Mode::Layer,
        with_discarded: false,
    }
}

/// The pass that a round makes of what was captured.
fn pass(capture: &Capture, round: Round) -> Pass {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let feel = Feel::off(false);
    let transpose = &Transposition::default();
    let frame = Frame { id: PassId(1), track: TrackId(1), feel, transpose, metre: &metre };
    assemble(capture, round, frame, |_| Tempo::DEFAULT).pass
}

#[test]
fn a_message_belongs_to_the_round_in_which_it_was_played_up_to_record_off() {
    let mut capture = Capture::default();
    for at in [BAR - 1, BAR, 5000, 5001, 2 * BAR - 1, 2 * BAR] {
        capture.sysex(Tick(at), vec![0xF0, 1, 0xF7]);
    }
    let kept = |off| -> Vec<i64> {
        let round = Round { off: Tick(off), ..second_bar() };
        pass(&capture, round).sysex().iter().map(|message| message.at.0 + BAR).collect()
    };
    assert_eq!(kept(3 * BAR), [BAR, 5000, 5001, 2 * BAR - 1]);
    assert_eq!(kept(5001), [BAR, 5000]);
}

#[test]
fn a_gesture_that_begins_as_early_as_a_round_allows_keeps_its_start() {
    let mut capture = Capture::default();
    let (channel, controller) = (Channel::default(), U7::low_bits(1));
    for (at, value) in [(BAR - 120, 9), (BAR + 10, 20)] {
        let message = Message::Change { channel, controller, value: U7::low_bits(value) };
        capture.message(Tick(at), 0, message, Tick(BAR));
    }
    let pass = pass(&capture, Round { first: true, ..second_bar() });
    let points = pass.lanes()[0].points.iter().map(|point| (point.at.0, point.value.get()));
    assert_eq!(points.collect::<Vec<_>>(), [(-120, 9), (10, 20)]);
}
