//! Why nothing can be said of what a board has to spare, and what to do about it.

use std::fmt;

/// Why there is no margin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoMargin {
    /// What is missing, as a clause.
    pub what: String,
    /// Why it is missing, as a clause.
    pub because: Option<String>,
    /// What to do about it, as an order.
    pub to_do: Option<String>,
}

impl NoMargin {
    /// Something is missing, and no more can be said.
    pub fn only(what: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            because: None,
            to_do: None,
        }
    }

    /// The same for somebody who looks at it afterwards: why, and no order; the second wording is shorter, and whole.
    pub fn afterwards(&self) -> Vec<String> {
        match &self.because {
            Some(because) => vec![format!("{} ({because})", self.what), self.what.clone()],
            None => vec![self.what.clone()],
        }
    }

    /// The same for somebody who stands there: first what to do, then why; each further wording is shorter, and whole.
    pub fn advice(&self) -> Vec<String> {
        let why = self.afterwards();
        match &self.to_do {
            Some(to_do) => vec![
                format!("{to_do}: {}", why[0]),
                format!("{to_do}: {}", self.what),
                to_do.clone(),
                self.what.clone(),
            ],
            None => why,
        }
    }
}

/// Why, and then what to do: as it is read afterwards.
impl fmt::Display for NoMargin {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.what)?;
        match (&self.because, &self.to_do) {
            (Some(because), Some(to_do)) => write!(out, ": {because}; {to_do}"),
            (Some(one), None) | (None, Some(one)) => write!(out, ": {one}"),
            (None, None) => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_to_do_comes_first_and_is_never_lost() {
        let why = NoMargin {
            what: "what fern needs is not known".to_owned(),
            because: Some("it was not measured at a point yet".to_owned()),
            to_do: Some("walk out until messages get lost".to_owned()),
        };
        let advice = why.advice();
        assert_eq!(
            advice[0],
            "walk out until messages get lost: what fern needs is not known (it was not measured at a point yet)"
        );
        assert!(
            advice[..3].iter().all(|words| words.starts_with("walk out")),
            "{advice:?}"
        );
        assert_eq!(
            why.afterwards(),
            [
                "what fern needs is not known (it was not measured at a point yet)",
                "what fern needs is not known"
            ]
        );
        assert!(advice.is_sorted_by(|one, other| one.len() > other.len()), "{advice:?}");
        assert_eq!(
            why.to_string(),
            "what fern needs is not known: it was not measured at a point yet; walk out until messages get lost"
        );
    }
}
