//! The view of the form: every key, against the song of a real engine.

use super::*;
use crate::testing::{MS, pass};
use chaconne_engine::{
    Action as Does, Cue, Event, Message, Order, Route, View as Truth, Wire, perform,
};
use chaconne_song::PassId;
use chaconne_time::Tick;

/// Sections A and B of one bar each, with a pass of the bass in either, and no form.
fn two_sections() -> Song {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(std::sync::Arc::new(chaconne_song::Track::pitched(
        chaconne_song::TrackId(1),
        "bass",
    )));
    song.lay(Letter::A, pass(10, 1, 3840, &[(0, 400, 40, 90), (1920, 400, 47, 80)]));
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut second = Section::new("B".parse().unwrap(), metre, Tempo::DEFAULT);
    second.name = "Bridge".into();
    song.sections.push(std::sync::Arc::new(second));
    song.lay("B".parse().unwrap(), pass(11, 1, 3840, &[(960, 400, 52, 90)]));
    song
}

fn player() -> Player {
    let mut player = Player::new(two_sections());
    player.press([Key::new(Code::F(6))]);
    player
}

const HOME: Key = Key::new(Code::Home);
const UP: Key = Key::new(Code::Up);
const DOWN: Key = Key::new(Code::Down);
const LEFT: Key = Key::new(Code::Left);
const RIGHT: Key = Key::new(Code::Right);
const CLEAR: Key = Key::ctrl('u');
const TAB: Key = Key::new(Code::Tab);

impl Player {
    pub(super) fn song(&self) -> std::sync::Arc<Song> {
        self.bench.state().status.song
    }

    /// The letters of the sections in the list, with brackets around the one under the cursor.
    fn sections(&self) -> String {
        let status = self.bench.state().status;
        let chosen = self.screen.song_form.chosen(&status);
        let word = |(at, section): (usize, &std::sync::Arc<Section>)| match at == chosen {
            true => format!("[{}]", section.letter),
            false => section.letter.to_string(),
        };
        status.song.sections.iter().enumerate().map(word).collect::<Vec<_>>().join(" ")
    }

    fn song_form(&self) -> String {
        self.song().form.to_string()
    }

    pub(super) fn form_error(&self) -> Option<String> {
        match self.screen.overlays.top() {
            Some(Overlay::Form(form)) => form.error.clone(),
            _ => None,
        }
    }

    /// Writes the form anew.
    fn write_form(&mut self, text: &str) {
        self.type_text("F");
        self.press([CLEAR]);
        self.type_text(text);
        self.enter();
    }

    /// Plays on until the transport stops, and returns the notes that start: tick, key and velocity.
    fn heard_to_the_end(&mut self) -> Vec<(Tick, U7, U7)> {
        let mut heard = Vec::new();
        while self.bench.state().status.transport != Transport::Stopped {
            self.bench.engine.poll(self.bench.now);
            heard.extend(self.bench.engine.take_orders().filter_map(|order| match order {
                Order::Play(Cue { at, action: Does::Press { key, velocity, .. }, .. }) => {
                    Some((at, key, velocity))
                }
                _ => None,
            }));
            self.bench.now += 10 * MS;
        }
        self.follow();
        heard
    }
}

/// What `perform` says of the whole form, from a tick on.
fn performed(song: &Song, from: Tick) -> Vec<(Tick, U7, U7)> {
    let route = Route::form(song).unwrap();
    let start = |event: Event| match event.wire {
        Wire::Message(Message::NoteOn { key, velocity, .. }) => Some((event.at, key, velocity)),
        _ => None,
    };
    let said = perform(song, &route, route.span(), Truth::Corrected);
    said.events.into_iter().filter_map(start).filter(|note| note.0 >= from).collect()
}

#[test]
fn a_form_is_built_by_keys_and_each_is_undone() {
    let mut player = player();
    player.type_text("bb");
    player.press([DOWN]);
    player.type_text("b");
    assert_eq!(player.song_form(), "A A B");
    player.type_text("x");
    assert_eq!(player.song_form(), "A A");
    for before in ["A A B", "A A", "A", ""] {
        player.type_text("u");
        assert_eq!(player.song_form(), before);
    }
    player.type_text("x");
    assert!(player.screen.notice.text.starts_with("This song has no form yet"));
}

