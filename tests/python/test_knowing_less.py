"""With less than cup tests: data sheets, recipes, quick curves; and reports of a whole job."""

import pickle
from pathlib import Path

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT
from risefit.errors import ArgumentError, MissingFieldError, TooFewRecordsError

NEXT = {"charge_g": 62, "vent_mm": 4.0, "mix_temp_C": 23, "mold_temp_C": 30, "left_in_cup_g": 1.6, "closing_time_s": 12}
# As in tests/physics/reactions.rs: stoichiometry by hand, 0.16477 mol/kg and 29.354 parts of isocyanate.
SKIN = {"polyols": [(100, 28), (5.0, 56105.6 / 45.06)], "water": 0.40, "isocyanate_equivalent": 143, "index": 100}


@pytest.fixture(scope="module")
def sheet():
    return rf.Datasheet.load(ROOT / "data/grades/K_datasheet.toml")


@pytest.fixture(scope="module")
def known(sheet):
    return rf.grade_from_datasheet(sheet, starts=1)


@pytest.fixture(scope="module")
def logs():
    return rf.read_rise_logs(ROOT / "data/logs/*.csv")


@pytest.fixture(scope="module")
def cal(fit, mold):
    return rf.calibrate(fit, mold, rf.read_trials(ROOT / "data/trials/armrest.csv")[1:5], starts=1)


def test_datasheet_is_read_in_any_unit(sheet):
    assert (sheet.name, sheet.mix_ratio, sheet.recipe) == ("K", "100 : 76", None)
    assert (sheet.free_rise_density_kg_m3, sheet.cream_time_s, sheet.at_temp_C) == (76, 11, 23)
    assert sheet.free_rise_density_lb_ft3 == pytest.approx(76 / 16.018463)
    assert sheet.gas_yield_mol_kg is None and sheet.tack_free_time_s is None
    assert sheet.file.endswith("K_datasheet.toml")
    assert pickle.loads(pickle.dumps(sheet)) == sheet
    assert set(sheet.__dir__()) >= {"cream_time_s", "at_temp_C", "load"}


def test_errors_of_a_datasheet_name_the_key():
    with pytest.raises(MissingFieldError, match="gas_yield_mol_kg"):
        rf.Datasheet.from_toml('name = "L"\n[datasheet]\ncream_time_s = 11\n')


def test_grade_from_a_datasheet_does_what_the_sheet_says(sheet, known):
    grade = known.grade
    assert grade.name == "K" and "data sheet" in grade.note
    assert grade.liquid_density_kg_m3 == sheet.liquid_density_kg_m3
    rise = rf.free_rise(grade, mass_g=100, mix_temp_C=23, cup_heat_transfer_W_m2K=0)
    assert rise.string_gel_time_s == pytest.approx(sheet.string_gel_time_s, abs=2)
    assert rise.density_kg_m3 == pytest.approx(sheet.free_rise_density_kg_m3, rel=0.02)
    assert "gas_yield_mol_kg" in known.in_doubt and "GradeKnowledge" in repr(known)


def test_datasheet_alone_predicts_with_more_doubt_than_cup_tests(known, mold, cal):
    trials = rf.read_trials(ROOT / "data/trials/armrest.csv")[1:5]
    wide = rf.calibrate(known, mold, trials, starts=1).predict(**NEXT)
    assert wide.gel_time_s.doubt > cal.predict(**NEXT).gel_time_s.doubt


def test_a_fit_keeps_what_no_cup_tells(known, mold, logs):
    fit = rf.fit_free_rise(logs[:1], start=known, starts=1)
    assert fit.grade.name == "K" and fit.grade.liquid_density_kg_m3 == 1060
    with pytest.raises(TypeError, match="expected a Grade or a GradeKnowledge as start, got str"):
        rf.fit_free_rise(logs[:1], start="K")
    with pytest.raises(TypeError, match="a GradeKnowledge or a Grade as first argument, got str"):
        rf.calibrate("K", mold, [])


def test_recipe_makes_gas_by_stoichiometry():
    recipe = rf.Recipe(**SKIN)
    assert recipe.gas_yield_mol_kg == pytest.approx(0.16477, rel=1e-4)
    assert recipe.isocyanate == pytest.approx(29.354, rel=1e-4)
    assert (recipe.water, recipe.inert, recipe.index) == (0.4, 0, 100)
    center, factor = recipe.gas_yield_prior()
    assert center == recipe.gas_yield_mol_kg and 1.03 < factor < 1.1
    assert pickle.loads(pickle.dumps(recipe)) == recipe != rf.Recipe(**SKIN | {"water": 0.8})
    assert "Recipe(polyols=[(100.0, 28.0)" in repr(recipe)


