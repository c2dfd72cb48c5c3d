"""The second invented nature: it balances, meets limits, does not hang on its volumes; its list is as committed."""

import csv
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import risefit as rf

DATA = Path(__file__).parents[2] / "data"
sys.path.insert(0, str(DATA))

import generate  # noqa: E402
import second_mold  # noqa: E402
import second_nature  # noqa: E402
import second_openings  # noqa: E402
import shop_list  # noqa: E402
from closed_mold import MU_AIR, CastSetting, Vent  # noqa: E402
from nature import CupSetting, R  # noqa: E402
from second_nature import AWAKE, OH, TEMP, WATER, SecondNature  # noqa: E402
from second_openings import SecondMold  # noqa: E402

PA = 101325.0


@cache
def casting(charge_g, vent_mm=3.0, clamp_N=1500.0, **nature):
    mold = SecondMold(vents=(Vent(vent_mm / 1e3),), clamp_force=clamp_N)
    return second_mold.cast(SecondNature(**nature), mold, CastSetting(charge_g / 1e3))


# ---- what must balance ----

SORTS = [(46, 3, 1500), (62, 3, 1500), (68, 12, 1500), (66, 3, 150)]


@pytest.mark.parametrize("charge_g, vent_mm, clamp", SORTS)
def test_mass_heat_and_gas_balance(charge_g, vent_mm, clamp):
    run = casting(charge_g, vent_mm, clamp)
    assert run.part_mass + run.vent_loss + run.flash == pytest.approx(charge_g / 1e3, rel=1e-12)
    assert min(run.part_mass, run.vent_loss, run.flash) >= 0.0
    for name in ("heat", "carbon"):
        came, went = run.balances[name]
        assert went == pytest.approx(came, rel=1e-8), name


def test_the_sorts_are_what_they_should_be():
    short, good, wide, weak = (casting(*sort) for sort in SORTS)
    assert (short.outcome, good.outcome, wide.outcome, weak.outcome) == ("short", "full", "full", "flash")
    assert wide.vent_loss > good.vent_loss + 5e-3
    assert weak.peak_pressure < 0.6 * good.peak_pressure


def test_a_late_lid_spills_what_stands_above_the_rim():
    setting = CastSetting(0.066, closing_time=54.0)
    run = second_mold.cast(SecondNature(), SecondMold(), setting)
    assert run.flash > 3e-3
    assert run.part_mass + run.vent_loss + run.flash == pytest.approx(0.066, rel=1e-12)


def test_nothing_is_made_of_more_isocyanate_than_there_is():
    n = SecondNature()
    y = second_nature.fresh_mix(n, 296.15, PA)
    for _ in range(1000):
        y = second_nature.react(n, y, 0.25, PA)
    assert np.all(2 * n.water * y[WATER] + n.hydroxyl * y[OH] <= n.nco)
    held = y[second_nature.DISSOLVED] + y[second_nature.FREE]
    assert np.allclose(held, n.water * y[WATER], rtol=1e-12)


# ---- limits ----


def test_without_heat_to_the_wall_all_volumes_are_alike():
    mold = SecondMold(contact=1e-9)
    cavity = second_mold.Cavity(SecondNature(collapse_rate=0.0), mold, CastSetting(0.054))
    t = 0.0
    while not cavity.gelled:
        cavity.step(t, 0.2)
        t += 0.2
    y, n = cavity.y, cavity.nature
    assert np.ptp(y[TEMP]) < 1e-6
    made = n.water * y[WATER]
    heat = n.water_heat * made + n.hydroxyl * n.oh_heat * y[OH] - n.release_heat * (made - y[second_nature.DISSOLVED])
    assert y[TEMP] == pytest.approx(296.15 + heat / n.heat_capacity, abs=1e-6)


