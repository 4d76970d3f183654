//! Settings that step to their next value: all commands given at the same moment count, whatever the
//! status showed then. Also which track is armed when tracks are added and removed.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{
    Action, Click, Command, Config, Cue, Engine, Mode, Order, Rounds, Setting, Slot, Status,
    Transport,
};
use chaconne_song::{Feel, Letter, Pass, PassId, Section, Song, TrackId};
use chaconne_time::{Metre, MetreMap, NoteValue, Tempo, TempoMap, TempoPoint, Tick};
use std::sync::Arc;

/// Gives the same command ten times at one moment.
fn ten(b: &mut Bench, command: &Command) {
    (0..10).for_each(|_| assert!(b.command(command.clone())));
}

fn status(b: &Bench) -> Status {
    b.engine.status(b.now)
}

#[test]
fn ten_tempo_steps_at_once_all_count_and_are_one_step_of_undo() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Play);
    b.to(1500);
    ten(&mut b, &Command::StepTempo(1));
    b.to(2000);
    assert_eq!(status(&b).tempo.to_string(), "130");
    ten(&mut b, &Command::StepTempo(-2));
    b.to(2500);
    assert_eq!(status(&b).tempo.to_string(), "110");
    b.command(Command::Undo);
    b.to(3000);
    assert_eq!(status(&b).tempo.to_string(), "120");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn every_setting_returns_to_its_first_value() {
    let mut b = Bench::new(song(2, 1));
    let track = TrackId(1);
    ten(&mut b, &Command::Next(Setting::Mode));
    assert_eq!(status(&b).mode, Mode::Replace, "three modes");
    let before = status(&b);
    for setting in [
        Setting::MuteTrack(track),
        Setting::SoloTrack(track),
        Setting::Quantise(track, NoteValue::SIXTEENTH),
    ] {
        let changed = |b: &Bench| {
            let now = status(b);
            now.song != before.song || now.solo_tracks != before.solo_tracks
        };
        b.command(Command::Next(setting));
        assert!(changed(&b), "{setting:?}");
        b.command(Command::Next(setting));
        assert!(!changed(&b), "{setting:?}");
        ten(&mut b, &Command::Next(setting));
        assert!(!changed(&b), "{setting:?}");
    }
    assert!(!b.command(Command::Next(Setting::MuteTrack(TrackId(99)))));
}

#[test]
fn the_mute_and_the_solo_of_a_layer_are_switches() {
    let mut song = song(2, 1);
    let (pass, other) = (PassId(30), PassId(31));
    for id in [pass, other] {
        song.lay(Letter::A, Pass::empty(id, TrackId(1), Tick(3840)));
    }
    let mut b = Bench::new(song);
    let muted = |b: &Bench| status(b).song.sections[0].layer(pass).unwrap().mute;
    for times in [1, 10, 1] {
        let before = muted(&b);
        (0..times).for_each(|_| {
            assert!(b.command(Command::Next(Setting::MutePass(Letter::A, pass))));
        });
        assert_eq!(muted(&b), before ^ (times % 2 == 1));
        let soloed = |b: &Bench| status(b).solo_passes.contains(&other);
        let before = soloed(&b);
        (0..times).for_each(|_| assert!(b.command(Command::Next(Setting::SoloPass(other)))));
        assert_eq!(soloed(&b), before ^ (times % 2 == 1));
    }
    assert_eq!((muted(&b), status(&b).solo_passes.len()), (false, 0));
    assert!(!b.command(Command::Next(Setting::MutePass(Letter::A, PassId(99)))));
    let elsewhere = "B".parse().unwrap();
    assert!(!b.command(Command::Next(Setting::MutePass(elsewhere, pass))));
}

