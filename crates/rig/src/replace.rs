//! The one rule for replacing files, for every command and for the screen.
//!
//! In: a path, the kind of file to write there, and how far the user has agreed to a replacement.
//! Out: permission to write, or a [`Refusal`] that says what is in the way. A song's own file may
//! be written again as long as nobody else has changed it. Any other existing file is replaced only
//! if the user asks for it, and only by one of the same kind, so that a typing mistake cannot turn
//! a song into a WAV file. A file that cannot be read counts as existing.

use crate::fingerprint::Fingerprint;
use crate::store::MOST_BYTES;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How many bytes from the start of a file show its kind.
const HEAD: usize = 512;

/// The kinds of files that the program writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A song.
    Song,
    /// A Standard MIDI File.
    Midi,
    /// A WAV file.
    Wav,
}

impl Kind {
    /// Whether a file that begins like this can be of this kind; an empty file can be any.
    fn fits(self, head: &[u8]) -> bool {
        head.is_empty() || self.begins(head)
    }

    /// Whether a file of this kind begins like this.
    pub(crate) fn begins(self, head: &[u8]) -> bool {
        match self {
            // A song is text, broken or not; the other two have a zero among their first bytes.
            Kind::Song => !head.contains(&0),
            Kind::Midi => head.starts_with(b"MThd"),
            Kind::Wav => head.starts_with(b"RIFF") && head.get(8..12) == Some(b"WAVE"),
        }
    }

    /// Its name with an article.
    fn name(self) -> &'static str {
        match self {
            Kind::Song => "a song",
            Kind::Midi => "a Standard MIDI File",
            Kind::Wav => "a WAV file",
        }
    }
}

/// How far the user has agreed to replace a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Replace {
    /// Not at all.
    #[default]
    No,
    /// The user was asked about one file and agreed: only that file, as it was then.
    Confirmed,
    /// Any file; the user asked for that in advance.
    Yes,
}

/// Why a file is not written. Its text names the file and says what is wrong. If it
/// [can be confirmed](Refusal::can_be_confirmed), the front end adds how.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// Another file has that name.
    Exists(PathBuf),
    /// Other files have the names of several that would be written: the first, and how many more.
    Several(PathBuf, usize),
    /// A file that the user has agreed to replace has changed since the question.
    ChangedSince(PathBuf),
    /// The song's own file has changed since it was read or written last.
    Changed(PathBuf),
    /// Another file has that name and is of another kind.
    OtherKind(PathBuf, Kind),
    /// A file has that name and cannot be read: one sentence.
    Unreadable(String),
}

impl Refusal {
    /// Whether the file may be replaced if the user agrees.
    pub fn can_be_confirmed(&self) -> bool {
        match self {
            Refusal::Exists(_)
            | Refusal::Several(..)
            | Refusal::ChangedSince(_)
            | Refusal::Changed(_) => true,
            Refusal::OtherKind(..) | Refusal::Unreadable(_) => false,
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::Exists(path) => write!(f, "{} already exists", path.display()),
            Refusal::Several(path, more) => {
                let files = if *more == 1 { "one more file" } else { "other files" };
                let count = if *more == 1 { String::new() } else { format!("{more} ") };
                write!(f, "{} and {count}{files} already exist", path.display())
            }
            Refusal::ChangedSince(path) => {
                write!(f, "{} has changed since you were asked", path.display())
            }
            Refusal::Changed(path) => {
                write!(f, "{} was changed by another program", path.display())
            }
            Refusal::OtherKind(path, kind) => {
                let (path, kind) = (path.display(), kind.name());
                write!(f, "{path} already exists and is not {kind}, so it is not replaced")
            }
            Refusal::Unreadable(why) => write!(f, "{why}, so it is not replaced"),
        }
    }
}

impl std::error::Error for Refusal {}

/// Why a file was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WriteError {
    /// The rule for replacing files does not allow it.
    Refused(Refusal),
    /// Writing failed: one sentence.
    Failed(String),
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            WriteError::Refused(refusal) => refusal.fmt(f),
            WriteError::Failed(sentence) => f.write_str(sentence),
        }
    }
}

