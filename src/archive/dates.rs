//! Days of a query as they are typed.

use crate::clock;

/// A day or a range of PS3.4 C.2.2.2.5, also with hyphens in each day.
///
/// # Errors
/// What to write, in words.
pub fn date_range(text: &str) -> Result<String, String> {
    let text = text.trim();
    if text == "today" {
        return Ok(clock::today().replace('-', ""));
    }
    let wrong = || format!("`{text}`: write 2026-03-14, 20260301-20260331 or today");
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let hyphens = text.chars().filter(|&c| c == '-').count();
    let only = text.chars().all(|c| c.is_ascii_digit() || c == '-');
    let is_range_of_compact = hyphens == 1 && text.split('-').all(|d| d.is_empty() || d.len() == 8);
    match (only, digits.len(), hyphens) {
        (true, 8 | 16, 1) if is_range_of_compact => Ok(text.to_owned()),
        (true, 8, 0 | 2) => Ok(digits),
        (true, 16, 5) => Ok(format!("{}-{}", &digits[..8], &digits[8..])),
        _ => Err(wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::date_range;

    #[test]
    fn dates_are_days_or_ranges() {
        for (typed, sent) in [
            ("2026-03-14", "20260314"),
            ("20260314", "20260314"),
            ("20260301-20260331", "20260301-20260331"),
            ("2026-03-01-2026-03-31", "20260301-20260331"),
            ("-20260331", "-20260331"),
            ("20260301-", "20260301-"),
        ] {
            assert_eq!(date_range(typed).as_deref(), Ok(sent));
        }
        for wrong in [
            "14.3.2026",
            "2026-3-14",
            "2026",
            "yesterday",
            "20260314--20260315",
        ] {
            assert!(date_range(wrong).is_err(), "{wrong}");
        }
    }
}
