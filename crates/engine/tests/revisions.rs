//! Which tracks a change performs again: those that it affects, and those that share a channel with
//! them. The others play on as they are.

mod bench;

use bench::song;
use chaconne_engine::{Action, Command, Config, Engine, Order, Slot};
use chaconne_song::{
    Channel, Commit, Edit, Feel, Letter, Note, NoteId, Pass, PassEdit, PassId, Placed, SectionEdit,
    Song, Stroke, Track, TrackEdit, TrackId, Transpose, U7,
};
use chaconne_time::{NoteValue, Ns, Span, Tempo, TempoMap, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Four tracks on channels 1 to 4, each with a pass of one bar. The third and the fourth are drums; the
/// second and the fourth are quantised, and strokes of the third and the fourth may be rolls.
fn four_tracks() -> Song {
    let mut song = song(1, 0);
    for id in 1..=4 {
        let (track, name) = (TrackId(u32::from(id)), format!("Track {id}"));
        let made = if id < 3 { Track::pitched(track, &name) } else { Track::drums(track, &name) };
        let feel = if id % 2 == 0 { made.feel.on(NoteValue::SIXTEENTH) } else { made.feel };
        let channel = Channel::from_number(id);
        song.tracks.push(Arc::new(Track { channel, feel, ..made }));
        let mut pass = Pass::empty(PassId(u32::from(id)), track, Tick(3840));
        let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
        let (start, length) = (Tick(0), Tick(100));
        let played = Stroke { start, length, key, velocity, release };
        let (id, channel) = (NoteId(1), Channel::default());
        pass.notes_mut().notes = vec![Note { id, channel, played, placed: Placed::UNCHANGED }];
        song.lay(Letter::A, pass);
    }
    song
}

/// An engine that plays, and the track of each slot.
struct Playing {
    engine: Engine,
    now: Ns,
    tracks: BTreeMap<Slot, u8>,
}

impl Playing {
    fn new(song: Song) -> Playing {
        let mut engine = Engine::new(Arc::new(song), Config { lead: 0, ..Config::default() });
        engine.command(0, Command::Play).unwrap();
        engine.poll(0);
        let tracks = engine.take_orders().filter_map(|order| match order {
            Order::Play(cue) => match cue.action {
                Action::Press { channel, .. } => Some((cue.slot, channel.number())),
                _ => None,
            },
            _ => None,
        });
        let tracks = tracks.filter(|(slot, _)| *slot != Slot::CLICK).collect();
        Playing { engine, now: 0, tracks }
    }

    /// The tracks that a change performs again; 0 for one that was not there before.
    fn revised(&mut self, edit: Edit) -> Vec<u8> {
        self.now += 10_000_000;
        self.engine.command(self.now, Command::Edit(Commit::of(edit))).unwrap();
        let revised = self.engine.take_orders().filter_map(|order| match order {
            Order::Revise { slot, .. } if slot != Slot::CLICK => Some(slot),
            _ => None,
        });
        let tracks = revised.map(|slot| self.tracks.get(&slot).copied().unwrap_or(0));
        tracks.collect::<BTreeSet<u8>>().into_iter().collect()
    }
}

fn section(edit: SectionEdit) -> Edit {
    Edit::Section(Letter::A, edit)
}

#[test]
fn a_change_performs_the_tracks_again_that_it_affects_and_no_others() {
    let mut playing = Playing::new(four_tracks());
    assert_eq!(playing.tracks.values().copied().collect::<BTreeSet<_>>(), (1..=4).collect());
    let transpose = |semitones| Transpose::new(semitones).unwrap();
    let covers = PassEdit::Covers(vec![Span::new(Tick(0), Tick(960))]);
    let slower = TempoMap::new(Tempo::parse_bpm("90").unwrap());
    let new =
        Arc::new(Track { channel: Channel::from_number(5), ..Track::pitched(TrackId(9), "Pad") });
    let cases: [(Edit, &[u8]); 10] = [
        (Edit::Title("Evening".into()), &[]),
        (Edit::Track(TrackId(1), TrackEdit::Mute(true)), &[1]),
        (Edit::Pass(PassId(2), covers), &[2]),
        (section(SectionEdit::Mute(PassId(3), true)), &[3]),
        // Drums are not transposed.
        (Edit::Transpose(transpose(2)), &[1, 2]),
        (section(SectionEdit::Transpose(transpose(-1))), &[1, 2]),
        // Which strokes are a roll depends on the tempo, if rolls are moved at all.
        (section(SectionEdit::Tempo(slower)), &[4]),
        (Edit::AddTrack { at: 4, track: new }, &[0]),
        // Which layer moves a controller depends on the layers of other tracks.
        (section(SectionEdit::Move(PassId(4), 0)), &[1, 2, 3, 4]),
        (Edit::RemoveTrack(TrackId(9)), &[0]),
    ];
    for (edit, tracks) in cases {
        assert_eq!(playing.revised(edit.clone()), tracks, "{edit:?}");
    }
}

#[test]
fn the_feel_of_a_pass_decides_whether_its_strokes_may_be_a_roll() {
    let mut song = four_tracks();
    let rolls = Feel { rolls: true, ..Feel::off(true).on(NoteValue::SIXTEENTH) };
    Arc::make_mut(song.passes.get_mut(&PassId(1)).unwrap()).feel = Some(rolls);
    let mut playing = Playing::new(song);
    let slower = TempoMap::new(Tempo::parse_bpm("90").unwrap());
    assert_eq!(playing.revised(section(SectionEdit::Tempo(slower))), [1, 4]);
}

#[test]
fn a_track_is_performed_again_with_another_on_its_channel_of_the_same_port_only() {
    for (port, revised) in [("", &[1, 2][..]), ("other", &[1])] {
        let mut song = four_tracks();
        let second = Arc::make_mut(&mut song.tracks[1]);
        (second.channel, second.port) = (Channel::from_number(1), port.into());
        let ports = vec![String::new(), "other".into()];
        let config = Config { lead: 0, ports, ..Config::default() };
        let mut engine = Engine::new(Arc::new(song), config);
        engine.command(0, Command::Play).unwrap();
        engine.poll(0);
        engine.take_orders().for_each(drop);
        engine.command(10_000_000, Command::MuteTrack(TrackId(1), true)).unwrap();
        let count = engine.take_orders().filter(|order| matches!(order, Order::Revise { .. }));
        assert_eq!(count.count(), revised.len(), "port '{port}'");
    }
}
