//! The tour: each step waits for what really happens, and no key is taken but the one that leaves it.

use super::*;
use crate::keymap::table;
use chaconne_song::{Commit, Edit, Label, Track};
use std::sync::Arc;

const TOUR: Key = Key::new(Code::F(8));
const ENTER: Key = Key::new(Code::Enter);
const ESC: Key = Key::new(Code::Esc);
const BACKSPACE: Key = Key::new(Code::Backspace);
/// A bar of 4/4 at 120 BPM, in milliseconds.
const BAR: i64 = 2000;

impl Player {
    /// Somebody without any device, who has just asked for the tour.
    fn on_tour(song: Song) -> Player {
        let mut player = Player::new(song);
        player.bench.ports.clear();
        player.press([TOUR]);
        player
    }

    pub(super) fn wait(&mut self, ms: i64) {
        self.bench.wait(ms);
        self.now += Duration::from_millis(ms as u64);
        self.follow();
    }

    /// Plays a note, which arrives at the engine.
    fn note(&mut self) {
        self.bench.play(60, 90);
        self.follow();
    }

    fn command(&mut self, command: Command) {
        self.bench.command(command);
        self.follow();
    }

    /// What the tour says, and what it waits for.
    fn words(&self) -> (String, String) {
        let words = self.screen.tour_words(&self.bench.state()).expect("the tour is on");
        (format!("{}. {}", words.place, words.text), words.waits)
    }

    #[track_caller]
    fn expect(&self, text: &str, waits: &str) {
        let words = self.words();
        assert!(words.0.contains(text) && words.1.contains(waits), "{words:?}");
    }
}

/// One bar, one track, and a pass on it if asked for.
fn one_bar(with_pass: bool) -> Song {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "line")));
    if with_pass {
        song.lay(Letter::A, crate::testing::pass(10, 1, 3840, &[(0, 100, 60, 90)]));
    }
    song
}

#[test]
fn it_leads_from_an_empty_song_to_a_pass_of_ones_own_without_any_device() {
    let mut player = Player::on_tour(empty_song(1, "4/4"));
    player.expect("TOUR 1 of 8. a adds a track", "waiting for a track");
    player.type_text("a");
    player.expect("TOUR 1 of 8", "waiting for a track");
    player.enter();
    player.expect("TOUR 2 of 8. Space starts the loop", "waiting for the loop");
    player.type_text(" ");
    player.expect("TOUR 3 of 8. p turns two rows of letters into a piano.", "for the piano");
    player.type_text("p");
    player.expect("TOUR 4 of 8. Enter records", "waiting for recording");
    player.press([ENTER]);
    player.expect("TOUR 5 of 8. ", "waiting for a note");
    player.note();
    player.expect("TOUR 6 of 8. Play on. At the seam, the end of the bar, it", "the seam");
    player.wait(BAR);
    player.expect("TOUR 7 of 8. Your pass plays by itself now. Enter stops", "you to stop");
    player.press([ENTER]);
    player.expect("TOUR 8 of 8. Backspace undoes", "waiting for the undo");
    player.press([BACKSPACE]);
    player.expect("TOUR 8 of 8. Ctrl-Y brings your pass back", "waiting for the redo");
    player.press([Key::ctrl('y')]);
    player.expect(
        "TOUR done. That is your own pass. For the next part press Esc, then a. F9 finds",
        "",
    );
    let song = player.bench.state().status.song;
    assert_eq!(song.passes.values().map(|pass| pass.notes().len()).collect::<Vec<_>>(), [1]);
}

#[test]
fn it_begins_where_the_player_is_and_names_the_keys_of_the_view() {
    // An armed track with something on it, which plays.
    let mut player = Player::new(one_bar(true));
    player.enter();
    player.command(Command::Play);
    player.press([TOUR]);
    player.expect(
        "TOUR 1 of 6. p turns letters into a piano; r records your MIDI keyboard.",
        "waiting for the piano",
    );
    player.type_text("r");
    player.expect("TOUR 3 of 6. Play something on your MIDI keyboard.", "waiting for a note");
    player.note();
    player.wait(BAR);
    player.expect("TOUR 5 of 6. Your pass plays by itself now. r stops", "");
    player.type_text("r");
    player.expect("u undoes", "the undo");
    player.type_text("u");
    player.expect("U brings your pass back", "the redo");
    player.type_text("U");
    player.expect("/ finds everything else", "");
}

#[test]
fn a_step_is_over_when_it_has_happened_whoever_did_it_and_comes_back_when_it_is_undone() {
    let mut player = Player::on_tour(one_bar(false));
    player.expect("TOUR 1 of 7", "waiting for the loop");
    // Not the key counts: these do nothing for the step.
    player.type_text("mm+-");
    player.expect("TOUR 1 of 7", "waiting for the loop");
    player.command(Command::Play);
    player.expect("TOUR 2 of 7", "waiting for the piano");
    player.type_text("p");
    player.command(Command::Stop);
    player.expect("TOUR 1 of 7", "waiting for the loop");
    // Recording starts the loop, with a count-in.
    player.command(Command::Record(true));
    player.expect("TOUR 4 of 7. This is the count-in: play when it is over.", "waiting for a note");
    player.wait(BAR + 100);
    player.expect("TOUR 4 of 7. Play something: tap the letters shown.", "waiting for a note");
    player.command(Command::Record(false));
    player.expect("TOUR 3 of 7", "waiting for recording");
    // What is kept without recording is a pass of one's own as well.
    player.wait(BAR / 2);
    player.note();
    player.command(Command::Keep);
    player.expect("TOUR 7 of 7", "waiting for the undo");
    // Recorded at once again, it waits for the end of that.
    player.command(Command::Record(true));
    player.expect("TOUR 6 of 7", "waiting for you to stop");
}

