//! Screens as pictures: each as text, followed by its cursor and its runs of style.

mod export;
mod files;
mod finder;
mod foot;
mod frames;
mod lane;
mod many_notes;
mod ports;
mod properties;
mod song_form;
mod stage;
mod tour;

use super::*;
use crate::axis::SIXTEENTH;
use crate::glance::Glance;
use crate::input::{Code, Key};
use crate::options::{Colours, Glyphs};
use crate::testing::{empty_song, four_parts, pass};
use chaconne_engine::{Config, Engine, Follow, OnLoss};
use chaconne_song::{Letter, Pass, Section, Track, TrackId, U7};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use stage::{Stage, text_of};
use std::fmt::Write;
use std::sync::Arc;
use std::time::Duration;

#[test]
fn a_new_song_is_drawn_stopped() {
    let mut stage = Stage::new(empty_song(4, "4/4"));
    stage.bench.disk.path = None;
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn the_chosen_bar_is_drawn_while_stopped() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::Right), Key::new(Code::Right)]);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn four_tracks_are_drawn_while_playing() {
    let mut stage = Stage::new(four_parts());
    stage.type_text(" ");
    stage.wait(4700);
    insta::assert_snapshot!("playing_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("playing_120x40", stage.picture(120, 40));
}

#[test]
fn an_unfinished_round_is_drawn_while_recording() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.unsaved = true;
    stage.press([Key::new(Code::Down)]);
    stage.type_text("0lr");
    for key in [45, 52, 57] {
        stage.wait(400);
        stage.bench.play(key, 90);
    }
    stage.wait(300);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn the_round_that_is_recorded_is_the_top_row_of_the_layers() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    stage.type_text("ehats");
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("0r");
    stage.wait(300);
    for key in [42, 46] {
        stage.bench.play(key, 90);
        stage.wait(400);
    }
    insta::assert_snapshot!("layers_recording_80x24", stage.text(80, 24));
    insta::assert_snapshot!("layers_recording_120x40", stage.text(120, 40));
}

#[test]
fn a_layer_that_another_replaces_is_marked() {
    let mut song = four_parts();
    let bar = 3840;
    let mut replaced = Pass::clone(&pass(15, 2, 4 * bar, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(bar))];
    song.lay(Letter::A, Arc::new(replaced));
    let mut punched = Pass::clone(&pass(16, 1, 4 * bar, &[(0, 60, 36, 90)]));
    punched.covers = vec![Span::new(Tick::ZERO, Tick(4 * bar))];
    song.lay(Letter::A, Arc::new(punched));
    let mut stage = Stage::new(song);
    insta::assert_snapshot!("layers_punched_120x40", stage.picture(120, 40));
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("layers_replaced_120x40", stage.picture(120, 40));
}

#[test]
fn lateness_is_shown_beside_the_ports_if_there_is_room() {
    let mut stage = Stage::new(four_parts());
    let timing = &mut stage.bench.timing;
    (timing.p50_ns, timing.p99_ns, timing.worst_ns) = (12_000, 140_000, 412_000);
    let line = |text: String| text.lines().find(|line| line.contains("keys ok")).map(String::from);
    let wide = line(stage.text(80, 24)).unwrap();
    assert!(wide.ends_with("p50 0.0, p99 0.1 ms late"), "{wide}");
    stage.bench.ports[0].name = "a very long name of a synth".into();
    let narrow = line(stage.text(70, 24)).unwrap();
    assert!(!narrow.contains("p99"), "{narrow}");
    stage.bench.timing.late = 2;
    let trouble = line(stage.text(90, 24)).unwrap();
    assert!(trouble.ends_with("2 late, worst 0.4 ms"), "{trouble}");
}

#[test]
fn the_save_key_is_always_shown() {
    let mut stage = Stage::new(four_parts());
    stage.bench.sound();
    for keys in ["", "p", " ", "r", "u"] {
        stage.type_text(keys);
        let text = stage.text(80, 24);
        assert!(text.contains("Ctrl-S save"), "{keys}: {text}");
    }
}

