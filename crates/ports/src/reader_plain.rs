//! Byte streams for reading, on systems where they can only be plain files.

use super::PortState;
use super::feed::Feed;
use super::input::InputState;
use crate::monotonic::now;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// An open stream.
pub(crate) struct Reader(File);

impl Reader {
    /// Opens the stream at `path`.
    pub fn open(path: &Path) -> Result<Reader, String> {
        File::open(path).map(Reader).map_err(|error| error.to_string())
    }

    /// Always false: on these systems an input never waits for its file.
    pub fn is_absent(&self) -> bool {
        false
    }

    /// Reads to the end of the file, or until asked to stop.
    pub fn run(mut self, mut feed: Feed, shared: &InputState) {
        let mut buffer = [0; 4096];
        while !shared.is_over() {
            match self.0.read(&mut buffer) {
                Ok(count @ 1..) => {
                    let stamp = now();
                    feed.bytes(stamp, &buffer[..count]);
                    feed.look(now());
                    shared.set_strays(feed.stray());
                }
                _ => break,
            }
        }
        feed.cut(now());
        shared.set_state(PortState::Silent);
    }
}
