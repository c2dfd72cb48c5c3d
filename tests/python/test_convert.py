"""Numbers on their way in and out: what is taken, and what is refused with a reason."""

import numpy as np
import pandas as pd
import pytest
from risefit._core import _probe
from risefit.errors import ArgumentError


def test_quantities_keep_names_and_order():
    assert _probe.quantities(vent_mm=3, charge_g=58.5) == [("vent_mm", 3.0), ("charge_g", 58.5)]


def test_quantities_take_numpy_scalars_and_leave_out_none():
    assert _probe.quantities(charge_g=np.float32(58.5), vent_mm=None, count=np.int64(2)) == [
        ("charge_g", 58.5),
        ("count", 2.0),
    ]


@pytest.mark.parametrize("value", ["58", True, np.bool_(True), float("nan"), float("inf"), [58.0], 1j, 10**400])
def test_quantity_that_is_no_number_is_refused(value):
    with pytest.raises(ArgumentError, match="charge_g: got .*, expected a finite number") as info:
        _probe.quantities(charge_g=value)
    assert info.value.field == "charge_g"


@pytest.mark.parametrize(
    "value",
    [
        [1, 2, 3],
        (1.0, 2.0, 3.0),
        np.array([1, 2, 3], dtype="int16"),
        np.arange(1.0, 7.0)[::2] / 2 + 0.5,
        pd.Series([1, 2, 3]),
    ],
    ids=["list", "tuple", "int16", "strided", "series"],
)
def test_rows_of_numbers_are_taken(value):
    row = _probe.numbers("time_s", value)
    assert row.dtype == np.float64
    assert row.tolist() == [1.0, 2.0, 3.0]


def test_every_second_entry_of_an_array_is_taken():
    assert _probe.numbers("time_s", np.arange(6.0)[::2]).tolist() == [0.0, 2.0, 4.0]


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ([[1.0, 2.0], [3.0, 4.0]], r"shape \(2, 2\)"),
        (5.0, r"shape \(\)"),
        ([[1.0], [2.0, 3.0]], r"\[\[1.0\], \[2.0, 3.0\]\]"),
        (["1", "2"], "type <U1"),
        ([True, False], "type bool"),
        ([1.0, None], "type object"),
        ([1.0, float("nan")], "nan at index 1"),
        ([1.0, float("-inf")], "-inf at index 1"),
    ],
)
def test_what_is_no_row_of_numbers_is_refused(value, found):
    with pytest.raises(ArgumentError, match=f"time_s: got .*{found}"):
        _probe.numbers("time_s", value)


def test_arrays_given_out_are_read_only():
    with pytest.raises(ValueError, match="read-only"):
        _probe.numbers("time_s", [1.0])[0] = 2.0


def test_frame_keeps_gaps():
    pd.testing.assert_frame_equal(_probe.frame("height_mm", [1.0, np.nan]), pd.DataFrame({"height_mm": [1.0, np.nan]}))


def test_frame_without_pandas_says_what_to_install(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "pandas", None)
    with pytest.raises(ImportError, match="pip install 'risefit"):
        _probe.frame("height_mm", [1.0])
