"""Sweeps: axes with units, arrays in the shape of the grid, single castings found again, refusals, pickles, Ctrl-C."""

import copy
import pickle
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT
from risefit.errors import ArgumentError

GRADE, MOLD = rf.Grade("K"), rf.Mold.load(ROOT / "data/molds/armrest.toml")
FIXED = {"mix_temp_C": 23, "mold_temp_C": 30, "closing_time_s": 12}
BASE = rf.Casting(charge_g=62, **FIXED)


def same(a, b):
    """The same bits: a pickle holds every one of them."""
    return pickle.dumps(a) == pickle.dumps(b)


@pytest.fixture(scope="module")
def result():
    return rf.sweep(GRADE, MOLD, charge_g=(30, 70, 5), vent_mm=[0, 3, 12], **FIXED)


def test_arrays_have_the_shape_of_the_grid(result):
    assert result.shape == result.peak_pressure_kPa.shape == result.verdict.shape == (5, 3)
    assert list(result.axes) == ["charge_g", "vent_mm"]
    assert result.axes["charge_g"].tolist() == np.linspace(30, 70, 5).tolist()
    assert result.complete and len(result) == 15
    assert not result.density_kg_m3.flags.writeable
    np.testing.assert_allclose(result.peak_pressure_psi, result.peak_pressure_kPa / 6.894757, rtol=1e-6)


def test_points_are_single_castings(result):
    for i, j in np.ndindex(5, 3):
        charge, vent = result.axes["charge_g"][i], result.axes["vent_mm"][j]
        run = rf.simulate(GRADE, MOLD, charge_g=charge, vent_mm=vent, **FIXED)
        assert result.verdict[i, j] == run.verdict
        for name, value in run.summary().items():
            if name != "verdict":
                expected = np.nan if value is None else value
                np.testing.assert_allclose(getattr(result, name)[i, j], expected, rtol=1e-14, err_msg=name)
        assert result.sweep.casting((i, j)) == rf.Casting(charge_g=charge, vent_mm=vent, **FIXED)
        assert result.sweep.simulate((i, j)).summary() == run.summary()


def test_other_units_are_as_welcome():
    metric = rf.sweep(GRADE, MOLD, BASE, vent_mm=[2.54, 5.08], mold_temp_C=[20, 30], ambient_pressure_kPa=[101.325])
    us = rf.sweep(GRADE, MOLD, BASE, vent_in=[0.1, 0.2], mold_temp_F=[68, 86], altitude_ft=[0])
    assert list(us.axes) == ["vent_in", "mold_temp_F", "altitude_ft"]
    np.testing.assert_allclose(us.peak_pressure_kPa, metric.peak_pressure_kPa, rtol=1e-6)


def test_threads_and_blocks_do_not_change_a_bit(result):
    plan = result.sweep
    assert same(plan.run(threads=1), plan.run(threads=3))
    for size in (1, 4, 100):
        assert same(plan.join(list(plan.blocks(size, threads=1))), result)
    parts = [plan.block(7, 15), plan.block(0, 7, threads=1)]
    assert same(plan.join(parts), result)
    assert parts[0].peak_pressure_kPa.shape == (8,) and (parts[0].start, parts[0].stop) == (7, 15)
    assert parts[0].peak_pressure_kPa.tolist() == result.peak_pressure_kPa.ravel()[7:].tolist()


def test_gaps_and_strange_blocks_are_refused(result):
    plan = result.sweep
    with pytest.raises(ArgumentError, match="give every block once"):
        plan.join([plan.block(0, 7), plan.block(8, 15)])
    with pytest.raises(ValueError, match="another sweep"):
        plan.join([rf.Sweep(GRADE, MOLD, BASE, charge_g=[60]).block(0, 1)])


def test_refused_points_are_kept_with_their_reason():
    plan = rf.Sweep(GRADE, MOLD, BASE, charge_g=[62, 900], closing_time_s=[12, 250])
    result = plan.run()
    assert result.verdict.tolist() == [["full", "refused"], ["refused", "refused"]]
    assert np.isnan(result.peak_pressure_kPa).tolist() == [[False, True], [True, True]]
    assert plan.reason(0) is None
    assert "the cavity holds 620.0 mL; look at the charge" in plan.reason((1, 0))
    assert "close earlier" in plan.reason(1)
    with pytest.raises(rf.RisefitError, match="close earlier"):
        plan.simulate(1)


