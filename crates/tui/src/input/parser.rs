//! From bytes to keys, pastes and answers, whatever way the bytes are split.
//!
//! In: bytes and the time they came. Out: [`Input`]s. A lone Escape is told apart from the start
//! of a sequence by waiting [`Parser::PATIENCE`]. Escape followed at once by a plain key is those
//! two keys: both may arrive in one read, and the program binds nothing to Alt, which terminals
//! send the same way. Whatever comes in, memory stays bounded.

use super::{Code, Key, csi};
use std::time::Duration;

/// Something the terminal sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A key.
    Key(Key),
    /// Pasted text without control characters, cut at [`Parser::LONGEST_PASTE`] bytes.
    Paste(String),
    /// The cursor's position, which was asked for: the terminal has drawn everything before it.
    CursorReply,
    /// The terminal can report releases.
    Releases,
    /// The terminal's background, and whether it is light.
    Background {
        /// Nearer to white than to black.
        light: bool,
    },
}

/// What the parser is reading.
#[derive(Debug, Default)]
enum State {
    #[default]
    Ground,
    /// Inside a character of several bytes; how many are still to come.
    Utf8(u8),
    /// After Escape.
    Esc,
    /// Inside a control sequence.
    Csi,
    /// After `ESC [ [`, which the text console sends for its first function keys.
    Console,
    /// After `ESC O`.
    Ss3,
    /// Inside a string that ends at BEL or `ESC \`; whether it is an answer about a colour, and
    /// whether the last byte was Escape.
    Text { osc: bool, esc: bool },
    /// Inside a paste.
    Paste,
}

/// Reads what the terminal sends.
#[derive(Debug, Default)]
pub struct Parser {
    state: State,
    held: Vec<u8>,
    /// The character after Escape that opened the sequence now being read.
    opener: Option<char>,
    last: Duration,
}

const PASTE_END: &[u8] = b"\x1b[201~";

impl Parser {
    /// How long to wait after Escape for the rest of a sequence.
    pub const PATIENCE: Duration = Duration::from_millis(50);
    /// How long to wait after a paste's last byte for more of it.
    pub const PASTE_PATIENCE: Duration = Duration::from_secs(5);
    /// How many bytes of a paste are kept.
    pub const LONGEST_PASTE: usize = 4096;
    /// How many bytes of a sequence are kept; nothing the screen knows is longer.
    const LONGEST: usize = 96;

    /// Takes bytes that came at `now` and adds what they mean to `out`.
    pub fn feed(&mut self, bytes: &[u8], now: Duration, out: &mut Vec<Input>) {
        self.last = now;
        for &byte in bytes {
            self.take(byte, out);
        }
    }

    /// When to call [`expire`](Self::expire), if bytes are waiting for more.
    pub fn deadline(&self) -> Option<Duration> {
        match self.state {
            State::Ground => None,
            State::Paste => Some(self.last + Self::PASTE_PATIENCE),
            _ => Some(self.last + Self::PATIENCE),
        }
    }

    /// Gives up waiting once the deadline has passed. A lone Escape becomes that key, the start of
    /// a sequence becomes the keys typed, a longer part of one is dropped, and a paste without an
    /// end keeps what came.
    pub fn expire(&mut self, now: Duration, out: &mut Vec<Input>) {
        if self.deadline().is_some_and(|deadline| now >= deadline) {
            match self.state {
                State::Esc => out.push(Input::Key(Key::new(Code::Esc))),
                State::Paste => out.push(self.pasted()),
                _ => out.extend(self.typed_after_esc().into_iter().flatten().map(Input::Key)),
            }
            self.enter(State::Ground);
        }
    }

    /// Escape and the keys after it, where what looked like the start of a sequence turns out to
    /// be typed by hand. A sequence that got further than its start is dropped.
    fn typed_after_esc(&self) -> Option<Vec<Key>> {
        let esc = Key::new(Code::Esc);
        match (&self.state, self.opener) {
            (State::Console, _) => Some(vec![esc, Key::char('['), Key::char('[')]),
            (State::Csi | State::Ss3 | State::Text { esc: false, .. }, Some(opener)) => {
                self.held.is_empty().then(|| vec![esc, Key::char(opener)])
            }
            _ => None,
        }
    }

    fn enter(&mut self, state: State) {
        self.state = state;
        self.held.clear();
    }

    fn take(&mut self, byte: u8, out: &mut Vec<Input>) {
        match self.state {
            State::Ground => self.ground(byte, out),
            State::Utf8(left) => self.more_utf8(byte, left, out),
            State::Esc => self.after_esc(byte, out),
            State::Csi => self.in_csi(byte, out),
            State::Console => {
                self.enter(State::Ground);
                if (b'A'..=b'E').contains(&byte) {
                    out.push(Input::Key(Key::new(Code::F(byte - b'A' + 1))));
                }
            }
            State::Ss3 => {
                self.enter(State::Ground);
                let code = if byte == b'M' { Some(Code::Enter) } else { csi::letter(byte) };
                out.extend(code.map(|code| Input::Key(Key::new(code))));
            }
            State::Text { osc, esc } => self.in_text(byte, osc, esc, out),
            State::Paste => self.in_paste(byte, out),
        }
    }

