use super::*;
use crate::action::{Action, Vertical};
use crate::input::{Code, Input};
use crate::testing::{Bench, empty_song, four_parts};
use chaconne_engine::{Click, Mode, Rounds};
use chaconne_song::{Letter, Section, Song, U7};
use chaconne_time::{Metre, MetreMap, NoteKind, Tempo};

/// What asks for a save where the song was saved last, and by the name the form proposes.
const SAVE: &str = "Save { file: None, replace: false }";
const SAVE_AS: &str = "Save { file: Some(\"low-tide.ron\"), replace: false }";

/// A person at the screen: keys in, effects out, commands obeyed by a real engine.
struct Player {
    bench: Bench,
    screen: Screen,
    now: Duration,
    effects: Vec<Effect>,
}

impl Player {
    fn new(song: Song) -> Player {
        let bench = Bench::new(song);
        let screen = Screen::new(&Options::from_environment(|_| None), &bench.state());
        let mut player = Player { bench, screen, now: Duration::ZERO, effects: Vec::new() };
        player.follow();
        player
    }

    fn follow(&mut self) {
        let mut out = Vec::new();
        self.screen.follow(&self.bench.state(), self.now, &mut out);
        self.obey(out);
    }

    fn obey(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            match &effect {
                Effect::Command(command) => {
                    let _ = self.bench.engine.command(self.bench.now, command.clone());
                }
                Effect::Level(step) => self.bench.level(*step),
                Effect::Restore => {
                    self.bench.command(Command::Open(Box::new(empty_song(2, "3/4"))));
                    self.bench.disk.unsaved = true;
                    self.screen.note_restored();
                }
                _ => {}
            }
            self.effects.push(effect);
        }
    }

    /// Presses keys, well apart.
    fn press(&mut self, keys: impl IntoIterator<Item = Key>) {
        for key in keys {
            self.now += Duration::from_millis(300);
            self.bench.wait(300);
            self.strike(key);
        }
    }

    fn strike(&mut self, key: Key) {
        let mut out = Vec::new();
        self.screen.take(&Input::Key(key), &self.bench.state(), self.now, &mut out);
        self.obey(out);
        self.follow();
    }

    /// Holds down a key that was just pressed, for so many repeats.
    fn hold(&mut self, key: Key, repeats: u64) {
        self.now += Duration::from_millis(470);
        for _ in 0..repeats {
            self.now += Duration::from_millis(30);
            self.strike(key);
        }
    }

    /// Presses a key ten times in one go: no state comes in between.
    fn clump(&mut self, key: Key) {
        let (state, mut out) = (self.bench.state(), Vec::new());
        (0..10).for_each(|_| self.screen.take(&Input::Key(key), &state, self.now, &mut out));
        self.obey(out);
        self.follow();
    }

    fn type_text(&mut self, text: &str) {
        self.press(text.chars().map(Key::char));
    }

    fn enter(&mut self) {
        self.press([Key::new(Code::Enter)]);
    }

    fn last(&self) -> String {
        self.effects.last().map_or(String::new(), |effect| format!("{effect:?}"))
    }

    fn saved(&mut self, error: Option<&str>) {
        self.bench.disk.attempts += 1;
        self.bench.disk.error = error.map(str::to_string);
        self.bench.disk.unsaved = error.is_some();
        self.follow();
    }
}

#[test]
fn arrows_go_from_bar_to_bar_while_stopped_and_c_rolls_from_there() {
    let mut player = Player::new(four_parts());
    let arrow = |code| [Key::new(code)];
    let bar = |player: &Player| {
        let status = player.bench.state().status;
        (status.place.bar, status.place.beat)
    };
    player.press(arrow(Code::Right));
    assert_eq!((player.last(), bar(&player)), ("Command(LocateBars(1))".into(), (2, 1)));
    // The last bar is the last, the first the first.
    for (code, then) in
        [(Code::Right, 3), (Code::Right, 4), (Code::Right, 4), (Code::Left, 3), (Code::Home, 1)]
    {
        player.press(arrow(code));
        assert_eq!(bar(&player), (then, 1), "{code:?}");
    }
    player.press(arrow(Code::Left));
    assert_eq!(bar(&player), (1, 1));
    player.press(arrow(Code::Right));
    player.type_text("C");
    assert_eq!(player.last(), "Command(Continue)");
    player.bench.wait(600);
    assert_eq!(bar(&player), (2, 2));
    player.press(arrow(Code::Left));
    assert_eq!(player.screen.notice.text, "The song is playing: stop it first.");
    // From the middle of a bar back to its start.
    player.type_text(" ");
    assert_ne!(bar(&player), (2, 1));
    player.press(arrow(Code::Left));
    assert_eq!(bar(&player), (2, 1));
}

