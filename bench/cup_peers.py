"""Three invented cup tests of 600 points, fitted by SciPy and lmfit on the same equations with finite differences."""

from math import exp, log, pi

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares

R = 8.314462618
M_CO2 = 0.0440095
T_REF = 313.15
SETTLE_S, STOP_S = 30.0, 0.5
DIAMETER, HEIGHT, MASS, AMBIENT = 0.12, 0.15, 0.06, 101325.0
AREA = pi * DIAMETER**2 / 4
HEAT_AREA = AREA + pi * DIAMETER * HEIGHT
MIX_TEMPS_C = (17.0, 23.0, 30.0)
TIMES = np.arange(600) * 0.5
HEIGHT_SD, TEMP_SD = 0.5e-3, 0.3
# Differences of 1e-4 need residuals that are smooth to well below that.
FIT_RTOL = 1e-8
# Name in `risefit.priors()`, what one of it is in SI, true value in SI.
FITTED = (
    ("gas_yield_mol_kg", 1.0, 0.62),
    ("blow_rate_per_s", 1.0, 1 / 26),
    ("blow_activation_kJ_mol", 1e3, 36e3),
    ("gel_rate_per_s", 1.0, 1 / 38),
    ("gel_activation_kJ_mol", 1e3, 45e3),
    ("blow_heat_kJ_mol", 1e3, 70e3),
    ("gel_heat_K", 1.0, 78.0),
    ("cup_heat_transfer_W_m2K", 1.0, 11.0),
    ("sensor_lag_s", 1.0, 2.4),
)
TRUTH = np.array([truth for _, _, truth in FITTED])
KNOWN = {"solubility": 1.3e-8, "air_fraction": 0.04, "rise_end_conversion": 0.73, "settling": 0.015}
LIQUID_DENSITY, HEAT_CAPACITY = 1050.0, 1800.0
HELD = {
    "induction_s": 0.0,
    "competition": 0.0,
    "core_heat_loss_factor": 1.0,
    "solubility_kg_kgbar": 1.3e-3,
    "air_fraction": 0.04,
    "gel_conversion": 0.61,
    "rise_end_conversion": 0.73,
    "settling": 0.015,
    "dome_fraction": 0.0,
    "gas_factor": 1.0,
    "blow_factor": 1.0,
    "gel_factor": 1.0,
    "mix_temp_error_K": 0.0,
}


def cup(values, mix_temp, rtol=1e-6):
    """Height (m) and shown temperature (K) of a cup test at `TIMES`."""
    gas, kb, eb, kg, eg, hb, hg, transfer, lag = (float(v) for v in values)
    eb, eg = eb / R, eg / R
    hb = hb * gas / HEAT_CAPACITY
    cooling = transfer * HEAT_AREA / (MASS * HEAT_CAPACITY)
    stop = KNOWN["rise_end_conversion"]

    def rate(_, y):
        xb, xg, temp, sensed = y.tolist()
        inverse = 1 / temp - 1 / T_REF
        blow = kb * exp(-eb * inverse) * (1 - xb)
        gel = kg * exp(-eg * inverse) * (1 - xg) ** 2
        return blow, gel, hb * blow + hg * gel - cooling * (temp - mix_temp), (temp - sensed) / lag

    stops = lambda _, y: y[1] - stop  # noqa: E731
    course = solve_ivp(
        rate,
        (0.0, TIMES[-1]),
        [0.0, 0.0, mix_temp, mix_temp],
        method="LSODA",
        t_eval=TIMES,
        events=stops,
        rtol=rtol,
        atol=rtol * np.array([0.1, 0.1, 10.0, 10.0]),
    )
    beaten = KNOWN["air_fraction"] / LIQUID_DENSITY * AMBIENT / (R * mix_temp)
    dissolved = KNOWN["solubility"] / M_CO2 * AMBIENT

    def specific(y):
        return 1 / LIQUID_DENSITY + (np.maximum(gas * y[0] - dissolved, 0.0) + beaten) * R * y[2] / AMBIENT

    volume = specific(course.y)
    if len(course.t_events[0]):
        t, y = course.t_events[0][0], course.y_events[0][0]
        top, settle = specific(y), KNOWN["settling"]
        bend = (specific(y + 1e-3 * np.array(rate(t, y))) - top) / 1e-3 + top * settle / SETTLE_S
        held = top * (1 - settle * (1 - np.exp(np.minimum(t - TIMES, 0.0) / SETTLE_S)))
        volume = np.where(t < TIMES, held, volume) - bend * STOP_S * np.log1p(np.exp(-np.abs(TIMES - t) / STOP_S))
    return volume * MASS / AREA, course.y[3]


