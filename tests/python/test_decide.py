"""Decisions from Python: what to run and to do next, units and drills by any name, the campaign's counting."""

import json
import math
import subprocess
import sys

import pytest
import risefit as rf
from conftest import ROOT

DATA = ROOT / "data"
CAST = {"mix_temp_C": 23, "mold_temp_C": 30, "left_in_cup_g": 1.6, "closing_time_s": 12, "clamp_force_N": 1500}
GOAL = {"target_density_kg_m3": 98, "pressure_kPa": (30, 60)}


def test_the_recommended_casting_is_the_likeliest_good(cal):
    found = cal.recommend(vent_mm=3, **GOAL, **CAST)
    assert found.chance > 0.9 and found.vents_stay and found.drill == "3 mm"
    outcomes = cal.outcomes(found.casting, draws=400, seed=1)
    chances = outcomes.probabilities(density_kg_m3=(98 * 0.97, 98 * 1.03), peak_pressure_kPa=(30, 60))
    assert found.chance == pytest.approx(chances["all"])
    for grams in (-2.0, -1.0, 1.0, 2.0):
        other = cal.outcomes(found.casting, draws=400, seed=1, charge_g=found.casting.charge_g + grams)
        chance = other.probabilities(density_kg_m3=(98 * 0.97, 98 * 1.03), peak_pressure_kPa=(30, 60))["all"]
        assert chance <= found.chance + 0.01, grams


def test_the_truth_of_the_demo_agrees(cal):
    """Of the armrest's truth: 62 g through 4 mm give 96.8 kg/m3 (README); charge goes with density.

    The fit's doubt of the density, 0.55 kg/m3, is 0.35 g. Around the best charge the chance is flat: eight seeds came
    to 61.9 or 62.3 g.
    """
    found = cal.recommend(vent_mm=4, target_density_kg_m3=96.8, **CAST)
    assert found.casting.charge_g == pytest.approx(62, abs=0.4)


def test_units_change_nothing(cal):
    metric = cal.recommend(
        vent_mm=12, charge_step_g=0.1, drills_mm=[3.175, 6.35], target_density_kg_m3=98, pressure_kPa=(48, 62), **CAST
    )
    us = cal.recommend(
        vent_in=12 / 25.4,
        charge_step_oz=0.1 / 28.349523125,
        drills=["1/8", "1/4 in"],
        target_density_lb_ft3=98 / 16.018463373960142,
        pressure_psi=(48 / 6.894757293168361, 62 / 6.894757293168361),
        mix_temp_F=23 * 1.8 + 32,
        mold_temp_F=30 * 1.8 + 32,
        left_in_cup_oz=1.6 / 28.349523125,
        closing_time_s=12,
        clamp_force_lbf=1500 / 4.4482216152605,
    )
    assert us.casting.charge_g == pytest.approx(metric.casting.charge_g, rel=1e-9)
    assert us.chance == pytest.approx(metric.chance, abs=0.006)
    assert us.drill in ("1/8 in", "1/4 in") and us.casting.vent_mm == pytest.approx(metric.casting.vent_mm, rel=1e-9)
    assert "psi" in us.report(units="us") and "lb/ft3" in us.report(units="us")


def test_it_says_how_sure_it_is_and_warns(cal):
    found = cal.recommend(vent_mm=3, **GOAL, **CAST)
    text = str(found)
    assert "100 %" not in text
    for caution in ("ventilate", "stores energy", "not a pressure-safety", "licensed practice", "local codes"):
        assert caution in text, caution
    assert "<table" in found._repr_html_()
    assert "Chance of a good part, %" in found.report()
    assert found.to_frame().shape[0] > 3
    assert set(found.misses) >= {"a full part", "no flash"}
    json.dumps(found.summary())


def test_the_safe_window_is_a_chart(cal, tmp_path):
    found = cal.recommend(vent_mm=3, **GOAL, **CAST)
    found.chart(units="us").save(tmp_path / "window.svg")
    svg = (tmp_path / "window.svg").read_text()
    assert svg.startswith("<svg") and "charge (oz)" in svg
    assert svg == found.chart(units="us").svg


