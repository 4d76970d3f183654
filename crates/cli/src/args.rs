//! The arguments: what can be asked on the command line, with an example for each job.

use chaconne_engine::{Mode, Rounds, View};
use chaconne_rig::{Bits, In, Out, PortSpec, Replace, TapControl};
use chaconne_song::Letter;
use chaconne_time::{Metre, NoteValue, Tempo, TimeError};
use chaconne_tui::Keyboard;
use clap::{Args as Group, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Lay down loops one pass at a time, rehearse with them, and hand them on.
#[derive(Debug, Parser)]
#[command(
    name = "chaconne",
    version,
    arg_required_else_help = true,
    after_help = "Example:\n  chaconne new sketch.ron --bars 4 --tempo 96\n  chaconne sketch sketch.ron\n\n\
        Exit codes: 0 done, 1 the answer is no, 2 it could not be done (or wrong arguments), \
        101 the program failed, 128 and its number after a signal. Answers are on standard \
        output, messages on standard error."
)]
pub struct Args {
    /// What is to be done.
    #[command(subcommand)]
    pub job: Job,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub enum Job {
    /// Makes an empty song
    #[command(after_help = "Example:\n  chaconne new waltz.ron --bars 8 --tempo 87.5 --metre 3/4")]
    New(New),
    /// Opens the sketch screen: record, layer, hear, save
    #[command(
        after_help = "Example:\n  chaconne sketch waltz.ron --out midi:Synth --in midi:Keys\n\n\
        A song that is not there yet starts empty and is made when you save. Turn instruments and \
        headphones down before you start: loops repeat, and long sessions at high level can harm \
        hearing for good. As a guide: 80 dB for 40 hours a week; every 3 dB more halves the time \
        (WHO-ITU H.870)."
    )]
    Sketch(Sketch),
    /// Plays without a screen, for rehearsing
    #[command(
        after_help = "Example:\n  chaconne rehearse waltz.ron --times 8 --out keys=midi:Synth\n\n\
        Plays the form, or the first section where there is none, with a line for each round \
        (one time through a section), until SIGINT, SIGTERM or SIGHUP; \
        that is the usual way to end it, and the exit code is 0. Under nohup it goes on when the \
        terminal is gone. Turn instruments and headphones down before you start: loops repeat, and long \
        sessions at high level can harm hearing for good. As a guide: 80 dB for 40 hours a week; \
        every 3 dB more halves the time (WHO-ITU H.870)."
    )]
    Rehearse(Rehearse),
    /// Plays a recorded take into the recorder, and saves the song
    #[command(
        after_help = "Example:\n  chaconne lay waltz.ron --track Bass --section A --from take.mid\n\n\
        The take's beats line up with the song's; its tempo is not used. Each round of the section \
        becomes a pass. On a signal a take laid in real time ends early, and what was recorded is \
        saved."
    )]
    Lay(Lay),
    /// Lists everything a song plays, one line an event
    #[command(after_help = "Example:\n  chaconne list waltz.ron --section A --view played")]
    List(List),
    /// Tells what is wrong with song files, with the place
    #[command(after_help = "Example:\n  chaconne check songs/*.ron\n\n\
        Of a clean song it also tells, port by port, where notes would be more than 6 ms late on a \
        serial MIDI cable (31,250 baud): 6 ms is the least that is heard in a fast series. With \
        --out it looks at the ports marked serial, with the time code they get. Exit \
        code 0 where all are clean, 1 where something is wrong or later than --late allows, 2 \
        where one cannot be read.")]
    Check(Songs),
    /// Writes a Standard MIDI File
    #[command(after_help = "Example:\n  chaconne export waltz.ron --midi waltz.mid --loop A")]
    Export(Export),
    /// Writes a WAV file, played by the built-in sounds
    #[command(
        after_help = "Example:\n  chaconne bounce waltz.ron waltz.wav --stems parts\n  chaconne bounce \
        waltz.ron loop.wav --loop --section A\n\n\
        Bounces the form, or the first section where there is none; a section once with --section \
        alone. Tells its length, its peak, and its loudness by ITU-R BS.1770. Start low when you \
        listen to it."
    )]
    Bounce(Bounce),
    /// Makes a song of a Standard MIDI File
    #[command(after_help = "Example:\n  chaconne import waltz.mid waltz.ron")]
    Import(Import),
    /// Lists the ports there are
    #[command(after_help = "Example:\n  chaconne ports")]
    Ports,
    /// Tells whether this machine plays evenly enough
    #[command(
        after_help = "Example:\n  chaconne timing --seconds 60 --load\n  chaconne timing --loopback \
        midi:Synth midi:Keys\n\n\
        Plays a busy song of its own through the real scheduler and measures how late each clock \
        pulse and note leaves it, beside a bare timer in the same run. Without --loopback nothing \
        sounds. With it, quiet notes go out through OUT and are heard on IN, which a cable must \
        join: turn instruments and headphones down before you start. A signal ends it early, with \
        what was measured. Exit code 0 where the machine is good or fair and no note is lost, 1 \
        where not."
    )]
    Timing(Timing),
}

