"""An invented shop around the nature: its scatter from casting to casting, its instruments, and what it writes down.

SI inside; what a record shows is in the units of its column's name.
"""

from dataclasses import dataclass, field, replace
from math import exp

import numpy as np
from closed_mold import CastSetting, Mold, Vent, cast
from nature import CupSetting, Nature, cup_test

KELVIN = 273.15


@dataclass(frozen=True)
class Shop:
    """What the shop casts and how well it weighs, reads and times."""

    nature: Nature = field(default_factory=Nature)
    mold: Mold = field(default_factory=Mold)
    gas_sd: float = 0.015  # relative, per lot or batch
    rate_sd: float = 0.03  # relative, per lot or batch
    temp_sd: float = 0.5  # K, mix temperature as read against as it is
    dosing_sd: float = 0.4e-3  # kg, charge as written against as poured
    scale_step: float = 0.1  # g
    scale_sd: float = 0.08  # g
    stuck_mean: float = 1.6e-3  # kg left in the mixing cup
    stuck_sd: float = 0.3e-3  # kg
    density_sd: float = 0.008  # relative, of a cut sample
    height_sd: float = 0.4  # mm
    height_step: float = 0.2  # mm
    dome: float = 0.015  # the sensor looks at the crown, which stands this share of the rise above the mean
    thermocouple_lag: float = 2.0  # s
    thermocouple_sd: float = 0.25  # K
    stopwatch_sd: float = 2.0  # s
    cream_sd: float = 1.0  # s, cream is easier to see than gel is to feel
    gauge_sd: float = 1.5  # kPa, a dial
    trace_sd: float = 0.35  # kPa, a transducer
    trace_zero_sd: float = 0.3  # kPa


@dataclass(frozen=True)
class CupPlan:
    """A free-rise test as the shop writes it down."""

    name: str
    mass_g: float
    mix_temp_C: float
    ambient_temp_C: float
    ambient_pressure_kPa: float = 101.1


@dataclass(frozen=True)
class CastPlan:
    """A casting as the shop writes it down."""

    trial: str
    charge_g: float
    vent_mm: float
    mix_temp_C: float = 23.0
    mold_temp_C: float = 30.0
    ambient_temp_C: float = 22.0
    ambient_pressure_kPa: float = 101.2
    clamp_force_N: float = 1500.0
    closing_time_s: float = 12.0
    demold_time_s: float = 300.0
    weighed_after_h: float = 0.0
    gauge_stop_kPa: float | None = None  # a dial gauge with this range, if one was fitted
    trace: bool = False
    core: bool = False
    remarks: str = ""


def on_step(value, step):
    """Rounded to an instrument's step, without a negative zero."""
    return np.round(np.asarray(value) / step) * step + 0.0


def lagged(time, signal, start, lag):
    """What a first-order sensor shows that stood at `start` before."""
    shown = np.empty_like(signal)
    shown[0] = start
    for i in range(1, len(time)):
        keep = exp(-(time[i] - time[i - 1]) / lag)
        shown[i] = keep * shown[i - 1] + (1 - keep) * signal[i]
    return shown


def batch(shop, rng):
    """The nature as it is in one lot or batch: gas yield and both rates scatter."""
    gas, water, oh = 1 + np.array([shop.gas_sd, shop.rate_sd, shop.rate_sd]) * rng.standard_normal(3)
    n = shop.nature
    return replace(n, water=n.water * gas, water_rate=n.water_rate * water, oh_rate=n.oh_rate * oh)


# ---- the cup ----


def cup_setting(plan):
    """The plan taken at its word."""
    return CupSetting(
        mass=plan.mass_g / 1e3,
        mix_temp=plan.mix_temp_C + KELVIN,
        ambient_temp=plan.ambient_temp_C + KELVIN,
        ambient_pressure=plan.ambient_pressure_kPa * 1e3,
    )


def log_cup(shop, plan, rng):
    """Runs a free-rise test and reads it; returns the run, (time, height, temperature) at 2 Hz and the rest."""
    said = cup_setting(plan)
    setting = replace(said, mix_temp=said.mix_temp + shop.temp_sd * rng.standard_normal())
    run = cup_test(batch(shop, rng), setting)
    return run, *read_log(shop, setting, run, rng)


