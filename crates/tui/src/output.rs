//! Frames: the changes since the last one, as bytes for the terminal, and no more frames than the
//! terminal can keep up with.
//!
//! In: pictures, and the time. Out: bytes, one write per frame. After each frame the terminal is
//! asked for the cursor's position; its answer means that it has drawn the frame. Over a slow link
//! nothing else shows that, because buffers on the way accept bytes long before they are seen.

use ratatui::backend::{Backend, CrosstermBackend};
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use std::collections::VecDeque;
use std::io::Write;
use std::time::Duration;

/// Begins a frame: the terminal shows its changes all at once (private mode 2026).
const BEGIN: &[u8] = b"\x1b[?2026h";
/// Ends a frame.
const END: &[u8] = b"\x1b[?2026l";
/// Asks for the position of the cursor.
const ASK_POSITION: &[u8] = b"\x1b[6n";
/// The initial capacity for the bytes of a frame.
const FRAME: usize = 64 * 1024;

/// The frames of a terminal.
#[derive(Debug)]
pub struct Output {
    shown: Buffer,
    cursor: Option<Position>,
    fresh: bool,
    bytes: Vec<u8>,
    sent: usize,
    /// The frames that the terminal has not confirmed yet.
    pub acks: Acks,
}

impl Output {
    /// Frames for a terminal of that size, which has shown nothing yet.
    pub fn new((width, height): (u16, u16)) -> Output {
        // If colour is not wanted, the palette leaves it out; if the writer did, bold would be
        // lost with it.
        crossterm::style::force_color_output(true);
        Output {
            shown: Buffer::empty(Rect::new(0, 0, width, height)),
            cursor: None,
            fresh: true,
            bytes: Vec::with_capacity(FRAME),
            sent: 0,
            acks: Acks::default(),
        }
    }

    /// Makes the next frame a full one, for a terminal of that size.
    pub fn start_over(&mut self, (width, height): (u16, u16)) {
        self.shown = Buffer::empty(Rect::new(0, 0, width, height));
        self.fresh = true;
    }

    /// Adds the bytes that turn the picture shown into `next`, with the cursor at `cursor` or
    /// hidden. Adds none if nothing changed.
    pub fn frame(&mut self, next: &Buffer, cursor: Option<Position>, now: Duration) {
        let moved = cursor != self.cursor || self.fresh;
        if !moved && self.shown.diff_iter(next).next().is_none() {
            return;
        }
        self.bytes.extend_from_slice(BEGIN);
        if self.fresh {
            self.bytes.extend_from_slice(b"\x1b[0m\x1b[2J");
        }
        let changes = self.shown.diff_iter(next);
        // Writing into memory cannot fail.
        let _ = CrosstermBackend::new(&mut self.bytes).draw(changes);
        match cursor {
            Some(Position { x, y }) => {
                let _ = write!(self.bytes, "\x1b[{};{}H", y + 1, x + 1);
                if self.cursor.is_none() || self.fresh {
                    self.bytes.extend_from_slice(b"\x1b[?25h");
                }
            }
            None => {
                if self.cursor.is_some() || self.fresh {
                    self.bytes.extend_from_slice(b"\x1b[?25l");
                }
            }
        }
        self.bytes.extend_from_slice(END);
        if self.acks.ask(now) {
            self.bytes.extend_from_slice(ASK_POSITION);
        }
        self.shown.clone_from(next);
        self.cursor = cursor;
        self.fresh = false;
    }

    /// Adds bytes that are not part of a frame.
    pub fn raw(&mut self, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
    }

    /// The bytes that are still to be written.
    pub fn waiting(&self) -> &[u8] {
        &self.bytes[self.sent..]
    }

    /// Records that `count` bytes were written.
    pub fn written(&mut self, count: usize) {
        self.sent = (self.sent + count).min(self.bytes.len());
        if self.sent == self.bytes.len() {
            self.bytes.clear();
            self.sent = 0;
        }
    }

    /// Drops the bytes that are still to be written.
    pub fn drop_waiting(&mut self) {
        self.bytes.clear();
        self.sent = 0;
    }
}

/// The questions that the terminal has not answered yet.
#[derive(Debug, Default)]
pub struct Acks {
    open: VecDeque<Duration>,
    habit: Habit,
}

/// Whether the terminal answers at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Habit {
    #[default]
    Unknown,
    Answers,
    Mute,
}

impl Acks {
    /// How many frames may be on their way.
    pub const MOST: usize = 2;
    /// A terminal that never answered in this time never will.
    const FIRST: Duration = Duration::from_secs(1);

