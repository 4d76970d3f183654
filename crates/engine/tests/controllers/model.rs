//! The model: which layer moves a controller, by the rules, tick by tick.

use chaconne_engine::{Entry, Message, PortIx};
use chaconne_song::{
    Channel, Control, Lane, Layer, Pass, PassId, Section, Song, Track, TrackId, U7, U14,
};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A controller of a channel of a port.
pub type Knob = (PortIx, Channel, Control);

pub fn change(number: u8) -> Control {
    Control::Change(U7::low_bits(number))
}

/// Pedals and wheels, which have a rest, and volume, which has none.
pub fn controls() -> [Control; 7] {
    [change(64), change(67), change(1), change(11), change(7), Control::Bend, Control::Pressure]
}

/// MMA RP-015, "Response to Reset All Controllers": bend at its centre, pressure, modulation and
/// pedals at 0, expression at 127; volume stays as it is.
pub fn rest(control: Control) -> Option<U14> {
    match control {
        Control::Bend => Some(U14::CENTRE),
        control if control == change(7) => None,
        control if control == change(11) => Some(U7::MAX.into()),
        _ => Some(U14::default()),
    }
}

/// What is soloed.
#[derive(Debug, Clone, Default)]
pub struct Solos {
    pub tracks: BTreeSet<TrackId>,
    pub passes: BTreeSet<PassId>,
}

pub struct Model<'a> {
    pub song: &'a Song,
    pub entries: &'a [Entry],
    pub solos: &'a Solos,
}

impl Model<'_> {
    /// What is heard at a tick.
    pub fn moment(&self, at: Tick) -> Option<Moment<'_>> {
        let entry = self.entry(at)?;
        let layers = self.layers(self.song.section(entry.section)?);
        let above = |index: usize| &layers[index + 1..];
        let is_open =
            |(index, pass): &(usize, &&Pass)| !self.covered(above(*index), pass, at - entry.at);
        let open = layers.iter().enumerate().filter(is_open).map(|(_, pass)| *pass).collect();
        Some(Moment { model: self, entry, at, layers, open })
    }

    pub fn entry(&self, at: Tick) -> Option<Entry> {
        self.entries.iter().find(|entry| entry.at <= at && at < entry.until).copied()
    }

    /// Whether a section moves or sets a controller.
    pub fn owns(&self, section: &Section, knob: Knob) -> bool {
        let layers = self.layers(section);
        let moves = |pass: &&Pass| {
            let mut lanes = pass.lanes().iter().filter(|lane| lane.control == knob.2);
            lanes.any(|lane| self.place(pass, lane.channel) == (knob.0, knob.1))
        };
        layers.iter().any(moves) || self.set(&layers, knob).is_some()
    }

    /// The passes that are heard, lowest first.
    fn layers(&self, section: &Section) -> Vec<&Pass> {
        let pass = |layer: &Layer| self.song.pass(layer.pass).map(|pass| (*layer, &**pass));
        let layers: Vec<(Layer, &Pass)> = section.layers.iter().filter_map(pass).collect();
        // A soloed pass silences the others of its track in the section.
        let soloed = |pass: &Pass| self.solos.passes.contains(&pass.id);
        let alone =
            |track: TrackId| layers.iter().any(|(_, pass)| pass.track == track && soloed(pass));
        let is_heard = |(layer, pass): &&(Layer, &Pass)| {
            let track = self.song.track(pass.track).unwrap();
            let tracks = &self.solos.tracks;
            let heard = !track.mute && (tracks.is_empty() || tracks.contains(&track.id));
            heard && !layer.mute && (soloed(pass) || !alone(track.id))
        };
        layers.iter().filter(is_heard).map(|(_, pass)| *pass).collect()
    }

    fn covered(&self, above: &[&Pass], pass: &Pass, at: Tick) -> bool {
        above.iter().filter(|other| other.track == pass.track).any(|other| {
            let inside = at.cycle(other.length).1;
            other.covers.iter().any(|cover| cover.contains(inside))
        })
    }

    fn place(&self, pass: &Pass, channel: Channel) -> (PortIx, Channel) {
        let track = self.song.track(pass.track).unwrap();
        (port(track), track.channel.unwrap_or(channel))
    }

    /// The value that a track sets: the last track that plays on that channel and sets one.
    fn set(&self, layers: &[&Pass], knob: Knob) -> Option<U14> {
        let plays = |track: &&Arc<Track>| {
            let mine = layers.iter().filter(|pass| pass.track == track.id);
            let mut places = mine.flat_map(|pass| {
                let lanes = pass.lanes().iter().map(|lane| lane.channel);
                let channels = lanes.chain(pass.notes().iter().map(|note| note.channel));
                channels.map(|channel| self.place(pass, channel))
            });
            places.any(|place| place == (knob.0, knob.1))
        };
        let sets = |track: &Arc<Track>| track.levels.volume.filter(|_| knob.2 == change(7));
        let tracks = self.song.tracks.iter().rev().filter(plays);
        tracks.filter_map(sets).next().map(U14::from)
    }
}