#[test]
fn a_count_in_is_drawn() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("2r");
    stage.wait(3200);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn a_count_in_to_another_bar_shows_where_the_take_will_begin() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::Right); 2]);
    stage.type_text("2r");
    stage.wait(3200);
    insta::assert_snapshot!("count_in_to_bar_3_80x24", stage.picture(80, 24));
    // Left of the mark there is no room for the words before bar 2.
    stage.type_text(" ");
    stage.press([Key::new(Code::Home), Key::new(Code::Right)]);
    stage.type_text("r");
    let text = stage.text(80, 24);
    let row = text.lines().find(|line| line.contains("count-in  1 2 3 4")).unwrap();
    let column = |sign: &str| row.find(sign).map(|byte| row[..byte].chars().count()).unwrap();
    assert!(row.contains("bar 1 of 2, then bar 2"), "{row}");
    let ruler = text.lines().find(|line| line.contains("│1") && line.contains("│2")).unwrap();
    let bar_2 = ruler[..ruler.find("│2").unwrap()].chars().count();
    assert_eq!(column("▼"), bar_2 + 1);
    assert!(column("count-in") > column("▼"));
    for (width, height) in [(60, 16), (40, 12)] {
        assert!(stage.text(width, height).contains("at bar 2"), "{width}x{height}");
    }
}

#[test]
fn a_count_in_to_a_bar_that_is_not_on_the_page_turns_to_it() {
    let mut song = empty_song(24, "4/4");
    song.tracks = four_parts().tracks;
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Right); 9]);
    stage.press([Key::new(Code::PageUp); 3]);
    assert!(stage.text(80, 24).contains("│1"));
    stage.type_text("1r");
    stage.wait(1000);
    let text = stage.text(80, 24);
    assert!(text.contains("then bar 10") && text.contains("▼") && text.contains("│10"), "{text}");
}

#[test]
fn every_zoom_is_drawn_from_bars_to_ticks() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("<<");
    insta::assert_snapshot!("zoomed_to_beats", stage.text(80, 24));
    stage.type_text("<<<<");
    stage.press([Key::new(Code::PageDown)]);
    insta::assert_snapshot!("zoomed_to_ticks", stage.text(80, 24));
    stage.type_text(">>>>>>>>>>>>");
    insta::assert_snapshot!("zoomed_to_bars", stage.text(80, 24));
}

#[test]
fn the_help_is_drawn_page_by_page() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("?");
    insta::assert_snapshot!("help_first_page", without_counts(&stage.picture(80, 24)));
    stage.press([Key::new(Code::End)]);
    insta::assert_snapshot!("help_last_page", without_counts(&stage.picture(80, 24)));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("v");
    stage.press([Key::new(Code::Down)]);
    stage.type_text("?x");
    insta::assert_snapshot!("help_about_a_setting", without_counts(&stage.picture(80, 24)));
}

/// A picture without the numbers in its first row, which change with every line of the help.
fn without_counts(picture: &str) -> String {
    let (first, rest) = picture.split_once('\n').unwrap();
    let plain: String = first.chars().filter(|c| !c.is_ascii_digit()).collect();
    let (text, styles) = rest.split_once("\ncursor").unwrap();
    // The caption is as long as its numbers.
    let styles: Vec<&str> = styles.lines().filter(|line| !line.starts_with("0: ")).collect();
    format!("{}\n{text}\ncursor{}", plain.trim_end_matches('─'), styles.join("\n"))
}

#[test]
fn piano_mode_is_drawn_on_every_size() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("p");
    stage.press([Key::new(Code::Left), Key::new(Code::Up)]);
    insta::assert_snapshot!("piano_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("piano_60x16", stage.picture(60, 16));
    insta::assert_snapshot!("piano_60x24", stage.text(60, 24));
    insta::assert_snapshot!("piano_40x24", stage.text(40, 24));
}

