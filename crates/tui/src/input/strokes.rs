//! Telling a key that is held down from one that is pressed again and again, where the terminal
//! reports both alike.
//!
//! In: when a key came, and again. Out: whether that was the keyboard's autorepeat. A held key
//! waits before its first repeat, then repeats at short intervals. So keys that come close together
//! right from the first are presses (a slow line may deliver them in one go), and keys that come
//! close together after such a wait are autorepeat.

use std::time::Duration;

/// The shortest wait of a keyboard before its first repeat: 200 ms or more (common practice; no
/// source), less a little for a line that delivers unevenly.
const SHORTEST_WAIT: Duration = Duration::from_millis(180);
/// The longest, likewise: 1 s, and a little more. A key that comes later is a new press.
const LONGEST_WAIT: Duration = Duration::from_millis(1100);

/// What one key did so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Strokes {
    /// When it came last.
    at: Duration,
    held: Held,
}

/// Whether a key is held down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Held {
    /// It cannot be: it has not waited.
    No,
    /// It may be: it came again after a wait.
    Perhaps,
    /// It is: it repeats.
    Yes,
}

/// What a key that comes again is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// A press.
    Press,
    /// Autorepeat; and what came before it, and looked like a press, was autorepeat too.
    SecondRepeat,
    /// Autorepeat.
    Repeat,
}

impl Strokes {
    /// A key that came for the first time, or after another one.
    pub fn first(now: Duration) -> Strokes {
        Strokes { at: now, held: Held::No }
    }

    /// The key comes again. Autorepeat comes at intervals shorter than `guard`.
    pub fn again(&mut self, now: Duration, guard: Duration) -> Again {
        let since = now.saturating_sub(std::mem::replace(&mut self.at, now));
        if since >= SHORTEST_WAIT {
            self.held = if since <= LONGEST_WAIT { Held::Perhaps } else { Held::No };
        }
        match self.held {
            Held::No => Again::Press,
            // On a slow line a held key may pause, and then looks pressed.
            Held::Perhaps | Held::Yes if since >= guard => {
                self.held = Held::Perhaps;
                Again::Press
            }
            Held::Perhaps => {
                self.held = Held::Yes;
                Again::SecondRepeat
            }
            Held::Yes => Again::Repeat,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Which of the keys that come at these milliseconds are presses.
    fn presses(times: &[u64], guard: u64) -> Vec<u64> {
        let ms = Duration::from_millis;
        let mut strokes = Strokes::first(ms(times[0]));
        let is_press = |time: &&u64| strokes.again(ms(**time), ms(guard)) == Again::Press;
        let again: Vec<u64> = times[1..].iter().filter(is_press).copied().collect();
        times[..1].iter().copied().chain(again).collect()
    }

    #[test]
    fn keys_in_a_burst_are_presses_and_a_held_key_repeats() {
        for (what, times, expected) in [
            ("a clump", &[0, 0, 1, 40][..], &[0, 0, 1, 40][..]),
            ("a clump long after", &[0, 5000, 5000, 5010], &[0, 5000, 5000, 5010]),
            ("by hand", &[0, 130, 260, 390], &[0, 130, 260, 390]),
            // The first repeat comes when a second press could.
            ("held", &[0, 500, 533, 566, 600], &[0, 500]),
            ("held, a short wait", &[0, 200, 233, 266], &[0, 200]),
            ("held, a long wait", &[0, 1000, 1033, 1066], &[0, 1000]),
            // The line stalls: what was held up comes at once.
            ("held, unevenly", &[0, 500, 533, 650, 650, 651], &[0, 500, 650]),
            ("held, let go and pressed", &[0, 500, 533, 4000, 4001], &[0, 500, 4000, 4001]),
        ] {
            assert_eq!(presses(times, 60), expected, "{what}");
        }
        // A text console repeats 10.9 times a second (from memory).
        assert_eq!(presses(&[0, 250, 342, 434], 110), [0, 250]);
    }

    #[test]
    fn the_second_repeat_shows_that_the_press_before_it_was_the_first() {
        let ms = Duration::from_millis;
        let mut strokes = Strokes::first(ms(0));
        let mut again = |time| strokes.again(ms(time), ms(60));
        assert_eq!((again(300), again(800)), (Again::Press, Again::Press));
        assert_eq!(
            [again(833), again(866), again(900)],
            [Again::SecondRepeat, Again::Repeat, Again::Repeat]
        );
        // A pause of the line, and on.
        assert_eq!([again(1020), again(1050)], [Again::Press, Again::SecondRepeat]);
    }
}
