//! Tracks that share a channel of a port share its controllers, so a change of one track affects the
//! others: the pedal is down while any of them holds it, and one of them sends for all.

use chaconne_song::{Song, Track, TrackId};
use std::collections::BTreeSet;

/// The changed tracks, all tracks that share a port and channel with one of them, and so on, in the
/// song before the change or after it. `is_one_port` compares the ports of two tracks.
pub(super) fn reached(
    before: &Song,
    after: &Song,
    changed: BTreeSet<TrackId>,
    is_one_port: impl Fn(&Track, &Track) -> bool,
) -> BTreeSet<TrackId> {
    let meets = |one: &Track, other: &Track| {
        // A track without a channel plays on the channels of its notes, which may be any.
        let channel = one.channel.is_none() || other.channel.is_none();
        (channel || one.channel == other.channel) && is_one_port(one, other)
    };
    let both = || before.tracks.iter().chain(&after.tracks);
    let (mut reached, mut fresh) = (changed.clone(), changed);
    // Who shares a controller with one that is reached is reached, too: what one of them says about
    // it depends on what the other has said.
    while !fresh.is_empty() {
        let movers: Vec<_> = both().filter(|track| fresh.contains(&track.id)).collect();
        let meet = after.tracks.iter().filter(|track| movers.iter().any(|one| meets(one, track)));
        let more: BTreeSet<TrackId> = meet.map(|track| track.id).collect();
        fresh = more.difference(&reached).copied().collect();
        reached.extend(&fresh);
    }
    reached
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Channel, Letter, Section};
    use chaconne_time::{Metre, MetreMap, Tempo};
    use std::sync::Arc;

    #[test]
    fn a_change_reaches_the_tracks_that_share_a_channel_before_or_after_it() {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let mut before = Song::new("shared", Section::new(Letter::A, metre, Tempo::DEFAULT));
        for (id, channel) in [(1, Some(1)), (2, Some(1)), (3, Some(2)), (4, Some(3)), (5, None)] {
            let mut track = Track::pitched(TrackId(id), "track");
            track.channel = channel.and_then(Channel::from_number);
            before.tracks.push(Arc::new(track));
        }
        let mut after = before.clone();
        Arc::make_mut(&mut after.tracks[0]).channel = Channel::from_number(2);
        Arc::make_mut(&mut after.tracks[4]).port = "other".into();
        let port = |one: &Track, other: &Track| one.port == other.port;
        let reached = |changed: &[u32]| -> Vec<u32> {
            let changed = changed.iter().map(|&id| TrackId(id)).collect();
            reached(&before, &after, changed, port).into_iter().map(|id| id.0).collect()
        };
        assert_eq!(reached(&[1]), [1, 2, 3]);
        assert_eq!(reached(&[4]), [4]);
        assert_eq!(reached(&[5]), [1, 2, 3, 4, 5]);
        // 2 and 4 share nothing with each other, but both with 5.
        let all = super::reached(&before, &before, [TrackId(4)].into(), port);
        assert_eq!(all, (1..=5).map(TrackId).collect());
    }
}