#[test]
fn pressing_faster_than_the_screen_follows_appends_as_often() {
    let mut player = player();
    player.press_ten_times(Key::char('b'));
    // They are one press and its repeats to a terminal that does not report releases.
    let once = player.song().form.length();
    player.press([DOWN]);
    let (state, mut out) = (player.bench.state(), Vec::new());
    for key in [Key::char('b'), UP, Key::char('b'), DOWN, Key::char('b')] {
        player.screen.take(&Input::Key(key), &state, player.now, &mut out);
    }
    player.obey(out);
    assert_eq!(player.song().form.length(), once + 3);
}

#[test]
fn a_form_is_written_in_small_letters_with_times_groups_and_endings() {
    let mut player = player();
    player.write_form("a x2 (b a) x2 b");
    assert_eq!((player.song_form().as_str(), player.form_error()), ("A x2 (B A) x2 B", None));
    player.write_form("(a [1 b] [2 a])");
    assert_eq!(player.song_form(), "(A [1 B] [2 A])");
    player.write_form("aaba");
    assert_eq!(player.song_form(), "A A B A");
    player.type_text("u");
    player.write_form("a d");
    assert_eq!(
        player.form_error().as_deref(),
        Some("There is no section D: add it first, or leave it out.")
    );
    assert_eq!(player.song_form(), "(A [1 B] [2 A])");
    // The form that was typed is still there to be mended.
    player.press([Key::new(Code::Backspace)]);
    player.type_text("b");
    player.enter();
    assert_eq!(player.song_form(), "A B");
    player.write_form("(a");
    assert_eq!(player.form_error().as_deref(), Some("A group is not closed; end it with )."));
    player.press([Key::new(Code::Esc)]);
    player.write_form("");
    assert_eq!(player.song_form(), "");
    player.type_text("u");
    assert_eq!(player.song_form(), "A B");
}

#[test]
fn a_long_form_is_not_cut_when_it_is_opened_and_accepted() {
    let mut song = two_sections();
    song.form = chaconne_song::Form::of(vec![Letter::A; 300]);
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6))]);
    player.type_text("F");
    player.enter();
    assert_eq!(player.song().form.length(), 300);
    assert_eq!(player.bench.state().status.undo, None);
}

#[test]
fn enter_shows_a_section_while_stopped_and_goes_to_it_at_the_next_seam() {
    let mut player = player();
    let section = |player: &Player| player.bench.state().status.section.to_string();
    player.press([DOWN, Key::new(Code::Enter)]);
    assert_eq!(section(&player), "B");
    player.type_text(" ");
    player.bench.wait(700);
    player.press([UP]);
    player.enter();
    let status = player.bench.state().status;
    assert_eq!((section(&player).as_str(), status.next_section), ("B", Some(Letter::A)));
    player.bench.wait(1200);
    assert_eq!(section(&player), "A");
}

#[test]
fn a_new_section_gets_the_next_free_letter_and_goes_below_the_cursor() {
    let mut player = player();
    player.type_text("sChorus");
    player.press([TAB]);
    player.type_text("8");
    player.press([TAB]);
    player.type_text("3/4");
    player.press([TAB]);
    player.type_text("90");
    player.enter();
    assert_eq!(player.sections(), "A [C] B");
    let song = player.song();
    let section = &song.sections[1];
    let facts = (section.name.as_str(), section.metre.bars(), section.metre.first().to_string());
    assert_eq!(facts, ("Chorus", 8, "3/4".to_string()));
    assert_eq!(section.tempo.first().to_string(), "90");
    player.type_text("u");
    assert_eq!(player.sections(), "A [B]");
}

#[test]
fn a_letter_in_use_is_refused_in_the_form() {
    let mut player = player();
    player.type_text("s");
    player.press([Key::new(Code::BackTab)]);
    player.type_text("b");
    player.enter();
    let error = player.form_error();
    assert_eq!(error.as_deref(), Some("Section B exists already: use another letter."));
    player.press([CLEAR]);
    player.type_text("ab");
    player.enter();
    assert_eq!(player.sections(), "A [AB] B");
}

