//! Which rescue copy to offer: the newest of those that no later save has overtaken.
//!
//! Times of files can be wrong: a copied folder, a checkout or a clock set back changes them. So a
//! copy begins with a comment that says what the song's file held when the copy was written. While
//! the file still holds that, nothing was saved after the copy; once it holds something else, the
//! copy is the older of the two. The times of files decide only for a copy without that comment.

use super::{MOST_COPIES, copy_path};
use crate::fingerprint::Fingerprint;
use crate::store::MOST_BYTES;
use std::fmt;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// The start of the line about a copy's origin.
const MARK: &str = "// written: ";
/// The most bytes from the start of a copy in which that line is looked for.
const HEAD: u64 = 1024;
/// Written instead of a fingerprint if the file does not exist.
const NO_FILE: &str = "no file";

/// A rescue copy to offer. Its text names the file and says how old it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RescueCopy {
    /// The file.
    pub path: PathBuf,
    /// Its age when it was found; `None` if its time is in the future.
    pub age: Option<Duration>,
    /// The age of the song's own file; `None` also if there is no such file.
    pub saved: Option<Duration>,
}

impl fmt::Display for RescueCopy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let path = self.path.display();
        match (self.age, self.saved) {
            (None, _) => write!(f, "{path}"),
            (Some(age), None) => write!(f, "{path}, written {}", ago(age)),
            (Some(age), Some(saved)) => {
                let (age, saved) = (ago(age), ago(saved));
                write!(f, "{path}, written {age} (the song was last saved {saved})")
            }
        }
    }
}

/// An age in words, in the largest unit that fits.
fn ago(time: Duration) -> String {
    const MINUTE: u64 = 60;
    const HOUR: u64 = 60 * MINUTE;
    const DAY: u64 = 24 * HOUR;
    let (count, unit) = match time.as_secs() {
        0..MINUTE => return "less than a minute ago".to_string(),
        seconds @ MINUTE..HOUR => (seconds / MINUTE, "minute"),
        seconds @ HOUR..DAY => (seconds / HOUR, "hour"),
        seconds => (seconds / DAY, "day"),
    };
    format!("{count} {unit}{} ago", if count == 1 { "" } else { "s" })
}

/// The newest rescue copy of the song at `path`, or of a song without a file; not one that is older
/// than the song's file.
pub fn rescue_copy(path: Option<&Path>) -> Option<RescueCopy> {
    let song = path.and_then(|path| fs::metadata(path).ok()?.modified().ok());
    // If the song cannot be read, no copy is known to be older.
    let there = path.map_or(Ok(None), |path| Fingerprint::at(path, MOST_BYTES));
    let copies = (1..=MOST_COPIES).map(|number| copy_path(path, number));
    let found = copies.filter_map(|copy| {
        let about = fs::metadata(&copy).ok().filter(fs::Metadata::is_file)?;
        let changed = about.modified().unwrap_or(UNIX_EPOCH);
        let (written, is_newer) = match Origin::of(&copy) {
            Some(Origin { written, beside, .. }) => {
                (written, there.as_ref().is_ok_and(|there| *there == beside) || there.is_err())
            }
            None => (changed, song.is_none_or(|song| changed >= song)),
        };
        is_newer.then_some((written, copy))
    });
    let (written, path) = found.max_by_key(|&(written, _)| written)?;
    let since = |then: SystemTime| then.elapsed().ok();
    Some(RescueCopy { path, age: since(written), saved: song.and_then(since) })
}

/// Where a copy comes from, according to its own text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Origin {
    /// When it was written.
    pub written: SystemTime,
    /// What the song's file held when the interrupted session last read or wrote it; `None` if
    /// there was no file.
    pub held: Option<Fingerprint>,
    /// What the song's file held when the copy was written. This differs from `held` if another
    /// program had written it meanwhile.
    pub beside: Option<Fingerprint>,
}

impl Origin {
    /// The origin of a copy that is written now, beside the song's file at `path`.
    pub fn now(path: Option<&Path>, held: Option<Fingerprint>) -> Origin {
        // A file that cannot be read is taken for the one that the session knows.
        let beside = path.map_or(Ok(None), |path| Fingerprint::at(path, MOST_BYTES));
        Origin { written: SystemTime::now(), held, beside: beside.unwrap_or(held) }
    }

    /// The origin of the copy in a file; `None` if the copy does not say.
    pub fn of(copy: &Path) -> Option<Origin> {
        let mut head = Vec::new();
        File::open(copy).ok()?.take(HEAD).read_to_end(&mut head).ok()?;
        let head = String::from_utf8_lossy(&head);
        head.lines().find_map(|line| Origin::read(line.strip_prefix(MARK)?))
    }

    fn read(line: &str) -> Option<Origin> {
        let (written, rest) = line.split_once(", held: ")?;
        let (held, beside) = rest.split_once(", beside: ")?;
        let print = |text: &str| match text {
            NO_FILE => Some(None),
            text => text.parse().ok().map(Some),
        };
        let seconds = Duration::from_secs(written.parse().ok()?);
        let written = UNIX_EPOCH.checked_add(seconds)?;
        Some(Origin { written, held: print(held)?, beside: print(beside)? })
    }
}

