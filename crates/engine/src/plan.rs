//! The plan of a section: which passes sound, on which port and channel, and what covers them.

use crate::bake::{Baked, Setting, bake};
use crate::key_change::{KeySpan, KeyTurn};
use crate::{PortIx, Slot, View, is_heard};
use chaconne_song::{
    Channel, Feel, Groove, Layer, Letter, Pass, PassId, Section, Song, Track, TrackId,
};
use chaconne_time::{MetreMap, Span, TempoMap, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// When a pass that was recorded in this run sounds. Older passes have none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Since {
    /// Cycles that start before this tick do not sound.
    pub from: Tick,
    /// Where its cycles count from, if not from the entry into the section.
    pub origin: Option<Tick>,
    /// Cycles that start at this tick or later do not sound.
    pub until: Tick,
    /// Its covers silence other passes from this tick on.
    pub covers_from: Tick,
    /// The tick of the entry into the section in which it was recorded; `origin` applies only there.
    pub entry: Tick,
}

impl Since {
    /// A pass that sounds as if it were older, in a section entered at this tick, until it is silenced.
    pub fn always(entry: Tick) -> Since {
        let (from, covers_from, until) = (Tick::MIN, Tick::MIN, Tick::MAX);
        Since { from, origin: None, until, covers_from, entry }
    }
}

/// What is soloed, and what is and was recorded in this run: all that a plan needs besides the song.
#[derive(Debug, Clone, Default)]
pub(crate) struct Mix {
    pub solo_tracks: BTreeSet<TrackId>,
    pub solo_passes: BTreeSet<PassId>,
    pub since: BTreeMap<PassId, Since>,
    /// The track that is being recorded. Its settings are in force in every section, as they will be
    /// where it gets a pass.
    pub recorded: Option<TrackId>,
    /// Covers of rounds that have no pass yet.
    pub shades: Vec<Shade>,
    /// The ticks at which keys change in this run, in order.
    pub key_turns: Vec<KeyTurn>,
}

impl Mix {
    /// Whether a new pass on a track would be heard: no pass of the track is soloed in the section.
    fn hears_new(&self, song: &Song, track: TrackId, section: &Section) -> bool {
        let mine = |id: PassId| song.pass(id).is_some_and(|pass| pass.track == track);
        !self.solo_passes.iter().any(|&id| section.layer(id).is_some() && mine(id))
    }

    /// The track being recorded, and its channel, if its new pass would be heard in a section.
    fn recorded_in(&self, song: &Song, section: &Section) -> Option<(TrackId, Channel)> {
        let track = song.track(self.recorded?)?;
        let heard = is_heard(track.id, track.mute, &self.solo_tracks)
            && self.hears_new(song, track.id, section);
        track.channel.filter(|_| heard).map(|channel| (track.id, channel))
    }

    fn hears(&self, song: &Song, track: &Track, layer: &Layer, section: &Section) -> bool {
        // A soloed pass silences only those of its own track.
        let mine = |id: PassId| song.pass(id).is_some_and(|pass| pass.track == track.id);
        let soloed = |id: &&PassId| section.layer(**id).is_some() && mine(**id);
        is_heard(track.id, track.mute, &self.solo_tracks)
            && is_heard(layer.pass, layer.mute, self.solo_passes.iter().filter(soloed))
    }
}

/// Spans of an upper pass in which lower ones are silent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Cover {
    pub spans: Vec<Span>,
    pub length: Tick,
    pub since: Option<Since>,
}

/// A cover that silences every pass of a track in a section: that of a round which has no pass yet.
#[derive(Debug, Clone)]
pub(crate) struct Shade {
    pub section: Letter,
    pub track: TrackId,
    pub cover: Cover,
}

/// A pass of the plan.
#[derive(Debug, Clone)]
pub(crate) struct Item {
    pub slot: Slot,
    pub port: PortIx,
    /// The channel all its notes go to; `None` keeps each note's own.
    pub channel: Option<Channel>,
    pub baked: Arc<Baked>,
    pub since: Option<Since>,
    pub covers: Arc<Vec<Cover>>,
    /// Where it sounds in this key.
    pub key: KeySpan,
}