#[test]
fn forms_choices_and_questions_are_drawn_over_the_view() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("a");
    insta::assert_snapshot!("form_new_track", stage.picture(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("n");
    stage.press([Key::new(Code::Tab)]);
    stage.type_text("0");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("form_new_song_refused", stage.picture(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("v");
    stage.press([Key::new(Code::Right)]);
    insta::assert_snapshot!("feel", stage.picture(80, 24));
    stage.press([Key::new(Code::Enter)]);
    stage.bench.disk.unsaved = true;
    stage.type_text(" q");
    stage.wait(1000);
    insta::assert_snapshot!("question_before_leaving", stage.picture(80, 24));
}

#[test]
fn questions_about_files_name_the_file() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.rescue = Some("sketches/low-tide.rescue.ron".into());
    stage.wait(10);
    insta::assert_snapshot!("question_about_a_rescue_copy", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.press([Key::ctrl('s')]);
    stage.bench.disk.error = Some("sketches/low-tide.ron was changed by another program".into());
    stage.bench.disk.in_the_way.clone_from(&stage.bench.disk.error);
    stage.bench.disk.own = crate::OwnSave::Waits;
    stage.bench.disk.attempts += 1;
    stage.wait(10);
    insta::assert_snapshot!("question_before_replacing", stage.text(80, 24));
}

#[test]
fn the_rescue_question_says_what_is_left_without_the_copy() {
    for (song, exists, left) in [
        (four_parts(), true, "keep the song as it was saved"),
        (four_parts(), false, "keep the song as it is now"),
        (empty_song(4, "4/4"), false, "start empty"),
    ] {
        let mut stage = Stage::new(song);
        stage.bench.disk.exists = exists;
        stage.bench.disk.rescue = Some("low-tide.rescue.ron".into());
        stage.wait(10);
        let picture = stage.text(80, 24);
        assert!(picture.contains(&format!("delete the copy and {left} ")), "{picture}");
    }
}

#[test]
fn the_rescue_question_says_what_a_restore_takes_the_place_of() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.exists = true;
    stage.bench.disk.unsaved = true;
    stage.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    stage.wait(10);
    let picture = stage.text(80, 24);
    for words in ["what you did since opening is lost ", "keep the song as it is now "] {
        assert!(picture.contains(words), "{picture}");
    }
}

#[test]
fn sounds_are_drawn_by_name() {
    let mut song = four_parts();
    Arc::make_mut(&mut song.tracks[0]).program = U7::new(0);
    Arc::make_mut(&mut song.tracks[1]).program = U7::new(33);
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down)]);
    stage.type_text("i");
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("choice_of_a_sound", stage.picture(80, 24));
    stage.type_text("theremin");
    insta::assert_snapshot!("choice_of_an_unknown_sound", stage.picture(60, 16));
    stage.press([Key::new(Code::Esc)]);
    stage.press([Key::new(Code::Up)]);
    stage.type_text("i");
    insta::assert_snapshot!("choice_of_a_kit", stage.picture(40, 10));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("a");
    stage.press([Key::new(Code::BackTab)]);
    stage.type_text("ele p");
    insta::assert_snapshot!("form_new_track_with_a_sound", stage.picture(80, 24));
    stage.type_text("x");
    stage.press([Key::new(Code::Enter)]);
    insta::assert_snapshot!("form_new_track_refused", stage.picture(40, 16));
    stage.press([Key::new(Code::Esc)]);
    insta::assert_snapshot!("sounds_in_their_rows", stage.text(100, 24));
}

#[test]
fn a_question_offers_to_stop_only_what_plays() {
    let mut stage = Stage::new(four_parts());
    stage.bench.disk.unsaved = true;
    for (keys, saves) in [("q", "save and leave"), ("n", "save and start a new song")] {
        stage.type_text(keys);
        let picture = stage.picture(80, 24);
        assert!(picture.contains(saves) && !picture.contains("stop, "), "{picture}");
        stage.press([Key::new(Code::Esc)]);
    }
}

