"""Castings and free rises against SciPy's stiff solver (Radau), on equations written a second time in `peer_model`."""

import importlib.util
from dataclasses import fields, replace
from math import isfinite
from pathlib import Path

import pytest

pytest.importorskip("scipy")
risefit = pytest.importorskip("risefit")
if not (hasattr(risefit, "simulate") and hasattr(risefit, "free_rise")):
    pytest.skip("this build of risefit cannot simulate", allow_module_level=True)

_spec = importlib.util.spec_from_file_location("peer_model", Path(__file__).with_name("peer_model.py"))
peer = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(peer)

SHOTS = {
    "usual": peer.Shot(),
    "wide vent": peer.Shot(charge=0.068, vents=(peer.Vent((12e-3, 12e-3)),)),
    "short shot": peer.Shot(charge=0.040),
    "weak clamp": peer.Shot(charge=0.066, clamp_force=300.0, line=peer.Line(0.6, 5e-3, 0.0, 2e-6)),
    "slow to wake, short of isocyanate": peer.Shot(foam=replace(peer.Foam(), induction=1.5, competition=0.8)),
    "closed before it wakes": peer.Shot(foam=replace(peer.Foam(), induction=14.0), mix_temp=290.15),
    "high up, stretching, open cells, openings passed one by one": peer.Shot(
        charge=0.066,
        stretch=1e-7,
        vents=(peer.Vent((1e-3, 12e-3), at_fill=0.6, count=2), peer.Vent((2e-3, 12e-3))),
        line=peer.Line(0.6, 5e-3, 2e-5, 0.0, 0.9),
        clamp_force=1e4,
        foam=replace(peer.Foam(), cell_opening_time=60.0),
        ambient=85e3,
    ),
}
# What one unit of each key is in SI.
UNITS = {
    "liquid_density": ("kg_m3", 1.0),
    "heat_capacity": ("J_kgK", 1.0),
    "conductivity": ("W_mK", 1.0),
    "induction": ("s", 1.0),
    "gas_yield": ("mol_kg", 1.0),
    "blow_rate": ("per_s", 1.0),
    "blow_activation": ("J_mol", 1.0),
    "gel_rate": ("per_s", 1.0),
    "gel_activation": ("J_mol", 1.0),
    "blow_heat": ("K", 1.0),
    "gel_heat": ("K", 1.0),
    "solubility": ("kg_kgbar", 1e-5),
    "viscosity": ("Pa_s", 1.0),
    "viscosity_activation": ("J_mol", 1.0),
    "cell_opening_time": ("s", 1.0),
}


def grade(foam):
    """The peer's constants as a grade."""
    lines = ['name = "peer"', "[constants]"]
    for each in fields(foam):
        suffix, factor = UNITS.get(each.name, ("", 1.0))
        value = getattr(foam, each.name) / factor
        if isfinite(value):
            lines.append(f"{each.name}{'_' * bool(suffix)}{suffix} = {value!r}")
    # The peer's foam stops rising where it gels.
    lines.append(f"rise_end_conversion = {foam.gel_conversion!r}")
    return risefit.Grade.from_toml("\n".join(lines))


def mold(shot):
    """The peer's cavity as a mold."""
    lines = [
        'name = "peer"',
        "[cavity]",
        f"volume_m3 = {shot.volume!r}",
        f"projected_area_m2 = {shot.projected_area!r}",
        f"wall_area_m2 = {shot.wall_area!r}",
        f"heat_transfer_W_m2K = {shot.heat_transfer!r}",
        f"stretch_per_bar = {shot.stretch * 1e5!r}",
        f"discharge = {shot.discharge!r}",
    ]
    if shot.clamp_force is not None:
        lines.append(f"clamp_force_N = {shot.clamp_force!r}")
    for vent in shot.vents:
        lines += ["[[vents]]", f'kind = "{vent.kind}"', f"count = {vent.count}", f"at_fill = {vent.at_fill!r}"]
        _, names = peer.VENT_KINDS[vent.kind]
        lines += [f"{name} = {size!r}" for name, size in zip(names, vent.sizes, strict=True)]
    if shot.line:
        line = shot.line
        lines += ["[parting_line]", f"length_m = {line.length!r}", f"land_m = {line.land!r}", f"gap_m = {line.gap!r}"]
        lines += [f"opening_mm_per_kN = {line.opening * 1e6!r}", f"at_fill = {line.at_fill!r}"]
    return risefit.Mold.from_toml("\n".join(lines))


@pytest.mark.parametrize("name", SHOTS)
def test_casting_comes_to_what_scipy_says(name):
    shot = SHOTS[name]
    casting = risefit.Casting(
        charge_g=shot.charge * 1e3,
        mix_temp_K=shot.mix_temp,
        mold_temp_K=shot.mold_temp,
        ambient_pressure_Pa=shot.ambient,
        closing_time_s=shot.closing_time,
        demold_time_s=shot.demold_time,
    )
    run = risefit.simulate(grade(shot.foam), mold(shot), casting, accuracy=1e-10)
    expected = peer.cast(shot)
    near = lambda value, least=0.0: pytest.approx(value, rel=1e-6, abs=least)  # noqa: E731
    # While air leaves, gauge pressure is a small difference of absolute ones: to 1e-9 of these.
    assert run.peak_pressure_kPa * 1e3 == near(expected["peak"], 1e-4)
    assert run.gel_time_s == near(expected["gel_time"])
    assert run.fill_time_s == (None if expected["fill_time"] is None else near(expected["fill_time"]))
    assert run.vent_loss_g == near(expected["vent_loss"] * 1e3, 1e-8)
    assert run.flash_g == near(expected["flash"] * 1e3, 1e-8)
    assert run.part_mass_g == near(expected["part_mass"] * 1e3)
    assert run.density_kg_m3 == near(expected["density"])
    at_demold, at_last = expected["scale"]
    assert run.scale_reading_g == near(at_demold * 1e3)
    late = risefit.simulate(grade(shot.foam), mold(shot), casting.replace(weighed_after_h=1e3), accuracy=1e-10)
    assert late.scale_reading_g == near(at_last * 1e3)


def test_free_rise_follows_scipy():
    foam = replace(peer.Foam(), induction=3.5, competition=0.8)
    times = [0.0, 2.0, 5.0, 10.0, 20.0, 30.0, 31.0, 50.0, 100.0, 200.0]
    rise = risefit.free_rise(
        grade(foam),
        mass_g=60.0,
        mix_temp_K=296.15,
        ambient_temp_K=288.15,
        ambient_pressure_Pa=101325.0,
        heat_area_m2=0.04,
        cup_heat_transfer_W_m2K=6.0,
        core_heat_loss_factor=0.2,
        times_s=times,
        accuracy=1e-10,
    )
    expected = peer.rise(foam, 0.06, 296.15, 288.15, 101325.0, 0.24, times, core_heat_loss_factor=0.2)
    near = lambda value: pytest.approx(value, rel=1e-6)  # noqa: E731
    assert list(rise.volume_mL) == near(list(expected["volume"] * 60e3))
    assert [c + 273.15 for c in rise.temp_C] == near(list(expected["temp"]))
    assert rise.string_gel_time_s == near(expected["gel_time"])
    assert rise.cream_time_s == near(expected["cream_time"])
    assert rise.end_of_rise_s == near(expected["end_of_rise"])
    assert rise.tack_free_time_s == near(expected["tack_free"])
    assert rise.density_kg_m3 == near(expected["density"])
