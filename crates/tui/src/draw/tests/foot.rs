//! The line of keys of every view and mode, on screens of every width.

use super::*;
use crate::keymap::table;

/// The entries of the line of keys.
fn entries(stage: &mut Stage, width: u16, height: u16) -> Vec<String> {
    let text = stage.text(width, height);
    let rows = Frame::of(&stage.screen).foot.keys;
    let lines: Vec<&str> = text.lines().collect();
    let shown = rows.filter_map(|row| lines.get(usize::from(row)).copied());
    shown.flat_map(|line| line.trim().split("  ").map(String::from)).collect()
}

#[test]
fn the_line_of_keys_has_whole_words_what_a_view_is_for_and_the_way_out() {
    let f = |number| vec![Key::new(Code::F(number))];
    let mode = |key: char| vec![Key::new(Code::F(4)), Key::char(key)];
    let places: [(&str, Vec<Key>, &[&str]); 11] = [
        ("loop", f(2), &["Space play", "r record"]),
        ("layers", f(3), &["↑ ↓ layer", "m mute"]),
        ("notes", f(4), &["arrows cursor", "d draw"]),
        ("moving notes", mode('m'), &["← → time", "↑ ↓ pitch", "Esc done"]),
        ("lengths", mode('h'), &["← → length", "Esc done"]),
        ("velocities", mode('H'), &["↑ ↓ velocity", "Esc done"]),
        ("lane", mode('b'), &["← → cursor", "Esc done"]),
        ("levels", f(5), &["← → volume", ", . pan"]),
        ("form", f(6), &["↑ ↓ section", "Enter go"]),
        ("ports", f(7), &["z reset figures"]),
        ("piano", vec![Key::char('p')], &["Esc end piano"]),
    ];
    let labels: Vec<&str> = table().map(|row| row.label).collect();
    for (name, keys, wanted) in places {
        let mut stage = Stage::new(four_parts());
        stage.press(keys);
        for (width, height) in [(80, 24), (60, 16), (40, 12), (40, 24), (53, 20), (120, 40)] {
            let entries = entries(&mut stage, width, height);
            for wanted in wanted {
                let is_there = entries.iter().any(|entry| entry == wanted);
                assert!(is_there, "{name} {width}x{height}: no {wanted} in {entries:?}");
            }
            let is_help = |entry: &String| entry == "? all keys" || entry == "? help";
            assert!(entries.iter().any(is_help), "{name} {width}: {entries:?}");
            for entry in &entries {
                let is_whole = labels.iter().any(|label| entry.ends_with(&format!(" {label}")));
                assert!(is_whole, "{name} {width}x{height}: {entry}");
            }
        }
    }
}

#[test]
fn the_key_that_turned_the_arrows_makes_room_for_others() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::new(Code::F(4))]);
    assert!(entries(&mut stage, 80, 24).contains(&"m move".to_string()));
    stage.type_text("m");
    let entries = entries(&mut stage, 80, 24);
    assert!(!entries.contains(&"m move".to_string()), "{entries:?}");
    assert!(entries.contains(&"h length".to_string()), "{entries:?}");
}

#[test]
fn a_key_that_does_nothing_leaves_the_line_of_keys_as_it_is() {
    for view in [2, 3, 4, 5, 6, 7] {
        let mut stage = Stage::new(four_parts());
        stage.press([Key::new(Code::F(view))]);
        let before = stage.text(80, 24);
        let keys = |text: &str| text.lines().skip(22).map(String::from).collect::<Vec<_>>();
        for key in "bdxyzZBM78".chars() {
            let mut stage = Stage::new(four_parts());
            stage.press([Key::new(Code::F(view)), Key::char(key)]);
            let text = stage.text(80, 24);
            if stage.screen.notice.hint {
                assert_eq!(keys(&text), keys(&before), "F{view} {key}");
                let row = text.lines().nth(21).unwrap();
                assert!(row.ends_with('.') || row.contains("undo:"), "F{view} {key}: {row}");
            }
        }
    }
    let mut stage = Stage::new(four_parts());
    stage.type_text("b");
    let shown = " b: nothing here. Layers F3: merge; notes F4: lane; form F6: add entry.";
    assert!(stage.text(80, 24).contains(shown), "{}", stage.text(80, 24));
}
