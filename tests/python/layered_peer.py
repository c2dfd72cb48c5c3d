"""The layered foam's equations in plain Python for SciPy's stiff solver: a test oracle only.

Uniform finite volumes in the mass coordinate instead of the Rust side's nodes: layer 0 lies at the wall, the last one
at the mid-plane; the error falls with the square of their number. What the lumped model has too (openings, foam,
induction) is that of `peer_model`. SI units, pressures absolute inside. No clamp that gives way, no leaks.
"""

from dataclasses import dataclass, field

import numpy as np
import peer_model as lumped
from peer_model import M_AIR, M_CO2, T_REF, R
from scipy.integrate import solve_ivp
from scipy.sparse import csc_matrix

CO2_CONDUCTIVITY = 0.0194


@dataclass
class Foam(lumped.Foam):
    """A grade; `conductivity` is that of the mix without gas, W/(m K)."""

    conductivity: float = 0.20


@dataclass
class Mold:
    """A mold: `contact_transfer` between the foam's surface and the wall, W/(m2 K); bolted."""

    volume: float = 620e-6
    wall_area: float = 0.06
    contact_transfer: float = 500.0
    stretch: float = 0.0
    discharge: float = 0.82
    vents: tuple = (lumped.Vent((4e-3, 10e-3)),)
    line: lumped.Line | None = None
    conduction_factor: float = 1.0


@dataclass
class Casting:
    """How a mold is used."""

    charge: float = 0.062
    mix_temp: float = 296.15
    mold_temp: float = 303.15
    ambient: float = 101325.0
    closing_time: float = 10.0
    demold_time: float = 300.0


def maxwell(gas_share, solid, gas=CO2_CONDUCTIVITY):
    """Conductivity of a solid with spheres of gas, W/(m K): also the upper bound of Hashin and Shtrikman."""
    less = gas_share * (solid - gas)
    return solid * (2 * solid + gas - 2 * less) / (2 * solid + gas + less)