/// Arguments of `new`.
#[derive(Debug, Group)]
pub struct New {
    /// The file to make
    pub song: PathBuf,
    /// How many bars its section has, 1 to 999
    #[arg(long, default_value = "4", value_parser = whole::<u32>(1, 999))]
    pub bars: u32,
    /// Beats a minute, 10 to 1000, with up to three decimals
    #[arg(long, default_value = "120", value_parser = tempo)]
    pub tempo: Tempo,
    /// The metre
    #[arg(long, default_value = "4/4")]
    pub metre: Metre,
    /// What it is called; the file's name where nothing is given
    #[arg(long)]
    pub title: Option<String>,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `sketch`.
#[derive(Debug, Group)]
pub struct Sketch {
    /// The song's file
    pub song: Option<PathBuf>,
    /// Rolls at once
    #[arg(long)]
    pub play: bool,
    #[command(flatten)]
    pub wires: Wires,
    #[command(flatten)]
    pub controls: Controls,
    /// Draws with ASCII only
    #[arg(long)]
    pub ascii: bool,
    /// Nothing moves but the words
    #[arg(long)]
    pub calm: bool,
    /// The terminal's background is light; without this or --dark the terminal is asked
    #[arg(long, conflicts_with = "dark")]
    pub light: bool,
    /// The terminal's background is dark
    #[arg(long)]
    pub dark: bool,
    /// Frames a second at most, 1 to 60
    #[arg(long, value_parser = whole::<u32>(1, 60))]
    pub fps: Option<u32>,
    /// Where the letters lie on the computer keyboard: us, de or fr
    #[arg(long)]
    pub keyboard: Option<Keyboard>,
}

/// Arguments of `rehearse`.
#[derive(Debug, Group)]
pub struct Rehearse {
    /// The song's file
    pub song: PathBuf,
    /// How many times through the form, or through the section; without it, until it is stopped
    #[arg(long, alias = "rounds", value_parser = whole::<u32>(1, 100_000))]
    pub times: Option<u32>,
    /// The bar to begin at, counted from 1 along what is played; then other gear gets a song
    /// position and continue instead of start
    #[arg(long, value_name = "BAR", value_parser = whole::<u64>(1, 1_000_000_000))]
    pub from: Option<u64>,
    /// Goes round in this section instead of along the form
    #[arg(long)]
    pub section: Option<Letter>,
    /// Plays the click all the time
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
    /// The song's file
    pub song: PathBuf,
    /// The track; it is made where the song has none of that name
    #[arg(long)]
    pub track: String,
    /// The section; the first where nothing is given
    #[arg(long)]
    pub section: Option<Letter>,
    /// The take: a Standard MIDI File
    #[arg(long)]
    pub from: PathBuf,
    /// What becomes of the rounds of the take
    #[arg(long, value_name = "WHICH", default_value = "all")]
    pub keep: KeepRounds,
    /// How the new passes treat what lies under them
    #[arg(long, default_value = "layer")]
    pub mode: LayMode,
    /// The grid that a track made for the take is pulled to, such as 1/16; without it, as played
    #[arg(long)]
    pub grid: Option<NoteValue>,
    /// Writes the song here instead of over the one that was read
    #[arg(long, value_name = "SONG")]
    pub save_as: Option<PathBuf>,
    #[command(flatten)]
    pub overwrite: Overwrite,
    /// Plays it on the real clock, to be heard, instead of a simulated one
    #[arg(long)]
    pub real_time: bool,
    /// How many more rounds are played after the take, to hear what was laid
    #[arg(long, default_value = "0", requires = "real_time")]
    #[arg(value_parser = whole::<u32>(0, 10_000))]
    pub rounds: u32,
    #[command(flatten)]
    pub wires: Wires,
}

/// Arguments of `list`.
#[derive(Debug, Group)]
pub struct List {
    /// The song's file
    pub song: PathBuf,
    /// One round of this section instead of the form
    #[arg(long)]
    pub section: Option<Letter>,
    /// Which truth is listed
    #[arg(long, default_value = "corrected")]
    pub view: ListView,
}

/// Arguments of `check`.
#[derive(Debug, Group)]
pub struct Songs {
    /// The songs' files
    #[arg(required = true)]
    pub songs: Vec<PathBuf>,
    /// The answer is no where a note would be later than this on a serial MIDI cable, 1 to 1000 ms
    #[arg(long, value_name = "MS", value_parser = whole::<u32>(1, 1000))]
    pub late: Option<u32>,
    /// An output as for rehearse, such as keys=midi:Synth,serial,mtc=25; give it again for more.
    /// None is opened. Clock pulses count where it does not say no-clock. Without any, each port
    /// is taken for a serial cable with pulses
    #[arg(long, value_name = "[NAME=]PORT[,OPTION...]")]
    pub out: Vec<Out>,
}

/// Arguments of `export`.
#[derive(Debug, Group)]
pub struct Export {
    /// The song's file
    pub song: PathBuf,
    /// The Standard MIDI File to write
    #[arg(long, value_name = "FILE")]
    pub midi: PathBuf,
    /// One round of this section instead of the form
    #[arg(long = "loop", value_name = "SECTION")]
    pub section: Option<Letter>,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `bounce`.
#[derive(Debug, Group)]
pub struct Bounce {
    /// The song's file
    pub song: PathBuf,
    /// The WAV file to write
    pub wav: PathBuf,
    /// A section that goes round without a gap, exactly as long as it is: what rings over its end
    /// is heard at its beginning
    #[arg(long = "loop")]
    pub looped: bool,
    /// The whole form, which is what is bounced when nothing is said
    #[arg(long, conflicts_with_all = ["looped", "section"])]
    pub form: bool,
    /// This section, once, or with --loop as a loop; with --loop alone the first
    #[arg(long)]
    pub section: Option<Letter>,
    /// Only these tracks, by name or number; give it again for more. A name that has a comma in it
    /// is taken whole
    #[arg(long, value_name = "NAME,...")]
    pub tracks: Vec<String>,
    /// Has the click sound as well, a gentle one of its own on each beat
    #[arg(long)]
    pub click: bool,
    /// The level of the click in decibels under that of the parts, -60 (off) to 0; -12 without it
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    #[arg(requires = "click")]
    pub click_level: Option<f32>,
    /// A folder for a file of each track, as it goes into the mix before its limiter
    #[arg(long, value_name = "DIR")]
    pub stems: Option<PathBuf>,
    /// Samples a second: 44100 or 48000
    #[arg(long, default_value = "44100", value_parser = rate)]
    pub rate: u32,
    /// Bits of a sample; 16 are dithered, 32f are floats
    #[arg(long, default_value = "16")]
    pub bits: BitsOfSample,
    /// Seconds that follow the end, 0 to 600; without it, until it is silent, and at most 10
    #[arg(long, value_name = "S", value_parser = tail, conflicts_with = "looped")]
    pub tail: Option<f64>,
    /// The loudness it is brought to, -60 to -5 LUFS, such as -16
    #[arg(long, value_name = "LUFS", value_parser = loudness, allow_negative_numbers = true)]
    pub loudness: Option<f64>,
    /// A SoundFont 2 file to play it with
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
    /// The song's file to make
    pub song: PathBuf,
    #[command(flatten)]
    pub overwrite: Overwrite,
}

/// Arguments of `timing`.
#[derive(Debug, Group)]
pub struct Timing {
    /// How long it plays, 1 to 3600 s
    #[arg(long, value_name = "N", default_value = "10")]
    #[arg(value_parser = whole::<u32>(1, 3600))]
    pub seconds: u32,
    /// Keeps every core busy meanwhile, as other programs might
    #[arg(long)]
    pub load: bool,
    /// Answers with one JSON object
    #[arg(long)]
    pub json: bool,
    /// Lets the scheduler only sleep, never wait awake
    #[arg(long)]
    pub no_spin: bool,
    /// Measures the way out through one port and back in through another instead
    #[arg(long, num_args = 2, value_names = ["OUT", "IN"])]
    #[arg(conflicts_with_all = ["seconds", "load", "no_spin"])]
    pub loopback: Vec<PortSpec>,
    /// How many notes go round, 1 to 10000
    #[arg(long, value_name = "N", default_value = "200", requires = "loopback")]
    #[arg(value_parser = whole::<u32>(1, 10_000))]
    pub count: u32,
}

/// What may be replaced.
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

/// Where music goes and comes from.
#[derive(Debug, Clone, Group)]
pub struct Wires {
    /// An output: sound (the built-in instrument, also where no output is given), midi:NAME,
    /// jack:NAME, bytes:PATH or none; give it again for more, named as the song's tracks name
    /// their ports. Options: clock or no-clock, serial (a serial MIDI cable), mtc=24, 25,
    /// 29.97 or 30, mmc, offset=MS (-100 to 100)
    #[arg(long, value_name = "[NAME=]PORT[,OPTION...]")]
    pub out: Vec<Out>,
    /// An input: midi:NAME, jack:NAME, bytes:PATH or none; give it again for more. Options:
    /// latency=MS (0 to 100), follow (its clock leads; follow=stop stops when the clock is lost)
    #[arg(long = "in", value_name = "PORT[,OPTION...]")]
    pub inputs: Vec<In>,
    /// The sounds of the built-in instrument: a SoundFont 2 file instead of its own
    #[arg(long, value_name = "FILE")]
    pub font: Option<PathBuf>,
    /// The level of the built-in instrument in dB, from -60 (off) to 0 (full scale); it starts at
    /// -12. Start low, above all on headphones
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    pub level: Option<f32>,
    /// The level of its click in decibels under that of the instrument, -60 (off) to 0; it starts
    /// at -12
    #[arg(long, value_name = "DB", allow_negative_numbers = true, value_parser = level)]
    pub click_level: Option<f32>,
    /// Sends clock, start and stop to every output that does not say no-clock
    #[arg(long)]
    pub clock: bool,
    /// Lets the scheduler only sleep, never wait awake: for a small box on a battery; events are
    /// then a little later
    #[arg(long)]
    pub no_spin: bool,
}

/// Reads a whole number between two, which a refusal names.
fn whole<T: TryFrom<u64>>(
    least: u64,
    most: u64,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static {
    move |text| {
        let number = text.parse().ok().filter(|number| (least..=most).contains(number));
        let number = number.and_then(|number| T::try_from(number).ok());
        number.ok_or_else(|| format!("it is a whole number from {least} to {most}"))
    }
}

/// Reads a level.
fn level(text: &str) -> Result<f32, String> {
    let level = text.parse().ok().filter(|level| (-60.0..=0.0).contains(level));
    level.ok_or_else(|| "a level is a number of decibels from -60 to 0".to_string())
}

/// What of the inputs drives the program.
#[derive(Debug, Clone, Group)]
pub struct Controls {
    /// A pedal, pad or key that is tapped for the tempo: cc:NUMBER or note:KEY, with @CHANNEL
    /// where only one counts, such as cc:64 or note:36@10. It is then neither heard nor recorded
    #[arg(long, value_name = "WHAT", requires = "inputs")]
    pub tap: Option<TapControl>,
}

/// What becomes of rounds, as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum KeepRounds {
    /// Each round adds a layer
    All,
    /// Each round mutes the one before
    Newest,
    /// The whole take is one pass, as many rounds long as it needs
    One,
}

impl From<KeepRounds> for Rounds {
    fn from(keep: KeepRounds) -> Rounds {
        match keep {
            KeepRounds::All => Rounds::All,
            KeepRounds::Newest => Rounds::Newest,
            KeepRounds::One => Rounds::One,
        }
    }
}

/// How passes lie on others, as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LayMode {
    /// On top; what is under them goes on
    Layer,
    /// From the first note in a bar on, what is under them is silent to the end of that bar
    Replace,
    /// What is under them is silent as long as the take lasts
    Punch,
}

impl From<LayMode> for Mode {
    fn from(mode: LayMode) -> Mode {
        match mode {
            LayMode::Layer => Mode::Layer,
            LayMode::Replace => Mode::Replace,
            LayMode::Punch => Mode::Punch,
        }
    }
}

/// Forms of a sample, as they are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum BitsOfSample {
    /// Whole numbers of 16 bits, as on a CD
    #[value(name = "16")]
    Sixteen,
    /// Whole numbers of 24 bits
    #[value(name = "24")]
    TwentyFour,
    /// Floats of 32 bits
    #[value(name = "32f")]
    Float,
}

