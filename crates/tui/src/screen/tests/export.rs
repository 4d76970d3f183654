//! Exports: what is asked for, and how they end.

use super::*;
use crate::desk::{ExportOutcome, ExportRun};

impl Player {
    /// An export ends.
    fn exported(&mut self, outcome: ExportOutcome) {
        self.bench.export.running = None;
        self.bench.export.ended += 1;
        self.bench.export.outcome = outcome;
        self.follow();
    }
}

const EXPORT: &str = "Export(ExportSpec { kind: Midi, file: \"low-tide.mid\", tracks: false, \
                      replace: false })";

#[test]
fn an_export_is_asked_for_and_reported_while_the_song_plays() {
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    player.press([Key::ctrl('e')]);
    player.enter();
    assert_eq!(player.last(), EXPORT);
    assert!(player.screen.overlays.top().is_none());
    player.exported(ExportOutcome::Written("Exported low-tide.mid.".into()));
    assert_eq!(player.screen.notice.text, "Exported low-tide.mid.");
    assert_eq!(player.bench.state().status.transport, Transport::Rolling);
    player.exported(ExportOutcome::Failed("the disk is full".into()));
    assert_eq!(player.screen.notice.text, "The disk is full.");
    assert!(player.screen.notice.wrong);
}

#[test]
fn a_file_is_replaced_only_after_a_question() {
    let mut player = Player::new(four_parts());
    for answer in ["", "r"] {
        player.press([Key::ctrl('e')]);
        player.enter();
        player.exported(ExportOutcome::InTheWay("low-tide.mid already exists".into()));
        assert_eq!(player.screen.scene(), crate::keymap::Scene::Replace);
        assert_eq!(player.screen.notice.text, "", "it is not decided yet");
        match answer {
            "" => {
                player.press([Key::new(Code::Esc)]);
                assert_eq!(player.screen.notice.text, "Not exported.");
            }
            key => player.type_text(key),
        }
    }
    assert_eq!(player.last(), EXPORT.replace("replace: false", "replace: true"));
    let asked = player.effects.iter().filter(|effect| matches!(effect, Effect::Export(_)));
    assert_eq!(asked.count(), 3, "Escape exports nothing");
    // The file changed between the question and the answer: it is asked about again.
    player.exported(ExportOutcome::InTheWay("low-tide.mid already exists".into()));
    assert_eq!(player.screen.scene(), crate::keymap::Scene::Replace);
    player.type_text("r");
    let asked = player.effects.iter().filter(|effect| matches!(effect, Effect::Export(_)));
    assert_eq!(asked.count(), 4);
}

#[test]
fn an_export_that_runs_can_be_cancelled_and_is_asked_about_before_leaving() {
    let mut player = Player::new(four_parts());
    player.bench.export.running = Some(ExportRun { file: "low-tide.wav".into(), percent: 40 });
    player.follow();
    player.type_text("q");
    assert!(matches!(player.screen.overlays.top(), Some(Overlay::Question(Question::Leave(_)))));
    player.press([Key::new(Code::Esc), Key::ctrl('e'), Key::new(Code::Esc), Key::ctrl('e')]);
    assert_eq!(player.last(), "");
    player.type_text("x");
    assert_eq!(player.last(), "CancelExport");
    player.press([Key::ctrl('e')]);
    player.exported(ExportOutcome::Nothing);
    assert!(player.screen.overlays.top().is_none(), "nothing is left to cancel");
    assert_eq!(player.screen.notice.text, "Export cancelled: no file was written.");
}
