//! What the actions of the layers, the levels and the form are called.

use super::{Words, only_here, words};
use crate::action::{
    GrooveAction, LayerAction, LeadAction, LevelAction, SectionAction, Side, Vertical,
};

pub(super) fn level_words(action: LevelAction) -> Words {
    match action {
        LevelAction::Volume(Vertical::Up) => words(
            "volume-up",
            "Turn the track's volume up",
            "louder raise increase gain mix level fade in ride fader",
        ),
        LevelAction::Volume(Vertical::Down) => words(
            "volume-down",
            "Turn the track's volume down",
            "softer quieter; lower decrease gain mix level fade out ride fader too loud",
        ),
        LevelAction::Pan(Side::Left) => {
            words("pan-left", "Pan the track to the left", "balance stereo position move")
        }
        LevelAction::Pan(Side::Right) => {
            words("pan-right", "Pan the track to the right", "balance stereo position move")
        }
        LevelAction::Clear => words(
            "clear-levels",
            "Clear the track's volume and pan",
            "reset default delete remove unset level",
        ),
    }
}

pub(super) fn layer_words(action: LayerAction) -> Words {
    match action {
        LayerAction::Mute => {
            words("mute-layer", "Mute or unmute the layer", "silence off pass unmute take")
        }
        LayerAction::Solo => {
            words("solo-layer", "Solo the layer, or end its solo", "alone only pass hear take")
        }
        LayerAction::Shift(Vertical::Up) => {
            words("layer-up", "Move the layer up", "reorder raise order pass stack")
        }
        LayerAction::Shift(Vertical::Down) => {
            words("layer-down", "Move the layer down", "reorder lower order pass stack")
        }
        LayerAction::Own => words(
            "own-layer",
            "Make the layer this section's own",
            "unshare separate copy detach independent pass",
        ),
        LayerAction::Name => {
            words("name-layer", "Name the layer", "rename call label title pass take hats fill")
        }
        LayerAction::Arrange => words(
            "arrange-layer",
            "Arrange the layer: length, half time",
            "double halve time bars beats longer shorter cut trim extend repeat stretch squeeze part pass own track",
        ),
        LayerAction::Merge => words(
            "merge-layers",
            "Merge the layer with the one below",
            "join combine glue flatten bounce together pass takes one",
        ),
        LayerAction::Feel => words(
            "layer-feel",
            "Set the feel of the layer",
            "swing groove shuffle own quantise quantize grid pass only hats timing",
        ),
        LayerAction::Remove => {
            words("remove-layer", "Remove the layer", "delete erase; pass take clear")
        }
    }
}

pub(super) fn groove_words(action: GrooveAction) -> Words {
    match action {
        GrooveAction::Take => words(
            "take-groove",
            "Take the groove of what was played",
            "drummer drummer's; copy feel capture extract new learn from performance timing loudness pass layer",
        ),
        GrooveAction::Show => words(
            "grooves",
            "Show the song's grooves",
            "curve pocket; give feel drummer timing early late apply list rename remove",
        ),
        GrooveAction::Name => only_here("groove-name"),
        GrooveAction::Remove => only_here("remove-groove"),
    }
}