#[test]
fn bars_that_begin_between_sixteenths_are_gone_through_one_by_one() {
    // A position is a whole sixteenth, six pulses (MIDI 1.0, "Song Position Pointer").
    for (metre, told) in [
        // Bars of 600 ticks: 0, 600, 1200, 1800.
        ("5/32", [0, 480, 1200, 1680, 1680, 1200, 480, 0, 0]),
        // Bars of 120 ticks: 0, 120, 240, 360. Two of them share a sixteenth.
        ("1/32", [0, 240, 240, 240, 240, 0, 0, 0, 0]),
        ("7/8", [0, 3360, 6720, 10_080, 10_080, 6720, 3360, 0, 0]),
    ] {
        let mut player = Player::new(empty_song(4, metre));
        let mut places = vec![0];
        for code in [Code::Right; 4].into_iter().chain([Code::Left; 4]) {
            player.press([Key::new(code)]);
            places.push(player.bench.state().status.at.0);
        }
        assert_eq!(places, told, "{metre}");
    }
}

#[test]
fn space_plays_and_stops() {
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    assert_eq!(player.last(), "Command(Play)");
    player.type_text(" ");
    assert_eq!(player.last(), "Command(Stop)");
}

#[test]
fn a_song_from_nothing_to_a_recorded_pass() {
    let mut player = Player::new(empty_song(1, "4/4"));
    player.type_text("r");
    assert_eq!(player.screen.notice.text, "There is no track to record on: add one first.");
    player.type_text("m");
    assert_eq!(player.screen.notice.text, "There is no track yet: press a to add one.");
    player.type_text("a");
    player.enter();
    assert_eq!(player.bench.state().status.song.tracks[0].name, "drums");
    assert_eq!(player.screen.chosen, player.bench.state().status.armed);
    player.type_text("0r");
    player.bench.wait(100);
    assert!(player.bench.state().status.recording);
    player.bench.play(38, 100);
    player.bench.wait(2000);
    player.type_text("r");
    let song = player.bench.state().status.song;
    assert_eq!(song.passes.len(), 1);
    assert_eq!(song.passes_in(&song.sections[0])[0].notes().len(), 1);
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.bench.state().status.song.passes.len(), 0);
    player.type_text("u");
    assert_eq!(player.bench.state().status.song.passes.len(), 1);
    player.type_text("U");
    assert_eq!(player.bench.state().status.song.passes.len(), 0);
}

#[test]
fn arrows_arm_except_while_recording() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    assert_eq!(player.bench.state().status.armed, Some(TrackId(2)));
    player.type_text("r");
    player.press([Key::new(Code::Down)]);
    assert_eq!(player.screen.chosen, Some(TrackId(3)));
    assert_eq!(player.bench.state().status.armed, Some(TrackId(2)));
    player.type_text("m");
    assert_eq!(player.last(), "Command(Next(MuteTrack(TrackId(3))))");
    player.enter();
    assert_eq!(player.bench.state().status.armed, Some(TrackId(3)));
}

#[test]
fn the_last_track_is_the_end_of_the_list() {
    let mut player = Player::new(four_parts());
    player.press((0..9).map(|_| Key::new(Code::Down)));
    assert_eq!(player.screen.chosen, Some(TrackId(4)));
    player.press((0..9).map(|_| Key::new(Code::Up)));
    assert_eq!(player.screen.chosen, Some(TrackId(1)));
}

#[test]
fn settings_go_round() {
    let mut player = Player::new(four_parts());
    let status = |player: &Player| player.bench.state().status;
    player.type_text("l");
    assert_eq!(status(&player).mode, Mode::Replace);
    player.type_text("ll");
    assert_eq!(status(&player).mode, Mode::Layer);
    player.type_text("R");
    assert_eq!(status(&player).rounds, Rounds::Newest);
    player.type_text("c");
    assert_eq!(status(&player).click, Click::Always);
    player.type_text("3");
    assert_eq!(status(&player).count_in, 3);
    player.type_text("+");
    assert_eq!(status(&player).tempo.to_string(), "121");
    player.type_text("--");
    assert_eq!(status(&player).tempo.to_string(), "119");
    player.type_text("s");
    assert!(status(&player).solo_tracks.contains(&TrackId(1)));
    player.type_text("s");
    assert!(status(&player).solo_tracks.is_empty());
}