impl From<BitsOfSample> for Bits {
    fn from(bits: BitsOfSample) -> Bits {
        match bits {
            BitsOfSample::Sixteen => Bits::Sixteen,
            BitsOfSample::TwentyFour => Bits::TwentyFour,
            BitsOfSample::Float => Bits::Float,
        }
    }
}

/// Views, as they are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ListView {
    /// As it was played, or placed by hand
    Played,
    /// As it is heard, feel applied
    Corrected,
    /// Straight on the grid
    Straight,
}

impl From<ListView> for View {
    fn from(view: ListView) -> View {
        match view {
            ListView::Played => View::Played,
            ListView::Corrected => View::Corrected,
            ListView::Straight => View::Straight,
        }
    }
}

fn tempo(text: &str) -> Result<Tempo, TimeError> {
    Tempo::parse_bpm(text)
}

fn rate(text: &str) -> Result<u32, String> {
    let rates = [44_100, 48_000];
    let rate = text.parse().ok().filter(|rate| rates.contains(rate));
    rate.ok_or_else(|| "it is 44100 or 48000".into())
}

fn tail(text: &str) -> Result<f64, String> {
    let tail = text.parse().ok().filter(|seconds| (0.0..=600.0).contains(seconds));
    tail.ok_or_else(|| "it is 0 to 600 seconds".into())
}

