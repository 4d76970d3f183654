//! Record off and jumps that come late: within a beat after a seam they count for that seam.
//!
//! In: the tick of the command. Out: the take closed at the seam just past, with everything that was
//! played around it; or, after a jump, the take moved to the section that was entered there.

use super::Engine;
use super::late::Closed;
use super::recording::{Ending, Off, Take, round_at};
use crate::assemble::Round;
use crate::{Mode, feel};
use chaconne_song::{Label, Letter};
use chaconne_time::{Ns, Span, Tick};

impl Engine {
    /// Ends the take at the seam just past. Notes that were played early for the next round, which now
    /// does not follow, are in the round that ends. What was played since the seam becomes a pass of
    /// its own, on top.
    pub(super) fn close_late(&mut self, now: Ns, seam: Tick, at: Tick) {
        let Some((take, track, section)) = self.take_frame() else { return };
        if seam > take.round {
            let end = take.round + (seam - take.round).round_up(take.length);
            self.close_take(now, end, Off::Last(seam));
        } else {
            self.take_in_early(now, seam, feel::half_step(&track.feel));
        }
        let (pass, last) = (self.new_pass(), Vec::new());
        let take = Take { round: seam, low: seam, pass, last, ..take };
        let round = Round {
            from: seam,
            length: take.length,
            low: seam,
            high: at + Tick(1),
            off: at,
            first: false,
            punch: Span::new(seam, at),
            mode: Mode::Layer,
            with_discarded: false,
        };
        let draft = self.draft(&take, &track, &section, round);
        let laid = !draft.pass.notes().is_empty();
        // Late input may still belong to this pass.
        let ending = Ending { sounds: seam + take.length, origin: None };
        self.remember(Closed { take: take.clone(), round, ending, laid, late: None });
        if laid {
            self.since(&take, ending.sounds, ending.origin);
            self.lay(now, &take, round, draft, Vec::new(), Label::NewPass);
        }
    }

    /// Gives the round that was closed at a seam what was played within half a step before it.
    fn take_in_early(&mut self, now: Ns, seam: Tick, half: Tick) {
        let ended = |closed: &&mut Closed| closed.round.high == seam - half;
        if let Some(closed) = self.played.closed.iter_mut().rev().find(ended) {
            (closed.round.high, closed.late) = (seam, Some(seam - half));
            self.settle(now);
        }
    }

    /// Makes the take follow a jump. If the seam is still to come, its round ends there at the latest.
    /// If the seam is past, the round has ended there, and the notes since then belong to the section
    /// entered.
    pub(super) fn take_follows_jump(&mut self, now: Ns, at: Tick, seam: Tick, letter: Letter) {
        if seam <= at && self.recorder.current().is_some_and(|take| take.start < seam) {
            self.end_at_seam(now, seam);
        }
        let (track, section) = match self.recorder.current() {
            Some(take) => (self.song.track(take.track).cloned(), self.section(letter).cloned()),
            None => return,
        };
        let until = self.transport.run().map_or(Tick::MAX, |run| run.entry(at).until);
        let Some(take) = self.recorder.current_mut() else { return };
        if seam <= at
            && let (Some(track), Some(section)) = (track, section)
        {
            take.section = letter;
            take.length = section.new_pass_length(&track);
            take.round = seam;
            take.start = take.start.max(seam);
        }
        take.end = (round_at(take.round, take.length, at) + take.length).min(until);
        if seam <= at {
            self.take_over();
        }
        self.refresh(now);
    }

    /// The seam for which a command at `at` is late: the section's top or the start of the recorded
    /// round, whichever is later, if that is less than a beat ago.
    pub(super) fn late_for(&self, round: Tick, at: Tick) -> Option<Tick> {
        let visit = self.visit(at)?;
        let seam = visit.round(at).start.max(round);
        let beat = visit.section.metre.metre_at(seam - visit.entry.at).beat();
        (seam <= at && at - seam < beat).then_some(seam)
    }

    /// Closes the round at a seam that came before its end, if the round started before the seam.
    fn end_at_seam(&mut self, now: Ns, seam: Tick) {
        let Some(take) = self.recorder.current().cloned().filter(|take| take.round < seam) else {
            return;
        };
        let end = take.round + (seam - take.round).round_up(take.length);
        self.close_take(now, end, Off::Seam(seam));
    }
}
