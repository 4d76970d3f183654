//! Two sections become one.

use super::frame::Bars;
use super::window::{Window, begins_at, feel_of, later};
use super::{ArrangeError, Place, commit, form, found, pieces, rebuild, refused};
use crate::revise::free_ids;
use crate::{
    Commit, Edit, Ids, Label, Layer, Letter, Pass, PassId, Section, SharedPass, Song, SysEx,
    TrackId,
};
use chaconne_time::{MetreMap, Span, Tick};
use std::collections::BTreeSet;

/// Appends a section to another one. The form, which must always play the second right after the first,
/// then plays the first alone. It sounds as before. What is in the same place in the stacks of a track
/// becomes one layer; a loop that both share goes on through both.
///
/// # Errors
/// If the form plays one without the other, or the two have different keys or transpositions, or layers
/// go on after the end of their section: the reason.
pub fn join_sections(song: &Song, first: Letter, second: Letter) -> Result<Commit, ArrangeError> {
    let (one, two) = (found(song, first)?, found(song, second)?);
    if first == second {
        return refused(format!(
            "a section cannot be joined with itself; 'double' repeats {first}"
        ));
    }
    if one.transpose != two.transpose || one.key != two.key {
        let what = if one.key == two.key { "transpositions" } else { "keys" };
        return refused(format!(
            "sections {first} and {second} have different {what}: give both the same first"
        ));
    }
    let bars = one.metre.bars() + two.metre.bars();
    if bars > MetreMap::MAX_BARS {
        return refused(format!(
            "the two have {bars} bars together, and a section has at most {}",
            MetreMap::MAX_BARS
        ));
    }
    let form = form::without_second(&song.form, first, second)?;
    pieces::none_goes_on(song, one)?;
    pieces::none_goes_on(song, two)?;
    let frame = Bars::of(one).then(&Bars::of(two))?;
    let stack = Stacks { song, one, two, length: frame.metre.length() }.joined()?;
    let mut edits = vec![Edit::Form(form)];
    edits.retain(|_| !song.form.is_empty());
    if one.name.is_empty() && !two.name.is_empty() {
        let name = crate::SectionEdit::Name(two.name.clone());
        edits.push(Edit::Section(first, name));
    }
    edits.push(Edit::RemoveSection(second));
    edits.extend(rebuild(one, frame, stack));
    commit(song, Label::JoinSections, edits)
}

/// The layers of two sections that follow each other.
struct Stacks<'a> {
    song: &'a Song,
    one: &'a Section,
    two: &'a Section,
    /// Of both together.
    length: Tick,
}

/// A layer that sounds in one of the two sections only.
struct Half<'a> {
    of: &'a SharedPass,
    mute: bool,
    /// What it plays there, from the start of the joined section on.
    pass: Pass,
}