#[test]
fn a_copy_shares_its_passes_and_a_variation_has_its_own() {
    let mut player = player();
    player.type_text("d");
    assert_eq!(player.sections(), "A [C] B");
    let copied = player.song();
    assert_eq!(copied.sections[1].layers, copied.sections[0].layers);
    assert_eq!(copied.passes.len(), 2);
    player.press([UP]);
    player.type_text("o");
    assert_eq!(player.sections(), "A [D] C B");
    let varied = player.song();
    let own = varied.sections[1].layers[0].pass;
    assert!(!varied.is_shared(own) && varied.is_shared(PassId(10)));
    assert_eq!(varied.pass(own).unwrap().notes(), varied.pass(PassId(10)).unwrap().notes());
    let names = |song: &Song| -> Vec<String> {
        song.sections.iter().map(|section| section.name.clone()).collect()
    };
    assert_eq!(names(&varied), ["", "variation of A", "", "Bridge"]);
    // Each variation has a name of its own, whichever it is like.
    player.press([UP]);
    player.type_text("o");
    assert_eq!(names(&player.song())[1], "variation of A 2");
    player.type_text("o");
    assert_eq!(names(&player.song())[2], "variation of A 3");
    player.type_text("uu");
    player.type_text("uu");
    assert_eq!(*player.song(), two_sections());
}

#[test]
fn a_section_is_renamed_and_the_form_follows() {
    let mut player = player();
    player.type_text("b");
    player.type_text("e");
    player.press([Key::new(Code::BackTab)]);
    player.type_text("v");
    player.press([TAB]);
    player.type_text("Verse");
    player.enter();
    assert_eq!((player.sections().as_str(), player.song_form().as_str()), ("[V] B", "V"));
    assert_eq!(player.song().sections[0].name, "Verse");
    // Letter and name are one step of undo.
    player.type_text("u");
    assert_eq!((player.sections().as_str(), player.song_form().as_str()), ("[A] B", "A"));
    assert_eq!(player.song().sections[0].name, "");
}

#[test]
fn a_tempo_that_was_left_alone_stays_exact() {
    let mut song = two_sections();
    let mut section = Section::clone(&song.sections[0]);
    section.tempo = chaconne_time::TempoMap::new(Tempo::from_micros(654_321).unwrap());
    song.sections[0] = std::sync::Arc::new(section);
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6))]);
    player.type_text("e");
    player.press([TAB]);
    player.type_text("2");
    player.enter();
    let song = player.song();
    assert_eq!(
        (song.sections[0].metre.bars(), song.sections[0].tempo.first().micros()),
        (2, 654_321)
    );
    assert_eq!(player.bench.state().status.undo.unwrap().to_string(), "bars");
    player.type_text("e");
    player.press([TAB, TAB, TAB]);
    player.type_text("100");
    player.enter();
    assert_eq!(player.song().sections[0].tempo.first().to_string(), "100");
}

#[test]
fn a_metre_that_cuts_a_layer_is_refused_and_names_its_track() {
    let mut player = player();
    player.type_text("e");
    player.press([TAB, TAB]);
    player.type_text("3/2");
    player.enter();
    // A bar of four quarters is two halves: that fits. One of five eighths does not.
    assert_eq!(player.form_error(), None);
    player.type_text("e");
    player.press([TAB, TAB]);
    player.type_text("5/1");
    player.enter();
    assert_eq!(player.form_error(), None);
    let mut song = two_sections();
    song.lay(Letter::A, pass(12, 1, 960, &[(0, 100, 40, 90)]));
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6))]);
    player.type_text("e");
    player.press([TAB, TAB]);
    player.type_text("2/2");
    player.enter();
    let error = player.form_error();
    assert_eq!(
        error.as_deref(),
        Some("A layer of bass is not a whole number of beats long in 2/2.")
    );
}

