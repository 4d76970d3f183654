//! Commits: edits made together, under a label.

use crate::{Edit, EditError, GrooveEdit, Laid, PassEdit, Placement, SectionEdit, Song, TrackEdit};
use std::fmt;

/// Edits that are made together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Commit {
    /// What the edits do, as undo and redo name it.
    pub label: Label,
    /// The edits, in the order in which they are applied.
    pub edits: Vec<Edit>,
}

impl Commit {
    /// Edits under a label.
    pub fn new(label: Label, edits: Vec<Edit>) -> Commit {
        Commit { label, edits }
    }

    /// One edit, under its usual label.
    pub fn of(edit: Edit) -> Commit {
        Commit { label: Label::of(&edit), edits: vec![edit] }
    }

    /// Edits under the usual label that all of them have, or as several.
    pub fn of_all(edits: Vec<Edit>) -> Commit {
        let label = match &edits[..] {
            [Edit::Key(_), Edit::Transpose(_)] | [Edit::Transpose(_), Edit::Key(_)] => {
                Label::KeyAndTranspose
            }
            edits => {
                let mut labels = edits.iter().map(Label::of);
                let first = labels.next().unwrap_or(Label::Several);
                if labels.all(|label| label == first) { first } else { Label::Several }
            }
        };
        Commit { label, edits }
    }

    /// The same edits under another label.
    pub fn called(self, label: Label) -> Commit {
        Commit { label, ..self }
    }

    /// Applies all edits, or none. Returns the edits that undo them, in the order in which to apply
    /// them.
    pub fn apply(self, song: &mut Song) -> Result<Vec<Edit>, EditError> {
        Edit::apply_all(self.edits, song)
    }
}

/// Declares [`Label`] from one table of labels and their words.
macro_rules! labels {
    ($($label:ident $words:literal,)*) => {
        /// What a commit did, as undo and redo name it.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Label {
            $(#[doc = $words] $label,)*
        }

        impl Label {
            /// Every label.
            pub const ALL: &[Label] = &[$(Label::$label),*];

            /// The words of the label, in lower case: "new pass".
            pub fn words(self) -> &'static str {
                match self {
                    $(Label::$label => $words,)*
                }
            }
        }
    };
}

labels! {
    Title "title",
    Key "key",
    Transpose "transpose",
    KeyAndTranspose "key and transpose",
    Form "form",
    NewTrack "new track",
    RemoveTrack "remove track",
    MoveTrack "move track",
    TrackName "track name",
    TrackPort "port",
    TrackChannel "channel",
    TrackSound "sound",
    TrackKind "kind of track",
    Quantise "quantise",
    Grid "grid",
    Feel "feel",
    Groove "groove",
    Human "human variation",
    NewGroove "new groove",
    RemoveGroove "remove groove",
    GrooveName "groove name",
    GrooveStep "groove step",
    Levels "levels",
    MuteTrack "mute track",
    UnmuteTrack "unmute track",
    PassLengthOfTrack "length of new passes",
    Compass "compass",
    KeysPlay "what keys play",
    ChordKeys "chord keys",
    NewSection "new section",
    CopySection "copy section",
    Variation "variation",
    RemoveSection "remove section",
    MoveSection "move section",
    SectionLetter "section letter",
    SectionName "section name",
    SectionKey "section key",
    SectionTranspose "transpose section",
    SplitSection "split section",
    JoinSections "join sections",
    LiftBars "lift bars",
    SectionBars "length of section",
    DoubleSection "double section",
    HalveSection "halve section",
    HalfTime "half time",
    DoubleTime "double time",
    Bars "bars",
    Tempo "tempo",
    TapTempo "tap tempo",
    SongTempo "tempo of all sections",
    FitTempo "tempo for a duration",
    TempoRamp "tempo ramp",
    RemoveRamp "remove tempo ramp",
    Fermata "fermata",
    RemoveFermata "remove fermata",
    Chords "chords",
    NewPass "new pass",
    Moves "moves",
    KeepPlayed "keep what was played",
    SharePass "share layer",
    CopyPass "copy layer",
    RemovePass "remove layer",
    MovePass "move layer",
    MutePass "mute layer",
    UnmutePass "unmute layer",
    OwnPass "make layer own",
    ReplacePass "replace layer",
    PassName "layer name",
    PassFeel "layer feel",
    MergePasses "merge layers",
    PassLength "layer length",
    DoubleLayer "double layer",
    HalveLayer "halve layer",
    Covers "covers",
    AddNotes "add notes",
    RemoveNotes "remove notes",
    PlayedLength "played length",
    MoveNotes "move notes",
    NoteLength "note length",
    NoteKey "note pitch",
    Velocity "velocity",
    VelocityRamp "velocity ramp",
    Reverse "reverse notes",
    Invert "invert notes",
    ThinNotes "thin notes",
    SplitNotes "split notes",
    JoinNotes "join notes",
    SplitLayer "split layer",
    CutNotes "cut notes",
    PasteNotes "paste notes",
    RepeatNotes "repeat notes",
    AsPlayed "put where played",
    Controllers "controllers",
    ControllerRamp "controller ramp",
    SysEx "system-exclusive message",
    Several "several changes",
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.words())
    }
}