def test_draws_are_the_first_axis():
    thick = GRADE.replace(viscosity_Pa_s=5)
    result = rf.sweep([(GRADE, MOLD), (thick, MOLD), (GRADE, MOLD)], BASE, vent_mm=[3, 8])
    assert result.shape == (3, 2) and list(result.axes) == ["draw", "vent_mm"]
    loss = result.vent_loss_g
    assert loss[0].tolist() == loss[2].tolist() and (loss[1] < loss[0]).all()
    assert loss[1, 1] == pytest.approx(rf.simulate(thick, MOLD, BASE, vent_mm=8).vent_loss_g, rel=1e-14)


def test_calibration_is_swept_at_its_best_estimates(cal):
    casting = rf.read_trials(ROOT / "data/trials/armrest.csv")[2].casting
    result = rf.sweep(cal, casting, vent_mm=[3, 6], clamp_force_N=[300, 1500])
    for i, vent in enumerate([3, 6]):
        for j, clamp in enumerate([300, 1500]):
            run = cal.simulate(casting, vent_mm=vent, clamp_force_N=clamp)
            assert result.peak_pressure_kPa[i, j] == pytest.approx(run.peak_pressure_kPa, rel=1e-14)
            assert result.flash_g[i, j] == pytest.approx(run.flash_g, rel=1e-14)


def test_frame_has_a_row_for_each_casting(result):
    frame = result.to_frame()
    assert frame.shape == (15, 2 + 29 + 1)
    row = frame.iloc[7]
    assert (row.charge_g, row.vent_mm) == (50, 3)
    assert row.peak_pressure_kPa == result.peak_pressure_kPa[2, 1] and row.verdict == result.verdict[2, 1]
    assert result.sweep.block(7, 9).to_frame().vent_mm.tolist() == [3, 12]


def test_a_map_is_drawn(result):
    chart = result.chart("density", x="vent_mm", y="charge_g", units="us")
    assert "density (part over cavity) (lb/ft3)" in chart.svg and ">\nshort\n<" in chart.svg
    title = "density (part over cavity)"
    assert result.chart("density_lb_ft3", x="vent_mm", y="charge_g", title=title, units="us").svg == chart.svg
    assert result.chart().svg == result.chart("peak_pressure", x="charge_g", y="vent_mm").svg
    for slip, words in [
        ({"quantity": "speed"}, "known: peak_pressure"),
        ({"x": "charge_oz"}, "it has charge_g, vent_mm"),
        ({"x": "vent_mm", "y": "vent_mm"}, "two axes"),
        ({"at": [0]}, "one place for each axis"),
    ]:
        with pytest.raises(ArgumentError, match=words):
            result.chart(**slip)
    with pytest.raises(ArgumentError, match="two settings that vary"):
        rf.sweep(GRADE, MOLD, BASE, charge_g=[60, 61]).chart()


@pytest.mark.parametrize(
    ("axes", "words"),
    [
        ({"charge_g": []}, "charge_g: got no values"),
        ({"charge_g": (60, 62)}, r"expected \(first, last, how many\); a tuple is a range; .* a list"),
        ({"charge_g": (60, 62, 1)}, "how many"),
        ({"charge_g": (60, 62, 2.5)}, "how many"),
        ({"charge_g": [60, float("nan")]}, "nan at index 1"),
        ({"charge_g": [60, -1]}, "charge_g: got -1, expected a number above 0"),
        ({"charge_g": ["sixty"]}, "a row of numbers"),
        ({"charge": [60, 61]}, "write one of: charge_g"),
        ({"charg_g": [60, 61]}, "did you mean `charge_g`"),
        ({"charge_g": [60, 61], "charge_oz": [2, 3]}, "the same setting twice"),
        ({"altitude_m": [0, 1000], "ambient_pressure_kPa": [80, 90]}, "one of the two"),
        ({"altitude_m": [0, 1e6]}, "altitude"),
        ({"mold_temp_C": [20, 300]}, "looks like"),
        ({"leak_mm": [1, 2]}, "a time or pressure at which it opens"),
        ({"charge_g": [60], "threads": 0}, "1 or more"),
    ],
)
def test_bad_axes_say_how_to_mend_them(axes, words):
    with pytest.raises(ArgumentError, match=words):
        rf.sweep(GRADE, MOLD, BASE, **axes)


