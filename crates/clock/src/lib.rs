//! clock
