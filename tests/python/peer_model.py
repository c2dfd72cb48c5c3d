"""The casting's and the cup's equations once more, in plain Python for SciPy's stiff solver: a test oracle only.

Shares no code and no integrator with the Rust side, but was written by someone who had read it. Slow and tight (Radau);
SI units, pressures absolute inside. Conventions of the Rust side that are not physics are repeated here: how an opening
is blunted, that a set short shot keeps its volume, what the stopwatch stands for.
"""

from dataclasses import dataclass, field
from math import exp, inf, log, pi, sqrt

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

R = 8.314462618
M_CO2 = 0.0440095
M_AIR = 0.0289644
RS_AIR = R / M_AIR
GAMMA = 1.4
T_REF = 313.15
BLUNT_PA = 20.0
CREAM, END_OF_RISE, TACK_FREE, SETTLE_S, STOP_S = 0.03, 0.98, 0.85, 30.0, 0.5
START_S, START_SHARE = 0.5, 0.1


@dataclass
class Foam:
    """Constants of a grade, SI units, rates and viscosity at 40 °C."""

    liquid_density: float = 1050.0
    heat_capacity: float = 1800.0
    induction: float = 0.0
    gas_yield: float = 0.5
    blow_rate: float = 1 / 30
    blow_activation: float = 33e3
    gel_rate: float = 1 / 45
    gel_activation: float = 40e3
    competition: float = 0.0
    blow_heat: float = 20.0
    gel_heat: float = 90.0
    solubility: float = 1e-8
    air_fraction: float = 0.03
    gel_conversion: float = 0.65
    viscosity: float = 1.2
    viscosity_activation: float = 35e3
    viscosity_a: float = 1.5
    viscosity_b: float = 1.0
    settling: float = 0.01
    cell_opening_time: float = inf

    def reactions(self, blown, gelled, temp):
        """dXb/dt, dXg/dt, and the temperature's rate without heat loss."""
        inverse = 1 / temp - 1 / T_REF
        blow = self.blow_rate * exp(-self.blow_activation / R * inverse) * (1 - blown)
        blow /= 1 + self.competition * gelled / (1 - gelled)
        gel = self.gel_rate * exp(-self.gel_activation / R * inverse) * (1 - gelled) ** 2
        return blow, gel, self.blow_heat * blow + self.gel_heat * gel

    def thickness(self, gelled, temp):
        """Castro-Macosko viscosity, Pa s."""
        ratio = self.gel_conversion / max(self.gel_conversion - gelled, 1e-6 * self.gel_conversion)
        at_temp = self.viscosity * exp(self.viscosity_activation / R * (1 / temp - 1 / T_REF))
        return at_temp * ratio ** (self.viscosity_a + self.viscosity_b * gelled)

    def beaten_in(self, ambient, mix_temp):
        """Air from mixing, mol/kg."""
        return self.air_fraction / self.liquid_density * ambient / (R * mix_temp)


def air_viscosity(temp):
    """Sutherland's formula, U.S. Standard Atmosphere 1976, Pa s."""
    return 1.458e-6 * temp**1.5 / (temp + 110.4)


