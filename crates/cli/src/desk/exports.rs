//! Exports as the screen shows them.

use super::in_the_way;
use crate::say;
use chaconne_rig::{self as rig, Bounced, ExportOrder, ExportReport, Exported, Replace};
use chaconne_tui::{Export, ExportKind, ExportOutcome, ExportRun, ExportSpec};
use std::path::{Path, PathBuf};

/// The order for an export that the screen asked for.
pub fn order(spec: &ExportSpec) -> ExportOrder {
    let path = PathBuf::from(&spec.file);
    ExportOrder {
        kind: match spec.kind {
            ExportKind::Midi => rig::ExportKind::Midi,
            ExportKind::Wav => rig::ExportKind::Wav,
        },
        tracks: spec.tracks.then(|| tracks_folder(&path)),
        path,
        // The screen has already asked about the files as they were.
        replace: if spec.replace { Replace::Confirmed } else { Replace::No },
    }
}

/// The folder for the files of single tracks, beside the whole: `tide-tracks` beside `tide.mid`.
fn tracks_folder(path: &Path) -> PathBuf {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    path.with_file_name(format!("{}-tracks", stem.unwrap_or_default()))
}

/// The report as the screen takes it.
pub fn export(report: ExportReport) -> Export {
    let running = report.running.map(|(path, thousandths)| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        ExportRun { file: name, percent: (thousandths / 10).min(100) as u8 }
    });
    let outcome = match report.outcome {
        None => ExportOutcome::Nothing,
        Some(Ok(exported)) => ExportOutcome::Written(words(&exported)),
        Some(Err(error)) => match in_the_way(&error) {
            Some(why) => ExportOutcome::InTheWay(why),
            None => ExportOutcome::Failed(say::plain(&error.to_string())),
        },
    };
    Export { running, ended: report.ended, outcome }
}

/// What was written, in a sentence, and what is worth knowing about it.
fn words(exported: &Exported) -> String {
    let whole = exported.files.first().map(|path| path.display().to_string()).unwrap_or_default();
    let more = match exported.files.len().saturating_sub(1) {
        0 => String::new(),
        1 => " and a file for its track".to_string(),
        count => format!(" and {count} files for its tracks"),
    };
    let sound = exported.bounced.as_ref().map(sound_words).unwrap_or_default();
    let remarks = exported.remarks.iter().map(|remark| format!(" {}.", capital(remark)));
    format!("Exported {whole}{more}{sound}.{}", remarks.collect::<String>())
}

/// How long and how loud it is.
fn sound_words(bounced: &Bounced) -> String {
    let seconds = bounced.frames as f64 / f64::from(bounced.rate);
    match bounced.peak {
        Some(peak) => format!(": {seconds:.1} s, peak {peak:.1} dBFS"),
        None => format!(": {seconds:.1} s of silence"),
    }
}

