//! How late a song would be on serial MIDI cables, told from the song alone.
//!
//! In: a song. Out: for each port that it plays on, the note that would come latest on a line of
//! 31,250 baud, where that is, and how many bars are late. The form is performed once, as the
//! export does it, and its events and the clock's pulses go through the same [`DinLine`] that
//! paces a real port, on a simulated clock with a scheduler that is always in time. So the
//! figures are what the line itself costs; a machine's own lateness comes on top.

mod extent;

use chaconne_clock::din::DinLine;
use chaconne_clock::din::{Ended, Grain, Item, Load, PLACES};
use chaconne_engine::{Event, Landmark, Message, PortIx, Route, View, Wire, landmarks, perform};
use chaconne_song::{Letter, Song};
use chaconne_time::pulse::TICKS_PER_PULSE;
use chaconne_time::{Ns, Span, Tempo, Tick, Timeline};
use std::collections::BTreeSet;

/// The least displacement of a note that is heard in a fast series: 6 ms (A. Friberg and
/// J. Sundberg, "Time discrimination in a monotonic, isochronous sequence", Journal of the
/// Acoustical Society of America 98(5), 1995).
pub const HEARD: Ns = 6_000_000;

/// What is to be expected of a song on serial cables.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlook {
    /// Each port that it plays on, in the order in which its tracks name them.
    pub ports: Vec<Forecast>,
    /// Where the form is too long to be performed here: how many of its sections were.
    pub cut: Option<usize>,
}

/// What is to be expected of one port on a serial cable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forecast {
    /// The port's name in the song; empty for the first one.
    pub port: String,
    /// The latest note; `None` where none is struck.
    pub latest: Option<LateNote>,
    /// How many bars along the form have a note that is later than the limit.
    pub late_bars: usize,
    /// How many continuous controller values are left out, because newer ones came before their
    /// turn.
    pub thinned: u64,
    /// How many messages would find no room and be lost.
    pub lost: usize,
}

/// A note, and how late it would be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LateNote {
    /// From the moment it is due to the end of its last byte, in nanoseconds.
    pub late: Ns,
    /// The section it is due in.
    pub section: Letter,
    /// The bar of that section, from 1.
    pub bar: i64,
}

/// What is to be expected of `song`. The form is performed once, or the first section where there
/// is none; a bar is late where a note is later than `limit` nanoseconds.
pub fn forecast(song: &Song, limit: Ns) -> Outlook {
    let (route, cut) = extent::route(song);
    let ports = route.map_or(Vec::new(), |route| ports(song, &route, limit));
    Outlook { ports, cut }
}

fn ports(song: &Song, route: &Route, limit: Ns) -> Vec<Forecast> {
    let span = route.span();
    let performance = perform(song, route, span, View::Corrected);
    let timeline = timeline(song, route, span);
    let mut told = Vec::new();
    for (index, name) in performance.ports.iter().enumerate() {
        let port = PortIx(index as u8);
        let mut events = performance.events.iter().filter(|event| event.port == port).peekable();
        if events.peek().is_none() {
            continue;
        }
        let mut cable = Cable::new(song, route, &timeline, limit);
        cable.take(span.from, Load::Message(Message::Start));
        for event in events {
            cable.pulse_until(event.at);
            cable.take(event.at, load_of(event));
        }
        told.push(cable.told(name));
    }
    told
}

fn load_of(event: &Event) -> Load {
    match &event.wire {
        Wire::Message(message) => Load::Message(*message),
        Wire::SysEx(bytes) => Load::SysEx(bytes.clone()),
    }
}

/// Where the ticks of a route fall, its start at 0.
fn timeline(song: &Song, route: &Route, span: Span) -> Timeline {
    let mut timeline = Timeline::new(span.from, 0, Tempo::DEFAULT);
    for (at, mark) in landmarks(song, route, span) {
        match mark {
            Landmark::Tempo(tempo) if at <= span.from => timeline.restart(span.from, 0, tempo),
            Landmark::Tempo(tempo) => timeline.push(at, tempo),
            _ => {}
        }
    }
    timeline
}

