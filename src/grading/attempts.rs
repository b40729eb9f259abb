//! The attempts of each student: their order, and which one counts.

use std::collections::HashMap;

use chrono::{DateTime, Utc};

use super::grade::TraceGrade;
use super::rubric::Attempt;

/// Puts the attempts of each student in order, in the places that their files
/// have: by the attempt's number where every one has it, else by date (that of
/// the file where none is stated), then by file name. Marks which one counts.
pub fn arrange(traces: &mut [TraceGrade], counting: Attempt) {
    let mut of_student: HashMap<String, Vec<usize>> = HashMap::new();
    for (index, trace) in traces.iter().enumerate() {
        of_student
            .entry(trace.student.clone())
            .or_default()
            .push(index);
    }
    for places in of_student.into_values() {
        let numbered = places
            .iter()
            .all(|&at| traces[at].handed_in.attempt.is_some());
        let mut own: Vec<TraceGrade> = places.iter().map(|&at| traces[at].clone()).collect();
        own.sort_by(|a, b| {
            let number = |trace: &TraceGrade| trace.handed_in.attempt.filter(|_| numbered);
            let key = |trace: &TraceGrade| (number(trace), day(trace), trace.file.clone());
            key(a).cmp(&key(b))
        });
        let counts = match counting {
            Attempt::First => 0,
            Attempt::Last => own.len() - 1,
            Attempt::Best => best(&own),
        };
        for (index, (place, mut trace)) in places.into_iter().zip(own).enumerate() {
            trace.attempt = index + 1;
            trace.counts = index == counts;
            traces[place] = trace;
        }
    }
}

fn best(attempts: &[TraceGrade]) -> usize {
    let share = |trace: &TraceGrade| match trace.points_possible > 0.0 {
        true => trace.points / trace.points_possible,
        false => -1.0,
    };
    let key = |trace: &TraceGrade| (trace.passed == Some(true), share(trace));
    let mut found = 0;
    for index in 1..attempts.len() {
        let (new, old) = (key(&attempts[index]), key(&attempts[found]));
        let is_better = new.0.cmp(&old.0).then(new.1.total_cmp(&old.1)).is_gt();
        if is_better {
            found = index;
        }
    }
    found
}

/// The date as text that sorts: that stated, else that of the file.
fn day(trace: &TraceGrade) -> String {
    match &trace.handed_in.date {
        Some(date) => date.trim().to_owned(),
        None => trace.handed_in.written.map_or(String::new(), |time| {
            DateTime::<Utc>::from(time).to_rfc3339()
        }),
    }
}