impl std::error::Error for WriteError {}

impl From<Refusal> for WriteError {
    fn from(refusal: Refusal) -> WriteError {
        WriteError::Refused(refusal)
    }
}

impl From<String> for WriteError {
    fn from(sentence: String) -> WriteError {
        WriteError::Failed(sentence)
    }
}

/// Applies the rule. Remembers the song's own file as it was read or written last, and the files
/// that the user was asked about.
#[derive(Debug, Default)]
pub struct Guard {
    own: Option<Seen>,
    asked: Vec<Seen>,
}

impl Guard {
    /// A guard for a song that was just read from `path`, or written there.
    pub fn of_song_at(path: &Path) -> Guard {
        // A file that cannot be read does not count as the song's own.
        Guard { own: Seen::at(path).ok().flatten(), asked: Vec::new() }
    }

    /// A guard for a song restored from a rescue copy. To the session that wrote the copy, the
    /// song's file at `path` held `held`, or did not exist. Anything written there since is not
    /// replaced without asking.
    pub(crate) fn of_copy(path: &Path, held: Option<Fingerprint>) -> Guard {
        let there = Seen::at(path).ok().flatten();
        let own =
            there.zip(held).map(|(seen, held)| Seen { content: Content::Whole(held), ..seen });
        Guard { own, asked: Vec::new() }
    }

    /// What the song's own file held when it was read or written last; `None` if there is no such
    /// file, or it is too large to be a song.
    pub fn held(&self) -> Option<Fingerprint> {
        match self.own.as_ref()?.content {
            Content::Whole(print) => Some(print),
            Content::Large(..) => None,
        }
    }

    /// Whether a file of this kind may be written to `path`.
    ///
    /// # Errors If a file is in the way. [`Replace::Confirmed`] applies to the file of the last
    /// refusal, until that file changes.
    pub fn check(&mut self, path: &Path, kind: Kind, replace: Replace) -> Result<(), Refusal> {
        self.check_all([path], kind, replace)
    }

    /// Whether files of this kind may be written to all of these paths; the user is asked about them
    /// together.
    ///
    /// # Errors
    /// As [`Guard::check`].
    pub fn check_all<'a>(
        &mut self,
        paths: impl IntoIterator<Item = &'a Path>,
        kind: Kind,
        replace: Replace,
    ) -> Result<(), Refusal> {
        let (mut found, mut names) = (Vec::new(), Vec::new());
        for path in paths {
            let Some(there) = Seen::at(path).map_err(Refusal::Unreadable)? else { continue };
            if self.own.as_ref() == Some(&there) {
                continue;
            }
            if !kind.fits(&there.head) {
                return Err(Refusal::OtherKind(path.into(), kind));
            }
            found.push(there);
            names.push(path);
        }
        let agreed = match replace {
            Replace::No => false,
            Replace::Confirmed => found.iter().all(|there| self.asked.contains(there)),
            Replace::Yes => true,
        };
        let (Some(first), false) = (names.first(), agreed) else { return Ok(()) };
        let is_own = |there: &Seen| self.own.as_ref().is_some_and(|own| own.path == there.path);
        // The path of a file that was asked about and is not what it was then.
        let changed = |(there, path): (&Seen, &&Path)| {
            let known = self.asked.iter().find(|asked| asked.path == there.path)?;
            (replace == Replace::Confirmed && known != there).then(|| path.to_path_buf())
        };
        let changed = std::iter::zip(&found, &names).find_map(changed);
        let refusal = match (&found[..], changed, first.to_path_buf()) {
            ([there], _, path) if is_own(there) => Refusal::Changed(path),
            (_, Some(path), _) => Refusal::ChangedSince(path),
            ([_], None, path) => Refusal::Exists(path),
            (several, None, path) => Refusal::Several(path, several.len() - 1),
        };
        self.asked = found;
        Err(refusal)
    }
}

/// Applies the rule once, to a file that is no song's own.
///
/// # Errors
/// As [`Guard::check`].
pub fn may_write(path: &Path, kind: Kind, replace: Replace) -> Result<(), Refusal> {
    Guard::default().check(path, kind, replace)
}