/// One port's line on a simulated clock, and what has come of it so far.
struct Cable<'a> {
    song: &'a Song,
    route: &'a Route,
    timeline: &'a Timeline,
    limit: Ns,
    line: DinLine<Tick>,
    now: Ns,
    /// The next pulse.
    pulse: Tick,
    latest: Option<(Ns, Tick)>,
    late_bars: BTreeSet<Tick>,
    lost: usize,
}

impl<'a> Cable<'a> {
    fn new(song: &'a Song, route: &'a Route, timeline: &'a Timeline, limit: Ns) -> Cable<'a> {
        Cable {
            song,
            route,
            timeline,
            limit,
            line: DinLine::new(Grain::Bytes, PLACES),
            now: 0,
            pulse: route.span().from.round_up(Tick(TICKS_PER_PULSE)),
            latest: None,
            late_bars: BTreeSet::new(),
            lost: 0,
        }
    }

    /// Something is due: what the line carries until then goes out first.
    fn take(&mut self, at: Tick, load: Load) {
        let due = self.timeline.ns_at(at);
        self.carry_until(due);
        self.now = due;
        if self.line.push(due, Item { load, due, tag: at }).is_err() {
            self.lost += 1;
        }
    }

    /// The pulses up to a tick, which go before what else falls on it. Where the line is at rest,
    /// all but the last are through long before and are left out.
    fn pulse_until(&mut self, at: Tick) {
        let last = at.0.div_euclid(TICKS_PER_PULSE) * TICKS_PER_PULSE;
        while self.pulse <= at {
            self.carry_until(self.timeline.ns_at(self.pulse));
            if self.line.is_empty() {
                self.pulse = Tick(last);
            }
            self.take(self.pulse, Load::Message(Message::Clock));
            self.pulse += Tick(TICKS_PER_PULSE);
        }
    }

    fn carry_until(&mut self, end: Ns) {
        while let Some(at) = self.line.next_deadline().map(|at| at.max(self.now)) {
            if at >= end || self.line.peek(at).is_none() {
                break;
            }
            self.now = at;
            if let Some(ended) = self.line.took(at).ended {
                self.note(&ended);
            }
        }
    }

    fn note(&mut self, ended: &Ended<Tick>) {
        let item = &ended.item;
        if !matches!(item.load, Load::Message(Message::NoteOn { .. })) {
            return;
        }
        let late = ended.at - item.due;
        if self.latest.is_none_or(|(most, _)| late > most) {
            self.latest = Some((late, item.tag));
        }
        if late > self.limit {
            self.late_bars.insert(self.bar_start(item.tag));
        }
    }

    /// The tick at which the bar of a tick starts.
    fn bar_start(&self, at: Tick) -> Tick {
        let entry = self.route.entry_at(at);
        let start = |metre: &chaconne_time::MetreMap| {
            entry.at + metre.bar_start(metre.bar_at(at - entry.at))
        };
        self.song.section(entry.section).map_or(at, |section| start(&section.metre))
    }

    /// Carries what is left, and tells how it went.
    fn told(mut self, port: &str) -> Forecast {
        self.carry_until(Ns::MAX);
        let latest = self.latest.map(|(late, at)| {
            let entry = self.route.entry_at(at);
            let bar = self.song.section(entry.section).map_or(1, |section| {
                let bars = i64::from(section.metre.bars()).max(1);
                (section.metre.bar_at(at - entry.at) - 1).rem_euclid(bars) + 1
            });
            LateNote { late, section: entry.section, bar }
        });
        Forecast {
            port: port.to_string(),
            latest,
            late_bars: self.late_bars.len(),
            thinned: self.line.counts().thinned,
            lost: self.lost,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song_of;
    use chaconne_song::{
        Channel, Control, Lane, Note, Pass, Point, SharedPass, Stroke, Track, U7, U14,
    };
    use std::sync::Arc;

    /// A song of sections with one track that plays `chords` in the first: the tick, and how
    /// many keys are struck.
    fn song(sections: &[(&str, u32)], chords: &[(i64, u8)]) -> Song {
        let mut song = song_of("late", sections);
        let mut ids = song.ids();
        let track = Track::pitched(ids.track(), "Keys");
        let mut pass = Pass::empty(ids.pass(), track.id, song.sections[0].length());
        for &(at, keys) in chords {
            for key in 40..40 + keys {
                let played = Stroke {
                    start: Tick(at),
                    length: Tick(470),
                    key: U7::low_bits(key),
                    velocity: U7::low_bits(90),
                    release: U7::CENTRE,
                };
                let id = ids.note();
                pass.notes.push(Note { id, channel: Channel::default(), played, placed: None });
            }
        }
        pass.sort();
        song.tracks.push(Arc::new(track));
        Arc::make_mut(&mut song.sections[0]).passes.push(SharedPass::from(pass));
        song
    }

    #[test]
    fn a_chord_is_as_late_as_its_bytes_are_long() {
        // MIDI 1.0, "Hardware" and "Running Status": at bar 3 of A the line carries a pulse and
        // ten notes, 1 + 21 bytes of 320 us: 7.04 ms. The eight notes of bar 2 take 1 + 17
        // bytes, 5.76 ms.
        let mut song = song(&[("A", 4), ("B", 2)], &[(3840, 8), (7680, 10)]);
        let letter = |text: &str| text.parse::<Letter>().unwrap();
        song.form = ["A", "B", "A"].map(letter).to_vec();
        let told = forecast(&song, HEARD).ports;
        let latest = Some(LateNote { late: 7_040_000, section: letter("A"), bar: 3 });
        let expected = Forecast { port: String::new(), latest, late_bars: 2, thinned: 0, lost: 0 };
        assert_eq!(told, [expected]);
        // Twice along the form, and the smaller chord, too, where less is allowed.
        assert_eq!(forecast(&song, 5_700_000).ports[0].late_bars, 4);
        assert_eq!(forecast(&song, 7_040_000).ports[0].late_bars, 0);
    }

    #[test]
    fn each_port_has_a_line_of_its_own() {
        let mut song = song(&[("A", 4)], &[(7680, 10)]);
        let mut ids = song.ids();
        let mut track = Track::pitched(ids.track(), "Bells");
        track.port = "bells".into();
        let mut pass = (*song.sections[0].passes[0]).clone();
        (pass.id, pass.track) = (ids.pass(), track.id);
        pass.notes.truncate(1);
        pass.notes[0].id = ids.note();
        song.tracks.push(Arc::new(track));
        Arc::make_mut(&mut song.sections[0]).passes.push(SharedPass::from(pass));
        let told = forecast(&song, HEARD).ports;
        let late: Vec<(&str, Ns)> =
            told.iter().map(|port| (port.port.as_str(), port.latest.unwrap().late)).collect();
        // A pulse and one note: 1 + 3 bytes.
        assert_eq!(late, [("", 7_040_000), ("bells", 1_280_000)]);
    }

    #[test]
    fn a_flood_of_controllers_is_thinned_and_delays_no_note_by_more_than_a_message() {
        let mut song = song(&[("A", 1)], &[(1920, 1)]);
        let section = Arc::make_mut(&mut song.sections[0]);
        let mut pass = (*section.passes[0]).clone();
        // Two knobs move at each tick, 0.52 ms at 120: twice what the line carries.
        for number in [1, 74] {
            let points = (0..3840)
                .map(|at| Point { at: Tick(at), value: U14::new((at % 128) as u16).unwrap() });
            pass.lanes.push(Lane {
                channel: Channel::default(),
                control: Control::Change(U7::low_bits(number)),
                span: Span::new(Tick(0), Tick(3840)),
                points: points.collect(),
            });
        }
        section.passes[0] = SharedPass::from(pass);
        let told = &forecast(&song, HEARD).ports[0];
        // 2 s of line carry 6,250 bytes: 3,125 values, less the rest.
        assert!((4_300..5_000).contains(&told.thinned), "{told:?}");
        // What is under way (3 bytes at most), a pulse, and the note.
        assert!(told.latest.unwrap().late <= 7 * 320_000, "{told:?}");
        assert_eq!((told.late_bars, told.lost), (0, 0));
    }

    #[test]
    fn an_empty_song_has_no_port() {
        assert_eq!(forecast(&song_of("empty", &[("A", 4)]), HEARD).ports, []);
    }
}