pub(super) fn section_words(action: SectionAction) -> Words {
    match action {
        SectionAction::Go => {
            words("go", "Go to the chosen section", "jump switch verse chorus part play show")
        }
        SectionAction::Add => {
            words("add-section", "Add a section", "new create verse chorus bridge part insert")
        }
        SectionAction::Copy => {
            words("copy-section", "Copy the section", "duplicate clone verse chorus bridge part")
        }
        SectionAction::Vary => words(
            "vary-section",
            "Make a variation of the section",
            "copy duplicate verse chorus bridge different independent own",
        ),
        SectionAction::Edit => words(
            "edit-section",
            "Edit the section",
            "metre meter bars bpm pickup upbeat anacrusis fermata; rename name letter length time signature tempo set change loop longer shorter add more fewer one two three four eight verse chorus",
        ),
        SectionAction::Remove => {
            words("remove-section", "Remove the section", "delete erase verse chorus bridge part")
        }
        SectionAction::Shift(Vertical::Up) => words(
            "section-up",
            "Move the section up the list",
            "reorder order earlier verse chorus",
        ),
        SectionAction::Shift(Vertical::Down) => words(
            "section-down",
            "Move the section down the list",
            "reorder order later verse chorus",
        ),
        SectionAction::Append => words(
            "append",
            "Add the section to the form",
            "add arrangement song end order verse chorus",
        ),
        SectionAction::DropLast => words(
            "drop-last",
            "Remove the last entry of the form",
            "drop delete shorten arrangement song",
        ),
        SectionAction::Span => words(
            "mark-span",
            "Mark a span of the form to play",
            "part range loop section practise rehearse from to between entries only repeat",
        ),
        SectionAction::WriteChords => words(
            "write-chords",
            "Write the chords of the section",
            "chart harmony lead sheet; changes progression symbols type edit verse chorus",
        ),
        SectionAction::Arrange => words(
            "arrange",
            "Open the list of section edits",
            "operations change more split join lift verse chorus",
        ),
        SectionAction::Split => words(
            "split-section",
            "Split the section at a bar",
            "cut divide break; in two apart halves verse chorus part separate",
        ),
        SectionAction::Join => words(
            "join-sections",
            "Join the section with the next",
            "merge combine glue; together one append attach verse chorus parts sections two",
        ),
        SectionAction::Lift => words(
            "lift-bars",
            "Make a new section of some bars",
            "lift extract; copy bars out take from verse chorus part only",
        ),
        SectionAction::Length => words(
            "section-bars",
            "Make the section longer or shorter",
            "shorten lengthen extend trim crop; cut double bars length add remove repeat halve twice as long verse chorus",
        ),
        SectionAction::HalfTime => words(
            "half-time",
            "Put the section into half time",
            "halftime; stretch notes twice as long slow feel verse chorus",
        ),
        SectionAction::DoubleTime => words(
            "double-time",
            "Put the section into double time",
            "doubletime; squeeze notes half as long twice as fast feel verse chorus",
        ),
        SectionAction::Tempo => words(
            "tempo-box",
            "Set the tempo, a ramp or the duration",
            "bpm ritardando rit rallentando accelerando accel ramp percent duration set; tempo speed exact type minutes seconds fit last lasts long song slow down speed up gradually towards ending",
        ),
        SectionAction::Key => words(
            "find-key",
            "Find the key and who can sing it",
            "detect guess compass range what which; key is suggest reach too high low out singer voice best transposition",
        ),
        SectionAction::WriteForm => words(
            "write-form",
            "Write the form as text",
            "arrangement structure; type edit order repeat twice again ending song verse chorus intro outro sequence after before",
        ),
    }
}

pub(super) fn lead_words(action: LeadAction) -> Words {
    match action {
        LeadAction::When => words(
            "when",
            "Choose when you go to another section",
            "jump at once immediately now; seam bar beat switch quantise",
        ),
        LeadAction::Stay => words(
            "stay",
            "Stay in the section that plays",
            "vamp hold; loop keep going round again until told wait solo",
        ),
        LeadAction::Back => {
            words("back-to-form", "Go back to the form", "return; continue song arrangement rejoin")
        }
        LeadAction::LastTime => words(
            "last-time",
            "Play this section for the last time",
            "ending; end finish coda outro final out stop after this",
        ),
        LeadAction::Repeat => words(
            "repeat-form",
            "Choose whether the form repeats",
            "loop; song arrangement endless again round repeat",
        ),
        LeadAction::KeepForm => words(
            "keep-form",
            "Make what was played the form",
            "capture order; arrangement song live played just save sections route remember jam",
        ),
        LeadAction::Key(Vertical::Up) => words(
            "key-up",
            "Raise everything by a semitone",
            "modulate transpose; raise key change pitch lift half step singer live song",
        ),
        LeadAction::Key(Vertical::Down) => words(
            "key-down",
            "Lower everything by a semitone",
            "modulate transpose; drop key change pitch half step singer live song",
        ),
        LeadAction::KeyWhen => only_here("when-key"),
    }
}