@dataclass
class Opening:
    """A hole or slot: effective area, duct for air, duct for foam."""

    area: float
    duct: float
    foam_duct: float

    @staticmethod
    def hole(diameter, length, discharge, count=1):
        """Round holes; foam converges over 1.5 diameters more."""
        fourth = count * pi * diameter**4 / 128
        return Opening(count * discharge * pi * diameter**2 / 4, fourth / length, fourth / (length + 1.5 * diameter))

    @staticmethod
    def slot(width, land, gap, discharge):
        """A plane slot."""
        duct = width * gap**3 / (12 * land)
        return Opening(discharge * width * gap, duct, duct)

    def blunt(self, ambient, temp):
        """With the resistance of its own orifice at 20 Pa added in squares to the duct's."""
        if self.duct <= 0:
            return self
        cap = self.area * sqrt(2 / BLUNT_PA / (ambient / (RS_AIR * temp))) * air_viscosity(temp)
        return Opening(self.area, (self.duct**-2 + cap**-2) ** -0.5, self.foam_duct)

    def air(self, inside, outside, temp):
        """Mass flow of air outward, kg/s."""
        if inside < outside:
            return -self.air(outside, inside, temp)
        if self.duct <= 0 or inside == outside:
            return 0.0
        laminar = self.duct * (inside - outside) * (inside + outside) / (2 * air_viscosity(temp) * RS_AIR * temp)
        if inside - outside <= 1e-9 * outside:
            return laminar
        ratio = max(outside / inside, (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1)))
        psi = 2 * GAMMA / (GAMMA - 1) * ratio ** (2 / GAMMA) * -np.expm1((GAMMA - 1) / GAMMA * log(ratio))
        orifice = self.area * inside * sqrt(psi / (RS_AIR * temp))
        return (laminar**-2 + orifice**-2) ** -0.5

    def foam(self, gauge, density, viscosity):
        """Mass flow of foam outward, kg/s."""
        if gauge <= 0 or self.foam_duct <= 0:
            return 0.0
        laminar = density * self.foam_duct * gauge / viscosity
        orifice = self.area * sqrt(2 * density * gauge)
        started = sqrt(gauge**3 / (gauge**3 + BLUNT_PA**3))
        return started * laminar * orifice / sqrt(laminar**2 + orifice**2)


# By the names in a mold file: the law of a kind of vents, and which dimensions it takes. What a law makes has `duct`,
# `blunt`, `air` and `foam` as an opening has; a new kind is a new line.
VENT_KINDS = {"hole": (Opening.hole, ("diameter_m", "length_m"))}


@dataclass
class Vent:
    """Vents of one kind and size; `sizes` are its dimensions, SI."""

    sizes: tuple
    at_fill: float = 1.0
    count: int = 1
    kind: str = "hole"

    def opening(self, discharge, ambient, temp):
        """What air and foam meet."""
        return VENT_KINDS[self.kind][0](*self.sizes, discharge, self.count).blunt(ambient, temp)


@dataclass
class Line:
    """The parting line."""

    length: float
    land: float
    gap: float
    opening: float
    at_fill: float = 1.0


@dataclass
class Shot:
    """One casting."""

    foam: Foam = field(default_factory=Foam)
    volume: float = 620e-6
    projected_area: float = 0.015
    wall_area: float = 0.048
    heat_transfer: float = 12.0
    stretch: float = 0.0
    clamp_force: float | None = None
    discharge: float = 0.82
    vents: tuple = (Vent((3e-3, 12e-3)),)
    line: Line | None = None
    charge: float = 0.06
    mix_temp: float = 296.15
    mold_temp: float = 303.15
    ambient: float = 101325.0
    closing_time: float = 10.0
    demold_time: float = 300.0


XB, XG, T, HEAD, VENTED, FLASHED, LOST = range(7)
SCALE = np.array([1.0, 1.0, 100.0, 0.025, 0.06, 0.06, 0.025])


