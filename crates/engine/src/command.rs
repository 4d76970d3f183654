//! Commands: what a front end can ask of the engine.

use crate::{Arrange, ByHand, KeyOf, NewKey, Route};
use chaconne_song::{Commit, Feel, Letter, PassId, Song, TrackId, U7};
use chaconne_time::{NoteValue, Tempo, Tick};

/// What a new pass does to the layers under it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Mode {
    /// The layers under it play on.
    #[default]
    Layer,
    /// From its first note in each bar, the layers under it are silent to the end of that bar.
    Replace,
    /// From record on to record off, the layers under it are silent.
    Punch,
}

impl Mode {
    /// The next mode; after the last, the first.
    pub fn next(self) -> Mode {
        match self {
            Mode::Layer => Mode::Replace,
            Mode::Replace => Mode::Punch,
            Mode::Punch => Mode::Layer,
        }
    }
}

/// Which rounds of a take are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Rounds {
    /// Each round that has notes adds a pass.
    #[default]
    All,
    /// Each round that has notes silences the one before.
    Newest,
    /// The whole take is one pass, as many rounds long as the take.
    One,
}

impl Rounds {
    /// The next choice; after the last, the first.
    pub fn next(self) -> Rounds {
        match self {
            Rounds::All => Rounds::Newest,
            Rounds::Newest => Rounds::One,
            Rounds::One => Rounds::All,
        }
    }
}

/// When the click is heard, besides the count-in, which always has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Click {
    /// In the count-in only.
    CountIn,
    /// While recording.
    #[default]
    Recording,
    /// Whenever the transport rolls.
    Always,
}

impl Click {
    /// The next choice; after the last, the first.
    pub fn next(self) -> Click {
        match self {
            Click::CountIn => Click::Recording,
            Click::Recording => Click::Always,
            Click::Always => Click::CountIn,
        }
    }
}

/// When a live change of section happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum When {
    /// When the section that plays goes round.
    #[default]
    Seam,
    /// At the next bar.
    Bar,
    /// At the next beat, as the click counts it.
    Beat,
}

impl When {
    /// Its name: seam, bar or beat.
    pub fn name(self) -> &'static str {
        match self {
            When::Seam => "seam",
            When::Bar => "bar",
            When::Beat => "beat",
        }
    }

    /// The next choice; after the last, the first.
    pub fn next(self) -> When {
        match self {
            When::Seam => When::Bar,
            When::Bar => When::Beat,
            When::Beat => When::Seam,
        }
    }
}

/// A setting with a few values that [`Command::Next`] steps through. The engine steps from the value
/// it has when it obeys, so two commands at once step twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    /// What a new pass does to the layers under it.
    Mode,
    /// Which rounds of a take are kept.
    Rounds,
    /// When the click is heard.
    Click,
    /// Whether a route with an end starts again.
    Repeat,
    /// Whether the time is led by hand, and what each beat given stands for.
    ByHand,
    /// Whether a track is muted.
    MuteTrack(TrackId),
    /// Whether a track is soloed.
    SoloTrack(TrackId),
    /// Whether a pass is muted in a section, which need not be playing.
    MutePass(Letter, PassId),
    /// Whether a pass is soloed.
    SoloPass(PassId),
    /// Whether a track is quantised; the grid is the one to turn on.
    Quantise(TrackId, NoteValue),
    /// Whether it plays: stops, or plays as [`Command::Play`] does.
    Playing,
    /// Whether it records, or waits to: as [`Command::Record`] does.
    Recording,
}

