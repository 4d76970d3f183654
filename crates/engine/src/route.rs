//! The route: which sections are played, and from when to when.

use chaconne_song::{Letter, Pass, PassId, Section, Song, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// One stay in a section, from its entry until it is left. Inside it the section's bars go round, and
/// passes repeat after their own length, counted from the entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// The section.
    pub section: Letter,
    /// The transport tick at which it was entered.
    pub at: Tick,
    /// The transport tick at which it is left; [`Tick::MAX`] if it has no end yet.
    pub until: Tick,
    /// Whether held notes are released when it is left (a live jump) or ring out (a change by the
    /// form).
    pub cut: bool,
}

impl Entry {
    /// A stay without an end.
    pub fn open(section: Letter, at: Tick) -> Entry {
        Entry { section, at, until: Tick::MAX, cut: false }
    }
}

/// The sections actually played, in order: one entry after another without a gap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Route {
    /// The entries, in order of time; never empty.
    pub entries: Vec<Entry>,
}

impl Route {
    /// One section from tick 0, repeated without end.
    pub fn open(section: Letter) -> Route {
        Route { entries: vec![Entry::open(section, Tick::ZERO)] }
    }

    /// One section, `rounds` times. `None` if there is no such section, or no round.
    pub fn rounds(song: &Song, section: Letter, rounds: u32) -> Option<Route> {
        Route::of(song, &vec![section; rounds as usize])
    }

    /// One section as often as it takes to hear its longest pass to the end. `None` if there is no such
    /// section.
    pub fn whole(song: &Song, section: Letter) -> Option<Route> {
        Route::rounds(song, section, Route::rounds_to_hear(song, section))
    }

    /// How many rounds of a section it takes to hear its longest pass to the end; at least 1. Muted
    /// passes and tracks do not count.
    pub fn rounds_to_hear(song: &Song, section: Letter) -> u32 {
        let Some(section) = song.section(section) else { return 1 };
        let longest = sounding(song, section).map(|pass| pass.length).max().unwrap_or_default();
        let rounds = longest.0.div_euclid(section.length().0.max(1));
        let part = longest.0.rem_euclid(section.length().0.max(1)) > 0;
        u32::try_from(rounds + i64::from(part)).unwrap_or(u32::MAX).max(1)
    }

    /// The passes of which this route never plays the end, because no stay in their section is long
    /// enough; in the order of the sections and their layers.
    pub fn cut_short(&self, song: &Song) -> Vec<CutShort> {
        let mut cut = Vec::new();
        for section in &song.sections {
            let stays = self.entries.iter().filter(|entry| entry.section == section.letter);
            let Some(longest) = stays.map(|stay| stay.until - stay.at).max() else { continue };
            let passes = sounding(song, section).filter(|pass| pass.length > longest);
            cut.extend(passes.map(|pass| CutShort {
                section: section.letter,
                pass: pass.id,
                track: pass.track,
                played: longest,
                length: pass.length,
            }));
        }
        cut
    }

    /// The song's form, unrolled; if it has none, its first section once. `None` if the form is longer
    /// than [`Form::LONGEST`](chaconne_song::Form::LONGEST) or names a section that the song does not have.
    pub fn form(song: &Song) -> Option<Route> {
        Route::of(song, &Route::letters(song))
    }

    /// The sections of the song's form, unrolled; if it has none, its first section. Empty if the form
    /// is longer than [`Form::LONGEST`](chaconne_song::Form::LONGEST).
    pub fn letters(song: &Song) -> Vec<Letter> {
        if song.form.is_empty() {
            return song.sections.iter().take(1).map(|section| section.letter).collect();
        }
        song.form.unrolled()
    }

    /// Sections one after another. A section that follows itself continues the same entry, so that a
    /// pass longer than the section plays through. `None` if the list is empty or names a section
    /// that the song does not have.
    pub fn of(song: &Song, letters: &[Letter]) -> Option<Route> {
        Route::from(song, letters, Tick::ZERO)
    }

    /// The same, from a tick on.
    pub(crate) fn from(song: &Song, letters: &[Letter], mut at: Tick) -> Option<Route> {
        let mut entries: Vec<Entry> = Vec::new();
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

    /// The span from the first entry to the end of the last.
    pub fn span(&self) -> Span {
        let until = self.entries.last().map_or(Tick::ZERO, |entry| entry.until);
        Span::new(self.entries.first().map_or(Tick::ZERO, |entry| entry.at), until)
    }
}

/// A pass that a route leaves before its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CutShort {
    /// The section it is in.
    pub section: Letter,
    /// The pass.
    pub pass: PassId,
    /// Its track.
    pub track: TrackId,
    /// How much of it the longest stay plays.
    pub played: Tick,
    /// How long it is.
    pub length: Tick,
}

/// The passes of a section that are not muted, nor their tracks.
fn sounding<'a>(song: &'a Song, section: &'a Section) -> impl Iterator<Item = &'a Arc<Pass>> {
    let sounds = |pass: &&Arc<Pass>| song.track(pass.track).is_some_and(|track| !track.mute);
    let layers = song.layers(section).filter(|(layer, _)| !layer.mute);
    layers.map(|(_, pass)| pass).filter(sounds)
}