class Mold:
    """One casting under way: its equations in the regime that the flags say."""

    def __init__(self, shot):
        self.shot, self.foam = shot, shot.foam
        self.beaten = shot.foam.beaten_in(shot.ambient, shot.mix_temp)
        self.dormant, self.open, self.saturated, self.gelled = True, True, shot.foam.solubility == 0, False
        self.clamp_open, self.full, self.held, self.front = False, False, None, 0.0
        self.ports = [
            (vent.opening(shot.discharge, shot.ambient, shot.mold_temp), vent.at_fill, VENTED) for vent in shot.vents
        ]

    def pressure(self, y):
        """Absolute pressure: the root of the gas balance."""
        s, f = self.shot, self.foam
        if self.open:
            return s.ambient
        if self.held:
            return y[HEAD] * R * s.mold_temp / self.held
        mass = s.charge - y[VENTED] - y[FLASHED]
        made = self.beaten + (f.gas_yield * y[XB] if self.saturated else 0.0)
        henry = f.solubility / M_CO2 if self.saturated else 0.0
        drive = R * ((mass * made - y[LOST]) * y[T] + y[HEAD] * s.mold_temp)
        room = s.volume - mass / f.liquid_density + henry * mass * R * y[T]
        if s.stretch == 0:
            return drive / room
        # (room + V kappa (p - pa)) p = drive
        half = (room - s.volume * s.stretch * s.ambient) / (2 * s.volume * s.stretch)
        root = sqrt(half * half + drive / (s.volume * s.stretch))
        return root - half if half < 0 else drive / (s.volume * s.stretch) / (root + half)

    def air_volume(self, y, p):
        """Volume ahead of the front, m3."""
        s, f = self.shot, self.foam
        if self.open:
            mass = s.charge
            free = max(f.gas_yield * y[XB] - f.solubility / M_CO2 * p, 0.0) + self.beaten
            return s.volume - mass * (1 / f.liquid_density + free * R * y[T] / p)
        return self.held or y[HEAD] * R * s.mold_temp / p

    def fill(self, y):
        """Share of the cavity that foam takes."""
        p = self.pressure(y)
        return 1 - self.air_volume(y, p) / (self.shot.volume * (1 + self.shot.stretch * (p - self.shot.ambient)))

    def openings(self, p):
        """Every opening with its place in the filling order and where its foam is weighed."""
        yield from self.ports
        s = self.shot
        if s.line:
            excess = (p - s.ambient) * s.projected_area - s.clamp_force if self.clamp_open else 0.0
            gap = s.line.gap + s.line.opening * max(excess, 0.0)
            slot = Opening.slot(s.line.length, s.line.land, gap, s.discharge)
            yield slot.blunt(s.ambient, s.mold_temp), s.line.at_fill, FLASHED

    def __call__(self, _, y):
        s, f = self.shot, self.foam
        out = np.zeros(7)
        mass = s.charge - y[VENTED] - y[FLASHED]
        out[XB], out[XG], heat = (0.0, 0.0, 0.0) if self.dormant else f.reactions(y[XB], y[XG], y[T])
        out[T] = heat - s.heat_transfer * s.wall_area * (y[T] - s.mold_temp) / (mass * f.heat_capacity)
        if self.open:
            return out
        p = self.pressure(y)
        volume = s.volume * (1 + s.stretch * (p - s.ambient))
        density = mass / (volume - self.air_volume(y, p))
        for opening, at_fill, place in self.openings(p):
            if at_fill > self.front and not self.full:
                out[HEAD] -= opening.air(p, s.ambient, s.mold_temp) / M_AIR
            elif not self.gelled:
                out[place] += opening.foam(p - s.ambient, density, f.thickness(y[XG], y[T]))
        if self.gelled and not self.held and np.isfinite(f.cell_opening_time):
            made = self.beaten + (f.gas_yield * y[XB] - f.solubility / M_CO2 * p if self.saturated else 0.0)
            out[LOST] = (mass * made - y[LOST]) * (1 - s.ambient / p) / f.cell_opening_time
        return out

    def fronts(self):
        """Places in the filling order that are still ahead."""
        line = self.shot.line
        places = [at for _, at, _ in self.ports] + ([line.at_fill] if line and (line.gap or line.opening) else [])
        return sorted(at for at in set(places) if at > self.front)

    def marks(self):
        """What ends the regime: name and function that rises through zero."""
        f, s = self.foam, self.shot
        excess = lambda y: f.gas_yield * y[XB] - f.solubility / M_CO2 * self.pressure(y)  # noqa: E731
        push = lambda y: ((self.pressure(y) - s.ambient) * s.projected_area - s.clamp_force) / s.clamp_force  # noqa: E731
        found = {"dissolved" if self.saturated else "saturated": (lambda y: -excess(y)) if self.saturated else excess}
        if self.saturated and f.solubility == 0:
            found.clear()
        if not self.gelled:
            found["gel"] = lambda y: y[XG] - f.gel_conversion
            if not self.open and not self.full and self.fronts():
                place = self.fronts()[0]
                found["front"] = lambda y: self.fill(y) - place
        if s.clamp_force is not None and not self.open:
            found["holds" if self.clamp_open else "opens"] = (lambda y: -push(y)) if self.clamp_open else push
        return found


