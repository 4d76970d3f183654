//! A form without one of its sections.

use crate::{Ending, Form, FormEntry, FormGroup, FormPart, Letter};

impl Form {
    /// The form without a section: it plays all others as often and in the same order. Of a group that has only
    /// endings left, these stay, in the order in which they were played.
    pub fn without(&self, letter: Letter) -> Form {
        Form { entries: kept(&self.entries, letter) }
    }
}

fn kept(entries: &[FormEntry], letter: Letter) -> Vec<FormEntry> {
    let each = |entry: &FormEntry| match &entry.part {
        FormPart::Section(one) if *one == letter => Vec::new(),
        FormPart::Section(_) => vec![entry.clone()],
        FormPart::Group(group) => kept_of_group(group, entry.times, letter),
    };
    entries.iter().flat_map(each).collect()
}

fn kept_of_group(group: &FormGroup, times: u32, letter: Letter) -> Vec<FormEntry> {
    let ending = |ending: &Ending| Ending {
        times: ending.times.clone(),
        entries: kept(&ending.entries, letter),
    };
    let endings = group.endings.iter().map(ending).filter(|ending| !ending.entries.is_empty());
    let (entries, endings) = (kept(&group.entries, letter), endings.collect::<Vec<_>>());
    if entries.is_empty() {
        return one_by_one(&endings);
    }
    vec![FormEntry { part: FormPart::Group(FormGroup { entries, endings }), times }]
}

/// The entries of endings, time by time.
fn one_by_one(endings: &[Ending]) -> Vec<FormEntry> {
    let of = |ending| move |&time: &u32| (time, ending);
    let mut all: Vec<(u32, &Ending)> =
        endings.iter().flat_map(|ending| ending.times.iter().map(of(ending))).collect();
    all.sort_by_key(|&(time, _)| time);
    all.into_iter().flat_map(|(_, ending)| ending.entries.clone()).collect()
}
