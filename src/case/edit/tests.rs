use super::*;
use crate::case::Case;
use crate::case::Landmark;

fn case() -> Case {
    new_case("film.png")
}

fn p(x: f64, y: f64) -> FilmPoint {
    FilmPoint::new(x, y)
}

fn with_file_and_apex() -> Case {
    let mut case = case();
    for (tool, at) in [
        (Tool::File, p(10.0, 10.0)),
        (Tool::File, p(10.0, 210.0)),
        (Tool::Landmark(Landmark::Apex), p(10.0, 225.0)),
    ] {
        place(&mut case, tool, 0, at).expect("a new place");
    }
    case
}

#[test]
fn three_clicks_give_reference_file_tip_and_apex_and_no_trace() {
    let case = with_file_and_apex();
    let canal = &case.canals[0];
    assert_eq!(canal.reference_px, Some(p(10.0, 10.0)));
    assert_eq!(
        canal.file.as_ref().and_then(|f| f.tip_px),
        Some(p(10.0, 210.0))
    );
    assert!(canal.trace_px.is_empty());
    assert_eq!(handles(&case).len(), 3, "coincident points are one handle");
}

#[test]
fn moving_the_tip_moves_the_end_of_its_file() {
    let mut case = with_file_and_apex();
    move_to(
        &mut case,
        &Handle::Landmark {
            canal: 0,
            landmark: Landmark::Tip,
        },
        p(12.0, 200.0),
    );
    assert_eq!(
        case.canals[0].file.as_ref().and_then(|f| f.tip_px),
        Some(p(12.0, 200.0))
    );
    assert_eq!(case.scale.objects[0].points_px[1], p(12.0, 200.0));
}

#[test]
fn a_trace_drawn_from_the_apex_is_reversed_when_it_is_finished() {
    let mut case = with_file_and_apex();
    for y in [224.0, 180.0, 60.0] {
        place(&mut case, Tool::Trace, 0, p(14.0, y));
    }
    finish_trace(&mut case, 0, 6.0);
    assert_eq!(
        case.canals[0].trace_px,
        [p(14.0, 60.0), p(14.0, 180.0), p(10.0, 225.0)]
    );
}

#[test]
fn a_finished_trace_stays_when_the_tip_moves_and_follows_its_apex() {
    let mut case = with_file_and_apex();
    for y in [60.0, 120.0, 180.0] {
        place(&mut case, Tool::Trace, 0, p(14.0, y));
    }
    finish_trace(&mut case, 0, 4.0);
    let own = case.canals[0].trace_px.clone();
    assert_eq!(
        own,
        [
            p(14.0, 60.0),
            p(14.0, 120.0),
            p(14.0, 180.0),
            p(10.0, 225.0)
        ]
    );
    move_to(
        &mut case,
        &Handle::Landmark {
            canal: 0,
            landmark: Landmark::Tip,
        },
        p(12.0, 200.0),
    );
    assert_eq!(case.canals[0].trace_px, own);
    move_to(
        &mut case,
        &Handle::Landmark {
            canal: 0,
            landmark: Landmark::Apex,
        },
        p(12.0, 230.0),
    );
    assert_eq!(
        case.canals[0].trace_px[3],
        p(12.0, 230.0),
        "the apex ends the trace"
    );
}

#[test]
fn a_further_click_with_the_file_tool_bends_the_line_where_it_is() {
    let mut case = with_file_and_apex();
    place(&mut case, Tool::File, 0, p(15.0, 100.0));
    assert_eq!(case.scale.objects[0].points_px[1], p(15.0, 100.0));
    assert_eq!(
        case.canals[0].file.as_ref().and_then(|f| f.tip_px),
        Some(p(10.0, 210.0))
    );
}

/// 0.4 mm is 8 px at 0.05 mm/px and 40 px at 0.01 mm/px.
#[test]
fn a_followed_canal_joins_the_apex_within_a_distance_in_mm() {
    for (mm_per_px, off_px, joins) in [
        (Some(0.05), 7.9, true),
        (Some(0.05), 8.1, false),
        (Some(0.01), 39.9, true),
        (Some(0.01), 40.1, false),
        (None, 19.9, true),
        (None, 20.1, false),
    ] {
        let mut case = with_file_and_apex();
        let apex = case.canals[0].apex_px.unwrap();
        let end = p(apex.x, apex.y - off_px);
        suggest_trace(&mut case, 0, &[p(10.0, 20.0), end], None, mm_per_px);
        let expected = if joins { apex } else { rounded(end) };
        assert_eq!(case.canals[0].trace_px.last(), Some(&expected), "{off_px}");
    }
}