#[test]
fn the_grid_goes_off_and_comes_back_as_it_was() {
    let mut player = Player::new(four_parts());
    let grid = |player: &Player| {
        let song = player.bench.state().status.song;
        song.track(player.screen.chosen.unwrap()).unwrap().feel.grid
    };
    player.press([Key::new(Code::Down)]);
    player.type_text("g");
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
    player.type_text("v");
    player.press([Key::new(Code::Up), Key::new(Code::Right)]);
    let triplet = NoteValue::new(8, NoteKind::Triplet).unwrap();
    assert_eq!(grid(&player), Some(triplet));
    player.enter();
    player.type_text("g");
    assert_eq!(grid(&player), None);
    player.type_text("g");
    assert_eq!(grid(&player), Some(triplet));
    player.type_text("v");
    player.press([Key::new(Code::Down), Key::new(Code::Esc)]);
    assert_eq!(grid(&player), Some(triplet));
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn grids_that_were_tried_are_one_step_and_escape_puts_back_what_was() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("gv");
    player.press([Key::new(Code::Up), Key::new(Code::Right), Key::new(Code::Right)]);
    player.enter();
    assert_eq!(player.screen.notice.text, "Bass: quantise 1/8 dotted, pull 100 %.");
    player.type_text("u");
    assert_eq!(player.screen.notice.text, "Undone: grid (bass).");
    let grid = |player: &Player| player.bench.state().status.song.tracks[1].feel.grid;
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
    // All in one go: what the screen knows is how it was before.
    let (state, mut out) = (player.bench.state(), Vec::new());
    for key in [Key::char('v'), Key::new(Code::Up), Key::new(Code::Esc)] {
        player.screen.take(&Input::Key(key), &state, player.now, &mut out);
    }
    player.obey(out);
    assert_eq!(grid(&player), Some(NoteValue::SIXTEENTH));
}

#[test]
fn quantising_says_what_it_did_and_so_does_undoing_it() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    for (key, said) in [
        ("g", "Bass: quantise 1/16, pull 100 %."),
        ("g", "Bass: quantise off, as you played it."),
        ("u", "Undone: quantise (bass)."),
        ("U", "Redone: quantise (bass)."),
    ] {
        player.type_text(key);
        assert_eq!(player.screen.notice.text, said, "{key}");
    }
}

#[test]
fn piano_mode_plays_and_keeps_the_other_keys_with_shift() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.strike(Key::char('f'));
    let middle_c = U7::low_bits(60);
    let velocity = U7::low_bits(96);
    let played = format!("{:?}", Effect::Play(LiveKey::Press { key: middle_c, velocity }));
    assert_eq!(player.last(), played);
    player.now += Duration::from_millis(200);
    player.follow();
    assert_eq!(player.last(), format!("{:?}", Effect::Play(LiveKey::Lift { key: middle_c })));
    player.type_text("r");
    assert_eq!(player.last(), "Command(Record(true))");
    player.type_text("M");
    assert_eq!(player.last(), "Command(Next(MuteTrack(TrackId(1))))");
    player.type_text("K");
    assert_eq!(player.last(), "Command(Keep)");
    player.press([Key::new(Code::Esc)]);
    player.type_text("f");
    assert_eq!(player.last(), "Command(Keep)");
}

#[test]
fn leaving_piano_mode_lifts_what_sounds() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.strike(Key::char('f'));
    player.strike(Key::new(Code::Esc));
    let lift = Effect::Play(LiveKey::Lift { key: U7::low_bits(60) });
    assert_eq!(player.last(), format!("{lift:?}"));
}

#[test]
fn a_held_key_does_not_flip_a_switch_again_and_again() {
    let mut player = Player::new(four_parts());
    player.type_text("m");
    player.hold(Key::char('m'), 10);
    let mutes = player.effects.iter().filter(|effect| format!("{effect:?}").contains("MuteTrack"));
    // A first repeat comes when a second press could.
    assert_eq!(mutes.count(), 2);
}