#[test]
fn a_choice_of_sections_is_drawn_and_leads_to_a_jump() {
    let mut song = four_parts();
    for letter in ["B", "C"] {
        let metre = MetreMap::new(2, Metre::common()).unwrap();
        let bare = Section::new(letter.parse().unwrap(), metre, Tempo::DEFAULT);
        let name = if letter == "B" { "Chorus" } else { "a very long name for a bridge" };
        song.sections.push(Arc::new(Section { name: name.into(), ..bare }));
    }
    song.form = "A A B A".parse().unwrap();
    let mut stage = Stage::new(song);
    stage.type_text(" ");
    stage.wait(100);
    stage.type_text("j");
    stage.press([Key::new(Code::Down)]);
    insta::assert_snapshot!("choice_of_a_section", stage.picture(80, 24));
    stage.press([Key::new(Code::Enter)]);
    stage.wait(500);
    let text = stage.text(80, 24);
    assert!(text.contains("A → B"), "{text}");
    stage.wait(9000);
    let text = stage.text(80, 24);
    assert!(text.contains(" B Chorus "), "{text}");
}

#[test]
fn trouble_is_reported_in_words() {
    let mut stage = Stage::new(four_parts());
    stage.bench.ports[1].state = crate::PortState::Lost;
    stage.bench.ports[1].detail = "looked for".into();
    stage.bench.timing =
        crate::Timing { worst_ns: 12_340_000, late: 3, ..crate::Timing::default() };
    stage.bench.disk.error = Some("low-tide.ron could not be written: no space left".into());
    stage.bench.disk.own = crate::OwnSave::Failed;
    stage.bench.disk.attempts = 1;
    stage.bench.disk.unsaved = true;
    stage.wait(10);
    insta::assert_snapshot!(stage.picture(80, 24));
}

#[test]
fn the_sound_is_drawn_on_the_rule_under_the_tracks() {
    let mut stage = Stage::new(four_parts());
    stage.type_text(" ");
    stage.wait(4700);
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-17.3, -20.0], [-12.4, -13.0]);
    insta::assert_snapshot!("sound_80x24", stage.picture(80, 24));
    stage.bench.sound().limited = Some(2.34);
    stage.type_text(")");
    insta::assert_snapshot!("sound_limited_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("sound_limited_120x40", stage.picture(120, 40));
}

#[test]
fn the_sound_fits_one_row_at_every_width_and_with_all_signs() {
    let mut stage = Stage::new(four_parts());
    let mut rows = String::new();
    let mut add = |stage: &mut Stage, what: &str, width: u16| {
        let text = stage.text(width, 24);
        let _ = writeln!(rows, "{what}\n{}", text.lines().nth(18).unwrap());
    };
    stage.bench.sound();
    add(&mut stage, "silent", 80);
    let sound = stage.bench.sound();
    (sound.peak, sound.held, sound.limited) = ([-24.0, -5.2], [-1.0, -4.9], Some(0.4));
    for width in [40, 49, 50, 59, 60, 72, 99, 100, 140] {
        add(&mut stage, &format!("{width} columns"), width);
    }
    stage.options.glyphs = Glyphs::Console;
    add(&mut stage, "on a console", 80);
    stage.options.glyphs = Glyphs::Ascii;
    add(&mut stage, "in ASCII", 80);
    stage.options.calm = true;
    add(&mut stage, "calm", 80);
    stage.bench.sound().level = Some(-17.5);
    add(&mut stage, "a level with a decimal", 80);
    stage.bench.sound().level = None;
    add(&mut stage, "off", 80);
    insta::assert_snapshot!(rows);
}

