//! `perform`: the one function that turns a song into timed events.

use crate::performer::Performer;
use crate::plan::Mix;
use crate::{Action, Address, Cue, Hand, Ledger, Message, PortIx, Route, Slot, View, Voice, Wire};
use chaconne_song::{Channel, Song, TrackId, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// A message, its tick, its track and its port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// The transport tick at which it is due.
    pub at: Tick,
    /// The track it comes from.
    pub track: TrackId,
    /// The port it goes to, as an index into [`Performance::ports`].
    pub port: PortIx,
    /// The message.
    pub wire: Wire,
    /// For a note-on, the note and the cycle of its pass; else `None`.
    pub voice: Option<Voice>,
}

/// Everything a song plays over a span of a route.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Performance {
    /// The span that was performed.
    pub span: Span,
    /// The ports' names. Tracks without a port of their own play on the first.
    pub ports: Vec<String>,
    /// How many of the first events set up the instruments: the programs, controllers and
    /// system-exclusive messages in force at the span's start. A player sends them before it.
    pub set_up: usize,
    /// The events in the order in which they are sent. After the span's end come only the releases
    /// of notes that still sound, and then the lifts of sustain pedals that are down. The scheduler
    /// brings all other controllers to rest itself, as it sends Stop itself.
    pub events: Vec<Event>,
}

/// How many ticks are performed at a time: sixteen bars of 4/4. Sorting part by part is faster than
/// sorting everything at once, and each part looks at every controller only once.
const PART: Tick = Tick(16 * 4 * 960);

/// Performs `song` along `route` over `span`. The same arguments give the same events.
///
/// It starts with the state in force at the span's start (bank, program, levels, controllers, bend,
/// pedal). Notes that started before the span are not struck again.
pub fn perform(song: &Song, route: &Route, span: Span, view: View) -> Performance {
    let mut performer = Performer::new(view, ports(song));
    let letters: Vec<_> = route.entries.iter().map(|entry| entry.section).collect();
    performer.start(span.from);
    performer.compile(song, &Mix::default(), &letters);
    performer.route(&route.entries, span.from);
    let ports = performer.planner().ports().to_vec();
    let mut wires = Wires::new(ports.len(), performer.planner().tracks_by_slot());
    let mut cues = Vec::new();
    let mut set_up = 0;
    let mut at = span.from;
    while at < span.to {
        at = (at + PART).min(span.to);
        let before = performer.advance(at, &mut cues);
        if before > 0 {
            wires.take(cues.drain(..before));
            set_up = wires.events.len();
        }
        wires.take(cues.drain(..));
    }
    performer.ring_out(&mut cues);
    wires.take(cues.drain(..));
    Performance { span, ports, set_up, events: wires.end(span.to) }
}

/// The ports that a song names, after the one without a name.
fn ports(song: &Song) -> Vec<String> {
    let mut ports = vec![String::new()];
    for track in &song.tracks {
        if !ports.contains(&track.port) && ports.len() < PortIx::MOST {
            ports.push(track.port.clone());
        }
    }
    ports
}

/// Turns cues into events, with the help of a ledger.
struct Wires {
    ledger: Ledger,
    events: Vec<Event>,
    /// The track of each slot, by its number.
    owners: Vec<Option<TrackId>>,
    /// The track that struck each key last: the key's release belongs to it too.
    strikers: Vec<Option<TrackId>>,
    /// The track that moved a controller last on each channel.
    movers: Vec<Option<TrackId>>,
}

/// The index of a channel in a table of all channels of all ports.
fn channel_cell(port: PortIx, channel: Channel) -> usize {
    usize::from(port.0) * 16 + usize::from(channel.wire())
}

impl Wires {
    fn new(ports: usize, tracks: BTreeMap<Slot, TrackId>) -> Wires {
        let count = tracks.last_key_value().map_or(0, |(slot, _)| usize::from(slot.0) + 1);
        let mut owners = vec![None; count];
        for (slot, track) in tracks {
            owners[usize::from(slot.0)] = Some(track);
        }
        Wires {
            ledger: Ledger::new(ports, 0),
            events: Vec::new(),
            owners,
            strikers: vec![None; ports * 16 * 128],
            movers: vec![None; ports * 16],
        }
    }

    /// Adds the events of cues.
    fn take(&mut self, cues: impl ExactSizeIterator<Item = Cue>) {
        self.ledger.reserve(cues.len());
        self.events.reserve(cues.len());
        for cue in cues {
            self.send(cue);
        }
    }

