//! The song: its title, key, tracks, passes, sections and form.

use crate::{
    Form, Groove, GrooveId, KeySignature, Layer, Letter, Pass, PassId, Section, SharedPass, Track,
    TrackId, Transpose,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Hands out ids for new tracks, grooves and passes, which share one count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Ids {
    last: u32,
}

impl Ids {
    /// A count that continues after `last`.
    pub fn after(last: u32) -> Ids {
        Ids { last }
    }

    /// Marks `used` as in use: the count continues after it. Ids in the upper half of the range
    /// are ignored, because the count would soon run out.
    pub fn take(&mut self, used: u32) {
        if used <= Song::LAST_ID / 2 {
            self.last = self.last.max(used);
        }
    }

    fn next(&mut self) -> u32 {
        self.last += 1;
        self.last
    }

    /// The id of a new track.
    pub fn track(&mut self) -> TrackId {
        TrackId(self.next())
    }

    /// The id of a new groove.
    pub fn groove(&mut self) -> GrooveId {
        GrooveId(self.next())
    }

    /// The id of a new pass.
    pub fn pass(&mut self) -> PassId {
        PassId(self.next())
    }
}

/// The document. Tracks, sections and passes are shared, so that a copy of a song is cheap and
/// a change to it copies only what it touches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Song {
    /// Its title; may be empty.
    pub title: String,
    /// Its key, if one is set.
    pub key: Option<KeySignature>,
    /// How far all pitched tracks are transposed.
    pub transpose: Transpose,
    /// The tracks, in the order in which they are shown and written.
    pub tracks: Vec<Arc<Track>>,
    /// The grooves that tracks and layers can be given, in the order in which they are shown and written.
    pub grooves: Vec<Arc<Groove>>,
    /// Every pass, by its id; each is in at least one section.
    pub passes: BTreeMap<PassId, SharedPass>,
    /// The sections, in the order in which they are shown and written; never empty.
    pub sections: Vec<Arc<Section>>,
    /// The order in which sections are played; empty if none is set yet.
    pub form: Form,
}

impl Song {
    /// The version of the song text this program writes.
    pub const VERSION: u32 = 2;
    /// The most tracks a song may have.
    pub const MAX_TRACKS: usize = 4096;
    /// The most grooves a song may have.
    pub const MAX_GROOVES: usize = 256;
    /// The highest id a track, groove, pass or note may have; the lowest is 1.
    pub const LAST_ID: u32 = 4_000_000_000;

    /// A song with one section and no tracks.
    pub fn new(title: &str, section: Section) -> Song {
        Song {
            title: title.to_string(),
            key: None,
            transpose: Transpose::default(),
            tracks: Vec::new(),
            grooves: Vec::new(),
            passes: BTreeMap::new(),
            sections: vec![Arc::new(section)],
            form: Form::default(),
        }
    }

    /// The track with this id.
    pub fn track(&self, id: TrackId) -> Option<&Arc<Track>> {
        self.tracks.iter().find(|track| track.id == id)
    }

    /// The first track with this name.
    pub fn track_named(&self, name: &str) -> Option<&Arc<Track>> {
        self.tracks.iter().find(|track| track.name == name)
    }

    /// The groove with this id.
    pub fn groove(&self, id: GrooveId) -> Option<&Arc<Groove>> {
        self.grooves.iter().find(|groove| groove.id == id)
    }

    /// The first groove with this name.
    pub fn groove_named(&self, name: &str) -> Option<&Arc<Groove>> {
        self.grooves.iter().find(|groove| groove.name == name)
    }

    /// The section with this letter.
    pub fn section(&self, letter: Letter) -> Option<&Arc<Section>> {
        self.sections.iter().find(|section| section.letter == letter)
    }

    /// The pass with this id.
    pub fn pass(&self, id: PassId) -> Option<&SharedPass> {
        self.passes.get(&id)
    }

    /// The sections that contain a pass, in song order. The pass is written out in the first.
    pub fn sections_with(&self, pass: PassId) -> impl Iterator<Item = &Arc<Section>> {
        self.sections.iter().filter(move |section| section.layer(pass).is_some())
    }

    /// Whether more than one section contains a pass.
    pub fn is_shared(&self, pass: PassId) -> bool {
        self.sections_with(pass).nth(1).is_some()
    }

