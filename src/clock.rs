//! What time it is, and what records say it is.

use chrono::{DateTime, Local, Utc};

/// Variable of the environment that sets the time records say they were made
/// at, seconds since 1970-01-01 UTC (reproducible-builds.org,
/// `SOURCE_DATE_EPOCH`, version 1.1).
pub const RECORD_TIME_VARIABLE: &str = "SOURCE_DATE_EPOCH";

/// When a record made now says it was made. With [`RECORD_TIME_VARIABLE`] set,
/// records of the same case are the same byte for byte.
pub fn record_time() -> DateTime<Utc> {
    let set = std::env::var(RECORD_TIME_VARIABLE).ok();
    set.and_then(|text| parse(&text)).unwrap_or_else(Utc::now)
}

fn parse(text: &str) -> Option<DateTime<Utc>> {
    DateTime::from_timestamp(text.trim().parse().ok()?, 0)
}

/// The day where the program runs, as ISO 8601 writes it.
pub fn today() -> String {
    Local::now().format("%Y-%m-%d").to_string()
}

#[cfg(test)]
mod tests {
    use super::parse;

    /// `date -u -d @N` of GNU coreutils 9.1.
    #[test]
    fn seconds_become_times() {
        for (seconds, text) in [
            ("0", "1970-01-01T00:00:00+00:00"),
            ("951782399", "2000-02-28T23:59:59+00:00"),
            ("1709164800", "2024-02-29T00:00:00+00:00"),
        ] {
            assert_eq!(
                parse(seconds).map(|time| time.to_rfc3339()),
                Some(text.to_owned())
            );
        }
        assert_eq!(parse("yesterday"), None);
        assert_eq!(parse("99999999999999999"), None);
    }
}
