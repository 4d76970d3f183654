//! Forms: what they propose, what typing changes, and what they refuse.

use super::*;
use crate::start::Start;
use crate::testing::four_parts;
use chaconne_song::{Letter, Section, Track, TrackId};
use chaconne_song::{Song, Transpose};
use chaconne_time::{Metre, MetreMap, NoteKind, NoteValue, Tempo};
use std::sync::Arc;

fn type_text(form: &mut Form, text: &str) {
    text.chars().for_each(|c| form.type_key(&Key::char(c)));
}

fn song() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    Song::new("x", Section::new(Letter::A, metre, Tempo::DEFAULT))
}

#[test]
fn a_new_song_is_four_bars_at_120_by_default() {
    let Some(Filled::NewSong(spec)) = Form::new_song().accept() else { panic!() };
    assert_eq!((spec.title.as_str(), spec.bars), ("untitled", 4));
    assert_eq!((spec.metre.to_string(), spec.tempo.to_string()), ("4/4".into(), "120".into()));
}

#[test]
fn what_a_song_starts_from_proposes_its_time_unless_another_was_typed() {
    let mut form = Form::new_song();
    form.focus = 3;
    type_text(&mut form, "76");
    form.focus = START;
    type_text(&mut form, "p");
    assert_eq!(form.hint(START), "piano in 6/8");
    let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
    assert_eq!((spec.start, spec.bars, spec.metre.to_string().as_str()), (Start::Piano, 8, "6/8"));
    // 76 dotted quarters are 114 quarters.
    assert_eq!(spec.tempo.to_string(), "114");
    assert_eq!(spec.song().unwrap().tracks.len(), 1);
    form.adjust(Side::Left);
    let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
    assert_eq!((spec.start, spec.bars), (Start::Rhythm, 4));
}

#[test]
fn the_key_of_a_transposed_song_is_written_and_said_to_sound_in_another() {
    let mut song = song();
    song.key = "D major".parse().ok();
    assert_eq!(Form::edit_song(&song).hint(1), "e.g. A minor; may be empty");
    song.transpose = Transpose::new(-2).unwrap();
    let mut form = Form::edit_song(&song);
    assert_eq!(
        (form.text(1).as_str(), form.hint(1).as_str()),
        ("D major", "written; sounds in C major")
    );
    // What is typed counts at once, a key to go to, too.
    form.focus = 2;
    form.clear();
    type_text(&mut form, "to E major");
    assert_eq!(form.hint(1), "written; sounds in E major");

    // A section is transposed besides the song, and without a key of its own has the song's.
    let mut section = Section::clone(&song.sections[0]);
    section.transpose = Transpose::new(5).unwrap();
    let form = Form::edit_section(&song, &section);
    let key = form.fields.iter().position(|field| field.label == "key").unwrap();
    assert_eq!(form.hint(key), "empty: the song's; sounds in F major");
    section.key = "A minor".parse().ok();
    let form = Form::edit_section(&song, &section);
    assert_eq!(
        (form.text(key).as_str(), form.hint(key).as_str()),
        ("A minor", "written; sounds in C minor")
    );
    section.transpose = Transpose::new(2).unwrap();
    assert_eq!(Form::edit_section(&song, &section).hint(key), "e.g. A minor; empty: the song's");
}

#[test]
fn a_tempo_counts_what_the_metre_counts() {
    let mut form = Form::new_song();
    assert_eq!(form.hint(3), "BPM");
    form.focus = 2;
    type_text(&mut form, "6/8");
    assert_eq!(form.hint(3), "BPM, dotted quarters");
    form.step(Vertical::Down);
    type_text(&mut form, "80");
    let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
    // 80 dotted quarters are 120 quarters.
    assert_eq!(spec.tempo.to_string(), "120");
    // A section that counts eighths keeps its unit and its exact tempo.
    let eighth = NoteValue::new(8, NoteKind::Straight).unwrap();
    let metre = "6/8".parse::<Metre>().unwrap().with_tempo_unit(eighth);
    let tempo = Tempo::from_micros(700_001).unwrap();
    let section = Section::new(Letter::A, MetreMap::new(2, metre.clone()).unwrap(), tempo);
    let song = Song::new("eighths", section.clone());
    let mut form = Form::edit_section(&song, &section);
    assert_eq!((form.text(4), form.hint(4)), ("171.428".into(), "BPM, 1/8 notes".into()));
    let Some(Filled::Section(spec)) = form.accept() else { panic!() };
    assert_eq!((spec.metre, spec.tempo), (MetreMap::new(2, metre).unwrap(), tempo));
}

