//! Keys that play chords: the same is heard and recorded, whichever way it comes in.

use super::*;
use crate::fingering::{Announcer, Fingering, Player};
use chaconne_engine::{Config, Engine, Input};
use chaconne_song::{Chord, ChordKeys, KeysPlay, TrackEdit, TrackId};

fn set(rig: &Rig, edit: TrackEdit) {
    let track = rig.status().armed.unwrap();
    rig.command(Command::Edit(Commit::of(Edit::Track(track, edit)))).unwrap();
}

/// Waits until the inputs know what was commanded last: the engine thread tells them before it answers.
fn settled(rig: &Rig) {
    rig.command_and_wait(Command::Click(chaconne_engine::Click::CountIn)).unwrap();
}

#[test]
fn one_key_is_heard_and_recorded_as_a_chord_and_its_release_lets_it_go() {
    let (rig, port) = rig(&[("A", 1)], false);
    set(&rig, TrackEdit::KeysPlay(KeysPlay::Chords));
    rig.command(Command::CountIn(0)).unwrap();
    settled(&rig);
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    rig.press(seven(67), seven(99));
    wait_for("the chord", || rig.status().struck.len() == 3);
    let struck: Vec<u8> = rig.status().struck.iter().map(|key| key.get()).collect();
    assert_eq!((struck, rig.status().holds), (vec![67, 71, 74], true), "G major");
    // What keys play changes while the key is down: its release still lets the chord go.
    set(&rig, TrackEdit::KeysPlay(KeysPlay::Notes));
    settled(&rig);
    rig.lift(seven(67));
    wait_for("the release", || !rig.status().holds);
    rig.command(Command::Stop).unwrap();
    wait_for("a pass", || !rig.status().song.passes_in(&rig.status().song.sections[0]).is_empty());
    let pass = rig.status().song.passes_in(&rig.status().song.sections[0])[0].clone();
    let mut keys: Vec<u8> = pass.notes().iter().map(|note| note.played.key.get()).collect();
    keys.sort_unstable();
    assert_eq!(keys, [67, 71, 74]);
    assert_eq!(rig.shutdown().sounding, 0);
    let heard: Vec<u8> = strokes(&port).into_keys().collect();
    assert_eq!(heard, [67, 71, 74]);
}

/// A song of two bars, C and F, at 120: the chord changes after two seconds.
fn engine(plays: KeysPlay) -> Engine {
    let mut song = song_of("test", &[("A", 2)]);
    let keys = ChordKeys { leading: false, ..ChordKeys::default() };
    let track = Track { keys_play: plays, chord_keys: keys, ..Track::pitched(TrackId(1), "Keys") };
    song.tracks.push(Arc::new(track));
    let chord = |at, symbol: &str| Chord { at: Tick(at), symbol: symbol.parse().unwrap() };
    Arc::make_mut(&mut song.sections[0]).chords = vec![chord(0, "C"), chord(3840, "F")];
    let mut engine = Engine::new(Arc::new(song), Config { lead: 0, ..Config::default() });
    engine.command(0, Command::CountIn(0)).unwrap();
    engine.command(0, Command::Play).unwrap();
    engine.poll(0);
    engine
}

fn sounds(player: &mut Player, stamp: Ns, key: u8) -> Vec<u8> {
    let (channel, key, velocity) = (Channel::default(), seven(key), seven(90));
    let mut out = Vec::new();
    for message in
        [Message::NoteOn { channel, key, velocity }, Message::NoteOff { channel, key, velocity }]
    {
        player.play(stamp, message, |message| {
            if let Message::NoteOn { key, .. } = message {
                out.push(key.get());
            }
        });
    }
    out
}

#[test]
fn a_key_takes_the_chord_of_the_moment_at_which_it_was_played() {
    const MS: Ns = 1_000_000;
    let fingering = Fingering::default();
    let (mut player, mut announcer) = (Player::new(fingering.clone()), Announcer::new(fingering));
    let mut engine = engine(KeysPlay::Chart);
    let (c, f) = (vec![60, 64, 67], vec![65, 69, 72]);
    for at in (0..=1900).step_by(100) {
        engine.poll(at * MS);
    }
    announcer.tell(&engine, 1900 * MS);
    // Half a sixteenth before the bar, 62.5 ms, is early for the next chord.
    assert_eq!(sounds(&mut player, 1937 * MS, 60), c);
    assert_eq!(sounds(&mut player, 1938 * MS, 60), f);
    // It arrives late, through an input with a long latency.
    engine.poll(2100 * MS);
    announcer.tell(&engine, 2100 * MS);
    assert_eq!(sounds(&mut player, 1900 * MS, 60), c);
    assert_eq!(sounds(&mut player, 2100 * MS, 60), f);
}

#[test]
fn what_a_take_plays_is_left_as_it_is() {
    let (rig, port) = rig(&[("A", 1)], false);
    set(&rig, TrackEdit::KeysPlay(KeysPlay::Chords));
    settled(&rig);
    let (channel, key, velocity) = (Channel::default(), seven(60), seven(90));
    rig.keys().play(now(), Message::NoteOn { channel, key, velocity }.into());
    wait_for("the note", || !rig.status().struck.is_empty());
    assert_eq!(rig.status().struck.len(), 1);
    rig.keys().play(now(), Input::Lost);
    wait_for("the release", || !rig.status().holds);
    rig.shutdown();
    assert_eq!(strokes(&port).into_keys().collect::<Vec<_>>(), [60]);
}
