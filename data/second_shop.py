"""Invented shops around the second nature: other molds, lots that last for some castings, a mold that gets warm.

Records, instruments and plans are those of `shop`, with an error more. SI inside; what a record shows is in the units
of its column's name.
"""

from dataclasses import dataclass, field, replace
from math import exp

import numpy as np
from nature import CupSetting
from second_mold import cast, rest
from second_nature import SecondNature, cup_test
from second_openings import SecondMold
from shop import KELVIN, Shop, cast_setting, cup_setting, on_step, read_log, read_trial, varied


@dataclass(frozen=True)
class SecondShop(Shop):
    """What the shop casts and how well it weighs, reads and times; `mold` is the truth, `drawing` what it drew."""

    nature: SecondNature = field(default_factory=SecondNature)
    mold: SecondMold = field(default_factory=SecondMold)
    drawing: SecondMold = field(default_factory=SecondMold)
    castings_of_lot: int = 3  # gas and rates scatter from lot to lot, as much as in the first nature
    mix_sd: float = 0.008  # relative, both rates and gas from mix to mix of one lot
    drill: float = 1.0  # true diameter of vents over the drill's
    clamp_sd: float = 0.10  # relative, how hard the clamps sit
    stem: float = 0.02  # share of what is warmer than the air that a thermocouple's stem takes away
    surface_sd: float = 0.7  # K, the mold's surface as read before the pour
    rest_time: float = 900.0  # s, from demold to the next pour; the mold stands open
    skin_sd: float = 0.10  # relative, a skin as cut
    skin_step: float = 0.1  # mm


def lot(shop, rng):
    """The nature as it is in one lot."""
    return scattered(shop.nature, rng, shop.gas_sd, shop.rate_sd)


def scattered(nature, rng, gas_sd, rate_sd):
    """Gas yield and both rates off by log-normal factors."""
    gas, water, oh = np.exp(np.array([gas_sd, rate_sd, rate_sd]) * rng.standard_normal(3))
    changed = {"water": nature.water * gas, "water_rate": nature.water_rate * water, "oh_rate": nature.oh_rate * oh}
    return replace(nature, **{k: float(v) for k, v in changed.items()})


def log_cup(shop, plan, rng):
    """As `shop.log_cup`; the thermocouple's stem cools it."""
    said = cup_setting(plan)
    setting = replace(said, mix_temp=said.mix_temp + shop.temp_sd * rng.standard_normal())
    run = cup_test(lot(shop, rng), setting)
    air = setting.ambient_temp
    shown = replace(run, core_temp=air + (1.0 - shop.stem) * (run.core_temp - air))
    return run, *read_log(shop, setting, shown, rng)


def set_up(shop, plan, clamp=1.0):
    """The true mold with the plan's vents and clamps, which hold `clamp` times what the plan says."""
    vents = tuple(replace(v, diameter=plan.vent_mm / 1e3 * shop.drill) for v in shop.mold.vents)
    return replace(shop.mold, vents=vents, clamp_force=plan.clamp_force_N * clamp)


def run_trial(shop, plan, rng, nature=None, wall=None):
    """As `shop.run_trial`, with a `nature` of its lot and a `wall` that the casting before has warmed.

    Returns the run, the plan as written down, the readings and the trace (or None).
    """
    left = max(0.3e-3, shop.stuck_mean + shop.stuck_sd * rng.standard_normal())
    mold = set_up(shop, plan, exp(shop.clamp_sd * rng.standard_normal()))
    said = cast_setting(plan, left)
    if wall is None:
        wall = np.full(mold.wall_volumes, said.mold_temp)
    setting = replace(
        said,
        mass=said.mass + shop.dosing_sd * rng.standard_normal(),
        mix_temp=said.mix_temp + shop.temp_sd * rng.standard_normal(),
        mold_temp=float(wall[0]),
    )
    surface = float(on_step(wall[0] - KELVIN + shop.surface_sd * rng.standard_normal(), 0.5))
    mix = scattered(nature or lot(shop, rng), rng, shop.mix_sd, shop.mix_sd)
    run = cast(mix, mold, setting, wall=wall, hours=plan.weighed_after_h)
    readings, trace = read_trial(shop, plan, left, run, rng)
    if plan.core:
        readings["core_temp_C"] -= shop.stem * (readings["core_temp_C"] - plan.ambient_temp_C)
    skin = run.skin_thickness * 1e3 * (1.0 + shop.skin_sd * rng.standard_normal())
    readings["skin_thickness_mm"] = round(float(on_step(max(0.0, skin), shop.skin_step)), 1)
    return run, replace(plan, mold_temp_C=surface), readings, trace