#[test]
fn a_section_in_the_form_and_the_last_one_cannot_be_removed() {
    let mut player = player();
    player.type_text("b");
    player.press([Key::new(Code::Delete)]);
    let refused = "Section A is in the form: remove it from there first.";
    assert_eq!((player.sections().as_str(), &*player.screen.notice.text), ("[A] B", refused));
    player.type_text("x");
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.sections(), "[B]");
    player.press([Key::new(Code::Delete)]);
    assert_eq!(player.screen.notice.text, "Section B is the only one.");
    player.type_text("u");
    assert_eq!(player.sections(), "A [B]");
}

#[test]
fn sections_move_in_the_list_and_the_cursor_stays_on_its_section() {
    let mut player = player();
    player.type_text("d");
    assert_eq!(player.sections(), "A [C] B");
    player.type_text(".");
    assert_eq!(player.sections(), "A B [C]");
    player.type_text(".");
    assert_eq!(player.screen.notice.text, "This is the last section.");
    player.type_text(",,");
    assert_eq!(player.sections(), "[C] A B");
    player.type_text(",");
    assert_eq!(player.screen.notice.text, "This is the first section.");
    player.press([Key::new(Code::End), HOME, DOWN]);
    assert_eq!(player.sections(), "C [A] B");
}

#[test]
fn new_bars_close_what_is_being_recorded_and_keep_it() {
    let mut player = player();
    player.type_text("0r");
    player.bench.wait(300);
    player.bench.play(60, 100);
    player.type_text("e");
    player.press([TAB]);
    player.type_text("2");
    player.enter();
    let (status, song) = (player.bench.state().status, player.song());
    assert!(!status.recording && status.transport == Transport::Rolling);
    assert_eq!((song.sections[0].metre.bars(), song.sections[0].layers.len()), (2, 2));
    let top = song.pass(song.sections[0].layers[1].pass).unwrap();
    assert_eq!(top.notes().iter().map(|note| note.played.key.get()).collect::<Vec<_>>(), [60]);
}

#[test]
fn the_form_is_played_once_as_it_is_performed() {
    let mut player = player();
    player.write_form("a b x2 a");
    player.type_text("f");
    let status = player.bench.state().status;
    assert_eq!((status.transport, status.in_form), (Transport::Rolling, Some((1, 4))));
    let said = performed(&player.song(), Tick::ZERO);
    assert_eq!(player.heard_to_the_end(), said);
    assert_eq!(said.len(), 6);
    // Then Space loops again.
    player.type_text(" ");
    assert_eq!(player.bench.state().status.in_form, None);
    assert_eq!(player.bench.state().status.transport, Transport::Rolling);
}

#[test]
fn the_form_is_played_from_the_chosen_entry_in_its_view_and_from_its_start_elsewhere() {
    let mut player = player();
    player.write_form("a b a");
    player.press([RIGHT, RIGHT, LEFT]);
    player.type_text("f");
    let status = player.bench.state().status;
    assert_eq!(status.section.to_string(), "B");
    assert_eq!(player.heard_to_the_end(), performed(&player.song(), Tick(3840)));
    player.press([Key::new(Code::F(2))]);
    player.type_text("f");
    assert_eq!(player.heard_to_the_end(), performed(&player.song(), Tick::ZERO));
}

