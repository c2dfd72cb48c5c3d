"""New molds to dial in: grade, cavity, vents, leaks and scatter drawn anew for each; limits are the same for all.

How hard, and why: campaign/README.md. The nature is that of the demo data (`data/`), richer than the model. SI inside.
"""

import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "data"))

import shop as invented  # noqa: E402
from closed_mold import Mold, Vent  # noqa: E402
from nature import CupSetting, cup_test  # noqa: E402

SEED = 41
STEP = 0.4  # s, of the nature's castings; against half of it peaks change by 1 %, alike for all ways
DRILLS_MM = [0.5 * k for k in range(2, 25)]
TOLERANCE = 0.03
WINDOW_KPA = (30.0, 75.0)  # gauge
PACKING = (1.2, 1.5)  # target density over free rise
DEMO_VOLUME = 620e-6  # the mold that others are scaled from
CUP_SCALE_MOST = 1.3  # a lighter grade is poured into the cup in smaller charges, a heavier one up to this
DOSING = 0.01  # of the charge
DIP_SD = 0.01  # of a part's volume, dipped
MOLD_TEMP_SD = 3.0  # K
LEFT_SPREAD, LEFT_SCATTER = 0.4, 0.2  # from shop to shop, from casting to casting
REPEATS, LEAST_GOOD = 10, 8
NEAR_MIDDLE = 0.2  # of the window, as a logarithm: no drill is looked for that is nearer


@dataclass(frozen=True)
class Task:
    """A mold to dial in: the shop as it truly is, what it knows, and what a good part is."""

    number: int
    shop: invented.Shop
    drawing: Mold  # its volume and vents are those known
    volume_sd: float  # relative
    plan: invented.CastPlan  # temperatures, clamp and times; charge and vent are what is looked for
    mold_temp_off: float  # K, true less shown
    vent_factor: float  # true diameter over the drill's
    cup_mass_g: float
    datasheet: dict
    density: float  # kg/m3, target
    redrawn: int  # molds before this one that nobody could have dialed in
    anchor: tuple = ()  # charge in g and vent in mm of someone who knows the truth

    def is_good(self, run):
        """Whether a casting, as it truly came out, is full, without flash and within all limits."""
        in_window = WINDOW_KPA[0] <= run.peak_pressure / 1e3 <= WINDOW_KPA[1]
        return run.outcome == "full" and abs(run.density / self.density - 1) <= TOLERANCE and in_window

    def true_plan(self, plan):
        """A plan with the temperature and the hole as they truly are."""
        warm = plan.mold_temp_C + self.mold_temp_off
        return replace(plan, mold_temp_C=warm, vent_mm=plan.vent_mm * self.vent_factor)

    def cast(self, plan, rng):
        """Casts and reads; `dipped_mL` is the part's volume. Returns the run and the readings."""
        run, _, readings, _ = invented.run_trial(self.shop, self.true_plan(plan), rng, STEP)
        readings["dipped_mL"] = 1e6 * self.shop.mold.volume * (1 + DIP_SD * rng.standard_normal())
        return run, readings


def generator(*place):
    """A stream of its own for each thing that is drawn."""
    return np.random.default_rng([SEED, *place])


def typical_left(charge):
    """What such shops leave in the cup, kg, of a charge in kg: it goes with the wetted surface."""
    return 1.6e-3 * (charge / 0.062) ** (2 / 3)


def usual_vent_mm(volume):
    """The usual vent for a cavity of this volume, m3."""
    return 3.0 * (volume / DEMO_VOLUME) ** (1 / 3)


def drawing(rng):
    """The drawing of a mold of 100 to 5000 mL; areas and lengths scale from the demo's mold, give or take."""
    volume = math.exp(rng.uniform(math.log(100e-6), math.log(5000e-6)))
    scale = (volume / DEMO_VOLUME) ** (1 / 3)
    around = [math.exp(sd * z) for sd, z in zip((0.15, 0.12, 0.10), rng.standard_normal(3), strict=True)]
    area = 150e-4 * scale**2 * around[0]
    vent = nearest_drill(usual_vent_mm(volume) * math.exp(0.45 * rng.standard_normal()))
    return Mold(
        volume=volume,
        projected_area=area,
        wall_area=480e-4 * scale**2 * around[1],
        vents=(Vent(1e-3 * vent, rng.uniform(8e-3, 20e-3), int(rng.integers(1, 3))),),
        seam_length=0.6 * scale * around[2],
        clamp_force=area * rng.uniform(80e3, 140e3),
    )


def as_built(rng, base):
    """The shop around a drawing: grade and mold drawn, every second seam gapes, instruments fit for the size."""
    shop = invented.draw_shop(rng, base)
    gapes = rng.uniform() < 0.5
    gap = math.exp(rng.uniform(math.log(10e-6), math.log(60e-6)))
    charge = 100.0 * base.mold.volume  # kg, about
    left = typical_left(charge) * math.exp(LEFT_SPREAD * rng.standard_normal())
    return replace(
        shop,
        mold=replace(shop.mold, seam_gap=gap if gapes else 0.0),
        dosing_sd=math.hypot(0.05e-3, DOSING * charge),
        stuck_mean=left,
        stuck_sd=LEFT_SCATTER * left,
        scale_step=0.01 if charge < 0.05 else 0.1,
        scale_sd=0.02 if charge < 0.05 else 0.08,
    )


