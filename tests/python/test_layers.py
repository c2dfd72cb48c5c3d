"""The layered foam's second writing, `layered_peer`, from outside: textbook series, limits, balances, the lump."""

from dataclasses import fields, replace
from functools import cache

import pytest

pytest.importorskip("scipy")

import layered_peer as peer
import numpy as np
import peer_model as lumped
import risefit
from scipy.optimize import brentq
from test_against_scipy import grade, mold

FOAM = peer.Foam(gas_yield=0.6, cell_opening_time=200.0)
CASES = {
    "full mold, vent loss": (FOAM, peer.Mold(), peer.Casting()),
    "small vent, back pressure": (FOAM, peer.Mold(vents=(lumped.Vent((0.5e-3, 10e-3)),)), peer.Casting()),
    "sealed": (FOAM, peer.Mold(vents=()), peer.Casting()),
    "short shot": (FOAM, peer.Mold(), peer.Casting(charge=0.030)),
    "cells open fast": (replace(FOAM, cell_opening_time=20.0), peer.Mold(), peer.Casting(charge=0.068)),
    "slow to wake, short of isocyanate": (
        replace(FOAM, induction=1.5, competition=0.8),
        peer.Mold(),
        peer.Casting(),
    ),
    "warm wall": (FOAM, peer.Mold(), peer.Casting(mold_temp=333.15)),
    "cold wall": (FOAM, peer.Mold(), peer.Casting(mold_temp=288.15)),
    "high up, stretching, openings passed one by one": (
        FOAM,
        peer.Mold(
            stretch=1e-7,
            vents=(lumped.Vent((1e-3, 12e-3), at_fill=0.6, count=2), lumped.Vent((2e-3, 12e-3))),
            line=lumped.Line(0.6, 5e-3, 2e-5, 0.0, 0.9),
        ),
        peer.Casting(ambient=85e3),
    ),
}


@cache
def run_of(case):
    """A case in few layers."""
    return peer.layered(*CASES[case], layers=12)


def as_lump(foam, mold, casting):
    """The same casting for the lumped peer, without heat loss."""
    shared = {
        each.name: getattr(part, each.name)
        for part in (mold, casting)
        for each in fields(part)
        if each.name in {known.name for known in fields(lumped.Shot)}
    }
    constants = {each.name: getattr(foam, each.name) for each in fields(lumped.Foam)}
    return lumped.Shot(foam=lumped.Foam(**constants), heat_transfer=0.0, **shared)


@pytest.mark.parametrize("case", CASES)
def test_insulated_layers_are_the_lump(case):
    foam, mold, casting = CASES[case]
    run = peer.layered(foam, replace(mold, contact_transfer=0.0), casting, layers=4)
    lump = lumped.cast(as_lump(foam, mold, casting), rtol=1e-9)
    for name in ("fill_time", "gel_time"):
        assert run[name] == (None if lump[name] is None else pytest.approx(lump[name], rel=1e-6)), name
    for name in ("peak", "at_gel"):
        assert run[name] == pytest.approx(lump[name], rel=1e-6, abs=1e-3), name
    for name in ("vent_loss", "flash", "part_mass"):
        assert run[name] == pytest.approx(lump[name], rel=1e-5, abs=1e-12), name
    assert run["fill_fraction"] == pytest.approx(lump["fill_fraction"], rel=1e-6)
    assert run["profile"]["temp"] == pytest.approx(np.full(4, lump["temp"]), rel=1e-6)
    assert run["heat_lost"] == 0.0


