use super::*;
use chaconne_time::Metre;
use proptest::prelude::*;

fn bars(count: u32, metre: &str) -> Bars {
    let mut bars = Bars::default();
    add(&mut bars, count, metre);
    bars
}

/// Adds bars at the end.
fn add(bars: &mut Bars, count: u32, metre: &str) {
    let metre: Metre = metre.parse().unwrap();
    bars.add(i64::from(count), metre.bar(), metre.beat());
}

const SIXTEENTHS: Grain = Grain::Ticks(240);

#[test]
fn four_bars_of_four_quarters_are_sixty_four_sixteenths() {
    let scale = Scale::whole(&bars(4, "4/4"), SIXTEENTHS, 80).unwrap();
    assert_eq!((scale.marks.len(), scale.columns()), (64, 68));
    assert_eq!(scale.mark_of(Tick(3840)), Some(16));
    assert_eq!(scale.marks[16].column, 18);
    assert_eq!(scale.mark_of(Tick(15_360)), None);
    assert!(Scale::whole(&bars(4, "4/4"), SIXTEENTHS, 67).is_none());
}

#[test]
fn a_bar_that_is_not_a_whole_number_of_sixteenths_ends_in_a_short_mark() {
    // 5/32 is 600 ticks: two sixteenths and a half.
    let scale = Scale::whole(&bars(2, "5/32"), SIXTEENTHS, 80).unwrap();
    assert_eq!(scale.lines[0].marks, 3);
    assert_eq!(scale.mark_of(Tick(599)), Some(2));
    assert_eq!(scale.mark_of(Tick(600)), Some(3));
}

#[test]
fn pages_turn_by_whole_bars() {
    let bars = bars(16, "4/4");
    let shown = |bar: i64| {
        let scale = Scale::page(&bars, SIXTEENTHS, 80, Tick(3840 * (bar - 1)));
        (scale.lines[0].number, scale.lines.len(), scale.bars_words())
    };
    assert_eq!(shown(1), (1, 4, "bars 1 to 4 of 16".into()));
    assert_eq!(shown(4), (1, 4, "bars 1 to 4 of 16".into()));
    assert_eq!(shown(5), (5, 4, "bars 5 to 8 of 16".into()));
    assert_eq!(shown(16), (13, 4, "bars 13 to 16 of 16".into()));
    assert_eq!(shown(99), (13, 4, "bars 13 to 16 of 16".into()));
}

#[test]
fn a_bar_wider_than_the_page_is_cut_into_parts() {
    let bars = bars(2, "4/4");
    // One tick a mark: 39 ticks fit beside the bar line.
    let shown = |tick| {
        let scale = Scale::page(&bars, Grain::Ticks(1), 40, Tick(tick));
        (scale.start().0, scale.end().0, scale.bars_words())
    };
    assert_eq!(shown(0), (0, 39, "part of bar 1 of 2".into()));
    assert_eq!(shown(38), (0, 39, "part of bar 1 of 2".into()));
    assert_eq!(shown(39), (39, 78, "part of bar 1 of 2".into()));
    assert_eq!(shown(3839), (3822, 3840, "part of bar 1 of 2".into()));
    assert_eq!(shown(3840), (3840, 3879, "part of bar 2 of 2".into()));
}

#[test]
fn a_whole_form_fits_with_bars_as_marks() {
    // A hundred sections of 16 bars, the metre changing between them.
    let mut form = Bars::default();
    for index in 0..100 {
        add(&mut form, 16, if index % 2 == 0 { "4/4" } else { "7/8" });
    }
    assert_eq!((form.count(), form.length().0), (1600, 50 * 16 * (3840 + 3360)));
    let scale = Scale::whole(&form, Grain::Bars(32), 80).unwrap();
    assert_eq!((scale.marks.len(), scale.lines.len()), (50, 13));
    assert!(scale.is_whole());
    assert_eq!(scale.lines[1].number, 129);
    assert_eq!(scale.marks[1].start.0, 16 * (3840 + 3360));
    let page = Scale::page(&form, Grain::Bars(1), 80, form.bar(130).start);
    assert_eq!(page.bars_words(), "bars 129 to 192 of 1600");
}

