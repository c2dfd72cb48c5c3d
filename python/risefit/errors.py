"""The exceptions that risefit raises, all under `RisefitError`, with what is known as attributes."""


class RisefitError(Exception):
    """Base of all errors of risefit. Attributes that do not apply to an error are `None`."""

    file: str | None = None
    """The file, as it was named in the call."""
    line: int | None = None
    """The line in the file, counted from 1."""
    field: str | None = None
    """The column, key or argument, with its unit."""
    found: str | tuple[str, ...] | None = None
    """What was found; names where several were found."""
    expected: str | tuple[str, ...] | None = None
    """What was expected; names where one of several would do."""
    nearest: str | None = None
    """The known name closest to the one found."""
    advice: str | None = None
    """How to mend it."""
    reason: str | None = None
    """What happened."""
    suspect: str | None = None
    """The parameter most likely at fault."""
    trial: str | None = None
    """The trial or log."""
    time_s: float | None = None
    """The time reached in the casting or cup, s."""
    recoverable: bool = False
    """Whether a fit may step over it and go on with other parameter values."""

    def __init__(self, message: str, **fields: object) -> None:
        """Keep `fields` as attributes."""
        super().__init__(message)
        self.__dict__.update(fields)


class UnreadableFileError(RisefitError, OSError):
    """A file could not be opened or read: `file`, `reason`."""


class EmptyFileError(RisefitError, ValueError):
    """A file holds no data: `file`, `expected`."""


class MissingFieldError(RisefitError, ValueError):
    """A needed column or key is absent: `file`, `line`, `field`, `expected`, `found` (names)."""


class UnknownFieldError(RisefitError, ValueError):
    """A column or key is not known: `file`, `line`, `field`, `found`, `nearest`, `expected` (names)."""


class UnitError(RisefitError, ValueError):
    """A name has no unit, or one that does not fit: `file`, `line`, `field`, `found`, `expected` (names)."""


class BadValueError(RisefitError, ValueError):
    """A cell or value is not what belongs there: `file`, `line`, `field`, `found`, `expected`, `advice`."""


class ArgumentError(RisefitError, ValueError):
    """An argument of a call is outside what makes sense: `field`, `found`, `expected`, `advice`."""


class CastingError(RisefitError):
    """A casting cannot be run as asked, such as foam that does not fit the mold: `trial`, `reason`, `advice`."""


class IntegrationError(RisefitError):
    """The integration could not go on: `trial`, `time_s`, `reason`, `suspect`."""


class TooFewRecordsError(RisefitError):
    """The records do not support what was asked: `expected` (what was asked for), `found`, `advice`."""


class FitError(RisefitError):
    """A fit ended without an answer that can be trusted: `reason`, `advice`."""


class CanceledError(RisefitError):
    """Something was stopped on request before it was done: `reason`, `advice`. Ctrl-C raises `KeyboardInterrupt`."""


class InternalError(RisefitError):
    """A fault of risefit itself, not of the input."""


class SweepInterrupted(KeyboardInterrupt):
    """Ctrl-C stopped a sweep. `partial` is the `SweepResult` so far; its `complete` is `False`."""

    partial: object = None
    """What was cast; points that were not have the verdict `"not run"`."""

    def __init__(self, message: str, partial: object = None) -> None:
        """Keep what was cast."""
        super().__init__(message)
        self.partial = partial