@pytest.mark.parametrize("case", CASES)
def test_heat_gas_and_room_balance(case):
    foam, mold, casting = CASES[case]
    run = run_of(case)
    temp, blown, gelled, density = (run["profile"][name] for name in ("temp", "blown", "gelled", "density"))
    made = foam.blow_heat * blown.mean() + foam.gel_heat * gelled.mean()
    warmer = temp.mean() - casting.mix_temp
    assert warmer + run["heat_lost"] / foam.heat_capacity == pytest.approx(made, rel=1e-6)
    assert warmer < 0.9 * made

    p = run["pressure"] + casting.ambient
    each = run["part_mass"] / 12
    free = (each * p / (lumped.R * temp) * (1 / density - 1 / foam.liquid_density)).sum()
    dissolved = (each * np.minimum(foam.gas_yield * blown, foam.solubility / lumped.M_CO2 * p)).sum()
    in_foam = run["part_mass"] * (foam.gas_yield * blown.mean() + foam.beaten_in(casting.ambient, casting.mix_temp))
    assert free + dissolved + run["gas_lost"] == pytest.approx(in_foam, rel=1e-9)

    cavity = mold.volume * (1 + mold.stretch * run["pressure"])
    air = run["air_left"] * lumped.R * casting.mold_temp / p
    assert run["fill_fraction"] == pytest.approx(1 - air / cavity, rel=1e-9)
    # A set short shot holds the room that it had, whatever the gas in its cells would take.
    if case != "short shot":
        assert (each / density).sum() + air == pytest.approx(cavity, rel=1e-9)


def test_cases_are_what_they_are_called():
    runs = {case: run_of(case) for case in CASES}
    usual = runs["full mold, vent loss"]
    assert usual["vent_loss"] > 1e-4 and usual["fill_fraction"] == 1
    assert usual["gel_time"] < usual["peak_time"] < 100
    assert runs["small vent, back pressure"]["fill_time"] > usual["fill_time"] + 0.5
    assert runs["sealed"]["fill_time"] is None and runs["sealed"]["peak"] > usual["peak"]
    assert runs["short shot"]["fill_time"] is None and 0.3 < runs["short shot"]["fill_fraction"] < 0.9
    assert runs["cells open fast"]["gas_lost"] > 1.5 * usual["gas_lost"] > 0
    assert runs["warm wall"]["gel_time"] < usual["gel_time"] < runs["cold wall"]["gel_time"]
    # Cold at the wall: denser and less cured there.
    assert usual["profile"]["density"][0] > 1.05 * usual["profile"]["density"][-1]
    assert np.all(np.diff(usual["profile"]["temp"]) > 0) and np.all(np.diff(usual["profile"]["gelled"]) > 0)


def test_second_order_in_the_number_of_layers():
    coarse, middle, fine = (peer.layered(*CASES["full mold, vent loss"], layers=n) for n in (10, 20, 40))
    for name in ("gel_time", "peak", "core_temp"):
        order = np.log2((coarse[name] - middle[name]) / (middle[name] - fine[name]))
        assert order == pytest.approx(2, abs=0.25), name


def series(biot, fourier, place=0.0):
    """Shares of a slab's first temperature difference that are left: at `place` (the mid-plane is 0), and on average.

    Carslaw and Jaeger, Conduction of Heat in Solids (1959), section 3.11.
    """
    if np.isinf(biot):
        roots = (np.arange(60) + 0.5) * np.pi
    else:
        roots = np.array(
            [brentq(lambda b: b * np.sin(b) - biot * np.cos(b), n * np.pi, (n + 0.5) * np.pi) for n in range(60)]
        )
    weights = 4 * np.sin(roots) / (2 * roots + np.sin(2 * roots)) * np.exp(-(roots**2) * fourier)
    return (weights * np.cos(roots * place)).sum(), (weights * np.sin(roots) / roots).sum()


# At a fixed wall temperature, as tables have it.
TABLE = {0.05: 0.99687, 0.1: 0.94931, 0.2: 0.77231, 0.5: 0.37078, 1.0: 0.10798}


def test_series_is_that_of_tables():
    for fourier, left in TABLE.items():
        assert series(np.inf, fourier)[0] == pytest.approx(left, abs=5e-6)


