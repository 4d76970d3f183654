//! What musicians type, and what is found first.

use super::*;
use crate::keymap::table;

fn at(view: View) -> Here {
    Here { view, piano: false, arrows: Arrows::Cursor, keymap: Keymap::default() }
}

/// The first lines found.
fn found(typed: &str, here: Here) -> Vec<&'static str> {
    search(typed, here).iter().map(|entry| entry.binding.words().phrase).collect()
}

#[test]
fn what_musicians_say_is_found_first() {
    let (here, notes) = (at(View::Loop), at(View::Notes));
    for (typed, here, first) in [
        ("louder", here, "Turn the built-in sound up"),
        ("make the bass louder", here, "Turn the built-in sound up"),
        ("volume", at(View::Levels), "Turn the track's volume down"),
        ("quantise", here, "Quantise the track, or play it as played"),
        ("quantize", here, "Quantise the track, or play it as played"),
        ("pan", here, "Pan the track to the left"),
        ("quantising", here, "Quantise the track, or play it as played"),
        ("swing", here, "Set the feel of the track"),
        ("copy verse", here, "Copy the section"),
        ("delete", here, "Remove the top layer"),
        ("delete", notes, "Delete notes"),
        ("delete", at(View::Layers), "Remove the layer"),
        ("copy", notes, "Copy notes"),
        ("copy", here, "Copy notes"),
        ("metronome", here, "Change when the click plays"),
        ("faster", here, "Raise the tempo"),
        ("slow down", here, "Lower the tempo"),
        ("stop", here, "Stop"),
        ("stop recording", here, "Stop recording"),
        ("rec", here, "Record"),
        ("start", here, "Play the section"),
        ("undo", here, "Undo the last change"),
        ("mistake", here, "Undo the last change"),
        ("panic", here, "Silence everything now"),
        ("new track", here, "Add a track"),
        ("instrument", here, "Choose the sound of the track"),
        ("backwards", here, "Reverse notes in time"),
        ("time signature", here, "Edit the section"),
        ("exit", here, "Quit"),
        ("mixer", here, "Show the levels"),
        ("muting", here, "Mute or unmute the track"),
        ("hats", here, "Add a track"),
        ("hats", notes, "Set the feel of the layer"),
    ] {
        assert_eq!(found(typed, here).first(), Some(&first), "{typed}: {:?}", found(typed, here));
    }
}

