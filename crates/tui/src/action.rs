//! What can be asked of the screen, as plain data with its arguments.
//!
//! A key, a finder, a pedal, a script and a test all ask for the same values. Which keys ask for
//! them, and the words for them, are in the table of `keymap`; what they do is in `screen::act`,
//! which has an arm for each.

use crate::desk::LevelStep;
use crate::screen::View;

/// Something the screen can be asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// Play from the top or from the bar gone to; if the song plays, stop. The engine decides which: what the screen
    /// knows may be a moment old.
    PlayOrStop,
    /// Play on from where it stopped.
    Continue,
    /// Go to another bar while stopped.
    Locate(Bar),
    /// Start or stop recording. Again the engine decides which.
    Record,
    /// Stop, and record again from where the last take began.
    RecordAgain,
    /// Keep what was played without recording: make it a pass.
    Keep,
    /// Undo the last change.
    Undo,
    /// Redo the last change that was undone.
    Redo,
    /// Show a view.
    Show(View),
    /// Show the view beside the one shown.
    ShowBeside(Side),
    /// Change the levels of the chosen track.
    Level(LevelAction),
    /// Change the layer under the cursor.
    Layer(LayerAction),
    /// Take a groove, or do something with those of the song.
    Groove(GrooveAction),
    /// Play the song's form.
    PlayForm,
    /// Change the section under the cursor, or the form.
    Section(SectionAction),
    /// Lead the form while it plays.
    Lead(LeadAction),
    /// Do something in the view of the notes.
    Note(NoteAction),
    /// Choose the track above or below.
    Choose(Vertical),
    /// Arm the chosen track.
    Arm,
    /// Ask for a new track.
    AddTrack,
    /// Change the chosen track.
    Track(TrackAction),
    /// Ask for the title, key and transposition of the song.
    EditSong,
    /// Mute or unmute the chosen track.
    Mute,
    /// Solo the chosen track, or end its solo.
    Solo,
    /// Remove the armed track's top pass.
    RemovePass,
    /// Change to the next way for a new pass to treat the layers under it.
    NextMode,
    /// Change to the next rule for the rounds of a take.
    NextRounds,
    /// Change to the next setting of the click.
    NextClick,
    /// Set the bars of the count-in, 0..=4.
    CountIn(u8),
    /// Quantise the chosen track or not.
    Quantise,
    /// Open the feel of the chosen track.
    SetFeel,
    /// Open the box for what the keys of the armed track play.
    SetKeys,
    /// Do something in that box.
    Keys(KeysAction),
    /// Open the choice of a sound.
    ChooseSound,
    /// Open the choice of a section.
    ChooseSection,
    /// Raise or lower the tempo of the section shown by a beat per minute.
    Tempo(Vertical),
    /// Raise or lower the tempo of every section by a beat per minute.
    SongTempo(Vertical),
    /// Tap the tempo, or the next beat.
    Tap,
    /// Lead the time by hand, beat by beat, bar by bar or in quarters of a bar, or no longer.
    ByHand,
    /// Set the tempo of the last taps, not rounded.
    TapExactly,
    /// Turn the built-in sound up or down.
    SoundLevel(LevelStep),
    /// Turn piano mode on or off.
    Piano(bool),
    /// Change how long a note of the piano lasts.
    NextLength,
    /// Move the piano by an octave.
    Octave(Vertical),
    /// Make the piano's notes harder or softer.
    Velocity(Vertical),
    /// Count how late messages are afresh.
    RestartTiming,
    /// Zoom: change how much time a mark stands for.
    Zoom(Detail),
    /// Show the previous or next page of bars.
    Page(Side),
    /// Save the song.
    Save,
    /// Ask for another file to save the song to.
    SaveAs,
    /// Ask what to export; while an export runs, whether to cancel it.
    Export,
    /// Ask for another song to open.
    OpenSong,
    /// Ask for a new song.
    NewSong,
    /// Silence everything.
    Silence,
    /// Open the finder of actions.
    Find,
    /// Open the help.
    Help,
    /// Search the help.
    SearchHelp,
    /// Go to the next line found in the help, or the previous one.
    NextMatch(Vertical),
    /// Start the tour from its first step, or leave it.
    Tour(bool),
    /// End the program.
    Quit,
    /// Return to the shell for a while.
    Suspend,
    /// Redraw the screen.
    Redraw,
    /// Move to another choice or line.
    Move(Move),
    /// Go to the previous or next field.
    Field(Vertical),
    /// Change a choice, or move in the text.
    Adjust(Side),
    /// Clear the field.
    Clear,
    /// Fill in the chords that the notes suggest.
    Suggest,
    /// Accept what is chosen or written.
    Confirm,
    /// Close what is open and change nothing.
    Cancel,
    /// Answer the question before a song is left.
    Answer(Answer),
}