fn loudness(text: &str) -> Result<f64, String> {
    let loudness = text.parse().ok().filter(|lufs| (-60.0..=-5.0).contains(lufs));
    loudness.ok_or_else(|| "it is -60 to -5 LUFS".into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn parse(line: &str) -> Result<Job, clap::Error> {
        let words = line.split(' ').filter(|word| !word.is_empty());
        Args::try_parse_from(std::iter::once("chaconne").chain(words)).map(|args| args.job)
    }

    fn error(line: &str) -> String {
        parse(line).unwrap_err().to_string()
    }

    #[test]
    fn the_table_of_arguments_is_sound_and_every_job_has_an_example() {
        Args::command().debug_assert();
        for job in Args::command().get_subcommands() {
            let help = job.get_after_help().map(ToString::to_string).unwrap_or_default();
            let example = format!("Example:\n  chaconne {}", job.get_name());
            assert!(help.starts_with(&example), "{}: {help}", job.get_name());
        }
    }

    #[test]
    fn a_new_song_is_four_bars_of_common_time_at_120_unless_said_otherwise() {
        let Ok(Job::New(new)) = parse("new a.ron") else { panic!() };
        assert_eq!((new.bars, new.tempo, new.metre), (4, Tempo::DEFAULT, Metre::common()));
        let Ok(Job::New(new)) = parse("new a.ron --bars 999 --tempo 93.7 --metre 7/8") else {
            panic!()
        };
        assert_eq!((new.bars, new.tempo.to_string().as_str()), (999, "93.7"));
        assert!(error("new a.ron --bars 1000").contains("from 1 to 999"));
        assert!(error("new a.ron --tempo 5").contains("outside 10 to 1000"));
        assert!(error("new a.ron --metre 4/3").contains("d one of 1, 2, 4, 8, 16, 32"));
    }

    #[test]
    fn ports_can_be_given_again_and_named() {
        let line = "sketch --out midi:Synth --out low=bytes:pipe --in none --clock --play";
        let Ok(Job::Sketch(sketch)) = parse(line) else { panic!() };
        let names: Vec<&str> = sketch.wires.out.iter().map(|out| out.name.as_str()).collect();
        assert_eq!(names, ["", "low"]);
        assert_eq!(sketch.wires.inputs, [In::plain(chaconne_rig::PortSpec::None)]);
        assert!(sketch.play && sketch.wires.clock && sketch.song.is_none());
        assert!(
            error("sketch --out synth")
                .contains("none of midi:NAME, jack:NAME, bytes:PATH, sound and none")
        );
        assert!(error("sketch --light --dark").contains("cannot be used with"));
    }

    #[test]
    fn a_pedal_of_an_input_is_tapped() {
        let Ok(Job::Rehearse(rehearse)) = parse("rehearse a.ron --in none --tap cc:64") else {
            panic!()
        };
        assert_eq!(rehearse.controls.tap.map(|tap| tap.to_string()), Some("cc:64".to_string()));
        assert!(parse("sketch --in none --tap note:36@10").is_ok());
        assert!(error("sketch --in none --tap pedal").contains("note:KEY or cc:NUMBER"));
        assert!(error("sketch --tap cc:64").contains("--in"));
    }

    #[test]
    fn a_take_is_laid_as_asked() {
        let line = "lay a.ron --track Bass --section B --from t.mid --keep one --mode punch";
        let Ok(Job::Lay(lay)) = parse(line) else { panic!() };
        assert_eq!((lay.keep, lay.mode, lay.rounds), (KeepRounds::One, LayMode::Punch, 0));
        assert_eq!(lay.section.map(|letter| letter.to_string()), Some("B".to_string()));
        assert!(parse("lay a.ron --track T --from t.mid --real-time --rounds 2").is_ok());
        assert!(error("lay a.ron --track T --from t.mid --rounds 2").contains("--real-time"));
        assert!(error("lay a.ron --from t.mid").contains("--track"));
        assert!(
            error("lay a.ron --track T --from t --section b").contains("one to three capitals")
        );
        assert!(error("lay a.ron --track T --from t --grid 1/5").contains("1/1 to 1/64"));
    }

    #[test]
    fn a_bounce_is_a_cd_unless_said_otherwise() {
        let Ok(Job::Bounce(bounce)) = parse("bounce a.ron a.wav") else { panic!() };
        assert_eq!(
            (bounce.rate, bounce.bits, bounce.looped),
            (44_100, BitsOfSample::Sixteen, false)
        );
        let line = "bounce a.ron a.wav --loop --section B --tracks Bass,Kit --rate 48000 --bits 32f \
                    --loudness -16";
        let Ok(Job::Bounce(bounce)) = parse(line) else { panic!() };
        assert_eq!((bounce.rate, bounce.bits, bounce.looped), (48_000, BitsOfSample::Float, true));
        assert_eq!((bounce.tracks.join("+").as_str(), bounce.loudness), ("Bass,Kit", Some(-16.0)));
        assert!(error("bounce a.ron a.wav --loop --tail 3").contains("cannot be used with"));
        assert!(error("bounce a.ron a.wav --form --section A").contains("cannot be used with"));
        assert!(error("bounce a.ron a.wav --rate 22050").contains("44100 or 48000"));
        assert!(error("bounce a.ron a.wav --tail NaN").contains("0 to 600"));
        assert!(error("bounce a.ron a.wav --loudness 3").contains("-60 to -5"));
    }

    #[test]
    fn timing_measures_the_machine_or_a_cable() {
        let Ok(Job::Timing(timing)) = parse("timing") else { panic!() };
        assert_eq!((timing.seconds, timing.load, timing.loopback.len()), (10, false, 0));
        let Ok(Job::Timing(timing)) = parse("timing --loopback midi:A bytes:b --count 9") else {
            panic!()
        };
        let ports: Vec<String> = timing.loopback.iter().map(PortSpec::to_string).collect();
        assert_eq!((ports.join(" ").as_str(), timing.count), ("midi:A bytes:b", 9));
        assert!(error("timing --seconds 3601").contains("from 1 to 3600"));
        assert!(error("timing --loopback none").contains("2 values required"));
        assert!(error("timing --loopback none none --load").contains("cannot be used with"));
        assert!(error("timing --count 3").contains("--loopback"));
    }

    #[test]
    fn songs_can_be_held_to_a_limit_of_lateness() {
        let Ok(Job::Check(songs)) = parse("check a.ron b.ron --late 8") else { panic!() };
        assert_eq!((songs.songs.len(), songs.late), (2, Some(8)));
        assert!(error("check a.ron --late 0").contains("from 1 to 1000"));
    }

    #[test]
    fn what_is_missing_or_unknown_is_a_usage_error() {
        for line in ["", "play a.ron", "rehearse", "export a.ron", "import a.mid", "check"] {
            // clap's own code for wrong usage is the one for "it could not be done".
            let code = parse(line).unwrap_err().exit_code();
            assert_eq!(code, i32::from(crate::exit::FAILED), "{line}");
        }
        assert_eq!(parse("--help").unwrap_err().exit_code(), 0);
    }
}