def test_an_impossible_window_names_the_limit_to_give_up(cal):
    found = cal.recommend(vent_mm=3, target_density_kg_m3=105, pressure_kPa=(20, 40), **CAST)
    limit, casting, chance = found.give_up
    assert found.chance < 0.05 and limit == "the highest peak pressure" and chance > 0.9
    assert casting.charge_g > 63
    assert "Give up the highest peak pressure first" in str(found)


def test_before_the_first_casting_a_gauge_is_put_on(fit, mold):
    rough = {"cavity_volume_factor": (1.0, 1.025)}
    goal = {"target_density_kg_m3": 98, "tolerance_percent": 6, "pressure_kPa": (25, 45)}
    found = rf.recommend(fit, mold, **goal, priors=rough, **CAST)
    after = found.next_trial()
    assert after.with_gauge and "gauge on it" in str(after)
    assert 0 < after.chance < after.chance_within_two < 1
    assert after.castings_expected > 1
    assert any("water" in words for words in after.proposals)
    assert after.to_frame().shape == (len(after.proposals), 6)
    json.dumps(after.summary())
    assert found.next_trial(has_gauge=True).proposals != after.proposals


def test_a_mold_that_was_read_has_a_gauge(cal):
    after = cal.next_trial(vent_mm=3, **GOAL, **CAST)
    assert after.with_gauge and not any("a gauge on it" not in p for p in after.proposals if p.startswith("cast"))


def test_knowing_more_makes_it_surer(fit, mold, cal):
    before = rf.recommend(fit, mold, **GOAL, **CAST)
    assert before.chance < cal.recommend(vent_mm=3, **GOAL, **CAST).chance


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "target_density_kg_m3"),
        ({"target_density_kg_m3": 98, "drills": ["#99"]}, "#30"),
        ({"target_density_kg_m3": 98, "drills_mm": [-3]}, "drill"),
        ({"target_density_kg_m3": 98, "pressure_kPa": (60, 30)}, "floor first"),
        ({"target_density_kg_m3": 98, "pressure_kPa": 30}, "two numbers"),
        ({"target_density_kg_m3": 98, "tolerance_percent": 150}, "tolerance"),
        ({"target_density_kg_m3": 98, "charges_g": (70, 60)}, "smaller first"),
        ({"target_density": 98}, "one of: target_density_kg_m3"),
        ({"target_density_kg_m3": (97, 99)}, "one number"),
    ],
)
def test_wrong_questions_say_how_to_mend_them(cal, asked, words):
    with pytest.raises(rf.RisefitError, match=words):
        cal.recommend(**asked, **CAST)


def test_beliefs_reach_as_far_as_they_are_wide(fit, mold):
    """A charge that may be off by 6 g is not cut at what is usual for a small mold."""
    ask = {"target_density_kg_m3": 98, "charges_g": (60, 66), **CAST}
    spread = [rf.recommend(fit, mold, priors={"charge_error_g": (0, sd)}, **ask).summary() for sd in (0.1, 6.0)]
    assert spread[1]["chance"] < 0.5 * spread[0]["chance"]


def test_the_campaign_counts(tmp_path):
    """Two molds: every casting before the last is bad, the last one good, and the summary adds up."""
    script = [sys.executable, str(ROOT / "campaign/run.py"), "2", "--processes", "1", "--out", str(tmp_path)]
    done = subprocess.run(script, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    molds = json.loads((tmp_path / "molds.json").read_text())
    summary = json.loads((tmp_path / "summary.json").read_text())
    for mold in molds:
        for way in mold["ways"].values():
            good = [casting["good"] for casting in way["castings"]]
            assert good[-1] == way["dialed_in"] and not any(good[:-1]) and len(good) <= 12
            for casting in way["castings"]:
                met = abs(casting["density_error_percent"]) <= 3 and 30 <= casting["pressure_kPa"] <= 75
                assert casting["good"] == (met and casting["outcome"] == "full")
    for name, result in summary.items():
        assert sum(result["counts"].values()) + result["never_within_12"] == result["molds"] == 2, name
    chances = [c["chance"] for mold in molds for c in mold["ways"]["risefit"]["castings"]]
    assert all(0 <= chance <= 1 and math.isfinite(chance) for chance in chances)
