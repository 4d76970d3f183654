//! Grooves: taking one, giving it, and taking it off again; with the song of a real engine.

use super::*;
use crate::testing::{groove, pass};
use chaconne_engine::{Message, Route, Wire, perform};
use chaconne_song::{GivenGroove, GrooveId, Human, PassId, TrackId};
use chaconne_time::{Span, Tick};

const DOWN: Key = Key::new(Code::Down);
const UP: Key = Key::new(Code::Up);
const LEFT: Key = Key::new(Code::Left);
const RIGHT: Key = Key::new(Code::Right);
const ESC: Key = Key::new(Code::Esc);

/// A drummer and a straight bass over a bar: the drummer is 20 ticks late on the second sixteenth, 10 early on
/// the fifth, and twice as loud there.
fn duo() -> Song {
    let mut song = empty_song(1, "4/4");
    let track = |id, name| chaconne_song::Track::pitched(TrackId(id), name);
    song.tracks = vec![track(1, "drums").into(), track(2, "bass").into()];
    song.lay(
        Letter::A,
        pass(10, 1, 3840, &[(0, 60, 40, 60), (260, 60, 41, 60), (950, 60, 42, 120)]),
    );
    song.lay(Letter::A, pass(11, 1, 3840, &[(480, 60, 43, 60)]));
    let straight: Vec<_> = (0..16).map(|step| (step * 240, 60, 40, 80)).collect();
    song.lay(Letter::A, pass(12, 2, 3840, &straight));
    song
}

fn player() -> Player {
    Player::new(duo())
}

fn song(player: &Player) -> std::sync::Arc<Song> {
    player.bench.state().status.song
}

fn said(player: &Player) -> &str {
    &player.screen.notice.text
}

/// The starts and velocities of the bass in the first bar.
fn bass(player: &Player) -> Vec<(i64, u8)> {
    let (song, span) = (song(player), Span::new(Tick::ZERO, Tick(3840)));
    let events =
        perform(&song, &Route::open(Letter::A), span, chaconne_engine::View::Corrected).events;
    let press = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::NoteOn { key, velocity, .. }) if key.get() == 40 => event
            .voice
            .filter(|voice| voice.pass == PassId(12))
            .map(|_| (event.at.0, velocity.get())),
        _ => None,
    };
    events.iter().filter_map(press).collect()
}

/// The steps of a groove as step, ticks late, percent.
fn steps(player: &Player, name: &str) -> Vec<(u32, i64, u16)> {
    let groove = song(player).groove_named(name).cloned().unwrap();
    groove.steps.iter().map(|(at, lean)| (at.step, lean.timing.0, lean.loudness)).collect()
}

#[test]
fn two_keys_take_the_groove_of_a_track_and_say_what_was_taken() {
    let mut player = player();
    player.type_text("N");
    player.enter();
    // The mean of 60, 60, 60 and 120 is 75.
    assert_eq!(steps(&player, "drums"), [(1, 0, 80), (2, 20, 80), (3, 0, 80), (5, -10, 160)]);
    // At 120 a quarter of 960 ticks lasts 500 ms.
    assert_eq!(
        said(&player),
        "Groove drums taken: 4 steps, up to 5.2 ms early and 10.4 ms late. P shows it."
    );
    player.type_text("u");
    assert!(song(&player).grooves.is_empty());
    player.type_text("U");
    assert_eq!(song(&player).grooves.len(), 1);
}

#[test]
fn in_the_layers_and_the_notes_it_is_that_of_the_layer() {
    let mut player = player();
    player.press([Key::new(Code::F(3)), DOWN]);
    player.type_text("N");
    player.enter();
    assert_eq!(steps(&player, "drums"), [(1, 0, 75), (2, 20, 75), (5, -10, 150)]);
    player.press([UP, Key::new(Code::F(4))]);
    player.type_text("N");
    player.enter();
    assert_eq!(steps(&player, "drums 2"), [(3, 0, 100)]);
    assert_eq!(said(&player), "Groove drums 2 taken: 1 step, all on the grid. P shows it.");
    // All layers of the track are shown.
    player.type_text("yN");
    player.enter();
    assert_eq!(steps(&player, "drums 3").len(), 4);
}