impl Item {
    pub fn channel_of(&self, channel: Channel) -> Channel {
        self.channel.unwrap_or(channel)
    }
}

/// A track of the plan.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    pub track: Arc<Track>,
    pub slot: Slot,
    pub port: PortIx,
    /// The channels that its settings go to.
    pub channels: BTreeSet<Channel>,
}

/// Everything that can sound in a section, lowest layer first.
#[derive(Debug, Clone, Default)]
pub(crate) struct Plan {
    pub items: Vec<Item>,
    pub parts: Vec<Part>,
}

/// A baked pass and what it was baked from.
#[derive(Debug, Clone)]
struct Kept {
    pass: Arc<Pass>,
    feel: Feel,
    groove: Option<Arc<Groove>>,
    transpose: i32,
    era: u64,
    baked: Arc<Baked>,
}

/// How a pass is to be baked.
#[derive(Debug, Clone, Copy)]
struct How<'s> {
    feel: Feel,
    groove: Option<&'s Arc<Groove>>,
    transpose: i32,
    era: u64,
    /// Whether it is for a key that is about to come, beside the one for the present key.
    next: bool,
}

/// The metre and tempo of a section, to notice when they change. The era is a new number then.
#[derive(Debug, Clone)]
struct Base {
    metre: MetreMap,
    tempo: TempoMap,
    era: u64,
}

/// Makes plans, and keeps baked passes until something that went into them changes.
#[derive(Debug, Clone)]
pub(crate) struct Planner {
    view: View,
    ports: Vec<String>,
    slots: BTreeMap<TrackId, Slot>,
    /// By section and pass: a shared pass is baked once for each section, with the bars of each.
    /// The third says whether it is for a key that is about to come.
    kept: BTreeMap<(Letter, PassId, bool), Kept>,
    bases: BTreeMap<Letter, Base>,
    /// The last era that was given out.
    eras: u64,
}

impl Planner {
    /// A planner for the ports with these names. Tracks that name none of them play on the first.
    pub fn new(view: View, ports: Vec<String>) -> Planner {
        let (slots, kept, bases) = Default::default();
        Planner { view, ports, slots, kept, bases, eras: 0 }
    }

    /// The ports' names.
    pub fn ports(&self) -> &[String] {
        &self.ports
    }

    /// The port of a track.
    pub fn port_of(&self, track: &Track) -> PortIx {
        PortIx(self.ports.iter().position(|port| *port == track.port).unwrap_or(0) as u8)
    }

    /// The slot of a track. A track keeps its slot.
    pub fn slot_of(&mut self, track: TrackId) -> Slot {
        let next = self.slots.len().min(usize::from(Slot::MOST)) as u16;
        *self.slots.entry(track).or_insert(Slot(next))
    }

    /// The slots that were given out, and their tracks.
    pub fn tracks_by_slot(&self) -> BTreeMap<Slot, TrackId> {
        self.slots.iter().map(|(track, slot)| (*slot, *track)).collect()
    }

    /// Drops everything baked, because another song was opened.
    pub fn forget(&mut self) {
        self.kept.clear();
        self.bases.clear();
    }

