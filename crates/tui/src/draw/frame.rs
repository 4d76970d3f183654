//! The frame of every view: which row holds what, for any size of screen.
//!
//! The head shows the state, the body belongs to the view, the foot has settings, ports, messages
//! and keys. The state keeps its place at the top; on a low screen the rows that are needed least
//! go first.

use crate::screen::Screen;
use std::ops::Range;

/// The rows of the screen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Frame {
    /// The title, and the state of transport and song.
    pub head: Head,
    /// What the view shows.
    pub body: Body,
    /// Settings, ports, the last message, and the keys.
    pub foot: Foot,
}

/// The rows of the head.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Head {
    /// The title and the file.
    pub title: Option<u16>,
    /// The captions of the values.
    pub labels: Option<u16>,
    /// Transport, recording, place and so on.
    pub values: u16,
}

/// The rows of the body: any view has a time axis across it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Body {
    /// A rule with captions.
    pub captions: Option<u16>,
    /// The playhead's mark.
    pub playhead: Option<u16>,
    /// The ruler.
    pub ruler: u16,
    /// The rows along the axis.
    pub rows: Range<u16>,
}

/// The rows of the foot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Foot {
    /// The piano, if it is on.
    pub piano: Range<u16>,
    /// A rule under the body, with the meters on it.
    pub rule: Option<u16>,
    /// Settings.
    pub settings: Option<u16>,
    /// Ports and their health.
    pub ports: Option<u16>,
    /// The step of the tour, if that is on.
    pub tour: Range<u16>,
    /// The last message.
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
    Captions,
    Settings,
    MoreKeys,
    FootRule,
}

const OPTIONAL: [Row; 9] = [
    Row::Playhead,
    Row::Keys,
    Row::Labels,
    Row::Ports,
    Row::Title,
    Row::Captions,
    Row::Settings,
    Row::MoreKeys,
    Row::FootRule,
];

/// Screens as wide as this have the step of the tour on one row, and what it waits for on another.
const WIDE: u16 = 78;

impl Frame {
    /// The rows of a screen.
    pub fn of(screen: &Screen) -> Frame {
        Frame::new(screen.size, screen.overlays.has_piano(), screen.tour.is_some())
    }

    /// The rows of a screen of that size, at least 40 by 10, with or without the piano and the tour.
    pub fn new((width, height): (u16, u16), piano: bool, tour: bool) -> Frame {
        let tour = match (tour, width >= WIDE) {
            (true, true) => 2,
            (true, false) => 3,
            (false, _) => 0,
        };
        let piano = match (piano, height >= 18) {
            (true, true) => 3,
            (true, false) => 1,
            (false, _) => 0,
        };
        // The values, the ruler and the notice are always there.
        let fixed = 3 + piano + tour;
        // While something new is being learnt, the keys count more than the rows of the view.
        let least = if tour > 0 { (height / 4).clamp(3, 6) } else { (height / 3).clamp(3, 8) };
        let spare = height.saturating_sub(fixed + least);
        let kept = &OPTIONAL[..usize::from(spare).min(OPTIONAL.len())];
        let has = |row| kept.contains(&row);
        let mut down = Rows { next: 0 };
        let head = Head {
            title: down.row_if(has(Row::Title)),
            labels: down.row_if(has(Row::Labels)),
            values: down.row(),
        };
        let (captions, playhead) =
            (down.row_if(has(Row::Captions)), down.row_if(has(Row::Playhead)));
        let ruler = down.row();
        let top = down.next;
        let foot = Foot::new(height, piano, tour, has);
        let rows = top..foot.piano.start;
        Frame { head, body: Body { captions, playhead, ruler, rows }, foot }
    }
}

/// Gives out rows from the top.
struct Rows {
    next: u16,
}

impl Rows {
    fn row(&mut self) -> u16 {
        self.next += 1;
        self.next - 1
    }

    fn row_if(&mut self, wanted: bool) -> Option<u16> {
        wanted.then(|| self.row())
    }
}

impl Foot {
    /// The lowest rows of a screen, with so many for the piano and the tour.
    fn new(height: u16, piano: u16, tour: u16, has: impl Fn(Row) -> bool) -> Foot {
        let mut y = height;
        let mut up = |rows: u16| {
            y -= rows;
            y..y + rows
        };
        let keys = up(u16::from(has(Row::Keys)) + u16::from(has(Row::MoreKeys)));
        let notice = up(1).start;
        // Boxes over the middle of the screen leave these rows free.
        let tour = up(tour);
        let ports = has(Row::Ports).then(|| up(1).start);
        let settings = has(Row::Settings).then(|| up(1).start);
        let rule = has(Row::FootRule).then(|| up(1).start);
        Foot { piano: up(piano), rule, settings, ports, tour, notice, keys }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_screen_of_24_rows_has_everything() {
        let Frame { head, body, foot } = Frame::new((80, 24), false, false);
        assert_eq!((head.title, head.labels, head.values), (Some(0), Some(1), 2));
        assert_eq!(body.rows, 6..18);
        assert_eq!((foot.rule, foot.keys), (Some(18), 22..24));
    }

    #[test]
    fn rows_never_overlap_and_the_view_always_has_room() {
        let shapes = [40, 80].into_iter().flat_map(|width| {
            [(false, false), (true, false), (false, true), (true, true)].map(|(p, t)| (width, p, t))
        });
        for (height, (width, piano, tour)) in
            (10..100).flat_map(|height| shapes.clone().map(move |shape| (height, shape)))
        {
            let Frame { head, body, foot } = Frame::new((width, height), piano, tour);
            let optional = [head.title, head.labels, body.captions, body.playhead];
            let mut rows: Vec<u16> = optional
                .into_iter()
                .chain([foot.rule, foot.settings, foot.ports])
                .flatten()
                .chain([head.values, body.ruler, foot.notice])
                .chain(body.rows.clone())
                .chain(foot.piano.clone())
                .chain(foot.tour.clone())
                .chain(foot.keys.clone())
                .collect();
            rows.sort_unstable();
            assert_eq!(rows, (0..height).collect::<Vec<_>>(), "{height}");
            assert!(body.rows.len() >= 3, "{height}");
            assert!(!foot.keys.is_empty() || height < 12, "{height}");
            assert_eq!(tour, !foot.tour.is_empty());
        }
    }
}