fn capital(sentence: &str) -> String {
    let mut chars = sentence.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>());
    first.unwrap_or_default() + chars.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_rig::{Refusal, WriteError};

    #[test]
    fn the_files_of_single_tracks_lie_in_a_folder_beside_the_whole() {
        let kind = ExportKind::Midi;
        let spec =
            |file: &str, tracks| ExportSpec { kind, file: file.into(), tracks, replace: false };
        let folder = |file| order(&spec(file, true)).tracks;
        assert_eq!(folder("songs/tide.mid"), Some("songs/tide-tracks".into()));
        assert_eq!(folder("tide.v2.mid"), Some("tide.v2-tracks".into()));
        assert_eq!(order(&spec("tide.mid", false)).tracks, None);
    }

    #[test]
    fn an_export_ends_in_words() {
        let outcome = |outcome| export(ExportReport { outcome, ..ExportReport::default() }).outcome;
        let bounced = Bounced {
            frames: 88_200,
            rate: 44_100,
            peak: Some(-3.04),
            loudness: None,
            limited: 0.0,
            stems: Vec::new(),
        };
        let files = vec!["tide.wav".into(), "a.wav".into(), "b.wav".into()];
        let remarks = vec!["the track 'x' is muted".to_string()];
        let exported = Exported { files, bounced: Some(bounced), remarks };
        let words = "Exported tide.wav and 2 files for its tracks: 2.0 s, peak -3.0 dBFS. The track \
                     'x' is muted.";
        assert_eq!(outcome(Some(Ok(exported))), ExportOutcome::Written(words.into()));
        let exists = WriteError::Refused(Refusal::Exists("tide.wav".into()));
        let why = "tide.wav already exists".to_string();
        assert_eq!(outcome(Some(Err(exists))), ExportOutcome::InTheWay(why));
        let full = WriteError::Failed("the disk is full".into());
        let failed = ExportOutcome::Failed("the disk is full".into());
        assert_eq!(outcome(Some(Err(full))), failed);
        assert_eq!(outcome(None), ExportOutcome::Nothing);
        let running = Some((PathBuf::from("songs/tide.wav"), 437));
        let run = export(ExportReport { running, ..ExportReport::default() }).running;
        assert_eq!(run, Some(ExportRun { file: "tide.wav".into(), percent: 43 }));
    }

    /// Every file under a folder with what it holds.
    fn files_in(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
        let mut files = Vec::new();
        for entry in std::fs::read_dir(folder).unwrap().flatten() {
            match entry.file_type().unwrap().is_dir() {
                true => files.extend(files_in(&entry.path())),
                false => files.push((entry.path(), std::fs::read(entry.path()).unwrap())),
            }
        }
        files.sort();
        files
    }

    #[test]
    fn the_screen_exports_byte_for_byte_what_the_commands_write() {
        use crate::args::{Args, Job};
        use clap::Parser;
        let place = tempfile::tempdir().unwrap();
        let (screen, shell) = (place.path().join("screen"), place.path().join("shell"));
        [&screen, &shell].into_iter().for_each(|folder| std::fs::create_dir(folder).unwrap());
        // The demo, cut to two bars to be quick, with everything that its tracks have.
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/demo.ron");
        let mut song = chaconne_rig::load(&demo).unwrap();
        song.form = song.sections[0].letter.to_string().parse().unwrap();
        let saved = place.path().join("tide.ron");
        std::fs::write(&saved, chaconne_song::text::write(&song)).unwrap();

        let outs = vec![rig::Out::plain("", rig::PortSpec::None)];
        let config = rig::RigConfig { outs, ..rig::RigConfig::default() };
        let rig = rig::Rig::start(song, config).unwrap();
        rig.command(chaconne_engine::Command::Play).unwrap();
        for (ended, (kind, name)) in
            (1..).zip([(ExportKind::Midi, "tide.mid"), (ExportKind::Wav, "tide.wav")])
        {
            let file = screen.join(name).display().to_string();
            rig.export(order(&ExportSpec { kind, file, tracks: true, replace: false }));
            while rig.snapshot().export.ended < ended {
                std::thread::sleep(std::time::Duration::from_millis(5));
            }
            let done = export(rig.snapshot().export).outcome;
            assert!(matches!(done, ExportOutcome::Written(_)), "{done:?}");
        }
        assert_eq!(rig.status().transport, chaconne_engine::Transport::Rolling, "it plays on");

        let run = |words: &[&str]| {
            let path = |name: &str| shell.join(name).display().to_string();
            let words =
                words.iter().map(|word| word.strip_prefix('>').map_or(word.to_string(), path));
            let song = saved.display().to_string();
            let words = words.map(|word| if word == "SONG" { song.clone() } else { word });
            Args::try_parse_from(std::iter::once("chaconne".to_string()).chain(words)).unwrap().job
        };
        let words = ["export", "SONG", "--midi", ">tide.mid", "--tracks", ">tide-tracks"];
        let Job::Export(asked) = run(&words) else { panic!() };
        crate::files::export(&asked).unwrap();
        let words = ["bounce", "SONG", ">tide.wav", "--stems", ">tide-tracks"];
        let Job::Bounce(asked) = run(&words) else { panic!() };
        crate::bounce::bounce(asked).unwrap();

        let [screen, shell] = [screen, shell].map(|folder| {
            let files = files_in(&folder).into_iter();
            let named = |(path, bytes): (PathBuf, Vec<u8>)| {
                (path.strip_prefix(&folder).unwrap().to_path_buf(), bytes)
            };
            files.map(named).collect::<Vec<_>>()
        });
        let names = |files: &[(PathBuf, Vec<u8>)]| {
            files.iter().map(|(path, _)| path.display().to_string()).collect::<Vec<_>>()
        };
        assert_eq!(names(&screen), names(&shell));
        assert!(screen.len() >= 2 + 2 * 4, "{:?}", names(&screen));
        assert!(screen == shell, "the same files");
    }
}