#[test]
fn ten_presses_in_one_go_are_ten() {
    let status = |player: &Player| player.bench.state().status;
    // In the middle of playing, where the tempo that plays is a moment behind the song's.
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    player.bench.wait(700);
    player.clump(Key::char('+'));
    player.bench.wait(100);
    assert_eq!(status(&player).tempo.to_string(), "130");
    player.press([Key::char('u')]);
    player.bench.wait(100);
    assert_eq!(status(&player).tempo.to_string(), "120", "a run of steps is one step of undo");
    // Ten times over is as it was, and so is each after the first of an odd number.
    for (key, is) in [
        ('l', "Replace All Recording"),
        ('R', "Replace Newest Recording"),
        ('c', "Replace Newest Always"),
    ] {
        player.clump(Key::char(key));
        let status = status(&player);
        let settings = format!("{:?} {:?} {:?}", status.mode, status.rounds, status.click);
        assert_eq!(settings, is, "{key}");
    }
    for key in ['m', 's', 'g'] {
        let before = status(&player);
        player.clump(Key::char(key));
        assert_eq!(status(&player).song, before.song, "{key}");
        assert_eq!(status(&player).solo_tracks, before.solo_tracks, "{key}");
        assert!(player.effects.len() >= 10);
    }
    player.clump(Key::char('u'));
    player.clump(Key::char('u'));
    assert_eq!(status(&player).undo, None);
    player.clump(Key::char('U'));
    assert!(status(&player).undo.is_some() && status(&player).redo.is_some());
}

#[test]
fn ten_presses_in_one_go_move_ten_times() {
    let status = |player: &Player| player.bench.state().status;
    let mut player = Player::new(empty_song(16, "4/4"));
    player.clump(Key::new(Code::Right));
    assert_eq!(status(&player).place.bar, 11);
    player.clump(Key::new(Code::Left));
    assert_eq!(status(&player).place.bar, 1);
    // Down and up in one go end where they began, whatever is armed when it is seen.
    let mut player = Player::new(four_parts());
    player.clump(Key::new(Code::Down));
    assert_eq!((player.screen.chosen, status(&player).armed), (Some(TrackId(4)), Some(TrackId(4))));
    let (state, mut out) = (player.bench.state(), Vec::new());
    for code in [Code::Up, Code::Up, Code::Down] {
        player.screen.take(&Input::Key(Key::new(code)), &state, player.now, &mut out);
    }
    for effect in out {
        player.obey(vec![effect]);
        player.follow();
        assert_eq!(
            player.screen.chosen,
            Some(TrackId(3)),
            "what is armed on the way moves nothing"
        );
    }
    assert_eq!(status(&player).armed, Some(TrackId(3)));
    player.press([Key::new(Code::Up)]);
    assert_eq!((player.screen.chosen, status(&player).armed), (Some(TrackId(2)), Some(TrackId(2))));
}

#[test]
fn a_new_track_that_is_undone_leaves_armed_what_was_armed() {
    let armed = |player: &Player| player.bench.state().status.armed;
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down), Key::new(Code::Down)]);
    player.type_text("a");
    player.enter();
    let new = armed(&player);
    assert_ne!(new, Some(TrackId(3)));
    assert_eq!(player.screen.chosen, new);
    player.type_text("u");
    assert_eq!((armed(&player), player.screen.chosen), (Some(TrackId(3)), Some(TrackId(3))));
    player.type_text("U");
    assert_eq!((armed(&player), player.screen.chosen), (new, new));
    assert_eq!(player.screen.notice.text, "Redone: new track (track 5).");
}

#[test]
fn a_paste_outside_a_field_does_nothing() {
    let mut player = Player::new(four_parts());
    let mut out = Vec::new();
    let paste = Input::Paste("q r ! space".into());
    player.screen.take(&paste, &player.bench.state(), player.now, &mut out);
    assert!(out.is_empty());
    player.type_text("a");
    let paste = Input::Paste("pad".into());
    player.screen.take(&paste, &player.bench.state(), player.now, &mut out);
    player.enter();
    assert!(player.bench.state().status.song.track_named("pad").is_some());
}

#[test]
fn quitting_at_rest_with_everything_saved_is_quitting() {
    let mut player = Player::new(four_parts());
    player.type_text("q");
    assert_eq!(player.last(), "Quit");
}

#[test]
fn quitting_while_it_rolls_asks() {
    let mut player = Player::new(four_parts());
    player.type_text(" q");
    assert_eq!(player.screen.scene(), Scene::Leave);
    player.press([Key::new(Code::Esc)]);
    assert_eq!((player.screen.scene(), player.last()), (Scene::Loop, "Command(Play)".into()));
    player.type_text("ql");
    assert_eq!(player.last(), "Quit");
}