def cast(shot, rtol=1e-11):
    """Runs a casting; returns a dict of its outcomes; `peak` and `at_gel` are gauge pressures, Pa."""
    mold = Mold(shot)
    y = np.array([0.0, 0.0, shot.mix_temp, 0.0, 0.0, 0.0, 0.0])
    out = {"peak": 0.0, "fill_time": None, "gel_time": None, "rise_start": None, "at_gel": None}
    time, y = _advance(mold, 0.0, y, shot.closing_time, out, rtol)
    y[HEAD] = shot.ambient * mold.air_volume(y, shot.ambient) / (R * shot.mold_temp)
    mold.open = False
    time, y = _advance(mold, time, y, shot.demold_time, out, rtol)
    mass = shot.charge - y[VENTED] - y[FLASHED]
    out |= {"vent_loss": y[VENTED], "flash": y[FLASHED], "part_mass": mass, "density": mass / shot.volume}
    return out | {"fill_fraction": mold.fill(y), "temp": y[T], "scale": scale_readings(shot, mold, y, mass)}


def scale_readings(shot, mold, y, mass):
    """What a scale in air at 23 °C shows of the part at demold and when all CO2 has left it, kg."""
    p = mold.pressure(y)
    volume = mold.fill(y) * shot.volume * (1 + shot.stretch * (p - shot.ambient))
    displaced = shot.ambient * M_AIR / (R * 296.15) * (volume - mass / shot.foam.liquid_density)
    return mass - y[LOST] * M_CO2 - displaced, mass - mass * shot.foam.gas_yield * y[XB] * M_CO2


def _advance(mold, time, y, until, out, rtol):
    wakes = mold.foam.induction
    if mold.dormant and wakes < until:
        time, y = _advance_to(mold, time, y, wakes, out, rtol)
        mold.dormant = False
    return _advance_to(mold, time, y, until, out, rtol)


def _advance_to(mold, time, y, until, out, rtol):
    while time < until:
        marks = mold.marks()
        events = [_terminal(f) for f in marks.values()]
        solution = solve_ivp(
            mold, (time, until), y, method="Radau", rtol=rtol, atol=rtol * SCALE, events=events, dense_output=True
        )
        assert solution.success, solution.message
        _peak(mold, solution, out)
        time, y = solution.t[-1], solution.y[:, -1].copy()
        if solution.status == 0:
            break
        fired = next(n for n, t in zip(marks, solution.t_events, strict=True) if len(t))
        _pass(mold, fired, time, y, out)
    return time, y


def _terminal(function):
    def event(_, y):
        return function(y)

    event.terminal, event.direction = True, 1
    return event


def _peak(mold, solution, out):
    """The highest gauge pressure so far, refined between steps."""
    if mold.open:
        return
    gauge = lambda t: mold.pressure(solution.sol(t)) - mold.shot.ambient  # noqa: E731
    values = [mold.pressure(y) - mold.shot.ambient for y in solution.y.T]
    top = int(np.argmax(values))
    low, high = solution.t[max(top - 1, 0)], solution.t[min(top + 1, len(values) - 1)]
    for _ in range(80):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (a, high) if gauge(a) < gauge(b) else (low, b)
    out["peak"] = max(out["peak"], values[top], gauge((low + high) / 2))


def _pass(mold, fired, time, y, out):
    if fired in ("saturated", "dissolved"):
        mold.saturated = fired == "saturated"
        out["rise_start"] = out["rise_start"] or time
    elif fired in ("opens", "holds"):
        mold.clamp_open = fired == "opens"
    elif fired == "front":
        mold.front = mold.fronts()[0]
        mold.full = mold.front >= 1
        if mold.full:
            y[HEAD] = 0.0
        if not mold.fronts():
            out["fill_time"] = time
    else:
        out["gel_time"], out["at_gel"] = time, mold.pressure(y) - mold.shot.ambient
        mold.gelled = True
        line = mold.shot.line
        ways = [at for o, at, _ in mold.ports if o.duct > 0]
        ways += [line.at_fill] if line and (line.gap > 0 or (mold.clamp_open and line.opening > 0)) else []
        if not mold.full and any(at > mold.front for at in ways):
            mold.held = mold.air_volume(y, mold.pressure(y))


