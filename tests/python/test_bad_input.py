"""Every file in `data/bad` is refused in Python by its named exception, with file and place as attributes."""

import pytest
import risefit as rf
from conftest import ROOT
from risefit import errors

FILES = sorted(path for path in (ROOT / "data/bad").iterdir() if path.suffix in {".csv", ".toml"})
READERS = {"ledger": rf.read_trials, "mold": rf.Mold.load, "grade": rf.Grade.load}

# File, exception, line, field.
PLACES = [
    ("empty.csv", errors.EmptyFileError, None, None),
    ("no_mass.csv", errors.MissingFieldError, None, None),
    ("key_misspelled.csv", errors.UnknownFieldError, 5, "creme_time_s"),
    ("key_no_unit.csv", errors.UnitError, 1, "mass"),
    ("column_wrong_unit.csv", errors.UnitError, 5, "height_kPa"),
    ("column_unknown.csv", errors.UnknownFieldError, 5, "heigth_mm"),
    ("grade_wrong_unit.toml", errors.UnitError, None, None),
    ("grade_zero.toml", errors.BadValueError, None, None),
    ("mold_no_volume.toml", errors.MissingFieldError, None, None),
    ("ledger_no_charge.csv", errors.MissingFieldError, None, None),
    ("ledger_too_heavy.csv", errors.BadValueError, None, None),
    ("not_utf8.csv", errors.BadValueError, None, None),
]


def refusal(path):
    reader = READERS.get(path.name.split("_")[0], rf.read_rise_logs)
    with pytest.raises(errors.RisefitError) as info:
        reader(path)
    return info.value


@pytest.mark.parametrize("path", [p for p in FILES if not p.name.startswith("trace_")], ids=lambda path: path.name)
def test_bad_file_is_refused(path):
    error = refusal(path)
    assert type(error) is not errors.InternalError
    assert isinstance(error, ValueError)
    if path.name != "ledger_bad_trace.csv":
        assert error.file == str(path)
    assert error.file in str(error)


@pytest.mark.parametrize("path", [p for p in FILES if p.name.startswith("trace_")], ids=lambda path: path.name)
def test_bad_trace_is_refused_through_its_ledger(path, tmp_path):
    ledger = tmp_path / "trials.csv"
    ledger.write_text(f"trial,charge_g,mix_temp_C,mold_temp_C,trace_file\nA,62,23,30,{path}\n")
    with pytest.raises(ValueError, match=path.name) as info:
        rf.read_trials(ledger)
    assert isinstance(info.value, errors.RisefitError)


@pytest.mark.parametrize(("name", "kind", "line", "field"), PLACES, ids=[row[0] for row in PLACES])
def test_exception_names_the_place(name, kind, line, field):
    error = refusal(ROOT / "data/bad" / name)
    assert type(error) is kind
    if line is not None:
        assert (error.line, error.field) == (line, field)


def test_absent_files_and_empty_patterns_are_told(tmp_path):
    for read in [rf.read_rise_logs, rf.read_trials, rf.Mold.load, rf.Grade.load]:
        with pytest.raises(errors.UnreadableFileError, match="cannot be read"):
            read(tmp_path / "absent.csv")
    with pytest.raises(OSError, match="no file matches"):
        rf.read_rise_logs(str(tmp_path / "*.csv"))
    with pytest.raises(TypeError, match="a path, a pattern"):
        rf.read_rise_logs(3)


def test_chart_that_cannot_be_written_is_told(tmp_path):
    chart = rf.read_rise_logs(ROOT / "data/logs/K_23C.csv")[0].chart()
    with pytest.raises(errors.ArgumentError, match="can be written"):
        chart.save(tmp_path / "absent" / "chart.svg")
    with pytest.raises(errors.ArgumentError, match="width"):
        rf.read_rise_logs(ROOT / "data/logs/K_23C.csv")[0].chart(width=3)