#[test]
fn a_metre_field_takes_a_pickup_and_changes_and_keeps_how_long_the_section_is() {
    let metre = "4/4".parse::<Metre>().unwrap().grouped(vec![3, 1]).unwrap();
    let section = Section::new(Letter::A, MetreMap::new(4, metre).unwrap(), Tempo::DEFAULT);
    let song = Song::new("pickup", section.clone());
    let changed = |section: &Section, bars: &str, metre: &str| {
        let mut form = Form::edit_section(&song, section);
        for (field, typed) in [(2, bars), (3, metre)] {
            form.focus = field;
            form.clear();
            type_text(&mut form, typed);
        }
        match form.accept() {
            Some(Filled::Section(spec)) => Ok(spec.metre),
            _ => Err(form.error.unwrap_or_default()),
        }
    };
    let map = changed(&section, "4", "pickup 1/4, 4/4").unwrap();
    assert_eq!((map.bars(), map.length()), (5, section.length()));
    assert_eq!(map.metre_of(2).groups(), [3, 1], "the grouping stays");
    let pickup = Section::new(Letter::A, map.clone(), Tempo::DEFAULT);
    assert_eq!(Form::edit_section(&song, &pickup).text(3), "pickup 1/4, 4/4");
    assert_eq!(changed(&pickup, "5", "pickup 1/4, 4/4"), Ok(map));
    assert_eq!(changed(&pickup, "5", "4/4"), Ok(section.metre.clone()));
    let longer = changed(&pickup, "7", "pickup 1/4, 4/4").unwrap();
    assert_eq!((longer.bars(), longer.length().0 - section.length().0), (7, 2 * 3840));
    // A tempo that is left alone stays, and beside it stands what the new metre calls it.
    let mut form = Form::edit_section(&song, &section);
    form.focus = 3;
    form.clear();
    type_text(&mut form, "6/8");
    assert_eq!((form.text(4).as_str(), form.hint(4).as_str()), ("120", "= 80 dotted quarters"));
    let Some(Filled::Section(spec)) = form.accept() else { panic!() };
    assert_eq!(spec.tempo, section.tempo.first());
    let late = changed(&section, "4", "4/4, 7/8 from 3").unwrap();
    assert_eq!(late.length().0, 2 * 3840 + 2 * 3360);
    let error = changed(&section, "4", "4/4, 7/8").unwrap_err();
    assert_eq!(error, "'7/8' needs a bar to begin at: write 7/8 from 5.");
}

#[test]
fn typing_replaces_a_proposal_and_editing_keeps_it() {
    let mut form = Form::new_song();
    type_text(&mut form, "Tide");
    form.step(Vertical::Down);
    form.type_key(&Key::new(Code::End));
    type_text(&mut form, "0");
    let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
    assert_eq!((spec.title.as_str(), spec.bars), ("Tide", 40));
}

#[test]
fn a_field_is_cleared_as_a_whole() {
    let mut form = Form::new_track(&song(), &Kits::Any);
    form.adjust(Side::Left);
    form.clear();
    type_text(&mut form, "Horn");
    form.type_key(&Key::new(Code::Home));
    type_text(&mut form, "French ");
    assert_eq!(form.text(0), "French Horn");
    form.clear();
    assert_eq!(form.accept(), None);
    assert_eq!(form.error.as_deref(), Some("The track needs a name."));
    // The kind of track cannot be cleared, and still follows the name.
    form.step(Vertical::Down);
    form.clear();
    form.step(Vertical::Up);
    type_text(&mut form, "Drum");
    assert_eq!(
        form.accept(),
        Some(Filled::NewTrack { name: "Drum".into(), drums: true, program: U7::new(0) })
    );
}

#[test]
fn an_error_is_explained_and_its_field_gets_the_focus() {
    let cases = [
        (1, "0", "'0' is not a bar count: use a whole number from 1 to 999."),
        (
            2,
            "4/3",
            "'4/3' is not a metre: write it as 4/4, with 1 to 64 beats over 1, 2, 4, 8, 16 or 32.",
        ),
        (3, "9", "Tempo 9 is outside 10 to 1000 quarter notes per minute."),
        (0, " ", "The song needs a title."),
    ];
    for (field, text, error) in cases {
        let mut form = Form { focus: field, ..Form::new_song() };
        type_text(&mut form, text);
        form.step(Vertical::Down);
        assert_eq!(form.accept(), None);
        assert_eq!((form.focus, form.error.as_deref()), (field, Some(error)));
        form.type_key(&Key::new(Code::Home));
        assert_eq!(form.error, None);
    }
}

