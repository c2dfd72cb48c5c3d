"""Records and runs survive pickling and copying to the last bit, absent readings and infinities included."""

import copy
import pickle

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT
from risefit.errors import ArgumentError


def same(a, b):
    return pickle.dumps(a) == pickle.dumps(b)


@pytest.mark.parametrize(
    "record",
    [
        rf.Grade("K", viscosity_Pa_s=0.1 + 0.2),
        rf.Mold.load(ROOT / "data/molds/armrest.toml"),
        rf.Casting(
            charge_g=62, mix_temp_C=23, mold_temp_C=30, vent_mm=[3, 2], leak_mm=1, leak_length_mm=2, leak_time_s=9
        ),
        *rf.read_trials(ROOT / "data/trials/armrest.csv"),
        *rf.read_rise_logs(ROOT / "data/logs/*.csv"),
    ],
    ids=lambda record: f"{type(record).__name__} {getattr(record, 'name', '')}",
)
def test_record_survives(record):
    for twin in [pickle.loads(pickle.dumps(record)), copy.copy(record), copy.deepcopy(record)]:
        assert type(twin) is type(record) and repr(twin) == repr(record)
        assert same(twin, record)


def test_absent_readings_and_infinities_survive(tmp_path):
    file = tmp_path / "log.csv"
    file.write_text("# mass_g = 60\n# mix_temp_C = 23\ntime_s,volume_mL\n0,60\n1,\n2,70\n")
    log = pickle.loads(pickle.dumps(rf.read_rise_logs(file)[0]))
    assert np.isnan(log.volume_mL[1]) and log.height_mm is None
    grade = pickle.loads(pickle.dumps(rf.Grade("K")))
    assert grade.cell_opening_time_s == float("inf")


def test_broken_pickle_is_refused():
    with pytest.raises(ArgumentError, match="read the record from its file again"):
        rf.Grade._unpickle(b"\x05")


def test_a_run_survives_with_its_courses():
    mold = rf.Mold.load(ROOT / "data/molds/armrest.toml")
    run = rf.simulate(rf.Grade("K"), mold, charge_g=62, mix_temp_C=23, mold_temp_C=30)
    assert np.isinf(run.viscosity_Pa_s).any() and run.clamp_opened_s is None
    for twin in [pickle.loads(pickle.dumps(run)), copy.copy(run), copy.deepcopy(run)]:
        assert type(twin) is rf.Run and repr(twin) == repr(run) and same(twin, run)
        assert twin.to_frame().equals(run.to_frame()) and twin.chart().svg == run.chart().svg
        assert twin.summary() == run.summary() and twin.phases == run.phases
