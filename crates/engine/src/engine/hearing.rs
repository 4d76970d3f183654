//! Passes each input on to the capture, to the open or closed round that it belongs to, and to the
//! performer, which leaves a controller alone while the player moves it.

use super::{Engine, Input};
use crate::capture::News;
use crate::controls::Knob;
use crate::{Message, Mode, Rounds, Wire, feel};
use chaconne_song::{ROLL_NANOS, TrackId, U14};
use chaconne_time::{Ns, Tempo, Tick};

/// A bar of 4/4, for input that comes after a stop.
const BAR: Tick = Tick(3840);

impl Engine {
    /// Takes an input. The next poll adds it to its round.
    pub(super) fn played(&mut self, stamp: Ns, source: u8, input: Input) {
        if let Input::Heard(Wire::Message(message)) = &input
            && !self.transport.rolls()
            && let Some((knob, ..)) = self.touched_knob(*message)
        {
            self.performer.touch_while_stopped(&knob);
        }
        let Some(at) = self.played_at(stamp, &input) else {
            if let Input::Heard(Wire::Message(message)) = input {
                self.played.capture.message_while_stopped(message);
            }
            return;
        };
        let lost = self.played.capture.lost();
        let news = match input {
            Input::Heard(Wire::Message(message)) => {
                let bar = self.bar_at(at);
                let news = self.played.capture.message(at, source, message, bar);
                if self.transport.rolls() {
                    self.touched(stamp, at, message);
                }
                news
            }
            Input::Heard(Wire::SysEx(bytes)) => self.played.capture.sysex(at, bytes),
            Input::Lost => {
                for note in self.played.capture.input_lost(at, source) {
                    self.released(note);
                }
                News::Nothing
            }
        };
        if lost != self.played.capture.lost() {
            self.say_full();
        }
        self.hear(at, news);
    }

    fn hear(&mut self, at: Tick, news: News) {
        let (first, struck) = match news {
            News::Nothing => return,
            News::Played => (at, true),
            News::Again(before) => {
                self.released(before);
                (self.played.capture.note(before).map_or(at, |caught| caught.start), true)
            }
            News::Released(note) => {
                self.released(note);
                (self.played.capture.note(note).map_or(at, |caught| caught.start), false)
            }
            News::Moved(number) => {
                self.moved(number);
                if self.played.held.gestures.contains_key(&number) {
                    // It belongs to a finished pass, not to the unfinished round.
                    return;
                }
                // Its earlier moves are planned already, so the change begins here.
                (at, false)
            }
        };
        if struck {
            self.say_early(at);
        }
        if struck && self.recorder.current().is_none_or(|take| at < take.round.max(take.low)) {
            self.comes_late(at);
        }
        let at_once = self.is_heard_at_once(at, struck);
        if let Some(take) = self.recorder.current_mut() {
            take.open.hear(first, at_once);
        }
    }

    /// Whether a note played now changes what should sound now: it does if it is the first in its
    /// round, or in replace mode the first in its bar, or silences the rounds before, or is in a roll
    /// at an edge of the round.
    fn is_heard_at_once(&mut self, at: Tick, struck: bool) -> bool {
        let Some(take) = self.recorder.current_mut() else { return false };
        if take.open.pass.is_none() || !struck {
            return take.open.pass.is_none();
        }
        let (Some(track), Some(section)) =
            (self.song.track(take.track), self.song.section(take.section))
        else {
            return false;
        };
        let half = feel::half_step(&track.feel);
        // The first note that begins in the round silences the take that is replaced and, in *newest*, the rounds
        // before.
        let outdates =
            (self.how.rounds == Rounds::Newest || !take.replaced.is_empty()) && !take.open.begins();
        let bar = section.metre.bar_at(at - take.round + half);
        let replaces = self.how.mode == Mode::Replace && take.open.begins_bar(bar, at);
        // The loudest stroke of a roll at an edge decides to which round all of them belong.
        let tempo = self.transport.run().map_or(Tempo::DEFAULT, |run| run.timeline.tempo_at(at));
        let near = tempo.ticks_in(ROLL_NANOS);
        let is_near = |edge: Tick| at - near < edge && edge < at + near;
        let rolls = track.feel.rolls && (is_near(take.low) || is_near(take.end - half));
        outdates || replaces || rolls
    }

    /// Says that the round is full, once for each round.
    fn say_full(&mut self) {
        if let Some(take) = self.recorder.current()
            && self.full != Some(take.pass)
        {
            self.full = Some(take.pass);
            self.say("this round is full: what you play now is heard but not recorded".into());
        }
    }

    /// The length of the bar at a tick.
    pub(super) fn bar_at(&self, at: Tick) -> Tick {
        self.visit(at).map_or(BAR, |visit| visit.metre(at).bar())
    }

    /// Makes the song leave a controller that the player moves alone until the next seam.
    fn touched(&mut self, stamp: Ns, at: Tick, message: Message) {
        let Some((knob, value, armed)) = self.touched_knob(message) else { return };
        let Some(seam) = self.visit(at).map(|visit| visit.round(at).end) else { return };
        let slot = self.performer.slot_of(armed);
        let recorded = self.recorder.takes();
        if self.performer.touch(knob, value, seam, (slot, recorded)) {
            self.revise_track(stamp, armed);
        }
    }

    /// The controller that a message moves on the armed track, its value, and that track.
    fn touched_knob(&self, message: Message) -> Option<(Knob, U14, TrackId)> {
        let (control, value) = message.control()?;
        let track = self.song.track(self.armed.track()?)?;
        let (port, channel) = (self.port_of(track), track.channel_for(message.channel()?));
        Some((Knob { port, channel, control }, value, track.id))
    }
}
