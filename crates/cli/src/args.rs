//! The arguments of every command, with an example for each.

mod arranging;
mod choices;
mod values;
mod whole;

pub use arranging::{LayersOf, Op, RampBars, Sections, TempoOf};
use chaconne_engine::{ByHand, HandStep};
use chaconne_rig::{In, Out, PortSpec, Replace, TapControl};
use chaconne_song::Letter;
use chaconne_time::{NoteValue, Tempo};
use chaconne_tui::Keyboard;
pub use choices::{BitsOfSample, KeepRounds, LayMode, ListView};
use clap::{ArgGroup, Args as Group, Parser, Subcommand};
use std::path::PathBuf;
use values::{entries, level, loudness, metres, rate, read, read_tempo, section, tail, whole};
pub use whole::{BesideOf, FormOf, KeyOf, KeyOrNone, WholeOp};

/// Record loops pass by pass, rehearse with them, and export them
#[derive(Debug, Parser)]
#[command(
    name = "chaconne",
    version,
    arg_required_else_help = true,
    after_help = "Example:\n  chaconne new sketch.ron --bars 4 --tempo 96\n  chaconne sketch sketch.ron\n\n\
        Exit codes: 0 success, 1 check failed, 2 error (wrong arguments included), 101 crash, 128 \
        plus the number of the signal that ended it. Results go to standard output, messages to \
        standard error."
)]
pub struct Args {
    /// The command
    #[command(subcommand)]
    pub job: Job,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Job {
    /// Create an empty song
    #[command(after_help = "Example:\n  chaconne new waltz.ron --bars 8 --tempo 87.5 --metre 3/4")]
    New(New),
    /// Open the screen: record, layer, listen, save
    #[command(
        after_help = "Example:\n  chaconne sketch waltz.ron --out midi:Synth --in midi:Keys\n\n\
        If the file does not exist, you start with an empty song, and saving creates the file. If \
        the last session ended without saving, the screen offers its rescue copy.\n\n\
        Turn instruments and headphones down before you start: loops repeat, and high levels can \
        damage your hearing for good. As a guide: 80 dB for 40 hours a week; every extra 3 dB \
        halves the safe time (WHO-ITU H.870)."
    )]
    Sketch(Sketch),
    /// Play without a screen, for rehearsals
    #[command(
        after_help = "Example:\n  chaconne rehearse waltz.ron --times 8 --out keys=midi:Synth\n\n\
        Plays the form, or the first section if the song has no form, and prints a line for the \
        count-in and for each round (one time through a section) until you press Ctrl-C, or until \
        SIGTERM or SIGHUP; the exit code is then 0. Under nohup it plays on after the terminal has \
        closed.\n\n\
        Turn instruments and headphones down before you start: loops repeat, and high levels can \
        damage your hearing for good. As a guide: 80 dB for 40 hours a week; every extra 3 dB \
        halves the safe time (WHO-ITU H.870)."
    )]
    Rehearse(Rehearse),
    /// Record a MIDI file into a song, as if it were played live
    #[command(
        after_help = "Example:\n  chaconne lay waltz.ron --track Bass --section A --from take.mid\n\n\
        The beats of the MIDI file line up with the song's beats; its own tempo is not used. Each \
        round of the section becomes a pass. With --real-time, a signal ends the take early, and \
        what was recorded is saved.\n\n\
        Turn instruments and headphones down before you start: high levels can damage your hearing \
        for good."
    )]
    Lay(Lay),
    /// List everything a song plays, one line per event
    #[command(after_help = "Example:\n  chaconne list waltz.ron --section A --view played")]
    List(List),
    /// Outline a song: the chords of each section, the keys its notes suggest, the range of each part
    #[command(after_help = "Example:\n  chaconne outline waltz.ron --section A\n\n\
        Everything is given as it sounds. The keys are suggestions, with how well each fits (a \
        correlation of at most 1): a short loop is often in a related key.")]
    Outline(Outline),
    /// Write the chords of a section
    #[command(
        after_help = "Example:\n  chaconne chords waltz.ron --section A \"C | Am7 | Dm7 G7 | C\"\n\n\
        Chords share their bar evenly. If yours don't, write one symbol per beat, with / to hold a \
        chord: C / / G7. % repeats the bar before, N.C. is no chord, C/E is C over E. A chart of \
        fewer bars repeats if their number divides that of the section. Write \"\" to clear the \
        chords."
    )]
    Chords(Chords),
    /// Take the groove of a performance, give it to other parts, and add human variation
    #[command(
        after_help = "Example:\n  chaconne feel waltz.ron --take Sam --from Drums --section A\n  \
        chaconne feel waltz.ron --give Sam --to Bass --depth 80\n  \
        chaconne feel waltz.ron --human 40 --to Bass\n\n\
        A groove is how late or early, and how loud, each step of the bar is in a performance: the \
        median over its bars. What was played stays as it was: --to Bass --off gives it back. \
        Without --take, --to or --drop, the grooves of the song are shown, one line for each step."
    )]
    Feel(Feel),
    /// List, add, copy, vary, rename, move, remove, split, join, lengthen or shorten sections
    #[command(
        after_help = "Example:\n  chaconne section waltz.ron list\n  chaconne section waltz.ron vary A\n  \
        chaconne section waltz.ron split A --at 5\n\n\
        All but 'list' save the song. No operation changes what other sections play: a layer that several share is \
        copied where they have to differ. 'chaconne section SONG OPERATION --help' explains each."
    )]
    Section(Sections),
    /// Show or set the form: the order in which sections are played
    #[command(
        after_help = "Example:\n  chaconne form waltz.ron\n  chaconne form waltz.ron \"A A (B C) x2 A\"\n  \
        chaconne form waltz.ron \"A (B [1 C] [2 D])\"\n\n\
        Without a form to set, it prints the form as a line and as bars: each section with when it begins and \
        how long it lasts. x2 plays a section or a group twice; endings in square brackets begin \
        with the times that they are for. Letters may be small. Write \"\" for no form: then the first section \
        is played."
    )]
    Form(FormOf),
    /// Show the key, or set or transpose it
    #[command(
        after_help = "Example:\n  chaconne key waltz.ron\n  chaconne key waltz.ron \"Eb major\"\n  \
        chaconne key waltz.ron --transpose -2\n  chaconne key waltz.ron --to \"F major\" --section B\n\n\
        Without a change it prints the written key, the transposition and how the song sounds, the keys that the \
        notes suggest, and the range of each part. What was played stays as it was: --transpose 0 gives it back. Drums \
        are not transposed. A section's transposition comes on top of the song's; --to makes up for \
        that."
    )]
    Key(KeyOf),
    /// Show or change the tempo, or make the form last as long as you want
    #[command(
        after_help = "Example:\n  chaconne tempo waltz.ron --bpm 96 --section B\n  chaconne tempo waltz.ron \
        --percent -5\n  chaconne tempo waltz.ron --fit 3:20\n  chaconne tempo waltz.ron --section B --bpm 60 \
        --ramp 7-8\n\n\
        Without an option it prints the tempi and how long the form lasts. A tempo that changes inside \
        a section keeps its proportions."
    )]
    Tempo(TempoOf),
    /// Report what is wrong in song files, with file and line
    #[command(after_help = "Example:\n  chaconne check songs/*.ron\n\n\
        For a clean song it also reports, port by port, where notes would be more than 6 ms late on \
        a serial MIDI cable (31,250 baud): a delay under 6 ms is not audible in a run of notes. With \
        --out it looks at the ports marked serial, with the time code they get. Exit \
        code 0 if all are clean, 1 if something is wrong or later than --late allows, 2 if a file \
        cannot be read or is a MIDI file.")]
    Check(Songs),
    /// Export a song as a Standard MIDI File
    #[command(after_help = "Example:\n  chaconne export waltz.ron --midi waltz.mid --section A")]
    Export(Export),
    /// Export a song as a WAV file, played by the built-in instrument
    #[command(
        after_help = "Example:\n  chaconne bounce waltz.ron waltz.wav --stems parts\n  chaconne bounce \
        waltz.ron loop.wav --loop --section A\n\n\
        Bounces the form, or the first section if the song has no form; with --section, that \
        section once. Prints the length, the peak, and the loudness as defined in ITU-R BS.1770. Start \
        at a low level when you listen to it: high levels can damage your hearing for good."
    )]
    Bounce(Bounce),
    /// Make a song from a Standard MIDI File
    #[command(after_help = "Example:\n  chaconne import waltz.mid waltz.ron\n\n\
        The song has one section, A, with a track for each part. What a song cannot hold is left out \
        and listed.")]
    Import(Import),
    /// List the ports
    #[command(after_help = "Example:\n  chaconne ports")]
    Ports,
    /// List every action of the screen with its id and its keys
    #[command(after_help = "Example:\n  chaconne keys\n  chaconne keys --keys stage.ron\n\n\
        A file of keys gives actions other keys, place by place:\n\n  \
        { \"views\": { \"record\": [\"F12\"] }, \"loop\": { \"mute\": [\"x\", \"Ctrl-X\"] } }\n\n\
        The ids are in the first column of the list, the places in the third. Without --keys, both \
        this list and the screen use keys.ron in the folder 'chaconne' of your configuration folder \
        (on Linux ~/.config/chaconne/keys.ron), if there is one.")]
    Keys(Keys),
    /// Measure whether this machine keeps time well enough: figures and a verdict
    #[command(
        after_help = "Example:\n  chaconne timing --seconds 60 --load\n  chaconne timing --loopback \
        midi:Synth midi:Keys\n\n\
        Plays a busy test song through the real scheduler and measures how late each clock pulse \
        and note leaves it, next to a bare timer in the same run. Without --loopback nothing is \
        audible. With --loopback, quiet notes go out through OUT and come back on IN: connect the \
        two with a cable, and turn instruments and headphones down before you start. A signal ends \
        it early and prints what was measured so far. Exit code 0 if the machine is good or fair \
        and no note is lost, 1 if not."
    )]
    Timing(Timing),
}