/// A file at one moment; two of them are equal if nothing has changed in between.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Seen {
    path: PathBuf,
    head: Vec<u8>,
    content: Content,
}

/// Identifies the content, to find out whether it has changed.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Content {
    /// The fingerprint of all bytes.
    Whole(Fingerprint),
    /// Length and time of the last change, for a file that is too large to read.
    Large(u64, Option<SystemTime>),
}

impl Seen {
    /// The file at `path`; `None` if there is nothing, or no regular file (writing there fails with
    /// a sentence of its own).
    fn at(path: &Path) -> Result<Option<Seen>, String> {
        match Seen::look(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(format!("{} cannot be read: {error}", path.display())),
            Ok(seen) => Ok(seen),
        }
    }

    fn look(path: &Path) -> io::Result<Option<Seen>> {
        if !fs::metadata(path)?.is_file() {
            return Ok(None);
        }
        let (path, mut file) = (fs::canonicalize(path)?, File::open(path)?);
        let about = file.metadata()?;
        let mut head = Vec::new();
        if about.len() > MOST_BYTES {
            file.take(HEAD as u64).read_to_end(&mut head)?;
            let content = Content::Large(about.len(), about.modified().ok());
            return Ok(Some(Seen { path, head, content }));
        }
        let mut print = Fingerprint::EMPTY;
        let mut piece = vec![0; 64 * 1024];
        loop {
            let count = file.read(&mut piece)?;
            if count == 0 {
                break;
            }
            print = print.and(&piece[..count]);
            let missing = HEAD.saturating_sub(head.len()).min(count);
            head.extend(&piece[..missing]);
        }
        Ok(Some(Seen { path, head, content: Content::Whole(print) }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SONG: &str = "(chaconne: 1)";

    #[test]
    fn only_the_unchanged_own_file_is_replaced_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let (own, other) = (folder.path().join("own.ron"), folder.path().join("other.ron"));
        fs::write(&own, SONG).unwrap();
        fs::write(&other, SONG).unwrap();
        let mut guard = Guard::of_song_at(&own);
        let mut check = |path: &Path, replace| guard.check(path, Kind::Song, replace);
        assert_eq!(check(&own, Replace::No), Ok(()));
        assert_eq!(check(&folder.path().join("./own.ron"), Replace::No), Ok(()));
        assert_eq!(check(&folder.path().join("new.ron"), Replace::No), Ok(()));
        // Nobody was asked about it yet, so it cannot be confirmed.
        assert_eq!(check(&other, Replace::Confirmed), Err(Refusal::Exists(other.clone())));
        assert_eq!(check(&other, Replace::Confirmed), Ok(()));
        assert_eq!(check(&other, Replace::No), Err(Refusal::Exists(other.clone())));
        assert_eq!(check(&other, Replace::Yes), Ok(()));
        // The own file changes, and again between the question and the answer.
        for text in ["edited", "edited again"] {
            fs::write(&own, text).unwrap();
            assert_eq!(check(&own, Replace::Confirmed), Err(Refusal::Changed(own.clone())));
        }
        assert_eq!(check(&own, Replace::Confirmed), Ok(()));
        assert_eq!(check(&own, Replace::No), Err(Refusal::Changed(own.clone())));
    }

    #[test]
    fn several_files_are_asked_about_together_and_each_must_stay_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let files = ["a.mid", "b.mid", "c.mid"].map(|name| folder.path().join(name));
        let (mut guard, midi) = (Guard::default(), b"MThd\0\0\0\x06".to_vec());
        let mut check =
            |replace| guard.check_all(files.iter().map(PathBuf::as_path), Kind::Midi, replace);
        assert_eq!(check(Replace::No), Ok(()));
        fs::write(&files[1], &midi).unwrap();
        assert_eq!(check(Replace::Confirmed), Err(Refusal::Exists(files[1].clone())));
        assert_eq!(check(Replace::Confirmed), Ok(()));
        // One more appears, then one of them changes; one that has gone is not in the way.
        fs::write(&files[2], &midi).unwrap();
        let both = Refusal::Several(files[1].clone(), 1);
        assert_eq!(check(Replace::Confirmed), Err(both.clone()));
        fs::write(&files[2], [&midi[..], b"x"].concat()).unwrap();
        let changed = Refusal::ChangedSince(files[2].clone());
        assert_eq!(check(Replace::Confirmed), Err(changed.clone()));
        let said = changed.to_string();
        assert!(said.ends_with("c.mid has changed since you were asked"), "{said}");
        fs::remove_file(&files[1]).unwrap();
        assert_eq!(check(Replace::Confirmed), Ok(()));
        assert_eq!(check(Replace::No), Err(Refusal::Exists(files[2].clone())));
        assert_eq!(check(Replace::Yes), Ok(()));
        assert!(both.to_string().ends_with("b.mid and one more file already exist"), "{both}");
        let three = Refusal::Several("b.mid".into(), 2);
        assert_eq!(three.to_string(), "b.mid and 2 other files already exist");
        assert!(three.can_be_confirmed());
    }

    #[test]
    fn only_a_file_of_the_same_kind_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        for (bytes, fits) in [
            (&b""[..], [true, true, true]),
            (SONG.as_bytes(), [true, false, false]),
            (b"MThd\0\0\0\x06", [false, true, false]),
            (b"RIFF\x24\0\0\0WAVEfmt ", [false, false, true]),
            (b"RIFF\x24\0\0\0AVI ", [false, false, false]),
            (b"RIFF", [true, false, false]),
        ] {
            fs::write(&path, bytes).unwrap();
            let kinds = [Kind::Song, Kind::Midi, Kind::Wav];
            let found = kinds.map(|kind| may_write(&path, kind, Replace::Yes).is_ok());
            assert_eq!(found, fits, "{bytes:?}");
        }
        let refusal = may_write(&path, Kind::Midi, Replace::Yes).unwrap_err();
        assert!(!refusal.can_be_confirmed());
        let said = refusal.to_string();
        let end = "already exists and is not a Standard MIDI File, so it is not replaced";
        assert!(said.ends_with(end), "{said}");
    }

