//! Chunks of a RIFF file: four letters, a length, the bytes, and a zero if the length is odd.

/// One chunk. Its length does not count the zero that pads it.
pub fn chunk(letters: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(body.len() + 9);
    bytes.extend_from_slice(letters);
    bytes.extend_from_slice(&(body.len() as u32).to_le_bytes());
    bytes.extend_from_slice(body);
    if body.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes
}

/// A `LIST` or `RIFF` chunk: the four letters of its form, then chunks.
pub fn group(letters: &[u8; 4], form: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    let mut body = form.to_vec();
    for one in chunks {
        body.extend_from_slice(one);
    }
    chunk(letters, &body)
}

/// A text chunk of the `INFO` list: one zero or two end it, so that its length is even.
pub fn text(letters: &[u8; 4], words: &str) -> Vec<u8> {
    let mut body = words.as_bytes().to_vec();
    body.push(0);
    if body.len() % 2 == 1 {
        body.push(0);
    }
    chunk(letters, &body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_odd_chunk_is_padded_and_its_length_is_not() {
        assert_eq!(chunk(b"abcd", &[7]), [b'a', b'b', b'c', b'd', 1, 0, 0, 0, 7, 0]);
    }

    #[test]
    fn text_is_even_and_ended() {
        assert_eq!(text(b"INAM", "ab")[4..], [4, 0, 0, 0, b'a', b'b', 0, 0]);
        assert_eq!(text(b"INAM", "abc")[4..], [4, 0, 0, 0, b'a', b'b', b'c', 0]);
    }
}