#[test]
fn a_new_track_is_named_after_the_first_missing_part() {
    let mut song = song();
    let drums = Filled::NewTrack { name: "drums".into(), drums: true, program: U7::new(0) };
    assert_eq!(Form::new_track(&song, &Kits::Any).accept(), Some(drums));
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "drums")));
    let mut form = Form::new_track(&song, &Kits::Any);
    form.step(Vertical::Down);
    form.adjust(Side::Right);
    let bass = Filled::NewTrack { name: "bass".into(), drums: true, program: U7::new(0) };
    assert_eq!(form.accept(), Some(bass));
    form.type_key(&Key::char('p'));
    assert!(matches!(form.accept(), Some(Filled::NewTrack { drums: false, .. })));
}

#[test]
fn the_kind_of_a_new_track_follows_its_name_until_it_is_chosen() {
    let mut form = Form::new_track(&song(), &Kits::Any);
    type_text(&mut form, "Bass");
    let bass = |drums| {
        let program = U7::new(if drums { 0 } else { 33 });
        Some(Filled::NewTrack { name: "Bass".into(), drums, program })
    };
    assert_eq!(form.accept(), bass(false));
    form.step(Vertical::Down);
    form.adjust(Side::Right);
    form.step(Vertical::Up);
    assert_eq!(form.accept(), bass(true));
    type_text(&mut form, "es");
    assert!(matches!(form.accept(), Some(Filled::NewTrack { drums: true, .. })));
}

/// The program that the form gives, from 1.
fn program(form: &mut Form) -> Option<u8> {
    match form.accept() {
        Some(Filled::NewTrack { program, .. }) => program.map(|program| program.get() + 1),
        other => panic!("{other:?}: {:?}", form.error),
    }
}

#[test]
fn the_sound_of_a_new_track_follows_its_name_until_it_is_given() {
    let mut form = Form::new_track(&song(), &Kits::Any);
    for (name, number, sound, hint) in [
        ("drums", Some(1), "Drum kit", "program 1"),
        ("BASS", Some(34), "Electric Bass (finger)", "program 34"),
        ("strings", Some(49), "String Ensemble 1", "program 49"),
        ("track 5", None, "none", "a General MIDI name, or 1 to 128"),
    ] {
        form.clear();
        type_text(&mut form, name);
        assert_eq!((form.text(SOUND).as_str(), form.hint(SOUND).as_str()), (sound, hint));
        assert_eq!(program(&mut form), number, "{name}");
    }
    form.step(Vertical::Up);
    type_text(&mut form, "cel");
    assert_eq!(form.hint(SOUND), "9 Celesta");
    type_text(&mut form, "lo");
    assert_eq!(form.hint(SOUND), "program 43");
    form.step(Vertical::Down);
    form.clear();
    type_text(&mut form, "bass");
    assert_eq!(program(&mut form), Some(43));
    form.step(Vertical::Up);
    form.clear();
    assert_eq!(program(&mut form), None);
}

#[test]
fn a_form_refuses_an_unknown_sound() {
    let mut form = Form::new_track(&song(), &Kits::Any);
    form.clear();
    type_text(&mut form, "bass");
    form.step(Vertical::Up);
    form.paste("theremin");
    form.step(Vertical::Up);
    assert_eq!(form.hint(SOUND), "no such sound");
    assert_eq!(form.accept(), None);
    let said = "'theremin' is not a sound: type a name, 1 to 128, or none.";
    assert_eq!((form.focus, form.error.as_deref()), (SOUND, Some(said)));
    form.clear();
    form.paste("128");
    assert_eq!(program(&mut form), Some(128));
}

#[test]
fn a_name_that_is_too_long_is_refused() {
    let mut form = Form::new_track(&song(), &Kits::Any);
    form.paste(&"n".repeat(65));
    assert_eq!(form.accept(), None);
    assert_eq!(form.error.as_deref(), Some("The name is too long: use at most 64 characters."));
    form.type_key(&Key::new(Code::Backspace));
    assert!(form.accept().is_some());
}

#[test]
fn a_file_name_comes_from_the_title() {
    for (title, file) in
        [("Low Tide!", "low-tide.ron"), ("../..", "untitled.ron"), ("潮", "潮.ron")]
    {
        assert_eq!(Form::save_as(title).accept(), Some(Filled::SaveAs(file.into())));
    }
}

