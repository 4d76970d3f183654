//! Fingerprints: whether a file still holds what it held before, even in another run of the
//! program.
//!
//! The hash is FNV-1a with 64 bits (RFC 9923). It is the same on every machine and in every
//! version, so it can be written into a file. It finds changes, not forgeries.

use std::fmt;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;
use std::str::FromStr;

/// The hash of no bytes (RFC 9923, 64 bits).
const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
/// The factor of each step (RFC 9923, 64 bits).
const PRIME: u64 = 0x0000_0100_0000_01b3;

/// The fingerprint of some bytes. Its text is 16 hexadecimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fingerprint(u64);

impl Fingerprint {
    /// The fingerprint of no bytes.
    pub(crate) const EMPTY: Fingerprint = Fingerprint(BASIS);

    /// Extends the fingerprint by more bytes.
    pub(crate) fn and(self, bytes: &[u8]) -> Fingerprint {
        let step = |hash: u64, &byte: &u8| (hash ^ u64::from(byte)).wrapping_mul(PRIME);
        Fingerprint(bytes.iter().fold(self.0, step))
    }

    /// The fingerprint of the first `most` bytes of the file at `path`; `None` if there is no file.
    pub(crate) fn at(path: &Path, most: u64) -> io::Result<Option<Fingerprint>> {
        match fs::metadata(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
            // Opening a pipe would wait for a writer.
            Ok(about) if !about.is_file() => return Err(io::ErrorKind::InvalidInput.into()),
            Ok(_) => {}
        }
        let (mut file, mut print) = (File::open(path)?.take(most), Fingerprint::EMPTY);
        let mut piece = vec![0; 64 * 1024];
        loop {
            match file.read(&mut piece)? {
                0 => return Ok(Some(print)),
                count => print = print.and(&piece[..count]),
            }
        }
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

impl FromStr for Fingerprint {
    type Err = ();

    fn from_str(text: &str) -> Result<Fingerprint, ()> {
        let is_hex = text.len() == 16 && text.bytes().all(|byte| byte.is_ascii_hexdigit());
        let number = is_hex.then(|| u64::from_str_radix(text, 16).ok()).flatten();
        number.map(Fingerprint).ok_or(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_that_of_the_standard() {
        // RFC 9923 (The FNV Non-Cryptographic Hash Algorithm), test vectors for 64-bit FNV-1a.
        let of = |text: &str| Fingerprint::EMPTY.and(text.as_bytes()).to_string();
        assert_eq!(of(""), "cbf29ce484222325");
        assert_eq!(of("a"), "af63dc4c8601ec8c");
        assert_eq!(of("foobar"), "85944171f73967e8");
    }

    #[test]
    fn a_file_has_the_fingerprint_of_its_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        assert_eq!(Fingerprint::at(&path, 9).unwrap(), None);
        std::fs::write(&path, "foobar").unwrap();
        let print = Fingerprint::EMPTY.and(b"foo").and(b"bar");
        assert_eq!(Fingerprint::at(&path, 9).unwrap(), Some(print));
        assert_eq!(Fingerprint::at(&path, 3).unwrap(), Some(Fingerprint::EMPTY.and(b"foo")));
        assert_eq!(print.to_string().parse(), Ok(print));
        for wrong in ["", "12", "+f63dc4c8601ec8c", "zf63dc4c8601ec8c", "ä23456789012345"] {
            assert_eq!(wrong.parse::<Fingerprint>(), Err(()), "{wrong}");
        }
    }
}
