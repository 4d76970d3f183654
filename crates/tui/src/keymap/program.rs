//! The rows about the program as a whole, and what is needed least often: silence, finding, help, the tour,
//! leaving, other ways to set the tempo. They come last in the line of keys.

use super::rows::{ESC, FIND, HOME, always, with};
use super::scenes::{
    ANY_VIEW, BOXES, EVERYWHERE, LOOP, NO_TEXT, PIANO, TEXT, TOUR, TOUR_OFFERED, VIEWS,
};
use super::{Binding, Need};
use crate::action::Action::*;
use crate::action::{Bar, Vertical};
use crate::input::{Code, Key};

const SONG_TEMPO: &str = "Raise or lower the tempo of every section by a beat per minute.";
const FIND_ACTION: &str = "Find an action by typing what you want to do, e.g. louder, copy or slower. \
    The name of a track chooses that track first. What cannot be done now says what it needs.";
const ABOUT_THIS: &str = "Explain what is open, and the setting under the cursor.";
const QUIT: &str = "Quit; asks first if the song is playing or has unsaved changes.";

/// The table.
pub const TABLE: &[Binding] = &[
    always(
        Silence,
        &[Key::char('!')],
        "silence",
        "Silence everything that is sounding, at once. In a text box its key is just a character.",
        NO_TEXT,
    ),
    Binding::new(Locate(Bar::Top), HOME, "top", "Go back to the top.", LOOP, Need::Parked),
    always(Find, &[Key::char('/'), FIND], "find", FIND_ACTION, VIEWS).shown("/"),
    always(Find, &[FIND], "find", FIND_ACTION, PIANO),
    always(
        Help,
        &[Key::char('?'), Key::new(Code::F(1))],
        "all keys",
        "Show every key, what the marks mean, and how to look after your hearing; it opens at the \
            part about what you see.",
        ANY_VIEW,
    )
    .shown("?"),
    always(Help, &[Key::char('?'), Key::new(Code::F(1))], "help", ABOUT_THIS, BOXES).shown("?"),
    always(
        Tour(true),
        &[Key::new(Code::F(8))],
        "tour",
        "Take the tour: a minute that ends with a pass of your own in the loop.",
        TOUR_OFFERED,
    ),
    always(
        Tour(false),
        ESC,
        "leave tour",
        "Leave the tour. All other keys keep their meaning in the view.",
        TOUR,
    ),
    always(Help, &[Key::new(Code::F(1))], "help", ABOUT_THIS, TEXT),
    always(Quit, &[Key::char('q')], "quit", QUIT, VIEWS),
    always(Quit, &[Key::ctrl('c')], "quit", QUIT, EVERYWHERE),
    always(
        Suspend,
        &[Key::ctrl('z')],
        "suspend",
        "Stop, and return to the shell until you enter fg.",
        EVERYWHERE,
    ),
    always(Redraw, &[Key::ctrl('l')], "redraw", "Redraw the whole screen.", EVERYWHERE),
    with(
        Need::Sections,
        SongTempo(Vertical::Up),
        &[Key::char('*')],
        "song tempo",
        SONG_TEMPO,
        ANY_VIEW,
    ),
    with(
        Need::Sections,
        SongTempo(Vertical::Down),
        &[Key::char('_')],
        "song tempo",
        SONG_TEMPO,
        ANY_VIEW,
    ),
    always(
        ByHand,
        &[Key::char('G')],
        "by hand",
        "Lead the song by hand: each tap (t) is a beat that the song waits for; again for bars, quarters of a bar, and off.",
        VIEWS,
    ),
    always(
        TapExactly,
        &[Key::char('T')],
        "exact tap",
        "Set the tempo of the last taps exactly, not to a whole number.",
        VIEWS,
    ),
];