#[test]
fn saving_to_another_file_proposes_the_next_name_in_a_series() {
    for (path, next) in [
        ("tide.ron", "tide-2.ron"),
        ("sketches/tide-2.ron", "sketches/tide-3.ron"),
        ("take-the-9.ron", "take-the-10.ron"),
        ("tide-4294967295.ron", "tide-4294967295-2.ron"),
        ("tide.txt", "tide.txt-2"),
    ] {
        let typed = match &Form::save_beside(path).fields[0].value {
            Value::Text(line) => line.text(),
            Value::Choice { .. } => panic!("a name is typed"),
        };
        assert_eq!(typed, next);
    }
}

#[test]
fn a_proposal_is_deleted_as_a_whole_unless_the_cursor_moved_in_it() {
    for (moved, deleted, left) in [
        (None, Code::Backspace, ""),
        (None, Code::Delete, ""),
        (Some(Code::Left), Code::Delete, "untitle"),
        (Some(Code::End), Code::Backspace, "untitle"),
        (Some(Code::Home), Code::Delete, "ntitled"),
    ] {
        let mut form = Form::new_song();
        for code in moved.into_iter().chain([deleted]) {
            form.type_key(&Key::new(code));
        }
        assert_eq!(form.text(0), left, "{moved:?} {deleted:?}");
    }
}

#[test]
fn lines_are_bounded_and_edited_in_the_middle() {
    let mut form = Form::save_as("x");
    form.paste(&"y".repeat(5000));
    assert_eq!(form.text(0).len(), Line::LONGEST);
    let mut form = Form::save_as("x");
    form.paste("ab");
    form.adjust(Side::Left);
    type_text(&mut form, "漢");
    let Value::Text(line) = &form.fields[0].value else { panic!() };
    assert_eq!((line.text().as_str(), line.column()), ("a漢b", 3));
    form.type_key(&Key::new(Code::Delete));
    form.type_key(&Key::new(Code::Backspace));
    form.type_key(&Key::new(Code::Backspace));
    form.type_key(&Key::new(Code::Backspace));
    assert_eq!(form.text(0), "");
}

/// The transposition that a song's form gives for these texts of key and transposition, or what is wrong.
fn transposed(key: &str, to: &str) -> Result<i8, String> {
    let mut form = Form::edit_song(&four_parts());
    for (field, text) in [(1, key), (2, to)] {
        form.fields[field].value = Value::Text(Line::whole(text));
    }
    match form.accept() {
        Some(Filled::Song(spec)) => Ok(spec.transpose.semitones()),
        _ => Err(form.error.unwrap_or_default()),
    }
}

#[test]
fn a_transposition_is_a_number_or_a_key() {
    assert_eq!(transposed("", "-3"), Ok(-3));
    assert_eq!(transposed("A minor", "to F minor"), Ok(-4));
    assert_eq!(transposed("G major", "Bb major"), Ok(3));
    let wrong = |key, to| transposed(key, to).unwrap_err();
    assert!(wrong("", "to F minor").contains("fill in the key"));
    assert!(wrong("A minor", "to F major").contains("choose a minor key"));
    assert!(wrong("A minor", "37").contains("-36 to 36 semitones"));
    // A section without a key of its own goes from that of the song.
    let mut song = four_parts();
    song.key = Some("A minor".parse().unwrap());
    let mut form = Form::edit_section(&song, &song.sections[0]);
    form.fields[6].value = Value::Text(Line::whole("to C minor"));
    let Some(Filled::Section(spec)) = form.accept() else { panic!("{:?}", form.error) };
    assert_eq!((spec.transpose.semitones(), spec.key), (3, None));
}

#[test]
fn a_section_goes_to_a_key_in_which_it_then_sounds_whatever_the_song_is_transposed_by() {
    let mut song = Song::new(
        "to a key",
        Section::new(Letter::A, MetreMap::new(1, Metre::common()).unwrap(), Tempo::DEFAULT),
    );
    (song.key, song.transpose) = ("C major".parse().ok(), Transpose::new(-2).unwrap());
    let section = song.sections[0].clone();
    let mut form = Form::edit_section(&song, &section);
    form.focus = 6;
    form.clear();
    type_text(&mut form, "to Eb major");
    assert_eq!(form.hint(5), "empty: the song's; sounds in Eb major");
    let Some(Filled::Section(spec)) = form.accept() else { panic!() };
    assert_eq!(spec.transpose.semitones(), 5);
}