#[test]
fn a_meter_is_linear_in_decibels() {
    // 16 cells over 48 dB: 3 dB each. Worked out by hand.
    let mut stage = Stage::new(four_parts());
    for (peak, held, bar) in [
        (-48.0, -48.0, "────────────────"),
        (-45.0, -45.0, "█│──────────────"),
        (-24.0, -24.0, "████████│───────"),
        (-22.5, -22.5, "████████▌───────"),
        (-12.0, -3.0, "████████████───│"),
        (-1.0, -1.0, "███████████████▋"),
        (0.0, 0.0, "████████████████"),
        (40.0, f32::INFINITY, "████████████████"),
        (f32::NAN, -30.0, "──────│─────────"),
    ] {
        let sound = stage.bench.sound();
        (sound.peak, sound.held) = ([peak; 2], [held; 2]);
        let text = stage.text(80, 24);
        let row = text.lines().nth(18).unwrap();
        assert_eq!(row.matches(&format!(" {bar} ")).count(), 2, "{peak} {held}: {row}");
    }
}

#[test]
fn a_calm_meter_moves_with_the_bars() {
    let mut stage = Stage::new(four_parts());
    stage.options.calm = true;
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-20.0; 2], [-12.4; 2]);
    let before = Glance::new(&stage.bench.state(), true, SIXTEENTH);
    let sound = stage.bench.sound();
    (sound.peak, sound.held) = ([-14.0; 2], [-9.0; 2]);
    assert_eq!(Glance::new(&stage.bench.state(), true, SIXTEENTH), before);
    assert!(stage.text(80, 24).contains("L    -9 ─ R    -9 "));
    stage.bench.sound().held = [-70.0; 2];
    assert_ne!(Glance::new(&stage.bench.state(), true, SIXTEENTH), before);
}

#[test]
fn the_screen_can_be_drawn_in_ascii_without_colour() {
    let mut stage = Stage::new(four_parts());
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    stage.type_text(" ");
    stage.wait(4700);
    insta::assert_snapshot!(stage.picture(80, 24));
    assert!(stage.text(80, 24).is_ascii());
}

#[test]
fn a_calm_screen_changes_once_a_bar() {
    let mut stage = Stage::new(four_parts());
    stage.options.calm = true;
    stage.type_text(" ");
    stage.wait(2200);
    let before = stage.text(80, 24);
    stage.wait(1600);
    assert_eq!(stage.text(80, 24), before);
    stage.wait(400);
    assert_ne!(stage.text(80, 24), before);
}

#[test]
fn small_screens_are_drawn_and_say_if_they_are_too_small() {
    let mut stage = Stage::new(four_parts());
    stage.type_text(" ");
    stage.wait(1000);
    insta::assert_snapshot!("small_40x10", stage.picture(40, 10));
    insta::assert_snapshot!("too_small_39x9", stage.picture(39, 9));
    insta::assert_snapshot!("smallest_1x1", stage.picture(1, 1));
}

#[test]
fn names_are_visible_on_every_screen() {
    for bars in [1, 4, 8, 40] {
        let mut song = empty_song(bars, "4/4");
        let names = ["drums", "slide guitar"];
        let tracks = (1..).zip(names).map(|(id, name)| Track::pitched(TrackId(id), name));
        song.tracks = tracks.map(Arc::new).collect();
        let mut stage = Stage::new(song);
        for (width, height) in [(40, 10), (40, 24), (47, 15), (59, 30), (60, 10), (60, 15)] {
            let text = stage.text(width, height);
            assert!(text.contains("drums") && text.contains("slide"), "{bars}: {text}");
        }
    }
}

#[test]
fn the_smallest_screen_shows_whether_the_song_is_saved() {
    let mut stage = Stage::new(four_parts());
    let word = |stage: &mut Stage| {
        let text = stage.text(40, 10);
        let ruler = text.lines().nth(3).unwrap_or_default();
        ruler.split('│').next().unwrap_or_default().trim().to_string()
    };
    assert_eq!(word(&mut stage), "saved");
    stage.bench.disk.unsaved = true;
    assert_eq!(word(&mut stage), "not saved");
    stage.bench.disk.own = crate::OwnSave::Failed;
    assert_eq!(word(&mut stage), "save failed");
    // A save elsewhere that fails or is called off says nothing about the song's own file.
    stage.bench.disk = crate::Disk { path: Some("low-tide.ron".into()), ..crate::Disk::default() };
    stage.bench.disk.error = Some("ebb.ron already exists".into());
    assert_eq!(word(&mut stage), "saved");
    stage.bench.disk.in_the_way.clone_from(&stage.bench.disk.error);
    assert_eq!(word(&mut stage), "saved");
    stage.bench.disk = crate::Disk::default();
    assert_eq!(word(&mut stage), "");
}

