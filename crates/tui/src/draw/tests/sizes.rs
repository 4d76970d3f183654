//! Screens of every size, with every set of signs, and calm ones.

use super::*;

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
    for (width, height, letters) in [(80, 24, 26), (120, 40, 19)] {
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
