//! The choice of a song: those in a folder, recent ones, and other folders to walk to.

use super::{Effect, Next, Overlay, Screen};
use crate::action::Move;
use crate::desk::{DeskState, EntryKind, FileEntry, Folder};
use crate::form::Line;
use crate::input::{Code, Key};

/// A folder, what is typed to find something in it, and which line is chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilePick {
    /// The folder.
    pub folder: Folder,
    /// What is typed.
    pub line: Line,
    /// The index of the chosen line among [`FilePick::found`].
    pub at: usize,
}

impl FilePick {
    /// How far a page goes.
    const PAGE: usize = 8;

    fn new(folder: Folder) -> FilePick {
        FilePick { folder, line: Line::whole(""), at: 0 }
    }

    /// The lines with every word that is typed, in any case.
    pub fn found(&self) -> Vec<&FileEntry> {
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

    /// Types a key. Backspace in an empty line leads to the folder that this one is in.
    pub(super) fn type_key(&mut self, key: &Key, out: &mut Vec<Effect>) {
        match key.code {
            Code::Backspace if self.line.text().is_empty() => {
                let parent = |entry: &&FileEntry| entry.kind == EntryKind::Parent;
                let parent = self.folder.entries.iter().find(parent);
                out.extend(parent.map(|entry| Effect::Browse(Some(entry.path.clone()))));
            }
            Code::Char(c) => self.paste(c.encode_utf8(&mut [0; 4])),
            code => {
                self.line.edit(code);
                self.at = 0;
            }
        }
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
    /// Shows a folder, in the place of the one shown if there is one.
    pub fn show_folder(&mut self, folder: Folder) {
        let pick = FilePick::new(folder);
        match self.overlays.top_mut() {
            Some(Overlay::Files(open)) => *open = pick,
            _ => self.open(Overlay::Files(pick)),
        }
        self.version += 1;
    }

    /// Opens the chosen song, or shows the chosen folder.
    pub(super) fn confirm_file(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Files(pick)) = self.overlays.top() else { return };
        let Some(entry) = pick.chosen() else {
            return self.say("No name fits: change or clear what is typed.");
        };
        match entry.kind {
            EntryKind::Folder | EntryKind::Parent => out.push(Effect::Browse(Some(entry.path))),
            EntryKind::Song | EntryKind::Recent => {
                self.leave_for(Next::Open(entry.path), state, out);
            }
        }
    }
}
