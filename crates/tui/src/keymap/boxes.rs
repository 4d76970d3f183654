//! The rows of what opens over a view: forms, choices, questions, the finder and the help.

use super::rows::{
    DOWN, END, ENTER, ESC, FIND, HOME, LEFT, PAGE_DOWN, PAGE_UP, RIGHT, UP, always, moves,
};
use super::scenes::{
    BACK, CHANGED, COMPARISON, EXPORTING, FEEL, FILES, FINDER, FORM, HELP, HELP_SEARCH, KEY_BOX,
    LEAVE, MENUS, REPLACE, RESCUE, SECTIONS, SETTINGS, SOUNDS, VALUES,
};
use super::{Binding, Need, Scene};
use crate::action::Action::*;
use crate::action::{Answer, LeadAction, Move as To, Side, Vertical};
use crate::input::{Code, Key};

const FIELD: &str = "Go to the next field or, with Shift, to the previous one.";
const ADJUST: &str = "Change a choice, or move the cursor.";
const NEXT_SETTING: &str = "Go to the next setting or, with Shift, to the previous one.";
const FEEL_FIELD: &str = "Move to another setting. Values can be typed too: 1/8, 1/8t for triplets, 1/8d for \
    dotted notes; 62 for 62 %; the name of a groove.";
const PICK_SECTION: &str = "Move to another line. Typing the letter of a section goes there.";
const READ_ON: &str = "Scroll the comparison by a line or a page.";
const PICK_KEY: &str = "Move to another key or track.";
const STEP_KEY: &str = "In the last two rows: transpose by a semitone less or more.";
const PICK_FILE: &str = "Move to another song or folder. Typing part of its name finds it; Backspace \
    with nothing typed goes up a folder.";
const PICK_SOUND: &str = "Move to another sound by one, by a family of eight, or to the first or \
    the last, and hear it at once. Typing its name or its number does the same.";
const PICK_ACTION: &str = "Move to another action by a line or a page.";
const NEXT: &str = "Go to the next place found or, with Shift, to the previous one.";
const SCROLL: &str = "Scroll the help by a line or a page.";

/// The table.
pub const TABLE: &[Binding] = &[
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
        &[Scene::Form, Scene::Sounds, Scene::Finder, Scene::Files, Scene::HelpSearch],
    ),
    Binding::new(
        Suggest,
        &[Key::ctrl('t')],
        "from notes",
        "Fill in the chords that the notes of the chosen track suggest.",
        FORM,
        Need::Chart,
    ),
    always(Move(To::Up), UP, "setting", FEEL_FIELD, FEEL),
    always(Move(To::Down), DOWN, "setting", FEEL_FIELD, FEEL),
    Binding::new(
        Field(Vertical::Down),
        &[Key::new(Code::Tab)],
        "setting",
        NEXT_SETTING,
        SETTINGS,
        Need::Fields,
    )
    .shown("Tab"),
    Binding::new(
        Field(Vertical::Up),
        &[Key::new(Code::BackTab)],
        "setting",
        NEXT_SETTING,
        SETTINGS,
        Need::Fields,
    )
    .shown("Tab"),
    always(
        Lead(LeadAction::When),
        &[Key::new(Code::Tab)],
        "when",
        "Choose when: at the next seam, bar or beat.",
        SECTIONS,
    ),
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
    always(Confirm, ENTER, "done", "Do what the box is for, e.g. save or export.", &[Scene::Form]),
    always(Confirm, ENTER, "keep", "Keep the settings.", &[Scene::Feel, Scene::Ramp]),
    always(Confirm, ENTER, "go", "Go to the chosen line.", SECTIONS),
    always(
        Confirm,
        ENTER,
        "use it",
        "Make the chosen key that of the section, or transpose: as the chosen track needs it, or as far as you have \
            chosen in the last two rows.",
        KEY_BOX,
    ),
    always(
        Lead(LeadAction::KeyWhen),
        &[Key::new(Code::Tab)],
        "when",
        "Choose when to transpose while the song plays: at the next seam, bar or beat, or now.",
        KEY_BOX,
    ),
    moves(To::Left, LEFT, "semitone", STEP_KEY, KEY_BOX),
    moves(To::Right, RIGHT, "semitone", STEP_KEY, KEY_BOX),
    moves(To::Up, UP, "choose", PICK_KEY, KEY_BOX),
    moves(To::Down, DOWN, "choose", PICK_KEY, KEY_BOX),
    always(Confirm, ENTER, "keep", "Keep the chosen sound.", SOUNDS),
    always(Confirm, ENTER, "do it", "Do what is chosen in the list.", MENUS),
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
        &[Key::char('q')],
        "quit",
        "Stop and quit (if everything is saved).",
        LEAVE,
        Need::Saved,
    ),
    always(Answer(Answer::Replace), &[Key::char('r')], "replace", "Replace the file.", REPLACE),
    always(
        Answer(Answer::Reload),
        &[Key::char('l')],
        "load it",
        "Load the file as the other program wrote it; unsaved changes here are lost, and undo starts afresh.",
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
    always(
        SearchHelp,
        &[Key::char('/')],
        "search",
        "Search the help for words, or for a key as it is written here.",
        HELP,
    ),
    always(NextMatch(Vertical::Down), &[Key::char('n'), Key::new(Code::Enter)], "next", NEXT, HELP)
        .shown("n N"),
    always(NextMatch(Vertical::Up), &[Key::char('N')], "next", NEXT, HELP).shown("n N"),
    always(
        Confirm,
        ENTER,
        "keep",
        "Keep the place found; then {next-match} goes to the next.",
        HELP_SEARCH,
    ),
    always(Cancel, ESC, "back", "Drop the search, and go back to where it began.", HELP_SEARCH),
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
];