impl std::str::FromStr for Label {
    type Err = String;
    fn from_str(words: &str) -> Result<Label, String> {
        let found = Label::ALL.iter().find(|label| label.words() == words);
        found
            .copied()
            .ok_or_else(|| format!("'{words}' is not a label; use one such as \"new pass\""))
    }
}

impl Label {
    /// The usual label of an edit.
    pub fn of(edit: &Edit) -> Label {
        match edit {
            Edit::Title(_) => Label::Title,
            Edit::Key(_) => Label::Key,
            Edit::Transpose(_) => Label::Transpose,
            Edit::Form(_) => Label::Form,
            Edit::AddTrack { .. } => Label::NewTrack,
            Edit::RemoveTrack(_) => Label::RemoveTrack,
            Edit::MoveTrack(..) => Label::MoveTrack,
            Edit::Track(_, edit) => of_track(edit),
            Edit::AddGroove { .. } => Label::NewGroove,
            Edit::RemoveGroove(_) => Label::RemoveGroove,
            Edit::Groove(_, GrooveEdit::Name(_)) => Label::GrooveName,
            Edit::Groove(_, GrooveEdit::Step(..)) => Label::GrooveStep,
            Edit::AddSection { passes, section, .. } => {
                let shares = passes.is_empty() && !section.layers.is_empty();
                if shares { Label::CopySection } else { Label::NewSection }
            }
            Edit::RemoveSection(_) => Label::RemoveSection,
            Edit::MoveSection(..) => Label::MoveSection,
            Edit::Section(_, edit) => of_section(edit),
            Edit::Pass(_, edit) => of_pass(edit),
        }
    }
}

fn of_track(edit: &TrackEdit) -> Label {
    use TrackEdit as E;
    match edit {
        E::Name(_) => Label::TrackName,
        E::Port(_) => Label::TrackPort,
        E::Channel(_) => Label::TrackChannel,
        E::Bank(_) | E::Program(_) => Label::TrackSound,
        E::Pitched(_) => Label::TrackKind,
        E::Grid(_) => Label::Quantise,
        E::Pull(_) | E::Swing(_) | E::Reach(_) | E::Rolls(_) => Label::Feel,
        E::Groove(_) => Label::Groove,
        E::Human(_) => Label::Human,
        E::Volume(_) | E::Pan(_) => Label::Levels,
        E::Mute(true) => Label::MuteTrack,
        E::Mute(false) => Label::UnmuteTrack,
        E::PassLength(_) => Label::PassLengthOfTrack,
        E::Compass(_) => Label::Compass,
        E::KeysPlay(_) => Label::KeysPlay,
        E::ChordStack(_)
        | E::ChordInversion(_)
        | E::ChordOpen(_)
        | E::ChordLeading(_)
        | E::ChordKey(..) => Label::ChordKeys,
    }
}

