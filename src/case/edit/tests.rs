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
        suggest_trace(&mut case, 0, &[p(10.0, 20.0), end], mm_per_px);
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
