//! How long a route lasts, and the tempi that make it last as long as wanted.

use crate::{Route, Walk};
use chaconne_song::{ArrangeError, Commit, Label, Letter, Song, stretch_tempi};
use chaconne_time::Ns;

impl Route {
    /// How long it lasts in a song, in nanoseconds, without what rings on after its end.
    pub fn duration(&self, song: &Song) -> Ns {
        let walk = Walk::along(song, self);
        walk.ns_at(self.span().to)
    }
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
