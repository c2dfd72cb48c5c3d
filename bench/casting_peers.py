"""One casting by integrators that Python offers: SciPy's LSODA, and CVODE with plain and with compiled equations."""

import importlib.util

import equations as eq
import numpy as np
from scipy.integrate import solve_ivp
from sksundae.cvode import CVODE

# How large the components of the state become; `share` times this times the relative tolerance is the absolute one.
SIZES = np.array([1.0, 1.0, 100.0, 0.025, 0.06])
SATURATION, FRONT, GEL = range(3)


def start(shot, vent):
    """Constants and state at the pour."""
    return eq.constants(shot, vent), [0.0, 0.0, shot.mix_temp, 0.0, 0.0]


def top(times, values):
    """The vertex of the parabola through the highest value and its neighbors."""
    i = int(np.argmax(values))
    if i in (0, len(values) - 1):
        return float(values[i])
    (a, b, c), (x, y, z) = times[i - 1 : i + 2], values[i - 1 : i + 2]
    slope, next_slope = (y - x) / (b - a), (z - y) / (c - b)
    bend = (next_slope - slope) / (c - a)
    middle = slope + bend * (b - a)
    return float(y - middle * middle / (4 * bend)) if bend < 0 else float(y)


class Casting:
    """A casting under way: what integrators share. `advance(until)` of a subclass ends at a mark or at `until`."""

    def __init__(self, shot, vent, rtol, share):
        self.shot, self.rtol, self.atol = shot, rtol, rtol * share * SIZES
        self.c, self.y = start(shot, vent)
        self.time, self.peak, self.fill_time = 0.0, shot.ambient, float("nan")

    def run(self):
        """Peak gauge pressure (Pa), fill time (s), density (kg/m3), vent loss (kg)."""
        self.advance_past_marks(self.shot.closing_time)
        self.y[3] = eq.headspace_at_closing(self.y[0], self.y[2], self.c)
        self.c[eq.PHASE] = eq.RISING
        self.advance_past_marks(self.shot.demold_time)
        vented = self.y[4]
        return self.peak - self.shot.ambient, self.fill_time, (self.shot.charge - vented) / self.shot.volume, vented

    def advance_past_marks(self, until):
        """Integrates to `until` through all marks."""
        while (mark := self.advance(until)) is not None:
            if mark == SATURATION:
                self.c[eq.SATURATED] = 1.0
            elif mark == FRONT:
                self.c[eq.PHASE], self.y[3], self.fill_time = eq.FILLED, 0.0, self.time
            else:
                self.c[eq.PHASE] = eq.SET

    def see(self, times, states):
        """Looks for the peak in the accepted steps; `states` has a row per step."""
        if self.c[eq.PHASE] != eq.OPEN:
            values = eq.pressure(states[:, 0], states[:, 2], states[:, 3], states[:, 4], self.c)
            self.peak = max(self.peak, top(times, values))


class Lsoda(Casting):
    """SciPy's `solve_ivp` with LSODA and terminal events."""

    def advance(self, until):
        c = self.c
        rate = lambda _, y: eq.rate(*y.tolist(), c)  # noqa: E731
        armed = [m for m, v in enumerate(eq.marks(*self.y, c)) if v != 1.0]
        events = [self.event(m) for m in armed]
        found = solve_ivp(
            rate, (self.time, until), np.array(self.y), method="LSODA", rtol=self.rtol, atol=self.atol, events=events
        )
        if not found.success:
            raise ArithmeticError(found.message)
        self.see(found.t, found.y.T)
        self.time, self.y = float(found.t[-1]), found.y[:, -1].tolist()
        fired = [m for m, t in zip(armed, found.t_events or [], strict=True) if len(t)]
        return fired[0] if found.status == 1 else None

    def event(self, mark):
        c = self.c

        def value(_, y):
            return eq.marks(*y.tolist(), c)[mark]

        value.terminal, value.direction = True, 1
        return value


class Cvode(Casting):
    """CVODE (BDF) with equations in Python."""

    functions = None

    def __init__(self, shot, vent, rtol, share):
        super().__init__(shot, vent, rtol, share)
        self.pack()
        rate, marks = self.functions or (plain_rate, plain_marks)
        self.solver = CVODE(
            rate,
            userdata=(self.c,),
            rtol=rtol,
            atol=self.atol,
            eventsfn=marks,
            num_events=3,
            max_num_steps=100_000,
        )

    def pack(self):
        """Brings the constants into the form that the equations take."""

    def advance(self, until):
        if self.time >= until:
            return None
        found = self.solver.solve(np.array([self.time, until]), np.array(self.y))
        if not found.success:
            raise ArithmeticError(found.message)
        self.see(found.t, found.y)
        self.time, self.y = float(found.t[-1]), found.y[-1].tolist()
        if found.i_events is None or not len(found.i_events):
            return None
        return int(np.flatnonzero(found.i_events[-1])[0])


def plain_rate(_, y, out, data):
    """CVODE's right-hand side, in plain floats."""
    out[:] = eq.rate(*y.tolist(), data[0])


def plain_marks(_, y, out, data):
    """CVODE's event functions, in plain floats."""
    out[:] = eq.marks(*y.tolist(), data[0])


class CompiledCvode(Cvode):
    """CVODE with equations compiled by numba, from the same source. It calls them through Python objects: scikit-sundae
    takes no pointer to a C function."""

    def pack(self):
        self.c = np.array(self.c)
        if CompiledCvode.functions is None:
            CompiledCvode.functions = compiled()


def compiled():
    """The same equations as machine code: right-hand side and events."""
    from numba import njit

    # A second copy of the module, whose functions call one another compiled.
    spec = importlib.util.spec_from_file_location("compiled_equations", eq.__file__)
    fast = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(fast)
    for name in ("pressure", "air_flow", "foam_flow", "rate", "marks"):
        setattr(fast, name, njit(getattr(fast, name)))
    rate, marks = fast.rate, fast.marks

    @njit
    def right_side(_, y, out, data):
        out[0], out[1], out[2], out[3], out[4] = rate(y[0], y[1], y[2], y[3], y[4], data[0])

    @njit
    def events(_, y, out, data):
        out[0], out[1], out[2] = marks(y[0], y[1], y[2], y[3], y[4], data[0])

    return right_side, events