    /// The plan of a section.
    pub fn plan(&mut self, song: &Song, section: &Section, mix: &Mix) -> Plan {
        let era = self.era(section);
        let tracks: BTreeMap<TrackId, &Arc<Track>> =
            song.tracks.iter().map(|track| (track.id, track)).collect();
        let mut items = Vec::new();
        let mut channels: BTreeMap<TrackId, BTreeSet<Channel>> = BTreeMap::new();
        let mut above: BTreeMap<TrackId, Arc<Vec<Cover>>> = BTreeMap::new();
        for shade in mix.shades.iter().filter(|shade| shade.section == section.letter) {
            if mix.hears_new(song, shade.track, section) {
                let covers = above.entry(shade.track).or_default();
                Arc::make_mut(covers).push(shade.cover.clone());
            }
        }
        // From the top down, so that each pass gets the covers of those above it.
        for (layer, pass) in song.layers(section).rev() {
            let Some(&track) = tracks.get(&pass.track) else { continue };
            if !mix.hears(song, track, layer, section) {
                continue;
            }
            let since = mix.since.get(&pass.id).copied();
            let covers = above.entry(track.id).or_default();
            if !pass.is_empty() {
                let feel = pass.feel.unwrap_or(track.feel);
                let transpose = transpose(song, section, track);
                let groove = groove_of(song, &feel);
                let how = How { groove, feel, transpose, era, next: false };
                let used = channels.entry(track.id).or_default();
                used.extend(pass.notes().iter().map(|note| track.channel_for(note.channel)));
                used.extend(pass.lanes().iter().map(|lane| track.channel_for(lane.channel)));
                let turns = if track.pitched { &mix.key_turns[..] } else { &[] };
                let item = Item {
                    slot: self.slot_of(track.id),
                    port: self.port_of(track),
                    channel: track.channel,
                    baked: self.baked(pass, section, how),
                    since,
                    covers: Arc::clone(covers),
                    key: KeySpan::before(turns, section.letter),
                };
                let next = turns.iter().find(|turn| !turn.done && turn.by(section.letter) != 0);
                items.extend(next.map(|turn| {
                    let transpose = transpose + turn.by(section.letter);
                    let baked = self.baked(pass, section, How { transpose, next: true, ..how });
                    Item { baked, key: KeySpan::from(turn), ..item.clone() }
                }));
                items.push(item);
            }
            if !pass.covers.is_empty() {
                let cover = Cover { spans: pass.covers.clone(), length: pass.length, since };
                Arc::make_mut(covers).push(cover);
            }
        }
        if let Some((track, channel)) = mix.recorded_in(song, section) {
            channels.entry(track).or_default().insert(channel);
        }
        items.reverse();
        Plan { items, parts: self.parts(song, &channels) }
    }

    /// The tracks that sound in a section, in song order.
    fn parts(&mut self, song: &Song, channels: &BTreeMap<TrackId, BTreeSet<Channel>>) -> Vec<Part> {
        let sounding = song.tracks.iter().filter_map(|track| {
            let channels = channels.get(&track.id)?;
            Some((Arc::clone(track), channels.clone()))
        });
        let sounding: Vec<_> = sounding.collect();
        sounding
            .into_iter()
            .map(|(track, channels)| Part {
                slot: self.slot_of(track.id),
                port: self.port_of(&track),
                track,
                channels,
            })
            .collect()
    }

    fn era(&mut self, section: &Section) -> u64 {
        if let Some(base) = self.bases.get(&section.letter)
            && base.metre == section.metre
            && base.tempo == section.tempo
        {
            return base.era;
        }
        self.eras += 1;
        let (metre, tempo, era) = (section.metre.clone(), section.tempo.clone(), self.eras);
        self.bases.insert(section.letter, Base { metre, tempo, era });
        era
    }

    fn baked(
        &mut self,
        pass: &Arc<Pass>,
        section: &Section,
        How { feel, groove, transpose, era, next }: How<'_>,
    ) -> Arc<Baked> {
        if let Some(kept) = self.kept.get(&(section.letter, pass.id, next))
            && Arc::ptr_eq(&kept.pass, pass)
            && kept.feel == feel
            && kept.groove.as_ref() == groove
            && kept.era == era
            && kept.transpose == transpose
        {
            return Arc::clone(&kept.baked);
        }
        let mut baked = bake(
            pass,
            Setting { feel, groove: groove.map(|groove| &**groove), transpose },
            self.view,
            &section.metre,
            &section.tempo,
        );
        if next {
            baked.only_keys();
        }
        let baked = Arc::new(baked);
        let (pass_baked, groove) = (Arc::clone(pass), groove.cloned());
        let kept =
            Kept { pass: pass_baked, feel, groove, transpose, era, baked: Arc::clone(&baked) };
        self.kept.insert((section.letter, pass.id, next), kept);
        baked
    }
}

/// The groove that a feel names.
fn groove_of<'s>(song: &'s Song, feel: &Feel) -> Option<&'s Arc<Groove>> {
    song.groove(feel.groove?.groove)
}

