"""The main job: read logs and castings, fit, calibrate, predict; against what only the generator knows."""

import json
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
import risefit as rf
from conftest import ROOT

TARGET = json.loads((ROOT / "data/truth.json").read_text())["targets"]["62 g, vent 4.0 mm"]
NEXT = {"charge_g": 62, "vent_mm": 4.0, "mix_temp_C": 23, "mold_temp_C": 30, "left_in_cup_g": 1.6, "closing_time_s": 12}


@pytest.fixture(scope="module")
def logs():
    return rf.read_rise_logs(ROOT / "data/logs/*.csv")


@pytest.fixture(scope="module")
def fit(logs):
    return rf.fit_free_rise(logs, name="K")


@pytest.fixture(scope="module")
def cal(fit):
    mold = rf.Mold.load(ROOT / "data/molds/armrest.toml")
    return rf.calibrate(fit, mold, rf.read_trials(ROOT / "data/trials/armrest.csv"))


@pytest.fixture(scope="module")
def prediction(cal):
    return cal.predict(**NEXT)


def test_logs_are_read_by_pattern_path_text_and_list(logs):
    files = sorted((ROOT / "data/logs").glob("*.csv"))
    assert [log.name for log in logs] == ["K at 19 C", "K at 23 C", "K at 28 C"]
    assert len(rf.read_rise_logs(files)) == len(rf.read_rise_logs([str(files[0]), files[1], files[2]])) == 3
    assert rf.read_rise_logs(str(files[0]))[0].mass_g == 60.8


def test_fit_tells_what_it_knows(fit):
    assert fit.converged
    assert fit.grade.name == "K"
    k = len(fit.parameter_names)
    assert fit.correlation.shape == (k, k)
    np.testing.assert_allclose(np.diag(fit.correlation), 1.0)
    frame = fit.estimates.to_frame()
    assert list(frame.index[:k]) == fit.parameter_names
    assert frame.loc["gas_yield_mol_kg", "value"] == pytest.approx(fit.grade.gas_yield_mol_kg)
    assert "gas_yield_mol_kg" in str(fit)
    assert "<table>" in fit._repr_html_()
    assert fit.summary()["estimates"]["gel_rate_per_s"]["unit"] == "1/s at 40 °C"


def test_calibration_tells_what_it_knows(cal):
    assert cal.converged
    assert 0 < cal.misfit_ratio < 3
    frame = cal.castings.to_frame()
    assert list(frame.index) == ["A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8"]
    assert (frame.part_mass_g - frame.predicted_part_mass_g).abs().max() < 3
    assert "viscosity_Pa_s" in str(cal)


def test_truth_is_inside_the_intervals(prediction):
    truth = TARGET["truth"]
    for name in ["peak_pressure_kPa", "density_kg_m3", "part_mass_g", "fill_time_s", "gel_time_s"]:
        low, high = getattr(prediction, name).interval_95
        assert low < truth[name] < high, name
    # An interval that holds everything would be no answer.
    low, high = prediction.peak_pressure_kPa.interval_95
    assert high - low < 25
    low, high = prediction.density_kg_m3.interval_95
    assert high - low < 10


def test_prediction_has_doubt_and_scatter_in_any_unit(prediction):
    in_kPa, in_psi = prediction.peak_pressure_kPa, prediction.peak_pressure_psi
    assert in_psi.value * 6.894757 == pytest.approx(in_kPa.value)
    assert in_psi.doubt * 6.894757 == pytest.approx(in_kPa.doubt)
    assert in_kPa.doubt > 0 < in_kPa.scatter
    assert in_kPa.standard_error == pytest.approx(np.hypot(in_kPa.doubt, in_kPa.scatter))
    frame = prediction.to_frame()
    assert frame.loc["density_kg_m3", "low_95"] == prediction.density_kg_m3.interval_95[0]
    assert prediction.run.peak_pressure_kPa == float(in_kPa)


def test_run_has_outcome_phases_and_courses(cal):
    run = cal.simulate(**NEXT)
    assert run.verdict == "full"
    assert [name for name, _ in run.phases] == ["open", "rising", "filled", "set"]
    assert run.margin_s == pytest.approx(run.gel_time_s - run.fill_time_s)
    assert run.peak_pressure_kPa == pytest.approx(run.pressure_kPa.max(), rel=1e-3)
    assert run.clamp_opened_s is None and run.leak_opened_s is None
    assert run.time_s.shape == run.pressure_kPa.shape == run.core_temp_C.shape
    assert not run.pressure_kPa.flags.writeable
    frame = run.to_frame()
    assert isinstance(frame, pd.DataFrame)
    assert frame.phase.iloc[-1] == "set"
    assert list(frame.columns[:3]) == ["time_s", "pressure_kPa", "fill"]


def test_us_units_are_the_same_numbers(cal):
    run = cal.simulate(charge_oz=62 / 28.349523125, vent_in=4 / 25.4, mix_temp_F=73.4, mold_temp_F=86)
    same = cal.simulate(charge_g=62, vent_mm=4, mix_temp_C=23, mold_temp_C=30)
    assert run.peak_pressure_kPa == pytest.approx(same.peak_pressure_kPa, rel=1e-6)
    assert run.peak_pressure_psi * 6.894757 == pytest.approx(run.peak_pressure_kPa)
    assert run.density_lb_ft3 * 16.01846 == pytest.approx(run.density_kg_m3)
    assert run.part_mass_oz * 28.349523125 == pytest.approx(run.part_mass_g)
    assert run.peak_core_temp_F == pytest.approx(run.peak_core_temp_C * 1.8 + 32)