fn of_section(edit: &SectionEdit) -> Label {
    use SectionEdit as E;
    match edit {
        E::Letter(_) => Label::SectionLetter,
        E::Name(_) => Label::SectionName,
        E::Key(_) => Label::SectionKey,
        E::Transpose(_) => Label::SectionTranspose,
        E::Metre(_) => Label::Bars,
        E::Tempo(_) => Label::Tempo,
        E::Fermata(_, true) => Label::Fermata,
        E::Fermata(_, false) => Label::RemoveFermata,
        E::Chord(..) => Label::Chords,
        E::Lay { pass: Laid::New(_), .. } => Label::NewPass,
        E::Lay { pass: Laid::Shared(_), .. } => Label::SharePass,
        E::Lay { pass: Laid::Copy { .. }, .. } => Label::CopyPass,
        E::Remove(_) => Label::RemovePass,
        E::Move(..) => Label::MovePass,
        E::Mute(_, true) => Label::MutePass,
        E::Mute(_, false) => Label::UnmutePass,
        E::Replace(_, Laid::Copy { .. }) => Label::OwnPass,
        E::Replace(..) => Label::ReplacePass,
    }
}

fn of_pass(edit: &PassEdit) -> Label {
    use PassEdit as E;
    match edit {
        E::Name(_) => Label::PassName,
        E::Feel(_) => Label::PassFeel,
        E::Length(_) => Label::PassLength,
        E::Covers(_) => Label::Covers,
        E::AddNotes(_) => Label::AddNotes,
        E::RemoveNotes(_) => Label::RemoveNotes,
        E::Played(_) => Label::PlayedLength,
        E::Place(places) => match places.first().map(|(_, placement)| placement) {
            Some(Placement::Length(_)) => Label::NoteLength,
            Some(Placement::Key(_)) => Label::NoteKey,
            Some(Placement::Velocity(_) | Placement::Release(_)) => Label::Velocity,
            Some(Placement::Start(_)) | None => Label::MoveNotes,
        },
        E::AddLane(_) | E::RemoveLane(_) | E::LaneSpan(..) => Label::Controllers,
        E::AddPoint(..) | E::RemovePoint(_) | E::PointValue(..) | E::PointShape(..) => {
            Label::Controllers
        }
        E::AddSysEx(..) | E::RemoveSysEx(..) => Label::SysEx,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Layer, Letter, Pass, PassId, Section, TrackId};
    use chaconne_time::{Metre, MetreMap, Tempo};
    use std::sync::Arc;

    #[test]
    fn every_label_reads_back_from_its_words() {
        for label in Label::ALL {
            assert_eq!(label.to_string().parse(), Ok(*label));
        }
        assert!("something".parse::<Label>().is_err());
    }

    #[test]
    fn a_commit_under_another_label_makes_the_same_edits() {
        let commit = Commit::of(Edit::Title("Ferry".into()));
        let edits = commit.edits.clone();
        assert_eq!(commit.called(Label::Several), Commit::new(Label::Several, edits.clone()));
        assert_eq!(Commit::of_all(edits.clone()), Commit::of(edits[0].clone()));
        let alike = [&edits[..], &edits[..]].concat();
        assert_eq!(Commit::of_all(alike).label, Label::Title);
        let several = [&edits[..], &[Edit::Key(None)]].concat();
        assert_eq!(Commit::of_all(several).label, Label::Several);
        let both = vec![Edit::Key(None), Edit::Transpose(Default::default())];
        assert_eq!(Commit::of_all(both).label, Label::KeyAndTranspose);
    }

    #[test]
    fn a_section_that_shares_all_its_passes_is_a_copy_and_any_other_is_new() {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let pass = Arc::new(Pass::empty(PassId(7), TrackId(1), metre.length()));
        let empty = Section::new(Letter::A, metre, Tempo::DEFAULT);
        let mut layered = empty.clone();
        layered.layers.push(Layer::of(pass.id));
        let label = |section: &Section, passes| {
            let section = Arc::new(section.clone());
            Label::of(&Edit::AddSection { at: 0, section, passes })
        };
        assert_eq!(label(&layered, vec![]), Label::CopySection);
        assert_eq!(label(&layered, vec![pass]), Label::NewSection);
        assert_eq!(label(&empty, vec![]), Label::NewSection);
    }
}
