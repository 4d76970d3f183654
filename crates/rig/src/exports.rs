//! Exports while the music plays: one at a time, on a thread of its own with a low priority, with its
//! progress, and can be cancelled.
//!
//! In: the song as it was at the request, and where to write it. Out: files, whole or not at all,
//! and how it went in [`ExportReport`]. The files are those of the commands that export without a
//! screen.

use crate::bounce::{BounceNews, Bounced, HowToBounce, bounce_guarded};
use crate::export::{Extent, export_midi, export_midi_tracks, midi_track_files, remarks};
use crate::replace::{Guard, Kind, Replace, WriteError};
use crate::track_files;
use chaconne_ports::lower_priority;
use chaconne_song::Song;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportKind {
    /// A Standard MIDI File.
    Midi,
    /// A WAV file.
    Wav,
}

/// An order to export the whole song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportOrder {
    /// What is written.
    pub kind: ExportKind,
    /// The file.
    pub path: PathBuf,
    /// The folder for one file per track besides, if any.
    pub tracks: Option<PathBuf>,
    /// Whether to replace existing files. [`Replace::Confirmed`] applies to those of the last refusal,
    /// as they were then.
    pub replace: Replace,
}

/// How exports are going.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExportReport {
    /// The one that runs: its file, and how much of it is done, in thousandths.
    pub running: Option<(PathBuf, u16)>,
    /// Goes up by one whenever an export has ended, however that was.
    pub ended: u64,
    /// How the last one ended; `None` if it was cancelled, or there was none.
    pub outcome: Option<Result<Exported, WriteError>>,
}

/// What an export has written.
#[derive(Debug, Clone, PartialEq)]
pub struct Exported {
    /// The files, the whole first.
    pub files: Vec<PathBuf>,
    /// The measurements of a WAV file.
    pub bounced: Option<Bounced>,
    /// What is worth knowing about it, one sentence each.
    pub remarks: Vec<String>,
}

/// The exports of a rig. Dropping it cancels the one that runs.
#[derive(Debug, Default)]
pub(crate) struct Exports {
    report: Arc<Mutex<ExportReport>>,
    cancelled: Arc<AtomicBool>,
    /// Remembers which files the user was asked about.
    guard: Arc<Mutex<Guard>>,
    thread: Mutex<Option<JoinHandle<()>>>,
}

impl Exports {
    /// Begins an export. While another one runs, that one goes on and this one is refused.
    pub fn begin(&self, song: Arc<Song>, order: ExportOrder, font: Option<PathBuf>) {
        let mut report = lock(&self.report);
        if report.running.is_some() {
            let busy = "another export is still running: wait for it, or cancel it";
            report.end(Some(Err(busy.to_string().into())), true);
            return;
        }
        report.running = Some((order.path.clone(), 0));
        drop(report);
        self.cancelled.store(false, Relaxed);
        let (report, cancelled) = (self.report.clone(), self.cancelled.clone());
        let guard = self.guard.clone();
        let run = move || {
            lower_priority();
            let mut tell = |thousandths| {
                if let Some((_, done)) = &mut lock(&report).running {
                    *done = thousandths;
                }
                !cancelled.load(Relaxed)
            };
            let outcome = export(&song, &order, font, &mut lock(&guard), &mut tell).transpose();
            lock(&report).end(outcome, false);
        };
        match thread::Builder::new().name("export".to_string()).spawn(run) {
            Ok(thread) => *lock(&self.thread) = Some(thread),
            Err(error) => {
                let sentence = format!("no thread could be started for the export: {error}");
                lock(&self.report).end(Some(Err(sentence.into())), false);
            }
        }
    }

    /// Cancels the export that runs; it leaves no file.
    pub fn cancel(&self) {
        self.cancelled.store(true, Relaxed);
    }

    /// How exports are going.
    pub fn report(&self) -> ExportReport {
        lock(&self.report).clone()
    }
}

impl Drop for Exports {
    fn drop(&mut self) {
        self.cancel();
        // A panic on that thread was reported where it happened.
        let thread = lock(&self.thread).take();
        _ = thread.map(JoinHandle::join);
    }
}

