//! The table of actions. Letters are the first of their word wherever they can be; what is used
//! most comes first, because the line of keys is filled in this order.

use super::{Binding, Need, Scene};
use crate::action::Action::{self, *};
use crate::action::{Answer, Bar, Detail, Move as To, Side, Vertical};
use crate::desk::LevelStep;
use crate::input::{Code, Key};
use crate::screen::View;

const LOOP: &[Scene] = &[Scene::Loop];
const PIANO: &[Scene] = &[Scene::Piano];
/// Every view.
const VIEWS: &[Scene] =
    &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::SongForm, Scene::Ports];
/// Every view whose time axis is that of the section shown.
const ALONG: &[Scene] = &[Scene::Loop, Scene::Layers];
/// Every view but that of the form, whose Enter goes to a section and whose f plays from an entry.
const NOT_FORM: &[Scene] = &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::Ports];
/// Where the arrows do not choose tracks; the layers have rows of their own.
const DETAIL: &[Scene] = &[Scene::Notes, Scene::SongForm, Scene::Piano];
/// Every view, with the piano or without.
const ANY_VIEW: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
];
const FORM: &[Scene] = &[Scene::Form];
/// Where a value is changed with the arrows.
const VALUES: &[Scene] = &[Scene::Form, Scene::Feel, Scene::Ramp];
/// Where the arrows choose a track.
const LISTS: &[Scene] = &[Scene::Loop, Scene::Levels, Scene::Ports];
const LEAVE: &[Scene] = &[Scene::Leave];
const REPLACE: &[Scene] = &[Scene::Replace, Scene::Changed];
const CHANGED: &[Scene] = &[Scene::Changed];
const COMPARISON: &[Scene] = &[Scene::Comparison];
const RESCUE: &[Scene] = &[Scene::Rescue];
const EXPORTING: &[Scene] = &[Scene::Exporting];
const FEEL: &[Scene] = &[Scene::Feel];
const SECTIONS: &[Scene] = &[Scene::Sections];
const SOUNDS: &[Scene] = &[Scene::Sounds];
const FINDER: &[Scene] = &[Scene::Finder];
const FILES: &[Scene] = &[Scene::Files];
const HELP: &[Scene] = &[Scene::Help];
const TOUR: &[Scene] = &[Scene::Tour];
/// Where the tour can be started: every view, and the help, which closes then.
const TOUR_OFFERED: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Help,
];
/// Where something is accepted.
const CONFIRM: &[Scene] = &[
    Scene::Form,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
];
/// Where Escape goes back.
const BACK: &[Scene] = &[
    Scene::Form,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Files,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
];
/// Boxes in which a question mark types nothing.
const BOXES: &[Scene] = &[
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
];
/// Boxes in which it types itself.
const TEXT: &[Scene] = &[Scene::Form, Scene::Finder, Scene::Files];
/// Wherever a letter types nothing.
const NO_TEXT: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
    Scene::Help,
];
const EVERYWHERE: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Form,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Finder,
    Scene::Files,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
    Scene::Help,
];

const RECORD: &str = "Start recording on the armed track; from a stop, after the count-in, at the top \
    or at the bar you went to.";
const AGAIN: &str = "Record again from the bar where the last take began, after the count-in. The last take \
    stays; if you keep only the newest round, the new take mutes it.";
const UNDO: &str = "Undo the last change; while you are recording, the unfinished round first.";
const REDO: &str = "Redo the last change you undid.";
const STOP_RECORDING: &str =
    "Stop recording and keep what you played; the loop plays on (while recording).";
const DONT_RECORD: &str = "Call off the recording before it starts; the count-in goes on, and then the \
    song plays (while counting in).";
const LENGTH: &str = "Choose how long a note lasts, if the terminal does not report when you release a \
    key: up to 0.8 seconds, or until the next note.";
pub(super) const CHOOSE: &str =
    "Choose the track above or below, and arm it unless you are recording.";
