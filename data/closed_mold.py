"""The invented nature in a vented mold: air and foam through vents and seam, back pressure, and one whole casting."""

from dataclasses import dataclass, field
from math import exp, pi, sqrt

import numpy as np
from nature import (
    FREE,
    M_CO2,
    OH,
    TEMP,
    R,
    advance_layers,
    beaten_air,
    crossing,
    foam_viscosity,
    fresh_layers,
    gas_volume,
    wall_exchange,
)
from scipy.optimize import brentq

M_AIR = 0.0289647
MU_AIR = 19e-6
GAMMA_AIR = 1.4


@dataclass(frozen=True)
class Vent:
    """A kind of round vent."""

    diameter: float = 3e-3
    length: float = 12e-3
    count: int = 1


@dataclass(frozen=True)
class Mold:
    """A mold as it truly is."""

    volume: float = 620e-6
    projected_area: float = 150e-4
    wall_area: float = 480e-4
    wall_film: float = 90.0  # W/(m2 K), contact of the skin with a printed wall and the wall itself
    discharge: float = 0.82
    vents: tuple[Vent, ...] = (Vent(),)
    seam_length: float = 0.6
    seam_land: float = 5e-3
    seam_gap: float = 0.0
    seam_opening: float = 5e-6  # m/N beyond the clamp force
    clamp_force: float = 1500.0


@dataclass(frozen=True)
class CastSetting:
    """One casting as it truly ran; `mass` is what was poured into the mold."""

    mass: float
    mix_temp: float = 296.15
    mold_temp: float = 303.15
    ambient_temp: float = 295.15
    ambient_pressure: float = 101325.0
    closing_time: float = 12.0
    demold_time: float = 300.0


@dataclass
class CastRun:
    """A casting without noise; arrays over `time`, s; pressure is gauge, Pa."""

    time: np.ndarray
    pressure: np.ndarray
    core_temp: np.ndarray
    mean_temp: np.ndarray
    fill: np.ndarray
    mass: np.ndarray
    outcome: str
    fill_time: float | None
    gel_time: float | None
    peak_pressure: float
    peak_time: float
    pressure_at_gel: float
    part_mass: float
    scale_reading: float
    vent_loss: float
    flash: float
    fill_fraction: float
    density: float
    peak_core_temp: float
    layer_density: np.ndarray = field(repr=False)


# ---- flow out of the mold ----


def joined(first, second):
    """Two resistances in a row: 1/q^2 = 1/a^2 + 1/b^2."""
    return first * second / sqrt(first * first + second * second) if first > 0 and second > 0 else 0.0


def orifice_air(discharge, area, p, pa, temp):
    """Isentropic flow of air through an orifice with choking, kg/s."""
    r = max(pa / p, (2 / (GAMMA_AIR + 1)) ** (GAMMA_AIR / (GAMMA_AIR - 1)))
    shape = 2 * GAMMA_AIR / (GAMMA_AIR - 1) * (r ** (2 / GAMMA_AIR) - r ** ((GAMMA_AIR + 1) / GAMMA_AIR))
    return discharge * area * p * sqrt(max(shape, 0.0) * M_AIR / (R * temp))


def tube_air(vent, p, pa, temp):
    """Laminar compressible flow of air through a tube, kg/s."""
    return pi * vent.diameter**4 * (p * p - pa * pa) * M_AIR / (R * temp) / (256 * MU_AIR * vent.length)


def air_out(mold, p, pa, temp):
    """Air out of the headspace through the vents and the closed seam, kg/s."""
    if p <= pa:
        return 0.0
    squares = (p * p - pa * pa) * M_AIR / (R * temp)
    q = squares * mold.seam_length * mold.seam_gap**3 / (24 * MU_AIR * mold.seam_land)
    for vent in mold.vents:
        orifice = orifice_air(mold.discharge, pi / 4 * vent.diameter**2, p, pa, temp)
        q += vent.count * joined(tube_air(vent, p, pa, temp), orifice)
    return q


def seam_gap(mold, p, pa):
    """Gap of the seam at this pressure, m."""
    return mold.seam_gap + mold.seam_opening * max(0.0, (p - pa) * mold.projected_area - mold.clamp_force)


