//! The rows of what is done in the views: playing, recording, tracks, settings, files and showing. Letters are
//! the first of their word wherever they can be; what is used most comes first, because the line of keys is
//! filled in this order.

use super::rows::{
    DELETE, DOWN, ENTER, ESC, LEFT, PAGE_DOWN, PAGE_UP, REDO_KEYS, RIGHT, SPACE, UNDO_KEYS, UP,
    always, with, with_track,
};
use super::scenes::{ALONG, ANY_VIEW, DETAIL, LISTS, LOOP, NO_TEXT, NOT_FORM, PIANO, VIEWS};
use super::{Binding, Need};
use crate::action::Action::*;
use crate::action::{Bar, Detail, Side, Vertical};
use crate::desk::LevelStep;
use crate::input::{Code, Key};
use crate::screen::View;

const RECORD: &str = "Start recording on the armed track; from a stop, after the count-in, at the top \
    or at the bar you went to.";
const AGAIN: &str = "Record the last take again from the bar where it began, after the count-in. Once you play, the \
    new take mutes the last one; undo brings it back.";
pub(super) const UNDO: &str =
    "Undo the last change; while you are recording, the unfinished round first.";
pub(super) const REDO: &str = "Redo the last change you undid.";
const STOP_RECORDING: &str =
    "Stop recording and keep what you played; the loop plays on (while recording).";
const DONT_RECORD: &str = "Cancel the recording before it starts; the count-in goes on, and then the \
    song plays (while counting in).";
pub(super) const LENGTH: &str = "Choose how long a note lasts, if the terminal does not report when you release a \
    key: up to 0.8 seconds, or until the next note.";
pub(super) const CHOOSE: &str =
    "Choose the track above or below, and arm it unless you are recording.";
const OCTAVE: &str = "Move the two rows of letters down or up an octave; each track keeps its own.";
const VELOCITY: &str = "Play harder or softer.";
const BAR: &str = "Go to the previous or next bar: {play}, {record} and {continue} begin there.";
const TEMPO: &str =
    "Raise or lower the tempo of the section shown to the next whole beat per minute.";
const LEVEL: &str = "Turn the built-in sound down or up a step; this is not part of the song. \
    Holding {sound-down} repeats; {sound-up} needs a press for each step.";
const COUNT_IN: &str = "Set the count-in: none, or one to four bars.";
const ZOOM: &str = "Zoom in or out: fewer bars in finer marks, or more bars in coarser ones.";
const PAGE: &str = "Show the previous or next page of bars.";
const TAP: &str =
    "Tap the tempo: two or more taps in time set it to a whole number of beats per minute.";
const GO_ON: &str =
    "Let the song go on from a fermata; while you lead by hand, give the next beat.";
const NEXT_VIEW: &str = "Show the next view or, with Shift, the previous one.";
const VIEW: &str = "Show the loop ({loop}), the layers ({layers}) or notes ({notes}) of the chosen track, the levels \
    ({levels}), the sections and the form ({form}), or the ports and the timing ({ports}).";

