//! Who hands a case in, and when.

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Map, Value};

/// A hand-in of a student.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct Student {
    /// Name or number of the student.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Which attempt it is, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attempt: Option<u32>,
    /// Date of the hand-in, ISO 8601, with or without the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Student {
    /// The name, without the blanks about it; `None` where there is none.
    pub fn given_name(&self) -> Option<String> {
        let words: Vec<&str> = self.name.as_deref()?.split_whitespace().collect();
        (!words.is_empty()).then(|| words.join(" "))
    }
}

impl<'de> Deserialize<'de> for Student {
    /// An object of the fields, or the name alone. A field of another shape is
    /// kept as it is and means nothing: a hand-in is not lost for it.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let written = Value::deserialize(deserializer)?;
        let mut extra = match written {
            Value::Object(fields) => fields,
            Value::String(name) => {
                return Ok(Self {
                    name: Some(name),
                    ..Self::default()
                });
            }
            other => Map::from_iter([("value".to_owned(), other)]),
        };
        let mut student = Self::default();
        let mut take = |key: &str, store: &mut dyn FnMut(&Value) -> bool| {
            if extra.get(key).is_some_and(store) {
                extra.remove(key);
            }
        };
        take("name", &mut |value| {
            student.name = match value {
                Value::String(name) => Some(name.clone()),
                Value::Number(number) => Some(number.to_string()),
                _ => None,
            };
            student.name.is_some()
        });
        take("attempt", &mut |value| {
            let typed = value.as_str().and_then(|text| text.trim().parse().ok());
            let number = value.as_u64().and_then(|n| u32::try_from(n).ok());
            student.attempt = number.or(typed);
            student.attempt.is_some()
        });
        take("date", &mut |value| {
            student.date = value.as_str().map(str::to_owned);
            student.date.is_some()
        });
        student.extra = extra;
        Ok(student)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(json: &str) -> Student {
        serde_json::from_str(json).expect("any shape is read")
    }

    #[test]
    fn any_shape_is_read_and_what_means_nothing_is_kept() {
        assert_eq!(read("\"Ann\"").given_name().as_deref(), Some("Ann"));
        let full = read(r#"{"name": "  Ann  Adler ", "attempt": "2", "date": "2026-03-04"}"#);
        assert_eq!(full.given_name().as_deref(), Some("Ann Adler"));
        assert_eq!(
            (full.attempt, full.date.as_deref()),
            (Some(2), Some("2026-03-04"))
        );
        let odd = read(r#"{"name": 17, "attempt": [1], "group": "B"}"#);
        assert_eq!(
            (odd.given_name().as_deref(), odd.attempt),
            (Some("17"), None)
        );
        let kept = serde_json::to_value(&odd).expect("JSON");
        assert_eq!(
            (&kept["attempt"][0], &kept["group"]),
            (&1.into(), &"B".into())
        );
        assert_eq!(read("{\"name\": \" \"}").given_name(), None);
    }
}
