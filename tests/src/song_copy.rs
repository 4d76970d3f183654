//! A song in a folder of its own, that commands change, and what they then list and export.

use crate::program::{run, top};
use crate::python::lines_of;
use std::path::PathBuf;

/// A song file and its folder, which is removed at the end.
#[derive(Debug)]
pub struct SongCopy {
    folder: tempfile::TempDir,
    song: PathBuf,
}

impl SongCopy {
    /// A place for a song that does not exist yet.
    ///
    /// # Panics
    /// If there is no folder for it.
    pub fn to_be() -> SongCopy {
        let folder = tempfile::tempdir().expect("a folder");
        let song = folder.path().join("a.ron");
        SongCopy { folder, song }
    }

    /// A copy of the demo song.
    ///
    /// # Panics
    /// If it cannot be copied.
    pub fn of_demo() -> SongCopy {
        let copy = SongCopy::to_be();
        std::fs::copy(top().join("assets/demo.ron"), &copy.song).expect("the demo song is there");
        copy
    }

    /// The path of the song.
    ///
    /// # Panics
    /// If it is not Unicode.
    pub fn path(&self) -> &str {
        self.song.to_str().expect("a path of this test")
    }

    /// The song as text.
    ///
    /// # Panics
    /// If there is none.
    pub fn text(&self) -> String {
        std::fs::read_to_string(&self.song).expect("a song")
    }

    /// Runs a command on the song, which must succeed and leave a song without faults, and returns what it says
    /// after the name of the file. Words in double quotes are one.
    ///
    /// # Panics
    /// If it fails.
    #[track_caller]
    pub fn does(&self, command: &str, words: &str) -> String {
        let said = run(&self.arguments(command, words)).ends(0).err;
        run(&["check", self.path()]).ends(0);
        said.trim().strip_prefix(&format!("{}: ", self.path())).unwrap_or(&said).to_string()
    }

    /// What a command prints, which must succeed and leave the song as it is.
    ///
    /// # Panics
    /// If it fails.
    #[track_caller]
    pub fn shows(&self, command: &str, words: &str) -> String {
        let before = self.text();
        let shown = run(&self.arguments(command, words)).ends(0).out;
        assert_eq!(self.text(), before);
        shown
    }

    /// The sentence with which a command refuses. The song stays as it is.
    ///
    /// # Panics
    /// If it does not refuse.
    #[track_caller]
    pub fn refuses(&self, command: &str, words: &str) -> String {
        let before = self.text();
        let said = run(&self.arguments(command, words)).refused();
        assert_eq!(self.text(), before);
        said
    }

    fn arguments(&self, command: &str, words: &str) -> Vec<String> {
        let mut all = vec![command.to_string(), self.path().to_string()];
        for (index, part) in words.split('"').enumerate() {
            match index % 2 {
                0 => all.extend(part.split_whitespace().map(String::from)),
                _ => all.push(part.to_string()),
            }
        }
        all
    }

    /// What mido reads in the export of the form: the lines that begin with one of these words, sorted.
    ///
    /// # Panics
    /// If the song cannot be exported or read.
    #[track_caller]
    pub fn exported(&self, words: &[&str]) -> Vec<String> {
        let midi = self.folder.path().join("a.mid");
        let path = midi.to_str().expect("a path of this test");
        run(&["export", self.path(), "--midi", path, "--replace"]).ends(0);
        let lines = lines_of("read_midi.py", &[path]);
        let wanted = |line: &String| words.iter().any(|word| line.starts_with(&format!("{word} ")));
        let mut lines: Vec<String> = lines.into_iter().filter(wanted).collect();
        lines.sort();
        lines
    }

    /// How long mido says that the form plays, in microseconds.
    ///
    /// # Panics
    /// If the song cannot be exported or read.
    #[track_caller]
    pub fn lasts(&self) -> i64 {
        let line = &self.exported(&["lasts"])[0];
        line.strip_prefix("lasts ").and_then(|micros| micros.parse().ok()).expect("a number")
    }
}