def test_recipe_in_a_file_and_in_a_fit(logs):
    text = "[recipe]\nwater = 0.9\nisocyanate_equivalent = 143\nindex = 100\n"
    recipe = rf.Recipe.from_toml(text + "[[polyols]]\nparts = 100\nhydroxyl_number = 28\n")
    believed = {"gas_yield_mol_kg": recipe.gas_yield_prior()}
    held = rf.fit_free_rise(logs[:1], starts=1, priors=believed)
    assert held.grade.gas_yield_mol_kg < rf.fit_free_rise(logs[:1], starts=1).grade.gas_yield_mol_kg


@pytest.mark.parametrize(
    ("slip", "field"), [({"water": -1}, "water"), ({"index": 0}, "index"), ({"polyols": [(-1, 28)]}, "polyol parts")]
)
def test_recipe_slips_are_named(slip, field):
    with pytest.raises(ArgumentError, match=field):
        rf.Recipe(**(SKIN | slip))


@pytest.mark.parametrize("kind", ["richards", "delayed_first_order"])
def test_quick_curve_follows_the_log(logs, kind):
    log = logs[1]
    curve = rf.quick_curve(log, kind=kind)
    assert (curve.log, curve.kind) == ("K at 23 C", kind)
    assert curve.time_s.shape == curve.height_mm.shape == log.height_mm.shape
    assert np.sqrt(np.nanmean((curve.height_mm - log.height_mm) ** 2)) < 6
    assert curve.height_in[-1] * 25.4 == pytest.approx(curve.height_mm[-1])
    base, rise = (curve.parameters[name]["value"] for name in ("base_mm", "rise_mm"))
    # By definition the time of 98 % of the rise; the curve without an S comes to its top too late.
    assert np.interp(curve.end_of_rise_s, curve.time_s, curve.height_mm) == pytest.approx(base + 0.98 * rise, rel=1e-3)
    assert (abs(curve.end_of_rise_s - log.end_of_rise_s) < 10) == (kind == "richards")
    assert any("its form does not fit" in warning for warning in curve.warnings)
    size = base + rise
    assert size == pytest.approx(np.nanmax(log.height_mm), rel=0.1)
    assert "QuickCurve" in repr(curve)


def test_quick_curve_refuses_what_it_cannot_do(logs, tmp_path):
    with pytest.raises(ArgumentError, match="richards"):
        rf.quick_curve(logs[0], kind="spline")
    (tmp_path / "watch.csv").write_text(
        "# mass_g = 60\n# mix_temp_C = 23\n# cream_time_s = 11\ntime_s,temp_C\n0,23\n9,24\n"
    )
    with pytest.raises(TooFewRecordsError, match="0 heights"):
        rf.quick_curve(rf.read_rise_logs(tmp_path / "watch.csv")[0])


def test_reports_of_a_job_are_short_or_whole_and_in_both_units(fit, cal, tmp_path):
    one = cal.predict(**NEXT)
    text = rf.short_report(fit, cal, one)
    assert text == rf.short_report(fit, cal, [one]) and "kPa" in text
    assert "psi" in rf.short_report(fit, cal, (one, one), units="us")
    paths = rf.write_report(fit, cal, one, tmp_path / "a/b", units="us")
    assert all(isinstance(path, Path) and path.parent == tmp_path / "a/b" and path.exists() for path in paths)
    assert [path.name for path in paths[:3]] == ["report.html", "summary.json", "predicted_1.svg"]
    assert "psi" in paths[0].read_text(encoding="utf-8")


def test_reports_refuse_what_is_no_prediction_and_folders_that_cannot_be(fit, cal, tmp_path):
    for given in [62, [cal.predict(**NEXT), "next"]]:
        with pytest.raises(TypeError, match="expected a Prediction or a list of them"):
            rf.short_report(fit, cal, given)
    (tmp_path / "taken").write_text("")
    with pytest.raises(ArgumentError, match="folder") as info:
        rf.write_report(fit, cal, [], tmp_path / "taken")
    assert info.value.field == "folder"
