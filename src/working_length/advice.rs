//! What the taught conventions say about a tip's distance from the apex.

/// Limits of the advice, all settable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TipLimits {
    /// Tip-to-apex distances that are acceptable, mm (Ingle's step 6,
    /// SEEN-2).
    pub acceptable_mm: (f64, f64),
    /// Distance from the intended place beyond which the length is adjusted
    /// and exposed again, mm (retake SEEN-2; 1 mm MEM-H, some texts 2–3).
    pub adjust_beyond_mm: f64,
}

impl Default for TipLimits {
    fn default() -> Self {
        Self {
            acceptable_mm: (0.5, 1.0),
            adjust_beyond_mm: 1.0,
        }
    }
}

/// What a convention says about one tip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// The tip stands within the acceptable distances short of the apex.
    Acceptable,
    /// The tip is farther from its intended place than the limit.
    AdjustAndExposeAgain,
    /// Within the limit, yet not at the acceptable distance.
    AdjustWithoutExposure,
    /// The tip lies beyond the radiographic apex.
    BeyondApex,
    /// The 95 % interval of the distance lies on both sides of the apex.
    ApexWithinUncertainty,
    /// The 95 % interval straddles this limit.
    LimitWithinUncertainty(Limit),
    /// Always said.
    Confirm,
}

/// A limit of [`TipLimits`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// Of the acceptable distances.
    Acceptable,
    /// Beyond which the length is adjusted and exposed again.
    Adjustment,
}

impl Advice {
    /// Stable code.
    pub fn code(self) -> &'static str {
        match self {
            Advice::Acceptable => "tip_acceptable",
            Advice::AdjustAndExposeAgain => "adjust_and_expose_again",
            Advice::AdjustWithoutExposure => "adjust",
            Advice::BeyondApex => "beyond_apex",
            Advice::ApexWithinUncertainty => "apex_within_uncertainty",
            Advice::LimitWithinUncertainty(_) => "limit_within_uncertainty",
            Advice::Confirm => "confirm",
        }
    }

    /// The convention must be heard, not only read.
    pub fn is_warning(self) -> bool {
        matches!(
            self,
            Advice::AdjustAndExposeAgain | Advice::BeyondApex | Advice::ApexWithinUncertainty
        )
    }

    /// The advice in words.
    pub fn text(self, limits: &TipLimits) -> String {
        let (near, far) = limits.acceptable_mm;
        match self {
            Advice::Acceptable => {
                format!("The tip is {near}-{far} mm short of the apex: acceptable by convention.")
            }
            Advice::AdjustAndExposeAgain => format!(
                "The tip is more than {} mm from its intended place: by convention the length is \
                 adjusted and a further film considered, with no more exposures than needed \
                 (ALARA); the clinician decides.",
                limits.adjust_beyond_mm
            ),
            Advice::AdjustWithoutExposure => {
                "The tip is not at its intended place, though near it: by convention the \
                 length is adjusted; whether a further film is needed, the clinician decides."
                    .to_owned()
            }
            Advice::BeyondApex => {
                "The tip lies beyond the radiographic apex: by convention the set length is \
                 reduced before the canal is instrumented further."
                    .to_owned()
            }
            Advice::ApexWithinUncertainty => {
                "The tip is too near the apex to say on which side of it: the 95 % interval \
                 holds both. Treat it as possibly beyond."
                    .to_owned()
            }
            Advice::LimitWithinUncertainty(limit) => {
                let question = match limit {
                    Limit::Acceptable => format!("is {near}-{far} mm short of the apex"),
                    Limit::Adjustment => format!(
                        "is more than {} mm from its intended place",
                        limits.adjust_beyond_mm
                    ),
                };
                format!(
                    "The 95 % interval of tip to apex lies across a limit: the film alone cannot \
                     decide whether the tip {question}. Confirm electronically before changing the length."
                )
            }
            Advice::Confirm => {
                "Confirm the working length electronically and clinically.".to_owned()
            }
        }
    }
}