@dataclass
class Course:
    """A casting under way, in the regime that the flags say. States are columns; any number at once.

    Rows: turnovers of blowing and of gelling, temperature and gas lost of every layer; then air ahead of the front,
    vent loss, flash, and heat that went to the wall per kilogram of foam.
    """

    foam: Foam
    mold: Mold
    casting: Casting
    layers: int
    dormant: bool = True
    open: bool = True
    gelled: bool = False
    full: bool = False
    held: float | None = None
    front: float = 0.0
    ports: list = field(default_factory=list)

    def __post_init__(self):
        f, m, c = self.foam, self.mold, self.casting
        self.beaten = f.beaten_in(c.ambient, c.mix_temp)
        size = self.layers
        self.blow, self.gel, self.temp, self.lost = (slice(i * size, (i + 1) * size) for i in range(4))
        self.head, self.vented, self.flashed, self.heat = range(4 * size, 4 * size + 4)
        for vent in m.vents:
            self.ports.append((vent.opening(m.discharge, c.ambient, c.mold_temp), vent.at_fill, self.vented))
        if m.line:
            slot = lumped.Opening.slot(m.line.length, m.line.land, m.line.gap, m.discharge)
            self.ports.append((slot.blunt(c.ambient, c.mold_temp), m.line.at_fill, self.flashed))

    def poured(self):
        """The state at t = 0, a vector."""
        each = [0.0, 0.0, self.casting.mix_temp, 0.0]
        return np.concatenate([np.repeat(each, self.layers), np.zeros(4)])

    def scale(self):
        """Size of each row, for tolerances."""
        each = [1.0, 1.0, 100.0, 0.025 / self.layers]
        return np.concatenate([np.repeat(each, self.layers), [0.025, 0.06, 0.06, 1e5]])

    def conversions(self, y):
        """Of blowing and of gelling, per layer."""
        return -np.expm1(-y[self.blow]), y[self.gel] / (1 + y[self.gel])

    def mass(self, y):
        """Foam in the cavity."""
        return self.casting.charge - y[self.vented] - y[self.flashed]

    def free_gas(self, y, p):
        """Moles free in each layer, and their derivative by pressure."""
        f, each = self.foam, self.mass(y) / self.layers
        beyond = f.gas_yield * self.conversions(y)[0] - f.solubility / M_CO2 * p
        return each * (np.maximum(beyond, 0.0) + self.beaten) - y[self.lost], -each * f.solubility / M_CO2 * (
            beyond > 0
        )

    def specific_volumes(self, y, p):
        """Volume of a kilogram of foam in each layer."""
        free, _ = self.free_gas(y, p)
        return 1 / self.foam.liquid_density + free * R * y[self.temp] * self.layers / (p * self.mass(y))

    def volume(self, p):
        """Of the cavity."""
        return self.mold.volume * (1 + self.mold.stretch * (p - self.casting.ambient))

    def pressure(self, y):
        """Absolute pressure at which foam and headspace fill the cavity: Newton, exact once the saturated are known."""
        m, c = self.mold, self.casting
        p = np.full(y.shape[1], c.ambient)
        if self.open:
            return p
        if self.held:
            return y[self.head] * R * c.mold_temp / self.held
        liquid = self.mass(y) / self.foam.liquid_density
        for _ in range(60):
            free, slope = self.free_gas(y, p)
            excess = p * (self.volume(p) - liquid) - R * ((free * y[self.temp]).sum(0) + y[self.head] * c.mold_temp)
            rise = self.volume(p) + m.volume * m.stretch * p - liquid - R * (slope * y[self.temp]).sum(0)
            p = p - excess / rise
            if np.all(abs(excess) <= 1e-12 * abs(p * rise)):
                return p
        raise AssertionError("no pressure found")

    def air_volume(self, y, p):
        """Ahead of the front."""
        if self.open:
            return self.mold.volume - self.mass(y) * self.specific_volumes(y, p).mean(0)
        return self.held or y[self.head] * R * self.casting.mold_temp / p

    def fill(self, y, p):
        """Share of the cavity that foam takes."""
        return 1 - self.air_volume(y, p) / self.volume(p)

    def passes_air(self):
        """Whether an opening connects the headspace to the outside."""
        return not self.full and any(o.duct > 0 and at > self.front for o, at, _ in self.ports)

    def conduction(self, y, p):
        """Heat flux toward the wall at each face between layers and at both ends, W/m2; wetted wall per mass, m2/kg."""
        m, c = self.mold, self.casting
        share = self.fill(y, p)
        if not self.open and self.held is None and self.passes_air():
            p = np.full_like(p, c.ambient)
            share = self.mass(y) * self.specific_volumes(y, p).mean(0) / m.volume
        wetted = m.wall_area * share / self.mass(y)
        volumes = self.specific_volumes(y, p)
        gas_share = 1 - 1 / (self.foam.liquid_density * volumes)
        carried = m.conduction_factor * maxwell(gas_share, self.foam.conductivity) / volumes
        # The arithmetic mean: closer than the harmonic one at any number of layers.
        between = (carried[1:] + carried[:-1]) / 2 * wetted * self.layers * np.diff(y[self.temp], axis=0)
        contact = m.conduction_factor * m.contact_transfer
        surface = (y[self.temp][:1] - c.mold_temp) / (1 + contact / (2 * self.layers * wetted * carried[:1]))
        flux = np.concatenate([contact * surface, between, np.zeros_like(surface)])
        return flux, wetted, surface[0] + c.mold_temp

    def rates(self, _, y):
        """Time derivatives."""
        f, c = self.foam, self.casting
        out = np.zeros_like(y)
        if not self.dormant:
            self.react(y, out)
        p = self.pressure(y)
        flux, wetted, _ = self.conduction(y, p)
        out[self.temp] += wetted * self.layers / f.heat_capacity * np.diff(flux, axis=0)
        out[self.heat] = wetted * flux[0]
        if self.open:
            return out
        self.flow(y, p, out)
        if self.gelled and not self.held:
            out[self.lost] = self.free_gas(y, p)[0] * (1 - c.ambient / p) / f.cell_opening_time
        return out

    def react(self, y, out):
        """Blowing, gelling and their heat."""
        f = self.foam
        inverse = (1 / y[self.temp] - 1 / T_REF) / R
        out[self.blow] = f.blow_rate * np.exp(-f.blow_activation * inverse) / (1 + f.competition * y[self.gel])
        out[self.gel] = f.gel_rate * np.exp(-f.gel_activation * inverse)
        out[self.temp] += f.blow_heat * out[self.blow] * np.exp(-y[self.blow])
        out[self.temp] += f.gel_heat * out[self.gel] / (1 + y[self.gel]) ** 2

    def coupled(self):
        """Which derivatives Newton needs, rows by columns: of a layer by itself and its neighbors, of what all share.

        Layers also act on all others through the pressure and the wetted wall, but not stiffly.
        """
        near = abs(np.subtract.outer(np.arange(self.layers), np.arange(self.layers))) <= 1
        mask = np.ones((4 * self.layers + 4,) * 2, dtype=bool)
        mask[: self.head, : self.head] = np.tile(near, (4, 4))
        return mask

    def jacobian(self, time, y):
        """Derivatives of the rates by forward differences, sparse."""
        step = 1e-8 * np.maximum(abs(y), self.scale())
        moved = self.rates(time, y[:, None] + np.diag(step))
        return csc_matrix((moved - self.rates(time, y[:, None])) / step * self.coupled())

    def flow(self, y, p, out):
        """Through the openings, column by column."""
        f, c = self.foam, self.casting
        density = self.mass(y) / (self.volume(p) - self.air_volume(y, p))
        gelled, temp = self.conversions(y)[1].mean(0), y[self.temp].mean(0)
        for opening, at_fill, place in self.ports:
            for i in range(len(p)):
                if at_fill > self.front and not self.full:
                    out[self.head, i] -= opening.air(p[i], c.ambient, c.mold_temp) / M_AIR
                elif not self.gelled:
                    thick = f.thickness(gelled[i], temp[i])
                    out[place, i] += opening.foam(p[i] - c.ambient, density[i], thick)

    def fronts(self):
        """Places in the filling order that are still ahead."""
        return sorted({at for _, at, _ in self.ports if at > self.front})

    def marks(self):
        """What ends the regime: name and function that rises through zero."""
        if self.gelled:
            return {}
        found = {"gel": lambda _, y: self.conversions(y)[1].mean() - self.foam.gel_conversion}
        if not self.open and not self.full and self.fronts():
            place = self.fronts()[0]
            found["front"] = lambda _, y: self.fill(y[:, None], self.pressure(y[:, None]))[0] - place
        for mark in found.values():
            mark.terminal, mark.direction = True, 1
        return found

    def cross(self, mark, time, y, out):
        """Enters the regime beyond a mark."""
        p = self.pressure(y[:, None])
        if mark == "front":
            self.front = self.fronts()[0]
            self.full = self.front >= 1
            if self.full:
                y[self.head] = 0.0
            if not self.fronts():
                out["fill_time"] = time
        else:
            out["gel_time"], out["at_gel"] = time, p[0] - self.casting.ambient
            self.gelled = True
            if self.passes_air():
                self.held = self.air_volume(y[:, None], p)[0]


