//! The arguments of operations on sections as wholes, of `form` and of `key`.

use super::values::{key_or_none, milli_beats, name, place, read_key, section, semitones, whole};
use chaconne_song::{KeySignature, Letter, Transpose};
use chaconne_time::Place;
use clap::{Args as Group, Subcommand};
use std::path::PathBuf;

/// The operations on sections as wholes, and on what stands in them.
#[derive(Debug, Subcommand)]
pub enum WholeOp {
    /// List the sections: bars, metre, tempo, key, fermatas, layers by track
    #[command(after_help = "Example:\n  chaconne section waltz.ron list")]
    List,
    /// Add a section; the form stays as it is
    #[command(
        after_help = "Example:\n  chaconne section waltz.ron add C --name Bridge --bars 8\n\n\
        Bars, metre and tempo that you leave out are those of the section before it."
    )]
    Add {
        /// Its letter; without it, the first that is free
        #[arg(value_parser = section)]
        letter: Option<Letter>,
        /// Its name
        #[arg(long, value_parser = name, default_value = "", hide_default_value = true)]
        name: String,
        /// How many bars it has
        #[arg(long, value_parser = whole::<u32>(1, 999))]
        bars: Option<u32>,
        /// Its metre, e.g. 4/4, 6/8, "4/4, 7/8 from 5", "pickup 1/4, 4/4"
        #[arg(long)]
        metre: Option<String>,
        /// Its tempo in beats per minute as its metre counts its beats, with up to three decimals
        #[arg(long, value_name = "BPM", value_parser = milli_beats)]
        tempo: Option<u64>,
        /// Put it after this section in the list; without this, at the end
        #[arg(long, value_name = "LETTER", value_parser = section)]
        after: Option<Letter>,
    },
    /// Copy a section; both share their layers, so that a change of a layer changes both
    #[command(after_help = "Example:\n  chaconne section waltz.ron copy A")]
    Copy {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
    },
    /// Copy a section with layers of its own, so that it can be changed alone
    #[command(after_help = "Example:\n  chaconne section waltz.ron vary A")]
    Vary {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
    },
    /// Give a section another letter or another name
    #[command(after_help = "Example:\n  chaconne section waltz.ron rename A --name Verse\n  \
        chaconne section waltz.ron rename B --letter C\n\n\
        The form gets the new letter too. --name \"\" removes the name.")]
    Rename {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        to: NewNames,
    },
    /// Move a section in the list; the form stays as it is
    #[command(after_help = "Example:\n  chaconne section waltz.ron move C --before A")]
    Move {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        to: BesideOf,
    },
    /// Remove a section
    #[command(after_help = "Example:\n  chaconne section waltz.ron remove C --from-form\n\n\
        Layers that other sections share stay in those.")]
    Remove {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// Remove it from the form too; without this, a section in the form is not removed
        #[arg(long)]
        from_form: bool,
    },
    /// Set the metre of a section, up to its next change of metre
    #[command(after_help = "Example:\n  chaconne section waltz.ron metre A 7/8 --from 3\n  \
        chaconne section waltz.ron metre A \"pickup 1/4, 3/4\"\n\n\
        The section keeps its number of bars, and layers keep their notes and their length.")]
    Metre {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// The metre, or all metres, e.g. "4/4, 7/8 from 5" or "pickup 1/4, 4/4"
        metre: String,
        /// The first bar in this metre; without it, bar 1
        #[arg(long, value_name = "BAR", value_parser = whole::<u32>(1, 999))]
        from: Option<u32>,
    },
    /// Put a fermata on a beat, where live playing waits for you, or remove it
    #[command(after_help = "Example:\n  chaconne section waltz.ron fermata A 4.4")]
    Fermata {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// The bar and the beat
        #[arg(value_name = "BAR.BEAT", value_parser = place)]
        place: Place,
        /// Remove the fermata that is there
        #[arg(long)]
        remove: bool,
    },
}

/// The new letter and the new name of a section.
#[derive(Debug, Group)]
#[group(required = true, multiple = true)]
pub struct NewNames {
    /// The new letter
    #[arg(long = "letter", id = "new_letter", value_name = "LETTER", value_parser = section)]
    pub letter: Option<Letter>,
    /// The new name
    #[arg(long, value_parser = name)]
    pub name: Option<String>,
}

/// Beside which section.
#[derive(Debug, Group)]
#[group(required = true, multiple = false)]
pub struct BesideOf {
    /// Put it before this section
    #[arg(long, value_name = "LETTER", value_parser = section)]
    pub before: Option<Letter>,
    /// Put it after this section
    #[arg(long, value_name = "LETTER", value_parser = section)]
    pub after: Option<Letter>,
    /// Put it after all others
    #[arg(long)]
    pub to_end: bool,
}

/// Arguments of `form`.
#[derive(Debug, Group)]
pub struct FormOf {
    /// The song file
    pub song: PathBuf,
    /// The sections in their order, e.g. "A A (B C) x2 A"; without it, the form is shown
    pub form: Vec<String>,
}

/// Arguments of `key`.
#[derive(Debug, Group)]
pub struct KeyOf {
    /// The song file
    pub song: PathBuf,
    #[command(flatten)]
    pub how: HowKeyed,
    /// Only this section
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
}

/// How to change the key.
#[derive(Debug, Group)]
#[group(multiple = false)]
pub struct HowKeyed {
    /// The written key, e.g. "Eb major"; "" for none, or for the song's
    #[arg(value_parser = key_or_none)]
    pub key: Option<KeyOrNone>,
    /// Transpose by so many semitones from what is written, -36 to 36
    #[arg(long, value_name = "SEMITONES", allow_negative_numbers = true, value_parser = semitones)]
    pub transpose: Option<Transpose>,
    /// Transpose from the written key to this one, by the shorter way
    #[arg(long, value_name = "KEY", value_parser = read_key)]
    pub to: Option<KeySignature>,
}

/// A key, or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyOrNone(pub Option<KeySignature>);
