//! No id is used twice: neither those that the recorder gives to its passes, nor those that edits from
//! outside bring along, through undo, redo and opening another song.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Input, Rounds, Wire};
use chaconne_song::{
    Channel, Commit, Edit, Ids, Laid, Letter, Note, NoteId, Pass, PassId, Placed, SectionEdit,
    Song, Stroke, Track, TrackId, U7, text,
};
use chaconne_time::Tick;
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

const BAR: i64 = 3840;

/// A pass of one note, with the id that the song would give to the next pass.
fn next_pass(song: &Song) -> Pass {
    let mut pass = Pass::empty(song.ids().pass(), TrackId(1), Tick(BAR));
    let (key, velocity, release) = (U7::low_bits(40), U7::low_bits(90), U7::CENTRE);
    let played = Stroke { start: Tick(100), length: Tick(50), key, velocity, release };
    let channel = Channel::default();
    pass.notes_mut().notes =
        vec![Note { id: NoteId(1), channel, played, placed: Placed::UNCHANGED }];
    pass
}

/// Makes an edit that was written as text and read back. Returns whether it was accepted.
fn typed(bench: &mut Bench, edit: &Edit) -> bool {
    let edit = text::read_edit(&text::write_edit(edit)).unwrap();
    bench.command(Command::Edit(Commit::of(edit)))
}

fn ids(song: &Song) -> BTreeSet<u32> {
    let tracks = song.tracks.iter().map(|track| track.id.0);
    tracks.chain(song.passes.keys().map(|id| id.0)).collect()
}

#[test]
fn a_pass_added_with_the_id_of_the_open_round_does_not_disturb_the_round() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(2000);
    let pass = next_pass(b.engine.song());
    let laid = pass.id;
    assert!(typed(&mut b, &Edit::lay(Letter::A, 0, Arc::new(pass))));
    b.to(BAR + 10);
    assert_eq!(b.passes(), [vec![(100, 50, 40)], vec![(960, 100, 60)]]);
    b.to(2 * BAR + 10);
    assert_eq!(b.heard(BAR, 2 * BAR), "3940+40 3990-40 4800+60 4900-60");
    // A note that is still held is completed in its own pass.
    b.press(2 * BAR + 3000, 62);
    b.to(3 * BAR - 5);
    let copy = Laid::Copy { of: laid, id: b.engine.song().ids().pass() };
    let copy = SectionEdit::Lay { at: 0, pass: copy, mute: true };
    assert!(typed(&mut b, &Edit::Section(Letter::A, copy)));
    b.lift(3 * BAR + 100, 62);
    b.to(4 * BAR + 10);
    assert_eq!(b.passes().last(), Some(&vec![(3000, 940, 62)]));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_recorder_continues_after_the_highest_id_that_an_edit_brought() {
    let mut b = Bench::new(song(1, 1));
    let pass = Pass { id: PassId(500), ..next_pass(b.engine.song()) };
    assert!(typed(&mut b, &Edit::lay(Letter::A, 0, Arc::new(pass))));
    assert!(b.command(Command::Undo));
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(BAR + 10);
    let made: Vec<u32> = b.engine.song().passes.keys().map(|id| id.0).collect();
    assert!(made.len() == 1 && made[0] > 500, "{made:?}");
}

#[test]
fn after_an_edit_used_the_last_ids_there_are_others_left() {
    let mut b = Bench::new(song(1, 1));
    for id in [Song::LAST_ID, Song::LAST_ID - 1] {
        let pass = Pass { id: PassId(id), ..next_pass(b.engine.song()) };
        assert!(typed(&mut b, &Edit::lay(Letter::A, 0, Arc::new(pass))));
    }
    b.command(Command::Record(true));
    b.press(960, 60);
    b.lift(1060, 60);
    b.to(BAR + 10);
    assert_eq!(b.passes().len(), 3);
    assert!(b.command(Command::AddTrack { name: "Pad".into(), drums: false, program: None }));
}

/// Something done while the loop plays.
#[derive(Debug, Clone)]
enum Deed {
    Note,
    Record(bool),
    Keep,
    Undo,
    Redo,
    AddTrack,
    /// An edit that adds a pass, a track or a copy, with the id that the song would give next or one
    /// that is this much higher.
    Lay(u32),
    Track(u32),
    Copy(u32),
    /// The song is written, read back and opened.
    Reopen,
}

fn deed() -> impl Strategy<Value = Deed> {
    let higher = || prop_oneof![3 => Just(0u32), 1 => 0u32..4];
    prop_oneof![
        8 => Just(Deed::Note),
        3 => any::<bool>().prop_map(Deed::Record),
        1 => Just(Deed::Keep),
        4 => Just(Deed::Undo),
        3 => Just(Deed::Redo),
        1 => Just(Deed::AddTrack),
        3 => higher().prop_map(Deed::Lay),
        1 => higher().prop_map(Deed::Track),
        2 => higher().prop_map(Deed::Copy),
        1 => Just(Deed::Reopen),
    ]
}