#[test]
fn a_span_of_the_form_is_marked_and_played_once_or_over_and_over() {
    let mut player = player();
    player.write_form("a b b a");
    player.press([RIGHT]);
    player.type_text("m");
    assert!(player.screen.notice.text.starts_with("The span begins at entry 2 (B)"));
    player.press([RIGHT]);
    player.type_text("m");
    assert_eq!(
        player.screen.notice.text,
        "The span goes from entry 2 (B) to entry 3 (B): f plays it."
    );
    // The cursor may go on; the span stays.
    player.press([RIGHT]);
    player.type_text("f");
    // B has one note, in each of its two bars, and then the song stops.
    assert_eq!(player.heard_to_the_end().len(), 2);
    // Over and over: after both entries comes the first again, and the place is that in the form.
    player.type_text("L");
    player.type_text("f");
    let standing = |player: &Player| {
        let status = player.bench.state().status;
        let letters = unrolled(&status.song);
        let span = player.screen.song_form.span(letters.len());
        crate::screen::standing(&status, &letters, span)
    };
    let mut places = Vec::new();
    player.bench.wait(200);
    for _ in 0..4 {
        places.push(standing(&player));
        player.bench.wait(2000);
    }
    assert_eq!(places, [Some(1), Some(2), Some(1), Some(2)]);
    player.type_text(" ");
    // Elsewhere f plays the whole form; a third press removes the span.
    player.press([Key::new(Code::F(2))]);
    player.type_text("f");
    assert_eq!(player.bench.state().status.in_form, Some((1, 4)));
    player.type_text(" ");
    player.press([Key::new(Code::F(6))]);
    player.type_text("m");
    assert_eq!(player.screen.notice.text, "No span: f plays the form from the chosen entry.");
    // Backwards, and a form that becomes too short for it.
    player.press([RIGHT, RIGHT, RIGHT]);
    player.type_text("m");
    player.press([LEFT, LEFT]);
    player.type_text("m");
    assert_eq!(player.screen.song_form.span(4), Some((1, 3)));
    player.type_text("x");
    assert_eq!(player.screen.song_form.span(3), None);
    player.type_text("m");
    assert_eq!(player.screen.song_form.span(3), Some((1, 1)));
}

#[test]
fn the_form_starts_at_once_while_a_loop_plays_but_not_over_a_take() {
    let mut player = player();
    player.write_form("b a");
    player.type_text(" ");
    player.bench.wait(700);
    player.type_text("0r");
    player.type_text("f");
    assert_eq!(player.screen.notice.text, "Stop recording first: press r.");
    assert!(player.bench.state().status.recording);
    player.type_text("r");
    player.type_text("f");
    let status = player.bench.state().status;
    assert_eq!((status.section.to_string().as_str(), status.in_form), ("B", Some((1, 2))));
}

#[test]
fn what_is_recorded_while_the_form_plays_belongs_to_the_sections_it_is_played_over() {
    let mut player = player();
    player.write_form("a b");
    player.type_text("f");
    player.type_text("r");
    // A bar lasts two seconds. A note in A, and one in B.
    player.bench.play(60, 100);
    player.bench.wait(1900);
    player.bench.play(62, 100);
    player.heard_to_the_end();
    let (status, song) = (player.bench.state().status, player.song());
    assert!(!status.recording && status.transport == Transport::Stopped);
    let top = |letter: &str| {
        let section = song.section(letter.parse().unwrap()).unwrap();
        let top = song.pass(section.layers.last().unwrap().pass).unwrap();
        (section.layers.len(), top.notes().iter().map(|n| n.played.key.get()).collect::<Vec<_>>())
    };
    assert_eq!((top("A"), top("B")), ((2, vec![60]), (2, vec![62])));
}

#[test]
fn a_form_that_was_stopped_goes_on_where_it_stopped() {
    let mut player = player();
    player.write_form("a b a");
    player.type_text("f");
    player.bench.wait(2500);
    player.type_text(" ");
    let status = player.bench.state().status;
    assert_eq!((status.transport, status.in_form), (Transport::Stopped, Some((2, 3))));
    player.type_text("C");
    assert_eq!(player.bench.state().status.in_form, Some((2, 3)));
    let heard = player.heard_to_the_end();
    assert_eq!(heard.last(), performed(&player.song(), Tick::ZERO).last());
    // A jump leaves the form, and Space loops the section.
    player.type_text("f");
    player.enter();
    player.bench.wait(300);
    assert_eq!(player.bench.state().status.in_form, Some((1, 3)), "until the jump comes");
    player.bench.wait(2500);
    assert_eq!(player.bench.state().status.in_form, None);
}

#[test]
fn removing_the_section_shown_shows_its_neighbour() {
    let mut player = player();
    let shown = |player: &Player| player.bench.state().status.section.to_string();
    player.press([DOWN, Key::new(Code::Enter)]);
    assert_eq!(shown(&player), "B");
    player.press([Key::new(Code::Delete)]);
    assert_eq!((player.sections(), shown(&player)), ("[A]".into(), "A".into()));
    assert_eq!(player.screen.notice.text, "Removed section B; undo brings it back.");
}

