//! The route: which sections are taken, from when to when.

use chaconne_song::{Letter, Song};
use chaconne_time::{Span, Tick};

/// One stay in a section: from its entry until it is left. Passes count their phase from the
/// entry; the section's bars go round inside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// The section.
    pub section: Letter,
    /// The transport tick at which it was entered.
    pub at: Tick,
    /// The transport tick at which it is left; [`Tick::MAX`] while that is open.
    pub until: Tick,
    /// Whether what still sounds is released when it is left (a live jump) rather than ringing
    /// out (a change by the form).
    pub cut: bool,
}

/// The order of sections actually taken, one entry after another without a gap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Route {
    /// The entries, in order of time; never empty.
    pub entries: Vec<Entry>,
}

impl Route {
    /// One section from tick 0, going round until somebody says otherwise.
    pub fn open(section: Letter) -> Route {
        Route { entries: vec![Entry { section, at: Tick::ZERO, until: Tick::MAX, cut: false }] }
    }

    /// One section, so many times round.
    pub fn rounds(song: &Song, section: Letter, rounds: u32) -> Option<Route> {
        Route::of(song, &vec![section; rounds as usize])
    }

    /// The song's form, unrolled; where it has none, its first section once.
    pub fn form(song: &Song) -> Option<Route> {
        if song.form.is_empty() {
            return Route::of(song, &[song.sections.first()?.letter]);
        }
        Route::of(song, &song.form)
    }

    /// Sections one after another; the same section several times running is one stay.
    /// `None` where the list is empty or names a section the song does not have.
    pub fn of(song: &Song, letters: &[Letter]) -> Option<Route> {
        let mut entries: Vec<Entry> = Vec::new();
        let mut at = Tick::ZERO;
        for &letter in letters {
            let until = at + song.section(letter)?.length();
            match entries.last_mut().filter(|entry| entry.section == letter) {
                Some(entry) => entry.until = until,
                None => entries.push(Entry { section: letter, at, until, cut: false }),
            }
            at = until;
        }
        (!entries.is_empty()).then_some(Route { entries })
    }

    /// From the first entry to the end of the last.
    pub fn span(&self) -> Span {
        let until = self.entries.last().map_or(Tick::ZERO, |entry| entry.until);
        Span::new(self.entries.first().map_or(Tick::ZERO, |entry| entry.at), until)
    }
}

/// The place of the entry in force at a tick; before the first, that of the first.
pub(crate) fn index_at(entries: &[Entry], at: Tick) -> usize {
    entries.partition_point(|entry| entry.at <= at).max(1) - 1
}

/// Which truth to perform.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum View {
    /// As it was played, or placed by hand: feel is left out.
    Played,
    /// As it is heard: feel applied.
    #[default]
    Corrected,
    /// Straight on the grid, for print: full strength, no swing.
    Straight,
}
