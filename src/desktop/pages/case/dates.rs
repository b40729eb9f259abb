//! Dates that are typed.

use chrono::NaiveDate;

/// A day of the calendar, or nothing.
pub(super) fn checked_date(text: &str) -> Result<(), String> {
    let is_day = text.len() == 10 && NaiveDate::parse_from_str(text, "%Y-%m-%d").is_ok();
    if text.is_empty() || is_day {
        Ok(())
    } else {
        Err("Type a day of the calendar as year-month-day, for example 2026-03-04".to_owned())
    }
}