def read_log(shop, setting, run, rng):
    """What the instruments show of a free-rise test: (time, height, temperature) at 2 Hz and the rest."""
    time = np.arange(0.0, run.time[-1] + 1e-9, 0.5)
    height = np.interp(time, run.time, run.height)
    height = (height + shop.dome * (height - height[0])) * 1e3 + shop.height_sd * rng.standard_normal(time.size)
    temp = lagged(time, np.interp(time, run.time, run.core_temp), setting.ambient_temp, shop.thermocouple_lag)
    temp = temp - KELVIN + shop.thermocouple_sd * rng.standard_normal(time.size)
    readings = stopwatch(shop, run, rng)
    readings["free_rise_density_kg_m3"] = run.density * (1 + shop.density_sd * rng.standard_normal())
    return (time, on_step(height, shop.height_step), on_step(temp, 0.1)), readings


def stopwatch(shop, run, rng):
    """The stopwatch times as read, whole s; what did not happen while watched has no time."""
    events = {
        "cream_time_s": (run.cream, shop.cream_sd),
        "string_gel_time_s": (run.string_gel, shop.stopwatch_sd),
        "end_of_rise_s": (run.end_of_rise, shop.stopwatch_sd),
        "tack_free_time_s": (run.tack_free, shop.stopwatch_sd),
    }
    scatter = dict(zip(events, rng.standard_normal(4), strict=True))
    return {k: round(t + sd * scatter[k]) for k, (t, sd) in events.items() if t is not None}


# ---- the casting ----


def cast_setting(plan, left_in_cup):
    """The plan taken at its word, with what stayed in the cup, kg."""
    return CastSetting(
        mass=plan.charge_g / 1e3 - left_in_cup,
        mix_temp=plan.mix_temp_C + KELVIN,
        mold_temp=plan.mold_temp_C + KELVIN,
        ambient_temp=plan.ambient_temp_C + KELVIN,
        ambient_pressure=plan.ambient_pressure_kPa * 1e3,
        closing_time=plan.closing_time_s,
        demold_time=plan.demold_time_s,
    )


def set_up(mold, plan):
    """The mold with the plan's vent and clamp."""
    vents = tuple(replace(v, diameter=plan.vent_mm / 1e3) for v in mold.vents)
    return replace(mold, vents=vents, clamp_force=plan.clamp_force_N)


def nominal_cast(shop, plan, left_in_cup=None, dt=0.2):
    """The casting without any scatter, in steps of `dt`, s."""
    left = shop.stuck_mean if left_in_cup is None else left_in_cup
    return cast(shop.nature, set_up(shop.mold, plan), cast_setting(plan, left), dt)


def weigh(shop, mass, rng):
    """A scale's reading of a mass in kg, g; nothing weighs nothing."""
    if mass <= 0.0:
        return 0.0
    return max(0.0, float(on_step(mass * 1e3 + shop.scale_sd * rng.standard_normal(), shop.scale_step)))


def run_trial(shop, plan, rng, dt=0.2):
    """Runs a casting in steps of `dt`, s, and reads it.

    Returns the run, the true setting, the ledger's readings and the trace (or None).
    """
    left = max(0.3e-3, shop.stuck_mean + shop.stuck_sd * rng.standard_normal())
    said = cast_setting(plan, left)
    setting = replace(
        said,
        mass=said.mass + shop.dosing_sd * rng.standard_normal(),
        mix_temp=said.mix_temp + shop.temp_sd * rng.standard_normal(),
    )
    run = cast(batch(shop, rng), set_up(shop.mold, plan), setting, dt)
    return run, setting, *read_trial(shop, plan, left, run, rng)


def read_trial(shop, plan, left, run, rng):
    """What the ledger says of a casting, and its trace (or None)."""
    readings = {
        "left_in_cup_g": weigh(shop, left, rng),
        "part_mass_g": weigh(shop, run.scale_reading, rng),
        "vent_loss_g": weigh(shop, run.vent_loss, rng),
        "flash_g": weigh(shop, run.flash, rng),
        "outcome": run.outcome,
    }
    trace = read_trace(shop, plan, run, rng)
    readings |= read_gauge(shop, plan, run, trace, rng)
    core = run.peak_core_temp - KELVIN + 1.0 * rng.standard_normal()
    readings["core_temp_C"] = float(core) if plan.core else None
    return readings, trace if plan.trace else None


