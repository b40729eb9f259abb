//! The one form of a passphrase, and how long it should be.

use unicode_normalization::UnicodeNormalization;

use super::error::LEAST_PASSPHRASE;

/// Shortest that nobody guesses by trying, characters: four words, our own
/// limit.
const ADVISED_PASSPHRASE: usize = 16;

/// A passphrase in the one form its key is derived from, however it was typed
/// or stored: composed letters (NFC, Unicode Standard Annex 15), no byte order
/// mark, no end of line.
pub fn normalised(passphrase: &str) -> String {
    let text = passphrase.strip_prefix('\u{FEFF}').unwrap_or(passphrase);
    text.trim_end_matches(['\r', '\n']).nfc().collect()
}

/// The passphrase is long enough to be taken at all.
pub fn is_long_enough(passphrase: &str) -> bool {
    normalised(passphrase).chars().count() >= LEAST_PASSPHRASE
}

/// What is to be said of a passphrase that is taken but short.
pub fn passphrase_advice(passphrase: &str) -> Option<String> {
    let length = normalised(passphrase).chars().count();
    (LEAST_PASSPHRASE..ADVISED_PASSPHRASE)
        .contains(&length)
        .then(|| {
            format!(
                "the passphrase has {length} characters and might be guessed: \
                 {ADVISED_PASSPHRASE} or more, such as four words, are better"
            )
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn length_counts_letters_and_short_ones_are_advised() {
        assert!(!is_long_enough("e\u{301}e\u{301}e\u{301}e\u{301}\r\n"));
        assert!(is_long_enough("12345678"));
        assert!(passphrase_advice("12345678").is_some_and(|words| words.contains("8 characters")));
        assert_eq!(passphrase_advice("chalk and amalgam"), None);
    }
}
