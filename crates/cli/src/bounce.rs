//! `bounce`: exports a song as a WAV file.

use crate::args::Bounce;
use crate::exit::{Ended, Failure};
use crate::files::{extent, read_song, remark};
use crate::{alarm, say};
use chaconne_rig::{BounceNews, BounceProgress, Bounced, HowToBounce};
use chaconne_song::Song;
use std::fmt::Write;
use std::io::IsTerminal;
use std::path::Path;
use std::time::{Duration, Instant};

/// The time between progress messages if standard error is a terminal.
const IN_TERMINAL: Duration = Duration::from_secs(1);
/// The time between progress messages otherwise, so that they do not fill a log.
const IN_LOG: Duration = Duration::from_secs(10);

/// Writes the files, and prints their length, peak and loudness.
pub fn bounce(asked: Bounce) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let how = how(&asked, &song);
    check_extension(&asked.wav)?;
    let mut caught = alarm::catch_for_screen()?;
    let mut signal = None;
    let mut last = Instant::now();
    let interval = if std::io::stderr().is_terminal() { IN_TERMINAL } else { IN_LOG };
    let mut on_news = |news: BounceNews| {
        match news {
            BounceNews::Remark(remark) => say::message(&remark),
            BounceNews::Progress(progress) if last.elapsed() >= interval => {
                last = Instant::now();
                say::message(&progress_line(progress));
            }
            BounceNews::Progress(_) => {}
        }
        signal = caught.asked();
        signal.is_none()
    };
    let Some(bounced) = chaconne_rig::bounce(&song, &asked.wav, &how, &mut on_news)? else {
        return Ok(signal.map_or(Ended::Failed, Ended::Signal));
    };
    let written = std::iter::once(asked.wav.as_path()).chain(bounced.stems.iter().map(|p| &**p));
    written.for_each(|path: &Path| say::message(&format!("{} written", path.display())));
    say::answer(&report(&bounced))?;
    remark(&song, how.extent)?;
    Ok(Ended::Ok)
}

/// Refuses a file name with the extension of another format.
fn check_extension(path: &Path) -> Result<(), String> {
    let extension = path.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    match extension.as_deref() {
        None | Some("wav" | "wave") => Ok(()),
        Some(other) => Err(format!(
            "{} ends in .{other}, but bounce writes WAV files: use a name that ends in .wav",
            path.display()
        )),
    }
}

fn how(asked: &Bounce, song: &Song) -> HowToBounce {
    let first = || song.sections.first().map(|section| section.letter);
    let section = asked.section.or_else(|| first().filter(|_| asked.looped));
    HowToBounce {
        extent: extent(section, asked.rounds),
        looped: asked.looped,
        tracks: asked.tracks.clone(),
        click: asked.click,
        click_level: asked.click_level,
        stems: asked.stems.clone(),
        rate: asked.rate,
        bits: asked.bits.into(),
        tail: asked.tail,
        loudness: asked.loudness,
        font: asked.font.clone(),
        replace: asked.overwrite.into(),
    }
}

fn progress_line(progress: BounceProgress) -> String {
    let done = if progress.measures { "measured" } else { "bounced" };
    format!("{done} {:.0} s of {:.0} s", progress.done, progress.of)
}

/// The measurements, one per line.
fn report(bounced: &Bounced) -> String {
    let seconds = bounced.frames as f64 / f64::from(bounced.rate);
    let mut text = format!("length {seconds:.3} s\n");
    let or = |value: Option<f64>, unit: &str, missing: &str| {
        value.map_or_else(|| missing.to_string(), |value| format!("{value:.1} {unit}"))
    };
    let _ = writeln!(text, "peak {}", or(bounced.peak, "dBFS", "none: silent"));
    let _ = writeln!(text, "loudness {}", or(bounced.loudness, "LUFS", "under -70 LUFS"));
    if bounced.limited >= 0.05 {
        let _ =
            writeln!(text, "the limiter turned the mix down by up to {:.1} dB", bounced.limited);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_options_a_bounce_is_that_of_the_screen() {
        use crate::args::{Args, Job};
        use clap::Parser;
        let Ok(Args { job: Job::Bounce(asked) }) =
            Args::try_parse_from(["chaconne", "bounce", "a.ron", "a.wav"])
        else {
            panic!("not a bounce")
        };
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("a", 4, metre, tempo).unwrap();
        assert_eq!(how(&asked, &song), HowToBounce::default());
    }

    #[test]
    fn a_file_name_with_the_extension_of_another_format_is_refused() {
        for name in ["a.wav", "b/A.WAV", "a.wave", "take"] {
            assert_eq!(check_extension(Path::new(name)), Ok(()));
        }
        let error = check_extension(Path::new("b/a.mp3")).unwrap_err();
        assert!(error.starts_with("b/a.mp3 ends in .mp3"), "{error}");
    }

    #[test]
    fn the_measurements_are_printed() {
        let mut bounced = Bounced {
            frames: 66_150,
            rate: 44_100,
            peak: Some(-1.04),
            loudness: Some(-14.26),
            limited: 2.5,
            stems: Vec::new(),
        };
        let text = "length 1.500 s\npeak -1.0 dBFS\nloudness -14.3 LUFS\nthe limiter turned the mix down by up to 2.5 dB\n";
        assert_eq!(report(&bounced), text);
        (bounced.peak, bounced.loudness, bounced.limited) = (None, None, 0.0);
        let text = "length 1.500 s\npeak none: silent\nloudness under -70 LUFS\n";
        assert_eq!(report(&bounced), text);
        let progress = BounceProgress { measures: true, done: 3.2, of: 60.0 };
        assert_eq!(progress_line(progress), "measured 3 s of 60 s");
    }
}