/// The table.
pub const TABLE: &[Binding] = &[
    always(Piano(false), ESC, "end piano", "Leave piano mode: letters are commands again.", PIANO),
    Binding::new(
        PlayOrStop,
        SPACE,
        "play",
        "Loop the section shown, from the top or from the bar you went to.",
        ANY_VIEW,
        Need::Stopped,
    ),
    Binding::new(
        PlayOrStop,
        SPACE,
        "stop",
        "Stop, and release everything that is sounding (while playing or counting in).",
        ANY_VIEW,
        Need::Moving,
    ),
    with(
        Need::SongForm,
        PlayForm,
        &[Key::char('f')],
        "play form",
        "Play the form once, from its start.",
        NOT_FORM,
    ),
    Binding::new(
        Continue,
        &[Key::char('C')],
        "continue",
        "Continue from where the song stopped, or from the bar you went to.",
        ANY_VIEW,
        Need::Parked,
    ),
    Binding::new(Record, &[Key::char('r')], "record", RECORD, VIEWS, Need::Ready),
    Binding::new(
        Record,
        &[Key::char('r')],
        "don't record",
        DONT_RECORD,
        VIEWS,
        Need::AboutToRecord,
    ),
    Binding::new(
        Record,
        &[Key::char('r')],
        "stop recording",
        STOP_RECORDING,
        VIEWS,
        Need::Recording,
    ),
    // In piano mode only keys off the two rows that play notes act.
    Binding::new(Record, ENTER, "record", RECORD, PIANO, Need::Ready),
    Binding::new(Record, ENTER, "don't record", DONT_RECORD, PIANO, Need::AboutToRecord),
    Binding::new(Record, ENTER, "stop recording", STOP_RECORDING, PIANO, Need::Recording),
    Binding::new(RecordAgain, &[Key::ctrl('r')], "retake", AGAIN, ANY_VIEW, Need::Again),
    Binding::new(Undo, &[Key::new(Code::Backspace)], "undo", UNDO, PIANO, Need::Undo),
    Binding::new(Redo, &[Key::ctrl('y')], "redo", REDO, PIANO, Need::Redo),
    always(NextLength, &[Key::char('x')], "note length", LENGTH, PIANO),
    Binding::new(Undo, UNDO_KEYS, "undo", UNDO, VIEWS, Need::Undo).shown("u"),
    always(Octave(Vertical::Down), LEFT, "octave", OCTAVE, PIANO),
    always(Octave(Vertical::Up), RIGHT, "octave", OCTAVE, PIANO),
    always(Velocity(Vertical::Up), UP, "velocity", VELOCITY, PIANO),
    always(Velocity(Vertical::Down), DOWN, "velocity", VELOCITY, PIANO),
    Binding::new(Locate(Bar::Before), &[Key::shift(Code::Left)], "bar", BAR, PIANO, Need::Stopped),
    Binding::new(Locate(Bar::After), &[Key::shift(Code::Right)], "bar", BAR, PIANO, Need::Stopped),
    with_track(Choose(Vertical::Up), UP, "track", CHOOSE, LISTS),
    with_track(Choose(Vertical::Down), DOWN, "track", CHOOSE, LISTS),
    with_track(Choose(Vertical::Up), PAGE_UP, "track", CHOOSE, DETAIL),
    with_track(Choose(Vertical::Down), PAGE_DOWN, "track", CHOOSE, DETAIL),
    Binding::new(Locate(Bar::Before), LEFT, "bar", BAR, ALONG, Need::Stopped),
    Binding::new(Locate(Bar::After), RIGHT, "bar", BAR, ALONG, Need::Stopped),
    Binding::new(
        Arm,
        ENTER,
        "arm",
        "Arm the chosen track: you play it, and record on it.",
        NOT_FORM,
        Need::Apart,
    ),
    always(AddTrack, &[Key::char('a')], "add", "Add a track, drums or pitched, and arm it.", VIEWS),
    with_track(
        Keep,
        &[Key::char('k')],
        "keep",
        "Keep what you just played while not recording, as a new pass.",
        VIEWS,
    ),
    with_track(
        Mute,
        &[Key::char('m')],
        "mute",
        "Mute or unmute the chosen track. A mute is part of the song.",
        LISTS,
    ),
    with_track(
        Solo,
        &[Key::char('s')],
        "solo",
        "Solo the chosen track, or end its solo. A solo is not part of the song.",
        LISTS,
    ),
    with_track(
        Piano(true),
        &[Key::char('p')],
        "piano",
        "Turn on piano mode: two rows of letters play notes on the armed track.",
        VIEWS,
    ),
    with_track(
        Quantise,
        &[Key::char('g')],
        "quantise",
        "Pull the chosen track to its grid, or let it play as you played it; nothing is lost.",
        VIEWS,
    ),
    Binding::new(
        RemovePass,
        DELETE,
        "remove",
        "Remove the top layer of the armed track; undo brings it back.",
        LOOP,
        Need::Layer,
    )
    .shown("Del"),
    always(Save, &[Key::ctrl('s')], "save", "Save the song.", ANY_VIEW),
    always(Tempo(Vertical::Up), &[Key::char('+'), Key::char('=')], "tempo", TEMPO, ANY_VIEW)
        .shown("+ -"),
    always(Tempo(Vertical::Down), &[Key::char('-')], "tempo", TEMPO, ANY_VIEW),
    Binding::new(
        SoundLevel(LevelStep::Softer),
        &[Key::char('(')],
        "level",
        LEVEL,
        NO_TEXT,
        Need::Sound,
    ),
    Binding::new(
        SoundLevel(LevelStep::Louder),
        &[Key::char(')')],
        "level",
        LEVEL,
        NO_TEXT,
        Need::Sound,
    ),
    with_track(
        ChooseSound,
        &[Key::char('i')],
        "sound",
        "Choose the sound of the chosen track by ear.",
        VIEWS,
    ),
    Binding::new(Tap, &[Key::char('t')], "go on", GO_ON, VIEWS, Need::Held),
    Binding::new(Tap, &[Key::new(Code::Tab)], "go on", GO_ON, PIANO, Need::Held),
    Binding::new(Tap, &[Key::char('t')], "tap", TAP, VIEWS, Need::Flowing),
    Binding::new(Tap, &[Key::new(Code::Tab)], "tap", TAP, PIANO, Need::Flowing),
    always(
        NextMode,
        &[Key::char('l')],
        "new pass",
        "Choose what a new pass does to the layers under it: add, replace bar by bar, or punch.",
        VIEWS,
    ),
    always(
        NextRounds,
        &[Key::char('R')],
        "keep rounds",
        "Choose which rounds of a take to keep: all, the newest, or the whole take as one long \
            pass.",
        VIEWS,
    ),
    with_track(
        SetFeel,
        &[Key::char('v')],
        "feel",
        "Set the feel of the chosen track by ear: grid, swing, a groove, human variation.",
        ANY_VIEW,
    ),
    with(
        Need::Pitched,
        SetKeys,
        &[Key::ctrl('k')],
        "keys play",
        "Choose what keys play on the armed track: notes, only notes of the key or of the chord, or a whole chord with \
            one finger.",
        ANY_VIEW,
    ),
    always(
        NextClick,
        &[Key::char('c')],
        "click",
        "Choose when the click plays: in the count-in, while recording, or always.",
        ANY_VIEW,
    ),
    always(CountIn(0), &[Key::char('0')], "count-in", COUNT_IN, ANY_VIEW).shown("0-4"),
    always(CountIn(1), &[Key::char('1')], "count-in", COUNT_IN, ANY_VIEW),
    always(CountIn(2), &[Key::char('2')], "count-in", COUNT_IN, ANY_VIEW),
    always(CountIn(3), &[Key::char('3')], "count-in", COUNT_IN, ANY_VIEW),
    always(CountIn(4), &[Key::char('4')], "count-in", COUNT_IN, ANY_VIEW),
    Binding::new(Redo, REDO_KEYS, "redo", REDO, VIEWS, Need::Redo).shown("U"),
    Binding::new(
        ChooseSection,
        &[Key::char('j')],
        "jump",
        "Choose where to go while the song plays: to another section at the next seam, bar or beat, to stay, \
            back to the form, or one last time.",
        VIEWS,
        Need::Sections,
    ),
    always(
        SaveAs,
        &[Key::char('w')],
        "save as",
        "Write the song to another file; later saves go there, too.",
        VIEWS,
    ),
    always(
        Export,
        &[Key::ctrl('e')],
        "export",
        "Export the song to a MIDI or WAV file while it plays on; during an export, ask whether to \
            cancel it.",
        ANY_VIEW,
    ),
    always(
        OpenSong,
        &[Key::ctrl('o')],
        "open",
        "Open another song: from this song's folder, a recent one, or from another folder.",
        ANY_VIEW,
    ),
    always(NewSong, &[Key::char('n')], "new song", "Start a new song.", VIEWS),
    always(ShowBeside(Side::Right), &[Key::new(Code::Tab)], "next view", NEXT_VIEW, VIEWS)
        .shown("Tab"),
    always(ShowBeside(Side::Left), &[Key::new(Code::BackTab)], "next view", NEXT_VIEW, VIEWS),
    always(Show(View::Loop), &[Key::new(Code::F(2))], "view", VIEW, ANY_VIEW).shown("F2-F7"),
    always(Show(View::Layers), &[Key::new(Code::F(3))], "view", VIEW, ANY_VIEW),
    always(Show(View::Notes), &[Key::new(Code::F(4))], "view", VIEW, ANY_VIEW),
    always(Show(View::Levels), &[Key::new(Code::F(5))], "view", VIEW, ANY_VIEW),
    always(Show(View::Form), &[Key::new(Code::F(6))], "view", VIEW, ANY_VIEW),
    always(Show(View::Ports), &[Key::new(Code::F(7))], "view", VIEW, ANY_VIEW),
    always(Zoom(Detail::Finer), &[Key::char('<')], "zoom", ZOOM, ANY_VIEW),
    always(Zoom(Detail::Coarser), &[Key::char('>')], "zoom", ZOOM, ANY_VIEW),
    Binding::new(Page(Side::Left), PAGE_UP, "page", PAGE, LOOP, Need::Page),
    Binding::new(Page(Side::Right), PAGE_DOWN, "page", PAGE, LOOP, Need::Page),
];
