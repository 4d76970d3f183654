//! The picture of a track: what sounds in each mark of the time axis.
//!
//! In: a song and one of its sections, a track, the round now playing, a scale. Out: what each mark
//! shows. The picture comes from [`perform`], so it shows what is heard: feel, covers and the phase
//! of longer passes included. Only the mute of the track itself is left out, so that a muted part
//! can still be seen. A note lies in the mark it is nearest to, if marks are a sixteenth or less.

use crate::axis::Scale;
use crate::cells::KeptCells;
use crate::draw::pane::Pane;
use crate::lane::KeptBars;
use crate::screen::{Stack, groove_of};
use crate::sheet::Sheet;
use chaconne_engine::{Message, Route, View, Wire, is_heard, perform};
use chaconne_song::{
    Channel, Groove, GrooveId, Layer, Pass, PassId, Section, Song, Track, TrackId, U7,
};
use chaconne_time::{Span, Tempo, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What a mark shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Shows {
    /// Nothing sounds.
    #[default]
    Nothing,
    /// A note goes on.
    Held,
    /// A note is struck. How high it is drawn, 0..=7: by pitch, within the part's range, on a
    /// pitched track; by how hard it is struck on a drum track. The highest of several.
    Struck(u8),
}

impl Shows {
    fn is_some(self) -> bool {
        self != Shows::Nothing
    }
}

/// What the marks of a track show.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Strip {
    /// One for each mark of the scale.
    pub shows: Vec<Shows>,
    /// In the strip of one pass: whether a pass above it covers what the mark shows.
    pub covered: Vec<bool>,
    /// How many passes the track has in this section.
    pub layers: usize,
    /// How many of them are silent: muted, not soloed, or covered in all of this round.
    pub silent: usize,
}

impl Strip {
    /// Whether anything it shows is covered.
    pub fn has_covered(&self) -> bool {
        self.covered.contains(&true)
    }

    /// Whether all that it shows is covered.
    pub fn is_covered(&self) -> bool {
        let shown = std::iter::zip(&self.shows, &self.covered);
        self.has_covered() && !shown.into_iter().any(|(show, covered)| show.is_some() && !covered)
    }
}

/// What a strip was made from; while this stays the same, so does the strip.
#[derive(Debug, Clone)]
struct Stamp {
    track: Arc<Track>,
    /// The passes, the lowest first, and whether each is muted.
    passes: Vec<(Arc<Pass>, bool)>,
    /// The grooves that they are given.
    grooves: Vec<Arc<Groove>>,
    solo: Vec<PassId>,
    scale: Arc<Scale>,
    phase: u64,
    /// The lowest pass, if it is only about that one.
    layer: Option<PassId>,
}

impl PartialEq for Stamp {
    fn eq(&self, other: &Stamp) -> bool {
        type Laid = (Arc<Pass>, bool);
        let same = |(a, b): (&Laid, &Laid)| Arc::ptr_eq(&a.0, &b.0) && a.1 == b.1;
        Arc::ptr_eq(&self.track, &other.track)
            && self.passes.len() == other.passes.len()
            && std::iter::zip(&self.passes, &other.passes).all(same)
            && self.grooves == other.grooves
            && self.solo == other.solo
            && self.scale == other.scale
            && self.phase == other.phase
            && self.layer == other.layer
    }
}

/// The strips of the visible tracks, kept for as long as nothing in them changes.
#[derive(Debug, Default)]
pub struct Pictures {
    strips: BTreeMap<(TrackId, Option<PassId>), (Stamp, Arc<Strip>)>,
    /// The notes and controllers of tracks and layers that have more than one row of marks.
    lanes: BTreeMap<(TrackId, Option<PassId>), Lane>,
    /// The cells of the view of the notes.
    pub cells: KeptCells,
    /// The bars of the lane under the notes.
    pub bars: KeptBars,
    /// The notes below the rows of other views.
    pub pane: Pane,
}

/// The notes and controllers of a track or layer, with what is drawn of them.
#[derive(Debug)]
pub struct Lane {
    /// The notes and controllers.
    pub sheet: Arc<Sheet>,
    /// The cells of its notes.
    pub cells: KeptCells,
    /// The bars of its controllers.
    bars: Vec<KeptBars>,
}