/// What can be done to a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LayerAction {
    /// Mute or unmute it.
    Mute,
    /// Solo it among the layers of its track, or end its solo.
    Solo,
    /// Move it up or down in the stack.
    Shift(Vertical),
    /// Make it the section's own, if other sections share it.
    Own,
    /// Ask for its name.
    Name,
    /// Ask for another length or speed.
    Arrange,
    /// Merge it with the layer below it.
    Merge,
    /// Open its own feel.
    Feel,
    /// Remove it.
    Remove,
}

/// What can be done with grooves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GrooveAction {
    /// Ask how to take one from the chosen layer or track.
    Take,
    /// Show those of the song.
    Show,
    /// Ask for another name of the chosen one.
    Name,
    /// Remove the chosen one.
    Remove,
}

/// What can be done to the levels of a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LevelAction {
    /// Turn its volume up or down.
    Volume(Vertical),
    /// Move its pan to the left or right.
    Pan(Side),
    /// Leave volume and pan to the instrument.
    Clear,
}

/// What can be done to a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TrackAction {
    /// Ask for its name, kind, channel and port.
    Edit,
    /// Remove it with its passes.
    Remove,
    /// Move it up or down in the list.
    Shift(Vertical),
}

/// What can be done to a section, and to the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SectionAction {
    /// Go to it at the next seam; while stopped, show it.
    Go,
    /// Ask for a new section.
    Add,
    /// Copy it; the copy shares its passes.
    Copy,
    /// Copy it with passes of its own.
    Vary,
    /// Ask for its letter, name, bars, metre and tempo.
    Edit,
    /// Remove it.
    Remove,
    /// Move it up or down in the list.
    Shift(Vertical),
    /// Append it to the form.
    Append,
    /// Drop the last entry of the form.
    DropLast,
    /// Mark where a span of the form begins, then where it ends; after that, no span.
    Span,
    /// Ask for the form as text.
    WriteForm,
    /// Ask for its chords as text.
    WriteChords,
    /// Open the list of what else can be done to it.
    Arrange,
    /// Ask at which bar to split it.
    Split,
    /// Join the section that the form plays after it to it.
    Join,
    /// Ask which of its bars to copy to a new section.
    Lift,
    /// Ask how many bars it is to have.
    Length,
    /// Put it into half time.
    HalfTime,
    /// Put it into double time.
    DoubleTime,
    /// Ask for its tempo, or that of the song.
    Tempo,
    /// Show which keys its notes suggest, and which parts go beyond their compass.
    Key,
}

/// What can be done with the keys that play chords.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum KeysAction {
    /// Pick up the chord that was played last, for the key that is struck next.
    PickUp,
    /// Choose the key that is struck next.
    Strike,
    /// Give the chosen key its chord in the key back.
    Reset,
}

/// How the form is led while it plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LeadAction {
    /// Choose when a change of section takes place: at the next seam, bar or beat.
    When,
    /// Stay in the section that plays.
    Stay,
    /// Go back to the form.
    Back,
    /// Make this the last time through the section that plays.
    LastTime,
    /// Choose whether the form starts again at its end.
    Repeat,
    /// Make the sections that were played the form.
    KeepForm,
    /// Transpose the song by a semitone, when a change of section would take place.
    Key(Vertical),
    /// In the key box, choose when the song is transposed.
    KeyWhen,
}

/// What can be done in the view of the notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoteAction {
    /// Let the arrows do something else, or again what they did.
    Arrows(Arrows),
    /// What an arrow does: move the cursor, or change something.
    Arrow(Move),
    /// Go to the previous or next note or, if the arrows change notes, change them by a tick.
    Step(Side),
    /// Move by an octave what the arrows move, or change by ten what they change.
    Octave(Vertical),
    /// Draw a note or, in the lane, a point at the cursor.
    Draw,
    /// Delete notes or, in the lane, points.
    Delete,
    /// Select a range from here to the cursor, or end that; in the lane, begin a ramp or end it.
    Range,
    /// Give the arrows back to the cursor, end a range, or select nothing.
    Release,
    /// Choose what the lane shows.
    ChooseLane,
    /// Show one layer or all layers of the track.
    Layers,
    /// Show every key or only those with notes.
    Keys,
    /// Open a list.
    Open(NoteList),
    /// Change notes.
    Do(Operation),
    /// Select notes.
    Pick(Picking),
}

/// What the arrows do in the view of the notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Arrows {
    /// Move the cursor.
    #[default]
    Cursor,
    /// Move notes in time and pitch.
    Move,
    /// Change how long notes are.
    Length,
    /// Change the velocity of notes.
    Velocity,
    /// Move along the lane under the notes, and change what is in it.
    Lane,
}

/// A list over the view of the notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoteList {
    /// Of operations.
    Edit,
    /// Of selections.
    Select,
}

