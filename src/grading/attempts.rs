//! The attempts of each student: their order, and which one counts.

use std::collections::HashMap;
use std::time::{SystemTime, UNIX_EPOCH};

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
        None => trace.handed_in.written.map_or(String::new(), iso),
    }
}

/// ISO 8601 in universal time.
fn iso(time: SystemTime) -> String {
    let seconds = time
        .duration_since(UNIX_EPOCH)
        .map_or(0, |past| past.as_secs());
    let days = i64::try_from(seconds / 86_400).unwrap_or(0);
    let in_day = seconds % 86_400;
    let (year, month, day) = civil(days);
    format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}Z",
        in_day / 3600,
        in_day / 60 % 60,
        in_day % 60
    )
}

/// Year, month and day of a day counted from 1970-01-01, by eras of 400 years
/// of 146,097 days that begin on 1 March.
fn civil(days: i64) -> (i64, i64, i64) {
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let of_era = shifted.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let shifted_month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * shifted_month + 2) / 5 + 1;
    let month = if shifted_month < 10 {
        shifted_month + 3
    } else {
        shifted_month - 9
    };
    (year + era * 400 + i64::from(month <= 2), month, day)
}

/// Today's date in universal time, ISO 8601.
pub fn today() -> String {
    iso(SystemTime::now())[..10].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    /// `date -u -d @N` of GNU coreutils 9.1.
    #[test]
    fn seconds_become_dates() {
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_399, "2000-02-28T23:59:59Z"),
            (951_868_800, "2000-03-01T00:00:00Z"),
            (1_709_164_800, "2024-02-29T00:00:00Z"),
            (1_798_761_599, "2026-12-31T23:59:59Z"),
        ] {
            assert_eq!(iso(UNIX_EPOCH + Duration::from_secs(seconds)), text);
        }
    }
}
