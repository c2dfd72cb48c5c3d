"""The invented demo data: made again they are the same bytes, they balance, and the nature acts as the trade says."""

import csv
import json
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

DATA = Path(__file__).parents[2] / "data"
sys.path.insert(0, str(DATA))

import closed_mold  # noqa: E402
import nature  # noqa: E402
import shop  # noqa: E402

LB_FT3 = 16.018463  # kg/m3


def ledger():
    with open(DATA / "trials/armrest.csv", encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@cache
def casting(charge_g, vent_mm):
    return shop.nominal_cast(shop.Shop(), shop.CastPlan("", charge_g, vent_mm), left_in_cup=0.0)


@cache
def cup(mix_temp):
    return nature.cup_test(nature.Nature(), nature.CupSetting(0.060, mix_temp, 296.15))


# ---- the files ----


def test_generating_again_gives_the_committed_bytes(tmp_path):
    subprocess.run([sys.executable, DATA / "generate.py", "--out", tmp_path], check=True)
    made = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    assert len(made) == 9
    for name in made:
        assert (tmp_path / name).read_bytes() == (DATA / name).read_bytes(), name


def test_every_text_says_that_it_is_invented():
    for folder in ("logs", "trials", "molds", "grades"):
        for path in (DATA / folder).rglob("*"):
            if path.is_file():
                assert "invented" in path.read_text(encoding="utf-8").splitlines()[0], path


def test_ledger_rows_balance_within_weighing_scatter():
    scatter = shop.Shop()
    # Dosing scatters; up to four weighings scatter and are rounded. Four standard deviations.
    limit = 4 * np.hypot(scatter.dosing_sd * 1e3, 2 * np.hypot(scatter.scale_sd, scatter.scale_step / np.sqrt(12)))
    truth = json.loads((DATA / "truth.json").read_text(encoding="utf-8"))["trials"]
    for row in ledger():
        true = truth[row["trial"]]["as_cast"]
        out = sum(float(row[k]) for k in ("left_in_cup_g", "part_mass_g", "vent_loss_g", "flash_g"))
        out += true["part_mass_g"] - true["scale_reading_g"]  # gas that left, and buoyancy
        assert abs(out - float(row["charge_g"])) < limit, row["trial"]


def test_ledger_has_the_variety_that_a_fit_needs():
    rows = ledger()
    assert [r["outcome"] for r in rows].count("short") == 1
    assert [r["outcome"] for r in rows].count("flash") == 1
    assert sum(bool(r["trace_file"]) for r in rows) == 2
    assert [r["gauge_at_stop"] for r in rows].count("yes") == 1
    for row in rows:
        assert not row["trace_file"] or (DATA / "trials" / row["trace_file"]).is_file()


def test_logs_stay_in_their_cup_and_agree_with_the_density_written_down():
    for path in (DATA / "logs").glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines()
        head = dict(line[2:].split(" = ") for line in lines if " = " in line)
        table = np.array([line.split(",") for line in lines[len(head) + 2 :]], float)
        assert np.allclose(np.diff(table[:, 0]), 0.5)
        assert table[:, 1].max() < float(head["cup_height_mm"])
        d0, d1, rim = (float(head[f"cup_{k}_mm"]) for k in ("bottom_diameter", "top_diameter", "height"))
        h = table[-60:, 1].mean()
        d = d0 + (d1 - d0) * h / rim
        volume_mL = np.pi / 12 * h * (d0**2 + d0 * d + d**2) / 1e3
        # The sensor looks at the crown, 1.5 % of the rise above the mean; the sample's density scatters by 0.8 %.
        seen = float(head["mass_g"]) / volume_mL * 1e3
        assert seen == pytest.approx(float(head["free_rise_density_kg_m3"]), rel=0.05)


def test_truth_holds_every_trial_and_both_targets():
    truth = json.loads((DATA / "truth.json").read_text(encoding="utf-8"))
    assert list(truth["trials"]) == [row["trial"] for row in ledger()]
    near, wide = truth["targets"]["62 g, vent 3.0 mm"]["truth"], truth["targets"]["62 g, vent 4.0 mm"]["truth"]
    assert wide["vent_loss_g"] > near["vent_loss_g"]
    assert wide["peak_pressure_kPa"] < near["peak_pressure_kPa"]
    for name, row in ((r["trial"], r) for r in ledger()):
        true = truth["trials"][name]["as_cast"]
        assert float(row["part_mass_g"]) == pytest.approx(true["scale_reading_g"], abs=0.5)
        assert 0.012 < 1 - true["scale_reading_g"] / true["part_mass_g"] < 0.025
        if row["gauge_at_stop"] == "yes":
            assert true["peak_pressure_kPa"] > float(row["peak_pressure_kPa"]) - 5
        elif row["peak_pressure_kPa"]:
            assert float(row["peak_pressure_kPa"]) == pytest.approx(true["peak_pressure_kPa"], abs=6.0)


# ---- the nature ----


@pytest.mark.parametrize("charge_g, vent_mm, clamp", [(48, 3, 1500), (62, 3, 1500), (68, 12, 1500), (66, 3, 150)])
def test_a_casting_loses_no_mass(charge_g, vent_mm, clamp):
    run = shop.nominal_cast(shop.Shop(), shop.CastPlan("", charge_g, vent_mm, clamp_force_N=clamp), left_in_cup=0.0)
    assert run.part_mass + run.vent_loss + run.flash == pytest.approx(charge_g / 1e3, rel=1e-9)
    assert min(run.part_mass, run.vent_loss, run.flash) >= 0.0


def test_layers_fill_the_cavity():
    run = casting(62, 3)
    assert 1.0 / np.mean(1.0 / run.layer_density) == pytest.approx(run.density, rel=1e-9)
    assert run.layer_density[-1] > 1.1 * run.layer_density[0]  # the skin is denser than the core


def test_isocyanate_and_gas_balance_in_the_layers():
    grade = nature.Nature()
    y = nature.fresh_layers(grade, 296.15)
    for step in range(800):
        y = nature.advance_layers(grade, y, 0.25 * step, 0.25, 101325.0, (296.15, 0.01, 0.01))
    assert np.allclose(y[nature.DISSOLVED] + y[nature.FREE], grade.water * y[nature.WATER], rtol=1e-12)
    assert np.all(2 * grade.water * y[nature.WATER] + grade.hydroxyl * y[nature.OH] <= grade.nco)


def test_conduction_keeps_heat_and_follows_the_wall():
    temp = np.linspace(400.0, 300.0, 11)
    assert nature.conduct(temp, 1.0, (300.0, 0.3, 0.0)).sum() == pytest.approx(temp.sum(), rel=1e-13)
    for _ in range(300):
        temp = nature.conduct(temp, 20.0, (303.15, 0.3, 0.2))
    assert temp == pytest.approx(np.full(11, 303.15), abs=1e-6)


def test_a_hotter_mix_creams_and_gels_earlier():
    cold, warm = cup(292.15), cup(301.15)
    for name in ("cream", "string_gel", "end_of_rise", "tack_free"):
        assert getattr(warm, name) < getattr(cold, name)


def test_a_wider_vent_loses_more_and_has_less_pressure():
    runs = [casting(66, d) for d in (2.5, 3.0, 4.0, 6.0, 12.0)]
    assert np.all(np.diff([r.vent_loss for r in runs]) > 0)
    assert np.all(np.diff([r.peak_pressure for r in runs]) < 0)


def test_shorter_steps_change_little():
    plan = shop.CastPlan("", 64, 4.0)
    setting = shop.cast_setting(plan, 0.0)
    runs = [closed_mold.cast(nature.Nature(), shop.set_up(closed_mold.Mold(), plan), setting, dt) for dt in (0.2, 0.05)]
    assert runs[0].peak_pressure == pytest.approx(runs[1].peak_pressure, rel=0.01)
    assert runs[0].gel_time == pytest.approx(runs[1].gel_time, abs=0.05)


# ---- laws with an exact answer ----


@pytest.mark.parametrize(
    "free, packing, gauge_kPa",
    [(60, 1.5, 55.18), (150, 1.5, 63.69), (200, 1.5, 69.66), (60, 2, 113.73), (150, 2, 139.32), (200, 2, 159.23)],
)
def test_sealed_cavity_meets_the_packing_bound(free, packing, gauge_kPa):
    # Computed from p/p0 = (1/rho_FR - 1/rho_l)/(1/rho_M - 1/rho_l), rho_l 1100 kg/m3, p0 101.325 kPa.
    pa, mold = 101325.0, closed_mold.Mold(seam_opening=0.0)
    mass = packing * free * mold.volume
    moles_temp = mass * (1 / free - 1 / 1100) * pa / nature.R
    assert (closed_mold.cavity_pressure(mold, pa, moles_temp, mass / 1100) - pa) / 1e3 == pytest.approx(
        gauge_kPa, abs=6e-3
    )


def test_a_lifted_lid_balances_gas_and_clamp():
    mold = closed_mold.Mold(clamp_force=150.0)
    pa, moles_temp, liquid = 101325.0, 9.0, 60e-6
    p = closed_mold.cavity_pressure(mold, pa, moles_temp, liquid)
    room = mold.volume - liquid + mold.projected_area * closed_mold.seam_gap(mold, p, pa)
    assert p * room == pytest.approx(nature.R * moles_temp, rel=1e-12)
    assert (p - pa) * mold.projected_area > mold.clamp_force


@pytest.mark.parametrize(
    "dp_kPa, diameter_mm, mg_s", [(1, 1, 38.529), (50, 1, 267.833), (100, 1, 373.233), (200, 2, 2234.487)]
)
def test_air_through_an_orifice(dp_kPa, diameter_mm, mg_s):
    # Isentropic flow, NACA Report 1135 (1953): ideal orifice, air of 293.15 K into 101.325 kPa; two choked.
    area = np.pi / 4 * (diameter_mm / 1e3) ** 2
    q = closed_mold.orifice_air(1.0, area, 101325.0 + dp_kPa * 1e3, 101325.0, 293.15)
    assert q * 1e6 == pytest.approx(mg_s, rel=3e-5)


def test_air_through_a_laminar_tube():
    # Computed from pi d^4 (p1^2 - p2^2)/(256 mu Rs T L) at mu 18.13e-6 Pa s: 6.6816 mg/s.
    q = closed_mold.tube_air(closed_mold.Vent(0.25e-3, 10e-3), 111325.0, 101325.0, 293.15)
    assert q * 1e6 * closed_mold.MU_AIR / 18.13e-6 == pytest.approx(6.6816, rel=5e-5)


def test_newtonian_foam_in_a_tube_and_in_the_seam():
    # Computed: 1 Pa s, d 2 mm, L 10 mm (with the entry), 50 kPa: 1.9635 cm3/s; slot 100 x 0.05 mm, L 10 mm, 10 kPa,
    # air of 18.13e-6 Pa s: 57.5 cm3/s.
    grade = nature.Nature(thinning=1.0)
    tube = closed_mold.Mold(vents=(closed_mold.Vent(2e-3, 7e-3),))
    assert closed_mold.foam_vents(grade, tube, 151325.0, 101325.0, 1.0, 1.0) * 1e6 == pytest.approx(1.9635, rel=2e-5)
    slot = closed_mold.Mold(seam_length=0.1, seam_land=0.01, seam_gap=0.05e-3)
    assert closed_mold.foam_seam(grade, slot, 111325.0, 101325.0, 1.0, 18.13e-6) * 1e6 == pytest.approx(57.5, rel=1e-3)


@pytest.mark.parametrize("conversion, viscosity", [(0.0, 1.7713), (0.2, 3.3096), (0.4, 10.883), (0.6, 386.87)])
def test_viscosity_follows_castro_and_macosko(conversion, viscosity):
    # Castro and Macosko, AIChE J. 28, 250 (1982); constants from memory, not verified; values computed.
    at_40 = 10.3e-8 * np.exp(41.3e3 / nature.R / 313.15)
    law = nature.Nature(
        viscosity=at_40, viscosity_activation=41.3e3, viscosity_a=1.5, viscosity_b=1.0, gel_conversion=0.65
    )
    assert nature.foam_viscosity(law, 298.15, conversion) == pytest.approx(viscosity, rel=5e-5)


# ---- facts of the trade: common practice, no source ----


def test_a_light_grade_comes_out_of_a_sealed_mold_at_six_pounds():
    light = replace(nature.Nature(), water=0.665, nco=1.02 * (2 * 0.665 + 1.75))
    free = nature.cup_test(light, nature.CupSetting(0.060, 296.15, 296.15)).density
    assert 4.0 < free / LB_FT3 < 4.5
    run = closed_mold.cast(light, closed_mold.Mold(), closed_mold.CastSetting(mass=0.060))
    assert run.outcome == "full"
    assert run.density / LB_FT3 == pytest.approx(6.0, abs=0.25)
    assert 1.35 < run.density / free < 1.5


def test_the_scenario():
    standard = cup(296.15)
    assert standard.density == pytest.approx(76.0, abs=1.0)
    assert 10 < standard.cream < 12
    assert 55 < standard.string_gel < 65
    assert 65 < standard.end_of_rise < 75
    assert 90 < standard.core_temp.max() - 273.15 < 110
    run = casting(60, 3)
    assert run.density == pytest.approx(97.0, abs=1.0)
    assert 45e3 < run.peak_pressure < 55e3
    assert run.fill_time < run.gel_time


def test_a_vent_much_too_large_loses_the_back_pressure():
    near, wide = casting(68, 3), casting(68, 12)
    assert wide.vent_loss > near.vent_loss + 5e-3
    assert wide.peak_pressure < 0.75 * near.peak_pressure


def test_a_weak_clamp_gives_way():
    good = casting(66, 3)
    bad = shop.nominal_cast(shop.Shop(), shop.CastPlan("", 66, 3, clamp_force_N=150.0), left_in_cup=0.0)
    assert (good.outcome, bad.outcome) == ("full", "flash")
    assert bad.peak_pressure < 0.6 * good.peak_pressure


def test_other_shops_run():
    for seed in range(4):
        other = shop.draw_shop(np.random.default_rng(seed))
        run, setting, readings, _ = shop.run_trial(other, shop.CastPlan("", 64, 3.5), np.random.default_rng([seed, 1]))
        assert run.part_mass + run.vent_loss + run.flash == pytest.approx(setting.mass, rel=1e-9)
        assert readings["outcome"] in ("short", "full", "flash")
        _, series, times = shop.log_cup(other, shop.CupPlan("", 60, 23, 22), np.random.default_rng([seed, 2]))
        assert np.all(np.isfinite(series))
        assert times["cream_time_s"] < times["string_gel_time_s"]