#[test]
fn a_muted_layer_is_left_out_of_the_groove_of_its_track() {
    let mut player = player();
    player.press([Key::new(Code::F(3))]);
    player.type_text("m");
    player.press([Key::new(Code::F(2))]);
    player.type_text("N");
    player.enter();
    assert_eq!(steps(&player, "drums").len(), 3);
}

#[test]
fn the_form_refuses_what_cannot_be_and_takes_what_was_asked() {
    let mut song = duo();
    song.grooves.push(groove(90, "Sam"));
    let mut player = Player::new(song);
    let error = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Form(form)) => form.error.clone().unwrap_or_default(),
        other => panic!("{other:?}"),
    };
    player.type_text("NSam");
    player.enter();
    assert_eq!(error(&player), "There is a groove Sam already: use another name.");
    player.press([Key::ctrl('u')]);
    player.enter();
    assert_eq!(error(&player), "The groove needs a name.");
    player.type_text("Pat");
    player.press([DOWN]);
    player.type_text("5");
    player.enter();
    let sentence = "'5' is not a grid: use e.g. 1/8, 1/8t for triplets, or 1/16.";
    assert_eq!(error(&player), sentence);
    player.press([Key::ctrl('u')]);
    player.type_text("8");
    player.press([DOWN]);
    player.type_text("17");
    player.enter();
    assert_eq!(error(&player), "'17' is not a bar count: use 1 to 16.");
    player.press([Key::ctrl('u')]);
    player.type_text("2");
    player.enter();
    let taken = self::song(&player).groove_named("Pat").cloned().unwrap();
    assert_eq!((taken.grid.to_string().as_str(), taken.bars), ("1/8", 2));
}

#[test]
fn without_notes_there_is_no_groove_to_take() {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(chaconne_song::Track::pitched(TrackId(1), "bass").into());
    let mut player = Player::new(song.clone());
    player.type_text("N");
    assert_eq!(said(&player), "This track has no layers here: r records one.");
    player.type_text("P");
    assert_eq!(
        said(&player),
        "The song has no grooves yet: N takes the groove of what was played."
    );
    song.lay(Letter::A, pass(10, 1, 3840, &[]));
    let mut player = Player::new(song);
    player.type_text("N");
    assert_eq!(said(&player), "There are no notes here to take a groove from.");
    assert!(player.screen.overlays.top().is_none());
}

#[test]
fn a_groove_can_be_taken_and_given_while_a_take_is_recorded() {
    let mut player = player();
    player.press([DOWN]);
    player.type_text("0lr");
    player.bench.play(50, 90);
    player.press([UP]);
    player.type_text("N");
    player.enter();
    player.press([DOWN]);
    player.type_text("P");
    player.enter();
    assert_eq!(said(&player), "Feel of bass: groove drums 100 %.");
    player.bench.play(52, 90);
    player.bench.wait(4000);
    player.type_text("r");
    let (song, id) = (song(&player), song(&player).grooves[0].id.0);
    let recorded = song.passes.values().filter(|pass| pass.id.0 > 12);
    let notes: usize = recorded.clone().map(|pass| pass.notes().len()).sum();
    assert_eq!(notes, 2);
    assert!(recorded.into_iter().all(|pass| pass.id.0 != id));
    assert_eq!(song.tracks[1].feel.groove, Some(GivenGroove::whole(GrooveId(id))));
}