const OCTAVE: &str = "Move the two rows of letters down or up an octave; each track keeps its own.";
const VELOCITY: &str = "Play harder or softer.";
const BAR: &str = "Go to the previous or next bar: {play}, {record} and {continue} begin there.";
const TEMPO: &str =
    "Raise or lower the tempo of the section shown to the next whole beat per minute.";
const SONG_TEMPO: &str = "Raise or lower the tempo of every section by a beat per minute.";
const LEVEL: &str = "Turn the built-in sound down or up a step; this is not part of the song. \
    Holding {sound-down} repeats; {sound-up} needs a press for each step.";
const COUNT_IN: &str = "Set the count-in: none, or one to four bars.";
const ZOOM: &str = "Zoom in or out: fewer bars in finer marks, or more bars in coarser ones.";
const PAGE: &str = "Show the previous or next page of bars.";
const NEXT_VIEW: &str = "Show the next view or, with Shift, the previous one.";
const VIEW: &str = "Show the loop ({loop}), the layers ({layers}) or notes ({notes}) of the chosen track, the levels \
    ({levels}), the sections and the form ({form}), or the ports and the timing ({ports}).";
const FIELD: &str = "Go to the next field or, with Shift, to the previous one.";
const ADJUST: &str = "Change a choice, or move the cursor.";
const FEEL_FIELD: &str = "Move to another setting.";
const PICK_SECTION: &str = "Move to another section. Typing its letter jumps to it.";
const READ_ON: &str = "Scroll the comparison by a line or a page.";
const PICK_FILE: &str = "Move to another song or folder. Typing part of its name finds it; Backspace \
    with nothing typed goes up a folder.";
const PICK_SOUND: &str = "Move to another sound by one, by a family of eight, or to the first or \
    the last, and hear it at once. Typing its name or its number does the same.";
const PICK_ACTION: &str = "Move to another action by a line or a page.";
const FIND_ACTION: &str = "Find an action by typing what you want to do, e.g. louder, copy or slower. \
    It is done, or you are told what it needs first.";
const ABOUT_THIS: &str = "Explain what is open, and the setting under the cursor.";
const SCROLL: &str = "Scroll the help by a line or a page.";
const QUIT: &str = "Quit; asks first if the song is playing or has unsaved changes.";

/// A row that always applies.
pub(super) const fn always(
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, Need::Nothing)
}

/// A row that needs a track.
pub(super) const fn with_track(
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, Need::Track)
}

/// A row that needs something.
pub(super) const fn with(
    need: Need,
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, need)
}

/// A row for moving among choices or lines.
pub(super) const fn moves(
    to: To,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    always(Move(to), keys, label, sentence, scenes).shown("arrows")
}