    fn ground(&mut self, byte: u8, out: &mut Vec<Input>) {
        let key = match byte {
            0x1B => return self.enter(State::Esc),
            b'\r' | b'\n' => Key::new(Code::Enter),
            b'\t' => Key::new(Code::Tab),
            0x08 | 0x7F => Key::new(Code::Backspace),
            0x00 => Key::ctrl(' '),
            0x01..=0x1A => Key::ctrl((byte - 1 + b'a') as char),
            0x1C..=0x1F => return,
            0x20..=0x7E => Key::char(byte as char),
            _ => return self.start_utf8(byte),
        };
        out.push(Input::Key(key));
    }

    fn start_utf8(&mut self, byte: u8) {
        let more = match byte {
            0xC2..=0xDF => 1,
            0xE0..=0xEF => 2,
            0xF0..=0xF4 => 3,
            _ => return,
        };
        self.enter(State::Utf8(more));
        self.held.push(byte);
    }

    fn more_utf8(&mut self, byte: u8, left: u8, out: &mut Vec<Input>) {
        if byte & 0xC0 != 0x80 {
            // The character was cut short: what comes now is read by itself.
            self.enter(State::Ground);
            return self.ground(byte, out);
        }
        self.held.push(byte);
        if left > 1 {
            self.state = State::Utf8(left - 1);
            return;
        }
        let text = std::str::from_utf8(&self.held).ok();
        let c = text.and_then(|text| text.chars().next()).filter(|c| !c.is_control());
        out.extend(c.map(|c| Input::Key(Key::char(c))));
        self.enter(State::Ground);
    }

    fn after_esc(&mut self, byte: u8, out: &mut Vec<Input>) {
        self.opener = Some(byte as char);
        match byte {
            b'[' => self.enter(State::Csi),
            b'O' => self.enter(State::Ss3),
            b']' => self.enter(State::Text { osc: true, esc: false }),
            b'P' | b'X' | b'^' | b'_' => self.enter(State::Text { osc: false, esc: false }),
            0x1B => out.push(Input::Key(Key::new(Code::Esc))),
            _ => {
                self.enter(State::Ground);
                out.push(Input::Key(Key::new(Code::Esc)));
                self.ground(byte, out);
            }
        }
    }

    fn in_csi(&mut self, byte: u8, out: &mut Vec<Input>) {
        match byte {
            0x1B => self.enter(State::Esc),
            b'[' if self.held.is_empty() => self.enter(State::Console),
            0x20..=0x3F => self.hold(byte),
            0x40..=0x7E if self.held == b"200" && byte == b'~' => self.enter(State::Paste),
            0x40..=0x7E => {
                out.extend(csi::read(&self.held, byte));
                self.enter(State::Ground);
            }
            // Control characters inside a sequence do not end it; other bytes spoil it.
            0x00..=0x1F => {}
            _ => self.enter(State::Ground),
        }
    }

    /// Keeps a byte of a sequence. A sequence that is too long keeps one byte too many, so that no
    /// reader accepts it.
    fn hold(&mut self, byte: u8) {
        if self.held.len() <= Self::LONGEST {
            self.held.push(byte);
        }
    }

    fn in_text(&mut self, byte: u8, osc: bool, esc: bool, out: &mut Vec<Input>) {
        let ends = byte == 0x07 || (esc && byte == b'\\');
        if ends {
            let light = osc.then(|| background(&self.held)).flatten();
            out.extend(light.map(|light| Input::Background { light }));
            return self.enter(State::Ground);
        }
        if esc {
            // An escape that does not end the string starts something new.
            self.enter(State::Esc);
            return self.after_esc(byte, out);
        }
        self.state = State::Text { osc, esc: byte == 0x1B };
        if byte != 0x1B {
            self.hold(byte);
        }
    }

    fn in_paste(&mut self, byte: u8, out: &mut Vec<Input>) {
        self.held.push(byte);
        if self.held.ends_with(PASTE_END) {
            self.held.truncate(self.held.len() - PASTE_END.len());
            out.push(self.pasted());
            self.enter(State::Ground);
        } else if self.held.len() > Self::LONGEST_PASTE + 2 * PASTE_END.len() {
            // Past the limit only the last few bytes matter: they may be the end.
            self.held.remove(Self::LONGEST_PASTE);
        }
    }

    /// The paste as it stands.
    fn pasted(&self) -> Input {
        let kept = &self.held[..self.held.len().min(Self::LONGEST_PASTE)];
        let text = String::from_utf8_lossy(kept);
        Input::Paste(text.chars().filter(|c| !c.is_control() && *c != '\u{FFFD}').collect())
    }
}

/// Reads `11;rgb:RRRR/GGGG/BBBB` (xterm's answer to OSC 11, one to four digits a colour).
fn background(body: &[u8]) -> Option<bool> {
    let text = std::str::from_utf8(body).ok()?.strip_prefix("11;rgb:")?;
    let mut parts = text.split('/').map(|part| {
        let fits = (1..=4).contains(&part.len());
        let value = u32::from_str_radix(part, 16).ok().filter(|_| fits)?;
        Some(value * 1000 / ((1 << (4 * part.len())) - 1))
    });
    let [red, green, blue] = [parts.next()??, parts.next()??, parts.next()??];
    // Weights of the luma of ITU-R BT.601.
    Some((299 * red + 587 * green + 114 * blue) / 1000 > 500)
}

#[cfg(test)]
#[path = "parser_tests.rs"]
mod tests;
