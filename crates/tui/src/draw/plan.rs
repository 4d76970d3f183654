//! Which row holds what, for any size of screen.
//!
//! What tells how it stands keeps its place from the top; what is asked less often gives way
//! first as the screen gets lower.

use std::ops::Range;

/// The rows of the screen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Plan {
    /// The title and the file.
    pub title: Option<u16>,
    /// The captions of the band.
    pub labels: Option<u16>,
    /// The band: transport, recording, place and so on.
    pub values: u16,
    /// A rule with captions over the tracks.
    pub rule: Option<u16>,
    /// The row of the playhead's mark.
    pub playhead: Option<u16>,
    /// The ruler.
    pub ruler: u16,
    /// The tracks.
    pub tracks: Range<u16>,
    /// The piano, where it is on.
    pub piano: Range<u16>,
    /// A rule under the tracks; the meters lie on it.
    pub lower_rule: Option<u16>,
    /// Settings.
    pub settings: Option<u16>,
    /// Ports and their health.
    pub ports: Option<u16>,
    /// What was last said.
    pub notice: u16,
    /// The keys that apply now.
    pub keys: Range<u16>,
}

/// The rows that may be left out, the most needed first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Row {
    Playhead,
    Keys,
    Labels,
    Ports,
    Title,
    Rule,
    Settings,
    MoreKeys,
    LowerRule,
}

const OPTIONAL: [Row; 9] = [
    Row::Playhead,
    Row::Keys,
    Row::Labels,
    Row::Ports,
    Row::Title,
    Row::Rule,
    Row::Settings,
    Row::MoreKeys,
    Row::LowerRule,
];

impl Plan {
    /// The rows of a screen of that size, at least 40 by 10.
    pub fn new((_, height): (u16, u16), piano: bool) -> Plan {
        let piano = match (piano, height >= 18) {
            (true, true) => 3,
            (true, false) => 1,
            (false, _) => 0,
        };
        // The band, the ruler and the notice are always there.
        let fixed = 3 + piano;
        let least = (height / 3).clamp(3, 8);
        let spare = height.saturating_sub(fixed + least);
        let kept = &OPTIONAL[..usize::from(spare).min(OPTIONAL.len())];
        let has = |row| kept.contains(&row);
        let mut plan = Plan::default();
        let mut y = 0;
        let mut next = |wanted: bool| {
            let row = wanted.then_some(y);
            y += u16::from(wanted);
            row
        };
        plan.title = next(has(Row::Title));
        plan.labels = next(has(Row::Labels));
        plan.values = next(true).unwrap_or(0);
        plan.rule = next(has(Row::Rule));
        plan.playhead = next(has(Row::Playhead));
        plan.ruler = next(true).unwrap_or(0);
        let top = y;
        let mut y = height;
        let mut up = |rows: u16| {
            y -= rows;
            y..y + rows
        };
        plan.keys = up(u16::from(has(Row::Keys)) + u16::from(has(Row::MoreKeys)));
        plan.notice = up(1).start;
        plan.ports = has(Row::Ports).then(|| up(1).start);
        plan.settings = has(Row::Settings).then(|| up(1).start);
        plan.lower_rule = has(Row::LowerRule).then(|| up(1).start);
        plan.piano = up(piano);
        plan.tracks = top..y;
        plan
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_screen_of_24_rows_has_everything() {
        let plan = Plan::new((80, 24), false);
        assert_eq!((plan.title, plan.labels, plan.values), (Some(0), Some(1), 2));
        assert_eq!(plan.tracks, 6..18);
        assert_eq!((plan.lower_rule, plan.keys), (Some(18), 22..24));
    }

    #[test]
    fn rows_never_overlap_and_there_is_always_room_for_tracks() {
        for height in 10..100 {
            for piano in [false, true] {
                let plan = Plan::new((80, height), piano);
                let mut rows: Vec<u16> = [plan.title, plan.labels, plan.rule, plan.playhead]
                    .into_iter()
                    .chain([plan.lower_rule, plan.settings, plan.ports])
                    .flatten()
                    .chain([plan.values, plan.ruler, plan.notice])
                    .chain(plan.tracks.clone())
                    .chain(plan.piano.clone())
                    .chain(plan.keys.clone())
                    .collect();
                rows.sort_unstable();
                assert_eq!(rows, (0..height).collect::<Vec<_>>(), "{height}");
                assert!(plan.tracks.len() >= 3, "{height}");
                assert!(!plan.keys.is_empty() || height < 12, "{height}");
            }
        }
    }
}
