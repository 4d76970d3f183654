//! The rows of the view of the form.

use super::Need;
use super::rows::{DELETE, DOWN, END, HOME, LEFT, RIGHT, UP, always, moves, with};
use super::{Binding, Scene};
use crate::action::Action::{Lead, Move, PlayForm, Section};
use crate::action::{LeadAction, Move as To, SectionAction, Vertical};
use crate::input::{Code, Key};

const HERE: &[Scene] = &[Scene::SongForm];
const EDITS: &[Scene] = &[Scene::SectionEdits];

const MENU: &str = "Move to another row.";
const CURSOR: &str = "Move to another section.";
const ENTRY: &str = "Choose another entry of the form, from which {play-form} plays.";
const KEY: &str = "Transpose the song down or up by a semitone: at the next seam, bar or beat ({when} chooses), or \
    at once while stopped. Drums stay. Pressed again before that, the steps add up; undo takes them back.";
const SHIFT: &str = "Move the section up or down in the list. The form stays as it is.";

/// The table.
pub const TABLE: &[Binding] = &[
    always(Move(To::Up), UP, "section", CURSOR, HERE),
    always(Move(To::Down), DOWN, "section", CURSOR, HERE),
    always(
        Section(SectionAction::Go),
        &[Key::new(Code::Enter)],
        "go",
        "Go to the section at the next seam, bar or beat ({when} chooses); while stopped, at once.",
        HERE,
    ),
    with(
        Need::SongForm,
        PlayForm,
        &[Key::char('f')],
        "play form",
        "Play the form from the chosen entry, or the span that is marked.",
        HERE,
    ),
    with(
        Need::Playing,
        Lead(LeadAction::Stay),
        &[Key::char('h')],
        "stay",
        "Stay in the section that plays until you say where to go.",
        HERE,
    ),
    with(
        Need::Playing,
        Lead(LeadAction::Back),
        &[Key::char('B')],
        "to form",
        "Go back to the form, to the section after the one in which you left it.",
        HERE,
    ),
    with(
        Need::Playing,
        Lead(LeadAction::LastTime),
        &[Key::char('z')],
        "last time",
        "Play this section once more, then the rest of the form after its last entry, and stop.",
        HERE,
    ),
    always(Move(To::Left), LEFT, "entry", ENTRY, HERE),
    always(Move(To::Right), RIGHT, "entry", ENTRY, HERE),
    always(
        Section(SectionAction::Append),
        &[Key::char('b')],
        "add entry",
        "Add the section to the end of the form.",
        HERE,
    ),
    with(
        Need::SongForm,
        Section(SectionAction::DropLast),
        &[Key::char('x')],
        "remove last",
        "Remove the last entry of the form.",
        HERE,
    ),
    always(
        Section(SectionAction::WriteForm),
        &[Key::char('F')],
        "write form",
        "Write the form as text: A A B A, with times as in A x2, groups as in (A B) x2, and endings \
            as in (A [1 B] [2 C]). Clear it for no form.",
        HERE,
    ),
    always(
        Section(SectionAction::WriteChords),
        &[Key::char('H')],
        "chords",
        "Write the chords of the section as text, bar by bar: C | Am7 | Dm7 G7 | %. They are shown over the \
            bars. Clear it for no chords.",
        HERE,
    ),
    always(
        Section(SectionAction::Add),
        &[Key::char('s')],
        "new section",
        "Add a section below this one.",
        HERE,
    ),
    always(
        Section(SectionAction::Edit),
        &[Key::char('e')],
        "edit",
        "Edit the section: its letter, name, bars, metre and tempo. A new letter is changed in the \
            form, too. If its bars change while it plays, it starts from the top.",
        HERE,
    ),
    always(
        Section(SectionAction::Copy),
        &[Key::char('d')],
        "copy",
        "Duplicate the section. The copy shares its layers: a change to the notes of one is heard in both.",
        HERE,
    ),
    always(
        Section(SectionAction::Vary),
        &[Key::char('o')],
        "variation",
        "Duplicate the section with a name and layers of its own: changes to them are heard only there.",
        HERE,
    ),
    always(
        Section(SectionAction::Arrange),
        &[Key::char('A')],
        "arrange",
        "Open the list of what else can be done to the section: split, join, lift bars out, another length, \
            half time and double time.",
        HERE,
    ),
    always(
        Section(SectionAction::Tempo),
        &[Key::char('M')],
        "set tempo",
        "Set the tempo of the section or of the song: in beats per minute, in percent, by how long it is to \
            last, or as a ramp over bars.",
        HERE,
    ),
    always(
        Section(SectionAction::Key),
        &[Key::char('Y')],
        "find key",
        "Show which keys the notes of the section suggest, which parts go beyond the compass of their singer or \
            player, and which transposition fits.",
        HERE,
    ),
    always(
        Section(SectionAction::Remove),
        DELETE,
        "remove",
        "Remove the section, unless it is in the form or the only one; undo brings it back.",
        HERE,
    )
    .shown("Del"),
    with(
        Need::Sections,
        Section(SectionAction::Shift(Vertical::Up)),
        &[Key::char(',')],
        "up/down",
        SHIFT,
        HERE,
    ),
    with(
        Need::Sections,
        Section(SectionAction::Shift(Vertical::Down)),
        &[Key::char('.')],
        "up/down",
        SHIFT,
        HERE,
    ),
    always(
        Lead(LeadAction::When),
        &[Key::char('W')],
        "go at",
        "Choose when section changes happen: at the next seam, bar or beat.",
        HERE,
    ),
    always(
        Lead(LeadAction::Repeat),
        &[Key::char('L')],
        "repeat",
        "Choose whether the form starts again when it ends, or stops.",
        HERE,
    ),
    with(
        Need::SongForm,
        Section(SectionAction::Span),
        &[Key::char('m')],
        "mark span",
        "Mark a span of the form: press it at the first entry, go to the last one, and press it again. \
            {play-form} then plays the span, once or over and over as {repeat-form} says. A third press removes it.",
        HERE,
    ),
    always(
        Lead(LeadAction::KeepForm),
        &[Key::char('K')],
        "keep form",
        "Make the sections that you have played since the start the form of the song.",
        HERE,
    ),
    always(Lead(LeadAction::Key(Vertical::Down)), &[Key::char('[')], "key", KEY, HERE),
    always(Lead(LeadAction::Key(Vertical::Up)), &[Key::char(']')], "key", KEY, HERE),
    always(Move(To::First), HOME, "first", "Move to the first section.", HERE),
    always(Move(To::Last), END, "last", "Move to the last section.", HERE),
    always(
        Section(SectionAction::Split),
        &[Key::char('s')],
        "split",
        "Split the section in two at a bar. The form plays both where it played the one, and sounds as before.",
        EDITS,
    ),
    with(
        Need::Sections,
        Section(SectionAction::Join),
        &[Key::char('j')],
        "join next",
        "Join the section with the one that comes after it. The form must always play them one after the other.",
        EDITS,
    ),
    always(
        Section(SectionAction::Lift),
        &[Key::char('l')],
        "lift bars",
        "Copy some bars of the section into a new section. The section and the form stay as they are.",
        EDITS,
    ),
    always(
        Section(SectionAction::Length),
        &[Key::char('b')],
        "bars",
        "Give the section fewer bars, or more: they repeat what is there, or are empty.",
        EDITS,
    ),
    always(
        Section(SectionAction::HalfTime),
        &[Key::char('h')],
        "half time",
        "Stretch the section to twice the bars at the same tempo: every note takes twice as long.",
        EDITS,
    ),
    always(
        Section(SectionAction::DoubleTime),
        &[Key::char('d')],
        "double time",
        "Squeeze the section into half the bars at the same tempo: every note takes half as long.",
        EDITS,
    ),
    moves(To::Up, UP, "choose", MENU, EDITS),
    moves(To::Down, DOWN, "choose", MENU, EDITS),
];