/// The advice for a tip `tip_to_apex_mm` short of the apex (negative =
/// beyond), known to ± `u95_mm`, when the intended place is `allowance_mm`
/// short of it. Never empty; [`Advice::Confirm`] comes last.
///
/// A verdict is given only when the whole 95 % interval supports it.
pub fn advise(
    tip_to_apex_mm: f64,
    u95_mm: f64,
    allowance_mm: f64,
    limits: &TipLimits,
) -> Vec<Advice> {
    let (low, high) = (tip_to_apex_mm - u95_mm, tip_to_apex_mm + u95_mm);
    let off = |d: f64| (d - allowance_mm).abs() > limits.adjust_beyond_mm;
    let acceptable = |d: f64| (limits.acceptable_mm.0..=limits.acceptable_mm.1).contains(&d);

    let (near, far) = limits.acceptable_mm;
    let straddled = if low <= far && high >= near {
        Limit::Acceptable
    } else {
        Limit::Adjustment
    };
    let undecided = Advice::LimitWithinUncertainty(straddled);

    let mut advice = Vec::with_capacity(3);
    if high < 0.0 {
        advice.push(Advice::BeyondApex);
    } else if low < 0.0 {
        advice.push(Advice::ApexWithinUncertainty);
    }

    let all_off = low > allowance_mm + limits.adjust_beyond_mm
        || high < allowance_mm - limits.adjust_beyond_mm;
    let none_off = !off(low) && !off(high);
    if all_off {
        advice.push(Advice::AdjustAndExposeAgain);
    } else if acceptable(low) && acceptable(high) {
        advice.push(Advice::Acceptable);
    } else if none_off && !acceptable(tip_to_apex_mm) && low >= 0.0 {
        if high < near || low > far {
            advice.push(Advice::AdjustWithoutExposure);
        } else {
            advice.push(undecided);
        }
    } else if advice.is_empty() {
        advice.push(undecided);
    }
    advice.push(Advice::Confirm);
    advice
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(d: f64, u95: f64, allowance: f64) -> Vec<&'static str> {
        advise(d, u95, allowance, &TipLimits::default())
            .into_iter()
            .map(Advice::code)
            .collect()
    }

    /// Ingle's steps (docs/methods.md 4): without uncertainty every
    /// distance has one verdict.
    #[test]
    fn verdicts_of_the_convention() {
        assert_eq!(codes(0.8, 0.0, 1.0), ["tip_acceptable", "confirm"]);
        assert_eq!(codes(1.0, 0.0, 1.0), ["tip_acceptable", "confirm"]);
        assert_eq!(codes(1.6, 0.0, 1.0), ["adjust", "confirm"]);
        assert_eq!(codes(0.2, 0.0, 1.0), ["adjust", "confirm"]);
        assert_eq!(codes(2.3, 0.0, 1.0), ["adjust_and_expose_again", "confirm"]);
        assert_eq!(
            codes(-0.6, 0.0, 1.0),
            ["beyond_apex", "adjust_and_expose_again", "confirm"]
        );
    }

    #[test]
    fn an_interval_across_a_limit_decides_nothing() {
        assert_eq!(
            codes(0.1, 0.3, 1.0),
            ["apex_within_uncertainty", "confirm"],
            "possibly beyond, possibly only near"
        );
        assert_eq!(
            codes(2.0, 0.3, 1.0),
            ["limit_within_uncertainty", "confirm"]
        );
        assert_eq!(
            codes(0.9, 0.3, 1.0),
            ["limit_within_uncertainty", "confirm"]
        );
        assert_eq!(codes(2.5, 0.3, 1.0), ["adjust_and_expose_again", "confirm"]);
    }

    #[test]
    fn the_straddled_limit_is_named() {
        let limits = TipLimits::default();
        let said = |d| advise(d, 0.3, 1.0, &limits)[0].text(&limits);
        assert!(said(0.9).contains("whether the tip is 0.5-1 mm short of the apex"));
        assert!(said(2.0).contains("whether the tip is more than 1 mm from its intended place"));
    }
}