#[test]
fn pull_and_reach_go_up_to_a_hundred_percent() {
    let mut b = Bench::new(song(2, 1));
    let off = Feel::off(false);
    for (pull, reach, fits) in [(0, 0, true), (100, 100, true), (101, 0, false), (0, 101, false)] {
        let feel = Feel { pull, reach, ..off };
        assert_eq!(b.command(Command::Feel(TrackId(1), feel)), fits, "{pull} {reach}");
        assert_eq!(status(&b).song.tracks[0].feel == feel, fits);
    }
}

#[test]
fn volume_and_pan_step_from_where_they_are_and_a_run_of_steps_is_undone_at_once() {
    let mut b = Bench::new(song(2, 1));
    let levels = |b: &Bench| {
        let levels = status(b).song.tracks[0].levels;
        (levels.volume.map(|volume| volume.get()), levels.pan.map(|pan| pan.get()))
    };
    assert_eq!(levels(&b), (None, None));
    ten(&mut b, &Command::StepVolume(TrackId(1), -4));
    assert_eq!(levels(&b), (Some(60), None));
    ten(&mut b, &Command::StepPan(TrackId(1), 10));
    assert_eq!(levels(&b), (Some(60), Some(127)));
    b.command(Command::Undo);
    assert_eq!(levels(&b), (Some(60), None));
    b.command(Command::Undo);
    assert_eq!(levels(&b), (None, None));
    ten(&mut b, &Command::StepVolume(TrackId(1), 127));
    ten(&mut b, &Command::StepPan(TrackId(1), -128));
    assert_eq!(levels(&b), (Some(127), Some(0)));
    assert!(!b.command(Command::StepVolume(TrackId(9), 1)));
}