#[test]
fn everyday_phrases_find_what_they_mean() {
    let (here, layers, notes) = (at(View::Loop), at(View::Layers), at(View::Notes));
    let (levels, form, piano) = (at(View::Levels), at(View::Form), Here { piano: true, ..here });
    let lane = Here { arrows: Arrows::Lane, ..notes };
    let mut wrong = Vec::new();
    for (typed, here, first) in [
        ("swell", here, "Draw a ramp"),
        ("crescendo", notes, "Draw a ramp"),
        ("crescendo", lane, "Draw a ramp"),
        ("automation", here, "Draw velocities and controllers"),
        ("delete note", here, "Delete notes"),
        ("delete a note", notes, "Delete notes"),
        ("velocity", here, "Make notes louder or softer"),
        ("velocity", notes, "Make notes louder or softer"),
        ("key", here, "Edit the song"),
        ("change key", here, "Edit the song"),
        ("keys", here, "Show the help"),
        ("transpose the song", here, "Edit the song"),
        ("transpose", notes, "Transpose notes"),
        ("song title", here, "Edit the song"),
        ("rename the track", here, "Edit the track"),
        ("rename", layers, "Name the layer"),
        ("delete track", here, "Remove the track"),
        ("next track", here, "Choose the track below"),
        ("instrument", layers, "Choose the sound of the track"),
        ("change instrument", here, "Choose the sound of the track"),
        ("volume up", here, "Turn the track's volume up"),
        ("quieter", levels, "Turn the track's volume down"),
        ("pan left", levels, "Pan the track to the left"),
        ("headphones", here, "Turn the built-in sound down"),
        ("retake", here, "Record again from the same place"),
        ("overdub", here, "Change what a new pass does"),
        ("punch in", here, "Change what a new pass does"),
        ("delete take", layers, "Remove the layer"),
        ("erase", here, "Remove the top layer"),
        ("keep what I played", here, "Keep what you just played"),
        ("go back to the start", here, "Go back to the top"),
        ("no metronome", here, "Change when the click plays"),
        ("tap tempo", here, "Tap the tempo"),
        ("speed up", here, "Raise the tempo"),
        ("shuffle", here, "Set the feel of the track"),
        ("triplets", here, "Set the feel of the track"),
        ("tighten", here, "Quantise the track, or play it as played"),
        ("time signature", form, "Edit the section"),
        ("number of bars", form, "Edit the section"),
        ("split the verse in two", form, "Split the section at a bar"),
        ("cut the section in two", here, "Split the section at a bar"),
        ("join the two parts", form, "Join the section with the next"),
        ("merge sections", here, "Join the section with the next"),
        ("take bars out of the verse", form, "Make a new section of some bars"),
        ("make the chorus longer", form, "Make the section longer or shorter"),
        ("shorten the verse", here, "Make the section longer or shorter"),
        ("half time", here, "Put the section into half time"),
        ("double time", form, "Put the section into double time"),
        ("find the key", here, "Find the key and who can sing it"),
        ("too high for the singer", here, "Find the key and who can sing it"),
        ("detect the key", form, "Find the key and who can sing it"),
        ("range of the voice", form, "Find the key and who can sing it"),
        ("ritardando", here, "Set the tempo, a ramp or the duration"),
        ("slow down gradually", here, "Set the tempo, a ramp or the duration"),
        ("accelerando", form, "Set the tempo, a ramp or the duration"),
        ("how long is the song", here, "Set the tempo, a ramp or the duration"),
        ("make the song last three minutes", here, "Set the tempo, a ramp or the duration"),
        ("set the tempo", form, "Set the tempo, a ramp or the duration"),
        ("add a chorus", form, "Add a section"),
        ("duplicate the section", here, "Copy the section"),
        ("arrangement", here, "Show the sections and the form"),
        ("play the song", here, "Play the form"),
        ("draw a note", here, "Draw a note"),
        ("paste", notes, "Paste notes"),
        ("legato", notes, "Join notes"),
        ("accent", notes, "Make notes louder or softer"),
        ("select all", notes, "Select all notes"),
        ("octave up", piano, "Move the piano up an octave"),
        ("keyboard", here, "Turn on piano mode"),
        ("stuck note", here, "Silence everything now"),
        ("latency", here, "Show the ports and the timing"),
        ("export midi", here, "Export the song"),
        ("wav", here, "Export the song"),
        ("load", here, "Open another song"),
        ("save under another name", here, "Save the song to another file"),
        ("tutorial", here, "Take the tour"),
        ("shortcuts", here, "Show the help"),
    ] {
        let found = found(typed, here);
        if found.first() != Some(&first) {
            wrong.push(format!("{typed}: {:?}", &found[..found.len().min(4)]));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn nothing_typed_gives_every_action_those_of_the_view_first() {
    for view in View::ALL {
        for piano in [false, true] {
            let here = Here { piano, ..at(view) };
            let all = search("", here);
            let is_sorted = all.is_sorted_by_key(|entry| entry.place.distance(here) >= 3);
            assert!(is_sorted, "{here:?}");
            let offered = table().filter(|binding| is_offered(binding, here));
            for binding in offered {
                let entries = all.iter().filter(|entry| entry.is_about(binding));
                assert_eq!(entries.count(), 1, "{here:?} {:?}", binding.action);
            }
        }
    }
}

#[test]
fn each_line_finds_its_own_action_first() {
    for view in [View::Loop, View::Notes] {
        let here = at(view);
        for entry in entries(here) {
            let phrase = entry.binding.words().phrase;
            assert!(found(phrase, here).iter().take(3).any(|found| *found == phrase), "{phrase}");
        }
    }
}

#[test]
fn words_that_no_action_has_find_nothing() {
    assert!(found("xylophone zebra", at(View::Loop)).is_empty());
    assert!(!found("zebra tempo", at(View::Loop)).is_empty());
}

#[test]
fn an_action_with_several_keys_is_shown_with_the_one_that_works_here() {
    let key = |typed, here| search(typed, here)[0].key_words(Keymap::default());
    assert_eq!(key("record", at(View::Loop)), "r");
    assert_eq!(key("record", Here { piano: true, ..at(View::Loop) }), "Enter");
    let reverse = search("reverse notes", at(View::Loop))[0];
    assert_eq!(
        (
            reverse.key_words(Keymap::default()).as_str(),
            reverse.place.words(Keymap::default()).as_str()
        ),
        ("e b", "in the notes (F4)")
    );
}

/// Four tracks, of which the bass is the chosen one.
fn parts() -> Vec<Part> {
    let part = |id, name: &str, is_drums, is_chosen| Part {
        id: TrackId(id),
        name: name.into(),
        is_drums,
        is_chosen,
    };
    vec![
        part(1, "drums", true, false),
        part(2, "bass", false, true),
        part(3, "chords", false, false),
        part(4, "melody", false, false),
    ]
}

/// What songwriters type: short, sloppy, with a letter wrong, and with the names of their tracks.
#[test]
fn sloppy_phrases_find_what_they_mean() {
    let (here, notes) = (at(View::Loop), at(View::Notes));
    let mut wrong = Vec::new();
    for (typed, here, first, track) in [
        ("less stiff", here, "Set the feel of the track", None),
        ("sounds robotic", here, "Set the feel of the track", None),
        ("humanize", here, "Set the feel of the track", None),
        ("make it groove", here, "Set the feel of the track", None),
        ("triplet feel", here, "Set the feel of the track", None),
        ("change the key", here, "Edit the song", None),
        ("higher key", here, "Edit the song", None),
        ("higher key", notes, "Edit the song", None),
        ("lower for the singer", here, "Edit the song", None),
        ("put the chorus twice", here, "Write the form as text", None),
        ("verse after the chorus", here, "Write the form as text", None),
        ("wrong note", here, "Show the notes", None),
        ("fix a note", here, "Show the notes", None),
        ("transpose the whole song up a step", here, "Edit the song", None),
        ("please transpose my song", here, "Edit the song", None),
        ("add a bar", here, "Edit the section", None),
        ("I want to add two bars", here, "Edit the section", None),
        ("undo a deleted layer", here, "Undo the last change", None),
        ("bring back the deleted layer", here, "Undo the last change", None),
        ("turn down the bass", here, "Turn the track's volume down", Some(2)),
        ("how do I turn down the bass", here, "Turn the track's volume down", Some(2)),
        ("get rid of the bass", here, "Remove the track", Some(2)),
        ("metronome off", here, "Change when the click plays", None),
        ("please turn off the metronome", here, "Change when the click plays", None),
        ("how do I save my song", here, "Save the song", None),
        ("make the bass louder", here, "Turn the track's volume up", Some(2)),
        ("turn down the drums", here, "Turn the track's volume down", Some(1)),
        ("mute drums", here, "Mute or unmute the track", Some(1)),
        ("drums only", here, "Solo the track, or end its solo", Some(1)),
        ("hear just the melody", here, "Solo the track, or end its solo", Some(4)),
        ("delete the bass", here, "Remove the track", Some(2)),
        ("rename bass", here, "Edit the track", Some(2)),
        ("record the melody", here, "Record", Some(4)),
        ("quantise the chords", here, "Quantise the track, or play it as played", Some(3)),
        ("new sound for the melody", here, "Choose the sound of the track", Some(4)),
        ("pan chords left", here, "Pan the track to the left", Some(3)),
        ("notes of the drums", here, "Show the notes", Some(1)),
        ("quanitze", here, "Quantise the track, or play it as played", None),
        ("metronom off", here, "Change when the click plays", None),
        ("volumne up", here, "Turn the track's volume up", None),
        ("trasnpose", notes, "Transpose notes", None),
        ("add a chrous", here, "Add a section", None),
        ("recrod", here, "Record", None),
        ("exprot", here, "Export the song", None),
        ("too loud", here, "Turn the built-in sound down", None),
        ("too fast", here, "Lower the tempo", None),
        ("bit slower", here, "Lower the tempo", None),
        ("bpm", here, "Edit the section", None),
        ("make the loop longer", here, "Edit the section", None),
        ("snap to grid", here, "Quantise the track, or play it as played", None),
        ("out of time", here, "Quantise the track, or play it as played", None),
        ("go to the chorus", here, "Jump to another section", None),
        ("play it again", here, "Play the section", None),
        ("from the beginning", here, "Go back to the top", None),
        ("record over it", here, "Change what a new pass does", None),
        ("delete last take", here, "Remove the top layer", None),
        ("do another take", here, "Record again from the same place", None),
        ("scrap that", here, "Undo the last change", None),
        ("undo my undo", here, "Undo the last change", None),
        ("piano sound", here, "Choose the sound of the track", None),
        ("different instrument", here, "Choose the sound of the track", None),
        ("count me in", here, "Count in one bar", None),
        ("make a bridge", here, "Add a section", None),
        ("shorter notes", here, "Make notes longer or shorter", None),
        ("midi file", here, "Export the song", None),
        ("turn the click off", here, "Change when the click plays", None),
        ("save a copy", here, "Save the song to another file", None),
        ("help me", here, "Show the help", None),
        ("my bass is late", here, "Quantise the track, or play it as played", Some(2)),
        ("the drums are rushing", here, "Quantise the track, or play it as played", Some(1)),
        ("change sound to violin", here, "Choose the sound of the track", None),
        ("the order I just played", here, "Make what was played the form", None),
    ] {
        let found = look_up(typed, here, &parts());
        let lines: Vec<&str> =
            found.entries.iter().map(|entry| entry.binding.words().phrase).collect();
        let aimed = found.typed.track.map(|track| track.0);
        if (lines.first(), aimed) != (Some(&first), track) || found.topic.is_some() {
            wrong.push(format!("{typed}: {:?} {aimed:?}", &lines[..lines.len().min(4)]));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn what_nothing_does_is_said_and_what_comes_near_is_offered() {
    let here = at(View::Loop);
    for (typed, says, near) in [
        (
            "half tempo",
            "type 50 % or 200 % as the tempo",
            Some("Set the tempo, a ramp or the duration"),
        ),
        ("loop the second bar", "always a whole section", Some("Go to the next bar")),
        ("sync to drum machine", "--clock sends it", Some("Show the ports and the timing")),
        ("what chord is this", "chaconne outline", Some("Write the chords of the section")),
        // A track is called chords, too.
        ("write the chords", "Chords belong to a section", Some("Write the chords of the section")),
        ("suggest chords", "Ctrl-T", Some("Write the chords of the section")),
        ("chord names", "Chords belong to a section", Some("Write the chords of the section")),
        ("loop only the chorus", "is the loop", Some("Jump to another section")),
        ("swing only the hats", "layer of their own", Some("Select the notes of this pitch")),
        ("swing the hats", "layer of their own", Some("Select the notes of this pitch")),
        ("copy bars 1 and 2 to 3 and 4", "{paste-notes}", Some("Select the notes of this bar")),
        ("record from bar three", "{bar-after}", Some("Go to the next bar")),
        ("send it to my bandmate", "one text file", Some("Export the song")),
        ("ending", "a section of its own", Some("Write the form as text")),
        ("fade out", "volume", Some("Show the levels")),
        ("fade the drums out", "volume", Some("Show the levels")),
        ("write lyrics", "no place for lyrics", None),
        ("add reverb", "no effects", Some("Choose what the lane shows")),
        ("sing", "microphone", None),
        ("sheet music", "notation", Some("Export the song")),
        ("mp3", "WAV", Some("Export the song")),
        ("import midi", "chaconne import", Some("Open another song")),
    ] {
        let found = look_up(typed, here, &parts());
        let said = found.topic.map_or("", |topic| topic.says);
        assert!(said.contains(says), "{typed}: {said} {:?}", found.entries.first());
        let first = found.entries.first().map(|entry| entry.binding.words().phrase);
        assert_eq!(first, near, "{typed}");
    }
    // A part called chords is no question about chords.
    for about_the_part in ["mute the chords", "chords louder", "record the chords", "delete chords"]
    {
        let found = look_up(about_the_part, here, &parts());
        assert_eq!((found.topic, found.typed.track), (None, Some(TrackId(3))), "{about_the_part}");
    }
    // A weak word alone does not stand for all that was typed.
    assert!(look_up("brew strong coffee again", here, &parts()).entries.is_empty());
    let found = look_up("louder xylophone", here, &parts());
    assert_eq!((found.unknown, found.entries.is_empty()), (vec!["xylophone".to_string()], false));
}

#[test]
fn a_pasted_page_is_read_as_far_as_a_request_may_go() {
    let found = look_up(&"xylophone zebra ".repeat(100), at(View::Loop), &parts());
    assert_eq!((found.typed.words.len(), found.entries.len(), found.unknown.len()), (24, 0, 24));
}