/// What is heard at a tick.
pub struct Moment<'a> {
    model: &'a Model<'a>,
    entry: Entry,
    at: Tick,
    layers: Vec<&'a Pass>,
    /// Those that are not covered.
    open: Vec<&'a Pass>,
}

impl Moment<'_> {
    /// The value of a controller, if the rules give one.
    pub fn value(&self, knob: Knob) -> Option<U14> {
        let Moment { model, entry, at, .. } = *self;
        let mut moved = Vec::new();
        let mut left = Vec::new();
        for pass in self.open.iter().rev() {
            // A track with a channel plays the gestures of all channels on it.
            let lanes = pass.lanes().iter().filter(|lane| lane.control == knob.2);
            let channels: BTreeSet<Channel> = lanes.map(|lane| lane.channel).collect();
            for channel in channels.into_iter().rev() {
                if model.place(pass, channel) == (knob.0, knob.1) {
                    let (now, stays) = hold(pass, channel, knob.2, (entry, at));
                    moved.extend(now);
                    left.extend(stays);
                }
            }
        }
        if knob.2 == change(64) {
            return Some(moved.iter().chain(&left).copied().max().unwrap_or_default());
        }
        let held = moved.first().or(left.first()).copied();
        held.or_else(|| model.set(&self.layers, knob)).or_else(|| rest(knob.2))
    }
}

/// What a pass does with a controller at a tick of a visit: the value to which a gesture in progress
/// moves it, and the value at which the last gesture has left it.
fn hold(
    pass: &Pass,
    channel: Channel,
    control: Control,
    (entry, at): (Entry, Tick),
) -> (Option<U14>, Option<U14>) {
    let mine = |lane: &&Lane| lane.channel == channel && lane.control == control;
    let lanes: Vec<&Lane> = pass.lanes().iter().filter(mine).collect();
    let newest = (at - entry.at).0.div_euclid(pass.length.0);
    // A gesture in progress may be in this cycle, in the next one (if it begins early) or in any before.
    for cycle in (0..=newest + 1).rev() {
        let start = entry.at + pass.length * cycle;
        if start >= entry.until {
            continue;
        }
        let begun = lanes.iter().filter(|lane| start + lane.points[0].at <= at);
        let Some(lane) = begun.max_by_key(|lane| lane.points[0].at) else { continue };
        if at < start + lane.span.to {
            let point = lane.points.iter().rev().find(|point| start + point.at <= at);
            return (point.map(|point| point.value), None);
        }
    }
    let start = entry.at + pass.length * newest;
    let begun = lanes.iter().filter(|lane| start + lane.points[0].at <= at);
    let last = begun.max_by_key(|lane| lane.points[0].at);
    let left = last.and_then(|lane| lane.points.last()).map(|point| point.value);
    (None, left.filter(|&value| Some(value) != rest(control)))
}

/// The songs have two ports: the one without a name, and another.
fn port(track: &Track) -> PortIx {
    PortIx(u8::from(!track.port.is_empty()))
}

/// The controller that a message moves, and its value.
pub fn moved(port: PortIx, message: &Message) -> Option<(Knob, U14)> {
    let (control, value) = message.control()?;
    Some(((port, message.channel()?, control), value))
}

/// All controllers that may move.
pub fn knobs() -> Vec<Knob> {
    let channels: Vec<Channel> = (1..=3).filter_map(Channel::from_number).collect();
    let places =
        (0..2).flat_map(|port| channels.iter().map(move |&channel| (PortIx(port), channel)));
    places.flat_map(|(port, channel)| controls().map(|control| (port, channel, control))).collect()
}

/// The ticks of a span at which the rules may give another value.
pub fn changes(song: &Song, entries: &[Entry], span: Span) -> Vec<Tick> {
    let mut ticks = Vec::new();
    for entry in entries.iter().filter(|entry| entry.at < span.to && span.from <= entry.until) {
        ticks.extend([entry.at, entry.until]);
        for pass in song.section(entry.section).into_iter().flat_map(|s| song.passes_in(s)) {
            let cycle = |at: Tick| (at - entry.at).0.div_euclid(pass.length.0);
            let longest = pass.lanes().iter().map(|lane| lane.span.to).max().unwrap_or_default();
            let first = cycle(span.from - longest).max(0);
            let last = cycle(span.to.min(entry.until)) + 1;
            for cycle in first..=last {
                let start = entry.at + pass.length * cycle;
                let covers = pass.covers.iter().flat_map(|cover| [cover.from, cover.to]);
                let lanes = pass.lanes().iter();
                let moves = lanes.flat_map(|lane| {
                    lane.points.iter().map(|point| point.at).chain([lane.span.to])
                });
                ticks.push(start);
                ticks.extend(covers.chain(moves).map(|at| start + at));
            }
        }
    }
    ticks
}
