//! The form that asks for the file to save a song to, and the names it proposes.

use super::new_song::UNTITLED;
use super::{Form, Purpose, text_field};

impl Form {
    /// Where to save a song of that title for the first time.
    pub fn save_as(title: &str) -> Form {
        let fields = vec![text_field("file", "", &format!("{}.ron", plain_stem(title)))];
        Form::of(Purpose::SaveAs, "Save the song", fields)
    }

    /// Where else to save a song that has this file.
    pub fn save_beside(path: &str) -> Form {
        let fields = vec![text_field("file", "", &next_name(path))];
        Form::of(Purpose::SaveAs, "Save the song as", fields)
    }
}

/// A title as the name of a file, without an ending.
pub(super) fn plain_stem(title: &str) -> String {
    let plain: String = title
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect::<String>()
        .to_lowercase();
    let stem = plain.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-");
    if stem.is_empty() { UNTITLED.to_string() } else { stem }
}

/// The next name in a series: `tide.ron`, `tide-2.ron`, `tide-3.ron`.
fn next_name(path: &str) -> String {
    let (stem, ending) = path.strip_suffix(".ron").map_or((path, ""), |stem| (stem, ".ron"));
    let numbered = stem.rsplit_once('-').and_then(|(stem, number)| {
        let number: u32 = number.parse().ok()?;
        Some((stem, number.checked_add(1)?))
    });
    let (stem, number) = numbered.unwrap_or((stem, 2));
    format!("{stem}-{number}{ending}")
}
