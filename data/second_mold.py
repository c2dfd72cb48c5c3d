"""The second invented nature in a vented mold: foam, air and a wall that warms from shot to shot; one whole casting."""

from dataclasses import dataclass, field
from math import pi

import numpy as np
from closed_mold import M_AIR, MU_AIR, CastRun
from nature import M_CO2, T_REF, R, crossing
from scipy.optimize import brentq
from second_nature import (
    AIR,
    DISSOLVED,
    FREE,
    OH,
    TEMP,
    WATER,
    conduct,
    foam_chain,
    fresh_mix,
    moles_temp,
    opened,
    react,
)
from second_openings import air_out, foam_seam, foam_vents, gas_pressure, lid_room, seam_gap


@dataclass
class SecondRun(CastRun):
    """A casting without noise, with what only this nature has."""

    skin_thickness: float = 0.0  # m, to where foam is 1.2 times as dense as in the middle
    wall: np.ndarray = field(default=None, repr=False)  # K, from the foam outward, at demold
    balances: dict = field(default_factory=dict, repr=False)


# ---- the wall ----


def wall_parts(mold):
    """Thicknesses of the wall's volumes from the foam outward, m: thin where heat comes in."""
    parts = 1.35 ** np.arange(mold.wall_volumes)
    return mold.wall_thickness * parts / parts.sum()


def wall_chain(mold):
    """Heat capacities, J/K, and resistances from middle to face, K/W, of the wall's volumes."""
    parts = wall_parts(mold)
    return parts * mold.wall_heat * mold.wall_area, 0.5 * parts / (mold.wall_conductivity * mold.wall_area)


def rest(mold, wall, seconds, ambient, inner_film=7.0, steps=40):
    """The wall after standing open for a while: air cools it on both sides."""
    capacity, half = wall_chain(mold)
    inner = 1.0 / (half[0] + 1.0 / (inner_film * mold.wall_area))
    outer = half[-1] + 1.0 / (mold.outer_film * mold.wall_area)
    # The air inside is one more link, so large that it stays as warm as it is.
    chain = np.concatenate([[inner], 1.0 / np.append(half[:-1] + half[1:], outer)])
    temp = np.concatenate([[ambient], wall])
    for _ in range(steps):
        temp, _ = conduct(np.concatenate([[1e9], capacity]), chain, temp, seconds / steps, ambient)
    return temp[1:]


# ---- the casting ----