impl Stacks<'_> {
    fn joined(&self) -> Result<Vec<Place>, ArrangeError> {
        let (one, two) = (self.one, self.two);
        let goes_on = |layer: &Layer, pass: &SharedPass| {
            let ends = [one.length(), two.length()];
            begins_at(pass, &feel_of(self.song, pass), &ends)
                && two.layer(layer.pass).is_some_and(|l| l.mute == layer.mute)
        };
        let shared: BTreeSet<PassId> = self
            .song
            .layers(one)
            .filter(|(layer, pass)| goes_on(layer, pass))
            .map(|(layer, _)| layer.pass)
            .collect();
        let order = |section: &Section| -> Vec<PassId> {
            let ids = section.layers.iter().map(|layer| layer.pass);
            ids.filter(|id| shared.contains(id)).collect()
        };
        // Loops that lie in another order in each section are written out.
        let through = if order(one) == order(two) { order(one) } else { Vec::new() };
        let (mut ids, mut used) = (self.song.ids(), BTreeSet::new());
        let mut stack = Vec::new();
        let (mut low, mut under) = (0, 0);
        for id in through.into_iter().map(Some).chain([None]) {
            let place = |section: &Section| {
                let found = section.layers.iter().position(|layer| Some(layer.pass) == id);
                found.unwrap_or(section.layers.len())
            };
            let (high, over) = (place(one), place(two));
            let first = self.halves(one, Tick::ZERO, low..high)?;
            let second = self.halves(two, one.length(), under..over)?;
            self.pair(first, second, (&mut ids, &mut used), &mut stack)?;
            stack.extend(one.layers.get(high).map(|layer| Place::Kept(*layer)));
            (low, under) = (high + 1, over + 1);
        }
        Ok(stack)
    }

    /// Some layers of a section that begins at `at`, each over the length of both.
    fn halves(
        &self,
        section: &Section,
        at: Tick,
        range: std::ops::Range<usize>,
    ) -> Result<Vec<Half<'_>>, ArrangeError> {
        let mut halves = Vec::new();
        for layer in section.layers.get(range).unwrap_or_default() {
            let Some(of) = self.song.pass(layer.pass) else { continue };
            let feel = feel_of(self.song, of);
            let all = Window::of(section, feel, 1, section.metre.bars());
            let window = Window { bars: self.length, closed: true, ..all };
            let made = window.passes(of)?;
            let moved = made.into_iter().map(|pass| moved(pass, at, self.length));
            halves.extend(moved.map(|pass| Half { of, mute: layer.mute, pass }));
        }
        Ok(halves)
    }

    /// Puts layers of both onto the stack, two of one track and feel as one.
    fn pair(
        &self,
        first: Vec<Half<'_>>,
        second: Vec<Half<'_>>,
        (ids, used): (&mut Ids, &mut BTreeSet<PassId>),
        stack: &mut Vec<Place>,
    ) -> Result<(), ArrangeError> {
        let mut tracks: Vec<TrackId> = Vec::new();
        for half in first.iter().chain(&second) {
            if !tracks.contains(&half.pass.track) {
                tracks.push(half.pass.track);
            }
        }
        // The layers of one track stay in their order; those of different tracks have none.
        for track in tracks {
            let of = |halves: &[Half<'_>]| -> Vec<usize> {
                (0..halves.len()).filter(|&index| halves[index].pass.track == track).collect()
            };
            let (low, high) = (of(&first), of(&second));
            for index in 0..low.len().max(high.len()) {
                let one = low.get(index).and_then(|&index| first.get(index));
                let two = high.get(index).and_then(|&index| second.get(index));
                for (half, other) in matched(one, two) {
                    let old = [Some(half), other].into_iter().flatten().map(|half| half.of);
                    let mut own = old.filter(|of| !self.plays_elsewhere(of)).map(|of| of.id);
                    let own = own.find(|&id| used.insert(id)).unwrap_or_else(|| ids.pass());
                    let pass = match other {
                        Some(other) => merged(&half.pass, &other.pass)?,
                        None => half.pass.clone(),
                    };
                    stack.push(Place::Made(Pass { id: own, ..pass }, half.mute));
                }
            }
        }
        Ok(())
    }

    /// Whether a third section plays a pass.
    fn plays_elsewhere(&self, pass: &SharedPass) -> bool {
        let both = [self.one.letter, self.two.letter];
        self.song.sections_with(pass.id).any(|section| !both.contains(&section.letter))
    }
}

/// Two halves as one layer, or as two if they are not alike.
fn matched<'a, 'b>(
    one: Option<&'a Half<'b>>,
    two: Option<&'a Half<'b>>,
) -> Vec<(&'a Half<'b>, Option<&'a Half<'b>>)> {
    match (one, two) {
        (Some(one), Some(two)) if one.mute == two.mute && one.pass.feel == two.pass.feel => {
            vec![(one, Some(two))]
        }
        (one, two) => one.into_iter().chain(two).map(|half| (half, None)).collect(),
    }
}

/// A pass of another length, as much later.
fn moved(mut pass: Pass, by: Tick, length: Tick) -> Pass {
    pass.length = pass.length.max(length);
    let low = -pass.length;
    let later_span = |span: &Span| Span::new((span.from + by).max(low), span.to + by);
    pass.covers = pass.covers.iter().map(later_span).collect();
    let content = pass.notes_mut();
    for note in &mut content.notes {
        note.played.start += by;
        note.placed.start = note.placed.start.map(|start| start + by);
    }
    content.lanes = content.lanes.iter().map(|lane| later(lane, by)).collect();
    content.sysex.iter_mut().for_each(|message| message.at += by);
    pass
}

/// Two passes of one length as one. The notes of the first keep their ids.
fn merged(one: &Pass, two: &Pass) -> Result<Pass, ArrangeError> {
    let mut pass = one.clone();
    if pass.name.is_empty() {
        pass.name.clone_from(&two.name);
    }
    pass.length = one.length.max(two.length);
    let known: BTreeSet<_> = one.notes().iter().map(|note| note.id).collect();
    let mut all = one.clone();
    all.notes_mut().notes.extend(two.notes());
    let fresh =
        free_ids(&all, two.notes().len()).map_err(|error| ArrangeError(error.to_string()))?;
    let mut fresh = fresh.into_iter();
    let messages: Vec<SysEx> = two.sysex().to_vec();
    let content = pass.notes_mut();
    for note in two.notes() {
        let id = if known.contains(&note.id) { fresh.next().unwrap_or(note.id) } else { note.id };
        content.notes.push(crate::Note { id, ..*note });
    }
    // A gesture that begins at the seam takes the place of the return to rest there.
    content.lanes.retain(|lane| two.lane(lane.id()).is_none());
    content.lanes.extend(two.lanes().iter().cloned());
    content.sysex.extend(messages);
    for cover in &two.covers {
        match pass.covers.last_mut().filter(|last| cover.from < last.to) {
            Some(last) => last.to = last.to.max(cover.to),
            None => pass.covers.push(*cover),
        }
    }
    pass.sort();
    Ok(pass)
}
