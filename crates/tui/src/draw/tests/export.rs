//! Exports as pictures.

use super::*;
use crate::desk::ExportRun;

#[test]
fn an_export_is_drawn_from_the_question_to_its_progress() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::ctrl('e')]);
    insta::assert_snapshot!("export_80x24", stage.picture(80, 24));
    stage.press([Key::new(Code::Right)]);
    insta::assert_snapshot!("export_wav_60x16", stage.text(60, 16));
    stage.press([Key::new(Code::Esc)]);
    let file = "from the rehearsal room, second take.wav".to_string();
    stage.bench.export.running = Some(ExportRun { file, percent: 43 });
    stage.wait(10);
    let mut rows = String::new();
    for width in [40, 60, 80, 140] {
        let text = stage.text(width, 24);
        let row = text.lines().find(|line| line.contains("43 %")).unwrap();
        assert!(crate::text::width(row) <= usize::from(width), "{row}");
        let _ = writeln!(rows, "{width} columns\n{row}");
    }
    stage.options.glyphs = Glyphs::Ascii;
    let text = stage.text(80, 24);
    let _ =
        writeln!(rows, "in ASCII\n{}", text.lines().find(|line| line.contains("43 %")).unwrap());
    insta::assert_snapshot!("export_progress", rows);
    stage.press([Key::ctrl('e')]);
    insta::assert_snapshot!("export_question", stage.text(80, 24));
}

#[test]
fn the_file_of_an_export_is_named_once() {
    let mut stage = Stage::new(four_parts());
    stage.press([Key::ctrl('e'), Key::new(Code::Enter)]);
    stage.bench.export.running = Some(ExportRun { file: "low-tide.mid".into(), percent: 43 });
    stage.wait(10);
    let named = |text: &str| text.matches("low-tide.mid").count();
    let text = stage.text(120, 40);
    assert!(text.contains("Exporting low-tide.mid.") && named(&text) == 1, "{text}");
    // When the message is gone, the bar has the name.
    stage.now += Duration::from_secs(20);
    stage.wait(10);
    let text = stage.text(120, 40);
    assert!(!text.contains("Exporting") && named(&text) == 1, "{text}");
}
