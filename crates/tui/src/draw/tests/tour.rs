//! The tour as pictures: a strip that hides neither the loop nor the keys.

use super::stage::Stage;
use super::*;
use crate::Options;
use chaconne_engine::Command;

const ENTER: Key = Key::new(Code::Enter);

impl Stage {
    fn command(&mut self, command: Command) {
        self.bench.command(command);
        self.follow(Vec::new());
    }

    fn note(&mut self) {
        self.bench.play(60, 90);
        self.follow(Vec::new());
    }
}

/// The rows of the tour in a picture: from the one with its name on, as many as it has.
fn strip(picture: &str, rows: usize) -> String {
    let lines = picture.lines().skip_while(|line| !line.contains(" TOUR "));
    lines.take(rows).map(|line| format!("{line}\n")).collect()
}

/// Somebody without any device in a new song, on the tour, and its steps one after the other.
fn steps(mut look: impl FnMut(&mut Stage)) {
    let mut stage = Stage::new(empty_song(4, "4/4"));
    stage.bench.ports.clear();
    stage.press([Key::new(Code::F(8))]);
    look(&mut stage);
    stage.command(Command::AddTrack { name: "drums".into(), drums: true, program: None });
    stage.command(Command::Stop);
    look(&mut stage);
    for keys in [" ", "p"] {
        stage.type_text(keys);
        look(&mut stage);
    }
    stage.press([ENTER]);
    look(&mut stage);
    stage.note();
    look(&mut stage);
    stage.wait(8000);
    look(&mut stage);
    stage.press([ENTER]);
    look(&mut stage);
    stage.press([Key::new(Code::Backspace)]);
    look(&mut stage);
    stage.press([Key::ctrl('y')]);
    look(&mut stage);
}

#[test]
fn each_step_of_the_tour_fits_a_wide_screen_and_the_narrowest() {
    let (mut wide, mut narrow) = (String::new(), String::new());
    steps(|stage| {
        wide += &strip(&stage.text(80, 24), 2);
        narrow += &strip(&stage.text(40, 12), 3);
    });
    insta::assert_snapshot!("tour_steps_80", wide);
    insta::assert_snapshot!("tour_steps_40", narrow);
}

#[test]
fn no_word_of_the_tour_is_cut() {
    steps(|stage| {
        let words = stage.screen.tour_words(&stage.bench.state()).unwrap();
        for (width, height, rows) in [(40, 12, 3), (59, 16, 3), (79, 20, 2), (80, 24, 2)] {
            let shown = strip(&stage.text(width, height), rows);
            let shown: Vec<&str> = shown.split_whitespace().collect();
            let leave = if rows == 2 { "leaves the tour" } else { "leaves" };
            let whole =
                format!("{} {} {} {} {leave}", words.place, words.text, words.waits, words.leave);
            let whole: Vec<&str> = whole.split_whitespace().collect();
            assert_eq!(shown, whole, "{width}x{height}");
        }
    });
}

#[test]
fn the_tour_leaves_the_loop_and_the_keys_on_the_screen() {
    let mut stage = Stage::new(four_parts());
    stage.press([ENTER]);
    stage.type_text(" ");
    stage.press([Key::new(Code::F(8))]);
    insta::assert_snapshot!("tour_over_a_song", stage.picture(80, 24));
    stage.type_text("p");
    stage.press([ENTER]);
    insta::assert_snapshot!("tour_with_the_piano", stage.picture(80, 24));
    insta::assert_snapshot!("tour_with_the_piano_40", stage.picture(40, 12));
    for (options, name) in [
        (Options { colours: Colours::None, ..stage.options.clone() }, "tour_without_colours"),
        (
            Options { glyphs: Glyphs::Ascii, light: Some(true), ..stage.options.clone() },
            "tour_in_ascii_on_a_light_background",
        ),
    ] {
        stage.options = options;
        insta::assert_snapshot!(name, stage.picture(80, 24));
    }
}

#[test]
fn a_box_over_the_view_leaves_the_tour_on_the_screen() {
    let mut stage = Stage::new(empty_song(4, "4/4"));
    stage.press([Key::new(Code::F(8))]);
    stage.type_text("a");
    insta::assert_snapshot!("tour_under_a_form", stage.text(80, 24));
}