#[test]
fn the_tempo_of_the_whole_song_has_keys_where_there_are_several_sections() {
    let mut player = player();
    let tempi = |player: &Player| -> Vec<String> {
        player.song().sections.iter().map(|one| one.tempo.at(Tick::ZERO).to_string()).collect()
    };
    player.type_text("**_");
    assert_eq!(tempi(&player), ["121", "121"]);
    assert_eq!(player.screen.notice.text, "Tempo of all sections: -1; section A is at 121.");
    player.type_text("-");
    assert_eq!(tempi(&player), ["120", "121"]);
    assert_eq!(
        player.screen.notice.text,
        "Tempo of section A: 120; the other sections keep theirs."
    );
    player.type_text("uu");
    assert_eq!(tempi(&player), ["120", "120"]);
    let mut one = Player::new(four_parts());
    one.type_text("*");
    assert_eq!(
        (one.last(), one.screen.notice.text.as_str()),
        ("".into(), "There is only one section: F6 shows it, and s there adds another.")
    );
}

/// The commands that keys have led to, as the engine was asked.
fn asked(player: &Player) -> Vec<String> {
    let command = |effect: &Effect| match effect {
        Effect::Command(command) => Some(format!("{command:?}")),
        _ => None,
    };
    player.effects.iter().filter_map(command).collect()
}

#[test]
fn the_form_is_led_while_it_plays() {
    let mut song = four_parts();
    let letter: Letter = "B".parse().unwrap();
    let copy = Section { letter, ..Section::clone(&song.sections[0]) };
    song.sections.push(std::sync::Arc::new(copy));
    song.form = "A B".parse().unwrap();
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6)), Key::char('h')]);
    assert!(asked(&player).is_empty(), "nothing plays yet");
    player.type_text("f");
    player.bench.wait(1000);
    player.type_text("h");
    assert!(player.bench.state().status.form_left);
    assert_eq!(player.screen.notice.text, "Staying in section A until you say where to go.");
    player.type_text("WB");
    assert_eq!(asked(&player).last().unwrap(), "BackToForm(Bar)");
    assert!(!player.bench.state().status.form_left);
    player.type_text("L");
    assert!(player.bench.state().status.repeat);
    player.type_text("z");
    assert_eq!(asked(&player).last().unwrap(), "LastTime");
    player.type_text("K");
    assert!(player.screen.notice.text.starts_with("The form is now A"));
}

#[test]
fn the_choice_of_where_to_go_has_more_than_sections_while_the_song_plays() {
    let mut song = four_parts();
    let letter: Letter = "B".parse().unwrap();
    let copy = Section { letter, ..Section::clone(&song.sections[0]) };
    song.sections.push(std::sync::Arc::new(copy));
    song.form = "A B".parse().unwrap();
    let mut player = Player::new(song);
    let down = Key::new(Code::Down);
    player.type_text("j");
    player.press([down, down, down]);
    player.enter();
    assert_eq!(
        asked(&player).last().unwrap(),
        "Jump(B, Seam)".replace('B', &format!("{letter:?}")).as_str()
    );
    player.type_text("f");
    player.type_text("j");
    // It opens at the section that comes next; after the two sections: stay, and the last time.
    player.press([Key::new(Code::Tab), down]);
    player.enter();
    assert_eq!(asked(&player).last().unwrap(), "Stay");
    player.type_text("j");
    player.press([down, down, down]);
    player.enter();
    assert_eq!(asked(&player).last().unwrap(), "BackToForm(Bar)");
}

#[test]
fn the_chords_of_a_section_are_typed_and_a_wrong_chart_says_what_is_right() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::F(6)), Key::char('H')]);
    player.press([Key::ctrl('u')]);
    player.type_text("C | Am7 | Hm | G7");
    player.enter();
    let error = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Form(form)) => form.error.clone().unwrap_or_default(),
        _ => String::new(),
    };
    assert!(error(&player).starts_with("Bar 3: "), "{}", error(&player));
    player.press([Key::ctrl('u')]);
    player.type_text("C | Am7 | F/A | G7");
    player.enter();
    let chords = |player: &Player| {
        let state = player.bench.state();
        let section = &state.status.song.sections[0];
        chaconne_harmony::chart_text(&section.chords, &section.metre)
    };
    assert_eq!(chords(&player), "C | Am7 | F/A | G7");
    player.type_text("u");
    assert_eq!(chords(&player), "");
}