#[test]
fn saving_first_stops_saves_and_then_quits() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text(" qs");
    assert_eq!(player.last(), SAVE);
    assert!(format!("{:?}", player.effects).contains("Command(Stop)"));
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn a_failed_save_keeps_the_song_and_says_why() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.saved(Some("the disk is full"));
    assert_eq!(player.last(), SAVE);
    assert_eq!(player.screen.notice, Notice::said("The disk is full.", true));
    // Saving later, and well, does not quit any more.
    player.press([Key::ctrl('s')]);
    player.saved(None);
    assert_eq!(player.last(), SAVE);
}

#[test]
fn a_song_without_a_file_is_asked_for_its_name() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.enter();
    assert_eq!(player.last(), SAVE_AS);
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn staying_in_the_form_is_staying() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.press([Key::new(Code::Esc), Key::ctrl('s')]);
    player.enter();
    player.saved(None);
    assert_eq!(player.last(), SAVE_AS);
}

#[test]
fn a_new_song_asks_before_it_takes_the_place_of_an_unsaved_one() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("n");
    assert_eq!(player.screen.scene(), Scene::Leave);
    player.type_text("l");
    assert_eq!(player.screen.scene(), Scene::Form);
    player.type_text("Ebb");
    player.enter();
    let Some(Effect::NewSong(spec)) = player.effects.last() else { panic!() };
    assert_eq!((spec.title.as_str(), spec.bars), ("Ebb", 4));
}

#[test]
fn sections_are_chosen_by_their_letters() {
    let mut song = four_parts();
    for letter in ["B", "C", "CA"] {
        let metre = MetreMap::new(2, Metre::common()).unwrap();
        let letter: Letter = letter.parse().unwrap();
        song.sections.push(std::sync::Arc::new(Section::new(letter, metre, Tempo::DEFAULT)));
    }
    let mut player = Player::new(song);
    let jumped =
        |letter: &str| format!("{:?}", Effect::Command(Command::Jump(letter.parse().unwrap())));
    player.type_text("jb");
    assert_eq!(player.last(), jumped("B"));
    player.type_text("jc");
    assert_eq!(player.screen.scene(), Scene::Sections);
    player.type_text("a");
    assert_eq!(player.last(), jumped("CA"));
    player.type_text("jc");
    player.enter();
    assert_eq!(player.last(), jumped("C"));
    player.type_text("jx");
    assert_eq!(player.screen.notice.text, "There is no section X.");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn suspending_stops_first() {
    let mut player = Player::new(four_parts());
    player.type_text(" ");
    player.press([Key::ctrl('z')]);
    let tail: Vec<String> =
        player.effects.iter().rev().take(2).map(|effect| format!("{effect:?}")).collect();
    assert_eq!(tail, ["Suspend", "Command(Stop)"]);
}

#[test]
fn the_help_turns_no_further_than_its_end() {
    let mut player = Player::new(four_parts());
    player.type_text("?");
    player.press((0..99).map(|_| Key::new(Code::PageDown)));
    let first = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Help(page)) => page.first,
        other => panic!("{other:?}"),
    };
    let last = first(&player);
    player.press([Key::new(Code::Down)]);
    assert_eq!(first(&player), last);
    player.press([Key::new(Code::Home)]);
    assert_eq!(first(&player), 0);
    player.type_text("q");
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn what_the_engine_says_is_shown_once() {
    let mut player = Player::new(four_parts());
    player.type_text("mu");
    assert_eq!(player.screen.notice.text, "Undone: mute track (drums).");
    player.screen.notice = Notice::default();
    player.follow();
    assert_eq!(player.screen.notice.text, "");
}

#[test]
fn a_chosen_track_that_goes_away_is_replaced() {
    let mut player = Player::new(empty_song(1, "4/4"));
    player.type_text("a");
    player.enter();
    player.type_text("u");
    assert_eq!(player.screen.chosen, None);
}