#[test]
fn beats_are_marked_in_any_metre() {
    let beats = |grain| -> Vec<usize> {
        let scale = Scale::whole(&bars(1, "7/8"), grain, 80).unwrap();
        let marks = scale.marks.iter().enumerate();
        marks.filter(|(_, mark)| mark.on_beat).map(|(index, _)| index).collect()
    };
    assert_eq!(beats(SIXTEENTHS), [0, 2, 4, 6, 8, 10, 12]);
    assert_eq!(beats(Grain::Ticks(960)), [0, 1, 2, 3]);
    assert_eq!(beats(Grain::Ticks(60)), [0, 8, 16, 24, 32, 40, 48]);
}

#[test]
fn moving_the_cursor_leaves_a_page_turned_to_by_hand() {
    let mut axis = TimeAxis::default();
    axis.turn_to(Tick(5000));
    assert!(!axis.follow(Tick::ZERO));
    assert_eq!(axis.in_sight(), Tick(5000));
    assert!(axis.follow(Tick(240)));
    assert_eq!(axis.in_sight(), Tick(240));
}

#[test]
fn zooming_out_and_in_again_restores_the_level() {
    let mut axis = TimeAxis::default();
    let fit = Level::SIXTEENTH;
    axis.zoom_to(axis.level(fit).step(2), fit);
    assert_eq!(axis.level(fit).grain(), Grain::Ticks(960));
    axis.zoom_to(axis.level(fit).step(-2), fit);
    assert_eq!(axis, TimeAxis::default());
}

/// Runs of bars, each with a number of bars and a metre in eighths.
fn any_bars() -> impl Strategy<Value = Bars> {
    prop::collection::vec((1u32..12, 1u8..=16), 1..9).prop_map(|runs| {
        let mut bars = Bars::default();
        runs.iter().for_each(|(count, eighths)| add(&mut bars, *count, &format!("{eighths}/8")));
        bars
    })
}

proptest! {
    /// At any zoom the page contains the requested tick, fits, and gives each mark a column of its
    /// own; and turning from page to page shows everything.
    #[test]
    fn pages_cover_the_music(
        bars in any_bars(),
        steps in -6i8..12,
        columns in 20u16..200,
        at in 0f64..1.0,
    ) {
        let grain = Level::SIXTEENTH.step(steps).grain();
        let at = Tick((bars.length().0 as f64 * at) as i64);
        let scale = Scale::page(&bars, grain, columns, at);
        prop_assert!(scale.columns() <= columns);
        prop_assert!(scale.start() <= at && at < scale.end(), "{:?}", scale.bars_words());
        for pair in scale.marks.windows(2) {
            prop_assert_eq!(pair[0].end, pair[1].start);
            prop_assert!(pair[0].column < pair[1].column);
        }
        for (index, mark) in scale.marks.iter().enumerate() {
            prop_assert!(mark.start < mark.end);
            prop_assert_eq!(scale.mark_of(mark.start), Some(index));
            prop_assert_eq!(scale.mark_of(mark.end - Tick(1)), Some(index));
        }
        let back = Scale::page(&bars, grain, columns, scale.start());
        prop_assert_eq!(back.start(), scale.start());
        if scale.end() < bars.length() {
            let next = Scale::page(&bars, grain, columns, scale.end());
            prop_assert!(next.start() <= scale.end() && scale.end() < next.end());
        }
    }

    /// If all bars fit, the only page is the whole.
    #[test]
    fn music_that_fits_whole_is_one_page(bars in any_bars(), steps in -2i8..12, columns in 20u16..200) {
        let grain = Level::SIXTEENTH.step(steps).grain();
        let page = Scale::page(&bars, grain, columns, bars.length() - Tick(1));
        match Scale::whole(&bars, grain, columns) {
            Some(whole) => {
                prop_assert!(whole.is_whole() && whole.columns() <= columns);
                prop_assert_eq!(whole, page);
            }
            None => prop_assert!(!page.is_whole()),
        }
    }
}
