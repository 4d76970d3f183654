//! Chunks of a RIFF file: an identifier of four letters, a size, that many bytes, and one more if the
//! size is odd (SoundFont Technical Specification 2.01, section 3.1).
//!
//! In: bytes. Out: the chunks in them; none extends beyond its bytes.

/// The four letters that identify a chunk.
pub type Id = [u8; 4];

/// Takes the next chunk off the front of `rest`; `None` at its end.
///
/// # Errors
/// One sentence, for a chunk that claims to be longer than what is left.
pub fn next<'a>(rest: &mut &'a [u8]) -> Result<Option<(Id, &'a [u8])>, String> {
    if rest.is_empty() {
        return Ok(None);
    }
    let Some((head, body)) = rest.split_first_chunk::<8>() else {
        return Err(format!("{} bytes are left over where a chunk should begin", rest.len()));
    };
    let [a, b, c, d, size @ ..] = *head;
    let (id, size) = ([a, b, c, d], u32::from_le_bytes(size) as usize);
    let Some((body, after)) = body.split_at_checked(size) else {
        let (id, left) = (name(id), body.len());
        return Err(format!("the chunk '{id}' claims {size} bytes, but only {left} are left"));
    };
    *rest = if size % 2 == 1 { after.get(1..).unwrap_or(&[]) } else { after };
    Ok(Some((id, body)))
}

/// The byte range of the first chunk called `wanted` in the list of this kind, in a whole font.
pub fn find(font: &[u8], kind: &Id, wanted: &Id) -> Option<std::ops::Range<usize>> {
    let mut lists = font.get(12..)?;
    while let Ok(Some((_, list))) = next(&mut lists) {
        let Some(mut chunks) = list.strip_prefix(kind) else { continue };
        while let Ok(Some((id, body))) = next(&mut chunks) {
            if &id == wanted {
                let from = body.as_ptr().addr() - font.as_ptr().addr();
                return Some(from..from + body.len());
            }
        }
    }
    None
}

/// The identifier as text, for a sentence.
pub fn name(id: Id) -> String {
    id.iter().flat_map(|&byte| std::ascii::escape_default(byte)).map(char::from).collect()
}