impl Lane {
    /// The bars of a controller, by its place from the top.
    pub fn bars(&mut self, index: usize) -> &mut KeptBars {
        if self.bars.len() <= index {
            self.bars.resize_with(index + 1, KeptBars::default);
        }
        &mut self.bars[index]
    }
}

impl Pictures {
    /// More strips than any screen shows are not kept.
    const KEPT: usize = 256;

    /// The lane of a layer, or of all layers of a track.
    pub fn lane(
        &mut self,
        stack: &Stack,
        only: Option<usize>,
        section: &Arc<Section>,
    ) -> &mut Lane {
        let name = (stack.track.id, only.map(|at| stack.layers[at].0.id));
        let is_same = |lane: &Lane| lane.sheet.is_of(stack, only, section);
        if !self.lanes.get(&name).is_some_and(is_same) {
            self.lanes.remove(&name);
        }
        if self.lanes.len() >= Self::KEPT {
            self.lanes.clear();
        }
        self.lanes.entry(name).or_insert_with(|| Lane {
            sheet: Arc::new(Sheet::new(stack, only, section)),
            cells: KeptCells::default(),
            bars: Vec::new(),
        })
    }

    /// The strip of a track in a section, in a round counted from 0.
    pub fn strip(
        &mut self,
        song: &Song,
        section: &Section,
        track: &Arc<Track>,
        solo: &BTreeSet<PassId>,
        round: u64,
        scale: &Arc<Scale>,
    ) -> Arc<Strip> {
        let layers = song.layers_of(section, track.id);
        let passes: Vec<_> = layers.map(|(layer, pass)| (pass.clone(), layer.mute)).collect();
        let solo = passes.iter().map(|(pass, _)| pass.id).filter(|id| solo.contains(id)).collect();
        let phase = phase(&passes, section.length(), round);
        let grooves = grooves(song, track, &passes);
        let (track, scale) = (track.clone(), scale.clone());
        self.kept(section, Stamp { track, passes, grooves, solo, scale, phase, layer: None })
    }

    /// The strip of one pass of a track, whether it sounds or not. `passes` are the pass and those
    /// above it, each with its mute.
    pub fn layer(
        &mut self,
        (song, section): (&Song, &Section),
        track: &Arc<Track>,
        passes: Vec<(Arc<Pass>, bool)>,
        solo: &BTreeSet<PassId>,
        round: u64,
        scale: &Arc<Scale>,
    ) -> Arc<Strip> {
        let layer = passes.first().map(|(pass, _)| pass.id);
        let solo = passes.iter().map(|(pass, _)| pass.id).filter(|id| solo.contains(id)).collect();
        let phase = phase(&passes, section.length(), round);
        let grooves = grooves(song, track, &passes);
        let (track, scale) = (track.clone(), scale.clone());
        self.kept(section, Stamp { track, passes, grooves, solo, scale, phase, layer })
    }

    /// The notes of a layer, or of all layers of a track.
    pub fn sheet(
        &mut self,
        stack: &Stack,
        only: Option<usize>,
        section: &Arc<Section>,
    ) -> Arc<Sheet> {
        let kept = self.pane.sheet.take().filter(|sheet| sheet.is_of(stack, only, section));
        let fresh = || Arc::new(Sheet::new(stack, only, section));
        self.pane.sheet.insert(kept.unwrap_or_else(fresh)).clone()
    }

    fn kept(&mut self, section: &Section, stamp: Stamp) -> Arc<Strip> {
        let name = (stamp.track.id, stamp.layer);
        if let Some((_, strip)) = self.strips.get(&name).filter(|kept| kept.0 == stamp) {
            return strip.clone();
        }
        let strip = Arc::new(draw(section, &stamp));
        if self.strips.len() >= Self::KEPT {
            self.strips.clear();
        }
        self.strips.insert(name, (stamp, strip.clone()));
        strip
    }
}

/// The grooves that passes of a track are given, each once.
fn grooves(song: &Song, track: &Track, passes: &[(Arc<Pass>, bool)]) -> Vec<Arc<Groove>> {
    let given = passes.iter().filter_map(|(pass, _)| groove_of(song, pass, track));
    let by_id: BTreeMap<GrooveId, Arc<Groove>> = given.map(|groove| (groove.id, groove)).collect();
    by_id.into_values().collect()
}

