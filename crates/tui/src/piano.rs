//! The computer keyboard as a piano: two rows of letters, white keys below and black keys above.
//!
//! In: keys and the time. Out: presses and lifts of notes. It is the position of a letter that
//! counts: the key with the ridge under the left index finger is C, the white keys run along its
//! row, and the black keys lie between them in the row above. Where a piano has no
//! black key (R and U), the key does nothing: a finger that slips must not give a command. Shift plays an
//! accent.
//!
//! If the terminal does not report releases, a note has a [`Length`], and the repeats of a held key
//! are ignored.

use crate::LiveKey;
use crate::action::Vertical;
use crate::input::{Again, Code, Key, Kind, Strokes};
use crate::options::Keyboard;
use chaconne_song::U7;
use std::ops::RangeInclusive;
use std::time::Duration;

/// Semitones from the C of the row, for each place along the row of white keys.
const WHITE: [i8; 11] = [-5, -3, -1, 0, 2, 4, 5, 7, 9, 11, 12];
/// The same for the row above; `None` if a piano has no black key.
const BLACK: [Option<i8>; 11] =
    [Some(-6), Some(-4), Some(-2), None, Some(1), Some(3), None, Some(6), Some(8), Some(10), None];

impl Keyboard {
    /// What the row of white keys types.
    pub(crate) fn white(self) -> [char; 11] {
        match self {
            Keyboard::Us => ['a', 's', 'd', 'f', 'g', 'h', 'j', 'k', 'l', ';', '\''],
            Keyboard::De => ['a', 's', 'd', 'f', 'g', 'h', 'j', 'k', 'l', 'ö', 'ä'],
            Keyboard::Fr => ['q', 's', 'd', 'f', 'g', 'h', 'j', 'k', 'l', 'm', 'ù'],
        }
    }

    /// What the row above types.
    pub(crate) fn black(self) -> [char; 11] {
        match self {
            Keyboard::Us => ['q', 'w', 'e', 'r', 't', 'y', 'u', 'i', 'o', 'p', '['],
            Keyboard::De => ['q', 'w', 'e', 'r', 't', 'z', 'u', 'i', 'o', 'p', 'ü'],
            Keyboard::Fr => ['a', 'z', 'e', 'r', 't', 'y', 'u', 'i', 'o', 'p', '^'],
        }
    }

    /// Whether a key lies on one of the two rows, whether it plays a note or not.
    pub(crate) fn is_on_a_row(self, c: char) -> bool {
        self.white().contains(&c) || self.black().contains(&c)
    }

    /// Semitones from the C of the row, for a key that plays a note.
    pub(crate) fn semitones(self, c: char) -> Option<i8> {
        if let Some(place) = self.white().iter().position(|&white| white == c) {
            return Some(WHITE[place]);
        }
        BLACK[self.black().iter().position(|&black| black == c)?]
    }
}

/// How long a note lasts if the terminal reports no releases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Length {
    /// So many milliseconds.
    Ms(u64),
    /// Until the next note. Notes struck at once, as a chord, last together.
    UntilNext,
}

impl Length {
    /// All lengths, in the order of one key.
    const ALL: [Length; 5] =
        [Length::Ms(200), Length::Ms(400), Length::Ms(800), Length::UntilNext, Length::Ms(100)];

    fn next(self) -> Length {
        let at = Length::ALL.iter().position(|&length| length == self).unwrap_or(0);
        Length::ALL[(at + 1) % Length::ALL.len()]
    }
}

/// Keys struck within this time are a chord: fingers that mean to play together are up to some 30 ms
/// apart (common practice, no source).
const CHORD: Duration = Duration::from_millis(40);

/// A note that sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Sounding {
    /// What identifies the computer key.
    identity: char,
    key: U7,
    /// When it was struck.
    since: Duration,
    /// When it is lifted; `None` waits for the computer key, or for the next note.
    until: Option<Duration>,
}

/// The piano, its settings and what it sounds.
#[derive(Debug, Clone)]
pub struct Piano {
    /// Where the letters lie.
    pub keyboard: Keyboard,
    /// Whether the terminal reports releases.
    pub releases: bool,
    /// Octaves from the middle.
    octave: i8,
    velocity: u8,
    length: Length,
    repeat: Duration,
    sounding: Vec<Sounding>,
    /// What each key did so far.
    strokes: Vec<(char, Strokes)>,
}

impl Piano {
    /// The key of the C under the left index finger: middle C.
    const MIDDLE: i16 = 60;
    /// The octaves there are, from the middle.
    pub const OCTAVES: RangeInclusive<i8> = -4..=4;
    const VELOCITY_STEP: u8 = 8;
    /// How much harder an accent is struck.
    const ACCENT: u8 = 24;