#[test]
fn tracks_that_fit_with_rows_between_them_are_all_visible() {
    // Four tracks of two rows with a row between them are 11 rows, which a screen of 23 has.
    let text = Stage::new(four_parts()).text(79, 23);
    assert!(!text.contains(" of 4 ") && text.contains("  4 line "), "{text}");
}

#[test]
fn layers_are_listed_if_there_is_room_for_one() {
    let mut song = four_parts();
    song.tracks.truncate(3);
    song.lay(Letter::A, pass(30, 1, 2 * 3840, &[(0, 60, 49, 100)]));
    let mut stage = Stage::new(song);
    let text = stage.text(79, 23);
    let caption = " layers of drums, top first ─ 2 more layers below ";
    assert!(text.contains(caption), "{text}");
    assert!(text.contains(" 3 2 bars                        1 note\n"), "{text}");
    // With more room, all layers are listed.
    let text = stage.text(79, 25);
    assert!(text.contains("16 notes") && !text.contains("below"), "{text}");
}

#[test]
fn recording_that_waits_for_a_start_says_so() {
    let mut stage = Stage::new(four_parts());
    let follow = Follow { name: "desk".into(), on_loss: OnLoss::Keep };
    let config = Config { follow: Some(follow), ..Default::default() };
    let song = Arc::clone(stage.bench.engine.song());
    stage.bench.engine = Engine::new(song, config);
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("r");
    let text = stage.text(80, 24);
    assert!(text.contains(" STOPPED   at the next start "), "{text}");
    let least = stage.text(39, 9).replace('\n', " ");
    assert!(least.starts_with("STOPPED, recording at the next start. "), "{least}");
}

#[test]
fn timing_and_losses_are_one_plain_line() {
    let mut stage = Stage::new(four_parts());
    let mut row = |worst_ns, counts: [u64; 4], width| {
        let [queue_full, unheard, late, waiting] = counts;
        stage.bench.timing = crate::Timing {
            worst_ns,
            late,
            queue_full,
            waiting,
            unheard,
            ..crate::Timing::default()
        };
        let text = stage.text(width, 24);
        text.lines().nth(20).unwrap().split("keys ok").nth(1).unwrap().trim().to_string()
    };
    assert_eq!(row(40_000, [0; 4], 80), "");
    assert_eq!(row(140_000, [0; 4], 80), "");
    assert_eq!(row(12_340_000, [0, 0, 3, 0], 80), "3 late, worst 12.3 ms");
    assert_eq!(row(0, [0, 0, 0, 7], 80), "7 waiting");
    assert_eq!(row(140_000, [5, 2, 3, 0], 120), "5 lost, 2 not recorded, 3 late, worst 0.1 ms");
    assert_eq!(row(140_000, [5, 2, 3, 0], 80), "5 lost, 2 not recorded, 3 late");
    let huge = row(u64::MAX, [u64::MAX; 4], 80);
    assert!(huge.contains("lost"), "{huge}");
}

/// A screen that opens with these notices from the start.
fn after_notices(notices: &[&str]) -> Stage {
    let mut stage = Stage::new(four_parts());
    stage.options.notices = notices.iter().map(ToString::to_string).collect();
    stage.screen = Screen::new(&stage.options, &stage.bench.state());
    stage.follow(Vec::new());
    stage
}