/// Arguments of `new`.
#[derive(Debug, Group)]
pub struct New {
    /// The file to create
    pub song: PathBuf,
    /// The number of bars, 1 to 999
    #[arg(long, default_value = "4", value_parser = whole::<u32>(1, 999))]
    pub bars: u32,
    /// The tempo in beats per minute, 10 to 1000, with up to three decimals: quarter notes, or dotted
    /// quarters in 6/8, 9/8 and 12/8
    #[arg(long, default_value = "120", value_parser = read_tempo)]
    pub tempo: Tempo,
    /// The metre, e.g. 4/4, 6/8, 7/8; one that changes, e.g. '4/4, 3/4 from 5'; or with a pickup before
    /// the bars, e.g. 'pickup 1/4, 4/4'
    #[arg(long, default_value = "4/4", value_parser = metres)]
    pub metre: String,
    /// The title; without it, the name of the file
    #[arg(long)]
    pub title: Option<String>,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `sketch`.
#[derive(Debug, Group)]
pub struct Sketch {
    /// The song file
    pub song: Option<PathBuf>,
    /// Start playing at once
    #[arg(long)]
    pub play: bool,
    #[command(flatten)]
    pub wires: Wires,
    #[command(flatten)]
    pub controls: Controls,
    /// Draw with ASCII characters only
    #[arg(long)]
    pub ascii: bool,
    /// No animation; only the text changes
    #[arg(long)]
    pub calm: bool,
    /// Colours for a light background; without this or --dark, the program asks the terminal
    #[arg(long, conflicts_with = "dark")]
    pub light: bool,
    /// Colours for a dark background
    #[arg(long)]
    pub dark: bool,
    #[command(flatten)]
    pub tour: TourFlags,
    /// Maximum frames per second, 1 to 60
    #[arg(long, value_parser = whole::<u32>(1, 60))]
    pub fps: Option<u32>,
    /// The layout of the computer keyboard, for playing notes on it: us, de or fr
    #[arg(long, value_parser = read::<Keyboard>)]
    pub keyboard: Option<Keyboard>,
    /// A file of keys, instead of the usual one; see 'chaconne keys --help'
    #[arg(long, value_name = "FILE")]
    pub keys: Option<PathBuf>,
}

/// Whether the screen opens with the tour.
#[derive(Debug, Clone, Copy, Group)]
pub struct TourFlags {
    /// Open with the tour, as at the very first start
    #[arg(long, conflicts_with = "no_tour")]
    pub tour: bool,
    /// Never open with the tour
    #[arg(long)]
    pub no_tour: bool,
}

/// Arguments of `keys`.
#[derive(Debug, Group)]
pub struct Keys {
    /// A file of keys, instead of the usual one
    #[arg(long, value_name = "FILE")]
    pub keys: Option<PathBuf>,
    /// The layout of the computer keyboard, whose two rows of letters play notes: us, de or fr
    #[arg(long, value_parser = read::<Keyboard>)]
    pub keyboard: Option<Keyboard>,
}

/// Arguments of `rehearse`.
#[derive(Debug, Group)]
pub struct Rehearse {
    /// The song file
    pub song: PathBuf,
    /// How many times to play the form, or the section, 1 to 100000; without it, plays until you
    /// stop it
    #[arg(long, alias = "rounds", value_parser = whole::<u32>(1, 100_000))]
    pub times: Option<u32>,
    /// The bar to start at, counted from 1 along the form or the looped section. Other gear then
    /// gets a song position and Continue instead of Start
    #[arg(long, value_name = "BAR", value_parser = whole::<u64>(1, 1_000_000_000))]
    pub from: Option<u64>,
    /// Loop this section instead of playing the form
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// Play only these entries of the form, counted from 1 with every repeat
    #[arg(long, value_name = "FIRST-LAST", conflicts_with = "section", value_parser = entries)]
    pub span: Option<(usize, usize)>,
    /// Count in with so many bars, 0 to 4, at the first start; not while following a clock
    #[arg(long, value_name = "BARS", default_value = "0", value_parser = whole::<u8>(0, 4))]
    pub count_in: u8,
    /// Play the click all the time
    #[arg(long)]
    pub click: bool,
    #[command(flatten)]
    pub wires: Wires,
    #[command(flatten)]
    pub controls: Controls,
}

/// Arguments of `lay`.
#[derive(Debug, Group)]
pub struct Lay {
    /// The song file
    pub song: PathBuf,
    /// The track; created if the song has none of that name
    #[arg(long)]
    pub track: String,
    /// The section; without it, the first
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// The take, a Standard MIDI File
    #[arg(long)]
    pub from: PathBuf,
    /// Which rounds of the take to keep
    #[arg(long, value_name = "WHICH", default_value = "all")]
    pub keep: KeepRounds,
    /// What a new pass does to the layers under it
    #[arg(long, default_value = "layer")]
    pub mode: LayMode,
    /// The quantise grid of a track created for the take, e.g. 1/16; without it, as played
    #[arg(long, value_parser = read::<NoteValue>)]
    pub grid: Option<NoteValue>,
    /// Save to this file instead of the song file
    #[arg(long, value_name = "SONG")]
    pub save_as: Option<PathBuf>,
    #[command(flatten)]
    pub overwrite: Overwrite,
    /// Play the take in real time, so that you hear it, instead of on a simulated clock
    #[arg(long)]
    pub real_time: bool,
    /// How many rounds to play after the take, to hear the result, 0 to 10000
    #[arg(long, default_value = "0", requires = "real_time")]
    #[arg(value_parser = whole::<u32>(0, 10_000))]
    pub rounds: u32,
    #[command(flatten)]
    pub wires: Wires,
}

/// Arguments of `list`.
#[derive(Debug, Group)]
pub struct List {
    /// The song file
    pub song: PathBuf,
    /// List this section instead of the form
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// How many times to play the section, 1 to 10000; without it, until the longest pass has
    /// played to its end
    #[arg(long, requires = "section", value_parser = whole::<u32>(1, 10_000))]
    pub rounds: Option<u32>,
    /// Which version to list
    #[arg(long, default_value = "corrected")]
    pub view: ListView,
}

/// Arguments of `outline`.
#[derive(Debug, Group)]
pub struct Outline {
    /// The song file
    pub song: PathBuf,
    /// Outline this section only
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
}

/// Arguments of `chords`.
#[derive(Debug, Group)]
pub struct Chords {
    /// The song file
    pub song: PathBuf,
    /// The chords, bar by bar
    pub chart: String,
    /// The section; without it, the first one
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
}

/// Arguments of `feel`.
#[derive(Debug, Group)]
#[command(group = ArgGroup::new("change").args(["give", "human", "off"]).multiple(true))]
pub struct Feel {
    /// The song file
    pub song: PathBuf,
    /// Take a groove and call it NAME
    #[arg(long, value_name = "NAME", requires = "from", conflicts_with_all = ["to", "drop"])]
    pub take: Option<String>,
    /// The track to take it from: its layers that are not muted, or the one of --layer
    #[arg(long, value_name = "TRACK", requires = "take")]
    pub from: Option<String>,
    /// The section to take it from; without it, the first
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// One layer of the track in that section: its name, or its number from the lowest
    #[arg(long)]
    pub layer: Option<String>,
    /// The distance of the groove's steps, e.g. 1/8 triplet
    #[arg(long, default_value = "1/16", requires = "take", value_parser = read::<NoteValue>)]
    pub grid: NoteValue,
    /// After how many bars the groove repeats, 1 to 16
    #[arg(long, default_value = "1", requires = "take", value_parser = whole::<u32>(1, 16))]
    pub bars: u32,
    /// The track to change, or with --layer one of its layers
    #[arg(long, value_name = "TRACK", requires = "change")]
    pub to: Option<String>,
    /// Give the track this groove
    #[arg(long, value_name = "NAME", requires = "to")]
    pub give: Option<String>,
    /// How much of the groove, 0 to 200 %
    #[arg(long, value_name = "PERCENT", default_value = "100", requires = "give")]
    #[arg(value_parser = whole::<u8>(0, 200))]
    pub depth: u8,
    /// How much of its loudness, if not the same
    #[arg(long, value_name = "PERCENT", requires = "give", value_parser = whole::<u8>(0, 200))]
    pub loudness: Option<u8>,
    /// Human variation of timing and loudness, 0 to 100 %: at 100 the standard deviation is 20 ms and a
    /// tenth of the velocity
    #[arg(long, value_name = "PERCENT", requires = "to")]
    #[arg(value_parser = whole::<u8>(0, 100))]
    pub human: Option<u8>,
    /// Human variation of loudness, if not the same
    #[arg(long, value_name = "PERCENT", requires = "human", value_parser = whole::<u8>(0, 100))]
    pub human_loudness: Option<u8>,
    /// Which of many variations, 0 to 9999
    #[arg(long, default_value = "0", requires = "human", value_parser = whole::<u16>(0, 9999))]
    pub seed: u16,
    /// Take groove and human variation off the track
    #[arg(long, requires = "to", conflicts_with_all = ["give", "human"])]
    pub off: bool,
    /// Remove this groove from the song
    #[arg(long, value_name = "NAME", conflicts_with = "to")]
    pub drop: Option<String>,
}

/// Arguments of `check`.
#[derive(Debug, Group)]
pub struct Songs {
    /// The song files
    #[arg(required = true)]
    pub songs: Vec<PathBuf>,
    /// Fail if a note would be later than this on a serial MIDI cable, 1 to 1000 ms
    #[arg(long, value_name = "MS", value_parser = whole::<u32>(1, 1000))]
    pub late: Option<u32>,
    /// An output as for rehearse, e.g. keys=midi:Synth,serial,mtc=25; can be given more than once.
    /// It is not opened. Clock pulses are included unless you add no-clock. Without --out, every
    /// port counts as a serial cable that carries clock pulses
    #[arg(long, value_name = "[NAME=]PORT[,OPTION...]", value_parser = read::<Out>)]
    pub out: Vec<Out>,
}

/// Arguments of `export`.
#[derive(Debug, Group)]
pub struct Export {
    /// The song file
    pub song: PathBuf,
    /// The Standard MIDI File to write
    #[arg(long, value_name = "FILE", required_unless_present = "tracks")]
    pub midi: Option<PathBuf>,
    /// Write each track to a Standard MIDI File of its own in this folder
    #[arg(long, value_name = "DIR")]
    pub tracks: Option<PathBuf>,
    /// Export this section instead of the form
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// How many times to play the section, 1 to 10000; without it, until the longest pass has
    /// played to its end
    #[arg(long, requires = "section", value_parser = whole::<u32>(1, 10_000))]
    pub rounds: Option<u32>,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `bounce`.
#[derive(Debug, Group)]
pub struct Bounce {
    /// The song file
    pub song: PathBuf,
    /// The WAV file to write
    pub wav: PathBuf,
    /// Bounce a section as a seamless loop of exactly its length: what rings past the end sounds
    /// at the beginning
    #[arg(long = "loop")]
    pub looped: bool,
    /// Bounce the whole form; this is the default
    #[arg(long, conflicts_with_all = ["looped", "section"])]
    pub form: bool,
    /// Bounce this section instead of the form, with --loop as a loop; --loop alone takes the first
    /// section
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// How many times to play the section, 1 to 10000; without it, until the longest pass has
    /// played to its end
    #[arg(long, requires = "section", value_parser = whole::<u32>(1, 10_000))]
    pub rounds: Option<u32>,
    /// Only these tracks, by name or number; can be given more than once. A name with a comma in it
    /// is recognised as one name
    #[arg(long, value_name = "NAME,...")]
    pub tracks: Vec<String>,
    /// Add the click, a soft one on each beat
    #[arg(long)]
    pub click: bool,
    /// The level of the click relative to the tracks, in dB from -60 (off) to 0; -12 by default
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    #[arg(requires = "click")]
    pub click_level: Option<f32>,
    /// Write each track to a file of its own in this folder, as it enters the mix, before the
    /// limiter
    #[arg(long, value_name = "DIR")]
    pub stems: Option<PathBuf>,
    /// The sample rate: 44100 or 48000
    #[arg(long, default_value = "44100", value_parser = rate)]
    pub rate: u32,
    /// The sample format: 16 bits (dithered), 24 bits, or 32-bit float
    #[arg(long, default_value = "16")]
    pub bits: BitsOfSample,
    /// Seconds to add after the end, 0 to 600; without it, until silence, 10 at most
    #[arg(long, value_name = "S", value_parser = tail, conflicts_with = "looped")]
    pub tail: Option<f64>,
    /// The loudness to aim for, -60 to -5 LUFS, e.g. -16
    #[arg(long, value_name = "LUFS", value_parser = loudness, allow_negative_numbers = true)]
    pub loudness: Option<f64>,
    /// A SoundFont 2 file to use instead of the built-in sounds
    #[arg(long, value_name = "F.sf2")]
    pub font: Option<PathBuf>,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `import`.
#[derive(Debug, Group)]
pub struct Import {
    /// The Standard MIDI File to read
    pub midi: PathBuf,
    /// The song file to create
    pub song: PathBuf,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `timing`.
#[derive(Debug, Group)]
pub struct Timing {
    /// How long to measure, 1 to 3600 s
    #[arg(long, value_name = "N", default_value = "10")]
    #[arg(value_parser = whole::<u32>(1, 3600))]
    pub seconds: u32,
    /// Keep every core busy meanwhile, as other programs might
    #[arg(long)]
    pub load: bool,
    /// Print one JSON object
    #[arg(long)]
    pub json: bool,
    /// Let the scheduler sleep until each event is due, without busy waiting
    #[arg(long)]
    pub no_spin: bool,
    /// Measure the round trip out through one port and back in through another instead
    #[arg(long, num_args = 2, value_names = ["OUT", "IN"], value_parser = read::<PortSpec>)]
    #[arg(conflicts_with_all = ["seconds", "load", "no_spin"])]
    pub loopback: Vec<PortSpec>,
    /// The number of notes to send, 1 to 10000
    #[arg(long, value_name = "N", default_value = "200", requires = "loopback")]
    #[arg(value_parser = whole::<u32>(1, 10_000))]
    pub count: u32,
}

/// Whether to replace an existing file.
#[derive(Debug, Clone, Copy, Default, Group)]
pub struct Overwrite {
    /// Replace a file that already exists, if it is of the same kind
    #[arg(long)]
    pub replace: bool,
}

impl From<Overwrite> for Replace {
    fn from(overwrite: Overwrite) -> Replace {
        if overwrite.replace { Replace::Yes } else { Replace::No }
    }
}

/// Outputs, inputs and the built-in instrument.
#[derive(Debug, Clone, Group)]
pub struct Wires {
    /// An output: sound (the built-in instrument, the default), midi:NAME, jack:NAME, bytes:PATH or
    /// none. Can be given more than once, with the port names that the song's tracks use. Options:
    /// clock or no-clock, serial (a serial MIDI cable), mtc=24, 25, 29.97 or 30, mmc, offset=MS
    /// (-100 to 100)
    #[arg(long, value_name = "[NAME=]PORT[,OPTION...]", value_parser = read::<Out>)]
    pub out: Vec<Out>,
    /// An input: midi:NAME, jack:NAME, bytes:PATH or none. Can be given more than once. Options:
    /// latency=MS (0 to 100), follow (follow its clock; follow=stop stops when the clock is lost)
    #[arg(long = "in", value_name = "PORT[,OPTION...]", value_parser = read::<In>)]
    pub inputs: Vec<In>,
    /// A SoundFont 2 file for the built-in instrument, instead of its own sounds
    #[arg(long, value_name = "FILE")]
    pub font: Option<PathBuf>,
    /// The level of the built-in instrument, in dB from -60 (off) to 0 (full scale); -12 by
    /// default. Start low, especially with headphones
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    pub level: Option<f32>,
    /// The level of the click relative to the instrument, in dB from -60 (off) to 0; -12 by default
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    pub click_level: Option<f32>,
    /// Send clock, Start and Stop to every output without the option no-clock
    #[arg(long)]
    pub clock: bool,
    /// Let the scheduler sleep until each event is due, without busy waiting: this saves battery,
    /// but events go out a little later
    #[arg(long)]
    pub no_spin: bool,
}

/// How a pedal, pad or key controls the program.
#[derive(Debug, Clone, Group)]
pub struct Controls {
    /// A pedal, pad or key for tapping the tempo: cc:NUMBER or note:KEY, with @CHANNEL for one
    /// channel only, e.g. cc:64 or note:36@10. Its messages are then neither played nor recorded
    #[arg(long, value_name = "WHAT", requires = "inputs", value_parser = read::<TapControl>)]
    pub tap: Option<TapControl>,
    /// Lead the time by hand: each tap is a beat, a bar or a quarter of a bar, and the song waits for it
    #[arg(long, value_name = "STEP", value_parser = ["beat", "bar", "quarter-bar"])]
    pub by_hand: Option<String>,
    /// While you lead by hand, play as loud as you strike: a velocity of 80 leaves the song as it is
    #[arg(long, requires_all = ["by_hand", "tap"])]
    pub as_struck: bool,
}

impl Controls {
    /// How the time is led by hand, if that is asked for.
    pub fn by_hand(&self) -> Option<ByHand> {
        let step = match self.by_hand.as_deref()? {
            "bar" => HandStep::Bar,
            "quarter-bar" => HandStep::QuarterBar,
            _ => HandStep::Beat,
        };
        Some(ByHand { step, loudness: self.as_struck })
    }
}

#[cfg(test)]
mod tests;