@pytest.mark.parametrize(
    "of", [(), (GRADE,), (MOLD, GRADE), (GRADE, MOLD, 3), ([(GRADE, GRADE)],), (GRADE, MOLD, BASE, BASE)]
)
def test_strange_subjects_are_refused(of):
    with pytest.raises(TypeError, match=r"expected a Grade and a Mold, a Calibration"):
        rf.sweep(*of, charge_g=[60])


@pytest.mark.parametrize("index", [-1, 2, (0, 1), (2,), "x", 1.5])
def test_strange_points_are_refused(index):
    with pytest.raises(ArgumentError, match="points are counted from 0"):
        rf.Sweep(GRADE, MOLD, BASE, charge_g=[60, 61]).simulate(index)


def test_a_leak_can_be_swept():
    leak = {"leak_mm": [0.5, 4], "leak_length_mm": 10, "leak_time_s": 0}
    loss = rf.sweep(GRADE, MOLD, BASE, **leak).peak_pressure_kPa
    assert loss[1] < loss[0]


def test_plans_and_results_survive_pickling(result):
    for thing in (result, result.sweep, result.sweep.block(3, 5)):
        for twin in (pickle.loads(pickle.dumps(thing)), copy.deepcopy(thing)):
            assert type(twin) is type(thing) and repr(twin) == repr(thing) and same(twin, thing)
    assert pickle.loads(pickle.dumps(result.sweep)) == result.sweep


def test_a_billion_points_are_planned_at_once():
    plan = rf.Sweep(GRADE, MOLD, BASE, charge_g=(50, 70, 1000), vent_mm=(2, 8, 1000), mold_temp_C=(15, 40, 1000))
    assert len(plan) == 1_000_000_000
    assert len(pickle.dumps(plan)) < 100_000
    blocks = plan.blocks(50)
    assert [next(blocks).stop for _ in range(3)] == [50, 100, 150]
    assert plan.casting(999_999_999).charge_g == pytest.approx(70)


def test_a_function_is_told_how_far_it_is():
    told = []
    rf.sweep(GRADE, MOLD, BASE, charge_g=(50, 70, 50), progress=lambda done, points: told.append((done, points)))
    assert told[-1] == (50, 50)
    assert told == sorted(told)


def test_an_error_of_that_function_stops_it():
    def fail(done, points):
        raise RuntimeError("enough")

    start = time.monotonic()
    with pytest.raises(RuntimeError, match="enough"):
        rf.sweep(GRADE, MOLD, BASE, charge_g=(50, 70, 1000), vent_mm=(2, 8, 1000), progress=fail)
    assert time.monotonic() - start < 5


def test_nothing_is_written_where_there_is_no_terminal(capfd):
    rf.sweep(GRADE, MOLD, BASE, charge_g=(50, 70, 50))
    assert capfd.readouterr() == ("", "")


LONG = f"""
import sys, time
import numpy as np
import risefit as rf
mold = rf.Mold.load({str(ROOT / "data/molds/armrest.toml")!r})
plan = rf.Sweep(rf.Grade("K"), mold, charge_g=(50, 70, 1000), vent_mm=(2, 8, 1000), mix_temp_C=23, mold_temp_C=30)
def began(done, points):
    if done:
        print("started", flush=True)
try:
    plan.run(progress=began)
except rf.errors.SweepInterrupted as stop:
    stopped = time.time()
    partial = stop.partial
    assert isinstance(stop, KeyboardInterrupt) and not partial.complete and partial.shape == (1000, 1000)
    cast = np.flatnonzero(partial.verdict.ravel() != "not run")
    assert 0 < len(cast) < len(partial)
    assert np.isnan(partial.density_kg_m3).sum() == len(partial) - len(cast)
    for point in cast[:: max(1, len(cast) // 5)]:
        assert partial.density_kg_m3.ravel()[point] == plan.block(point, point + 1).density_kg_m3[0]
    print("stopped", stopped, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ")
@pytest.mark.usefixtures("interrupts")
def test_interrupt_keeps_what_was_cast():
    with subprocess.Popen([sys.executable, "-c", LONG], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "started\n"
        asked = time.time()
        process.send_signal(signal.SIGINT)
        last = process.communicate(timeout=60)[0].splitlines()[-1]
    word, stopped = last.split()
    assert word == "stopped"
    # 0.05 s between looks, and the raising; a whole sweep takes a hundred times as long.
    assert float(stopped) - asked < 0.2
