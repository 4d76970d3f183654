//! What is said about ports, lateness, losses and files.

use super::*;

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
fn no_output_is_said_once() {
    let mut stage = Stage::new(four_parts());
    stage.bench.ports[0].name = "none".into();
    stage.bench.ports[0].state = crate::PortState::None;
    let text = stage.text(80, 24);
    let row = text.lines().find(|line| line.contains("no output")).unwrap();
    assert_eq!(row, " no output   in stage keys ok");
    // A name of its own is shown, with what it does.
    stage.bench.ports[0].name = "bells".into();
    assert!(stage.text(80, 24).contains(" out bells silent   in stage keys ok"));
}