@pytest.mark.parametrize("biot", [np.inf, 1.0])
@pytest.mark.parametrize("fourier", TABLE)
def test_slab_cools_by_the_series(biot, fourier):
    foam = peer.Foam(blow_rate=0.0, gel_rate=0.0, gas_yield=0.0, air_fraction=0.0)
    half = 620e-6 / 0.06
    contact = min(biot * foam.conductivity / half, 1e9)
    seconds = fourier * foam.liquid_density * foam.heat_capacity * half**2 / foam.conductivity
    # A cavity that is partly filled is partly wet: the slab is as thick as in a full one.
    casting = peer.Casting(charge=0.5, mix_temp=360.0, mold_temp=300.0, demold_time=seconds)
    run = peer.layered(foam, peer.Mold(contact_transfer=contact), casting)
    center, mean = series(biot, fourier)
    left = lambda temp: (temp - 300) / 60  # noqa: E731
    assert left(run["core_temp"]) == pytest.approx(center, abs=2e-4)
    assert left(run["profile"]["temp"].mean()) == pytest.approx(mean, abs=2e-4)
    assert left(run["surface_temp"]) == pytest.approx(series(biot, fourier, 1.0)[0], abs=2e-4)


def test_conductivity_is_maxwells():
    assert peer.maxwell(0.0, 0.2) == pytest.approx(0.2)
    assert peer.maxwell(1.0, 0.2) == pytest.approx(0.0194)
    # Half of it gas, by hand: 0.2 (0.4194 - 0.1806)/(0.4194 + 0.0903).
    assert peer.maxwell(0.5, 0.2) == pytest.approx(0.0937022, abs=1e-7)


def test_gas_in_cells_conducts_as_a_property_library_says():
    """CO2 at 60 °C by CoolProp 8.0.0 (Huber, Sykioti, Assael and Perkins, 2016)."""
    library = pytest.importorskip("CoolProp.CoolProp")
    published = library.PropsSI("L", "T", 333.15, "P", 101325, "CO2")
    assert published == pytest.approx(peer.CO2_CONDUCTIVITY, rel=5e-3)


def in_layers(foam, cavity, casting, layers):
    """The same casting by the code."""
    shot = lumped.Shot(
        foam=foam,
        volume=cavity.volume,
        wall_area=cavity.wall_area,
        stretch=cavity.stretch,
        discharge=cavity.discharge,
        vents=cavity.vents,
        line=cavity.line,
        clamp_force=1e4 if cavity.line else None,
    )
    return risefit.simulate(
        grade(foam),
        mold(shot).replace(contact_transfer_W_m2K=cavity.contact_transfer),
        layers=layers,
        charge_g=casting.charge * 1e3,
        mix_temp_K=casting.mix_temp,
        mold_temp_K=casting.mold_temp,
        ambient_pressure_Pa=casting.ambient,
        closing_time_s=casting.closing_time,
        demold_time_s=casting.demold_time,
        accuracy=1e-7,
    )


@pytest.mark.parametrize("case", CASES)
def test_three_and_four_layers_of_the_code_come_to_forty_slices(case):
    coarse, fine = (peer.layered(*CASES[case], layers=layers) for layers in (20, 40))
    for layers, within in ((3, 0.012), (4, 0.006)):
        run = in_layers(*CASES[case], layers)
        for name, key, unit in (
            ("fill_time_s", "fill_time", 1.0),
            ("gel_time_s", "gel_time", 1.0),
            ("peak_pressure_kPa", "peak", 1e-3),
            ("pressure_at_gel_kPa", "at_gel", 1e-3),
            ("part_mass_g", "part_mass", 1e3),
        ):
            found = getattr(run, name)
            if fine[key] is None:
                assert found is None, name
                continue
            # Slices err by the square of their size.
            limit = unit * (fine[key] + (fine[key] - coarse[key]) / 3)
            assert found == pytest.approx(limit, rel=within, abs=0.01 if "kPa" in name else 0.0), (name, layers)
        if run.verdict == "full":
            assert run.core_temp_C[-1] + 273.15 == pytest.approx(fine["core_temp"], abs=0.5), layers
            # When the middle is hottest is told by the layers without the wall's value.
            assert run.peak_core_temp_C == pytest.approx(max(run.core_temp_C), abs=0.5), layers