#[test]
fn notices_from_the_start_are_shown_one_after_another() {
    let font = "the font '/home/ada/sounds/a font with a long name for a large piano.sf2' cannot \
                be read: it is cut off; the default sounds are used instead";
    let mut stage = after_notices(&["no audio device found; playing silently"]);
    let text = stage.text(80, 24);
    let sentence = "\n No audio device found; playing silently.\n";
    assert!(text.contains(sentence) && !text.contains("1 of"), "{text}");
    let mut stage = after_notices(&[font, "one", "two"]);
    insta::assert_snapshot!("notices_80x24", stage.picture(80, 24));
    for (width, height) in [(40, 10), (40, 24), (60, 15), (79, 23), (120, 40)] {
        let text = stage.text(width, height);
        assert!(text.contains("(1 of 3, in full when you leave)\n"), "{width}x{height}: {text}");
        assert!(text.contains("q quit"), "{width}x{height}: {text}");
    }
    // Each disappears after a while or with the next action, and the next one appears.
    stage.type_text("m");
    assert!(stage.text(80, 24).contains("One. (2 of 3)"));
    for (seconds, shown) in [(14, "One."), (1, "Two. (3 of 3)"), (15, "\n")] {
        stage.now += Duration::from_secs(seconds);
        stage.wait(10);
        let text = stage.text(80, 24);
        assert!(text.contains(shown), "{text}");
        assert_eq!(text.contains(" of 3)"), shown != "\n");
    }
}

#[test]
fn long_sections_show_the_page_that_plays() {
    let mut stage = Stage::new(empty_song(24, "4/4"));
    stage.type_text("a");
    stage.press([Key::new(Code::Enter)]);
    stage.type_text(" ");
    stage.wait(17_000);
    let text = stage.text(80, 24);
    assert!(text.contains("bars 9 to 12 of 24"), "{text}");
    stage.type_text(">>");
    assert!(stage.text(80, 24).contains("1 mark = 1/4"));
}

#[test]
fn names_of_every_width_keep_the_columns() {
    let names = ["低音提琴と太鼓の練習曲", "e\u{301}tude\u{200b}\u{202e}", "🎹🎹🎹", "a\tb", ""];
    let mut song = empty_song(4, "4/4");
    for (index, name) in (1..).zip(names) {
        song.tracks.push(Arc::new(Track::pitched(TrackId(index), name)));
    }
    song.title = "潮\u{200b}\u{7}の song".into();
    let mut stage = Stage::new(song);
    for (width, height, letters) in [(80, 24, 26), (120, 40, 33)] {
        let (buffer, _) = stage.draw(width, height);
        let heads: Vec<u16> = (0..height)
            .filter(|&y| (letters..letters + 3).all(|x| "ams ".contains(buffer[(x, y)].symbol())))
            .filter(|&y| buffer[(letters + 1, y)].symbol() == " ")
            .filter(|&y| buffer[(1, y)].symbol() == " " && buffer[(2, y)].symbol() != " ")
            .collect();
        assert_eq!(heads.len(), names.len(), "{}", text_of(&buffer));
        for y in 0..height {
            let row: usize = text_of(&buffer).lines().nth(y.into()).map_or(0, crate::text::width);
            assert!(row <= usize::from(width), "row {y}");
        }
    }
}

#[test]
fn the_layers_of_a_track_are_drawn() {
    let mut song = four_parts();
    let mut replaced = Pass::clone(&pass(15, 2, 3840, &[(0, 900, 57, 96)]));
    replaced.covers = vec![Span::new(Tick::ZERO, Tick(960))];
    song.lay(Letter::A, Arc::new(replaced));
    song.lay(Letter::A, pass(16, 2, 4 * 3840, &[(3000, 300, 60, 70), (6000, 300, 62, 80)]));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::Tab), Key::new(Code::Down)]);
    stage.type_text("m");
    insta::assert_snapshot!("layers_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("layers_120x40", stage.text(120, 40));
    insta::assert_snapshot!("layers_40x12", stage.text(40, 12));
}

