//! The workshop: how sounds are made, whatever they are.

pub mod additive;
pub mod filter;
pub mod fm;
pub mod math;
pub mod noise;
pub mod pluck;
pub mod spectrum;
pub mod strike;
pub mod tone;
