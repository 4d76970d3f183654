//! The last message, from the engine or the screen, and how long it stays.
//!
//! In: sentences, and the time. Out: the one to show. Notices of the start are shown one after
//! another; a new message comes first. A notice disappears with the next action or after a while.

use super::Screen;
use crate::keymap::Scene;
use crate::text;
use std::time::Duration;

/// How long a notice stays: time to look up from the instrument and read two lines.
const STAYS: Duration = Duration::from_secs(8);
/// How long a notice stays if something went wrong.
const WRONG_STAYS: Duration = Duration::from_secs(15);
/// The longest notice of the start that a screen of 80 columns shows whole, in its two rows.
const ROOM: usize = 120;

/// One notice.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Notice {
    /// One sentence.
    pub text: String,
    /// Whether something went wrong.
    pub wrong: bool,
    /// Its number among several, and where to read all of it; never cut, empty if there is nothing
    /// to say.
    pub more: String,
    /// Whether it is only a hint: as much of it is shown as fits into its row.
    pub hint: bool,
}

/// Whether the screen shows all of a notice of the start. The shell prints a cut one in full
/// afterwards.
pub fn is_shown_whole(notice: &str) -> bool {
    text::width(&text::sentence(notice)) <= ROOM
}

impl Notice {
    /// The notices of the start, in order.
    pub(super) fn of_start(notices: &[String]) -> impl Iterator<Item = Notice> {
        let count = notices.len();
        (1..).zip(notices).map(move |(number, notice)| {
            let more = match (count, is_shown_whole(notice)) {
                (1, true) => String::new(),
                (1, false) => "(in full when you leave)".to_string(),
                (_, true) => format!("({number} of {count})"),
                (_, false) => format!("({number} of {count}, in full when you leave)"),
            };
            Notice { text: text::sentence(notice), wrong: true, more, hint: false }
        })
    }

    pub(super) fn said(text: &str, wrong: bool) -> Notice {
        Notice { text: text::sentence(text), wrong, ..Notice::default() }
    }

    fn stays(&self) -> Duration {
        if self.wrong { WRONG_STAYS } else { STAYS }
    }
}

impl Screen {
    /// Says something.
    pub fn say(&mut self, text: &str) {
        self.show(Notice::said(text, false));
    }

    /// Says something that helps, and must not push anything off the screen.
    pub(super) fn hint(&mut self, text: &str) {
        self.show(Notice { hint: true, ..Notice::said(text, false) });
    }

    /// Says something with keys in it: in braces are the ids of actions.
    pub(super) fn say_with_keys(&mut self, text: &str) {
        self.say(&self.with_keys(text));
    }

    /// A text about the view with keys in it, as they are now: in piano mode letters play notes.
    pub fn with_keys(&self, text: &str) -> String {
        let piano = self.overlays.has_piano().then_some(Scene::Piano);
        self.keymap.fill_in(piano.unwrap_or(self.view.scene()), text)
    }

    /// Says that something went wrong.
    pub fn complain(&mut self, text: &str) {
        self.show(Notice::said(text, true));
    }

    /// Removes the last message.
    pub(super) fn clear_notice(&mut self) {
        if !self.notice.text.is_empty() {
            self.show(Notice::default());
        }
    }

    fn show(&mut self, notice: Notice) {
        self.notice = notice;
        self.noticed_at = None;
        self.version += 1;
    }

    /// Removes a notice when its time is up, and shows the next that waits.
    pub(super) fn follow_notice(&mut self, now: Duration) {
        let at = *self.noticed_at.get_or_insert(now);
        if now >= at + self.notice.stays() {
            self.clear_notice();
        }
        if self.notice.text.is_empty()
            && let Some(next) = self.waiting.pop_front()
        {
            self.show(next);
            self.noticed_at = Some(now);
        }
    }
}