def foam_vents(nature, mold, p, pa, density, viscosity):
    """Foam out of the vents, kg/s: a power-law fluid in a tube and an orifice on the foam's density."""
    dp, n, q = p - pa, nature.thinning, 0.0
    for vent in mold.vents:
        stress = dp * vent.diameter / (4 * (vent.length + 1.5 * vent.diameter))
        tube = density * pi * (vent.diameter / 2) ** 3 * n / (3 * n + 1) * (stress / viscosity) ** (1 / n)
        orifice = mold.discharge * pi / 4 * vent.diameter**2 * sqrt(2 * density * dp)
        q += vent.count * joined(tube, orifice)
    return q


def foam_seam(nature, mold, p, pa, density, viscosity):
    """Foam out of the seam, kg/s: a power-law fluid in a slot."""
    h, n = seam_gap(mold, p, pa), nature.thinning
    stress = h * (p - pa) / (2 * mold.seam_land)
    return density * mold.seam_length * h * h * n / (2 * (2 * n + 1)) * (stress / viscosity) ** (1 / n)


def cavity_pressure(mold, pa, moles_temp, liquid):
    """Pressure of gas (moles x K) in what the liquid leaves of the cavity; the lid lifts beyond the clamp force, Pa."""
    room = mold.volume - liquid
    p = R * moles_temp / room
    lift = mold.projected_area * mold.seam_opening
    if (p - pa) * mold.projected_area <= mold.clamp_force or lift == 0.0:
        return p
    a = lift * mold.projected_area
    b = room - lift * (pa * mold.projected_area + mold.clamp_force)
    return (-b + sqrt(b * b + 4 * a * R * moles_temp)) / (2 * a)


# ---- the casting ----


