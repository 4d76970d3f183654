//! Checks which layer moves a controller against an independent model. The songs are random: several
//! layers with gestures, covers, mutes and set values, on shared and separate channels and ports. At
//! every tick the controller must have the value that the rules in docs/time.md ("Controllers") give.
//!
//! * `performed`: along fixed routes, as `perform` has it. At the end no sustain pedal may be down.
//! * `live`: played by the engine, while a player changes the song, moves the controllers too, stops
//!   and starts. At every stop only the player's foot may still hold a pedal.
//!
//! The model applies the rules to the song itself, tick by tick, and shares no code with the performer.

#[path = "../bench/mod.rs"]
mod bench;
mod live;
mod model;
mod performed;
mod player;
mod songs;
