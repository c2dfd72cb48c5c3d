//! The one error type: each variant says where, what was found, what was expected and how to mend it.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::path::PathBuf;

/// Shorthand for results of this crate.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// A place in a file, as exact as it is known. Lines and columns count from 1.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// The file, as the user named it.
    pub file: PathBuf,
    /// Line in the file, counted from 1.
    pub line: Option<u64>,
    /// Column head or key.
    pub field: Option<String>,
}

/// Everything that can go wrong, in terms of what the user gave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Error {
    /// A file could not be opened or read.
    Unreadable {
        /// The file or pattern.
        file: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// A file holds no data.
    Empty {
        /// The file.
        file: PathBuf,
        /// What was expected in it.
        expected: String,
    },
    /// A needed column or key is absent.
    Missing {
        /// Where it was looked for.
        place: Place,
        /// What was looked for, with the forms that would do.
        expected: String,
        /// What is there instead.
        found: Vec<String>,
    },
    /// A column or key is not known.
    Unknown {
        /// Where it stands.
        place: Place,
        /// The name as written.
        found: String,
        /// The known name closest to it.
        nearest: Option<String>,
        /// The names that would do.
        expected: Vec<String>,
    },
    /// A number has no unit, or one that does not fit its quantity.
    Unit {
        /// Where it stands.
        place: Place,
        /// The name as written.
        found: String,
        /// The names that would do.
        expected: Vec<String>,
    },
    /// A cell or value is not what belongs there.
    BadValue {
        /// Where it stands.
        place: Place,
        /// The value as written.
        found: String,
        /// What belongs there.
        expected: String,
        /// How to mend it.
        advice: String,
    },
    /// An argument of a call is outside what makes sense.
    Argument {
        /// The argument's name, with its unit.
        name: String,
        /// The value given.
        found: String,
        /// What would do.
        expected: String,
        /// How to mend it.
        advice: String,
    },
    /// The foam filled or gelled before the mold was closed, or does not fit into it.
    Casting {
        /// The trial, if it has a name.
        trial: Option<String>,
        /// What happened, with numbers and units.
        what: String,
        /// How to mend it.
        advice: String,
    },
    /// The integration could not go on.
    Integration {
        /// The trial or log, if it has a name.
        trial: Option<String>,
        /// The time reached, s.
        time_s: f64,
        /// What failed.
        reason: String,
        /// The parameter most likely at fault.
        suspect: String,
    },
    /// The records do not support what was asked.
    TooFewRecords {
        /// What was asked for.
        wanted: String,
        /// What the records hold.
        found: String,
        /// What to add.
        advice: String,
    },
    /// A fit ended without an answer that can be trusted.
    Fit {
        /// What happened.
        reason: String,
        /// How to mend it.
        advice: String,
    },
    /// Someone asked to stop.
    Canceled {
        /// What was not yet done.
        before: String,
        /// How to go on.
        advice: String,
    },
}

impl Error {
    /// Whether a fit may step over this error, count it and go on with other parameter values.
    pub fn is_recoverable(&self) -> bool {
        matches!(self, Error::Casting { .. } | Error::Integration { .. })
    }

    /// Names the trial in errors that carry one and have none yet.
    pub fn in_trial(mut self, name: &str) -> Self {
        if let Error::Casting { trial, .. } | Error::Integration { trial, .. } = &mut self {
            trial.get_or_insert_with(|| name.to_owned());
        }
        self
    }

    /// An [`Error::Argument`] from plain strings.
    pub fn argument(
        name: impl Into<String>,
        found: impl fmt::Display,
        expected: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Error::Argument {
            name: name.into(),
            found: found.to_string(),
            expected: expected.into(),
            advice: advice.into(),
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(field) = &self.field {
            write!(f, ", `{field}`")?;
        }
        Ok(())
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |names: &[String]| names.join(", ");
        let of = |trial: &Option<String>| trial.as_ref().map(|t| format!("{t}: ")).unwrap_or_default();
        match self {
            Error::Unreadable { file, reason } => write!(f, "{}: cannot be read: {reason}", file.display()),
            Error::Empty { file, expected } => write!(f, "{}: is empty; expected {expected}", file.display()),
            Error::Missing { place, expected, found } => {
                write!(f, "{place}: missing {expected}; found only: {}", list(found))
            }
            Error::Unknown { place, found, nearest, expected } => match nearest {
                Some(n) => write!(f, "{place}: unknown `{found}`; did you mean `{n}`? Known: {}", list(expected)),
                None => write!(f, "{place}: unknown `{found}`. Known: {}", list(expected)),
            },
            Error::Unit { place, found, expected } => {
                write!(f, "{place}: `{found}` has no unit that fits; write one of: {}", list(expected))
            }
            Error::BadValue { place, found, expected, advice } => {
                write!(f, "{place}: found `{found}`, expected {expected}; {advice}")
            }
            Error::Argument { name, found, expected, advice } => {
                write!(f, "{name}: got {found}, expected {expected}; {advice}")
            }
            Error::Casting { trial, what, advice } => write!(f, "{}{what}; {advice}", of(trial)),
            Error::Integration { trial, time_s, reason, suspect } => {
                write!(f, "{}the integration stopped at {time_s:.4} s: {reason}; look at {suspect} first", of(trial))
            }
            Error::TooFewRecords { wanted, found, advice } => {
                write!(f, "the records do not support {wanted}: {found}; {advice}")
            }
            Error::Canceled { before, advice } => write!(f, "stopped on request before {before}; {advice}"),
            Error::Fit { reason, advice } => write!(f, "the fit has no answer: {reason}; {advice}"),
        }
    }
}

impl std::error::Error for Error {}