    /// A piano at middle C. A held key repeats at intervals shorter than `repeat`.
    pub fn new(keyboard: Keyboard, repeat: Duration) -> Piano {
        Piano {
            keyboard,
            releases: false,
            octave: 0,
            velocity: 96,
            length: Length::ALL[0],
            repeat,
            sounding: Vec::new(),
            strokes: Vec::new(),
        }
    }

    /// The key that a letter plays now, if it plays one that MIDI has.
    pub fn key_of(&self, c: char) -> Option<U7> {
        let semitones = i16::from(self.keyboard.semitones(c)?);
        let key = Self::MIDDLE + 12 * i16::from(self.octave) + semitones;
        u8::try_from(key).ok().and_then(U7::new)
    }

    /// The lowest and the highest key now in reach.
    pub fn reach(&self) -> (U7, U7) {
        Self::reach_of(self.octave)
    }

    /// The lowest and the highest key in reach, so many octaves from the middle.
    pub fn reach_of(octave: i8) -> (U7, U7) {
        let end = |semitones: i16| {
            let key = Self::MIDDLE + 12 * i16::from(octave) + semitones;
            U7::low_bits(key.clamp(0, 127) as u8)
        };
        (end(-6), end(12))
    }

    /// The C under the left index finger, so many octaves from the middle.
    pub fn middle_of(octave: i8) -> U7 {
        let key = (Self::MIDDLE + 12 * i16::from(octave)).clamp(0, 127);
        U7::low_bits(u8::try_from(key).unwrap_or(60))
    }

    /// How many octaves it is from the middle.
    pub fn octave(&self) -> i8 {
        self.octave
    }

    /// Puts it so many octaves from the middle, as far as there are keys.
    pub fn set_octave(&mut self, octave: i8) {
        self.octave = octave.clamp(*Self::OCTAVES.start(), *Self::OCTAVES.end());
    }

    /// Moves by an octave, as far as there are keys.
    pub fn shift_octave(&mut self, way: Vertical) {
        self.set_octave(self.octave + if way == Vertical::Up { 1 } else { -1 });
    }

    /// How hard notes are struck, 1..=127.
    pub fn velocity(&self) -> u8 {
        self.velocity
    }

    /// Harder or softer, by a step.
    pub fn shift_velocity(&mut self, way: Vertical) {
        let step = Self::VELOCITY_STEP;
        self.velocity = match way {
            Vertical::Up => (self.velocity + step).min(127),
            Vertical::Down => self.velocity.saturating_sub(step).max(step),
        };
    }

    /// How long a note lasts if the terminal reports no releases.
    pub fn length(&self) -> Length {
        self.length
    }

    /// Changes to the next length.
    pub fn next_length(&mut self) {
        self.length = self.length.next();
    }

    /// Whether the note of a letter sounds.
    pub fn sounds(&self, c: char) -> bool {
        self.sounding.iter().any(|held| held.identity == c)
    }

    /// Takes a key at `now`. `None` if it does not lie on the two rows, so that it may mean something
    /// else; a release and a repeat of a key that plays are taken too.
    pub fn take(&mut self, key: &Key, now: Duration) -> Option<Vec<LiveKey>> {
        if key.kind == Kind::Release {
            let identity = key.identity()?;
            let place = self.sounding.iter().position(|held| held.identity == identity)?;
            let held = self.sounding.remove(place);
            return Some(vec![LiveKey::Lift { key: held.key }]);
        }
        let Code::Char(typed) = key.code else { return None };
        let c = typed.to_lowercase().next().unwrap_or(typed);
        if key.ctrl || key.alt || !self.keyboard.is_on_a_row(c) {
            return None;
        }
        let Some(note) = self.key_of(c) else { return Some(Vec::new()) };
        if key.kind == Kind::Repeat || self.repeats(c, now) {
            return Some(Vec::new());
        }
        let accent = if typed == c { 0 } else { Self::ACCENT };
        let velocity = U7::low_bits((self.velocity + accent).min(127));
        let identity = key.plain.unwrap_or(c);
        Some(self.strike(identity, (note, velocity), now))
    }