def rise(foam, mass, mix_temp, ambient_temp, ambient, cooling, times, core_heat_loss_factor=1.0, rtol=1e-11):
    """A free rise; `cooling` is U A, W/K, and the core feels a share of it.

    Returns `volume` (m3/kg), `temp` (K) at `times`, and the stopwatch times.
    """
    beaten = foam.beaten_in(ambient, mix_temp)
    per_second = cooling / (mass * foam.heat_capacity)

    def rate(_, y, cooled=per_second):
        blow, gel, heat = foam.reactions(*y)
        return [blow, gel, heat - cooled * (y[2] - ambient_temp)]

    def specific(y):
        free = max(foam.gas_yield * y[0] - foam.solubility / M_CO2 * ambient, 0.0) + beaten
        return 1 / foam.liquid_density + free * R * y[2] / ambient

    def gel_event(_, y, *_args):
        return y[1] - foam.gel_conversion

    end = max(7200.0, *times)
    how = {"method": "Radau", "rtol": rtol, "atol": rtol * np.array([1, 1, 100]), "events": gel_event}
    # Until the reactions start the mix cools as Newton's law says.
    wakes = foam.induction

    def cooled(t, by=per_second):
        return [0.0, 0.0, ambient_temp + (mix_temp - ambient_temp) * exp(-by * t)]

    of_core = per_second * core_heat_loss_factor
    course = solve_ivp(rate, (wakes, end), cooled(wakes), dense_output=True, **how)
    core = solve_ivp(rate, (wakes, end), cooled(wakes, of_core), args=(of_core,), **how)
    state = lambda t: course.sol(t) if t > wakes else cooled(t)  # noqa: E731
    gel = float(course.t_events[0][0])
    top, bottom = specific(state(gel)), specific([0.0, 0.0, mix_temp])
    when = lambda goal: brentq(lambda t: specific(state(t)) - goal, wakes, gel, xtol=1e-12)  # noqa: E731
    held = lambda t: top * (1 - foam.settling * (1 - exp((gel - t) / SETTLE_S)))  # noqa: E731
    sharp = lambda t: held(t) if t > gel else specific(state(t))  # noqa: E731
    # The corner where the rise stops is rounded: a soft minimum of both branches, scaled by the change of slope.
    bend = STOP_S * ((top - specific(state(gel - 1e-4))) / 1e-4 + top * foam.settling / SETTLE_S)
    # So is the one where CO2 begins to come out of the liquid.
    beyond = lambda t: foam.gas_yield * state(t)[0] - foam.solubility / M_CO2 * ambient  # noqa: E731
    begin = brentq(beyond, wakes, gel, xtol=1e-12)
    soft = min(START_S, START_SHARE * begin)
    freed = (beyond(begin + 1e-4) - beyond(begin - 1e-4)) / 2e-4
    rounded = soft * freed * R * state(begin)[2] / ambient

    def volume(t):
        after_start = rounded * np.log1p(exp(-abs(t - begin) / soft))
        return sharp(t) + after_start - bend * np.log1p(exp(-abs(t - gel) / STOP_S))

    return {
        "volume": np.array([volume(t) for t in times]),
        "temp": np.array([state(t)[2] for t in times]),
        "gel_time": float(core.t_events[0][0]),
        "cream_time": when(bottom * (1 + CREAM)),
        "end_of_rise": when(bottom + (top - bottom) * END_OF_RISE),
        "tack_free": brentq(lambda t: state(t)[1] - TACK_FREE, gel, end, xtol=1e-12),
        "density": 1 / top,
    }