#[test]
fn only_a_pass_that_was_played_is_ones_own() {
    let mut player = Player::on_tour(one_bar(true));
    player.command(Command::Play);
    player.type_text("p");
    player.expect("", "waiting for recording");
    player.command(Command::RemoveTop);
    player.command(Command::Undo);
    let pasted = crate::testing::pass(20, 1, 3840, &[(0, 100, 62, 90)]);
    player.command(Command::Edit(Commit::new(
        Label::PasteNotes,
        vec![Edit::lay(Letter::A, 1, pasted)],
    )));
    player.expect("", "waiting for recording");
    player.command(Command::Open(Box::new(one_bar(true))));
    player.expect("", "waiting for the loop");
}

#[test]
fn another_song_or_another_change_begins_again_where_needed() {
    let laid = || {
        let mut player = Player::on_tour(one_bar(false));
        player.command(Command::Play);
        player.type_text("p");
        player.press([ENTER]);
        player.note();
        player.wait(BAR);
        player.press([ENTER]);
        player.expect("", "waiting for the undo");
        player
    };
    let mut player = laid();
    let song = player.bench.state().status.song;
    player.command(Command::Open(Box::new(Song::clone(&song))));
    player.expect("", "waiting for the loop");
    // A change in place of the redo: there is no pass to bring back, so another one is recorded.
    let mut player = laid();
    player.press([BACKSPACE]);
    player.expect("", "waiting for the redo");
    player.command(Command::MuteTrack(TrackId(1), true));
    player.expect("", "waiting for recording");
    player.press([ENTER]);
    player.note();
    player.wait(BAR);
    player.press([ENTER]);
    player.expect("TOUR done", "");
}

#[test]
fn where_a_take_is_one_pass_it_says_that_stopping_makes_it() {
    let mut player = Player::on_tour(one_bar(false));
    player.command(Command::Rounds(Rounds::One));
    player.type_text(" p");
    player.press([ENTER]);
    player.note();
    player.wait(BAR);
    player.expect("Enter stops, and your pass becomes a layer", "waiting for you to stop");
    player.press([ENTER]);
    player.expect("", "waiting for the undo");
}

#[test]
fn escape_leaves_it_first_and_says_how_to_come_back() {
    let mut player = Player::on_tour(one_bar(false));
    player.type_text(" p");
    player.press([ESC]);
    assert!(player.screen.tour.is_none());
    assert_eq!(player.screen.notice.text, "You have left the tour: F8 starts it again.");
    assert_eq!(player.screen.scene(), Scene::Piano);
    player.press([ESC]);
    assert_eq!(player.screen.scene(), Scene::Loop);
    // A box has its keys first.
    player.press([TOUR]);
    player.type_text("a");
    player.press([ESC]);
    assert!(player.screen.tour.is_some() && player.screen.overlays.top().is_none());
    // From the finder and the help as well.
    player.press([ESC]);
    player.type_text("/tour");
    player.enter();
    player.expect("TOUR 1 of ", "");
    player.press([ESC]);
    player.type_text("?");
    player.press([TOUR]);
    player.expect("TOUR 1 of ", "");
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn it_takes_no_key_but_the_one_that_leaves_it() {
    for view in View::ALL {
        let plain = Player::new(four_parts());
        for key in table().flat_map(|row| row.keys).filter(|&&key| key != ESC) {
            for piano in [false, true] {
                let mut screens = [false, true].map(|tour| {
                    let mut screen = Screen::new(
                        &Options { tour, ..Options::from_environment(|_| None) },
                        &plain.bench.state(),
                    );
                    screen.go_to(view);
                    screen.turn_piano(piano);
                    screen
                });
                let found = screens.each_mut().map(|s| s.action_of(key, &plain.bench.state()));
                assert_eq!(found[0], found[1], "{view:?} {piano} {key}");
            }
        }
    }
}

#[test]
fn its_last_step_goes_away_by_itself() {
    let done = || {
        let mut player = Player::on_tour(one_bar(false));
        player.type_text(" p");
        player.press([ENTER]);
        player.note();
        player.wait(BAR);
        player.press([ENTER, BACKSPACE, Key::ctrl('y')]);
        player.expect("TOUR done", "");
        player
    };
    let mut player = done();
    player.now += Duration::from_secs(59);
    player.follow();
    player.expect("TOUR done", "");
    player.now += Duration::from_secs(2);
    player.follow();
    assert!(player.screen.tour.is_none());
    for key in [Key::new(Code::F(9)), Key::char('?')] {
        let mut player = done();
        player.press([key]);
        assert!(player.screen.tour.is_none(), "{key}");
    }
}