#[test]
fn a_switch_asked_for_in_one_moment_is_turned_each_time() {
    for times in 1..4 {
        let on = times % 2 == 1;
        let mut b = Bench::new(song(2, 1));
        (0..times).for_each(|_| assert!(b.command(Command::Next(Setting::Playing))));
        assert_eq!(status(&b).transport != Transport::Stopped, on, "{times}");
        let mut b = Bench::new(song(2, 1));
        b.command(Command::CountIn(1));
        (0..times).for_each(|_| assert!(b.command(Command::Next(Setting::Recording))));
        // Recording that is called off leaves the count-in going.
        assert_eq!((status(&b).recording, status(&b).transport), (on, Transport::CountingIn));
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn recording_called_off_in_the_count_in_says_that_the_song_plays() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.to(-1000);
    b.command(Command::Record(false));
    assert_eq!(status(&b).said.1, "recording cancelled: the song plays after the count-in");
    b.press(100, 60);
    b.lift(200, 60);
    b.to(4000);
    assert_eq!((status(&b).transport, b.passes().len()), (Transport::Rolling, 0));
    let said = status(&b).said;
    b.command(Command::Stop);
    b.command(Command::Record(true));
    b.to(-1000);
    b.command(Command::Stop);
    assert_eq!(status(&b).said, said, "a stop in the count-in says nothing of the kind");
    b.check_wire();
}

#[test]
fn the_position_moves_bar_by_bar_while_stopped() {
    let mut b = Bench::new(song(16, 1));
    ten(&mut b, &Command::LocateBars(1));
    assert_eq!(status(&b).place.bar, 11);
    assert!(b.command(Command::LocateBars(-3)));
    assert_eq!(status(&b).place.bar, 8);
    for (bars, bar) in [(i32::MAX, 16), (i32::MIN, 1)] {
        assert!(b.command(Command::LocateBars(bars)));
        assert_eq!(status(&b).place.bar, bar);
    }
    b.command(Command::Play);
    assert!(!b.command(Command::LocateBars(1)));
}

#[test]
fn when_the_armed_track_is_removed_the_one_armed_before_it_is_armed() {
    let mut b = Bench::new(song(2, 3));
    b.command(Command::Arm(TrackId(2)));
    let add = |name: &str| Command::AddTrack { name: name.into(), drums: false, program: None };
    b.command(add("one"));
    let one = status(&b).armed;
    b.command(add("two"));
    let two = status(&b).armed;
    let mut after = |command: Command| {
        b.command(command);
        status(&b).armed
    };
    assert_eq!(after(Command::Undo), one);
    assert_eq!(after(Command::Undo), Some(TrackId(2)));
    assert_eq!(after(Command::Arm(TrackId(3))), Some(TrackId(3)));
    assert_eq!([after(Command::Redo), after(Command::Redo)], [one, two]);
    assert_eq!([after(Command::Undo), after(Command::Undo)], [one, Some(TrackId(3))]);
    // A change that adds or removes no track arms nothing.
    after(Command::Next(Setting::MuteTrack(TrackId(1))));
    assert_eq!([after(Command::Undo), after(Command::Redo)], [Some(TrackId(3)); 2]);
}

#[test]
fn recording_on_a_track_that_is_not_heard_says_so() {
    let said = |b: &Bench| status(b).said.1;
    for (setting, why) in
        [(Setting::MuteTrack(TrackId(1)), "muted"), (Setting::SoloTrack(TrackId(2)), "not soloed")]
    {
        let mut b = Bench::new(song(2, 2));
        b.command(Command::Next(setting));
        b.command(Command::Record(true));
        let sentence =
            format!("you will not hear this pass: {} is {why}", b.engine.song().tracks[0].name);
        assert_eq!(said(&b), sentence);
        // Arming another track in mid-take begins another take.
        b.to(100);
        b.command(Command::Arm(TrackId(2)));
        b.command(Command::Arm(TrackId(1)));
        assert_eq!(said(&b), sentence);
        b.command(Command::Stop);
        b.command(Command::Next(setting));
        let before = status(&b).said;
        b.command(Command::Record(true));
        assert_eq!(status(&b).said, before, "now it is heard");
    }
}

#[test]
fn a_note_in_the_count_in_is_reported_once_as_not_recorded() {
    let sentence = "what you play during the count-in is not recorded";
    for (played, told) in
        [(&[-1000][..], 1), (&[-1000, -900, -500], 1), (&[-121], 1), (&[-120], 0), (&[10], 0)]
    {
        let mut b = Bench::new(song(1, 1));
        b.command(Command::CountIn(1));
        b.command(Command::Record(true));
        let before = status(&b).said.0;
        for &tick in played {
            b.press(tick, 60);
            b.lift(tick + 20, 60);
        }
        b.to(3840 + 100);
        let said = status(&b).said;
        assert_eq!(said.0 - before, told, "{played:?}");
        assert_eq!(said.1 == sentence, told > 0, "{played:?}");
        // A note within half a grid step before bar one belongs to the pass.
        assert_eq!(b.passes().is_empty(), told > 0, "{played:?}");
    }
    // Without recording there is no such sentence: the note can be kept.
    let mut b = Bench::new(song(1, 1));
    let before = status(&b).said.0;
    b.command(Command::Play);
    b.press(10, 60);
    assert_eq!(status(&b).said.0, before);
}

#[test]
fn changed_clicks_are_ordered_before_the_old_ones_are_released() {
    // A click may be struck while these orders are on their way. The scheduler then keeps it, because
    // its new cue comes before the release of what was not kept.
    let mut engine = Engine::new(Arc::new(song(2, 1)), Config::default());
    engine.command(0, Command::Click(Click::Always)).unwrap();
    engine.command(0, Command::Play).unwrap();
    // Beat two is 505 ms after the command: within the look-ahead of 100 ms.
    engine.poll(450 * MS);
    engine.take_orders().for_each(drop);
    engine.command(450 * MS, Command::Click(Click::Always)).unwrap();
    let clicks: Vec<&str> = engine
        .take_orders()
        .filter_map(|order| match order {
            Order::Revise { slot: Slot::CLICK, .. } => Some("revise"),
            Order::Play(cue) if cue.slot == Slot::CLICK => Some("play"),
            Order::Settle { slot: Slot::CLICK } => Some("settle"),
            _ => None,
        })
        .collect();
    assert_eq!(clicks, ["revise", "play", "play", "settle"]);
}

#[test]
fn a_click_that_sounds_when_the_clicks_change_ends_and_is_not_struck_again() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Click(Click::Always));
    b.command(Command::Play);
    b.to(960);
    b.command(Command::Click(Click::Always));
    b.to(1900);
    // General MIDI: key 77 is the low wood block.
    assert_eq!(b.heard(900, 1900), "960+77 960-77");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn each_click_is_ordered_once_whenever_the_engine_is_polled() {
    let config = Config { lead: 0, ..Config::default() };
    let mut engine = Engine::new(Arc::new(song(2, 1)), config);
    engine.command(0, Command::Click(Click::Always)).unwrap();
    engine.command(0, Command::Play).unwrap();
    let mut clicks = Vec::new();
    for quarter in 0..4 * 1900 {
        engine.poll(quarter * MS / 4);
        clicks.extend(engine.take_orders().filter_map(|order| match order {
            Order::Play(Cue { at, slot: Slot::CLICK, action: Action::Press { .. }, .. }) => {
                Some(at)
            }
            _ => None,
        }));
    }
    assert_eq!(clicks, [0, 960, 1920, 2880].map(Tick));
}

