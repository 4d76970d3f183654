//! A label with what it is about: `feel of Bass`, `tempo of section B`.
//!
//! A *pass* is what one round adds, so it is recorded or kept; from then on it is met as a *layer*.

use crate::{Label, Letter};

/// What the words of a label go with.
enum Fits {
    /// Something of a track or section: *feel of Bass*.
    Of,
    /// Something done to what follows: *mute Bass*. The words to say before it.
    To(&'static str),
    /// Something done on a track: *remove layer on Bass*.
    On,
    /// Something about a track or section that the words mention: *copy section (B)*.
    Beside,
}

impl Label {
    /// What was changed and of what, for a message: the words, then the name of the one track and the
    /// letter of the one section that all of it is about, if there is one.
    pub fn about(self, track: Option<&str>, section: Option<Letter>) -> String {
        let words = self.words();
        let fits = self.fits();
        let with_track = match (&fits, track) {
            (_, None) => words.to_string(),
            (Fits::Of, Some(name)) => format!("{words} of {name}"),
            (Fits::To(verb), Some(name)) => format!("{verb} {name}"),
            (Fits::On, Some(name)) => format!("{words} on {name}"),
            (Fits::Beside, Some(name)) => format!("{words} ({name})"),
        };
        match (fits, section) {
            (_, None) => with_track,
            (Fits::Of, Some(letter)) if track.is_none() => {
                format!("{with_track} of section {letter}")
            }
            (Fits::Beside, Some(letter)) => format!("{with_track} ({letter})"),
            (_, Some(letter)) => format!("{with_track} in section {letter}"),
        }
    }

    /// What was removed and how to get it back, as a sentence without its full stop; `None` for a label that
    /// removes nothing. The track and the section are as in [`about`](Self::about).
    pub fn removed(self, track: Option<&str>, section: Option<Letter>) -> Option<String> {
        let track = |before: &str| track.map(|name| format!("{before}{name}")).unwrap_or_default();
        let inside = section.map(|letter| format!(" in section {letter}")).unwrap_or_default();
        let (what, them) = match self {
            Label::RemovePass => (format!("a layer{}{inside}", track(" of ")), "it"),
            Label::RemoveTrack => (format!("track{} with its layers", track(" ")), "it"),
            Label::RemoveSection => {
                let letter = section.map(|letter| format!(" {letter}")).unwrap_or_default();
                (format!("section{letter}"), "it")
            }
            Label::RemoveGroove => ("a groove".to_string(), "it"),
            Label::RemoveNotes => (format!("notes{}", track(" of ")), "them"),
            _ => return None,
        };
        Some(format!("removed {what}; undo brings {them} back"))
    }

    fn fits(self) -> Fits {
        match self {
            Label::Title
            | Label::Key
            | Label::Transpose
            | Label::Form
            | Label::TrackPort
            | Label::TrackChannel
            | Label::TrackSound
            | Label::Quantise
            | Label::Grid
            | Label::Feel
            | Label::Groove
            | Label::Human
            | Label::Levels
            | Label::Moves
            | Label::PassLengthOfTrack
            | Label::Compass
            | Label::ChordKeys
            | Label::Bars
            | Label::Fermata
            | Label::RemoveFermata
            | Label::Tempo
            | Label::TapTempo
            | Label::TempoRamp
            | Label::Chords => Fits::Of,
            Label::TrackName => Fits::To("name of"),
            Label::KeysPlay => Fits::To("what keys play on"),
            Label::TrackKind => Fits::To("kind of"),
            Label::MuteTrack => Fits::To("mute"),
            Label::UnmuteTrack => Fits::To("unmute"),
            Label::MoveTrack => Fits::To("move"),
            Label::NewTrack
            | Label::NewGroove
            | Label::RemoveGroove
            | Label::GrooveName
            | Label::GrooveStep
            | Label::RemoveTrack
            | Label::NewSection
            | Label::CopySection
            | Label::Variation
            | Label::RemoveSection
            | Label::MoveSection
            | Label::SectionLetter
            | Label::SectionName
            | Label::SectionKey
            | Label::SectionTranspose
            | Label::SplitSection
            | Label::JoinSections
            | Label::LiftBars
            | Label::SectionBars
            | Label::DoubleSection
            | Label::HalveSection
            | Label::HalfTime
            | Label::DoubleTime
            | Label::RemoveRamp
            | Label::FitTempo
            | Label::SongTempo => Fits::Beside,
            Label::NewPass
            | Label::KeepPlayed
            | Label::SharePass
            | Label::CopyPass
            | Label::RemovePass
            | Label::MovePass
            | Label::MutePass
            | Label::UnmutePass
            | Label::OwnPass
            | Label::ReplacePass
            | Label::PassName
            | Label::PassFeel
            | Label::MergePasses
            | Label::PassLength
            | Label::DoubleLayer
            | Label::HalveLayer
            | Label::Covers
            | Label::AddNotes
            | Label::RemoveNotes
            | Label::PlayedLength
            | Label::MoveNotes
            | Label::NoteLength
            | Label::NoteKey
            | Label::Velocity
            | Label::VelocityRamp
            | Label::Reverse
            | Label::Invert
            | Label::ThinNotes
            | Label::SplitNotes
            | Label::JoinNotes
            | Label::SplitLayer
            | Label::CutNotes
            | Label::PasteNotes
            | Label::RepeatNotes
            | Label::AsPlayed
            | Label::Controllers
            | Label::ControllerRamp
            | Label::SysEx
            | Label::KeyAndTranspose
            | Label::Several => Fits::On,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_says_what_it_is_about() {
        let b: Letter = "B".parse().unwrap();
        for (label, track, section, words) in [
            (Label::Feel, Some("Bass"), None, "feel of Bass"),
            (Label::Feel, Some("Bass"), Some(b), "feel of Bass in section B"),
            (Label::Moves, Some("Bass"), None, "moves of Bass"),
            (Label::MuteTrack, Some("Bass"), None, "mute Bass"),
            (Label::NewTrack, Some("Bass"), None, "new track (Bass)"),
            (Label::RemovePass, Some("Bass"), None, "remove layer on Bass"),
            (Label::RemovePass, Some("Bass"), Some(b), "remove layer on Bass in section B"),
            (Label::Tempo, None, Some(b), "tempo of section B"),
            (Label::CopySection, None, Some(b), "copy section (B)"),
            (Label::SongTempo, None, None, "tempo of all sections"),
            (Label::MoveNotes, None, None, "move notes"),
            (Label::Form, None, None, "form"),
        ] {
            assert_eq!(label.about(track, section), words);
        }
    }

    #[test]
    fn what_was_removed_is_named_with_how_to_get_it_back() {
        let b: Letter = "B".parse().unwrap();
        for (label, track, section, words) in [
            (Label::RemovePass, Some("Bass"), None, "a layer of Bass; undo brings it back"),
            (
                Label::RemovePass,
                Some("Bass"),
                Some(b),
                "a layer of Bass in section B; undo brings it back",
            ),
            (
                Label::RemoveTrack,
                Some("Bass"),
                None,
                "track Bass with its layers; undo brings it back",
            ),
            (Label::RemoveSection, None, Some(b), "section B; undo brings it back"),
            (Label::RemoveNotes, Some("Bass"), None, "notes of Bass; undo brings them back"),
            (Label::RemoveNotes, None, None, "notes; undo brings them back"),
        ] {
            assert_eq!(
                label.removed(track, section).as_deref(),
                Some(&*format!("removed {words}"))
            );
        }
        assert_eq!(Label::MutePass.removed(Some("Bass"), None), None);
    }
}
