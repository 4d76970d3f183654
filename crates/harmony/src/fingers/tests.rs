use super::*;
use chaconne_song::Stack;
use proptest::prelude::*;

fn on(key: u8) -> Message {
    let (channel, velocity) = (Channel::default(), U7::low_bits(90));
    Message::NoteOn { channel, key: U7::low_bits(key), velocity }
}

fn off(key: u8) -> Message {
    let (channel, velocity) = (Channel::default(), U7::low_bits(10));
    Message::NoteOff { channel, key: U7::low_bits(key), velocity }
}

/// What keys play over a chart of chords, each from its moment on.
fn keys_now(plays: KeysPlay, key: &str, chart: &[(Ns, &str)]) -> KeysNow {
    let key = key.parse().ok();
    let harmony = |&(from, chord): &(Ns, &str)| (from, Harmony { key, chord: chord.parse().ok() });
    KeysNow {
        plays,
        keys: ChordKeys::default(),
        take: None,
        harmonies: chart.iter().map(harmony).collect(),
    }
}

/// What messages at their moments sound: + for a press, - for a release.
fn played(fingers: &mut Fingers, now: &KeysNow, messages: &[(Ns, Message)]) -> String {
    let mut words = Vec::new();
    for &(stamp, message) in messages {
        fingers.play(stamp, message, now, |sounds| match sounds {
            Message::NoteOn { key, .. } => words.push(format!("+{}", key.get())),
            Message::NoteOff { key, .. } => words.push(format!("-{}", key.get())),
            Message::KeyPressure { key, value, .. } => {
                words.push(format!("{}:{}", key.get(), value.get()));
            }
            other => words.push(format!("{other:?}")),
        });
    }
    words.join(" ")
}

fn at_once(now: &KeysNow, messages: &[Message]) -> String {
    let messages: Vec<(Ns, Message)> = messages.iter().map(|&message| (0, message)).collect();
    played(&mut Fingers::default(), now, &messages)
}

#[test]
fn one_key_plays_a_chord_and_its_release_lets_it_go() {
    let now = keys_now(KeysPlay::Chords, "C major", &[(0, "")]);
    // C, then G by the smallest moves: C to B, E to D, G stays.
    assert_eq!(
        at_once(&now, &[on(60), off(60), on(67), off(67)]),
        "+60 +64 +67 -60 -64 -67 +59 +62 +67 -59 -62 -67"
    );
    let apart = KeysNow {
        keys: ChordKeys { leading: false, stack: Stack::Seventh, ..ChordKeys::default() },
        ..now
    };
    assert_eq!(at_once(&apart, &[on(60), on(65)]), "+60 +64 +67 +71 +65 +69 +72 +76");
}

#[test]
fn the_first_chord_of_a_take_leads_on_from_none() {
    let mut now = keys_now(KeysPlay::Chords, "C major", &[(0, "")]);
    let mut fingers = Fingers::default();
    let g = [(0, on(67)), (0, off(67))];
    let c = [(0, on(60)), (0, off(60))];
    played(&mut fingers, &now, &g);
    now.take = Some(Tick(0));
    assert_eq!(played(&mut fingers, &now, &c), "+60 +64 +67 -60 -64 -67", "root position");
    assert_eq!(played(&mut fingers, &now, &g), "+59 +62 +67 -59 -62 -67", "then it leads");
    now.take = None;
    assert_eq!(played(&mut fingers, &now, &c), "+60 +64 +67 -60 -64 -67");
    played(&mut fingers, &now, &g);
    now.take = Some(Tick(7680));
    assert_eq!(played(&mut fingers, &now, &[(0, on(67))]), "+67 +71 +74");
}

#[test]
fn a_note_of_two_chords_is_released_with_the_last_of_them() {
    let mut now = keys_now(KeysPlay::Chords, "C major", &[(0, "")]);
    now.keys.leading = false;
    // C and E minor share E and G.
    assert_eq!(
        at_once(&now, &[on(60), on(64), off(60), off(64)]),
        "+60 +64 +67 +64 +67 +71 -60 -64 -67 -71"
    );
}

#[test]
fn an_early_key_takes_the_chord_that_it_is_early_for() {
    let now = keys_now(KeysPlay::Chart, "C major", &[(0, "C"), (900, "F"), (2000, "N.C.")]);
    let mut fingers = Fingers::default();
    let messages = [(899, on(50)), (950, off(50)), (950, on(50)), (2100, off(50)), (2100, on(50))];
    // The chord before it is let go though the chart has gone on; where there is no chord, nothing sounds.
    assert_eq!(
        played(&mut fingers, &now, &messages),
        "+48 +52 +55 -48 -52 -55 +48 +53 +57 -48 -53 -57"
    );
    assert_eq!(played(&mut fingers, &now, &[(2200, off(50))]), "");
}