#[test]
fn a_count_in_has_at_most_four_bars() {
    let mut b = Bench::new(song(2, 1));
    for (bars, fits) in [(0, true), (4, true), (5, false)] {
        assert_eq!(b.command(Command::CountIn(bars)), fits, "{bars}");
        assert_eq!(status(&b).count_in == bars, fits);
    }
}

#[test]
fn the_name_of_a_track_has_1_to_64_characters() {
    let mut b = Bench::new(song(2, 0));
    for (name, fits) in [("", false), (" ", false), (" é ", true)] {
        let add = Command::AddTrack { name: name.into(), drums: false, program: None };
        assert_eq!(b.command(add), fits, "'{name}'");
    }
    assert_eq!(b.engine.song().tracks[0].name, "é");
    for (length, fits) in [(63, true), (64, true), (65, false)] {
        let add = Command::AddTrack { name: "é".repeat(length), drums: false, program: None };
        assert_eq!(b.command(add), fits, "{length}");
    }
}

#[test]
fn a_setting_that_moves_on_says_what_it_means_now() {
    let mut b = Bench::new(song(2, 1));
    let mut next = |setting: Setting| {
        assert!(b.command(Command::Next(setting)));
        let status = status(&b);
        (status.said.1, status.rounds, status.click)
    };
    for (word, rounds) in
        [("newest", Rounds::Newest), ("one pass", Rounds::One), ("all", Rounds::All)]
    {
        let (said, now, _) = next(Setting::Rounds);
        assert_eq!(now, rounds);
        assert!(said.contains(word), "{said}");
    }
    // The bench begins with a click in the count-in only.
    for (word, click) in [
        ("in the count-in and", Click::Recording),
        ("the whole time", Click::Always),
        ("only", Click::CountIn),
    ] {
        let (said, _, now) = next(Setting::Click);
        assert_eq!(now, click);
        assert!(said.contains(word), "{said}");
    }
}

#[test]
fn a_panic_says_what_goes_on() {
    let mut b = Bench::new(song(2, 1));
    let mut said = |before: Command| {
        b.command(before);
        assert!(b.command(Command::Panic));
        status(&b).said.1
    };
    let silenced = "silenced everything that was sounding";
    assert_eq!(said(Command::CountIn(0)), silenced);
    assert_eq!(said(Command::Play), format!("{silenced}: the song plays on"));
    let both = format!("{silenced}: the song and the recording go on");
    assert_eq!(said(Command::Record(true)), both);
    assert_eq!(said(Command::Stop), silenced);
}