/// A request about the music. It takes effect at once unless its line here says otherwise.
#[derive(Debug, Clone)]
pub enum Command {
    /// Starts from the top of the section shown, or from where [`Command::Locate`] or
    /// [`Command::LocateBars`] went since the last stop; without a count-in. Does nothing while rolling.
    Play,
    /// Plays a route from its start and stops at its end. While following another clock, waits for
    /// its start. Does nothing while rolling.
    PlayRoute(Route),
    /// Plays a route from a tick on, rounded down to a sixteenth, without a count-in. Other gear gets
    /// the position and Continue. Refused if the route does not reach that tick, and while following
    /// another clock.
    PlayFrom(Route, Tick),
    /// The same, after the count-in that is set. At the route's start other gear gets Start.
    PlayCounted(Route, Tick),
    /// Stops, releases all that sounds, and keeps the position, rounded down to a sixteenth.
    Stop,
    /// Plays on from the position that was kept, without a count-in. Does nothing while rolling.
    Continue,
    /// While stopped, moves to a position in the section shown: a tick from its top, rounded down to
    /// a sixteenth and kept inside the section. Refused while rolling.
    Locate(Tick),
    /// While stopped, moves forward this many bars (back if negative) to the start of a bar of the
    /// section shown. From inside a bar, the first step back goes to the start of that bar. Refused
    /// while rolling.
    LocateBars(i32),
    /// Sets the length of the count-in in bars, 0..=4.
    CountIn(u8),
    /// Sets when the click is heard.
    Click(Click),
    /// Starts or ends a take. If the transport is stopped, starts it with the count-in, which leads to the
    /// top of the section shown, or to the bar of the position to which [`Command::Locate`] or
    /// [`Command::LocateBars`] went since the last stop.
    Record(bool),
    /// Stops as [`Command::Stop`] does, and starts a take at the bar in which the last one began, with the
    /// count-in. Refused if there was none, and while following another clock that is not lost.
    RecordAgain,
    /// Sets what a new pass does to the layers under it.
    Mode(Mode),
    /// Sets which rounds of a take are kept.
    Rounds(Rounds),
    /// Makes a pass of what was played without recording.
    Keep,
    /// Takes back a change of key that is still to come, else undoes the unfinished round, else the last change.
    Undo,
    /// Redoes what was undone last.
    Redo,
    /// Removes the armed track's top pass in the current section.
    RemoveTop,
    /// Arms a track: what you play sounds on it and is recorded on it.
    Arm(TrackId),
    /// Mutes or unmutes a track; part of the song.
    MuteTrack(TrackId, bool),
    /// Mutes or unmutes a pass in a section, which need not be playing; part of the song.
    MutePass(Letter, PassId, bool),
    /// Solos a track: only soloed tracks sound. Not part of the song.
    SoloTrack(TrackId, bool),
    /// Solos a pass: of the passes on its track only soloed ones sound. Not part of the song.
    SoloPass(PassId, bool),
    /// Raises the volume of a track by so many of its 127 steps; lowers it if negative. A track that
    /// leaves its volume to the instrument starts from 100, at which instruments start. While the track
    /// is being recorded, this is a move of the take; otherwise the song keeps it as a level.
    StepVolume(TrackId, i8),
    /// Moves the pan of a track to the right by so many of its 127 steps; to the left if negative. A
    /// track without a pan starts from the centre. While the track is being recorded, this is a move.
    StepPan(TrackId, i8),
    /// Sets the feel of a track.
    Feel(TrackId, Feel),
    /// Sets the program of a track. With `None` the track sets no program, and its channel goes back
    /// to program 1, with which a General MIDI instrument starts.
    Program(TrackId, Option<U7>),
    /// Lets a track be heard with another program for now; not part of the song. `None` goes back to
    /// the song's program.
    Audition(TrackId, Option<U7>),
    /// Transposes the song or a section at the next seam, bar or beat; with `None` at once. What sounds in the
    /// old key is released there. Within a beat after a seam or a bar line, and while nothing of it plays, at
    /// once; in the count-in, where the music begins. One that is still to come is replaced, and steps add up.
    Transpose(KeyOf, NewKey, Option<When>),
    /// Sets the tempo at the current position of the section; its other tempi change in proportion.
    Tempo(Tempo),
    /// Like [`Command::Tempo`], by this many whole beats per minute in the note value that the metre
    /// counts; slower if negative.
    StepTempo(i32),
    /// The same in every section at once, as one step of undo: each by this many whole beats per minute in
    /// the note value that its own metre counts.
    StepSongTempo(i32),
    /// Sets the tempo to that of the last taps, not rounded to a whole number of beats per minute.
    TapExactly,
    /// Leads the time by hand, as said, or no longer: each tap is the next beat, and the song waits for it.
    /// Refused while a clock is followed.
    ByHand(Option<ByHand>),
    /// Moves a setting on to its next value.
    Next(Setting),
    /// Goes to a section at the next seam, bar or beat, where it goes round until further notice. Within a
    /// beat after a seam or a bar line, that one counts. At a seam, the section that plays just stays. While
    /// stopped, the section is shown.
    Jump(Letter, When),
    /// Stays in the section that plays until further notice.
    Stay,
    /// Goes back to the form, at the next seam, bar or beat as [`Command::Jump`] does: to the section after
    /// the one in which the form was left, or to its start if this run has not left it. Refused while the form
    /// plays, and if there is none.
    BackToForm(When),
    /// Makes this the last time through the section that plays: then comes what follows its last time in the
    /// form, up to the end. If nothing follows, or the section is not in the form, stops at the seam.
    LastTime,
    /// Sets whether a route with an end, such as the form, starts again at its end.
    Repeat(bool),
    /// Makes the sections that were played since the start, the present round included, the song's form, as
    /// one step of undo. While stopped, those of the last run.
    KeepForm,
    /// Appends a section to the end of the form, as one step of undo.
    AppendToForm(Letter),
    /// Drops the last entry of the form, as one step of undo.
    DropFromForm,
    /// Changes sections or tempi, as one step of undo. If it is about the bars that are being recorded, the
    /// take ends first, and what was played is part of what is changed.
    Arrange(Arrange),
    /// Any other change of the song, as one step of undo.
    Edit(Commit),
    /// Like [`Command::Edit`], as part of a run: undone together with the edits just before it that
    /// set the same things under the same label, for example while a key that moves a note is held.
    EditOn(Commit),
    /// Makes one step of the newest two if they set the same things under the same label. The first
    /// repeat of a held key looks like a second press until the next one comes.
    JoinSteps,
    /// Like [`Command::Edit`], to be heard before it is decided: it takes the place of the edit tried
    /// before it. [`Command::EndTry`] ends the trial.
    Try(Commit),
    /// Keeps what was tried last, as one step of undo, or takes it back and leaves no step.
    EndTry {
        /// Whether to keep it.
        keep: bool,
    },
    /// Adds a track at the end and arms it.
    AddTrack {
        /// Its name.
        name: String,
        /// Whether it is a drum track.
        drums: bool,
        /// The program its instrument is set to, if any.
        program: Option<U7>,
    },
    /// Replaces the song with another and clears the history of undo.
    Open(Box<Song>),
    /// Releases everything that sounds, through-played keys too.
    Panic,
}
