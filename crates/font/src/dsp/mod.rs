//! The synthesis methods that all timbres and drums use.

pub mod additive;
pub mod filter;
pub mod fm;
pub mod math;
pub mod noise;
pub mod pluck;
pub mod spectrum;
pub mod strike;
pub mod tone;