/// By how many semitones a track is transposed in a section.
pub(crate) fn transpose(song: &Song, section: &Section, track: &Track) -> i32 {
    let semitones = [song.transpose, section.transpose].map(|by| i32::from(by.semitones()));
    if track.pitched { semitones.iter().sum() } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::Build;

    #[test]
    fn a_track_plays_on_the_port_it_names_and_on_the_first_if_there_is_none_of_that_name() {
        let names = ["synth", "drums", "bass"].map(String::from).to_vec();
        let planner = Planner::new(View::Corrected, names.clone());
        let port = |name: &str| {
            let mut track = Track::pitched(TrackId(1), "Track");
            track.port = name.into();
            planner.port_of(&track)
        };
        assert_eq!(["synth", "drums", "bass", "organ"].map(port), [0, 1, 2, 0].map(PortIx));
        assert_eq!(planner.ports(), names);
    }

    #[test]
    fn a_section_is_baked_anew_if_its_metre_or_tempo_changes_and_only_then() {
        let mut planner = Planner::new(View::Corrected, vec![String::new()]);
        let metre = |text: &str| MetreMap::new(2, text.parse().unwrap()).unwrap();
        let tempo = |text: &str| chaconne_time::Tempo::parse_bpm(text).unwrap();
        let mut era = |letter, bars: &str, bpm: &str| {
            planner.era(&Section::new(letter, metre(bars), tempo(bpm)))
        };
        let first = era(Letter::A, "4/4", "120");
        assert_eq!(era(Letter::A, "4/4", "120"), first);
        let mut eras = vec![first, era(Letter::A, "3/4", "120"), era(Letter::A, "3/4", "90")];
        eras.push(era("B".parse().unwrap(), "3/4", "90"));
        assert_eq!(era(Letter::A, "3/4", "90"), eras[2]);
        eras.dedup();
        assert_eq!(eras.len(), 4);
    }

    /// The lowest layer of the first section, planned.
    fn lowest(planner: &mut Planner, song: &Song) -> Item {
        planner.plan(song, &song.sections[0], &Mix::default()).items.swap_remove(0)
    }

    #[test]
    fn a_pass_is_baked_anew_if_its_feel_or_transposition_changes_and_only_then() {
        let mut song = Build::new(1).pass(0, 3840, &[(251, 50, 60)]).song();
        let mut planner = Planner::new(View::Corrected, vec![String::new()]);
        let mut baked = |song: &Song| lowest(&mut planner, song).baked;
        let note = |baked: &Baked| (baked.notes[0].on.0, baked.notes[0].key.get());
        let first = baked(&song);
        assert!(Arc::ptr_eq(&first, &baked(&song)));
        assert_eq!(note(&first), (251, 60));
        let feel = Feel::off(false).on(chaconne_time::NoteValue::SIXTEENTH);
        Arc::make_mut(&mut song.tracks[0]).feel = feel;
        assert_eq!(note(&baked(&song)), (240, 60));
        song.transpose = chaconne_song::Transpose::new(2).unwrap();
        assert_eq!(note(&baked(&song)), (240, 62));
        assert!(Arc::ptr_eq(&baked(&song), &baked(&song)));
    }

    #[test]
    fn notes_go_to_the_channel_of_their_track_and_keep_their_own_if_it_has_none() {
        let mut song = Build::new(1).pass(0, 3840, &[(0, 10, 60)]).song();
        let [two, five] = [2, 5].map(|number| Channel::from_number(number).unwrap());
        let mut planner = Planner::new(View::Corrected, vec![String::new()]);
        let mut channel_of_five = |channel| {
            Arc::make_mut(&mut song.tracks[0]).channel = channel;
            lowest(&mut planner, &song).channel_of(five)
        };
        assert_eq!([None, Some(two)].map(&mut channel_of_five), [five, two]);
    }

    #[test]
    fn a_track_keeps_its_slot() {
        let mut planner = Planner::new(View::Corrected, vec![String::new()]);
        let slots = [7, 3, 7, 9].map(|id| planner.slot_of(TrackId(id)));
        assert_eq!(slots, [0, 1, 0, 2].map(Slot));
        let by_slot = [(0, 7), (1, 3), (2, 9)].map(|(slot, id)| (Slot(slot), TrackId(id)));
        assert_eq!(planner.tracks_by_slot(), by_slot.into());
    }
}