class Cavity:
    """The foam, the air and the wall of a closed mold while one casting runs."""

    def __init__(self, nature, mold, setting, wall=None):
        self.nature, self.mold, self.setting = nature, mold, setting
        self.pa = self.p = setting.ambient_pressure
        self.liquid_v = 1.0 / nature.liquid_density
        self.mass = setting.mass * nature.shares
        self.y = fresh_mix(nature, setting.mix_temp, self.pa)
        self.v = self.liquid_v + moles_temp(self.y) / self.pa
        self.wall = np.full(mold.wall_volumes, setting.mold_temp) if wall is None else np.array(wall, float)
        self.wall_before = self.wall
        self.wall_capacity, self.wall_half = wall_chain(mold)
        self.head = None  # mol of air above the foam once closed; what is trapped stays
        self.v_gel = self.v
        self.vent_loss = self.flash = self.gas_lost = self.air_in = 0.0
        self.heat_out, self.carried = 0.0, np.zeros(4)
        self.filled = self.gelled = False

    @property
    def foam_volume(self):
        return float(self.mass @ self.v)

    @property
    def fill(self):
        return min(1.0, self.foam_volume / self.mold.volume)

    def flow_weights(self):
        """Shares of the volumes in what flows: fastest in the middle, nothing at the wall; they sum to 1."""
        depth = np.cumsum(self.mass * self.v)
        depth = (depth - 0.5 * self.mass * self.v) / depth[-1]
        weights = self.mass * (1.0 - depth**2)
        return weights / weights.sum()

    def step(self, t, dt):
        """Reaction and heat, then flow: air, foam or, after gel, only gas."""
        self.y = react(self.nature, self.y, dt, self.p)
        self.exchange_heat(dt)
        if t + dt < self.setting.closing_time or (self.gelled and not self.filled):
            self.p = self.pa
            if not self.gelled:
                self.v = self.liquid_v + moles_temp(self.y) / self.pa
        elif self.gelled:
            self.collapse(dt)
            self.lose_gas(dt)
            self.stand(dt)
        elif self.filled:
            self.collapse(dt)
            self.push_foam(dt)
        else:
            self.push_air(dt)
        self.gelled = self.gelled or self.flow_conversion() >= self.nature.gel_conversion

    def flow_conversion(self):
        """OH conversion of what flows: at gel the foam stands."""
        return float(self.flow_weights() @ self.y[OH])

    def exchange_heat(self, dt):
        """Foam and wall are one chain; a part that no longer presses shrinks from the wall."""
        wet = self.mold.wall_area * max(self.fill, 0.02) ** 0.8
        capacity, half = foam_chain(self.nature, self.mass, self.v, self.y[TEMP], wet)
        film = 1.0 / self.mold.contact
        if self.gelled:
            pressed = self.p - self.pa
            film += self.mold.shrink_gap / 0.027 * self.mold.shrink_pressure / (self.mold.shrink_pressure + pressed)
        inner = half[-1] + film / wet + self.wall_half[0]
        outer = self.wall_half[-1] + 1.0 / (self.mold.outer_film * self.mold.wall_area)
        links = [half[:-1] + half[1:], [inner], self.wall_half[:-1] + self.wall_half[1:], [outer]]
        temp = np.concatenate([self.y[TEMP], self.wall])
        capacity = np.concatenate([capacity, self.wall_capacity])
        temp, lost = conduct(capacity, 1.0 / np.concatenate(links), temp, dt, self.setting.ambient_temp)
        self.y[TEMP], self.wall = temp[: self.mass.size], temp[self.mass.size :]
        self.heat_out += float(lost)

    def push_air(self, dt):
        """The foam rises and drives the air out; implicit in the air left, since it empties in milliseconds."""
        surface = float(self.wall[0])
        if self.head is None:
            self.close(surface)
        liquid, own = float(self.mass.sum()) * self.liquid_v, float(self.mass @ moles_temp(self.y))

        def pressure(head):
            return gas_pressure(self.mold, self.pa, own + head * R * surface, liquid)

        def excess(head):
            return head - self.head + dt / M_AIR * air_out(self.mold, pressure(head), self.pa, surface)

        self.head = 0.0 if excess(0.0) >= 0.0 else brentq(excess, 0.0, self.head, xtol=1e-15, rtol=1e-12)
        self.p = pressure(self.head)
        self.v = self.liquid_v + moles_temp(self.y) / self.p
        self.filled = self.head * R * surface / self.p <= (1.0 - self.mold.vents_at_fill) * self.mold.volume

    def close(self, surface):
        """The lid goes on; what stands above the rim comes out as flash."""
        above = self.foam_volume / (0.999 * self.mold.volume)
        if above > 1.0:
            lost = float(self.mass.sum()) * (1.0 - 1.0 / above)
            self.flash += lost
            self.take(self.mass / self.mass.sum() * lost)
        self.head = (self.mold.volume - self.foam_volume) * self.pa / (R * surface)

    def take(self, masses):
        """Foam that leaves takes its heat and gas along."""
        self.carried += account(self.nature, self.y, masses)
        self.mass = self.mass - masses

    def push_foam(self, dt):
        """The full cavity drives foam out, most from the middle; implicit in the mass lost."""
        weights = self.flow_weights()
        fluid = self.fluidity(weights)
        energy = float(self.mass @ moles_temp(self.y)) + self.head * R * float(self.wall[0])
        liquid = float(self.mass.sum()) * self.liquid_v
        leaving = float(weights @ moles_temp(self.y))

        def flows(lost):
            p = gas_pressure(self.mold, self.pa, energy - lost * leaving, liquid - lost * self.liquid_v)
            if p <= self.pa or fluid == 0.0:
                return 0.0, 0.0, p
            # Foam expands on its way out.
            density = 1.0 / (self.liquid_v + leaving / (0.5 * (p + self.pa)))
            gap, n = seam_gap(self.mold, p, self.pa)[0], self.nature.thinning
            vents = foam_vents(n, self.mold, p - self.pa, density, 1.0 / fluid)
            return dt * vents, dt * foam_seam(n, self.mold, gap, p - self.pa, density, 1.0 / fluid), p

        lost = 0.0
        if sum(flows(0.0)[:2]) > 0.0:
            lost = brentq(lambda m: m - sum(flows(m)[:2]), 0.0, 0.5 * float(self.mass.sum()), xtol=1e-15, rtol=1e-11)
        vent, seam, self.p = map(float, flows(lost))
        if lost > 0.0:
            self.vent_loss += lost * vent / (vent + seam)
            self.flash += lost * seam / (vent + seam)
            self.take(weights * lost)
        self.v = self.v_gel = self.liquid_v + moles_temp(self.y) / self.p

    def fluidity(self, weights):
        """One over the consistency of the foaming mix: the mean over volumes; those that have gelled have none."""
        n = self.nature
        far = np.maximum(1.0 - self.y[OH] / n.gel_conversion, 0.0)
        thermal = n.viscosity_activation / R * (1.0 / self.y[TEMP] - 1.0 / T_REF)
        return (
            float(weights @ (far**n.viscosity_gel * np.exp(-thermal - n.viscosity_growth * self.y[OH]))) / n.viscosity
        )

    def collapse(self, dt):
        """Dense cells that have not set collapse under pressure; their gas passes to all cells that stand."""
        n = self.nature
        beyond = self.liquid_v / self.v * (self.p / self.pa / n.collapse_limit) - 1.0
        share = -np.expm1(-dt * n.collapse_rate * np.clip(beyond, 0.0, 1.0) * (self.y[OH] < n.gel_conversion))
        standing = self.mass * self.y[FREE] * (share == 0.0)
        if share.any() and standing.any():
            moved = share * self.y[FREE : AIR + 1]
            self.y[FREE : AIR + 1] += np.outer(moved @ self.mass, standing / self.mass / standing.sum()) - moved

    def lose_gas(self, dt):
        """Gas of opened cells creeps to vents and seam by Darcy's law; air comes in once the part sucks."""
        open_cells = opened(self.nature, self.y[OH])
        share = float(self.mass @ open_cells) / float(self.mass.sum())
        if share <= 0.0:
            return
        inner = float(self.mass @ (moles_temp(self.y) * open_cells)) / float(
            self.mass @ ((self.v - self.liquid_v) * open_cells)
        )
        paths = self.mold.gas_seam * self.mold.seam_length / 0.6
        paths *= 1.0 + seam_gap(self.mold, self.p, self.pa)[0] / self.mold.gas_gap
        for vent in self.mold.vents:
            r = vent.diameter / 2
            paths += vent.count / (1.0 / (2 * pi * r) + vent.length / (pi * r * r))
        temp = float(self.mass @ self.y[TEMP]) / float(self.mass.sum())
        rate = paths * self.nature.permeability * share * (inner**2 - self.pa**2) / (2 * MU_AIR * R * temp)
        if rate > 0.0:
            held = float(self.mass @ (open_cells * self.y[FREE]))
            kept = np.exp(-dt * rate / max(held, 1e-12) * open_cells)
            self.gas_lost += float(self.mass @ (self.y[FREE] * (1.0 - kept)))
            self.y[FREE] *= kept
        else:
            self.y[AIR] -= dt * rate * open_cells / float(self.mass @ open_cells)
            self.air_in -= dt * rate

    def stand(self, dt):
        """Set foam resists by its modulus; volumes that set later do so from then on. Newton on all volumes at once."""
        n, vl = self.nature, self.liquid_v
        ramp = np.clip((self.y[OH] - n.gel_conversion) / (1.0 - n.gel_conversion), 0.0, 1.0)
        self.v_gel = np.where(ramp > 0.0, self.v_gel, self.v)
        stiff = n.modulus * (vl / self.v_gel) ** 2 * ramp
        energy, trapped = moles_temp(self.y), self.head * R * float(self.wall[0])
        gas, p = self.v - vl, self.p
        for _ in range(12):
            inside = np.maximum(p + stiff * np.log((vl + gas) / self.v_gel), 0.1 * self.pa)
            slope = inside + gas * stiff / (vl + gas)
            gas = np.maximum(gas - (gas * inside - energy) / slope, 0.2 * gas)
            room, room_slope = lid_room(self.mold, p, self.pa)
            excess = float(self.mass @ gas) + float(self.mass.sum()) * vl + trapped / p - self.mold.volume - room
            change = excess / (float(self.mass @ (gas / slope)) + trapped / p**2 + room_slope)
            change = max(change, self.pa - p)  # a part that shrinks from its wall does not pull
            p += change
            if abs(change) < 1e-8 * p and abs(excess) < 1e-8 * self.mold.volume:
                break
            if p <= self.pa and abs(change) < 1e-8 * p:
                break
        self.v, self.p = vl + gas, p

    def scale_reading(self, hours):
        """What a scale in the shop's air shows some hours after demold, kg: CO2 diffuses out, air more slowly in."""
        air = self.pa * M_AIR / (R * self.setting.ambient_temp)
        mass = float(self.mass.sum())
        cells = self.foam_volume - mass * self.liquid_v
        half = self.mold.volume / self.mold.wall_area
        out, come = slab_left(8e-9 * hours * 3600 / half**2), slab_left(3e-9 * hours * 3600 / half**2)
        made = self.nature.water * float(self.mass @ self.y[WATER])
        left = (made - self.gas_lost) * out
        return mass - (made - left) * M_CO2 - air * cells * come

    def skin(self):
        """Depth from the wall to where foam is 1.2 times as dense as in the middle, m."""
        density = 1.0 / self.v
        deep = np.cumsum((self.mass * self.v)[::-1]) / self.mold.wall_area
        middle = deep - 0.5 * (self.mass * self.v)[::-1] / self.mold.wall_area
        depth = crossing(middle, -density[::-1], -1.2 * density[0])
        return 0.0 if depth is None or density[-1] < 1.2 * density[0] else depth

    def row(self, t):
        mean_temp = float(self.mass @ self.y[TEMP]) / float(self.mass.sum())
        mass = float(self.mass.sum())
        return t, self.p - self.pa, self.y[TEMP, 0], mean_temp, self.fill, mass, self.flow_conversion()


