//! Which rows of a long list are shown.

/// Rows kept between the cursor and the edge, if there are enough.
const MARGIN: usize = 2;

/// The first row to show: `first` if the cursor, at `at`, is well inside, else as little further as it
/// takes. There are `count` rows, and room for `room` of them.
pub fn window(first: usize, at: usize, count: usize, room: usize) -> usize {
    let room = room.max(1);
    let margin = MARGIN.min((room - 1) / 2);
    let lowest = (at + margin + 1).saturating_sub(room);
    let highest = at.saturating_sub(margin);
    first.clamp(lowest.min(highest), highest).min(count.saturating_sub(room))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_window_follows_the_cursor_with_a_margin() {
        assert_eq!(window(0, 0, 100, 10), 0);
        assert_eq!(window(0, 7, 100, 10), 0);
        assert_eq!(window(0, 8, 100, 10), 1);
        assert_eq!(window(50, 51, 100, 10), 49);
        assert_eq!(window(0, 99, 100, 10), 90);
        assert_eq!(window(90, 0, 3, 10), 0);
        assert_eq!(window(5, 5, 9, 0), 5);
        assert_eq!(window(4, 2, 9, 1), 2);
    }
}