def read_gauge(shop, plan, run, trace, rng):
    """The peak pressure: the trace's maximum or a dial read by eye to 1 kPa, which may stand at its stop."""
    dial = max(0.0, run.peak_pressure / 1e3 + shop.gauge_sd * rng.standard_normal())
    if plan.trace:
        return {"peak_pressure_kPa": float(smoothed(trace[1]).max()), "gauge_at_stop": "no"}
    if plan.gauge_stop_kPa is None:
        return {"peak_pressure_kPa": None, "gauge_at_stop": ""}
    at_stop = dial >= plan.gauge_stop_kPa
    shown = plan.gauge_stop_kPa if at_stop else float(on_step(dial, 1.0))
    return {"peak_pressure_kPa": shown, "gauge_at_stop": "yes" if at_stop else "no"}


def smoothed(values, width=5):
    """Running mean, as the logger shows its maximum."""
    return np.convolve(values, np.ones(width) / width, mode="valid")


def read_trace(shop, plan, run, rng):
    """Pressure and core temperature at 2 Hz until demold: time s, gauge kPa, °C."""
    time = np.arange(0.0, plan.demold_time_s + 1e-9, 0.5)
    zero = shop.trace_zero_sd * rng.standard_normal()
    pressure = np.interp(time, run.time, run.pressure) / 1e3 + zero + shop.trace_sd * rng.standard_normal(time.size)
    temp = np.interp(time, run.time, run.core_temp)
    temp = lagged(time, temp, plan.mold_temp_C + KELVIN, shop.thermocouple_lag) - KELVIN
    temp = temp + shop.thermocouple_sd * rng.standard_normal(time.size)
    return time, on_step(pressure, 0.1), on_step(temp, 0.1)


# ---- other shops ----

NATURE_SPREAD = {
    "liquid_density": 0.02,
    "heat_capacity": 0.03,
    "water": 0.08,
    "hydroxyl": 0.05,
    "water_rate": 0.12,
    "oh_rate": 0.12,
    "water_activation": 0.06,
    "oh_activation": 0.06,
    "water_heat": 0.05,
    "oh_heat": 0.05,
    "induction_time": 0.30,
    "solubility": 0.25,
    "release_time": 0.15,
    "air_fraction": 0.30,
    "surface_loss": 0.40,
    "gel_conversion": 0.04,
    "stretch_conversion": 0.15,
    "viscosity": 0.50,
    "viscosity_a": 0.10,
    "viscosity_b": 0.10,
    "thinning": 0.03,
    "settle": 0.30,
    "open_time": 0.40,
}
MOLD_SPREAD = {"volume": 0.005, "wall_area": 0.03, "wall_film": 0.25, "discharge": 0.04, "seam_opening": 0.30}
VENT_SPREAD = 0.02


def varied(record, spread, rng):
    """A record with some fields multiplied by log-normal factors."""
    return replace(record, **{k: getattr(record, k) * exp(sd * rng.standard_normal()) for k, sd in spread.items()})


def draw_shop(rng, base=None):
    """Another shop: a grade of its own, a mold made a little off its drawing; the instruments stay.

    The isocyanate index stays that of the base. The returned shop's `mold` is the truth, the base's is the drawing. The
    free-rise density varies by a fifth, so scale the charges of a plan with it.
    """
    base = base or Shop()
    n = base.nature
    drawn = varied(n, NATURE_SPREAD, rng)
    index = n.nco / (2 * n.water + n.hydroxyl)
    drawn = replace(drawn, nco=index * (2 * drawn.water + drawn.hydroxyl))
    mold = varied(base.mold, MOLD_SPREAD, rng)
    vents = tuple(Vent(v.diameter * exp(VENT_SPREAD * rng.standard_normal()), v.length, v.count) for v in mold.vents)
    return replace(base, nature=drawn, mold=replace(mold, vents=vents))