    fn strike(&mut self, identity: char, (key, velocity): (U7, U7), now: Duration) -> Vec<LiveKey> {
        let mut played = Vec::new();
        if !self.releases && self.length == Length::UntilNext {
            let before = |held: &Sounding| held.until.is_none() && held.since + CHORD < now;
            let lifted = self.sounding.iter().filter(|held| before(held));
            played.extend(lifted.map(|held| LiveKey::Lift { key: held.key }));
            self.sounding.retain(|held| !before(held));
        }
        if let Some(place) = self.sounding.iter().position(|held| held.key == key) {
            self.sounding.remove(place);
            played.push(LiveKey::Lift { key });
        }
        let until = match self.length {
            Length::Ms(ms) if !self.releases => Some(now + Duration::from_millis(ms)),
            _ => None,
        };
        self.sounding.push(Sounding { identity, key, since: now, until });
        played.push(LiveKey::Press { key, velocity });
        played
    }

    /// Whether a key that comes now is the keyboard's autorepeat; remembers that it came.
    fn repeats(&mut self, c: char, now: Duration) -> bool {
        let repeats = match self.strokes.iter_mut().find(|(known, _)| *known == c) {
            Some((_, strokes)) => strokes.again(now, self.repeat) != Again::Press,
            None => {
                self.strokes.push((c, Strokes::first(now)));
                false
            }
        };
        !self.releases && repeats
    }

    /// When the next note has to be lifted.
    pub fn deadline(&self) -> Option<Duration> {
        self.sounding.iter().filter_map(|held| held.until).min()
    }

    /// Lifts the notes whose time is up.
    pub fn lift_due(&mut self, now: Duration) -> Vec<LiveKey> {
        let due = |held: &Sounding| held.until.is_some_and(|until| until <= now);
        let lifted = self.sounding.iter().filter(|held| due(held));
        let lifted = lifted.map(|held| LiveKey::Lift { key: held.key }).collect();
        self.sounding.retain(|held| !due(held));
        lifted
    }

    /// Lifts what waits for the next note, which may not come: a take has ended.
    pub fn lift_waiting(&mut self) -> Vec<LiveKey> {
        if self.releases || self.length != Length::UntilNext {
            return Vec::new();
        }
        self.lift_all()
    }