/// The round to perform: rounds that look alike are taken as one, the second time it comes
/// round, so that there is always one before it. They repeat once all passes start at the top
/// together again.
fn phase(passes: &[(Arc<Pass>, bool)], section: Tick, round: u64) -> u64 {
    let mut rounds = 1u64;
    for (pass, _) in passes.iter().filter(|(pass, _)| pass.length > Tick::ZERO) {
        let own = pass.length.0 / gcd(pass.length.0, section.0);
        let factor = own as u64 / gcd(own, rounds as i64) as u64;
        match rounds.checked_mul(factor).filter(|&rounds| rounds < 1 << 20) {
            Some(product) => rounds = product,
            None => return round.max(1),
        }
    }
    round % rounds + rounds
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

impl Stamp {
    fn is_silent(&self, (pass, mute): &(Arc<Pass>, bool)) -> bool {
        !is_heard(pass.id, *mute, &self.solo)
    }

    /// The passes, and whether each is silent.
    fn laid(&self) -> Vec<(Arc<Pass>, bool)> {
        self.passes.iter().map(|laid| (laid.0.clone(), self.is_silent(laid))).collect()
    }

    /// One of the passes as it sounds by itself, and as it sounds under those above it.
    fn alone_and_covered(&self, section: &Section, at: usize) -> (Vec<Shows>, Vec<Shows>) {
        let mut laid = vec![(self.passes[at].0.clone(), false)];
        let alone = shows(section, self, &laid);
        for above in self.passes[at + 1..].iter().filter(|above| !self.is_silent(above)) {
            if !above.0.covers.is_empty() {
                let bare = Pass::empty(above.0.id, above.0.track, above.0.length);
                let cover = Pass { covers: above.0.covers.clone(), ..bare };
                laid.push((Arc::new(cover), false));
            }
        }
        let covered = if laid.len() > 1 { shows(section, self, &laid) } else { alone.clone() };
        (alone, covered)
    }

    /// Whether a pass has notes in the round, and passes above it cover them all.
    fn is_covered(&self, section: &Section, at: usize) -> bool {
        if self.passes[at + 1..].iter().all(|above| above.0.covers.is_empty()) {
            return false;
        }
        let (alone, covered) = self.alone_and_covered(section, at);
        alone.iter().any(|mark| mark.is_some()) && !covered.iter().any(|mark| mark.is_some())
    }
}

fn draw(section: &Section, stamp: &Stamp) -> Strip {
    let layers = stamp.passes.len();
    if stamp.layer.is_some() {
        let (shows, heard) = stamp.alone_and_covered(section, 0);
        let covered = std::iter::zip(&shows, heard);
        let covered = covered.map(|(show, heard)| show.is_some() && !heard.is_some()).collect();
        return Strip { shows, covered, layers, silent: 0 };
    }
    let laid = stamp.laid();
    let silent = |at: &usize| laid[*at].1 || stamp.is_covered(section, *at);
    let silent = (0..layers).filter(silent).count();
    Strip { shows: shows(section, stamp, &laid), covered: Vec::new(), layers, silent }
}

/// What passes sound like together, given with whether each is silent.
fn shows(section: &Section, stamp: &Stamp, laid: &[(Arc<Pass>, bool)]) -> Vec<Shows> {
    let mut shows = vec![Shows::Nothing; stamp.scale.marks.len()];
    if laid.iter().all(|(_, silent)| *silent) {
        return shows;
    }
    let heights = Heights::of(&stamp.track, laid);
    // A round before the one in question, so that what is held into it is known.
    let top = section.length() * stamp.phase as i64;
    let span = Span::new(top - section.length(), top + section.length());
    let song = Song { grooves: stamp.grooves.clone(), ..alone(section, &stamp.track, laid) };
    let performance = perform(&song, &Route::open(section.letter), span, View::Corrected);
    let mut down: BTreeMap<(Channel, U7), (Tick, u8)> = BTreeMap::new();
    for event in &performance.events {
        let Wire::Message(message) = event.wire else { continue };
        let at = event.at - top;
        match message {
            Message::NoteOn { channel, key, velocity } => {
                down.insert((channel, key), (at, heights.of_note(key, velocity)));
            }
            Message::NoteOff { channel, key, .. } => {
                if let Some((on, height)) = down.remove(&(channel, key)) {
                    mark(&mut shows, &stamp.scale, on, at, height);
                }
            }
            _ => {}
        }
    }
    shows
}

/// A song of the one track, unmuted, with these passes.
fn alone(section: &Section, track: &Track, laid: &[(Arc<Pass>, bool)]) -> Song {
    let layers = laid.iter().map(|(pass, silent)| Layer { pass: pass.id, mute: *silent }).collect();
    let tempo = section.tempo.clone();
    let bare = Section::new(section.letter, section.metre.clone(), Tempo::DEFAULT);
    let mut song = Song::new("", Section { tempo, layers, ..bare });
    song.passes = laid.iter().map(|(pass, _)| (pass.id, pass.clone())).collect();
    song.tracks.push(Arc::new(Track { mute: false, ..track.clone() }));
    song
}

/// Marks a note from `on` to `off`, in ticks from the top of the round.
fn mark(shows: &mut [Shows], scale: &Scale, on: Tick, off: Tick, height: u8) {
    let early = scale.early();
    let mut raise = |mark: usize, what: Shows| shows[mark] = shows[mark].max(what);
    if let Some(mark) = scale.mark_of(on + early) {
        raise(mark, Shows::Struck(height));
    }
    // It goes on in every later mark that it fills for at least half a mark.
    let last = off - early - Tick(1);
    let first = scale.marks.partition_point(|mark| mark.start <= on + early);
    let held = scale.marks[first..].iter().take_while(|mark| mark.start <= last).count();
    (first..first + held).for_each(|mark| raise(mark, Shows::Held));
}

/// The marks in which the unfinished round has a note.
pub fn fresh(pass: &Pass, scale: &Scale) -> Vec<bool> {
    let mut marks = vec![false; scale.marks.len()];
    for note in pass.notes() {
        let (_, at) = (note.stroke().start + scale.early()).cycle(scale.length);
        if let Some(mark) = scale.mark_of(at) {
            marks[mark] = true;
        }
    }
    marks
}

/// How high notes are drawn.
enum Heights {
    ByPitch { low: u8, high: u8 },
    ByVelocity,
}

impl Heights {
    fn of(track: &Track, passes: &[(Arc<Pass>, bool)]) -> Heights {
        if !track.pitched {
            return Heights::ByVelocity;
        }
        let keys =
            || passes.iter().flat_map(|(pass, _)| pass.notes()).map(|note| note.stroke().key.get());
        Heights::ByPitch { low: keys().min().unwrap_or(0), high: keys().max().unwrap_or(0) }
    }

    fn of_note(&self, key: U7, velocity: U7) -> u8 {
        match *self {
            Heights::ByVelocity => velocity.get() / 16,
            Heights::ByPitch { low, high } if low == high => 3,
            Heights::ByPitch { low, high } => {
                let into = u16::from(key.get().clamp(low, high) - low);
                (into * 7 / u16::from(high - low)) as u8
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axis::{Bars, Level};
    use chaconne_song::{Letter, Note, NoteId, Stroke};
    use chaconne_time::{Metre, MetreMap, NoteValue, Tempo};

    /// A pass of notes given as start, length and key in sixteenths and semitones.
    fn pass(id: u32, length: i64, notes: &[(i64, i64, u8)]) -> Arc<Pass> {
        let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(length));
        for (index, &(start, length, key)) in notes.iter().enumerate() {
            let played = Stroke {
                start: Tick(start),
                length: Tick(length),
                key: U7::low_bits(key),
                velocity: U7::low_bits(100),
                release: U7::CENTRE,
            };
            let id = NoteId(id * 100 + index as u32);
            pass.notes_mut().notes.push(Note {
                id,
                channel: Channel::default(),
                played,
                placed: Default::default(),
            });
        }
        pass.sort();
        Arc::new(pass)
    }

    fn picture(track: Track, passes: Vec<Arc<Pass>>, round: u64) -> String {
        muted_picture(track, passes, None, round)
    }

    /// A picture of passes of which one is muted.
    fn muted_picture(
        track: Track,
        passes: Vec<Arc<Pass>>,
        muted: Option<PassId>,
        round: u64,
    ) -> String {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let scale = Arc::new(sixteenths(&metre));
        let mut section = Section::new(Letter::A, metre, Tempo::DEFAULT);
        let layer = |pass: &Arc<Pass>| Layer { pass: pass.id, mute: muted == Some(pass.id) };
        section.layers = passes.iter().map(layer).collect();
        let mut song = Song::new("", section.clone());
        song.passes = passes.into_iter().map(|pass| (pass.id, pass)).collect();
        let (track, solo) = (Arc::new(track), BTreeSet::new());
        let strip = Pictures::default().strip(&song, &section, &track, &solo, round, &scale);
        let sign = |mark: &Shows| match mark {
            Shows::Nothing => '.',
            Shows::Held => '-',
            Shows::Struck(height) => (b'1' + height) as char,
        };
        strip.shows.iter().map(sign).collect()
    }

    /// The whole section with a sixteenth a mark.
    fn sixteenths(metre: &MetreMap) -> Scale {
        let mut bars = Bars::default();
        bars.add(i64::from(metre.bars()), metre.first().bar(), metre.first().beat());
        Scale::whole(&bars, Level::SIXTEENTH.grain(), 99).unwrap()
    }

    fn keys() -> Track {
        Track::pitched(TrackId(1), "keys")
    }

    #[test]
    fn notes_are_drawn_in_their_sixteenths_and_held() {
        let notes = [(0, 230, 60), (480, 730, 72), (1920, 960, 64)];
        assert_eq!(picture(keys(), vec![pass(1, 3840, &notes)], 0), "1.8--...3---....");
    }

    #[test]
    fn a_note_is_drawn_in_the_nearest_sixteenth() {
        let notes = [(-50, 200, 60), (900, 100, 60), (1300, 100, 60)];
        assert_eq!(picture(keys(), vec![pass(1, 3840, &notes)], 0), "4...44..........");
    }

    #[test]
    fn feel_moves_the_marks() {
        let track = Track { feel: keys().feel.on(NoteValue::QUARTER), ..keys() };
        assert_eq!(picture(track, vec![pass(1, 3840, &[(700, 100, 60)])], 0), "....4...........");
    }

    #[test]
    fn drums_are_drawn_by_how_hard_they_are_struck() {
        let track = Track::drums(TrackId(1), "drums");
        assert_eq!(picture(track, vec![pass(1, 3840, &[(0, 10, 36)])], 0), "7...............");
    }

    #[test]
    fn a_note_across_the_seam_goes_on_at_the_top() {
        let notes = [(3600, 700, 60)];
        assert_eq!(picture(keys(), vec![pass(1, 3840, &notes)], 0), "--.............4");
    }

    #[test]
    fn a_longer_pass_shows_the_half_that_sounds() {
        let long = pass(1, 7680, &[(0, 200, 60), (3840 + 960, 200, 60)]);
        assert_eq!(picture(keys(), vec![long.clone()], 4), "4...............");
        assert_eq!(picture(keys(), vec![long], 5), "....4...........");
    }

    #[test]
    fn covered_and_muted_notes_are_not_drawn() {
        let low = pass(1, 3840, &[(0, 200, 60), (2400, 200, 60)]);
        let mut top = Pass::clone(&pass(2, 3840, &[(240, 200, 60)]));
        top.covers = vec![Span::new(Tick(0), Tick(1920))];
        assert_eq!(
            picture(keys(), vec![low.clone(), Arc::new(top.clone())], 0),
            ".4........4....."
        );
        let muted = muted_picture(keys(), vec![low, Arc::new(top)], Some(PassId(2)), 0);
        assert_eq!(muted, "4.........4.....");
    }

    #[test]
    fn a_layer_that_is_covered_shows_where() {
        let low = pass(1, 3840, &[(0, 200, 60), (960, 200, 60), (2400, 200, 60)]);
        let over = |covers: &[(i64, i64)]| {
            let mut top = Pass::clone(&pass(2, 3840, &[(240, 200, 60)]));
            top.covers = covers.iter().map(|&(from, to)| Span::new(Tick(from), Tick(to))).collect();
            Arc::new(top)
        };
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let scale = Arc::new(sixteenths(&metre));
        let section = Section::new(Letter::A, metre, Tempo::DEFAULT);
        let (track, solo) = (Arc::new(keys()), BTreeSet::new());
        for (covers, mute, shown, whole) in [
            (&[][..], false, "x...x.....x.....", false),
            (&[(0, 1920)][..], false, "c...c.....x.....", false),
            (&[(0, 3840)][..], false, "c...c.....c.....", true),
            (&[(0, 3840)][..], true, "x...x.....x.....", false),
        ] {
            let passes = vec![(low.clone(), false), (over(covers), mute)];
            let mut song = Song::new("", section.clone());
            let strip = Pictures::default().layer(
                (&song, &section),
                &track,
                passes.clone(),
                &solo,
                0,
                &scale,
            );
            let marks = std::iter::zip(&strip.shows, &strip.covered);
            let sign = |(show, covered): (&Shows, &bool)| match (show, covered) {
                (Shows::Nothing, _) => '.',
                (_, true) => 'c',
                (_, false) => 'x',
            };
            assert_eq!(marks.map(sign).collect::<String>(), shown);
            assert_eq!((strip.has_covered(), strip.is_covered()), (shown.contains('c'), whole));
            // Wholly covered, it does not count among the layers that sound.
            let layer = |laid: &(Arc<Pass>, bool)| Layer { pass: laid.0.id, mute: laid.1 };
            let section = Section { layers: passes.iter().map(layer).collect(), ..section.clone() };
            song.passes = passes.into_iter().map(|(pass, _)| (pass.id, pass)).collect();
            let strip = Pictures::default().strip(&song, &section, &track, &solo, 0, &scale);
            assert_eq!((strip.layers, strip.silent), (2, usize::from(whole || mute)));
        }
    }

    #[test]
    fn a_note_is_drawn_where_a_groove_puts_it() {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let scale = Arc::new(sixteenths(&metre));
        let mut song = Song::new("", Section::new(Letter::A, metre, Tempo::DEFAULT));
        let mut late = Groove::clone(&crate::testing::groove(90, "Sam"));
        let at = chaconne_song::StepAt { bar: 1, step: 5 };
        let lean = |timing| chaconne_song::Lean { timing: Tick(timing), ..Default::default() };
        late.steps.insert(at, lean(120));
        song.grooves.push(Arc::new(late.clone()));
        let given = chaconne_song::GivenGroove {
            timing: 200,
            ..chaconne_song::GivenGroove::whole(late.id)
        };
        let mut track = keys();
        track.feel.groove = Some(given);
        song.tracks.push(Arc::new(track));
        let low = pass(1, 3840, &[(960, 60, 60)]);
        song.lay(Letter::A, low.clone());
        let mut pictures = Pictures::default();
        let mut struck = |song: &Song| {
            let (section, track, solo) = (&song.sections[0], &song.tracks[0], BTreeSet::new());
            let whole = pictures.strip(song, section, track, &solo, 0, &scale);
            let passes = vec![(low.clone(), false)];
            let layer = pictures.layer((song, section), track, passes, &solo, 0, &scale);
            let place = |strip: &Strip| strip.shows.iter().position(|show| show.is_some());
            (place(&whole), place(&layer))
        };
        assert_eq!(struck(&song), (Some(5), Some(5)));
        // The picture follows the groove.
        late.steps.insert(at, lean(0));
        song.grooves[0] = Arc::new(late);
        assert_eq!(struck(&song), (Some(4), Some(4)));
    }

    #[test]
    fn a_muted_track_is_still_drawn() {
        let track = Track { mute: true, ..keys() };
        assert_eq!(picture(track, vec![pass(1, 3840, &[(0, 200, 60)])], 0), "4...............");
    }

    #[test]
    fn the_unfinished_round_is_drawn_where_it_was_played() {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let scale = sixteenths(&metre);
        let marks =
            fresh(&pass(1, 3840, &[(-100, 10, 60), (3700, 10, 60), (3900, 10, 60)]), &scale);
        let places = marks.iter().enumerate().filter(|(_, fresh)| **fresh).map(|(place, _)| place);
        assert_eq!(places.collect::<Vec<_>>(), [0, 15]);
    }

    #[test]
    fn rounds_that_look_alike_are_drawn_once() {
        let three_beats = (pass(1, 2880, &[(0, 10, 60)]), false);
        let phases: Vec<u64> = (0..7)
            .map(|round| phase(std::slice::from_ref(&three_beats), Tick(3840), round))
            .collect();
        assert_eq!(phases, [3, 4, 5, 3, 4, 5, 3]);
    }
}