def datasheet(rng, nature):
    """True free-rise density, and what a supplier would say: a good cup at 23 C, off by what lots differ."""
    cup = cup_test(nature, CupSetting(0.060, 296.15, 296.15))
    off = np.exp(np.array([0.04, 0.12, 0.10, 0.10]) * rng.standard_normal(4))
    values = np.array([cup.density, cup.cream, cup.string_gel, cup.end_of_rise]) * off
    names = ["free_rise_density_kg_m3", "cream_time_s", "string_gel_time_s", "end_of_rise_s"]
    said = {name: round(float(value)) for name, value in zip(names, values, strict=True)}
    said["string_gel_time_s"] = max(said["string_gel_time_s"], said["cream_time_s"] + 5)
    said["end_of_rise_s"] = max(said["end_of_rise_s"], said["cream_time_s"] + 5)
    return cup.density, said | {"at_temp_C": 23, "liquid_density_kg_m3": round(nature.liquid_density, -1)}


def candidate(rng, number, redrawn):
    """A mold as drawn, solvable or not."""
    base = invented.Shop(mold=drawing(rng))
    shop = as_built(rng, base)
    free_rise, said = datasheet(rng, shop.nature)
    volume_sd = 0.01 if rng.uniform() < 0.5 else 0.025
    known = replace(base.mold, volume=shop.mold.volume * math.exp(volume_sd * rng.standard_normal()))
    plan = invented.CastPlan(
        "",
        0.0,
        round(1e3 * base.mold.vents[0].diameter, 1),
        mix_temp_C=round(rng.uniform(21, 26), 1),
        mold_temp_C=round(rng.uniform(26, 38), 1),
        clamp_force_N=round(base.mold.clamp_force),
        closing_time_s=round(rng.uniform(5, 10)),
        demold_time_s=200.0,
        gauge_stop_kPa=400.0,
    )
    return Task(
        number=number,
        shop=shop,
        drawing=known,
        volume_sd=volume_sd,
        plan=plan,
        mold_temp_off=MOLD_TEMP_SD * rng.standard_normal(),
        vent_factor=math.exp(0.03 * rng.standard_normal()),
        cup_mass_g=round(60 * min(free_rise / 76.0, CUP_SCALE_MOST), 1),
        datasheet=said,
        density=round(free_rise * rng.uniform(*PACKING), 1),
        redrawn=redrawn,
    )


def draw_task(number):
    """The mold with this number: the first one drawn that someone who knows the truth can dial in."""
    rng, redrawn = generator(number, 0), 0
    while True:
        task = candidate(rng, number, redrawn)
        anchor = solved(task)
        if anchor is not None:
            return replace(task, anchor=anchor)
        redrawn += 1


# ---- someone who knows the truth ----


def solved(task):
    """Charge, g, and drill, mm, that are good in 8 of 10 castings with the shop's scatter; None if there are none."""
    found = inside_window(task)
    if found is None:
        return None
    rng, bad = generator(task.number, 3, task.redrawn), 0
    plan = replace(task.plan, charge_g=found[0], vent_mm=found[1])
    for _ in range(REPEATS):
        bad += not task.is_good(task.cast(plan, rng)[0])
        if bad > REPEATS - LEAST_GOOD:
            return None
    return found


def inside_window(task):
    """Charge and drill at the target density, with the pressure nearest to the middle, by bisection over drills."""
    middle, (low, high) = math.sqrt(WINDOW_KPA[0] * WINDOW_KPA[1]), (0, len(DRILLS_MM) - 1)
    best = None
    while low <= high:
        place = (low + high) // 2
        found = on_density(task, DRILLS_MM[place])
        if found is None:  # loses too much
            high = place - 1
            continue
        charge, run = found
        off = abs(math.log(run.peak_pressure / 1e3 / middle))
        if task.is_good(run) and (best is None or off < best[0]):
            best = (off, charge, DRILLS_MM[place])
            if off < NEAR_MIDDLE:
                break
        if run.peak_pressure / 1e3 > middle:
            low = place + 1
        else:
            high = place - 1
    return None if best is None else best[1:]


def on_density(task, vent_mm):
    """The charge, g, and casting that reach the target density with this vent, without scatter; None if none does."""
    shop = task.shop
    charge = 1.02 * task.density * shop.mold.volume + shop.stuck_mean
    for _ in range(6):
        plan = task.true_plan(replace(task.plan, charge_g=1e3 * charge, vent_mm=vent_mm))
        run = invented.nominal_cast(shop, plan, dt=2 * STEP)
        if run.vent_loss + run.flash > 0.3 * charge:
            return None
        if abs(run.density / task.density - 1) < 3e-3:
            return round(1e3 * charge, 2), run
        charge += 1.05 * (task.density - run.density) * shop.mold.volume
    return None


def nearest_drill(vent_mm):
    """The drill that the shop owns nearest to a diameter."""
    return min(DRILLS_MM, key=lambda d: abs(math.log(d / vent_mm)))