def slab_left(fourier):
    """Share of a gas that is still in a slab, at its diffusivity times time over the half thickness squared."""
    odd = 2 * np.arange(60) + 1
    return float(np.sum(8 / (pi * odd) ** 2 * np.exp(-(odd**2) * pi**2 / 4 * fourier)))


def cast(nature, mold, setting, dt=0.2, wall=None, hours=0.0):
    """A casting without noise: rise, fill, flow, gel and back pressure until demold, weighed `hours` later."""
    cavity = Cavity(nature, mold, setting, wall)
    t, rows, set_rows = 0.0, [cavity.row(0.0)], None
    while t < setting.demold_time - 1e-9:
        step = dt if set_rows is None or len(rows) < set_rows + 150 else 2.5 * dt
        step = min(step, setting.demold_time - t)
        cavity.step(t, step)
        t += step
        rows.append(cavity.row(t))
        if cavity.gelled and set_rows is None:
            set_rows = len(rows)
    return read_cast(cavity, np.array(rows).T, hours)


def read_cast(cavity, rows, hours):
    """What came out of a casting."""
    time, gauge, core_temp, mean_temp, fill, mass, conversion = rows
    fill_time = crossing(time, fill, cavity.mold.vents_at_fill) if cavity.filled else None
    gel_time = crossing(time, conversion, cavity.nature.gel_conversion)
    peak = int(np.argmax(gauge))
    outcome = "short" if not cavity.filled else "flash" if cavity.flash > 2e-4 else "full"
    return SecondRun(
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
        part_mass=float(mass[-1]),
        scale_reading=cavity.scale_reading(hours),
        vent_loss=cavity.vent_loss,
        flash=cavity.flash,
        fill_fraction=float(fill[-1]) if gel_time is None else float(np.interp(gel_time, time, fill)),
        density=float(mass[-1]) / cavity.mold.volume,
        peak_core_temp=float(core_temp.max()),
        layer_density=1.0 / cavity.v,
        skin_thickness=cavity.skin(),
        wall=cavity.wall,
        balances=balances(cavity),
    )


def account(nature, y, mass):
    """Heat in foam of these masses and heat that it made, J; CO2 that it made and that it holds, mol."""
    made = nature.water * y[WATER]
    heat = nature.water_heat * made + nature.hydroxyl * nature.oh_heat * y[OH]
    heat = heat - nature.release_heat * (made - y[DISSOLVED])
    in_foam = nature.heat_capacity * (y[TEMP] - T_REF)
    return np.array([in_foam, heat, made, y[DISSOLVED] + y[FREE]]) @ mass


def balances(cavity):
    """What came in and what is there or went out, foam that left with all it took: heat, J, and CO2, mol."""
    in_foam, heat_made, carbon_made, carbon_held = account(cavity.nature, cavity.y, cavity.mass) + cavity.carried
    poured = cavity.nature.heat_capacity * cavity.setting.mass * (cavity.setting.mix_temp - T_REF)
    warmed = float(cavity.wall_capacity @ (cavity.wall - cavity.wall_before))
    return {
        "heat": (float(poured + heat_made), float(in_foam + warmed + cavity.heat_out)),
        "carbon": (float(carbon_made), float(carbon_held + cavity.gas_lost)),
        "foam_volume": cavity.foam_volume,
    }