#[test]
fn the_same_place_twice_is_refused() {
    let mut case = case();
    assert!(place(&mut case, Tool::Trace, 0, p(5.0, 5.0)).is_some());
    assert!(place(&mut case, Tool::Trace, 0, p(5.2, 5.2)).is_none());
    assert!(place(&mut case, Tool::File, 0, p(5.0, 5.0)).is_some());
    assert!(place(&mut case, Tool::File, 0, p(5.1, 5.0)).is_none());
    assert!(
        place(&mut case, Tool::Trace, 7, p(50.0, 5.0)).is_none(),
        "no such canal"
    );
}

#[test]
fn renaming_and_removing_a_canal_takes_its_file_along() {
    let mut case = with_file_and_apex();
    let second = add_canal(&mut case);
    assert!(!rename_canal(&mut case, second, "Canal 1"));
    assert!(rename_canal(&mut case, 0, "MB"));
    assert_eq!(case.scale.objects[0].canal.as_deref(), Some("MB"));
    remove_canal(&mut case, 0);
    assert!(case.scale.objects.is_empty());
    assert_eq!(case.canals.len(), 1);
}

/// Down the film, left (seen from the orifice) is where x is greater; one who
/// takes it the other way, or draws from the apex, gets the same walls.
#[test]
fn walls_come_out_alike_whichever_way_they_are_drawn() {
    use crate::case::WallSide::{Left, Right};
    let ys = [20.0, 60.0, 100.0];
    let drawn = |left_x: f64, right_x: f64, from_apex: bool| {
        let mut case = case();
        for y in [10.0, 110.0] {
            place(&mut case, Tool::Trace, 0, p(50.0, y)).expect("a point");
        }
        for (side, x) in [(Left, left_x), (Right, right_x)] {
            let mut ys = ys;
            if from_apex {
                ys.reverse();
            }
            for y in ys {
                place(&mut case, Tool::Wall(side), 0, p(x, y)).expect("a point");
            }
            finish_walls(&mut case, 0);
        }
        case.canals[0].walls.clone().expect("walls")
    };
    let as_meant = drawn(56.0, 44.0, false);
    assert_eq!(as_meant.left_px, ys.map(|y| p(56.0, y)));
    assert_eq!(as_meant.right_px, ys.map(|y| p(44.0, y)));
    assert_eq!(drawn(44.0, 56.0, false), as_meant);
    assert_eq!(drawn(44.0, 56.0, true), as_meant);
    assert_eq!(drawn(56.0, 44.0, true), as_meant);
}

#[test]
fn marks_are_numbered_in_order_and_a_gap_is_filled() {
    let mut case = case();
    for x in [10.0, 20.0, 30.0] {
        place(&mut case, Tool::Mark, 0, p(x, 5.0)).expect("a mark");
    }
    assert_eq!(place(&mut case, Tool::Mark, 0, p(20.2, 5.0)), None);
    delete(&mut case, &Handle::Mark { index: 1 });
    place(&mut case, Tool::Mark, 0, p(90.0, 5.0)).expect("a mark");
    let names =
        |case: &Case| -> Vec<String> { case.marks.iter().map(|m| m.name.clone()).collect() };
    assert_eq!(names(&case), ["1", "3", "2"]);
    rename_mark(&mut case, 0, " 3 ");
    rename_mark(&mut case, 0, "");
    assert_eq!(names(&case), ["1", "3", "2"]);
    rename_mark(&mut case, 0, "edge");
    assert_eq!(names(&case), ["edge", "3", "2"]);
    assert_eq!(next_mark_name(&case), "1");
}

