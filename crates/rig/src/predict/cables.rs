//! Which of a song's ports are serial cables, and what they carry besides its notes.
//!
//! In: the outputs it would be played on, if any. Out: what the cable of each port carries.

use crate::ports::{Out, named};
use chaconne_song::Song;
use chaconne_time::FrameRate;
use std::sync::Arc;

/// The cables a song would be played on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Cables {
    outs: Vec<Out>,
}

/// What a cable carries besides notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Carries {
    pub pulses: bool,
    pub mtc: Option<FrameRate>,
    /// The frame rate of positions in machine control, if there is any.
    pub mmc: Option<FrameRate>,
}

impl Cables {
    /// The outputs marked `serial`; each gets clock pulses unless it says `no-clock`. If there are no
    /// outputs at all, each port of the song counts as a cable with pulses and without time code.
    ///
    /// # Errors
    /// If two outputs have the same name, there are too many, or none of them is a serial cable.
    pub fn of(outs: &[Out]) -> Result<Cables, String> {
        if !outs.is_empty() && !outs.iter().any(|out| out.serial) {
            return Err("none of these outputs is marked as a serial MIDI cable: add the \
                        option serial, as in --out midi:NAME,serial"
                .to_string());
        }
        Ok(Cables { outs: named(outs)? })
    }

    /// What the cable of a port carries; `None` if it is not a serial cable.
    pub(crate) fn carries(&self, port: &str) -> Option<Carries> {
        if self.outs.is_empty() {
            return Some(Carries { pulses: true, mtc: None, mmc: None });
        }
        let out = self.outs.iter().find(|out| out.name == port && out.serial)?;
        let (pulses, mtc) = (out.clock != Some(false), out.mtc);
        Some(Carries { pulses, mtc, mmc: out.controlled() })
    }

    /// The song with each track on the output that would play it: the one with the name of its port,
    /// else the first.
    pub(crate) fn joined(&self, song: &Song) -> Song {
        let mut song = song.clone();
        let Some(first) = self.outs.first() else { return song };
        for track in &mut song.tracks {
            if !self.outs.iter().any(|out| out.name == track.port) {
                Arc::make_mut(track).port = first.name.clone();
            }
        }
        song
    }
}
