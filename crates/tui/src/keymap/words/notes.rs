//! What the actions of the notes are called: those of the view, of the lane, and of the two lists over it.

use super::{Words, only_here, words};
use crate::action::{Arrows, Move, NoteAction, NoteList, Operation, Picking, Side, Vertical};
use crate::keymap::Need;

pub(super) fn note_words(action: NoteAction, need: Need) -> Words {
    if let Some(words) = changing_words(action, need) {
        return words;
    }
    match action {
        NoteAction::Arrows(Arrows::Move) => words(
            "move-notes",
            "Move notes with the arrows",
            "shift nudge drag pitch earlier later higher lower",
        ),
        NoteAction::Arrows(Arrows::Length) => words(
            "note-length",
            "Make notes longer or shorter",
            "length; duration hold sustain shorten lengthen arrows",
        ),
        NoteAction::Arrows(Arrows::Velocity) => words(
            "note-velocity",
            "Make notes louder or softer",
            "velocity dynamics; harder quieter accent arrows",
        ),
        NoteAction::Arrows(Arrows::Lane) => words(
            "lane",
            "Draw velocities and controllers",
            "automation curve; bend pedal expression modulation volume pan swell draw below cc",
        ),
        NoteAction::Arrows(Arrows::Cursor) => only_here("cursor"),
        NoteAction::Arrow(Move::Up) => only_here("arrow-up"),
        NoteAction::Arrow(Move::Down) => only_here("arrow-down"),
        NoteAction::Arrow(Move::Left) => only_here("arrow-left"),
        NoteAction::Arrow(Move::Right) => only_here("arrow-right"),
        NoteAction::Arrow(Move::PageUp) => only_here("arrow-page-up"),
        NoteAction::Arrow(Move::PageDown) => only_here("arrow-page-down"),
        NoteAction::Arrow(Move::First) => only_here("arrow-first"),
        NoteAction::Arrow(Move::Last) => only_here("arrow-last"),
        NoteAction::Step(Side::Left) => {
            words("previous-note", "Go to the previous note", "back left cursor earlier")
        }
        NoteAction::Step(Side::Right) => {
            words("next-note", "Go to the next note", "forward right cursor later")
        }
        NoteAction::Octave(Vertical::Up) => {
            words("octave-up", "Move up an octave in the notes", "higher transpose cursor raise")
        }
        NoteAction::Octave(Vertical::Down) => {
            words("octave-down", "Move down an octave in the notes", "lower transpose cursor")
        }
        NoteAction::Draw => words("draw", "Draw a note", "add insert; write new pencil enter step"),
        NoteAction::Delete => words("delete-notes", "Delete notes", "remove erase; clear"),
        NoteAction::Range => {
            words("range", "Select a range of notes", "mark block area several from")
        }
        NoteAction::Release => words("deselect", "Select nothing", "escape cancel end clear none"),
        NoteAction::ChooseLane => words(
            "choose-lane",
            "Choose what the lane shows",
            "controller velocity bend pedal expression modulation volume pan curve add hide",
        ),
        NoteAction::Layers => {
            words("all-layers", "Show one layer or all layers", "passes filter only")
        }
        NoteAction::Keys => {
            words("all-keys", "Show every key, or only those used", "rows fold pitches drums")
        }
        NoteAction::Open(NoteList::Edit) => {
            words("edit-notes", "Open the list of note edits", "operations change more")
        }
        NoteAction::Open(NoteList::Select) => {
            words("select-notes", "Open the list of ways to select", "selection choose mark notes")
        }
        NoteAction::Do(operation) => operation_words(operation),
        NoteAction::Pick(picking) => picking_words(picking),
    }
}