    /// The layers of a section with their passes, lowest first.
    pub fn layers<'a>(
        &'a self,
        section: &'a Section,
    ) -> impl DoubleEndedIterator<Item = (&'a Layer, &'a SharedPass)> {
        section.layers.iter().filter_map(|layer| Some((layer, self.passes.get(&layer.pass)?)))
    }

    /// The passes of a section, lowest layer first.
    pub fn passes_in(&self, section: &Section) -> Vec<&SharedPass> {
        section.layers.iter().filter_map(|layer| self.passes.get(&layer.pass)).collect()
    }

    /// The layers of a track in a section with their passes, lowest first.
    pub fn layers_of<'a>(
        &'a self,
        section: &'a Section,
        track: TrackId,
    ) -> impl DoubleEndedIterator<Item = (&'a Layer, &'a SharedPass)> {
        self.layers(section).filter(move |(_, pass)| pass.track == track)
    }

    /// Lays a new pass on top of a section's stack; does nothing if there is no such section.
    /// Checks nothing: use this to build a song, and [`Edit`](crate::Edit) to change one.
    pub fn lay(&mut self, letter: Letter, pass: impl Into<SharedPass>) {
        let pass = pass.into();
        let Some(section) = self.section_mut(letter) else { return };
        section.layers.push(Layer::of(pass.id));
        self.passes.insert(pass.id, pass);
    }

    /// The first letter that no section has.
    pub fn free_letter(&self) -> Option<Letter> {
        Letter::all().find(|&letter| self.section(letter).is_none())
    }

    /// Whether a track, a groove or a pass has this id.
    pub fn uses_id(&self, id: u32) -> bool {
        self.passes.contains_key(&PassId(id))
            || self.track(TrackId(id)).is_some()
            || self.groove(GrooveId(id)).is_some()
    }

    /// The ids of all tracks, grooves and passes.
    fn used_ids(&self) -> impl Iterator<Item = u32> {
        let (tracks, grooves) = (self.tracks.iter(), self.grooves.iter());
        let listed = tracks.map(|track| track.id.0).chain(grooves.map(|groove| groove.id.0));
        listed.chain(self.passes.keys().map(|id| id.0))
    }

    /// A count that starts in the widest gap between ids: after the highest id in use, unless that
    /// is so high that few are left above it.
    pub fn ids(&self) -> Ids {
        let mut used: Vec<u32> = [0, Self::LAST_ID].into_iter().chain(self.used_ids()).collect();
        used.sort_unstable();
        let widest = used.windows(2).max_by_key(|pair| pair[1] - pair[0]);
        Ids::after(widest.map_or(0, |pair| pair[0]))
    }

    /// The section with this letter, to be changed.
    pub(crate) fn section_mut(&mut self, letter: Letter) -> Option<&mut Section> {
        let found = self.sections.iter_mut().find(|section| section.letter == letter)?;
        Some(Arc::make_mut(found))
    }

    /// The pass with this id, to be changed.
    pub(crate) fn pass_mut(&mut self, id: PassId) -> Option<&mut Pass> {
        self.passes.get_mut(&id).map(Arc::make_mut)
    }

    /// The groove with this id, to be changed.
    pub(crate) fn groove_mut(&mut self, id: GrooveId) -> Option<&mut Groove> {
        self.grooves.iter_mut().find(|groove| groove.id == id).map(Arc::make_mut)
    }

    /// The track with this id, to be changed.
    pub(crate) fn track_mut(&mut self, id: TrackId) -> Option<&mut Track> {
        self.tracks.iter_mut().find(|track| track.id == id).map(Arc::make_mut)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::{Metre, MetreMap, Tempo, Tick};

    /// A bass and a kit, both in section A; the bass (pass 3) is in section C too.
    fn song() -> Song {
        let section = |letter: &str| {
            let metre = MetreMap::new(1, Metre::common()).unwrap();
            Section::new(letter.parse().unwrap(), metre, Tempo::DEFAULT)
        };
        let mut song = Song::new("Ferry", section("A"));
        song.tracks = vec![
            Arc::new(Track::pitched(TrackId(1), "Bass")),
            Arc::new(Track::drums(TrackId(2), "Kit")),
            Arc::new(Track::drums(TrackId(5), "Kit")),
        ];
        for (pass, track) in [(4, 2), (3, 1)] {
            song.lay(Letter::A, Pass::empty(PassId(pass), TrackId(track), Tick(3840)));
        }
        let mut other = section("C");
        other.layers.push(Layer::of(PassId(3)));
        song.sections.push(Arc::new(other));
        song
    }

    #[test]
    fn tracks_are_found_by_id_and_the_first_by_name() {
        let song = song();
        assert_eq!(song.track(TrackId(5)).map(|track| track.id), Some(TrackId(5)));
        assert_eq!(song.track_named("Kit").map(|track| track.id), Some(TrackId(2)));
        assert!(song.track(TrackId(3)).is_none() && song.track_named("kit").is_none());
    }

    #[test]
    fn the_passes_of_a_section_are_listed_from_the_lowest_layer() {
        let song = song();
        let [a, c] = [0, 1].map(|at| song.sections[at].clone());
        let ids =
            |section| song.passes_in(section).iter().map(|pass| pass.id.0).collect::<Vec<_>>();
        assert_eq!((ids(&a), ids(&c)), (vec![4, 3], vec![3]));
        let of = |section, track| -> Vec<u32> {
            song.layers_of(section, TrackId(track)).map(|(layer, _)| layer.pass.0).collect()
        };
        assert_eq!((of(&a, 1), of(&a, 2), of(&c, 2)), (vec![3], vec![4], vec![]));
        let with =
            |pass| song.sections_with(PassId(pass)).map(|section| section.letter.to_string());
        assert_eq!(
            (with(3).collect::<String>(), with(4).collect::<String>()),
            ("AC".into(), "A".into())
        );
        assert!(song.is_shared(PassId(3)) && !song.is_shared(PassId(4)));
    }

    #[test]
    fn a_new_section_gets_the_first_letter_that_is_free() {
        assert_eq!(song().free_letter().map(|letter| letter.to_string()), Some("B".into()));
    }

    #[test]
    fn tracks_and_passes_share_one_count_of_ids() {
        let song = song();
        assert_eq!([0, 1, 3, 5, 6].map(|id| song.uses_id(id)), [false, true, true, true, false]);
        let mut ids = song.ids();
        assert_eq!((ids.pass(), ids.track(), ids.pass()), (PassId(6), TrackId(7), PassId(8)));
    }

    #[test]
    fn a_count_continues_after_the_ids_it_meets_unless_they_are_very_high() {
        let mut ids = Ids::after(5);
        ids.take(9);
        assert_eq!(ids.pass(), PassId(10));
        ids.take(3);
        assert_eq!(ids.pass(), PassId(11));
        let half = Song::LAST_ID / 2;
        ids.take(half + 1);
        assert_eq!(ids.pass(), PassId(12));
        ids.take(half);
        assert_eq!(ids.pass(), PassId(half + 1));
    }
}