/// A wall that was followed was known better than a click; a point moved by
/// hand is a click.
#[test]
fn a_moved_wall_point_is_a_click_and_an_empty_wall_is_none() {
    use crate::case::{WallSide, Walls};
    let mut case = case();
    case.canals[0].walls = Some(Walls {
        left_px: vec![p(5.0, 5.0), p(5.0, 25.0)],
        u_px: Some(0.2),
        ..Walls::default()
    });
    let (canal, side) = (0, WallSide::Left);
    let point = |index| Handle::WallPoint { canal, side, index };
    assert_eq!(insert_next(&mut case, &point(0)), Some(point(1)));
    assert_eq!(position(&case, &point(1)), Some(p(5.0, 15.0)));
    move_to(&mut case, &point(1), p(6.0, 15.0));
    assert_eq!(case.canals[0].walls.as_ref().and_then(|w| w.u_px), None);
    for _ in 0..3 {
        delete(&mut case, &point(0));
    }
    assert_eq!(case.canals[0].walls, None);
}

/// Of a wall that was followed a point moved or put in by hand is a click; every
/// other keeps what the film says of it, whatever is done to the line.
#[test]
fn other_points_of_a_followed_wall_keep_their_readings() {
    use crate::case::{WallReading, WallReadings, WallSide, Walls};
    let mut case = case();
    for y in [0.0, 60.0] {
        place(&mut case, Tool::Trace, 0, p(50.0, y)).expect("a point");
    }
    let wall = |x: f64| -> Vec<_> { (0..8).map(|k| p(x, 5.0 + 5.0 * f64::from(k))).collect() };
    let reading = |least: f64| WallReading {
        u_px: (0..8).map(|k| Some(least + f64::from(k))).collect(),
        common_u_px: (0..8).map(|k| 100.0 + least + f64::from(k)).collect(),
        common_over_px: 40.0,
        ..WallReading::default()
    };
    // Exchanged, and from the apex.
    let mut reversed = Walls {
        left_px: wall(44.0),
        right_px: wall(56.0),
        followed: Some(WallReadings {
            left: reading(10.0),
            right: reading(20.0),
            ..WallReadings::default()
        }),
        ..Walls::default()
    };
    for side in WallSide::BOTH {
        reversed.reverse(side);
    }
    case.canals[0].walls = Some(reversed);
    finish_walls(&mut case, 0);
    let own = |case: &Case, side: WallSide| -> Vec<Option<f64>> {
        let walls = case.canals[0].walls.as_ref().expect("walls");
        let points = 0..walls.side(side).len();
        points
            .map(|index| walls.read_point(side, index).map(|read| read.own_px))
            .collect()
    };
    let from =
        |least: f64| -> Vec<Option<f64>> { (0..8).map(|k| Some(least + f64::from(k))).collect() };
    assert_eq!(own(&case, WallSide::Left), from(20.0));
    assert_eq!(own(&case, WallSide::Right), from(10.0));

    let (canal, side) = (0, WallSide::Left);
    let point = |index| Handle::WallPoint { canal, side, index };
    move_to(&mut case, &point(2), p(57.0, 15.0));
    assert_eq!(insert_next(&mut case, &point(4)), Some(point(5)));
    delete(&mut case, &point(0));
    let expected = [21.0, f64::NAN, 23.0, 24.0, f64::NAN, 25.0, 26.0, 27.0];
    let expected = expected.map(|u| (!u.is_nan()).then_some(u));
    assert_eq!(own(&case, WallSide::Left), expected);
    let walls = case.canals[0].walls.as_ref().expect("walls");
    let last = walls.read_point(side, 7).expect("read");
    assert_eq!(last.common_px, 127.0);

    // Four in a row go: nothing was seen there until a hand puts a point in.
    let right = WallSide::Right;
    let right_point = |index| Handle::WallPoint {
        canal,
        side: right,
        index,
    };
    for _ in 0..4 {
        delete(&mut case, &right_point(3));
    }
    let unseen = |case: &Case| case.canals[0].walls.as_ref().expect("walls").unseen(right);
    assert_eq!(unseen(&case), [false, false, true]);
    assert!(insert_next(&mut case, &right_point(2)).is_some());
    assert_eq!(unseen(&case), [false, false, false, false]);
}

#[test]
fn nothing_that_was_placed_goes_to_a_second_film() {
    let mut case = with_file_and_apex();
    place(&mut case, Tool::Mark, 0, p(10.0, 5.0)).expect("a mark");
    let side = crate::case::WallSide::Left;
    place(&mut case, Tool::Wall(side), 0, p(10.0, 5.0)).expect("a point");
    let second = for_second_film(&case);
    assert!(second.marks.is_empty() && second.canals[0].walls.is_none());
}