/// The index of the entry in force at a tick; before the first entry, 0.
pub(crate) fn index_at(entries: &[Entry], at: Tick) -> usize {
    entries.partition_point(|entry| entry.at <= at).max(1) - 1
}

/// Which version of the song to perform.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum View {
    /// As it was played, or placed by hand: without feel.
    Played,
    /// As it is heard: with feel.
    #[default]
    Corrected,
    /// Straight on the grid, for print: full pull, no swing.
    Straight,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::Build;
    use proptest::prelude::*;

    /// The letters of a form's route, one for each round.
    fn letters(form: &str) -> String {
        let song = Build::new(1).section("B").section("C").section("D").form(form).song();
        let route = Route::form(&song).unwrap();
        let rounds = |entry: &Entry| (entry.until - entry.at).0 / 3840;
        let stay = |entry: &Entry| entry.section.to_string().repeat(rounds(entry) as usize);
        route.entries.iter().map(stay).collect()
    }

    #[test]
    fn groups_are_repeated_with_the_ending_of_each_time() {
        for (form, played) in [
            ("A A B A", "AABA"),
            ("A (B C) x2 A", "ABCBCA"),
            ("(B C [1 D] [2 A])", "BCDBCA"),
            ("(A [1 2 3 B] [4 C])", "ABABABAC"),
            ("(A [2 B]) x3", "AABA"),
            ("((A B) x2 C) x2", "ABABCABABC"),
            ("A (B [1 (C D) x2])", "ABCDCD"),
        ] {
            assert_eq!(letters(form), played, "{form}");
        }
    }

    #[test]
    fn a_section_is_played_as_often_as_its_longest_sounding_pass_needs() {
        let build = Build::new(3).pass(0, 3840, &[]).pass(1, 3 * 3840 - 960, &[]);
        let mut song = build.pass(2, 7 * 3840, &[]).section("B").form("A B A A").song();
        let rounds =
            |song: &Song, letter: &str| Route::rounds_to_hear(song, letter.parse().unwrap());
        assert_eq!((rounds(&song, "A"), rounds(&song, "B"), rounds(&song, "Q")), (7, 1, 1));
        let whole = Route::whole(&song, Letter::A).unwrap();
        assert_eq!((whole.span().to, whole.cut_short(&song)), (Tick(7 * 3840), Vec::new()));
        // The form stays twice in a row at most: both longer passes are left before their ends.
        let form = Route::form(&song).unwrap();
        let cut: Vec<(u32, i64, i64)> = form
            .cut_short(&song)
            .iter()
            .map(|cut| (cut.track.0, cut.played.0, cut.length.0))
            .collect();
        assert_eq!(cut, [(2, 7680, 10_560), (3, 7680, 26_880)]);
        // What is muted is not missed.
        Arc::make_mut(&mut song.tracks[2]).mute = true;
        assert_eq!(rounds(&song, "A"), 3);
        Arc::make_mut(&mut song.sections[0]).layers[1].mute = true;
        assert_eq!((rounds(&song, "A"), form.cut_short(&song)), (1, Vec::new()));
    }

    #[test]
    fn a_section_that_follows_itself_is_one_stay() {
        let song = Build::new(1).section("B").form("A (A B) x2 B x2 A").song();
        let route = Route::form(&song).unwrap();
        let stays: Vec<(String, i64)> = route
            .entries
            .iter()
            .map(|entry| (entry.section.to_string(), (entry.until - entry.at).0 / 3840))
            .collect();
        let stays: Vec<(&str, i64)> = stays.iter().map(|(s, rounds)| (&s[..], *rounds)).collect();
        assert_eq!(stays, [("A", 2), ("B", 1), ("A", 1), ("B", 3), ("A", 1)]);
    }

    /// A form as text, and the letters that it plays, expanded while the text is built.
    fn played(depth: u32) -> BoxedStrategy<(String, String)> {
        let section = (0..4usize, 1..4usize).prop_map(|(letter, times)| {
            let letter = &"ABCD"[letter..=letter];
            (format!("{letter} x{times}"), letter.repeat(times))
        });
        if depth == 0 {
            return section.boxed();
        }
        let parts = prop::collection::vec(played(depth - 1), 1..3).prop_map(|parts| {
            let (text, played): (Vec<String>, Vec<String>) = parts.into_iter().unzip();
            (text.join(" "), played.concat())
        });
        let endings = prop::collection::vec(prop::option::of(played(depth - 1)), 1..4);
        let group = (parts, endings).prop_map(|((text, body), endings)| {
            let (mut typed, mut heard) = (format!("({text}"), String::new());
            for (time, ending) in (1..).zip(&endings) {
                heard += &body;
                if let Some((text, played)) = ending {
                    typed += &format!(" [{time} {text}]");
                    heard += played;
                }
            }
            (format!("{typed}) x{}", endings.len()), heard)
        });
        prop_oneof![section, group].boxed()
    }

    proptest! {
        #[test]
        fn a_form_plays_what_expanding_it_by_hand_gives((form, played) in played(3)) {
            prop_assert_eq!(letters(&form), played);
        }
    }
}