/// The edit of a deed, if it is one, and the id that it brings along.
fn edit(song: &Song, deed: &Deed) -> Option<(u32, Edit)> {
    let first = |higher: u32| Ids::after(song.ids().pass().0 - 1 + higher);
    Some(match *deed {
        Deed::Lay(higher) => {
            let pass = Pass { id: first(higher).pass(), ..next_pass(song) };
            (pass.id.0, Edit::lay(Letter::A, 0, Arc::new(pass)))
        }
        Deed::Track(higher) => {
            let track = Track::drums(first(higher).track(), "Typed");
            (track.id.0, Edit::AddTrack { at: 0, track: Arc::new(track) })
        }
        Deed::Copy(higher) => {
            let (of, id) = (*song.passes.keys().next()?, first(higher).pass());
            let lay = SectionEdit::Lay { at: 0, pass: Laid::Copy { of, id }, mute: true };
            (id.0, Edit::Section(Letter::A, lay))
        }
        _ => return None,
    })
}

/// Does a deed. Returns the id that it brought along, if any.
fn act(b: &mut Bench, deed: &Deed) -> Option<u32> {
    let song = Arc::clone(b.engine.song());
    let command = match deed {
        Deed::Note => {
            let at = b.engine.tick_at(b.now).map_or(0, |at| at.0);
            b.press(at + 1, 60);
            b.lift(at + 200, 60);
            return None;
        }
        Deed::Record(on) => Command::Record(*on),
        Deed::Keep => Command::Keep,
        Deed::Undo => Command::Undo,
        Deed::Redo => Command::Redo,
        Deed::AddTrack => Command::AddTrack { name: "New".into(), drums: false, program: None },
        Deed::Reopen => Command::Open(Box::new(text::read(&text::write(&song)).unwrap())),
        _ => {
            let (id, edit) = edit(&song, deed)?;
            assert!(typed(b, &edit), "refused: {edit:?}: {}", b.engine.status(b.now).said.1);
            return Some(id);
        }
    };
    b.command(command);
    None
}

/// Does a deed and adds the new ids to `ever`. Checks that the engine gave out none of those before.
fn watch(b: &mut Bench, ever: &mut BTreeSet<u32>, deed: &Deed) {
    let before = ids(b.engine.song());
    let own = act(b, deed);
    let made: Vec<u32> = ids(b.engine.song()).difference(&before).copied().collect();
    if !matches!(deed, Deed::Redo | Deed::Undo) {
        let again = made.iter().find(|id| own != Some(**id) && ever.contains(*id));
        assert_eq!(again, None, "an id is used twice by {deed:?}");
    }
    ever.extend(made);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_id_is_used_twice(
        script in prop::collection::vec((0i64..3000, deed()), 1..60),
        newest in any::<bool>(),
    ) {
        let mut b = Bench::new(song(1, 1));
        b.command(Command::Rounds(if newest { Rounds::Newest } else { Rounds::All }));
        b.command(Command::Record(true));
        let mut ever = ids(b.engine.song());
        for (wait, deed) in &script {
            let before = ids(b.engine.song());
            let at = b.engine.tick_at(b.now).map_or(0, |at| at.0);
            b.to(at + wait);
            let made: Vec<u32> = ids(b.engine.song()).difference(&before).copied().collect();
            prop_assert!(made.iter().all(|id| !ever.contains(id)), "used twice: {made:?}");
            ever.extend(made);
            watch(&mut b, &mut ever, deed);
            if matches!(deed, Deed::Reopen) {
                // In another song only its own ids count.
                ever = ids(b.engine.song());
                b.command(Command::Play);
            }
            let (song, said) = (b.engine.song(), b.engine.status(b.now).said.1);
            prop_assert!(!said.contains("already in use") && !said.contains("taken"), "{said}");
            prop_assert_eq!(&text::read(&text::write(song)).unwrap(), &**song);
        }
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_round_that_gets_another_id_says_only_once_that_it_is_full() {
    let full = |b: &Bench| b.engine.status(b.now).said.1.contains("this round is full");
    for early in [true, false] {
        let mut b = Bench::new(song(4, 1));
        b.command(Command::Record(true));
        b.to(100);
        let mut bytes = vec![0; 1 << 16];
        (bytes[0], bytes[(1 << 16) - 1]) = (0xF0, 0xF7);
        let message = || Input::Heard(Wire::SysEx(bytes.clone()));
        let rename = |b: &mut Bench| {
            let pass = next_pass(b.engine.song());
            assert!(typed(b, &Edit::lay(Letter::A, 0, Arc::new(pass))));
        };
        // A round holds sixteen of these.
        (0..16).for_each(|_| b.engine.input(b.now, 0, message()));
        if early {
            rename(&mut b);
        }
        assert!(!full(&b));
        b.engine.input(b.now, 0, message());
        assert!(full(&b), "{early}");
        if !early {
            rename(&mut b);
        }
        let said = b.engine.status(b.now).said.0;
        b.engine.input(b.now, 0, message());
        assert_eq!(b.engine.status(b.now).said.0, said, "{early}");
    }
}