    fn send(&mut self, cue: Cue) {
        let Cue { at, slot, port, action, .. } = cue;
        let owner = self.owners.get(usize::from(slot.0)).copied().flatten();
        let Some(track) = owner else { return };
        let Wires { ledger, events, strikers, movers, .. } = self;
        let struck = match action {
            Action::Press { voice, .. } => Some(voice),
            _ => None,
        };
        let mut key = |port: PortIx, message: Message| {
            let whose = striker(strikers, track, port, message);
            let voice = struck.filter(|_| matches!(message, Message::NoteOn { .. }));
            events.push(Event { at, track: whose, port, wire: Wire::Message(message), voice });
        };
        match action {
            Action::Press { channel, key: pressed, velocity, voice } => {
                let address = Address { port, channel, key: pressed };
                ledger.press(address, velocity, slot, voice, &mut key);
            }
            Action::Lift { channel, key: lifted, velocity, voice } => {
                let address = Address { port, channel, key: lifted };
                ledger.lift(address, velocity, slot, voice, &mut key);
            }
            Action::Send(message) => {
                let Some(message) = ledger.resolve(port, message, Hand::Song) else { return };
                let cell = message.channel().map(|channel| channel_cell(port, channel));
                if let Some(mover) = cell.and_then(|cell| movers.get_mut(cell)) {
                    *mover = Some(track);
                }
                events.push(Event { at, track, port, wire: Wire::Message(message), voice: None });
            }
            Action::SysEx(bytes) => {
                events.push(Event { at, track, port, wire: Wire::SysEx(bytes), voice: None });
            }
        }
    }

    /// Releases what still sounds and lifts the sustain pedals, at `end` or at the last event if that
    /// is later. Other controllers stay where they are, so an imported file that leaves one away from
    /// rest is exported with the same ending.
    fn end(self, end: Tick) -> Vec<Event> {
        let Wires { mut ledger, mut events, movers, .. } = self;
        let at = events.last().map_or(end, |event| event.at.max(end));
        ledger.halt(&mut |port, message| {
            if !is_release(message) {
                return;
            }
            let cell = message.channel().map(|channel| channel_cell(port, channel));
            let track = cell.and_then(|cell| movers.get(cell).copied().flatten());
            events.extend(track.map(|track| Event {
                at,
                track,
                port,
                wire: Wire::Message(message),
                voice: None,
            }));
        });
        events
    }
}

/// Whether a message releases a key or lifts a sustain pedal.
fn is_release(message: Message) -> bool {
    match message {
        Message::NoteOff { .. } => true,
        Message::Change { controller, .. } => controller.get() == 64,
        _ => false,
    }
}