def readings(seed=1):
    """Heights and temperatures as read: the truth with scatter."""
    rng = np.random.default_rng(seed)
    found = []
    for celsius in MIX_TEMPS_C:
        height, temp = cup(TRUTH, celsius + 273.15, 1e-9)
        noise = rng.standard_normal((2, TIMES.size))
        found.append((height + HEIGHT_SD * noise[0], temp + TEMP_SD * noise[1]))
    return found


def write_logs(folder, logs):
    """The readings as rise logs; returns the paths."""
    paths = []
    for celsius, (height, temp) in zip(MIX_TEMPS_C, logs, strict=True):
        head = (
            f"# invented benchmark data\n# name = {celsius:g} C\n# mass_g = {MASS * 1e3!r}\n"
            f"# mix_temp_C = {celsius!r}\n"
            f"# ambient_temp_C = {celsius!r}\n# ambient_pressure_kPa = {AMBIENT / 1e3!r}\n"
            f"# cup_bottom_diameter_mm = {DIAMETER * 1e3!r}\n# cup_top_diameter_mm = {DIAMETER * 1e3!r}\n"
            f"# cup_height_mm = {HEIGHT * 1e3!r}\ntime_s,height_mm,temp_C\n"
        )
        rows = (f"{t:.1f},{h * 1e3:.9f},{k - 273.15:.9f}\n" for t, h, k in zip(TIMES, height, temp, strict=True))
        paths.append(folder / f"cup_{celsius:g}C.csv")
        paths[-1].write_text(head + "".join(rows))
    return paths


class Problem:
    """Residuals of the three logs and of the priors, as a function of positions in spreads."""

    def __init__(self, logs, priors):
        self.logs, self.calls = logs, 0
        self.center = np.array([priors[name][0] * unit for name, unit, _ in FITTED])
        self.spread = np.array([log(priors[name][1]) for name, _, _ in FITTED])

    def values(self, z):
        """Parameters in SI."""
        return self.center * np.exp(self.spread * z)

    def residuals(self, z):
        """Every reading over its scatter, and every belief."""
        self.calls += 1
        parts = [np.asarray(z)]
        for celsius, (height, temp) in zip(MIX_TEMPS_C, self.logs, strict=True):
            h, t = cup(self.values(z), celsius + 273.15, FIT_RTOL)
            parts += [(h - height) / HEIGHT_SD, (t - temp) / TEMP_SD]
        return np.concatenate(parts)

    def start(self, number):
        """Start number `number`: the priors' center, then around it."""
        return np.zeros(len(FITTED)) if number == 0 else np.random.default_rng(number).uniform(-1, 1, len(FITTED))

    def by_scipy(self, number):
        """Values from one start; steps of differences above the integrator's noise."""
        return self.values(least_squares(self.residuals, self.start(number), diff_step=1e-4, method="trf").x)

    def by_lmfit(self, number):
        """The same with lmfit's default, Levenberg-Marquardt."""
        import lmfit

        parameters = lmfit.Parameters()
        for (name, _, _), z in zip(FITTED, self.start(number), strict=True):
            parameters.add(name, value=float(z) or 1e-3)
        found = lmfit.minimize(
            lambda p: self.residuals(np.array(list(p.valuesdict().values()))), parameters, epsfcn=1e-8
        )
        return self.values(np.array(list(found.params.valuesdict().values())))


def error(values):
    """Largest relative distance from the truth behind the readings."""
    return float(np.max(np.abs(np.asarray(values) / TRUTH - 1)))
