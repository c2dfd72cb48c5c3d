"""Every class survives copying and pickling, in this process and another, to the last bit; twins are equal."""

import copy
import pickle
import subprocess
import sys

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT
from risefit.errors import ArgumentError

NEXT = {"charge_g": 62, "mix_temp_C": 23, "mold_temp_C": 30}


def same(a, b):
    return pickle.dumps(a) == pickle.dumps(b)


@pytest.fixture(scope="module")
def every(fit, cal):
    """One object of each class, by the name of the class."""
    logs, trials = rf.read_rise_logs(ROOT / "data/logs/*.csv"), rf.read_trials(ROOT / "data/trials/armrest.csv")
    grade, mold = rf.Grade("K", viscosity_Pa_s=0.1 + 0.2), rf.Mold.load(ROOT / "data/molds/armrest.toml")
    sheet = rf.Datasheet.load(ROOT / "data/grades/K_datasheet.toml")
    found = cal.recommend(target_density_kg_m3=96, mix_temp_C=23, mold_temp_C=30, drills_mm=[3, 4], draws=20)
    sweep = rf.Sweep(cal, charge_g=[60, 900], vent_mm=[3, 4], mix_temp_C=23, mold_temp_C=30)
    blocks = sweep.blocks(1)
    next(blocks)
    made = [
        *(logs[0], trials[-1], next(t for t in trials if len(t.trace)).trace, grade, mold, sheet, fit, cal),
        rf.Casting(**NEXT, vent_mm=[3, 2], leak_mm=1, leak_length_mm=2, leak_time_s=9),
        rf.Recipe(polyols=[(100, 28)], water=1, isocyanate_equivalent=140, index=0.9),
        rf.grade_from_datasheet(sheet, starts=1),
        *(fit.estimates, fit.estimates[0], fit.logs, fit.logs[0], cal.castings, cal.castings[0]),
        rf.simulate(grade, mold, **NEXT),
        rf.free_rise(grade, mass_g=60, mix_temp_C=23),
        rf.quick_curve(logs[0]),
        cal.predict(**NEXT),
        cal.predict(**NEXT).density_kg_m3,
        cal.outcomes(**NEXT, draws=20),
        cal.posterior(draws=8, chains=2, warmup=8),
        fit.profile("gas_yield_mol_kg"),
        cal.diagnose(),
        *(found, found.next_trial(), fit.chart()),
        *(sweep, sweep.run(), blocks),
    ]
    return {type(one).__name__: one for one in made}


def classes():
    everything = (getattr(rf, name) for name in rf.__all__)
    return {one.__name__ for one in everything if isinstance(one, type) and not issubclass(one, Exception)}


def test_no_class_is_forgotten(every):
    assert set(every) == classes()


@pytest.mark.parametrize("name", sorted(classes()))
def test_twins_are_equal(every, name):
    one = every[name]
    for twin in [pickle.loads(pickle.dumps(one)), copy.copy(one), copy.deepcopy(one)]:
        assert type(twin) is type(one) and repr(twin) == repr(one)
        assert same(twin, one) and twin == one
        assert (twin != one) is False
    others = [other for kind, other in every.items() if kind != name]
    assert all(one != other for other in [*others, None, 1])


def test_another_process_reads_and_writes_the_same_bits(every):
    code = "import pickle, sys; pickle.dump(pickle.load(sys.stdin.buffer), sys.stdout.buffer)"
    there = subprocess.run([sys.executable, "-c", code], input=pickle.dumps(every), capture_output=True, check=True)
    back = pickle.loads(there.stdout)
    assert set(back) == set(every)
    assert [name for name, one in every.items() if back[name] != one] == []


def test_a_calibration_that_was_pickled_predicts_recommends_and_draws_the_same(every):
    cal = every["Calibration"]
    twin = pickle.loads(pickle.dumps(cal))
    assert same(twin.predict(**NEXT), cal.predict(**NEXT)) and same(twin.simulate(**NEXT), cal.simulate(**NEXT))
    assert twin.outcomes(**NEXT, draws=20) == cal.outcomes(**NEXT, draws=20)
    asked = {"target_density_kg_m3": 96, "mix_temp_C": 23, "mold_temp_C": 30, "drills_mm": [3, 4], "draws": 20}
    assert twin.recommend(**asked) == cal.recommend(**asked)
    assert twin.summary() == cal.summary() and twin.report() == cal.report() and twin.chart() == cal.chart()
    sampled = {"draws": 8, "chains": 2, "warmup": 8}
    assert np.array_equal(twin.posterior(**sampled).draws, cal.posterior(**sampled).draws)


def test_results_that_were_pickled_go_on(every):
    found = pickle.loads(pickle.dumps(every["Recommendation"]))
    assert found.next_trial() == every["NextTrial"] and found.chart() == every["Recommendation"].chart()
    posterior = pickle.loads(pickle.dumps(every["Posterior"]))
    assert posterior.predict(**NEXT, draws=10) == every["Posterior"].predict(**NEXT, draws=10)
    left = list(pickle.loads(pickle.dumps(every["SweepBlocks"])))
    assert [block.start for block in left] == [1, 2, 3]


def test_what_differs_is_not_equal(every):
    cal = every["Calibration"]
    assert cal.predict(**NEXT) != cal.predict(**{**NEXT, "charge_g": 61})
    assert cal.outcomes(**NEXT, draws=10) != cal.outcomes(**NEXT, draws=10, seed=2)


@pytest.mark.parametrize(
    "record",
    [
        *rf.read_trials(ROOT / "data/trials/armrest.csv"),
        *rf.read_rise_logs(ROOT / "data/logs/*.csv"),
    ],
    ids=lambda record: f"{type(record).__name__} {record.name}",
)
def test_record_survives(record):
    twin = pickle.loads(pickle.dumps(record))
    assert repr(twin) == repr(record) and twin == record


def test_absent_readings_and_infinities_survive(tmp_path):
    file = tmp_path / "log.csv"
    file.write_text("# mass_g = 60\n# mix_temp_C = 23\ntime_s,volume_mL\n0,60\n1,\n2,70\n")
    log = rf.read_rise_logs(file)[0]
    twin = pickle.loads(pickle.dumps(log))
    assert np.isnan(twin.volume_mL[1]) and twin.height_mm is None and twin == log
    grade = pickle.loads(pickle.dumps(rf.Grade("K")))
    assert grade.cell_opening_time_s == float("inf")


def test_broken_pickle_is_refused():
    with pytest.raises(ArgumentError, match="make it again with this version"):
        rf.Grade._unpickle(b"\x05")


def test_a_run_survives_with_its_courses(every):
    run = every["Run"]
    assert np.isinf(run.viscosity_Pa_s).any() and run.clamp_opened_s is None
    twin = copy.copy(run)
    assert twin.to_frame().equals(run.to_frame()) and twin.chart().svg == run.chart().svg
    assert twin.summary() == run.summary() and twin.phases == run.phases