def test_a_sealed_box_keeps_all_and_its_gas_is_ideal():
    box = SecondMold(vents=(), vents_at_fill=0.9, seam_gap=0.0, seam_opening=0.0, gas_seam=0.0)
    cavity = second_mold.Cavity(SecondNature(modulus=0.0), box, CastSetting(0.062, closing_time=44.0))
    for step in range(700):
        cavity.step(0.2 * step, 0.2)
    assert cavity.mass.sum() == pytest.approx(0.062, rel=1e-12)
    assert cavity.gas_lost == 0.0
    # All volumes share one pressure where nothing resists, and with the air that found no way out they fill the box.
    room = box.volume - 0.062 / cavity.nature.liquid_density
    moles_temp = cavity.mass @ second_nature.moles_temp(cavity.y) + cavity.head * R * cavity.wall[0]
    expected = second_openings.gas_pressure(box, PA, moles_temp, box.volume - room)
    assert expected * room == pytest.approx(moles_temp, rel=1e-12)
    assert cavity.p == pytest.approx(expected, rel=1e-6)
    assert cavity.p > 1.5 * PA


def test_the_catalyst_wakes_by_the_logistic_law():
    n = SecondNature(water_heat=0.0, oh_heat=0.0, release_heat=0.0)
    y = second_nature.fresh_mix(n, 313.15, PA)
    for _ in range(100):
        y = second_nature.react(n, y, 0.05, PA)
    assert y[AWAKE] == pytest.approx(1 / (1 + (1 / 0.25 - 1) * np.exp(-0.5 * 5.0)), rel=1e-4)


def test_gas_leaves_a_slab_as_the_series_says():
    # Half of it has left at a Fourier number of 0.197 (Crank, The Mathematics of Diffusion).
    assert second_mold.slab_left(0.0) == pytest.approx(1.0, abs=4e-3)
    assert second_mold.slab_left(0.197) == pytest.approx(0.5, abs=1e-3)


# ---- walls ----


def test_a_chain_keeps_its_heat_and_a_wall_comes_to_its_straight_line():
    capacity, conductance = np.array([3.0, 1.0, 2.0]), np.array([0.4, 0.7, 0.0])
    temp = np.array([400.0, 300.0, 350.0])
    new, out = second_nature.conduct(capacity, conductance, temp, 2.0, 300.0)
    assert (capacity @ new, out) == (pytest.approx(capacity @ temp, rel=1e-13), 0.0)
    mold = SecondMold()
    wall = second_mold.rest(mold, np.full(10, 320.0), 1e6, 300.0, steps=200)
    assert wall == pytest.approx(np.full(10, 300.0), abs=1e-3)


def test_walls_warm_less_where_they_conduct_and_cool_as_they_rest():
    aluminum = SecondMold(wall_conductivity=150.0, wall_heat=2.43e6, wall_thickness=12e-3)
    printed, metal = (second_mold.cast(SecondNature(), m, CastSetting(0.062)) for m in (SecondMold(), aluminum))
    assert printed.wall[0] > metal.wall[0] + 5 > 303.15 + 5
    rested = second_mold.rest(SecondMold(), printed.wall, 600.0, 295.15)
    assert 295.15 < rested.max() < printed.wall.max()


# ---- openings ----


def test_vents_meet_both_limits():
    # No inertia: Hagen and Poiseuille, with one diameter more. No friction: sqrt(2 dp/(K rho)).
    vent, dp, density = Vent(2e-3, 10e-3), 50e3, 100.0
    slow = SecondMold(vents=(vent,), entrance_loss=1e-12)
    expected = density * np.pi * vent.diameter**4 * dp / (128 * 1.5 * (vent.length + vent.diameter))
    assert second_openings.foam_vents(1.0, slow, dp, density, 1.5) == pytest.approx(expected, rel=1e-6)
    fast = SecondMold(vents=(vent,), entrance_loss=1.9)
    expected = density * np.pi / 4 * vent.diameter**2 * np.sqrt(2 * dp / (1.9 * density))
    assert second_openings.foam_vents(0.7, fast, dp, density, 1e-9) == pytest.approx(expected, rel=1e-6)


def test_air_creeps_through_a_narrow_vent_and_the_seam():
    vent, dp = Vent(0.3e-3, 20e-3), 50.0
    tube = SecondMold(vents=(vent,), seam_gap=0.0, entrance_loss=1e-9)
    density = (PA + dp / 2) * 0.0289647 / (R * 300.0)
    expected = density * np.pi * vent.diameter**4 * dp / (128 * MU_AIR * vent.length)
    assert second_openings.air_out(tube, PA + dp, PA, 300.0) == pytest.approx(expected, rel=1e-6)
    assert second_openings.air_out(replace(tube, seam_gap=20e-6), PA + dp, PA, 300.0) > expected


