//! Clicks for the player, and pulses for other gear.

use super::{Engine, Refused};
use crate::{Action, Beat, Click, Cue, Message, Order, PortIx, Slot, Voice};
use chaconne_song::{NoteId, U7};
use chaconne_time::{Ns, Span, Tick, pulse};

/// How long a click is held, in ticks.
const CLICK_LENGTH: Tick = Tick(60);

impl Engine {
    pub(super) fn set_click(&mut self, now: Ns, click: Click) -> Result<(), Refused> {
        self.how.click = click;
        self.revise_clicks(now);
        Ok(())
    }

    pub(super) fn set_count_in(&mut self, bars: u8) -> Result<(), Refused> {
        if bars > 4 {
            return Err(Refused(format!("a count-in of {bars} bars is outside 0 to 4")));
        }
        self.how.count_in = bars;
        Ok(())
    }

    /// Orders clicks and pulses up to a tick.
    pub(super) fn click_until(&mut self, to: Tick) {
        let Some(run) = self.transport.run_mut() else { return };
        let span = Span::new(run.clicked, to);
        if span.is_empty() {
            return;
        }
        run.clicked = to;
        let mut cues = self.pulses(span);
        cues.extend(self.clicks(span));
        cues.sort_by_key(Cue::order);
        self.order(cues);
    }

    /// Orders the clicks between now and the look-ahead again, after something about them changed. A
    /// click that sounds now ends. Pulses stay as they are.
    pub(super) fn revise_clicks(&mut self, now: Ns) {
        let Some(run) = self.transport.run() else { return };
        let from = (run.timeline.tick_at(now.max(self.latest)) + Tick(1)).max(run.start);
        let span = Span::new(from, run.clicked);
        let slot = Slot::CLICK;
        let epoch = self.epochs.entry(slot).or_insert(0);
        *epoch = epoch.wrapping_add(1);
        self.orders.push_back(Order::Revise { slot, epoch: *epoch });
        if !span.is_empty() {
            let mut cues = self.clicks(span);
            cues.sort_by_key(Cue::order);
            self.order(cues);
        }
        // As in `revise`: a click struck while these orders were on their way is kept by its own cue.
        self.orders.push_back(Order::Settle { slot });
    }

    /// 24 pulses to the quarter, for the ports that get them; in the count-in too, so that a device
    /// that follows them is in step when the music begins.
    fn pulses(&self, span: Span) -> Vec<Cue> {
        let clock = |port| pulse::within(span).map(move |at| real_time(at, port, Message::Clock));
        self.config.clock_ports.iter().flat_map(|&port| clock(port)).collect()
    }

    /// Sends Start or Continue to the ports that get pulses, about a millisecond before the first pulse
    /// of the music at `at`, so that a device that follows has time to get ready (common practice; no
    /// source).
    pub(super) fn announce(&mut self, at: Tick, message: Message) {
        const READY: u64 = 1_000_000;
        let Some(run) = self.transport.run() else { return };
        let before = at - run.timeline.tempo_at(at).ticks_in(READY) - Tick(1);
        let ports = self.config.clock_ports.iter();
        self.order(ports.map(|&port| real_time(before, port, message)).collect());
    }

    fn clicks(&self, span: Span) -> Vec<Cue> {
        let mut cues = Vec::new();
        let Some(run) = self.transport.run() else { return cues };
        let beats = run.walk(&self.song).beats(span.from);
        for Beat { at, first } in beats.take_while(|beat| beat.at < span.to) {
            let heard = match self.how.click {
                _ if run.counts_in(at) => true,
                Click::Always => true,
                Click::Recording => self.recorder.takes(),
                Click::CountIn => false,
            };
            if heard {
                cues.extend(self.click_at(at, first));
            }
        }
        cues
    }

    fn click_at(&self, at: Tick, accent: bool) -> [Cue; 2] {
        let sound = self.config.click;
        let (key, velocity) = if accent { (sound.accent, 112) } else { (sound.beat, 88) };
        let voice = Voice { pass: Voice::NO_PASS, note: NoteId(u32::MAX), cycle: at };
        let (channel, velocity) = (sound.channel, U7::low_bits(velocity));
        let cue = |at, action| Cue { at, slot: Slot::CLICK, epoch: 0, port: sound.port, action };
        let release = U7::CENTRE;
        [
            cue(at, Action::Press { channel, key, velocity, voice }),
            cue(at + CLICK_LENGTH, Action::Lift { channel, key, velocity: release, voice }),
        ]
    }
}

fn real_time(at: Tick, port: PortIx, message: Message) -> Cue {
    Cue { at, slot: Slot::CLOCK, epoch: 0, port, action: Action::Send(message) }
}