impl ExportReport {
    fn end(&mut self, outcome: Option<Result<Exported, WriteError>>, another_runs: bool) {
        if !another_runs {
            self.running = None;
        }
        self.ended += 1;
        self.outcome = outcome;
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Exports; `None` if it was cancelled. Calls `tell` with the thousandths that are done.
fn export(
    song: &Song,
    order: &ExportOrder,
    font: Option<PathBuf>,
    guard: &mut Guard,
    tell: &mut dyn FnMut(u16) -> bool,
) -> Result<Option<Exported>, WriteError> {
    let ExportOrder { kind, path, tracks, replace } = order;
    let extent = Extent::Form;
    let mut said = remarks(song, extent, &extent.route(song)?);
    let mut files = vec![path.clone()];
    let mut bounced = None;
    match kind {
        ExportKind::Midi => {
            let whole = track_files::stem(path);
            if let Some(folder) = tracks {
                let parts = midi_track_files(song, folder, &whole);
                files.extend(parts.into_iter().map(|(_, path)| path));
            }
            // If a file is in the way, nothing is written.
            guard.check_all(files.iter().map(PathBuf::as_path), Kind::Midi, *replace)?;
            if let Some(folder) = tracks {
                export_midi_tracks(song, folder, &whole, extent, Replace::Yes)?;
            }
            export_midi(song, path, extent, Replace::Yes)?;
        }
        ExportKind::Wav => {
            let how = HowToBounce {
                stems: tracks.clone(),
                font,
                replace: *replace,
                ..HowToBounce::default()
            };
            let mut on_news = |news| match news {
                BounceNews::Remark(remark) => {
                    said.push(remark);
                    true
                }
                BounceNews::Progress(progress) => {
                    tell((progress.done / progress.of.max(f64::MIN_POSITIVE) * 1000.0) as u16)
                }
            };
            let Some(done) = bounce_guarded(song, path, &how, guard, &mut on_news)? else {
                return Ok(None);
            };
            files.extend(done.stems.iter().cloned());
            bounced = Some(done);
        }
    }
    Ok(Some(Exported { files, bounced, remarks: said }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Refusal;
    use crate::testing::song;
    use std::path::Path;
    use std::time::{Duration, Instant};

    fn wait(exports: &Exports) -> ExportReport {
        let start = Instant::now();
        while exports.report().running.is_some() {
            assert!(start.elapsed() < Duration::from_secs(60), "an export without an end");
            thread::sleep(Duration::from_millis(2));
        }
        exports.report()
    }

    fn order(kind: ExportKind, path: &Path) -> ExportOrder {
        ExportOrder { kind, path: path.into(), tracks: None, replace: Replace::No }
    }

    #[test]
    fn an_export_writes_its_files_and_asks_before_it_replaces_them() {
        let folder = tempfile::tempdir().unwrap();
        let (exports, song) = (Exports::default(), Arc::new(song("tide", 1)));
        let midi = order(ExportKind::Midi, &folder.path().join("tide.mid"));
        let wav = order(ExportKind::Wav, &folder.path().join("tide.wav"));
        for (count, order) in (1..).zip([midi, wav]) {
            let run = |replace| {
                exports.begin(song.clone(), ExportOrder { replace, ..order.clone() }, None);
                wait(&exports)
            };
            let report = run(Replace::No);
            let Some(Ok(exported)) = report.outcome else { panic!("{report:?}") };
            assert_eq!(
                (report.ended, &exported.files[..]),
                (4 * count - 3, &[order.path.clone()][..])
            );
            assert_eq!(exported.bounced.is_some(), order.kind == ExportKind::Wav);
            let Some(Err(WriteError::Refused(refusal))) = run(Replace::No).outcome else {
                panic!("replaced unasked")
            };
            assert!(refusal.can_be_confirmed());
            // It changes between the question and the answer.
            let changed = [&std::fs::read(&order.path).unwrap()[..], b"more"].concat();
            std::fs::write(&order.path, &changed).unwrap();
            let outcome = run(Replace::Confirmed).outcome;
            let since = WriteError::Refused(Refusal::ChangedSince(order.path.clone()));
            assert_eq!(outcome, Some(Err(since)), "asks again");
            assert_eq!(std::fs::read(&order.path).unwrap(), changed);
            assert!(matches!(run(Replace::Confirmed).outcome, Some(Ok(_))));
            assert_ne!(std::fs::read(&order.path).unwrap(), changed);
        }
    }

    #[test]
    fn a_cancelled_export_leaves_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("long.wav");
        // Hours of music: it cannot be done before it is cancelled.
        let exports = Exports::default();
        exports.begin(Arc::new(song("long", 900)), order(ExportKind::Wav, &path), None);
        // A second one is refused, and the first goes on.
        exports.begin(Arc::new(song("tide", 1)), order(ExportKind::Wav, &path), None);
        let report = exports.report();
        assert!(matches!(report.outcome, Some(Err(_))) && report.running.is_some(), "{report:?}");
        exports.cancel();
        assert_eq!(wait(&exports).outcome, None);
        drop(exports);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
