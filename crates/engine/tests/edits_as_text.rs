//! Edits that were written as text and read back play exactly what the edits themselves play: the same
//! bytes at the same nanoseconds. Undone in reverse order, they play what the song played at first.

#[path = "../../song/tests/common/mod.rs"]
mod common;

use chaconne_engine::{Route, View, Walk, Wire, perform};
use chaconne_song::{Edit, Song, text};
use chaconne_time::{Ns, Span, Tick};
use common::edits::edit;
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;

/// How many ticks of a route are played, because a form can be hours long.
const PLAYED: Tick = Tick(40_000);

/// A moment, a port and the bytes that go out there.
type Line = (Ns, String, Vec<u8>);

/// Everything that a song's form plays, and then each of its sections.
fn wire(song: &Song) -> Vec<Line> {
    let sections = song.sections.iter().map(|section| Route::open(section.letter));
    Route::form(song).into_iter().chain(sections).flat_map(|route| lines(song, &route)).collect()
}

fn lines(song: &Song, route: &Route) -> Vec<Line> {
    let whole = route.span();
    let span = Span::new(whole.from, whole.to.min(whole.from + PLAYED));
    let performance = perform(song, route, span, View::Corrected);
    let line = Walk::along(song, route).timeline(span.to);
    let lines = performance.events.iter().map(|event| {
        let bytes = match &event.wire {
            Wire::Message(message) => message.bytes().to_vec(),
            Wire::SysEx(bytes) => bytes.to_vec(),
        };
        (line.ns_at(event.at), performance.ports[usize::from(event.port.0)].clone(), bytes)
    });
    lines.collect()
}

/// Makes random edits on one song and, by way of text, on a copy that was read from text. Returns how
/// many of the edits changed what is played.
fn edit_twice(tape: Vec<u64>) -> usize {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let mut copy = text::read(&text::write(&song)).unwrap();
    let start = wire(&song);
    assert_eq!(wire(&copy), start);
    let mut inverses: Vec<Edit> = Vec::new();
    let (mut changes, mut before) = (0, start.clone());
    for _ in 0..20 {
        let edit = edit(&mut chooser, &song);
        let written = text::write_edit(&edit);
        let Ok(inverse) = edit.apply(&mut song) else { continue };
        inverses.push(inverse);
        text::read_edit(&written).unwrap().apply(&mut copy).unwrap();
        let after = wire(&song);
        assert_eq!(wire(&copy), after, "{written}");
        changes += usize::from(after != before);
        before = after;
    }
    for inverse in inverses.into_iter().rev() {
        inverse.apply(&mut song).unwrap();
    }
    assert_eq!(wire(&song), start);
    changes
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn edits_read_from_text_play_the_same_and_can_be_undone(tape in tape(3000)) {
        edit_twice(tape);
    }
}

/// So that the property above does not compare songs in which nothing changes.
#[test]
fn most_random_edits_change_what_is_played() {
    let changes: usize = (1..60).map(|seed| edit_twice(steady_tape(seed, 3000))).sum();
    assert!(changes > 15, "{changes}");
}
