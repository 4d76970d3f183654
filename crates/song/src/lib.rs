//! song