#[test]
fn the_levels_of_the_tracks_are_drawn() {
    let mut song = four_parts();
    let levels = [(Some(127), Some(64)), (Some(100), Some(0)), (None, Some(127)), (Some(37), None)];
    for (track, (volume, pan)) in song.tracks.iter_mut().zip(levels) {
        let track = Arc::make_mut(track);
        let value = |value: Option<u8>| value.map(U7::low_bits);
        (track.levels.volume, track.levels.pan) = (value(volume), value(pan));
    }
    let bass = Arc::make_mut(&mut song.tracks[1]);
    (bass.program, bass.feel.grid) = (U7::new(33), "1/8 triplet".parse().ok());
    (bass.feel.pull, bass.feel.swing) = (60, "58.25".parse().unwrap());
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(5)), Key::new(Code::Down)]);
    insta::assert_snapshot!("levels_80x24", stage.picture(80, 24));
    insta::assert_snapshot!("levels_120x40", stage.text(120, 40));
    insta::assert_snapshot!("levels_40x12", stage.text(40, 12));
    stage.press([Key::new(Code::F(2))]);
    insta::assert_snapshot!("feel_on_the_tracks_80x24", stage.text(80, 24));
}

/// The bass, some of it moved and selected, shared with another section.
fn edited_notes() -> Stage {
    let mut song = four_parts();
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut section = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    section.layers.push(chaconne_song::Layer::of(chaconne_song::PassId(12)));
    song.sections.push(Arc::new(section));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text(".sbm");
    stage.press([Key::new(Code::Up), Key::new(Code::Right), Key::new(Code::Right)]);
    stage
}

#[test]
fn the_notes_of_a_layer_are_drawn() {
    let mut stage = edited_notes();
    for (width, height) in [(80, 24), (120, 40), (200, 60), (40, 12)] {
        let name = format!("notes_{width}x{height}");
        insta::assert_snapshot!(name, stage.picture(width, height));
    }
    stage.options.glyphs = Glyphs::Ascii;
    stage.options.colours = Colours::None;
    insta::assert_snapshot!("notes_ascii", stage.picture(80, 24));
}

#[test]
fn the_notes_of_drums_are_drawn_by_name() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(4))]);
    stage.type_text("y.");
    insta::assert_snapshot!("notes_of_drums", stage.picture(80, 24));
    stage.type_text("z");
    insta::assert_snapshot!("notes_of_every_drum", stage.picture(80, 24));
}

#[test]
fn the_lists_over_the_notes_are_drawn() {
    let mut stage = edited_notes();
    stage.type_text("e");
    insta::assert_snapshot!("notes_edit", stage.text(80, 24));
    stage.press([Key::new(Code::Esc)]);
    stage.type_text("s");
    insta::assert_snapshot!("notes_select", stage.text(40, 12));
}

#[test]
fn the_notes_of_a_longer_pass_are_drawn_with_the_round_that_plays() {
    let mut song = four_parts();
    let notes = [(0, 900, 40, 90), (4 * 3840, 900, 45, 90), (7 * 3840, 900, 47, 90)];
    song.lay(Letter::A, pass(15, 2, 8 * 3840, &notes));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::Down), Key::new(Code::F(4))]);
    stage.type_text(" ");
    // Into the second round.
    stage.wait(9000);
    insta::assert_snapshot!("notes_of_a_longer_pass", stage.text(80, 24));
}

#[test]
fn a_track_without_layers_says_which_key_records_one() {
    let mut song = four_parts();
    song.tracks.push(Arc::new(Track::pitched(TrackId(5), "pad")));
    let mut stage = Stage::new(song);
    stage.press([Key::new(Code::F(3)); 1].into_iter().chain([Key::new(Code::PageDown); 4]));
    assert!(stage.text(80, 24).contains("No layers yet: r records one."));
    stage.type_text("p");
    assert!(stage.text(80, 24).contains("No layers yet: Enter records one."));
}

#[test]
fn the_line_of_keys_of_the_layers_leads_to_other_tracks_at_80_columns() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(3))]);
    let text = stage.text(80, 24);
    for keys in ["PgUp PgDn track", "V layer feel", "Space play"] {
        assert!(text.contains(keys), "{keys}: {text}");
    }
}