def layered(foam, mold, casting, layers=40, rtol=1e-8):
    """Runs a casting; returns a dict of its outcomes: pressures gauge, the profile and the balances at demold."""
    course = Course(foam, mold, casting, layers)
    out = {"peak": 0.0, "peak_time": None, "fill_time": None, "gel_time": None, "at_gel": None}
    time, y = _advance(course, 0.0, course.poured(), casting.closing_time, out, rtol)
    p = course.pressure(y[:, None])
    y[course.head] = casting.ambient * course.air_volume(y[:, None], p)[0] / (R * casting.mold_temp)
    course.open = False
    _, y = _advance(course, time, y, casting.demold_time, out, rtol)
    return out | _demold(course, y[:, None])


def _advance(course, time, y, until, out, rtol):
    wakes = course.foam.induction
    if course.dormant and wakes < until:
        time, y = _advance_to(course, time, y, wakes, out, rtol)
        course.dormant = False
    return _advance_to(course, time, y, until, out, rtol)


def _advance_to(course, time, y, until, out, rtol):
    while time < until:
        marks = course.marks()
        how = {"rtol": rtol, "atol": rtol * course.scale(), "jac": course.jacobian, "events": list(marks.values())}
        solution = solve_ivp(course.rates, (time, until), y, method="Radau", vectorized=True, dense_output=True, **how)
        assert solution.success, solution.message
        _peak(course, solution, out)
        time, y = solution.t[-1], solution.y[:, -1].copy()
        if solution.status == 0:
            break
        course.cross(next(n for n, t in zip(marks, solution.t_events, strict=True) if len(t)), time, y, out)
    return time, y


def _peak(course, solution, out):
    """The highest gauge pressure so far, refined between steps."""
    if course.open:
        return
    gauge = lambda t: course.pressure(solution.sol(t)[:, None])[0] - course.casting.ambient  # noqa: E731
    top = int(np.argmax(course.pressure(solution.y)))
    low, high = solution.t[max(top - 1, 0)], solution.t[min(top + 1, len(solution.t) - 1)]
    for _ in range(60):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (a, high) if gauge(a) < gauge(b) else (low, b)
    for t in (solution.t[top], (low + high) / 2):
        if gauge(t) > out["peak"]:
            out["peak"], out["peak_time"] = gauge(t), t


def _demold(course, y):
    """What a state, one column, comes to."""
    p, size = course.pressure(y), course.layers
    blown, gelled = course.conversions(y)
    temp = y[course.temp][:, 0]
    # No flux at the mid-plane: a parabola through the last two layers.
    core = temp[-1] + (temp[-1] - temp[-2]) / 8 if size > 1 else temp[-1]
    return {
        "pressure": p[0] - course.casting.ambient,
        "part_mass": course.mass(y)[0],
        "vent_loss": y[course.vented, 0],
        "flash": y[course.flashed, 0],
        "fill_fraction": course.fill(y, p)[0],
        "air_left": y[course.head, 0],
        "gas_lost": y[course.lost].sum(),
        "heat_lost": y[course.heat, 0],
        "surface_temp": course.conduction(y, p)[2][0],
        "core_temp": core,
        "profile": {
            "xi": (np.arange(size) + 0.5) / size,
            "density": 1 / course.specific_volumes(y, p)[:, 0],
            "temp": temp,
            "gelled": gelled[:, 0],
            "blown": blown[:, 0],
        },
    }