impl fmt::Display for Origin {
    /// Two lines of comment, in the grammar of a song.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let print = |print: Option<Fingerprint>| {
            print.map_or_else(|| NO_FILE.to_string(), |print| print.to_string())
        };
        let seconds = self.written.duration_since(UNIX_EPOCH).map_or(0, |time| time.as_secs());
        writeln!(f, "// A rescue copy: a song with changes that were not saved.")?;
        writeln!(f, "{MARK}{seconds}, held: {}, beside: {}", print(self.held), print(self.beside))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{remove, write_copy};
    use super::*;
    use crate::testing::song;

    /// A folder with the song "a.ron".
    fn folder() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        fs::write(&path, "as saved").unwrap();
        (folder, path)
    }

    fn set_time(path: &Path, seconds: u64) {
        let changed = UNIX_EPOCH + Duration::from_secs(seconds);
        File::options().append(true).open(path).unwrap().set_modified(changed).unwrap();
    }

    fn found(path: &Path) -> Option<PathBuf> {
        rescue_copy(Some(path)).map(|copy| copy.path)
    }

    #[test]
    fn a_copy_is_offered_until_the_song_is_saved_again_whatever_the_times_of_the_files_say() {
        let (_folder, path) = folder();
        let copy = write_copy(Some(&path), &song("a", 1), None).unwrap();
        for (of_song, of_copy) in [(1_000, 2_000), (2_000, 1_000)] {
            set_time(&path, of_song);
            set_time(&copy, of_copy);
            assert_eq!(found(&path), Some(copy.clone()));
        }
        fs::write(&path, "saved later").unwrap();
        for (of_song, of_copy) in [(1_000, 2_000), (2_000, 1_000)] {
            set_time(&path, of_song);
            set_time(&copy, of_copy);
            assert_eq!(found(&path), None);
        }
        // If the song's file goes back to its earlier content, the copy is the newer one again.
        fs::write(&path, "as saved").unwrap();
        assert_eq!(found(&path), Some(copy));
    }

    #[test]
    fn a_copy_of_a_song_that_had_no_file_is_offered_until_it_has_one() {
        let (_folder, path) = folder();
        fs::remove_file(&path).unwrap();
        let copy = write_copy(Some(&path), &song("a", 1), None).unwrap();
        assert_eq!(found(&path), Some(copy.clone()));
        assert_eq!(rescue_copy(Some(&path)).unwrap().saved, None);
        fs::write(&path, "saved").unwrap();
        assert_eq!(found(&path), None);
    }

    #[test]
    fn a_copy_without_an_origin_is_judged_by_the_times_of_the_files() {
        let (folder, path) = folder();
        let copy = folder.path().join("a.rescue.ron");
        for line in ["", "// written: 5", "// written: x, held: no file, beside: no file"] {
            fs::write(&copy, format!("{line}\n(chaconne: 2)")).unwrap();
            set_time(&path, 1_000);
            set_time(&copy, 2_000);
            assert_eq!(found(&path), Some(copy.clone()), "{line}");
            set_time(&path, 3_000);
            assert_eq!(found(&path), None, "{line}");
        }
    }

    #[test]
    fn the_newest_rescue_copy_is_found_whatever_its_number() {
        let (_folder, path) = folder();
        let at = |number, seconds: u64| {
            let copy = write_copy(Some(&path), &song("a", 1), None).unwrap();
            assert_eq!(copy, copy_path(Some(&path), number));
            let written = UNIX_EPOCH + Duration::from_secs(seconds);
            let origin = Origin { written, ..Origin::now(Some(&path), None) };
            fs::write(&copy, origin.to_string()).unwrap();
            copy
        };
        let (first, second) = (at(1, 1_000), at(2, 2_000));
        assert_eq!(found(&path), Some(second));
        remove(&first).unwrap();
        let first = at(1, 3_000);
        assert_eq!(found(&path), Some(first));
    }

    #[test]
    fn an_origin_reads_back() {
        let (_folder, path) = folder();
        let held = Some(Fingerprint::EMPTY.and(b"another"));
        let copy = write_copy(Some(&path), &song("a", 1), held).unwrap();
        let origin = Origin::of(&copy).unwrap();
        let beside = Some(Fingerprint::EMPTY.and(b"as saved"));
        assert_eq!((origin.held, origin.beside), (held, beside));
        for wrong in
            ["", "18446744073709551616, held: no file, beside: no file", "1, held: no file"]
        {
            assert_eq!(Origin::read(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn the_age_of_a_copy_is_in_words() {
        let hours = |hours: u64| Some(Duration::from_secs(hours * 3600 + 100));
        let mut copy = RescueCopy { path: "a.rescue.ron".into(), age: hours(0), saved: hours(3) };
        let text = "a.rescue.ron, written 1 minute ago (the song was last saved 3 hours ago)";
        assert_eq!(copy.to_string(), text);
        (copy.age, copy.saved) = (hours(50), None);
        assert_eq!(copy.to_string(), "a.rescue.ron, written 2 days ago");
        copy.age = None;
        assert_eq!(copy.to_string(), "a.rescue.ron");
        assert_eq!(ago(Duration::from_secs(59)), "less than a minute ago");
    }
}