pub(super) const UP: &[Key] = &[Key::new(Code::Up)];
pub(super) const DOWN: &[Key] = &[Key::new(Code::Down)];
pub(super) const LEFT: &[Key] = &[Key::new(Code::Left)];
pub(super) const RIGHT: &[Key] = &[Key::new(Code::Right)];
pub(super) const PAGE_UP: &[Key] = &[Key::new(Code::PageUp)];
pub(super) const PAGE_DOWN: &[Key] = &[Key::new(Code::PageDown)];
pub(super) const HOME: &[Key] = &[Key::new(Code::Home)];
pub(super) const END: &[Key] = &[Key::new(Code::End)];
pub(super) const DELETE: &[Key] = &[Key::new(Code::Delete), Key::new(Code::Backspace)];
pub(super) const ENTER: &[Key] = &[Key::new(Code::Enter)];
pub(super) const ESC: &[Key] = &[Key::new(Code::Esc)];
const SPACE: &[Key] = &[Key::char(' ')];
/// The key of the finder where letters type or play something.
const FIND: Key = Key::new(Code::F(9));

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
    Binding::new(RecordAgain, &[Key::ctrl('r')], "again", AGAIN, ANY_VIEW, Need::Again),
    Binding::new(Undo, &[Key::new(Code::Backspace)], "undo", UNDO, PIANO, Need::Undo),
    Binding::new(Redo, &[Key::ctrl('y')], "redo", REDO, PIANO, Need::Redo),
    always(NextLength, &[Key::char('x')], "note length", LENGTH, PIANO),
    Binding::new(Undo, &[Key::char('u')], "undo", UNDO, VIEWS, Need::Undo),
    always(Octave(Vertical::Down), LEFT, "octave", OCTAVE, PIANO),
    always(Octave(Vertical::Up), RIGHT, "octave", OCTAVE, PIANO),
    always(Velocity(Vertical::Up), UP, "velocity", VELOCITY, PIANO),
    always(Velocity(Vertical::Down), DOWN, "velocity", VELOCITY, PIANO),
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
    always(
        Tap,
        &[Key::char('t')],
        "tap",
        "Tap the tempo: two or more taps in time set it to a whole number of beats per minute.",
        VIEWS,
    ),
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
        "Set the feel of the chosen track by ear: grid, pull, reach, swing and rolls.",
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
    Binding::new(Redo, &[Key::char('U')], "redo", REDO, VIEWS, Need::Redo),
    Binding::new(
        ChooseSection,
        &[Key::char('j')],
        "jump",
        "Choose the section to jump to at the next seam.",
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
    Binding::new(
        Field(Vertical::Down),
        &[Key::new(Code::Tab), Key::new(Code::Down)],
        "next field",
        FIELD,
        FORM,
        Need::Fields,
    )
    .shown("Tab"),
    Binding::new(
        Field(Vertical::Up),
        &[Key::new(Code::BackTab), Key::new(Code::Up)],
        "next field",
        FIELD,
        FORM,
        Need::Fields,
    ),
    always(Adjust(Side::Left), LEFT, "change", ADJUST, VALUES),
    always(Adjust(Side::Right), RIGHT, "change", ADJUST, VALUES),
    always(
        Clear,
        &[Key::ctrl('u')],
        "clear",
        "Clear the field.",
        &[Scene::Form, Scene::Sounds, Scene::Finder, Scene::Files],
    ),
    always(Move(To::Up), UP, "setting", FEEL_FIELD, FEEL),
    always(Move(To::Down), DOWN, "setting", FEEL_FIELD, FEEL),
    moves(To::Up, UP, "choose", PICK_SECTION, SECTIONS),
    moves(To::Down, DOWN, "choose", PICK_SECTION, SECTIONS),
    moves(To::Left, LEFT, "choose", PICK_SECTION, SECTIONS),
    moves(To::Right, RIGHT, "choose", PICK_SECTION, SECTIONS),
    moves(To::Up, UP, "choose", PICK_SOUND, SOUNDS),
    moves(To::Down, DOWN, "choose", PICK_SOUND, SOUNDS),
    moves(To::PageUp, PAGE_UP, "choose", PICK_SOUND, SOUNDS),
    moves(To::PageDown, PAGE_DOWN, "choose", PICK_SOUND, SOUNDS),
    moves(To::First, HOME, "choose", PICK_SOUND, SOUNDS),
    moves(To::Last, END, "choose", PICK_SOUND, SOUNDS),
    always(Confirm, ENTER, "OK", "Confirm.", CONFIRM),
    always(
        Confirm,
        ENTER,
        "do it",
        "Do the chosen action; if it belongs to another view, show that view first.",
        FINDER,
    ),
    moves(To::Up, UP, "choose", PICK_ACTION, FINDER),
    moves(To::Down, DOWN, "choose", PICK_ACTION, FINDER),
    moves(To::PageUp, PAGE_UP, "choose", PICK_ACTION, FINDER),
    moves(To::PageDown, PAGE_DOWN, "choose", PICK_ACTION, FINDER),
    always(
        Confirm,
        ENTER,
        "open",
        "Open the chosen song, or go to the chosen folder; asks first if there are unsaved changes.",
        FILES,
    ),
    moves(To::Up, UP, "choose", PICK_FILE, FILES),
    moves(To::Down, DOWN, "choose", PICK_FILE, FILES),
    moves(To::PageUp, PAGE_UP, "choose", PICK_FILE, FILES),
    moves(To::PageDown, PAGE_DOWN, "choose", PICK_FILE, FILES),
    always(Cancel, &[Key::new(Code::Esc), FIND], "close", "Close the finder.", FINDER).shown("Esc"),
    Binding::new(
        Answer(Answer::Save),
        &[Key::char('s')],
        "save",
        "Save first, then go on.",
        LEAVE,
        Need::Unsaved,
    ),
    Binding::new(
        Answer(Answer::DontSave),
        &[Key::char('l')],
        "don't save",
        "Go on without saving; the changes are lost (if there are unsaved changes).",
        LEAVE,
        Need::Unsaved,
    ),
    Binding::new(
        Answer(Answer::Leave),
        &[Key::char('l')],
        "leave",
        "Stop and leave (if everything is saved).",
        LEAVE,
        Need::Saved,
    ),
    always(Answer(Answer::Replace), &[Key::char('r')], "replace", "Replace the file.", REPLACE),
    always(
        Answer(Answer::Reload),
        &[Key::char('l')],
        "load it",
        "Load the file as the other program wrote it; unsaved changes here are lost.",
        CHANGED,
    ),
    always(
        Answer(Answer::Compare),
        &[Key::char('c')],
        "compare",
        "Compare the song here with the one in the file: what they play differently, and where.",
        CHANGED,
    ),
    always(
        Answer(Answer::SaveAs),
        &[Key::char('w')],
        "save as",
        "Save the song here under another name, and leave the file as it is.",
        CHANGED,
    ),
    moves(To::Up, UP, "scroll", READ_ON, COMPARISON),
    moves(To::Down, DOWN, "scroll", READ_ON, COMPARISON),
    moves(To::PageUp, PAGE_UP, "scroll", READ_ON, COMPARISON),
    moves(To::PageDown, PAGE_DOWN, "scroll", READ_ON, COMPARISON),
    always(
        Answer(Answer::CancelExport),
        &[Key::char('x')],
        "cancel export",
        "Cancel the export; no file is written.",
        EXPORTING,
    ),
    always(
        Answer(Answer::Restore),
        &[Key::char('r')],
        "restore",
        "Open the rescue copy: the song with its unsaved changes.",
        RESCUE,
    ),
    always(
        Answer(Answer::Remove),
        &[Key::char('x')],
        "delete copy",
        "Delete the rescue copy and keep the song without its changes.",
        RESCUE,
    ),
    always(Cancel, ESC, "back", "Go back, and leave everything as it was.", BACK),
    moves(To::Up, UP, "scroll", SCROLL, HELP),
    moves(To::Down, DOWN, "scroll", SCROLL, HELP),
    moves(To::PageUp, PAGE_UP, "scroll", SCROLL, HELP),
    moves(To::PageDown, PAGE_DOWN, "scroll", SCROLL, HELP),
    moves(To::First, HOME, "scroll", SCROLL, HELP),
    always(
        Move(To::Last),
        END,
        "hearing safety",
        "Go to the last page, about hearing and gear.",
        HELP,
    ),
    always(
        Cancel,
        &[Key::new(Code::Esc), Key::char('q'), Key::char('?'), Key::new(Code::F(1))],
        "back",
        "Close the help.",
        HELP,
    )
    .shown("Esc"),
    always(
        Silence,
        &[Key::char('!')],
        "silence",
        "Silence everything that is sounding, at once. In a form its key is just a character.",
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
        TapExactly,
        &[Key::char('T')],
        "exact tap",
        "Set the tempo of the last taps exactly, not to a whole number.",
        VIEWS,
    ),
];