/// The track that a note message belongs to. A note-on belongs to `track`, which is remembered for
/// the note-off.
fn striker(
    strikers: &mut [Option<TrackId>],
    track: TrackId,
    port: PortIx,
    message: Message,
) -> TrackId {
    let place = |channel, key: U7| channel_cell(port, channel) * 128 + usize::from(key.get());
    match message {
        Message::NoteOn { channel, key, .. } => {
            if let Some(striker) = strikers.get_mut(place(channel, key)) {
                *striker = Some(track);
            }
            track
        }
        Message::NoteOff { channel, key, .. } => {
            strikers.get(place(channel, key)).copied().flatten().unwrap_or(track)
        }
        _ => track,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Build, spell};
    use chaconne_song::{Control, Feel, Lane, Point, U7, U14};
    use chaconne_time::NoteValue;
    use std::sync::Arc;

    fn over(song: &Song, rounds: u32) -> String {
        let route = Route::rounds(song, song.sections[0].letter, rounds).unwrap();
        spell(&perform(song, &route, route.span(), View::Corrected))
    }

    #[test]
    fn each_note_on_names_its_note_and_its_pass() {
        let song = Build::new(1).pass(0, 3840, &[(0, 100, 60), (960, 100, 62)]).song();
        let route = Route::rounds(&song, song.sections[0].letter, 2).unwrap();
        let events = perform(&song, &route, route.span(), View::Corrected).events;
        let on = |event: &&Event| matches!(event.wire, Wire::Message(Message::NoteOn { .. }));
        let voices: Vec<_> = events.iter().filter(on).map(|event| event.voice.unwrap()).collect();
        let pass = song.passes.keys().next().copied().unwrap();
        let notes: Vec<_> = song.passes[&pass].notes().iter().map(|note| note.id).collect();
        let voice = |note, cycle| Voice { pass, note, cycle: Tick(cycle) };
        let both = |cycle| notes.iter().map(move |&note| voice(note, cycle));
        assert_eq!(voices, both(0).chain(both(3840)).collect::<Vec<_>>());
        assert!(events.iter().filter(|event| !on(event)).all(|event| event.voice.is_none()));
    }

    #[test]
    fn a_pass_repeats_after_its_length() {
        let song = Build::new(1).pass(0, 3840, &[(0, 100, 60), (960, 100, 62)]).song();
        assert_eq!(over(&song, 2), "0+60 100-60 960+62 1060-62 3840+60 3940-60 4800+62 4900-62");
    }

    #[test]
    fn an_early_note_sounds_before_the_top_and_is_not_lost_at_the_start() {
        let song = Build::new(1).pass(0, 3840, &[(-20, 100, 60)]).song();
        assert_eq!(over(&song, 2), "0+60 100-60 3820+60 3920-60");
    }

    #[test]
    fn a_held_note_sounds_across_the_seam_once() {
        let song = Build::new(1).pass(0, 3840, &[(3800, 200, 60)]).song();
        assert_eq!(over(&song, 2), "3800+60 4000-60 7640+60 7840-60");
    }

    #[test]
    fn a_note_longer_than_its_pass_is_cut_where_it_starts_again() {
        let song = Build::new(1).pass(0, 3840, &[(100, 9000, 60)]).song();
        assert_eq!(over(&song, 2), "100+60 3940-60 3940+60 7780-60");
    }

    #[test]
    fn a_three_beat_figure_and_a_long_line_keep_their_own_time() {
        let short = Build::new(1).pass(0, 2880, &[(0, 10, 60)]).song();
        assert_eq!(over(&short, 2), "0+60 10-60 2880+60 2890-60 5760+60 5770-60");
        let long = Build::new(1).pass(0, 7680, &[(0, 10, 60), (3840, 10, 62)]).song();
        assert_eq!(over(&long, 2), "0+60 10-60 3840+62 3850-62");
    }

    #[test]
    fn one_key_in_two_passes_is_released_when_the_last_lets_go() {
        let song =
            Build::new(1).pass(0, 3840, &[(0, 500, 60)]).pass(0, 3840, &[(200, 100, 60)]).song();
        assert_eq!(over(&song, 1), "0+60 200-60 200+60 500-60");
    }

    #[test]
    fn two_strokes_moved_to_the_same_tick_both_sound() {
        let feel = Feel::off(false).on(NoteValue::SIXTEENTH);
        let song = Build::new(1).feel(0, feel).pass(0, 3840, &[(-60, 50, 38), (70, 50, 38)]).song();
        assert_eq!(over(&song, 1), "0+38 0-38 0+38 50-38");
    }

    #[test]
    fn the_played_view_leaves_feel_out() {
        let feel = Feel::off(false).on(NoteValue::SIXTEENTH);
        let song = Build::new(1).feel(0, feel).pass(0, 3840, &[(251, 50, 38)]).song();
        assert_eq!(over(&song, 1), "240+38 290-38");
        let route = Route::form(&song).unwrap();
        let played = perform(&song, &route, route.span(), View::Played);
        assert_eq!(spell(&played), "251+38 301-38");
    }

    #[test]
    fn a_muted_track_and_a_muted_pass_are_silent() {
        let song = Build::new(2)
            .pass(0, 3840, &[(0, 10, 60)])
            .pass(1, 3840, &[(0, 10, 62)])
            .pass(1, 3840, &[(0, 10, 64)])
            .mute_pass(1)
            .mute_track(0)
            .song();
        assert_eq!(over(&song, 1), "0+64 10-64");
    }

    #[test]
    fn a_cover_silences_the_layers_under_it() {
        let song = Build::new(1)
            .pass(0, 3840, &[(0, 3000, 60), (970, 10, 62), (1900, 10, 63), (2000, 10, 64)])
            .pass(0, 3840, &[(960, 10, 72)])
            .cover(1, 960, 1920)
            .song();
        // 62 is inside; 63 is meant for 1920, where the cover has ended; 60 is cut at 960.
        assert_eq!(over(&song, 1), "0+60 960-60 960+72 970-72 1900+63 1910-63 2000+64 2010-64");
    }

    #[test]
    fn a_shared_pass_sounds_in_both_sections_and_has_a_mute_in_each() {
        let build = Build::new(1).pass(0, 3840, &[(0, 10, 60)]).section("B").share(1, 0);
        let both = build.form("A B").song();
        let heard = |song: &Song| {
            let route = Route::form(song).unwrap();
            spell(&perform(song, &route, route.span(), View::Corrected))
        };
        assert_eq!(heard(&both), "0+60 10-60 3840+60 3850-60");
        let mut one = both;
        Arc::make_mut(&mut one.sections[0]).layers[0].mute = true;
        assert_eq!(heard(&one), "3840+60 3850-60");
    }

    #[test]
    fn transposition_of_song_and_section_moves_pitched_tracks_only() {
        let build = Build::new(2).pass(0, 3840, &[(0, 10, 60)]).pass(1, 3840, &[(0, 20, 36)]);
        let mut song = build.section("B").share(1, 0).transpose(-2, 1, 5).form("A B").song();
        Arc::make_mut(&mut song.tracks[1]).pitched = false;
        let route = Route::form(&song).unwrap();
        let heard = spell(&perform(&song, &route, route.span(), View::Corrected));
        assert_eq!(heard, "0+36 0+58 10-58 20-36 3840+63 3850-63");
    }

    #[test]
    fn notes_ring_out_when_the_form_changes_section() {
        let mut build = Build::new(1).pass(0, 3840, &[(3800, 200, 60)]);
        build = build.section("B").pass_in(1, 0, 3840, &[(0, 10, 48), (-30, 50, 50)]);
        let song = build.form("A B").song();
        let route = Route::form(&song).unwrap();
        let events = spell(&perform(&song, &route, route.span(), View::Corrected));
        assert_eq!(events, "3800+60 3810+50 3840+48 3850-48 3860-50 4000-60");
    }

    #[test]
    fn any_pass_holds_sustain_down_and_the_top_pass_moves_other_controllers() {
        let lane = |control, points: &[(i64, u16)], from, to| Lane {
            channel: Default::default(),
            control,
            span: Span::new(Tick(from), Tick(to)),
            points: points
                .iter()
                .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
                .collect(),
        };
        let wheel = Control::Change(U7::low_bits(1));
        let song = Build::new(1)
            .pass(0, 3840, &[])
            .lane(0, lane(Control::SUSTAIN, &[(0, 127), (2000, 0)], 0, 2001))
            .lane(0, lane(wheel, &[(0, 10), (3000, 20)], 0, 3840))
            .pass(0, 3840, &[])
            .lane(1, lane(Control::SUSTAIN, &[(1000, 127), (1500, 0)], 1000, 1501))
            .lane(1, lane(wheel, &[(500, 90)], 500, 1000))
            .song();
        assert_eq!(over(&song, 1), "0c1=10 0c64=127 500c1=90 1000c1=10 2000c64=0 3000c1=20");
    }

    #[test]
    fn a_pedal_held_over_the_seam_stays_down_across_it() {
        let down = Lane {
            channel: Default::default(),
            control: Control::SUSTAIN,
            span: Span::new(Tick(3000), Tick(4001)),
            points: vec![
                Point::step(Tick(3000), U7::MAX.into()),
                Point::step(Tick(4000), U14::default()),
            ],
        };
        let song = Build::new(1).pass(0, 3840, &[]).lane(0, down).song();
        assert_eq!(over(&song, 2), "3000c64=127 4000c64=0 6840c64=127 7680c64=0");
    }

    #[test]
    fn a_program_after_a_bank_change_is_sent_even_if_its_number_is_the_same() {
        // MIDI 1.0: a bank takes effect at the next program change.
        let lane = |control, points: &[(i64, u16)]| Lane {
            channel: Default::default(),
            control,
            span: Span::new(Tick(points[0].0), Tick(3840)),
            points: points
                .iter()
                .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
                .collect(),
        };
        let bank = Control::Change(U7::low_bits(0));
        let song = Build::new(1)
            .pass(0, 3840, &[])
            .lane(0, lane(bank, &[(0, 0), (960, 1)]))
            .lane(0, lane(Control::Program, &[(0, 5), (960, 5)]))
            .song();
        let route = Route::form(&song).unwrap();
        let performance = perform(&song, &route, route.span(), View::Corrected);
        let order: Vec<(i64, bool)> = performance
            .events
            .iter()
            .map(|event| {
                let program = matches!(event.wire, Wire::Message(Message::Program { .. }));
                (event.at.0, program)
            })
            .collect();
        assert_eq!(order, [(0, false), (0, true), (960, false), (960, true)]);
    }
}