#[test]
fn keys_go_to_the_nearest_note_of_the_chord_or_of_the_scale() {
    let chart = [(0, "Am"), (100, "N.C.")];
    let chord = keys_now(KeysPlay::Chord, "A minor", &chart);
    // A, C and E; of two the lower one.
    assert_eq!(at_once(&chord, &[on(60), on(61), on(62), on(66)]), "+60 +60 +60 +64");
    let later = |message| (150, message);
    assert_eq!(played(&mut Fingers::default(), &chord, &[on(61), on(66)].map(later)), "+60 +65");
    let scale = keys_now(KeysPlay::Scale, "Eb major", &chart);
    assert_eq!(at_once(&scale, &[on(61), on(64), on(66)]), "+60 +63 +65");
    let none = KeysNow { harmonies: Vec::new(), ..scale };
    assert_eq!(at_once(&none, &[on(61), on(63)]), "+60 +62", "no key is C major");
}

#[test]
fn pressure_on_a_key_goes_to_all_that_it_sounds_and_other_messages_pass() {
    let now = keys_now(KeysPlay::Chords, "C major", &[(0, "")]);
    let channel = Channel::default();
    let press = Message::KeyPressure { channel, key: U7::low_bits(60), value: U7::low_bits(5) };
    assert_eq!(at_once(&now, &[on(60), press]), "+60 +64 +67 60:5 64:5 67:5");
    assert_eq!(at_once(&now, &[press, off(60), Message::Clock]), "60:5 -60 Clock");
}

#[test]
fn a_key_with_its_own_chord_plays_it_over_a_chart_too() {
    let mut now = keys_now(KeysPlay::Chart, "C major", &[(0, "C")]);
    now.keys.own.insert(U7::low_bits(61), "D7".parse().unwrap());
    now.keys.leading = false;
    assert_eq!(at_once(&now, &[on(61), on(62)]), "+62 +66 +69 +72 +60 +64 +67");
}

#[test]
fn a_key_pressed_before_keys_played_chords_is_released_and_so_is_a_chord_after() {
    let notes = keys_now(KeysPlay::Notes, "C major", &[]);
    let chords = keys_now(KeysPlay::Chords, "C major", &[]);
    let mut fingers = Fingers::default();
    let steps = [
        (&notes, on(64), "+64"),
        (&notes, on(70), "+70"),
        (&chords, on(60), "+60 +64 +67"),
        (&chords, off(70), "-70"),
        // The chord has struck it again.
        (&chords, off(64), ""),
        (&notes, on(64), "+64"),
        (&notes, off(60), "-60 -67"),
        (&notes, off(64), "-64"),
        (&notes, off(64), "-64"),
    ];
    for (now, message, sounds) in steps {
        assert_eq!(played(&mut fingers, now, &[(0, message)]), sounds, "{message:?}");
    }
}

#[test]
fn the_harmony_that_is_heard_is_transposed_and_spelled_in_its_key() {
    let heard = Harmony::heard("C major".parse().ok(), "F#m7b5/E".parse().ok(), 3);
    assert_eq!(heard.key.unwrap().to_string(), "Eb major");
    assert_eq!(heard.chord.unwrap().to_string(), "Am7b5/G");
    assert_eq!(Harmony::heard(None, "C".parse().ok(), 0).chord.unwrap().to_string(), "C");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is played while what the keys play changes: when all keys are up, nothing sounds, and in
    /// between each note that sounds belongs to a key that is down.
    #[test]
    fn nothing_hangs(
        deeds in prop::collection::vec((0u8..12, any::<bool>(), 0usize..5, 0u8..7, any::<bool>()), 0..60),
    ) {
        let mut fingers = Fingers::default();
        let mut sounds: BTreeMap<U7, bool> = BTreeMap::new();
        let mut down: std::collections::BTreeSet<u8> = Default::default();
        let chords = ["C", "F#m7b5/E", "N.C.", "", "Bb13", "G7", "Am"];
        let mut play = |message, now: &KeysNow| {
            let mut out = Vec::new();
            fingers.play(0, message, now, |message| out.push(message));
            for message in out {
                match message {
                    Message::NoteOn { key, .. } => { sounds.insert(key, true); }
                    Message::NoteOff { key, .. } => { sounds.insert(key, false); }
                    _ => {}
                }
            }
            sounds.values().filter(|&&sounds| sounds).count()
        };
        let last = keys_now(KeysPlay::Chords, "C major", &[]);
        for (key, press, plays, chord, leading) in deeds {
            let key = 58 + key;
            let mut now = keys_now(KeysPlay::ALL[plays], "D minor", &[(0, chords[usize::from(chord)])]);
            now.keys.leading = leading;
            let count = if press { down.insert(key); play(on(key), &now) }
                else { down.remove(&key); play(off(key), &now) };
            prop_assert!(!down.is_empty() || count == 0);
        }
        let mut count = 0;
        for key in 58..70 {
            count = play(off(key), &last);
        }
        prop_assert_eq!(count, 0);
    }
}