/// An operation on notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Operation {
    /// Copy them.
    Copy,
    /// Copy and delete them.
    Cut,
    /// Paste what was copied at the cursor.
    Paste,
    /// Paste them after themselves.
    Repeat,
    /// Transpose them.
    Transpose,
    /// Reverse them in time.
    Reverse,
    /// Turn them upside down around their middle.
    Invert,
    /// Turn them upside down around the first.
    InvertFirst,
    /// Split them at the cursor.
    Split,
    /// Join those of one pitch, or one with the next of its pitch.
    Join,
    /// Delete every nth.
    Thin,
    /// Move them into a layer of their own.
    SplitOff,
    /// Put them where they were played.
    AsPlayed,
}

/// A way to select notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Picking {
    /// All.
    All,
    /// None.
    None,
    /// Those that are not selected.
    Others,
    /// Those of the cursor's key.
    Pitch,
    /// Those in the cursor's bar.
    Bar,
    /// Those in the cursor's beat.
    Beat,
    /// Every nth.
    Every,
    /// Those louder than a velocity.
    Louder,
    /// Those softer than a velocity.
    Softer,
}

/// A bar to go to, seen from where the transport is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Bar {
    /// The start of this bar, or of the previous one if it is there already.
    Before,
    /// The next bar.
    After,
    /// Bar one.
    Top,
}

/// Up or down: a list, a pitch, an amount.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Vertical {
    /// Towards the first, the higher, the more.
    Up,
    /// Towards the last, the lower, the less.
    Down,
}

impl Vertical {
    /// The place below or above one of so many: from the last to the first, and back.
    pub fn around(self, at: usize, count: usize) -> usize {
        let by = if self == Vertical::Up { count - 1 } else { 1 };
        (at + by) % count
    }
}

/// Left or right: earlier or later, before or after.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Earlier.
    Left,
    /// Later.
    Right,
}

/// Less time on the screen in finer marks, or more time in coarser ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Detail {
    /// Each mark stands for less.
    Finer,
    /// Each mark stands for more.
    Coarser,
}

/// A move among choices or lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Move {
    /// To the one above.
    Up,
    /// To the one below.
    Down,
    /// To the one on the left.
    Left,
    /// To the one on the right.
    Right,
    /// A page, or a group, up.
    PageUp,
    /// A page, or a group, down.
    PageDown,
    /// To the first.
    First,
    /// To the last.
    Last,
}

impl Move {
    /// Where it leads in a list from the place `at`, with pages of so many lines; `last` is the last
    /// place.
    pub fn along(self, at: usize, page: usize, last: usize) -> usize {
        let wanted = match self {
            Move::Up | Move::Left => at.saturating_sub(1),
            Move::Down | Move::Right => at + 1,
            Move::PageUp => at.saturating_sub(page),
            Move::PageDown => at + page,
            Move::First => 0,
            Move::Last => last,
        };
        wanted.min(last)
    }
}

/// An answer to a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Answer {
    /// Save first, then go on.
    Save,
    /// Go on without saving.
    DontSave,
    /// Go on: everything is saved.
    Leave,
    /// Replace the file that another program wrote.
    Replace,
    /// Load the file that another program wrote.
    Reload,
    /// Compare the song with that file.
    Compare,
    /// Save under another name.
    SaveAs,
    /// Restore the rescue copy.
    Restore,
    /// Remove the rescue copy.
    Remove,
    /// Cancel the export that runs.
    CancelExport,
}

impl Action {
    /// Whether holding the key repeats the action. Sound gets louder by single presses only.
    pub fn repeats(self) -> bool {
        matches!(
            self,
            Action::Choose(_)
                | Action::Locate(Bar::Before | Bar::After)
                | Action::Tempo(_)
                | Action::SongTempo(_)
                | Action::SoundLevel(LevelStep::Softer)
                | Action::Level(LevelAction::Volume(_) | LevelAction::Pan(_))
                | Action::Octave(_)
                | Action::Velocity(_)
                | Action::Zoom(_)
                | Action::Page(_)
                | Action::ShowBeside(_)
                | Action::Layer(LayerAction::Shift(_))
                | Action::Section(SectionAction::Shift(_))
                | Action::Note(NoteAction::Arrow(_) | NoteAction::Step(_) | NoteAction::Octave(_))
                | Action::Move(_)
                | Action::Field(_)
                | Action::Adjust(_)
        )
    }

    /// Whether the engine is asked even if the action does not seem to apply. What the screen knows
    /// may be a moment old, and the engine itself says what it refuses.
    pub fn is_judged_by_the_engine(self) -> bool {
        matches!(
            self,
            Action::Record | Action::RecordAgain | Action::Undo | Action::Redo | Action::RemovePass
        )
    }
}
