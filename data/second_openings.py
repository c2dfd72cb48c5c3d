"""The mold of the second invented nature: its openings, clamps and lid, and what flows out. SI; pressures absolute."""

from dataclasses import dataclass
from math import exp, log, log1p, pi, sqrt

from closed_mold import M_AIR, MU_AIR, Vent
from nature import R

SOUND = 340.0  # m/s, no air leaves faster


@dataclass(frozen=True)
class SecondMold:
    """A mold as it truly is: where the first nature has a film to a wall of fixed temperature, this one has a wall."""

    volume: float = 620e-6
    projected_area: float = 150e-4
    wall_area: float = 480e-4
    wall_thickness: float = 6e-3
    wall_conductivity: float = 0.23  # W/(m K), printed
    wall_heat: float = 1.65e6  # J/(m3 K)
    outer_film: float = 10.0  # W/(m2 K), to the shop's air
    contact: float = 420.0  # W/(m2 K), foam pressed to the wall
    shrink_gap: float = 0.25e-3  # m, air between wall and a set part that no longer presses
    shrink_pressure: float = 12e3  # Pa gauge at which half of that gap is closed
    entrance_loss: float = 1.9  # velocity heads lost in a vent
    vents: tuple[Vent, ...] = (Vent(),)
    vents_at_fill: float = 0.998  # air behind the front that has passed the vents is trapped
    seam_length: float = 0.6
    seam_land: float = 5e-3
    seam_gap: float = 4e-6
    seam_opening: float = 5e-6  # m/N
    clamp_force: float = 1500.0
    clamp_softness: float = 0.08  # of the force, over which the clamps give way one after another
    lid_room: float = 0.6  # a lid lifts aslant: room over projected area times gap
    gas_seam: float = 0.8e-3  # m, conductance of a closed seam for gas of opened cells, at 0.6 m
    gas_gap: float = 15e-6  # m, gap that doubles it
    wall_volumes: int = 10


# ---- flow out of the mold ----


def seam_gap(mold, p, pa):
    """Gap of the seam at this pressure, m, and its slope with pressure: soft, as clamps never give way at once."""
    width = mold.clamp_softness * mold.clamp_force
    over = ((p - pa) * mold.projected_area - mold.clamp_force) / width
    if over > 40.0:
        return mold.seam_gap + mold.seam_opening * width * over, mold.seam_opening * mold.projected_area
    grown = exp(over)
    slope = grown / (1.0 + grown)
    return mold.seam_gap + mold.seam_opening * width * log1p(grown), mold.seam_opening * mold.projected_area * slope


def lid_room(mold, p, pa):
    """Room that the lifted lid makes, m3, and its slope with pressure."""
    gap, slope = seam_gap(mold, p, pa)
    share = mold.lid_room * mold.projected_area
    return share * (gap - mold.seam_gap), share * slope


def gas_pressure(mold, pa, energy, liquid):
    """Pressure of gas (R times moles times temperature, J) in what the liquid leaves of the cavity, Pa; by Newton."""
    p = energy / (mold.volume - liquid)
    for _ in range(30):
        room, slope = lid_room(mold, p, pa)
        room += mold.volume - liquid
        change = (energy / p - room) / (energy / p**2 + slope)
        p += change
        if abs(change) < 1e-10 * p:
            break
    return p


def air_out(mold, p, pa, temp):
    """Air out of the headspace, kg/s: entrance loss and laminar friction one after the other, and a slot."""
    if p <= pa:
        return 0.0
    density = 0.5 * (p + pa) * M_AIR / (R * temp)
    q = density * mold.seam_length * mold.seam_gap**3 * (p - pa) / (12 * MU_AIR * mold.seam_land)
    for vent in mold.vents:
        inertia = 0.5 * mold.entrance_loss * density
        friction = 32 * MU_AIR * vent.length / vent.diameter**2
        u = 2 * (p - pa) / (friction + sqrt(friction**2 + 4 * inertia * (p - pa)))
        q += vent.count * density * pi / 4 * vent.diameter**2 * min(u, SOUND)
    return q


def drained(inertia, friction, n, dp):
    """Velocity at which inertia u^2 + friction u^n = dp; Newton in logarithms."""
    u = min(sqrt(dp / inertia), (dp / friction) ** (1 / n))
    for _ in range(8):
        a, b = inertia * u * u, friction * u**n
        step = log(dp / (a + b)) * (a + b) / (2 * a + n * b)
        u *= exp(step)
        if abs(step) < 1e-12:
            break
    return u


def foam_vents(n, mold, dp, density, consistency):
    """Foam out of the vents, kg/s: entrance loss and a power-law fluid in the tube."""
    q = 0.0
    for vent in mold.vents:
        inertia = 0.5 * mold.entrance_loss * density
        shear = 8 / vent.diameter * (3 * n + 1) / (4 * n)
        friction = 4 * (vent.length + vent.diameter) / vent.diameter * consistency * shear**n
        q += vent.count * density * pi / 4 * vent.diameter**2 * drained(inertia, friction, n, dp)
    return q


def foam_seam(n, mold, gap, dp, density, consistency):
    """Foam out of the seam, kg/s: a power-law fluid in a slot."""
    stress = gap * dp / (2 * mold.seam_land)
    return density * mold.seam_length * gap**2 * n / (2 * (2 * n + 1)) * (stress / consistency) ** (1 / n)