def test_reports_and_charts_are_shown_and_saved(fit, cal, prediction, tmp_path):
    run = prediction.run
    assert "peak gauge pressure" in str(run) and "psi" in run.report(units="us")
    assert "Isocyanates" in str(prediction)
    charts = [run.chart(), fit.chart(), cal.chart(units="us"), *(log.chart() for log in fit.logs)]
    for chart in charts:
        assert chart._repr_svg_().startswith("<svg") and chart.svg.rstrip().endswith("</svg>")
    charts[0].save(tmp_path / "run.svg")
    assert (tmp_path / "run.svg").read_text() == charts[0].svg


def test_chart_shows_the_trace_of_a_trial(cal):
    trial = rf.read_trials(ROOT / "data/trials/armrest.csv")[3]
    run = cal.simulate(trial.casting)
    assert trial.trace.pressure_kPa.shape == trial.trace.time_s.shape
    assert len(run.chart(trial=trial).svg) > len(run.chart().svg)
    assert "what the model may miss" in run.chart(trial=trial).svg and "may miss" not in run.chart().svg


def test_chart_of_a_prediction_shows_the_interval_of_its_peak(cal, prediction):
    low, high = prediction.peak_pressure_kPa.interval_95
    svg = prediction.chart(title="Next").svg
    assert ElementTree.fromstring(svg).tag.endswith("svg")
    assert f"(95 %: {low:.1f} to {high:.1f} kPa)" in svg and "Next" in svg
    assert "psi)" in prediction.chart(units="us").svg
    assert "95 %" not in prediction.run.chart().svg
    trial = rf.read_trials(ROOT / "data/trials/armrest.csv")[3]
    both = cal.predict(trial.casting).chart(trial=trial, height=680).svg
    assert "95 %" in both and "may miss" in both and "A4" in both


def test_one_log_or_trial_stands_for_a_list_of_one(logs):
    one = rf.fit_free_rise(logs[1], starts=1)
    assert one.estimates.to_frame().equals(rf.fit_free_rise([logs[1]], starts=1).estimates.to_frame())
    assert one.estimates.to_frame().equals(rf.fit_free_rise(iter(logs[1:2]), starts=1).estimates.to_frame())
    mold, trial = rf.Mold.load(ROOT / "data/molds/armrest.toml"), rf.read_trials(ROOT / "data/trials/armrest.csv")[2]
    alone = rf.calibrate(one, mold, trial, starts=1).estimates.to_frame()
    assert alone.equals(rf.calibrate(one, mold, [trial], starts=1).estimates.to_frame())
    for given, found in [("log.csv", "str"), (3, "int"), ([logs[0], None], "NoneType"), (trial, "Trial")]:
        with pytest.raises(TypeError, match=f"a RiseLog or a list of them, as `read_rise_logs` .*; got {found}$"):
            rf.fit_free_rise(given)
    with pytest.raises(TypeError, match="a Trial or a list of them, as `read_trials` .*; got RiseLog$"):
        rf.calibrate(one, mold, logs)


def test_grade_alone_is_enough_and_leaves_more_doubt(fit, prediction):
    mold = rf.Mold.load(ROOT / "data/molds/armrest.toml")
    trials = rf.read_trials(ROOT / "data/trials/armrest.csv")
    cal = rf.calibrate(fit.grade, mold, trials, starts=1)
    assert cal.predict(**NEXT).gel_time_s.doubt > prediction.gel_time_s.doubt


def test_held_parameters_keep_their_value(logs):
    fit = rf.fit_free_rise(logs[1:2], starts=1, held={"gel_conversion": 0.61})
    assert fit.grade.gel_conversion == 0.61
    assert "gel_conversion" not in fit.parameter_names


@pytest.mark.parametrize("name", ["cup_heat_transfer_W_m2K", "sensor_lag_s", "dome_fraction", "gel_activation_kJ_mol"])
def test_holding_a_parameter_where_it_ended_changes_little(logs, fit, name):
    frame = fit.estimates.to_frame()
    held = rf.fit_free_rise(logs, starts=1, held={name: frame.loc[name, "value"]}).estimates.to_frame()
    shared = [other for other in fit.parameter_names if other != name]
    off = (held.value - frame.value)[shared].abs() / frame.standard_error[shared]
    assert off.max() < 1, off.idxmax()


def test_beliefs_move_what_the_logs_do_not_tell(logs):
    name = "solubility_kg_kgbar"
    believed = {name: (2e-3, 1.01)}
    assert rf.fit_free_rise(logs, starts=1, priors=believed).estimates.to_frame().loc[name, "value"] < 2.1e-3


def test_free_rise_of_a_grade(fit):
    rise = rf.free_rise(
        fit.grade, mass_g=60, mix_temp_C=23, cup_diameter_mm=120, cup_height_mm=150, times_s=[0, 60, 120]
    )
    assert rise.height_mm.shape == rise.temp_C.shape == (3,)
    assert rise.density_kg_m3 == pytest.approx(76, rel=0.1)
    assert rise.cream_time_s < rise.string_gel_time_s < rise.end_of_rise_s
    assert rf.free_rise(fit.grade, mass_g=60, mix_temp_C=23).height_mm is None