#[test]
fn the_level_is_turned_by_two_keys_wherever_letters_type_nothing() {
    let mut player = Player::new(four_parts());
    player.type_text("(");
    assert!(player.effects.is_empty());
    assert!(player.screen.notice.text.contains("not in use"));
    player.bench.sound();
    for (keys, level, said) in [
        ("(", Some(-13.0), "The sound is 13 dB under full scale."),
        ("))", Some(-11.0), "The sound is 11 dB under full scale."),
        ("p)", Some(-10.0), "The sound is 10 dB under full scale."),
        ("?)", Some(-9.0), "The sound is 9 dB under full scale."),
        ("?v)", Some(-8.0), "The sound is 8 dB under full scale."),
    ] {
        player.type_text(keys);
        assert_eq!(player.bench.sound().level, level, "{keys}");
        assert_eq!(player.screen.notice.text, said, "{keys}");
    }
    player.press([Key::new(Code::Esc)]);
    player.type_text("))))))))))");
    assert_eq!(player.screen.notice.text, "The sound is at full scale, as loud as it goes.");
    player.bench.sound().level = Some(-59.0);
    player.type_text("(");
    assert_eq!(player.screen.notice.text, "The sound is off: press ) to turn it up.");
    // Not part of the song: nothing to undo.
    assert!(player.bench.state().status.undo.is_none());
}

#[test]
fn a_held_key_turns_the_sound_down_and_never_up() {
    let mut player = Player::new(four_parts());
    player.bench.sound();
    let mut hold = |c: char| {
        player.type_text(&c.to_string());
        player.hold(Key::char(c), 5);
        player.bench.sound().level
    };
    assert_eq!(hold('('), Some(-18.0));
    assert_eq!(hold(')'), Some(-16.0));
}

impl Player {
    /// What the track sounds like by the song, from 1.
    fn program(&self, track: usize) -> Option<u8> {
        let song = self.bench.state().status.song;
        song.tracks[track].program.map(|program| program.get() + 1)
    }

    /// What was asked to be heard since the last time, from 1; 0 for what the song has.
    fn auditioned(&mut self) -> Vec<u8> {
        let heard = |effect: &Effect| match effect {
            Effect::Command(Command::Audition(_, program)) => {
                Some(program.map_or(0, |program| program.get() + 1))
            }
            _ => None,
        };
        self.effects.drain(..).collect::<Vec<_>>().iter().filter_map(heard).collect()
    }
}

#[test]
fn a_sound_is_chosen_by_ear_and_is_one_change_of_the_song() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("i");
    assert_eq!(player.screen.scene(), Scene::Sounds);
    player.press([Code::PageDown, Code::Up, Code::End, Code::Home].map(Key::new));
    // At none it is heard as an instrument starts: program 1 (General MIDI System Level 1).
    assert_eq!(player.auditioned(), [8, 7, 128, 1]);
    player.type_text("cel");
    player.type_text("lo");
    assert_eq!(player.auditioned(), [8, 9, 43]);
    assert_eq!((player.program(1), player.bench.state().status.undo), (None, None));
    player.enter();
    assert_eq!((player.screen.scene(), player.program(1)), (Scene::Loop, Some(43)));
    player.type_text("u");
    assert_eq!((player.program(1), player.bench.state().status.undo), (None, None));
}

#[test]
fn leaving_the_choice_of_a_sound_leaves_the_song_and_what_is_heard() {
    let mut player = Player::new(four_parts());
    player.type_text("i");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.auditioned(), [], "nothing was heard, so there is nothing to end");
    player.type_text("i9");
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.auditioned(), [9, 0]);
    player.type_text("i9");
    player.press([Key::new(Code::Home)]);
    player.enter();
    assert_eq!(player.auditioned(), [9, 1, 0]);
    assert_eq!((player.program(0), player.bench.state().status.undo), (None, None));
}

#[test]
fn an_unknown_sound_is_refused_and_can_be_typed_again() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::Down)]);
    player.type_text("iflutex");
    player.enter();
    assert_eq!(player.screen.scene(), Scene::Sounds);
    assert!(player.screen.notice.wrong && player.screen.notice.text.contains("'flutex'"));
    player.press([Key::new(Code::Backspace)]);
    player.enter();
    assert_eq!(player.program(1), Some(74));
    player.type_text("izz");
    player.press([Key::ctrl('u')]);
    player.type_text("none");
    player.enter();
    assert_eq!(player.program(1), None);
}

#[test]
fn a_new_track_gets_the_sound_of_its_name() {
    let mut player = Player::new(empty_song(4, "4/4"));
    for name in ["drums", "bass", "oddity"] {
        player.type_text("a");
        player.type_text(name);
        player.enter();
    }
    assert_eq!([0, 1, 2].map(|track| player.program(track)), [Some(1), Some(34), None]);
}