    #[test]
    fn a_file_that_is_too_large_to_read_is_not_absent() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("large.ron");
        fs::write(&path, SONG).unwrap();
        // The rest is a hole, which takes no space on the disk.
        let file = File::options().write(true).open(&path).unwrap();
        file.set_len(MOST_BYTES + 1).unwrap();
        let mut guard = Guard::default();
        let refused = guard.check(&path, Kind::Midi, Replace::Yes);
        assert_eq!(refused, Err(Refusal::OtherKind(path.clone(), Kind::Midi)));
        file.set_len(MOST_BYTES + 2).unwrap();
        // The hole reaches into the head, so the file is not text either.
        let refused = guard.check(&path, Kind::Song, Replace::Yes);
        assert_eq!(refused, Err(Refusal::OtherKind(path.clone(), Kind::Song)));
        fs::write(&path, SONG.repeat(HEAD)).unwrap();
        file.set_len(MOST_BYTES + 1).unwrap();
        let exists = Err(Refusal::Exists(path.clone()));
        assert_eq!(guard.check(&path, Kind::Song, Replace::No), exists);
        file.set_len(MOST_BYTES + 2).unwrap();
        let changed = Err(Refusal::ChangedSince(path.clone()));
        assert_eq!(guard.check(&path, Kind::Song, Replace::Confirmed), changed);
        assert_eq!(guard.check(&path, Kind::Song, Replace::Confirmed), Ok(()));
    }

    #[cfg(unix)]
    #[test]
    fn a_file_that_cannot_be_read_is_not_absent() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("circle.ron");
        symlink("circle.ron", &path).unwrap();
        let refusal = may_write(&path, Kind::Song, Replace::Yes).unwrap_err();
        let said = refusal.to_string();
        assert!(said.contains("circle.ron cannot be read: "), "{said}");
        assert!(said.ends_with(", so it is not replaced"), "{said}");
        // A link to a file that does not exist yet is fine.
        let later = folder.path().join("later.ron");
        symlink("nothing.ron", &later).unwrap();
        assert_eq!(may_write(&later, Kind::Song, Replace::No), Ok(()));
    }
}