/// The words of what an action does while the arrows change something, or are in the lane.
fn changing_words(action: NoteAction, need: Need) -> Option<Words> {
    let Need::Arrows(arrows) = need else { return None };
    Some(match (action, arrows) {
        (_, Arrows::Cursor) => return None,
        (NoteAction::Release, Arrows::Move) => {
            words("deselect", "Finish moving notes", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Length) => {
            words("deselect", "Finish changing lengths", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Velocity) => {
            words("deselect", "Finish changing velocities", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Lane) => {
            words("deselect", "Leave the lane", "escape cancel end done arrows")
        }
        (NoteAction::Draw, Arrows::Lane) => {
            words("draw", "Draw a point in the lane", "add insert write new pencil")
        }
        (NoteAction::Delete, Arrows::Lane) => {
            words("delete-notes", "Delete points in the lane", "remove erase clear")
        }
        (NoteAction::Range, Arrows::Lane) => words(
            "range",
            "Draw a ramp",
            "swell crescendo decrescendo diminuendo fade; glide slope curve line",
        ),
        (NoteAction::Step(Side::Left), Arrows::Move) => {
            words("previous-note", "Move notes earlier by a tick", "nudge left before")
        }
        (NoteAction::Step(Side::Right), Arrows::Move) => {
            words("next-note", "Move notes later by a tick", "nudge right after")
        }
        (NoteAction::Step(Side::Left), Arrows::Velocity) => {
            words("previous-note", "Go to the velocity of the previous note", "previous left")
        }
        (NoteAction::Step(Side::Right), Arrows::Velocity) => {
            words("next-note", "Go to the velocity of the next note", "right")
        }
        (NoteAction::Step(Side::Left), Arrows::Length) => {
            words("previous-note", "Make notes shorter by a tick", "shorten trim")
        }
        (NoteAction::Step(Side::Right), Arrows::Length) => {
            words("next-note", "Make notes longer by a tick", "lengthen extend")
        }
        (NoteAction::Step(Side::Left), Arrows::Lane) => {
            words("previous-note", "Go to the previous point of the lane", "back left")
        }
        (NoteAction::Step(Side::Right), Arrows::Lane) => {
            words("next-note", "Go to the next point of the lane", "forward right")
        }
        (NoteAction::Octave(Vertical::Up), Arrows::Move) => {
            words("octave-up", "Move notes up an octave", "higher transpose raise")
        }
        (NoteAction::Octave(Vertical::Down), Arrows::Move) => {
            words("octave-down", "Move notes down an octave", "lower transpose")
        }
        (NoteAction::Octave(Vertical::Up), Arrows::Lane) => {
            words("octave-up", "Raise the value in the lane by ten steps", "more louder")
        }
        (NoteAction::Octave(Vertical::Down), Arrows::Lane) => {
            words("octave-down", "Lower the value in the lane by ten steps", "less softer")
        }
        _ => return None,
    })
}

fn operation_words(operation: Operation) -> Words {
    match operation {
        Operation::Copy => words("copy-notes", "Copy notes", "duplicate clone"),
        Operation::Cut => words("cut-notes", "Cut notes", "remove delete move"),
        Operation::Paste => words("paste-notes", "Paste notes", "insert copy put"),
        Operation::Repeat => words(
            "repeat-notes",
            "Repeat notes right after the originals",
            "duplicate again copy double",
        ),
        Operation::Transpose => words(
            "transpose-notes",
            "Transpose notes",
            "semitones pitch shift key higher lower octave up down",
        ),
        Operation::Reverse => {
            words("reverse-notes", "Reverse notes in time", "backwards retrograde; mirror")
        }
        Operation::Invert => {
            words("invert-notes", "Turn notes upside down", "inversion mirror flip")
        }
        Operation::InvertFirst => words(
            "invert-notes-first",
            "Turn notes upside down from the first",
            "invert inversion mirror flip",
        ),
        Operation::Split => {
            words("split-notes", "Split notes at the cursor", "cut divide slice halve")
        }
        Operation::Join => words("join-notes", "Join notes", "merge glue tie legato combine"),
        Operation::Thin => {
            words("thin-notes", "Delete every nth note", "thin out remove reduce sparse fewer")
        }
        Operation::SplitOff => words(
            "split-layer",
            "Move notes to a layer of their own",
            "split separate extract own feel swing hats hi-hat drum part pass",
        ),
        Operation::AsPlayed => words(
            "as-played",
            "Put notes back as they were played",
            "reset original restore undo edits timing",
        ),
    }
}

fn picking_words(picking: Picking) -> Words {
    match picking {
        Picking::All => words("select-all", "Select all notes", "everything mark whole"),
        Picking::None => words("select-none", "Select no notes", "deselect nothing clear"),
        Picking::Others => {
            words("select-others", "Select the other notes", "invert opposite rest selection")
        }
        Picking::Pitch => words(
            "select-pitch",
            "Select the notes of this pitch",
            "row key same hats hi-hat snare kick drum cymbal one",
        ),
        Picking::Bar => words("select-bar", "Select the notes of this bar", "measure"),
        Picking::Beat => words("select-beat", "Select the notes of this beat", "crotchet pulse"),
        Picking::Every => words("select-every", "Select every nth note", "second other pattern"),
        Picking::Louder => words(
            "select-louder",
            "Select the louder notes",
            "loud; velocity harder strong accents",
        ),
        Picking::Softer => {
            words("select-softer", "Select the softer notes", "quiet ghost; velocity quieter weak")
        }
    }
}