class Cavity:
    """The foam and the air in a closed mold while one casting runs."""

    def __init__(self, nature, mold, setting):
        self.nature, self.mold, self.setting = nature, mold, setting
        self.pa = setting.ambient_pressure
        self.y = fresh_layers(nature, setting.mix_temp)
        self.mass = setting.mass
        self.air = beaten_air(nature, setting.mix_temp, self.pa)
        self.head = None  # mol of air above the foam once closed
        self.p = self.pa
        self.vent_loss = self.flash = 0.0
        self.gas_lost = 0.0  # mol of CO2
        self.filled = self.gelled = False

    @property
    def foam_volume(self):
        if self.filled:
            return self.mold.volume
        return self.mass * (1.0 / self.nature.liquid_density + gas_volume(self.y, self.air, self.p))

    def step(self, t, dt):
        """Reaction and heat, then flow: air, foam or, after gel, only gas."""
        volume = self.foam_volume
        wetted = self.mold.wall_area * min(1.0, volume / self.mold.volume) ** (2 / 3)
        wall = wall_exchange(self.nature, self.mass, volume, wetted, self.mold.wall_film, self.setting.mold_temp)
        self.y = advance_layers(self.nature, self.y, t, dt, self.p, wall)
        if t + dt < self.setting.closing_time or (self.gelled and not self.filled):
            self.p = self.pa
        elif self.gelled:
            self.lose_gas(dt)
        elif self.filled:
            self.push_foam(dt)
        else:
            self.push_air(dt)
        self.gelled = self.gelled or self.y[OH].mean() >= self.nature.gel_conversion

    def foam_moles_temp(self, mass):
        return mass * gas_volume(self.y, self.air, 1.0) / R

    def push_air(self, dt):
        """The foam rises and drives the air out; implicit in the air left, since it empties in milliseconds."""
        temp, liquid = self.setting.mold_temp, self.mass / self.nature.liquid_density
        if self.head is None:
            self.head = max(0.0, self.mold.volume - self.foam_volume) * self.pa / (R * temp)
        foam = self.foam_moles_temp(self.mass)

        def pressure(head):
            return cavity_pressure(self.mold, self.pa, foam + head * temp, liquid)

        def excess(head):
            return head - self.head + dt / M_AIR * air_out(self.mold, pressure(head), self.pa, temp)

        if excess(0.0) >= 0.0:
            self.head = 0.0
        else:
            self.head = brentq(excess, 0.0, self.head, xtol=1e-15, rtol=1e-12)
        self.p = pressure(self.head)
        if self.head * R * temp / self.p <= (1.0 - self.nature.trapped_fill) * self.mold.volume:
            self.air += self.head * temp / float(self.y[TEMP].mean()) / self.mass
            self.filled = True

    def push_foam(self, dt):
        """The full cavity drives foam out; implicit in the mass left."""
        viscosity = foam_viscosity(self.nature, float(self.y[TEMP].mean()), float(self.y[OH].mean()))

        def flows(mass):
            p = self.full_pressure(mass)
            if p <= self.pa:
                return 0.0, 0.0
            state = (self.nature, self.mold, p, self.pa, mass / self.mold.volume, viscosity)
            return dt * foam_vents(*state), dt * foam_seam(*state)

        before = self.mass
        self.mass = brentq(lambda m: m - before + sum(flows(m)), 0.05 * before, before, xtol=1e-16, rtol=1e-13)
        vent, seam = flows(self.mass)
        lost = before - self.mass
        share = vent / (vent + seam) if lost > 0.0 else 0.0
        self.vent_loss += share * lost
        self.flash += (1.0 - share) * lost
        self.p = self.full_pressure(self.mass)

    def lose_gas(self, dt):
        """After gel nothing flows, but gas seeps out of cells that open, faster where the seam gapes."""
        gap = seam_gap(self.mold, self.p, self.pa)
        rate = (1.0 - self.pa / self.p) / self.nature.open_time * (1.0 + gap / self.nature.seam_gas_gap)
        self.gas_lost += self.mass * float(self.y[FREE].mean()) * (1.0 - exp(-dt * rate))
        self.y[FREE] *= exp(-dt * rate)
        self.p = self.full_pressure(self.mass)

    def full_pressure(self, mass):
        liquid = mass / self.nature.liquid_density
        return cavity_pressure(self.mold, self.pa, self.foam_moles_temp(mass), liquid)

    def scale_reading(self):
        """What a scale in the shop's air shows of the part at demold, kg; mix is weighed in air as a liquid."""
        air = self.pa * M_AIR / (R * self.setting.ambient_temp)
        cells = self.foam_volume - self.mass / self.nature.liquid_density
        return self.mass - self.gas_lost * M_CO2 - air * cells

    def row(self, t):
        temps = self.y[TEMP]
        core = max(1, self.nature.layers // 3)
        fill = min(1.0, self.foam_volume / self.mold.volume)
        return t, self.p - self.pa, temps[:core].mean(), temps.mean(), fill, self.mass, self.y[OH].mean()


def cast(nature, mold, setting, dt=0.2):
    """A casting without noise: rise, fill, flow, gel and back pressure until demold."""
    cavity = Cavity(nature, mold, setting)
    t, rows, fill_time, set_rows = 0.0, [cavity.row(0.0)], None, None
    while t < setting.demold_time - 1e-9:
        step = dt if set_rows is None or len(rows) < set_rows + 150 else 2.5 * dt
        step = min(step, setting.demold_time - t)
        was_filled = cavity.filled
        cavity.step(t, step)
        t += step
        rows.append(cavity.row(t))
        if cavity.filled and not was_filled:
            fill_time = t
        if cavity.gelled and set_rows is None:
            set_rows = len(rows)
    return read_cast(nature, cavity, np.array(rows).T, fill_time)


def read_cast(nature, cavity, rows, fill_time):
    """What came out of a casting."""
    time, gauge, core_temp, mean_temp, fill, mass, conversion = rows
    gel_time = crossing(time, conversion, nature.gel_conversion)
    peak = int(np.argmax(gauge))
    outcome = "short" if not cavity.filled else "flash" if cavity.flash > 2e-4 else "full"
    fraction = float(fill[-1]) if gel_time is None else float(np.interp(gel_time, time, fill))
    gas = (cavity.y[FREE] + cavity.air) * R * cavity.y[TEMP] / cavity.p
    return CastRun(
        time=time,
        pressure=gauge,
        core_temp=core_temp,
        mean_temp=mean_temp,
        fill=fill,
        mass=mass,
        outcome=outcome,
        fill_time=fill_time,
        gel_time=gel_time,
        peak_pressure=float(gauge[peak]),
        peak_time=float(time[peak]),
        pressure_at_gel=0.0 if gel_time is None else float(np.interp(gel_time, time, gauge)),
        part_mass=cavity.mass,
        scale_reading=cavity.scale_reading(),
        vent_loss=cavity.vent_loss,
        flash=cavity.flash,
        fill_fraction=fraction,
        density=cavity.mass / cavity.mold.volume,
        peak_core_temp=float(core_temp.max()),
        layer_density=1.0 / (1.0 / nature.liquid_density + gas),
    )
