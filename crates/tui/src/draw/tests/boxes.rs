//! Forms, choices, questions and the help, over the view.

use super::*;

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
    for (keys, saves) in [("q", "save and quit"), ("n", "save and start a new song")] {
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
fn the_help_is_searched() {
    let mut stage = Stage::new(four_parts());
    stage.type_text("?/lane");
    insta::assert_snapshot!("help_search_typing", stage.picture(80, 24));
    stage.press([Key::new(Code::Enter)]);
    stage.type_text("n");
    insta::assert_snapshot!("help_search_next", stage.picture(80, 24));
}

fn with_a_groove() -> chaconne_song::Song {
    let mut song = four_parts();
    song.grooves.push(crate::testing::groove(90, "Sam"));
    song
}

/// The boxes that the keys of a view open.
fn boxes() -> Vec<(u8, &'static str)> {
    let of_loop = ["a", "n", "v", "e", "E", "i", "j", "/", "w", "N", "P"].map(|keys| (2, keys));
    let of_notes = ["e", "s", "B"].map(|keys| (4, keys));
    let of_form = ["s", "e", "F"].map(|keys| (6, keys));
    [&of_loop[..], &of_notes, &of_form].concat()
}

#[test]
fn every_box_shows_in_its_foot_how_to_leave_it() {
    for (view, keys) in boxes() {
        for (width, height) in [(80, 24), (120, 40), (40, 12)] {
            let mut song = with_a_groove();
            song.sections.push(Arc::new(Section::new(
                "B".parse().unwrap(),
                song.sections[0].metre.clone(),
                Tempo::DEFAULT,
            )));
            let mut stage = Stage::new(song);
            stage.press([Key::new(Code::F(view))]);
            stage.type_text(keys);
            assert!(stage.screen.overlays.top().is_some(), "F{view} {keys}");
            let text = stage.text(width, height);
            let foot = text.lines().rfind(|line| line.contains('└')).unwrap_or_default();
            let said = foot.contains("Esc back") || foot.contains("Esc close");
            assert!(said, "F{view} {keys} {width}x{height}: {text}");
            // The list of lanes has a hint in the same edge.
            let hinted = text.contains(" type a name, or the number of a controller ");
            assert_eq!(hinted, keys == "B" && width >= 80, "{text}");
        }
    }
}

#[test]
fn no_box_cuts_a_word_of_what_is_behind_it() {
    for (view, keys) in boxes() {
        for (width, height) in [(80, 24), (100, 30), (120, 40)] {
            let mut stage = Stage::new(with_a_groove());
            stage.press([Key::new(Code::F(view))]);
            let before = stage.text(width, height);
            stage.type_text(keys);
            let after = stage.text(width, height);
            let words = |line: &str| -> std::collections::BTreeSet<String> {
                let outside = |c: char| !c.is_alphanumeric();
                line.split(outside).filter(|word| !word.is_empty()).map(String::from).collect()
            };
            for (before, after) in before.lines().zip(after.lines()) {
                // What is left and right of the box.
                let sides = |line: &str| {
                    let ends = ['│', '┌', '└'];
                    let frame = line.find(ends)?;
                    let end = line.rfind(['│', '┐', '┘'])?;
                    Some((line[..frame].to_string(), line[end..].to_string()))
                };
                if !after.contains(['┌', '└']) {
                    continue;
                }
                let Some((left, right)) = sides(after) else { continue };
                let known = words(before);
                for word in words(&left).into_iter().chain(words(&right)) {
                    assert!(known.contains(&word), "F{view} {keys}: {word} of {before}");
                }
            }
        }
    }
}

#[test]
fn a_long_value_shows_that_it_is_cut_and_the_part_around_the_cursor() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(6))]);
    stage.type_text("H");
    stage.type_text("Cmaj7 Dm7 | Em7 Fmaj7 | G7 Am7 | Bm7b5 E7");
    let field = |stage: &mut Stage, width| {
        let (buffer, cursor) = stage.draw(width, 12);
        let text = text_of(&buffer);
        let row = text.lines().nth(cursor.unwrap().y.into()).unwrap().to_string();
        let value: String = row.trim_matches(['│', ' ']).trim_start_matches("chords").trim().into();
        (value, buffer[cursor.unwrap()].symbol().to_string())
    };
    assert_eq!(field(&mut stage, 40), ("…maj7 | G7 Am7 | Bm7b5 E7".into(), " ".into()));
    stage.press([Key::new(Code::Home)]);
    assert_eq!(field(&mut stage, 40), ("Cmaj7 Dm7 | Em7 Fmaj7 | …".into(), "C".into()));
    stage.press([Key::new(Code::Right); 20]);
    let (shown, under) = field(&mut stage, 40);
    assert!(shown.starts_with('…') && shown.ends_with('…') && under == "7", "{shown}, {under}");
    assert!(field(&mut stage, 80).0.starts_with("Cmaj7 Dm7 | Em7 Fmaj7 | G7 Am7 | Bm7b5 E7"));
}

#[test]
fn a_list_in_a_box_tells_how_much_of_it_is_left_out() {
    let mut song = four_parts();
    for letter in Letter::all().skip(1).take(15) {
        song.sections.push(Arc::new(Section { letter, ..Section::clone(&song.sections[0]) }));
    }
    let mut stage = Stage::new(song);
    stage.type_text(" j");
    stage.press([Key::new(Code::Down); 8]);
    let text = stage.text(80, 24);
    assert!(text.contains(" 3 more above ─┐") && text.contains("└─ 5 more below ─"), "{text}");
    // The head is still there.
    assert!(text.contains(" PLAYING "), "{text}");
    stage.press([Key::new(Code::Esc), Key::new(Code::F(6))]);
    let text = stage.text(40, 12);
    assert!(text.contains("\n↓D ") && !text.contains("\n↑"), "{text}");
    stage.press([Key::new(Code::End)]);
    let text = stage.text(40, 12);
    assert!(text.contains("\n↑M ") && text.contains("\n P ") && !text.contains("\n↓"), "{text}");
    assert!(stage.text(80, 24).contains("─ sections 10 to 16 of 16 ─"));
}

#[test]
fn the_chosen_word_of_a_choice_has_a_sign_in_ascii() {
    let mut stage = Stage::new(four_parts());
    stage.options.glyphs = Glyphs::Ascii;
    stage.type_text("a");
    stage.press([Key::new(Code::Tab)]);
    assert!(stage.text(80, 24).contains("* kind  *pitched  drums "), "{}", stage.text(80, 24));
    stage.press([Key::new(Code::Right)]);
    assert!(stage.text(80, 24).contains("* kind   pitched *drums "), "{}", stage.text(80, 24));
}
