//! How long a route and each section of the form last, and the tempi that make a route last as long as wanted.

use crate::{Route, Walk};
use chaconne_song::{ArrangeError, Commit, Label, Letter, Song, stretch_tempi};
use chaconne_time::{Ns, Tempo, Tick, Timeline};

impl Route {
    /// How long it lasts in a song, in nanoseconds, without what rings on after its end.
    pub fn duration(&self, song: &Song) -> Ns {
        let walk = Walk::along(song, self);
        walk.ns_at(self.span().to)
    }
}

/// A section of the form, once through, as the form plays it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The section.
    pub section: Letter,
    /// Its first bar along the form, counted from 1.
    pub bar: u64,
    /// How many bars it has.
    pub bars: u32,
    /// When it begins, in nanoseconds from the start of the form.
    pub from: Ns,
    /// When it ends.
    pub to: Ns,
}

/// The sections of the form in the order in which it plays them; without a form, the first section once. `None`
/// if the form is too long to play. Fermatas do not count: how long they last is up to the player.
pub fn form_in_time(song: &Song) -> Option<Vec<Stretch>> {
    let letters = Route::letters(song);
    let route = Route::of(song, &letters)?;
    let walk = Walk::along(song, &route);
    let mut tempi = walk.tempi(Tick::ZERO).peekable();
    let first = walk.tempo_at(Tick::ZERO).unwrap_or(Tempo::DEFAULT);
    let mut line = Timeline::new(Tick::ZERO, 0, first);
    let (mut at, mut bar, mut from) = (Tick::ZERO, 1, 0);
    let mut stretches = Vec::new();
    for section in letters.iter().filter_map(|&letter| song.section(letter)) {
        at += section.length();
        while let Some((tick, tempo)) = tempi.next_if(|&(tick, _)| tick <= at) {
            line.push(tick, tempo);
            line.prune(tick);
        }
        let (bars, to) = (section.metre.bars(), line.ns_at(at));
        stretches.push(Stretch { section: section.letter, bar, bars, from, to });
        (bar, from) = (bar + u64::from(bars), to);
    }
    Some(stretches)
}

/// Changes the tempi of sections in one proportion, so that a route that plays only these sections lasts
/// `wanted` nanoseconds. Each tempo is rounded to the nearest microsecond per quarter note, so the route is
/// right to half a microsecond for every quarter note of it.
///
/// # Errors
/// If a tempo would be out of range, or nothing would change: the reason.
pub fn fit_tempo(
    song: &Song,
    route: &Route,
    letters: &[Letter],
    wanted: Ns,
) -> Result<Commit, ArrangeError> {
    let now = u64::try_from(route.duration(song)).unwrap_or(0);
    let wanted = u64::try_from(wanted).unwrap_or(0);
    Ok(stretch_tempi(song, letters, (wanted, now))?.called(Label::FitTempo))
}