#[test]
fn given_in_the_box_it_moves_the_straight_part_and_taken_off_gives_it_back() {
    let mut player = player();
    let straight = bass(&player);
    player.type_text("N");
    player.enter();
    player.press([DOWN]);
    player.type_text("P");
    player.enter();
    assert!(player.screen.overlays.top().is_none());
    let moved = bass(&player);
    // By hand: 80 times 0.8 and 1.6; between steps the timing lies on a straight line: 20 to 0 to -10, and on to
    // 0 at the top of the next bar.
    assert_eq!(moved[..6], [(0, 64), (260, 64), (480, 64), (715, 80), (950, 127), (1191, 80)]);
    // Once more it says that it is there already.
    player.type_text("P");
    player.enter();
    assert_eq!(said(&player), "Bass has this groove already: v sets how much of it.");
    player.press([ESC]);
    player.type_text("v");
    player.press([DOWN, DOWN, DOWN, DOWN, DOWN, LEFT]);
    assert_eq!(bass(&player), straight, "heard at once");
    player.enter();
    assert_eq!(said(&player), "Feel of bass: quantise off, as you played it.");
    player.type_text("u");
    assert_eq!(bass(&player), moved);
}

/// The feel of the bass.
fn feel(player: &Player) -> Feel {
    song(player).tracks[1].feel
}

/// A player with two grooves whose cursor is on the groove in the feel of the bass.
fn at_the_groove() -> Player {
    let mut song = duo();
    song.grooves = vec![groove(90, "Sam"), groove(91, "Sal 2")];
    let mut player = Player::new(song);
    player.press([DOWN]);
    player.type_text("v");
    player.press([DOWN; 5]);
    player
}

#[test]
fn grooves_and_how_much_of_them_are_stepped_and_heard_at_once() {
    let mut player = at_the_groove();
    let given = |player: &Player| {
        feel(player).groove.map(|given| (given.groove.0, given.timing, given.loudness))
    };
    // As much as is set before one is chosen counts when it is.
    player.press([DOWN, LEFT, LEFT, UP]);
    assert_eq!(given(&player), None);
    player.press([RIGHT]);
    assert_eq!(given(&player), Some((90, 90, 100)));
    player.press([RIGHT]);
    assert_eq!(given(&player), Some((91, 90, 100)));
    player.press([RIGHT]);
    assert_eq!(given(&player), Some((91, 90, 100)), "there is no other");
    player.press([DOWN]);
    player.press([RIGHT; 30]);
    assert_eq!(given(&player), Some((91, 200, 100)));
    player.press([DOWN]);
    player.press([LEFT; 30]);
    assert_eq!(given(&player), Some((91, 200, 0)));
    player.press([UP, UP, LEFT, LEFT]);
    assert_eq!(given(&player), None);
    player.press([RIGHT]);
    assert_eq!(given(&player), Some((90, 200, 0)), "as much as it was");
    player.enter();
    assert_eq!(said(&player), "Feel of bass: groove Sam, timing 200 %, loudness 0 %.");
    // All of it is one step.
    player.type_text("u");
    assert_eq!((given(&player), player.bench.state().status.undo), (None, None));
}

#[test]
fn human_variation_is_stepped_and_cancelled() {
    let mut player = at_the_groove();
    let straight = bass(&player);
    let human = |player: &Player| {
        let Human { timing, loudness, seed } = feel(player).human;
        (timing, loudness, seed)
    };
    player.press([DOWN; 3]);
    player.press([RIGHT; 8]);
    assert_eq!(human(&player), (40, 0, 0));
    let first = bass(&player);
    assert_ne!(first, straight);
    player.press([DOWN, RIGHT, RIGHT, DOWN, RIGHT, RIGHT, LEFT, LEFT, LEFT, RIGHT]);
    assert_eq!(human(&player), (40, 10, 1));
    assert_ne!(bass(&player), first);
    assert_eq!(bass(&player), bass(&player), "the same song gives the same notes");
    player.press([ESC]);
    assert_eq!(bass(&player), straight);
    assert_eq!(player.bench.state().status.undo, None);
    // Kept, it is told, and undone as one step.
    player.type_text("v");
    player.press([Key::new(Code::BackTab); 3]);
    player.type_text("35");
    player.press([DOWN]);
    player.type_text("20");
    player.press([DOWN]);
    player.type_text("9999");
    player.enter();
    assert_eq!(human(&player), (35, 20, 9999));
    assert_eq!(said(&player), "Feel of bass: human 35 %, dynamics 20 %.");
    player.type_text("u");
    assert_eq!(bass(&player), straight);
}

