//! What a cable carries before the first note, as the engine and the rig order it.
//!
//! In: what the cable carries. Out: the messages that send recorders to the start position, then
//! programs and controllers, with their times before the start; and the messages at the start
//! itself.

use super::cable::Cable;
use super::cables::Carries;
use crate::ports::SLOW;
use chaconne_engine::{Config, MachineControl, Message, time_code};
use chaconne_midi::Wire;
use chaconne_time::Ns;

/// How long before the start recorders are sent to its position.
fn lead() -> Ns {
    Config::default().lead + SLOW
}

/// How long before the start programs and controllers go out.
pub fn set_up() -> Ns {
    Config::default().set_up + SLOW
}

/// The messages that send recorders to a position: a full frame of time code, and a locate command.
pub fn locate(cable: &mut Cable<'_>, carries: Carries) {
    let frame = carries.mtc.map(|rate| time_code::full_frame(time_code::time_code_at(rate, 0)));
    let locate = carries.mmc.map(|rate| MachineControl::Locate(rate, 0).bytes());
    for bytes in frame.into_iter().chain(locate) {
        cable.prepare(-lead(), Wire::SysEx(bytes));
    }
}

/// The messages at the start itself.
pub fn at_start(carries: Carries) -> impl Iterator<Item = Wire> {
    let play = carries.mmc.map(|_| Wire::SysEx(MachineControl::Play.bytes()));
    let start = carries.pulses.then_some(Wire::Message(Message::Start));
    start.into_iter().chain(play)
}