#[test]
fn a_tempo_step_says_that_it_is_for_one_section_if_there_are_several() {
    let said = |song| {
        let mut b = Bench::new(song);
        let before = status(&b).said;
        assert!(b.command(Command::StepTempo(1)));
        let after = status(&b).said;
        (after != before).then_some(after.1)
    };
    assert_eq!(said(song(1, 1)), None);
    let mut two = song(1, 1);
    let section = Section { letter: "B".parse().unwrap(), ..Section::clone(&two.sections[0]) };
    two.sections.push(Arc::new(section));
    assert_eq!(said(two), Some("tempo of section A: 121; the other sections keep theirs".into()));
}

/// Three sections: 4/4 at 120, which grows to 180 in its second bar; 6/8 at 80 dotted quarters; 4/4 at 60.
fn three_tempi() -> Song {
    let tempo = |text: &str| Tempo::parse_bpm(text).unwrap();
    let mut song = song(2, 1);
    let section = Section::clone(&song.sections[0]);
    let point = |at, text| TempoPoint { at: Tick(at), tempi: vec![tempo(text)] };
    let grows = TempoMap::with_points(vec![point(0, "120"), point(3840, "180")]).unwrap();
    let compound = MetreMap::new(2, "6/8".parse::<Metre>().unwrap().counted()).unwrap();
    let lilt = TempoMap::new(tempo("120"));
    song.sections = vec![
        Arc::new(Section { tempo: grows, ..section.clone() }),
        Arc::new(Section { letter: letter("B"), metre: compound, tempo: lilt, ..section.clone() }),
        Arc::new(Section { letter: letter("C"), tempo: TempoMap::new(tempo("60")), ..section }),
    ];
    song
}

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

/// The tempi of each section where it begins and in its second bar, as quarter notes per minute.
fn tempi(b: &Bench) -> Vec<String> {
    let song = b.engine.song();
    let at = |section: &Arc<Section>, tick| section.tempo.at(Tick(tick)).to_string();
    song.sections.iter().map(|one| format!("{} {}", at(one, 0), at(one, 3840))).collect()
}

#[test]
fn a_step_of_the_song_tempo_is_a_beat_in_every_section_and_one_step_of_undo() {
    let mut b = Bench::new(three_tempi());
    let before = tempi(&b);
    assert_eq!(before, ["120 180", "120 120", "60 60"]);
    assert!(b.command(Command::StepSongTempo(1)));
    assert_eq!(status(&b).said.1, "tempo of all sections: +1; section A is at 121");
    // The second tempo of A changes in proportion; the beat of 6/8 is a dotted quarter, 80 of them.
    assert_eq!(tempi(&b), ["121 181.5", "121.5 121.5", "61 61"]);
    assert!(b.command(Command::StepSongTempo(1)));
    assert_eq!(tempi(&b)[1..], ["123 123", "62 62"]);
    assert!(b.command(Command::Undo));
    assert_eq!(tempi(&b), before, "a held key makes one step");
    assert_eq!(status(&b).said.1, "undone: tempo of all sections");
    assert!(b.command(Command::Redo));
    assert_eq!(tempi(&b)[1..], ["123 123", "62 62"]);
    // While the song plays it is heard at once, stepped from the tempo there.
    b.command(Command::Undo);
    b.command(Command::Play);
    b.to(4000);
    assert!(b.command(Command::StepSongTempo(-3)));
    assert_eq!(tempi(&b), ["118 177", "115.5 115.5", "57 57"]);
    assert_eq!(status(&b).said.1, "tempo of all sections: -3; section A is at 177");
    let (from, to) = (b.engine.ns_at(Tick(4001)).unwrap(), b.engine.ns_at(Tick(4961)).unwrap());
    assert_eq!((to - from) / 1000, 60_000_000 / 177);
    b.command(Command::Stop);
}