def test_clamps_give_way_softly_and_the_lifted_lid_makes_room():
    mold = SecondMold()
    held = mold.clamp_force / mold.projected_area
    gaps = [second_openings.seam_gap(mold, PA + share * held, PA)[0] for share in (0.3, 1.0, 2.0)]
    assert gaps[0] == pytest.approx(mold.seam_gap, rel=3e-2)
    assert gaps[1] > mold.seam_gap
    assert gaps[2] == pytest.approx(mold.seam_gap + mold.seam_opening * mold.clamp_force, rel=1e-4)
    room, slope = second_openings.lid_room(mold, PA + 1.2 * held, PA)
    more, _ = second_openings.lid_room(mold, PA + 1.2 * held + 1.0, PA)
    assert more - room == pytest.approx(slope, rel=1e-3)


def test_buried_vents_trap_air():
    buried = second_mold.cast(SecondNature(), SecondMold(vents_at_fill=0.97), CastSetting(0.058))
    assert buried.fill_time < casting(58).fill_time
    assert 0.97 < buried.fill[-1] < 0.99  # what is trapped is squeezed


# ---- what must not hang on numbers of volumes and steps ----


def test_more_volumes_and_shorter_steps_change_little():
    usual, fine = casting(64), casting(64, volumes=48)
    steps = second_mold.cast(SecondNature(), SecondMold(vents=(Vent(),)), CastSetting(0.064), dt=0.1)
    walls = second_mold.cast(SecondNature(), SecondMold(wall_volumes=20), CastSetting(0.064))
    for run in (fine, steps, walls):
        assert run.peak_pressure == pytest.approx(usual.peak_pressure, rel=2e-3)
        assert run.fill_time == pytest.approx(usual.fill_time, abs=0.03)
        assert run.gel_time == pytest.approx(usual.gel_time, abs=0.03)
        assert run.peak_core_temp == pytest.approx(usual.peak_core_temp, abs=0.3)
        assert run.skin_thickness == pytest.approx(usual.skin_thickness, rel=0.06)
    assert fine.vent_loss == pytest.approx(usual.vent_loss, rel=0.01)
    assert steps.vent_loss == pytest.approx(usual.vent_loss, rel=0.04)


# ---- what the trade says: common practice, no source ----


def test_it_acts_as_foam_does():
    cold, warm = (second_nature.cup_test(SecondNature(), CupSetting(0.06, t, 296.15)) for t in (292.15, 301.15))
    for name in ("cream", "string_gel", "end_of_rise", "tack_free"):
        assert getattr(warm, name) < getattr(cold, name)
    assert 65 < cold.density < 80
    assert casting(66).skin_thickness > 1.5 * casting(52).skin_thickness
    assert casting(62, 2.5).peak_pressure > casting(62, 6.0).peak_pressure
    assert 0.01 < 1 - casting(62).scale_reading / casting(62).part_mass < 0.04


# ---- the list of shops ----


def test_the_list_is_as_committed():
    lines = (DATA / "second_shops.csv").read_text(encoding="utf-8").splitlines()
    assert "invented" in lines[0]
    assert len(lines) == shop_list.SHOPS + 2
    for number in (0, 77, 199):
        assert shop_list.line(number) == lines[number + 2]


@pytest.mark.parametrize("which", [1, 2])
def test_a_listed_shop_can_be_read_and_is_the_same_again(tmp_path, which):
    found = shop_list.listed(which, 4)
    assert found == shop_list.listed(which, 4)
    for i, text in enumerate(found.logs):
        (tmp_path / f"log_{i}.csv").write_text(text)
    (tmp_path / "traces").mkdir()
    for trial, text in found.traces.items():
        (tmp_path / "traces" / f"{trial}.csv").write_text(text)
    with (tmp_path / "ledger.csv").open("w") as file:
        csv.writer(file).writerows([generate.LEDGER, *found.rows])
    (tmp_path / "mold.toml").write_text(found.mold)
    assert len(rf.read_rise_logs(tmp_path / "log_*.csv")) == 2
    assert len(rf.read_trials(tmp_path / "ledger.csv")) == len(found.rows)
    assert rf.Mold.load(tmp_path / "mold.toml").name == "drawn"
    assert len(found.traces) == 2
    assert list(found.asked) == ["fresh", "high", "cold"]