/// Typed chords are those that sound, under whatever transposition.
#[test]
fn chords_are_written_as_they_sound_and_kept_as_the_section_has_them() {
    let mut song = four_parts();
    song.transpose = chaconne_song::Transpose::new(2).unwrap();
    let mut player = Player::new(song);
    player.press([Key::new(Code::F(6)), Key::char('H')]);
    player.type_text("D | Bm | G | A");
    player.enter();
    let state = player.bench.state();
    let (song, section) = (&state.status.song, &state.status.song.sections[0]);
    let chart = |chords: &[_]| chaconne_harmony::chart_text(chords, &section.metre);
    assert_eq!(chart(&section.chords), "C | Am | F | G");
    assert_eq!(chart(&crate::chords::sounding(song, section)), "D | Bm | G | A");
}

#[test]
fn the_notes_of_a_part_suggest_its_chords() {
    let mut song = four_parts();
    // C and A minor, two bars each, on the third track.
    let note = |bar: i64, key| (bar * 3840, 3700, key, 80);
    let notes: Vec<_> = (0..4)
        .flat_map(|bar| if bar < 2 { [48, 64, 67] } else { [45, 60, 64] }.map(|key| note(bar, key)))
        .collect();
    let track = song.tracks[2].id;
    let mut pass = chaconne_song::Pass::clone(&crate::testing::pass(90, track.0, 4 * 3840, &notes));
    pass.track = track;
    let layers = song.sections[0].layers.clone();
    for layer in layers {
        if song.passes[&layer.pass].track == track {
            let edit = chaconne_song::SectionEdit::Remove(layer.pass);
            chaconne_song::Edit::Section(Letter::A, edit).apply(&mut song).unwrap();
        }
    }
    song.lay(Letter::A, pass);
    let mut player = Player::new(song);
    player.press([
        Key::new(Code::Down),
        Key::new(Code::Down),
        Key::new(Code::F(6)),
        Key::char('H'),
    ]);
    player.press([Key::ctrl('t')]);
    player.enter();
    let state = player.bench.state();
    let section = &state.status.song.sections[0];
    let chart = chaconne_harmony::chart_text(&section.chords, &section.metre);
    assert_eq!(chart, "C | % | Am | %");
}

/// The song waits at the end of the beat on which a fermata stands, and a tap lets it go on.
#[test]
fn fermatas_are_typed_into_the_section_and_wait_for_a_tap() {
    let mut player = player();
    let to_fermatas = [DOWN; 6];
    player.type_text("e");
    player.press(to_fermatas);
    player.type_text("1.9");
    player.enter();
    assert_eq!(player.form_error().unwrap(), "Bar 1 has no beat 9 for a fermata.");
    player.press([CLEAR]);
    player.type_text("hold");
    player.enter();
    let error = "'hold' is not a place for a fermata: write bar.beat, e.g. 8.4.";
    assert_eq!(player.form_error().unwrap(), error);
    player.press([CLEAR]);
    player.type_text("1.2, 1.1.480");
    player.enter();
    assert_eq!(player.song().sections[0].fermatas, [Tick(480), Tick(960)]);
    player.type_text("u");
    assert!(player.song().sections[0].fermatas.is_empty());
    assert_eq!(player.screen.notice.text, "Undone: fermata of section A.");
    player.type_text("U ");
    player.bench.wait(5000);
    let place = |player: &Player| {
        let status = player.bench.state().status;
        (status.place.beat, status.waits.is_some())
    };
    assert_eq!(place(&player), (1, true));
    assert_eq!(player.bench.state().status.said.1, "fermata: the song waits for a tap");
    player.type_text("t");
    player.bench.wait(5000);
    assert_eq!(place(&player), (2, true));
    player.type_text("t");
    player.bench.wait(1200);
    assert_eq!(place(&player), (1, false));
}
