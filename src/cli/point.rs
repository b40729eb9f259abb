//! Points on the command line: `X,Y` in px of the film frame.

use crate::units::FilmPoint;

/// Reads `X,Y`.
pub fn parse_point(text: &str) -> Result<FilmPoint, String> {
    let point = text.split_once(',').and_then(|(x, y)| {
        let (x, y) = (x.trim().parse().ok()?, y.trim().parse().ok()?);
        Some(FilmPoint::new(x, y)).filter(|p| p.is_finite())
    });
    point.ok_or_else(|| "write two numbers with a comma, for example 512,140.5".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_two_finite_numbers() {
        assert_eq!(parse_point("512,140.5"), Ok(FilmPoint::new(512.0, 140.5)));
        assert_eq!(parse_point(" 1 , -2 "), Ok(FilmPoint::new(1.0, -2.0)));
        for bad in ["512", "512;140", "a,b", "1,2,3", "NaN,1", "1,inf", ""] {
            assert!(parse_point(bad).is_err(), "{bad}");
        }
    }
}
