//! What an outline says of chords, keys and ranges.

use super::*;
use crate::testing::{lay, section};
use chaconne_harmony::chart;
use chaconne_song::{Channel, Track, Transpose};
use chaconne_time::Metre;
use std::sync::Arc;

/// A verse of two bars with a line in C major, drums, and a chart.
fn song() -> Song {
    let mut verse = section("A", 2, Metre::common(), "100");
    verse.name = "Verse".into();
    verse.key = Some(KeySignature::C_MAJOR);
    verse.chords = chart("C F | G7 C/E", &verse.metre).unwrap();
    let mut song = Song::new("outline", verse);
    song.sections.push(Arc::new(section("B", 1, Metre::common(), "100")));
    for (id, name, pitched) in [(1, "Line", true), (2, "Drums", false), (3, "Rest", true)] {
        let mut track = Track::pitched(TrackId(id), name);
        track.pitched = pitched;
        track.channel = Channel::from_number(id as u8);
        song.tracks.push(Arc::new(track));
    }
    // Two beats of C, one each of F, G and E.
    let line = [(0, 1920, 60, 90), (1920, 960, 65, 90), (2880, 960, 55, 90), (3840, 960, 64, 90)];
    lay(&mut song, "A", 1, 7680, &line);
    lay(&mut song, "A", 2, 3840, &[(0, 100, 37, 90)]);
    song
}

fn outlined(song: &Song) -> String {
    outline(song, song.sections.iter().map(|section| &**section)).unwrap()
}

/// The correlations by hand, with numpy: the totals are C 2, E 1, F 1, G 1.
#[test]
fn an_outline_has_the_chart_the_likely_keys_and_the_range_of_each_part() {
    let expected = "section A Verse, 2 bars, C major\n  \
        chords        C F | G7 C/E\n  \
        notes suggest C major (0.92), F major (0.59), C minor (0.56)\n  \
        Line          G3 to F4\n\
        section B, 1 bar, no key set\n  \
        chords        none\n  \
        notes suggest no key\n";
    assert_eq!(outlined(&song()), expected);
}

#[test]
fn an_outline_is_as_it_sounds_and_spelled_for_the_key_that_sounds() {
    let mut song = song();
    song.transpose = Transpose::new(-1).unwrap();
    Arc::make_mut(&mut song.sections[0]).transpose = Transpose::new(2).unwrap();
    let text = outlined(&song);
    let lines: Vec<&str> = text.lines().take(4).collect();
    assert_eq!(lines[0], "section A Verse, 2 bars, Db major");
    assert_eq!(lines[1], "  chords        Db Gb | Ab7 Db/F");
    assert!(lines[2].starts_with("  notes suggest Db major (0.92)"), "{}", lines[2]);
    assert_eq!(lines[3], "  Line          Ab3 to Gb4");
}

#[test]
fn a_part_that_goes_beyond_its_compass_is_told_with_the_transposition_that_fits_best() {
    let mut song = song();
    let compass = |text: &str| text.parse().ok();
    // The line goes from G3 to F4.
    for (reached, line, advice) in [
        ("A3 to E5", ", beyond A3 to E5 by 2 below", "transposed by 2 it fits"),
        ("G#3 to E4", ", beyond G#3 to E4 by 1 below and 1 above", "no transposition fits better"),
        ("A3 to F4", ", beyond A3 to F4 by 2 below", "no transposition fits better"),
        ("C3 to C4", ", beyond C3 to C4 by 5 above", "transposed by -5 it fits"),
        ("E2 to B2", ", beyond E2 to B2 by 18 above", "transposed by -15 it is 3 semitones beyond"),
    ] {
        Arc::make_mut(&mut song.tracks[0]).compass = compass(reached);
        let text = outlined(&song);
        assert!(text.contains(&format!("  Line          G3 to F4{line}\n")), "{text}");
        let told = format!("Line goes beyond {reached} in A: {advice}\n");
        assert!(text.ends_with(&told), "{text}");
    }
    Arc::make_mut(&mut song.tracks[0]).compass = compass("G3 to F4");
    assert!(!outlined(&song).contains("beyond"));
}

#[test]
fn the_keys_of_a_song_are_outlined_as_written_as_transposed_and_as_they_sound() {
    let mut song = song();
    let expected = "no key set, sounds as written\n\
        section A Verse, 2 bars, C major\n  \
        written       C major\n  \
        notes suggest C major (0.92), F major (0.59), C minor (0.56)\n  \
        Line          G3 to F4\n\
        section B, 1 bar, no key set\n  \
        notes suggest no key\n";
    let keys =
        |song: &Song| key_outline(song, song.sections.iter().map(|section| &**section)).unwrap();
    assert_eq!(keys(&song), expected);
    (song.key, song.transpose) = (Some("A minor".parse().unwrap()), Transpose::new(-2).unwrap());
    Arc::make_mut(&mut song.sections[1]).transpose = Transpose::new(3).unwrap();
    Arc::make_mut(&mut song.tracks[0]).compass = Some("A3 to C5".parse().unwrap());
    let text = keys(&song);
    for line in [
        "written in A minor, transposed by -2, sounds in G minor\n",
        "section A Verse, 2 bars, Bb major\n",
        "section B, 1 bar, Bb minor\n",
        "  written       the song's key, transposed by 3\n",
        "  Line          F3 to Eb4, beyond A3 to C5 by 4 below\n",
        "Line goes beyond A3 to C5 in A: transposed by 4 it fits\n",
    ] {
        assert!(text.contains(line), "{line}{text}");
    }
    assert_eq!(
        compass_advice(&song).unwrap(),
        ["Line goes beyond A3 to C5 in A: transposed by 4 it fits"]
    );
}
