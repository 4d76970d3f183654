//! The choice of a song: those in a folder, recent ones, and other folders to walk to. The desk reads
//! a folder in its own time; until it answers, the box says so, and what is typed is kept.

use super::{Effect, Next, Overlay, Screen};
use crate::action::Move;
use crate::desk::{DeskState, EntryKind, FileEntry, Folder};
use crate::form::Line;
use crate::input::{Code, Key};

/// A folder, what is typed to find something in it, and which line is chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilePick {
    /// The folder that was read last; empty before the first answer.
    folder: Folder,
    /// The folder that is being read.
    reading: Option<Reading>,
    /// What is typed.
    pub line: Line,
    /// The index of the chosen line among [`FilePick::found`].
    pub at: usize,
}

/// A request for a folder that has no answer yet.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Reading {
    number: u64,
    /// The folder; `None` for that of the song.
    path: Option<String>,
}

impl FilePick {
    /// How far a page goes.
    const PAGE: usize = 8;

    /// The path of the folder, as far as it is known.
    pub fn path(&self) -> &str {
        match &self.reading {
            Some(reading) => reading.path.as_deref().unwrap_or_default(),
            None => &self.folder.path,
        }
    }

    /// Whether the folder is still being read.
    pub fn is_reading(&self) -> bool {
        self.reading.is_some()
    }

    /// Whether there is nothing in the folder.
    pub fn is_empty(&self) -> bool {
        self.folder.entries.is_empty()
    }

    /// The lines with every word that is typed, in any case; none while the folder is being read.
    pub fn found(&self) -> Vec<&FileEntry> {
        if self.is_reading() {
            return Vec::new();
        }
        let typed = self.line.text().to_lowercase();
        let fits = |entry: &&FileEntry| {
            let name = entry.name.to_lowercase();
            typed.split_whitespace().all(|word| name.contains(word))
        };
        self.folder.entries.iter().filter(fits).collect()
    }

    fn chosen(&self) -> Option<FileEntry> {
        self.found().get(self.at).map(|&entry| entry.clone())
    }

    /// Types a key. Backspace in an empty line leads to the folder that this one is in: returns its
    /// path.
    pub(super) fn type_key(&mut self, key: &Key) -> Option<String> {
        match key.code {
            Code::Backspace if self.line.text().is_empty() => {
                let found = self.found();
                let parent = found.iter().find(|entry| entry.kind == EntryKind::Parent);
                return parent.map(|entry| entry.path.clone());
            }
            Code::Char(c) => self.paste(c.encode_utf8(&mut [0; 4])),
            code => {
                self.line.edit(code);
                self.at = 0;
            }
        }
        None
    }

    pub(super) fn paste(&mut self, text: &str) {
        self.line.insert(text);
        self.at = 0;
    }

    pub(super) fn clear(&mut self) {
        self.line.clear();
        self.at = 0;
    }

    pub(super) fn go(&mut self, to: Move) {
        let last = self.found().len().saturating_sub(1);
        self.at = to.along(self.at, Self::PAGE, last);
    }
}

impl Screen {
    /// Opens the choice of a song, in the song's folder.
    pub(super) fn ask_for_song(&mut self, out: &mut Vec<Effect>) {
        let (folder, line) = (Folder::default(), Line::whole(""));
        self.open(Overlay::Files(FilePick { folder, reading: None, line, at: 0 }));
        self.browse(None, out);
    }

    /// Asks for another folder for the choice of a song, with nothing typed yet.
    pub(super) fn browse(&mut self, path: Option<String>, out: &mut Vec<Effect>) {
        let Some(pick) = self.overlays.files_mut() else { return };
        self.browsed += 1;
        let number = self.browsed;
        pick.reading = Some(Reading { number, path: path.clone() });
        pick.clear();
        out.push(Effect::Browse { number, path });
    }

    /// Shows the folder that was asked for once it is read. An answer that nobody waits for any more
    /// is left alone.
    pub(super) fn follow_folder(&mut self, state: &DeskState) {
        let Some(answer) = &state.folder else { return };
        let Some(pick) = self.overlays.files_mut() else { return };
        if pick.reading.as_ref().is_none_or(|reading| reading.number != answer.number) {
            return;
        }
        pick.reading = None;
        self.version += 1;
        match &answer.folder {
            Ok(folder) => pick.folder = folder.clone(),
            Err(error) => {
                // Back to the folder before, if there was one.
                if pick.folder.path.is_empty() {
                    self.overlays.close_files();
                }
                self.complain(error);
            }
        }
    }

    /// Opens the chosen song, or shows the chosen folder.
    pub(super) fn confirm_file(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Files(pick)) = self.overlays.top() else { return };
        if pick.is_reading() {
            return self.say("The folder is still being read.");
        }
        let Some(entry) = pick.chosen() else {
            return self.say("No name matches: change or clear what you typed.");
        };
        match entry.kind {
            EntryKind::Folder | EntryKind::Parent => self.browse(Some(entry.path), out),
            EntryKind::Song | EntryKind::Recent => {
                self.leave_for(Next::Open(entry.path), state, out);
            }
        }
    }
}