#[test]
fn grooves_and_depths_are_typed() {
    let mut player = at_the_groove();
    let given = |player: &Player| feel(player).groove.map(|given| (given.groove.0, given.timing));
    for (typed, expected) in [("s", 90), ("al", 91), ("S", 90), ("AL 2", 91), ("x", 91)] {
        player.type_text(typed);
        assert_eq!(given(&player), Some((expected, 100)), "{typed}");
    }
    player.press([DOWN]);
    for (typed, expected) in [("75", 75), ("200", 200), ("5", 5), ("6", 56), ("x", 56)] {
        player.type_text(typed);
        assert_eq!(given(&player), Some((91, expected)), "{typed}");
    }
    player.press([Key::new(Code::Backspace)]);
    assert_eq!(given(&player), Some((91, 5)));
}

#[test]
fn a_layer_is_given_a_groove_of_its_own() {
    let mut player = player();
    player.type_text("N");
    player.enter();
    player.press([DOWN, Key::new(Code::F(3))]);
    player.type_text("V");
    player.press([DOWN; 6]);
    player.press([UP, RIGHT]);
    let song = song(&player);
    assert_eq!(song.tracks[1].feel.groove, None);
    let own = song.pass(PassId(12)).unwrap().feel.unwrap().groove;
    assert_eq!(own, Some(GivenGroove::whole(song.grooves[0].id)));
    player.enter();
    assert_eq!(said(&player), "Feel of this layer: groove drums 100 %.");
}

#[test]
fn a_groove_is_renamed_and_removed_but_not_while_it_is_given() {
    let mut player = player();
    player.type_text("N");
    player.enter();
    player.type_text("P");
    player.enter();
    player.type_text("Pe");
    player.type_text("Sam");
    player.enter();
    assert_eq!(song(&player).grooves[0].name, "Sam");
    assert_eq!(player.screen.scene(), Scene::Grooves);
    player.press([Key::new(Code::Delete)]);
    assert_eq!(
        said(&player),
        "Groove 'Sam' is still given to track 'drums': take it off there first."
    );
    assert_eq!(song(&player).grooves.len(), 1);
    player.press([ESC]);
    player.type_text("v");
    player.press([DOWN, DOWN, DOWN, DOWN, DOWN, LEFT]);
    player.enter();
    player.type_text("P");
    player.press([Key::new(Code::Delete)]);
    assert!(song(&player).grooves.is_empty());
    player.press([ESC]);
    player.type_text("u");
    assert_eq!(song(&player).grooves[0].name, "Sam");
}

#[test]
fn the_words_of_musicians_lead_to_the_settings() {
    let mut song = duo();
    song.grooves.push(groove(90, "Sam"));
    for (typed, field) in [
        ("humanise", FeelField::Human),
        ("human", FeelField::Human),
        ("human feel", FeelField::Human),
        ("less stiff", FeelField::Pull),
        ("make it groove", FeelField::Groove),
        ("groove", FeelField::Groove),
        ("swing", FeelField::Swing),
    ] {
        let mut player = Player::new(song.clone());
        player.type_text("/");
        player.type_text(typed);
        player.enter();
        match player.screen.overlays.top() {
            Some(Overlay::Feel(pick)) => assert_eq!(pick.field, field, "{typed}"),
            other => panic!("{typed}: {other:?}"),
        }
    }
    for (typed, scene) in [
        ("show grooves", Scene::Grooves),
        ("groove curve", Scene::Grooves),
        ("give a groove", Scene::Grooves),
        ("feel of the drummer", Scene::Form),
        ("copy the feel", Scene::Form),
        ("take the groove", Scene::Form),
        ("rename groove", Scene::Grooves),
    ] {
        let mut player = Player::new(song.clone());
        player.type_text("/");
        player.type_text(typed);
        player.enter();
        assert_eq!(player.screen.scene(), scene, "{typed}");
    }
}