def run_session(shop, plans, generators):
    """One casting after the other; the mold is warmed for the first one only, and lots change on the way."""
    wall, nature, done = None, None, []
    for i, (plan, rng) in enumerate(zip(plans, generators, strict=True)):
        if i % shop.castings_of_lot == 0:
            nature = lot(shop, rng)
        done.append(run_trial(shop, plan, rng, nature, wall))
        wall = rest(shop.mold, done[-1][0].wall, shop.rest_time, plan.ambient_temp_C + KELVIN)
    return done


# ---- other shops ----

NATURE_SPREAD = {
    "liquid_density": 0.02,
    "heat_capacity": 0.03,
    "water": 0.08,
    "hydroxyl": 0.05,
    "water_rate": 0.12,
    "water_activation": 0.06,
    "water_order": 0.15,
    "oh_rate": 0.12,
    "oh_activation": 0.06,
    "oh_seed": 0.20,
    "catalyst_start": 0.20,
    "catalyst_rate": 0.25,
    "water_heat": 0.05,
    "oh_heat": 0.05,
    "solubility": 0.25,
    "release_rate": 0.20,
    "air_fraction": 0.30,
    "solid_conductivity": 0.08,
    "cell_size": 0.15,
    "gel_conversion": 0.03,
    "viscosity": 0.50,
    "viscosity_growth": 0.12,
    "thinning": 0.06,
    "modulus": 0.40,
    "collapse_limit": 0.08,
    "collapse_rate": 0.40,
    "permeability": 0.50,
    "burst_rate": 0.40,
    "stop_conversion": 0.02,
    "settle": 0.30,
}
MADE_SPREAD = {"volume": 0.005, "wall_area": 0.03, "contact": 0.30, "shrink_gap": 0.30, "entrance_loss": 0.10}
MADE_SPREAD |= {"seam_opening": 0.40, "seam_gap": 0.50, "gas_seam": 0.40}
# Conductivity W/(m K), heat J/(m3 K), thickness m; how many of ten molds.
WALLS = {
    "printed": (0.23, 1.65e6, 6e-3, 5),
    "filled epoxy": (0.70, 2.0e6, 15e-3, 3),
    "aluminum": (150.0, 2.43e6, 12e-3, 2),
}


def draw_drawing(rng):
    """A mold as drawn: 0.25 to 1.6 L, 18 to 36 mm thick, one to three vents, and in one of ten shops a weak clamp."""
    chances = np.array([w[3] for w in WALLS.values()]) / 10
    conductivity, heat, thickness, _ = WALLS[str(rng.choice(list(WALLS), p=chances))]
    volume = exp(rng.uniform(np.log(0.25e-3), np.log(1.6e-3)))
    area = volume / rng.uniform(9e-3, 18e-3)
    projected = 0.31 * area * exp(0.10 * rng.standard_normal())
    vent = replace(SecondMold().vents[0], length=rng.uniform(8e-3, 16e-3), count=int(rng.choice([1, 1, 2, 3])))
    held = 40e3 if rng.random() < 0.1 else rng.uniform(80e3, 160e3)
    return SecondMold(
        volume=round(volume, 5),
        projected_area=round(projected, 4),
        wall_area=round(area, 4),
        wall_thickness=thickness,
        wall_conductivity=conductivity,
        wall_heat=heat,
        vents=(replace(vent, length=round(vent.length, 3)),),
        seam_length=round(0.6 * np.sqrt(area / 480e-4), 2),
        clamp_force=float(round(held * projected, -1)),
    )


def draw_shop(rng):
    """Another shop: a grade of its own at the base's isocyanate index, a mold a little off its drawing."""
    base = SecondShop()
    n = base.nature
    nature = varied(n, NATURE_SPREAD, rng)
    index = n.nco / (2 * n.water + n.hydroxyl)
    nature = replace(nature, nco=index * (2 * nature.water + nature.hydroxyl))
    drawing = draw_drawing(rng)
    mold = varied(drawing, MADE_SPREAD, rng)
    # A third of the molds have their vents not quite at the last place to fill.
    buried = rng.random() < 1 / 3
    mold = replace(mold, vents_at_fill=rng.uniform(0.975, 0.995) if buried else mold.vents_at_fill)
    return replace(
        base,
        nature=nature,
        mold=mold,
        drawing=drawing,
        drill=exp(0.02 * rng.standard_normal()),
        rest_time=rng.uniform(300.0, 1800.0),
    )


def free_rise_density(shop):
    """Of 60 g at 23 °C in the standard cup, kg/m3."""
    return cup_test(shop.nature, CupSetting(0.060, 296.15, 296.15)).density