    /// Whether a frame may be sent. A terminal that has stopped answering gets none until it
    /// answers again: nobody may be watching any more.
    pub fn may_draw(&mut self, now: Duration) -> bool {
        let oldest = self.open.front().map(|&at| now.saturating_sub(at));
        if self.habit == Habit::Unknown && oldest.is_some_and(|age| age >= Self::FIRST) {
            self.habit = Habit::Mute;
            self.open.clear();
        }
        self.open.len() < Self::MOST
    }

    /// Whether to ask, and if so, records the question. A terminal that never answers is not asked.
    fn ask(&mut self, now: Duration) -> bool {
        if self.habit == Habit::Mute {
            return false;
        }
        self.open.push_back(now);
        true
    }

    /// Records an answer.
    pub fn answer(&mut self) {
        self.habit = Habit::Answers;
        self.open.pop_front();
    }

    /// Records a key press: somebody is watching. Questions that are five seconds old count as
    /// lost.
    pub fn key(&mut self, now: Duration) {
        let lost = |at: &Duration| now.saturating_sub(*at) >= Duration::from_secs(5);
        self.open.retain(|at| !lost(at));
    }

    /// Whether answers are still expected.
    pub fn expects(&self) -> bool {
        self.habit == Habit::Answers && !self.open.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::style::{Color, Style};

    fn ms(count: u64) -> Duration {
        Duration::from_millis(count)
    }

    fn picture(text: &str, style: Style) -> Buffer {
        let mut buffer = Buffer::empty(Rect::new(0, 0, 20, 2));
        buffer.set_string(0, 1, text, style);
        buffer
    }

    fn take(output: &mut Output) -> String {
        let text = String::from_utf8(output.waiting().to_vec()).unwrap();
        output.written(text.len());
        text
    }

    #[test]
    fn an_unchanged_picture_takes_no_bytes() {
        let mut output = Output::new((20, 2));
        output.frame(&picture("abc", Style::new()), None, ms(0));
        assert!(take(&mut output).contains("abc"));
        output.frame(&picture("abc", Style::new()), None, ms(40));
        assert_eq!(output.waiting(), b"");
    }

    #[test]
    fn a_small_change_takes_few_bytes() {
        let mut output = Output::new((20, 2));
        output.frame(&picture("abc", Style::new()), Some(Position::new(0, 0)), ms(0));
        take(&mut output);
        output.frame(&picture("abd", Style::new()), Some(Position::new(0, 0)), ms(40));
        let text = take(&mut output);
        assert!(text.contains('d') && !text.contains('a') && text.len() < 64, "{text:?}");
        assert!(text.ends_with("\x1b[1;1H\x1b[?2026l\x1b[6n"), "{text:?}");
    }

    #[test]
    fn starting_over_draws_everything() {
        let mut output = Output::new((20, 2));
        output.frame(&picture("abc", Style::new()), None, ms(0));
        take(&mut output);
        output.start_over((20, 2));
        output.frame(&picture("abc", Style::new()), None, ms(40));
        assert!(take(&mut output).contains("abc"));
    }

    #[test]
    fn styles_are_written_as_the_palette_gives_them() {
        let mut output = Output::new((20, 2));
        let style = Style::new().fg(Color::Red).add_modifier(ratatui::style::Modifier::BOLD);
        output.frame(&picture("x", style), None, ms(0));
        assert!(take(&mut output).contains("\x1b[1m"));
    }

    #[test]
    fn a_terminal_that_answers_gets_no_more_than_two_frames_ahead() {
        let mut acks = Acks::default();
        assert!(acks.may_draw(ms(0)) && acks.ask(ms(0)));
        acks.answer();
        for at in [10, 20] {
            assert!(acks.may_draw(ms(at)) && acks.ask(ms(at)));
        }
        assert!(!acks.may_draw(ms(30)));
        assert!(!acks.may_draw(ms(60_000)), "it has stopped answering");
        acks.answer();
        assert!(acks.may_draw(ms(60_001)));
    }

    #[test]
    fn a_terminal_that_never_answers_is_not_asked_again() {
        let mut acks = Acks::default();
        for at in [0, 40] {
            assert!(acks.may_draw(ms(at)) && acks.ask(ms(at)));
        }
        assert!(!acks.may_draw(ms(80)));
        assert!(acks.may_draw(ms(1000)));
        assert!(!acks.ask(ms(1000)) && !acks.expects());
    }

    #[test]
    fn a_key_after_a_long_silence_gets_a_picture() {
        let mut acks = Acks::default();
        acks.ask(ms(0));
        acks.answer();
        acks.ask(ms(10));
        acks.ask(ms(20));
        acks.key(ms(1000));
        assert!(!acks.may_draw(ms(1000)), "a slow link is still a link");
        acks.key(ms(6000));
        assert!(acks.may_draw(ms(6000)));
    }
}
