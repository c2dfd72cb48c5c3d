"""Each error of the library reaches Python as its own exception, with what is known as attributes."""

import inspect
import pickle

import pytest
from risefit import RisefitError, errors
from risefit._core import _probe

AT = {"file": "trials.csv", "line": 3, "field": "charge_g"}

# In the order of the variants of the Rust error: class, other base, fields.
EXPECTED = [
    (errors.UnreadableFileError, OSError, {"file": "trials.csv", "reason": "no such file"}),
    (errors.EmptyFileError, ValueError, {"file": "trials.csv", "expected": "a head line"}),
    (errors.MissingFieldError, ValueError, AT | {"expected": "charge_g or charge_oz", "found": ("vent_mm",)}),
    (errors.UnknownFieldError, ValueError, AT | {"found": "charg_g", "expected": ("charge_g",), "nearest": None}),
    (errors.UnitError, ValueError, AT | {"found": "charge", "expected": ("charge_g", "charge_oz")}),
    (errors.BadValueError, ValueError, AT | {"found": "6o", "expected": "a number", "advice": "write 60"}),
    (errors.ArgumentError, ValueError, {"field": "charge_g", "found": "-1", "expected": "more than 0", "file": None}),
    (errors.CastingError, RisefitError, {"trial": "T1", "advice": "pour less", "recoverable": True}),
    (errors.IntegrationError, RisefitError, {"trial": None, "time_s": 12.5, "suspect": "gel_rate"}),
    (errors.TooFewRecordsError, RisefitError, {"expected": "a vent fit", "found": "one casting"}),
    (errors.FitError, RisefitError, {"reason": "no minimum", "advice": "fix the viscosity", "recoverable": False}),
    (
        errors.CanceledError,
        RisefitError,
        {"reason": "stopped on request before all draws were cast", "recoverable": False},
    ),
]


def caught(number):
    with pytest.raises(RisefitError) as info:
        _probe.raise_specimen(number)
    return info.value


@pytest.mark.parametrize("number", range(len(EXPECTED)), ids=[row[0].__name__ for row in EXPECTED])
def test_variant_has_its_class_and_fields(number):
    kind, base, fields = EXPECTED[number]
    error = caught(number)
    assert type(error) is kind
    assert isinstance(error, base)
    assert {name: getattr(error, name) for name in fields} == fields


def test_no_specimen_is_left_out():
    assert _probe.raise_specimen(len(EXPECTED)) is None


def test_every_class_is_used():
    written = {kind for _, kind in inspect.getmembers(errors, inspect.isclass)}
    assert written == {row[0] for row in EXPECTED} | {RisefitError, errors.InternalError, errors.SweepInterrupted}


def test_message_says_where_and_how_to_mend():
    assert str(caught(5)) == "trials.csv, line 3, `charge_g`: found `6o`, expected a number; write 60"


@pytest.mark.parametrize("number", [0, 5, 8])
def test_survives_pickling(number):
    error = caught(number)
    copy = pickle.loads(pickle.dumps(error))
    assert (type(copy), str(copy), vars(copy)) == (type(error), str(error), vars(error))


def test_panic_becomes_an_exception():
    with pytest.raises(errors.InternalError, match="fault in risefit itself.*the bottom fell out"):
        _probe.panic()