#[test]
fn actions_are_asked_for_without_a_key() {
    // What a key asks for, a finder, a pedal or a script can ask for, too.
    let mut player = Player::new(four_parts());
    let mut ask = |action| {
        let mut out = Vec::new();
        player.screen.ask(action, &player.bench.state(), &mut out);
        player.obey(out);
        player.follow();
        player.bench.state().status
    };
    assert_eq!(ask(Action::CountIn(2)).count_in, 2);
    assert_eq!(ask(Action::Choose(Vertical::Down)).armed, Some(TrackId(2)));
    assert_eq!(ask(Action::Tempo(Vertical::Up)).tempo.to_string(), "121");
    assert!(ask(Action::Mute).song.tracks[1].mute);
    assert!(ask(Action::Undo).undo.is_some());
    assert!(ask(Action::Record(true)).recording);
    assert!(!ask(Action::Record(false)).recording);
    // Where it does not apply, it is refused as a key would be.
    ask(Action::ChooseSection);
    assert_eq!(player.screen.notice.text, "There is only one section.");
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn what_lies_on_top_has_the_keys() {
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    player.type_text("pN");
    player.press([Key::ctrl('c')]);
    let scenes = |player: &Player| -> Vec<Scene> {
        player.screen.overlays.iter().map(Overlay::scene).collect()
    };
    // In piano mode 'n' asks whether to leave; Ctrl-C asks again, and only one question is open.
    assert_eq!(scenes(&player), [Scene::Piano, Scene::Leave]);
    player.press([Key::new(Code::Esc)]);
    player.type_text("A");
    player.press([Key::ctrl('c'), Key::new(Code::Esc)]);
    assert_eq!(scenes(&player), [Scene::Piano, Scene::Form], "the form is as it was");
    player.type_text("x");
    player.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
    assert_eq!(scenes(&player), []);
}

#[test]
fn saving_asks_before_it_replaces_what_another_program_wrote() {
    const REPLACE: &str = "Save { file: None, replace: true }";
    let mut player = Player::new(four_parts());
    player.bench.disk.unsaved = true;
    let in_the_way = |player: &mut Player| {
        player.bench.disk.in_the_way = Some("low-tide.ron was changed by another program".into());
        player.saved(Some("not saved"));
        assert_eq!(player.screen.scene(), Scene::Replace);
        player.bench.disk.in_the_way = None;
    };
    // A plain save, and not.
    player.press([Key::ctrl('s')]);
    in_the_way(&mut player);
    player.press([Key::new(Code::Esc)]);
    assert_eq!((player.screen.scene(), player.last().as_str()), (Scene::Loop, SAVE));
    // Saving to leave asks in the same way, every time, and leaves only once it is saved.
    player.type_text("qs");
    in_the_way(&mut player);
    assert_eq!(player.last(), SAVE);
    player.press([Key::new(Code::Esc)]);
    player.saved(None);
    assert_eq!(player.last(), SAVE, "going back is staying");
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    in_the_way(&mut player);
    player.type_text("r");
    assert_eq!(player.last(), REPLACE);
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn zoom_and_pages_follow_the_place() {
    let mut player = Player::new(empty_song(24, "4/4"));
    let shown = |player: &Player| {
        let fit = crate::draw::loop_fit(&player.bench.state(), &player.screen).unwrap();
        (fit.scale.bars_words(), fit.scale.grain.words())
    };
    let words = |bars: &str, grain: &str| (bars.to_string(), grain.to_string());
    assert_eq!(shown(&player), words("bars 1 to 4 of 24", "1/16"));
    player.press([Key::new(Code::PageUp)]);
    assert_eq!(player.screen.notice.text, "This is the first page.");
    player.press([Key::new(Code::PageDown), Key::new(Code::PageDown)]);
    assert_eq!(shown(&player).0, "bars 9 to 12 of 24");
    // Moving shows where one is again.
    player.press([Key::new(Code::Right)]);
    assert_eq!(shown(&player).0, "bars 1 to 4 of 24");
    player.type_text(">>");
    assert_eq!(shown(&player), words("bars 1 to 16 of 24", "1/4"));
    player.type_text(">>>>");
    assert_eq!(shown(&player), words("24 bars", "1 bar"));
    assert_eq!(player.screen.notice.text, "All the bars are already showing.");
    player.type_text("<<<<<<<<<<<");
    assert_eq!(shown(&player), words("part of bar 2 of 24", "1 tick"));
    assert_eq!(player.screen.notice.text, "One mark is one tick: there is nothing finer.");
    player.type_text(">>>>>>");
    assert_eq!(shown(&player), words("bars 1 to 4 of 24", "1/16"));
    // While the song plays a page lasts a beat at least.
    player.type_text("<<<<<< ");
    player.bench.wait(100);
    player.follow();
    assert_eq!(shown(&player).1, "1/256");
}

#[test]
fn a_rescue_copy_is_offered_once() {
    let mut player = Player::new(four_parts());
    player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    player.follow();
    assert_eq!(player.screen.scene(), Scene::Rescue);
    player.press([Key::new(Code::Esc)]);
    player.follow();
    assert_eq!((player.screen.scene(), player.effects.len()), (Scene::Loop, 0));
    for (key, effect) in [("r", "Restore"), ("x", "RemoveRescue")] {
        let mut player = Player::new(four_parts());
        player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
        player.follow();
        player.type_text(key);
        assert_eq!((player.screen.scene(), player.last().as_str()), (Scene::Loop, effect));
    }
}

#[test]
fn what_was_restored_is_said_to_be_unsaved() {
    let mut player = Player::new(four_parts());
    player.bench.disk.rescue = Some("low-tide.rescue.ron".into());
    player.follow();
    player.type_text("r");
    assert_eq!(player.screen.notice.text, RESTORED);
    player.type_text("q");
    assert_eq!(player.screen.scene(), Scene::Leave);
}

#[test]
fn going_back_from_a_file_in_the_way_is_back_to_naming_one() {
    let mut player = Player::new(four_parts());
    player.bench.disk.path = None;
    player.bench.disk.unsaved = true;
    player.type_text("qs");
    player.type_text("ebb");
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"ebb.ron\"), replace: false }");
    player.bench.disk.in_the_way = Some("ebb.ron is there already".into());
    player.saved(Some("not saved"));
    player.bench.disk.in_the_way = None;
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Form);
    player.type_text("2");
    player.enter();
    assert_eq!(player.last(), "Save { file: Some(\"ebb2.ron\"), replace: false }");
    // It was on the way out, and still is.
    player.saved(None);
    assert_eq!(player.last(), "Quit");
}