    /// Lifts everything.
    pub fn lift_all(&mut self) -> Vec<LiveKey> {
        self.sounding.drain(..).map(|held| LiveKey::Lift { key: held.key }).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_waits_for_the_next_note_is_lifted_when_a_take_ends() {
        let mut piano = piano();
        piano.take(&Key::char('f'), ms(0));
        assert_eq!(piano.lift_waiting(), []);
        piano.lift_all();
        while piano.length() != Length::UntilNext {
            piano.next_length();
        }
        piano.take(&Key::char('g'), ms(500));
        assert_eq!(piano.lift_waiting(), [LiveKey::Lift { key: U7::low_bits(62) }]);
        assert_eq!(piano.lift_waiting(), []);
    }

    fn ms(count: u64) -> Duration {
        Duration::from_millis(count)
    }

    fn piano() -> Piano {
        Piano::new(Keyboard::Us, ms(60))
    }

    fn press(key: u8) -> LiveKey {
        LiveKey::Press { key: U7::low_bits(key), velocity: U7::low_bits(96) }
    }

    fn lift(key: u8) -> LiveKey {
        LiveKey::Lift { key: U7::low_bits(key) }
    }

    #[test]
    fn white_keys_are_a_major_scale_from_the_ridge() {
        // Middle C is key 60 (MIDI 1.0, "Note Number"); C major: whole and half steps 2 2 1 2 2 2 1.
        let keys: Vec<u8> = "fghjkl;'".chars().map(|c| piano().key_of(c).unwrap().get()).collect();
        assert_eq!(keys, [60, 62, 64, 65, 67, 69, 71, 72]);
    }

    #[test]
    fn black_keys_lie_between_their_white_neighbours() {
        for keyboard in [Keyboard::Us, Keyboard::De, Keyboard::Fr] {
            let (white, black) = (keyboard.white(), keyboard.black());
            for place in 1..11 {
                let below = keyboard.semitones(white[place - 1]).unwrap();
                let above = keyboard.semitones(white[place]).unwrap();
                let between = (above - below == 2).then_some(below + 1);
                assert_eq!(keyboard.semitones(black[place]), between, "{}", black[place]);
            }
        }
    }

    #[test]
    fn the_places_without_a_black_key_do_nothing() {
        for keyboard in [Keyboard::Us, Keyboard::De, Keyboard::Fr] {
            let mut piano = Piano::new(keyboard, ms(60));
            for c in ['r', 'u', 'R', 'U'] {
                assert_eq!(piano.take(&Key::char(c), ms(0)), Some(Vec::new()), "{c}");
            }
        }
    }

    #[test]
    fn shift_plays_an_accent() {
        let mut piano = piano();
        let hard = LiveKey::Press { key: U7::low_bits(60), velocity: U7::low_bits(120) };
        assert_eq!(piano.take(&Key::char('F'), ms(0)), Some(vec![hard]));
        (0..9).for_each(|_| piano.shift_velocity(Vertical::Up));
        let hardest = LiveKey::Press { key: U7::low_bits(62), velocity: U7::MAX };
        assert_eq!(piano.take(&Key::char('G'), ms(0)), Some(vec![hardest]));
    }

    #[test]
    fn a_note_can_last_until_the_next_one_and_a_chord_stays_together() {
        let mut piano = piano();
        while piano.length() != Length::UntilNext {
            piano.next_length();
        }
        assert_eq!(piano.take(&Key::char('f'), ms(0)), Some(vec![press(60)]));
        assert_eq!((piano.deadline(), piano.lift_due(ms(9000)).len()), (None, 0));
        assert_eq!(piano.take(&Key::char('g'), ms(9000)), Some(vec![lift(60), press(62)]));
        assert_eq!(piano.take(&Key::char('j'), ms(9020)), Some(vec![press(65)]));
        assert!(piano.sounds('g') && piano.sounds('j') && !piano.sounds('f'));
        let next = piano.take(&Key::char('h'), ms(9500)).unwrap();
        assert_eq!(next, [lift(62), lift(65), press(64)]);
        assert_eq!(piano.lift_all(), [lift(64)]);
    }

    #[test]
    fn without_key_releases_a_note_has_a_fixed_length() {
        let mut piano = piano();
        assert_eq!(piano.take(&Key::char('f'), ms(0)), Some(vec![press(60)]));
        assert_eq!(piano.deadline(), Some(ms(200)));
        assert_eq!(piano.lift_due(ms(199)), []);
        assert_eq!(piano.lift_due(ms(200)), [lift(60)]);
        assert_eq!(piano.deadline(), None);
    }

    #[test]
    fn the_piano_ignores_autorepeat_and_plays_a_new_stroke() {
        let mut piano = piano();
        piano.take(&Key::char('f'), ms(0));
        for repeat in [500, 533, 566] {
            let played = piano.take(&Key::char('f'), ms(repeat)).unwrap();
            assert_eq!(played.is_empty(), repeat != 500, "{repeat}");
            piano.lift_due(ms(repeat));
        }
        assert_eq!(piano.take(&Key::char('f'), ms(630)).unwrap(), [lift(60), press(60)]);
    }

    #[test]
    fn with_releases_a_note_lasts_as_long_as_the_key() {
        let mut piano = Piano { releases: true, ..piano() };
        let kind = |kind| Key { kind, plain: Some('f'), ..Key::char('f') };
        piano.take(&kind(Kind::Press), ms(0));
        assert_eq!(piano.take(&kind(Kind::Repeat), ms(500)), Some(Vec::new()));
        assert_eq!(piano.deadline(), None);
        // Shift went down in between: the identity of the key is what it types without.
        let release = Key { code: Code::Char('F'), ..kind(Kind::Release) };
        assert_eq!(piano.take(&release, ms(900)), Some(vec![lift(60)]));
    }

    #[test]
    fn a_moved_octave_still_lifts_what_was_pressed() {
        let mut piano = piano();
        piano.take(&Key::char('a'), ms(0));
        piano.shift_octave(Vertical::Up);
        assert_eq!(piano.lift_all(), [lift(55)]);
    }

    #[test]
    fn keys_and_velocities_stay_in_range() {
        let mut piano = piano();
        (0..20).for_each(|_| piano.shift_octave(Vertical::Up));
        assert_eq!(piano.key_of('f').map(U7::get), Some(108));
        assert_eq!(piano.reach().1.get(), 120);
        (0..20).for_each(|_| piano.shift_velocity(Vertical::Up));
        assert_eq!(piano.velocity(), 127);
        (0..40).for_each(|_| piano.shift_velocity(Vertical::Down));
        assert_eq!(piano.velocity(), 8);
        (0..20).for_each(|_| piano.shift_octave(Vertical::Down));
        assert_eq!(piano.reach().0.get(), 6);
    }

    #[test]
    fn the_piano_leaves_keys_that_are_not_on_its_rows() {
        let mut piano = piano();
        for key in [Key::char('x'), Key::char('!'), Key::ctrl('s'), Key::new(Code::Left)] {
            assert_eq!(piano.take(&key, ms(0)), None, "{key}");
        }
    }
}
