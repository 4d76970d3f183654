//! Old files of format 1: they read with their old meaning, and are saved in format 2.

use chaconne_song::{Layer, Letter, NoteId, PassId, Placed, Shape, Song, U7, text};
use chaconne_time::Tick;

const EVERY_FIELD: &str = include_str!("format-1/every-field.ron");
const DEMO: &str = include_str!("format-1/demo.ron");

#[test]
fn every_field_of_format_1_keeps_its_meaning() {
    let song = text::read(EVERY_FIELD).unwrap();
    assert_eq!(song.form.to_string(), "A A B A");
    let feel = song.tracks[0].feel;
    assert_eq!((feel.pull, feel.reach, feel.swing.hundredths()), (70, 80, 5625));
    let layers = [
        Layer { pass: PassId(3), mute: false },
        // In format 1 the mute belonged to the pass.
        Layer { pass: PassId(7), mute: true },
    ];
    assert_eq!(song.sections[0].layers, layers);
    assert!(song.sections[1].layers.is_empty());
    let drums = song.pass(PassId(3)).unwrap();
    let ids: Vec<NoteId> = drums.notes().iter().map(|note| note.id).collect();
    assert_eq!(ids, [4, 5, 6].map(NoteId));
    let placed = Placed {
        start: Some(Tick(1920)),
        length: Some(Tick(120)),
        key: U7::new(35),
        velocity: U7::new(96),
        release: U7::new(64),
    };
    assert_eq!(drums.notes()[2].placed, placed);
    let bass = song.pass(PassId(7)).unwrap();
    assert_eq!(bass.length, Tick(2880));
    assert!(bass.lanes().iter().flat_map(|lane| &lane.points).all(|p| p.shape == Shape::Step));
}

#[test]
fn format_1_files_are_saved_in_format_2_as_the_same_song() {
    for old in [EVERY_FIELD, DEMO] {
        assert!(old.starts_with("(\n    chaconne: 1,"));
        let song = text::read(old).unwrap();
        let new = text::write(&song);
        assert!(new.starts_with(&format!("(\n    chaconne: {},", Song::VERSION)));
        assert_eq!(text::read(&new).unwrap(), song);
        // Only the names of fields differ, so nothing in the file was lost.
        let renamed = old
            .replace("chaconne: 1", "chaconne: 2")
            .replace("passes: [", "layers: [")
            .replace("strength: ", "pull: ")
            .replace("window: ", "reach: ");
        assert_eq!(new, renamed);
    }
}

#[test]
fn the_demo_of_format_1_is_still_the_demo() {
    let (mut old, new) = (text::read(DEMO).unwrap(), include_str!("../../../assets/demo.ron"));
    // Format 1 numbered notes through the whole song; now each pass numbers its own.
    for pass in old.passes.values_mut() {
        let pass = std::sync::Arc::make_mut(pass);
        pass.notes_mut().notes.iter_mut().zip(1..).for_each(|(note, id)| note.id = NoteId(id));
    }
    assert_eq!(text::write(&old), new);
    assert!(old.section(Letter::A).is_some());
}
