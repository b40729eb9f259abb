//! What must be said beside the numbers: the limits of a film and of the
//! conventions (docs/methods.md 9). One text each, used wherever a
//! result is shown.

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// Stable code.
    pub code: &'static str,
    /// The caution in plain words.
    pub text: &'static str,
    /// The publication behind it; empty for common practice and our own.
    pub source: &'static str,
}

/// What the program is for, wherever it introduces itself.
pub const PURPOSE: &str = "For teaching and research unless it has been cleared where it is used.";

/// The eight cautions, in the order they are printed.
pub const CAUTIONS: [Caution; 8] = [
    Caution {
        code: "one_projection",
        text: "One film is one projection: a curve towards or away from the tube does not show on \
               it. A 30° curve turned 90° to the film looks straight; of 100 mesial roots of lower \
               molars every one was curved in both views.",
        source: "Cunningham and Senia 1992",
    },
    Caution {
        code: "foramen_short_of_apex",
        text: "The foramen usually lies short of the radiographic apex (in 92 % of 877 teeth, by \
               0.59 mm on average), so a tip that looks short may already be beyond it: half \
               of the premolar files that looked 0-2 mm short were.",
        source: "Burch and Hulen 1972; ElAyouti, Weiger and Löst 2001",
    },
    Caution {
        code: "confirm_length",
        text: "Confirm every working length electronically and clinically before it is used.",
        source: "",
    },
    Caution {
        code: "scale_and_plane",
        text: "A length holds in the plane its scale was taken in. Name the scale's source, the \
               plane, the method, the observer and the film with every number; without a scale, \
               results stay in px.",
        source: "",
    },
    Caution {
        code: "paralleling",
        text: "Expose with the paralleling technique and a holder where the mouth allows it; a \
               tilted film elongates or foreshortens the root.",
        source: "",
    },
    Caution {
        code: "alara",
        text: "Never expose for a measurement alone. Justify each exposure, keep the dose as low \
               as reasonably achievable (ALARA): fastest receptor, rectangular collimation, \
               holder, fewest films. Local radiation law and codes apply.",
        source: "Okano and Sur 2010",
    },
    Caution {
        code: "regulated_device",
        text: "Software that supports diagnosis or treatment may be a regulated medical device. \
               Lengthfilm is for teaching and research unless it has been cleared where it is used.",
        source: "",
    },
    Caution {
        code: "conventions",
        text: "Difficulty classes, rubrics and published averages are conventions, not verdicts: \
               the clinician decides.",
        source: "",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    fn in_one_line(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// README, desktop entry and package say what the window says.
    #[test]
    fn every_introduction_carries_the_same_words() {
        let readme = in_one_line(include_str!("../README.md"));
        for Caution { code, text, source } in CAUTIONS {
            assert!(readme.contains(text), "{code}: {text}");
            assert!(readme.contains(source), "{code}: {source}");
        }
        let entry = include_str!("../docs/packaging/lengthfilm.desktop");
        assert!(entry.contains(PURPOSE.trim_end_matches('.')));
        assert!(entry.contains("Categories=Science;Education;"));
        let package = in_one_line(include_str!("../Cargo.toml"));
        assert!(package.contains(PURPOSE));
        assert!(readme.contains(PURPOSE));
    }
}