#[test]
fn one_word_for_leaving_without_saving() {
    let mut player = Player::new(four_parts());
    let labels = |player: &Player| -> Vec<&'static str> {
        let state = player.bench.state();
        let facts = player.screen.facts(&state);
        let here = crate::keymap::here(player.screen.scene());
        here.filter(|row| facts.meet(row.need)).map(|row| row.label).take(2).collect()
    };
    player.type_text(" q");
    assert_eq!(labels(&player), ["leave", "back"]);
    player.press([Key::new(Code::Esc)]);
    player.bench.disk.unsaved = true;
    player.type_text("q");
    assert_eq!(labels(&player), ["save", "don't save"]);
    player.press([Key::new(Code::Esc)]);
    player.type_text("n");
    assert_eq!(labels(&player), ["save", "don't save"]);
}

#[test]
fn without_an_audio_device_the_level_says_so() {
    let mut player = Player::new(four_parts());
    player.type_text("(");
    assert!(player.screen.notice.text.contains("your own gear"));
    player.bench.kits = crate::Kits::Font([].into());
    player.type_text("(");
    assert!(player.screen.notice.text.starts_with("There is no audio device"));
    assert!(player.effects.is_empty());
}

#[test]
fn a_notice_goes_with_the_next_key_or_after_a_while() {
    let mut player = Player::new(four_parts());
    player.type_text("s");
    player.screen.say("Something.");
    player.follow();
    player.now += Duration::from_secs(7);
    player.follow();
    assert_eq!(player.screen.notice.text, "Something.");
    player.now += Duration::from_secs(1);
    player.follow();
    assert_eq!(player.screen.notice.text, "");
    player.screen.complain("something went wrong");
    player.follow();
    player.now += Duration::from_secs(14);
    player.follow();
    assert_eq!(player.screen.notice.text, "Something went wrong.");
    player.type_text("s");
    assert_eq!(player.screen.notice.text, "");
    // A played note is no such key.
    player.type_text("p");
    player.screen.say("Something.");
    player.type_text("f");
    assert_eq!(player.screen.notice.text, "Something.");
}
