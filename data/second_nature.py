"""A second invented nature, by other laws than `nature` and the fitted model: foam in volumes, and its free rise.

`second_mold` puts the same foam into a vented mold with a wall. SI inside: kelvin, pascal (absolute unless named
gauge), kilogram, mole per kilogram of mix. Arrays run from core to skin; volumes near the skin are thinner. Sources of
laws are from memory, not verified; constants are invented.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from nature import M_CO2, T_REF, CupRun, R, crossing, cup_area, cup_height
from scipy.linalg.lapack import dgtsv

STEFAN_BOLTZMANN = 5.670374e-8
TEMP, WATER, OH, AWAKE, DISSOLVED, FREE, AIR = range(7)


@dataclass(frozen=True)
class SecondNature:
    """The constants of one invented foam grade and how it behaves."""

    liquid_density: float = 1075.0  # kg/m3
    heat_capacity: float = 1900.0  # J/(kg K)
    water: float = 0.60  # mol/kg, makes one CO2 each and takes two NCO
    hydroxyl: float = 1.80  # mol/kg
    nco: float = 3.06  # mol/kg at the start
    water_rate: float = 0.033  # 1/s at 40 °C, all awake and full NCO
    water_activation: float = 40e3  # J/mol
    water_order: float = 1.4
    water_nco_order: float = 0.5
    oh_rate: float = 0.056  # 1/s at 40 °C, all awake and full NCO
    oh_activation: float = 46e3  # J/mol
    oh_seed: float = 0.09  # autocatalysis: the rate goes with this plus the conversion (Kamal and Sourour 1973)
    catalyst_start: float = 0.25  # share of the catalyst that is awake at the pour; it wakes the rest
    catalyst_rate: float = 0.50  # 1/s at 40 °C
    catalyst_activation: float = 30e3  # J/mol
    water_heat: float = 91e3  # J/mol of water
    oh_heat: float = 66e3  # J/mol of OH
    release_heat: float = 15e3  # J/mol of CO2 leaving the liquid
    solubility: float = 1.15e-8  # kg/(kg Pa) at 40 °C
    solubility_temp: float = 1250.0  # K, slope of its logarithm against 1/T
    release_rate: float = 2.2  # 1/s where there is nothing but bubbles; goes with their surface
    release_stiffening: float = 5.0  # slower by 1 + this times the square of the OH conversion
    air_fraction: float = 0.026  # of the liquid's volume
    solid_conductivity: float = 0.21  # W/(m K)
    gas_conductivity: float = 0.020  # W/(m K)
    cell_size: float = 0.35e-3  # m, for radiation
    gel_conversion: float = 0.61  # of OH, in each volume
    viscosity: float = 0.35  # Pa s^n of the foaming mix at 40 °C and no conversion
    viscosity_activation: float = 30e3  # J/mol
    viscosity_growth: float = 3.4  # exponent with conversion
    viscosity_gel: float = 1.5  # power of the distance to gel
    thinning: float = 0.72  # power-law exponent
    modulus: float = 4e6  # Pa, of the set solid; foam has it times the square of its share of solid
    collapse_limit: float = 0.12  # cells collapse above this share of liquid times pressure over ambient
    collapse_rate: float = 0.10  # 1/s, at twice that limit and more
    opens_from: float = 0.72  # OH conversion at which the first cells open
    opens_to: float = 0.96  # and the last
    permeability: float = 2e-13  # m2, when all that open have opened
    burst_rate: float = 4e-5  # m/s, free gas lost at an open surface while bubbles burst there
    stop_conversion: float = 0.70  # an unconfined foam follows half of its expansion there
    stop_sharpness: float = 14.0
    settle: float = 0.018  # share of the free height lost as cells open
    tack_conversion: float = 0.84  # of the skin volume
    cream_rise: float = 0.8e-3  # m, first rise that an eye sees
    end_rate: float = 0.20e-3  # m/s, slower than this looks like standing still
    volumes: int = 24

    @cached_property
    def activation(self):
        """Activation energies of water, OH and catalyst over R, K; shape (3, 1)."""
        return np.array([[self.water_activation], [self.oh_activation], [self.catalyst_activation]]) / R

    @cached_property
    def rates_at_ref(self):
        """The three rates at 40 °C, 1/s; shape (3, 1)."""
        return np.array([[self.water_rate], [self.oh_rate], [self.catalyst_rate]])

    @cached_property
    def shares(self):
        """Mass shares of the volumes, thin at the skin; the ratio of core to skin does not depend on their number."""
        shares = 0.05 ** (np.arange(self.volumes) / (self.volumes - 1))
        return shares / shares.sum()


# ---- the mix, volume by volume ----


def fresh_mix(nature, mix_temp, pa):
    """The state of the mix just after mixing; shape (7, volumes)."""
    y = np.zeros((7, nature.volumes))
    y[TEMP] = mix_temp
    y[AWAKE] = nature.catalyst_start
    y[AIR] = nature.air_fraction / nature.liquid_density * pa / (R * mix_temp)
    return y


def saturation(nature, temp, p):
    """CO2 that the liquid holds at pressure p, mol/kg."""
    return nature.solubility / M_CO2 * p * np.exp(nature.solubility_temp * (1.0 / temp - 1.0 / T_REF))


def rates(nature, y, p):
    """Time derivative of all volumes by reaction and by gas leaving the liquid at pressure p, without conduction."""
    temp, water, oh, awake = y[TEMP], y[WATER], y[OH], y[AWAKE]
    left = np.maximum(1.0 - (2.0 * nature.water * water + nature.hydroxyl * oh) / nature.nco, 0.0)
    k = nature.rates_at_ref * np.exp(nature.activation * (1.0 / T_REF - 1.0 / temp))
    dy = np.zeros_like(y)
    dy[WATER] = k[0] * awake * np.maximum(1.0 - water, 0.0) ** nature.water_order * left**nature.water_nco_order
    dy[OH] = k[1] * awake * (nature.oh_seed + oh) * (1.0 - oh) * left
    dy[AWAKE] = k[2] * awake * (1.0 - awake)
    swollen = nature.liquid_density * R / p * temp * (y[FREE] + y[AIR])
    surface = np.cbrt(swollen / (1.0 + swollen)) ** 2
    ease = nature.release_rate * surface / (1.0 + nature.release_stiffening * oh * oh)
    release = np.maximum(y[DISSOLVED] - saturation(nature, temp, p), -y[FREE]) * ease
    dy[DISSOLVED] = nature.water * dy[WATER] - release
    dy[FREE] = release
    heat = nature.water * nature.water_heat * dy[WATER] + nature.hydroxyl * nature.oh_heat * dy[OH]
    dy[TEMP] = (heat - nature.release_heat * release) / nature.heat_capacity
    return dy


def react(nature, y, dt, p):
    """One step of Heun's method at fixed pressure, without conduction."""
    first = rates(nature, y, p)
    second = rates(nature, y + dt * first, p)
    return y + 0.5 * dt * (first + second)


def moles_temp(y):
    """R times moles of gas times temperature, J per kilogram of mix."""
    return R * y[TEMP] * (y[FREE] + y[AIR])


def opened(nature, oh):
    """Share of the cells that have opened: spread over conversion."""
    s = np.clip((oh - nature.opens_from) / (nature.opens_to - nature.opens_from), 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


# ---- heat ----


def conductivity(nature, v, temp):
    """Struts, gas and radiation through foam of v m3/kg (in the manner of Glicksman 1994), W/(m K)."""
    solid = 1.0 / (nature.liquid_density * v)
    struts = nature.solid_conductivity * solid * (0.6 + 0.4 * solid)
    extinction = 3.7 * np.sqrt(solid) / nature.cell_size
    radiation = 16.0 / 3.0 * STEFAN_BOLTZMANN * temp**3 / extinction
    return struts + nature.gas_conductivity * (1.0 - solid) + radiation


def foam_chain(nature, mass, v, temp, area):
    """Heat capacities, J/K, of volumes of these masses, and their resistances from middle to face, K/W."""
    half = 0.5 * mass * v / area
    return mass * nature.heat_capacity, half / (conductivity(nature, v, temp) * area)


def conduct(capacity, conductance, temp, dt, outside):
    """One implicit step of heat along a chain, insulated at its start; returns temperatures and heat out, J.

    `conductance` (W/K) has one entry between each pair of neighbors and a last one to `outside` (K).
    """
    between = dt * conductance[:-1]
    diagonal = capacity.copy()
    diagonal[:-1] += between
    diagonal[1:] += between
    diagonal[-1] += dt * conductance[-1]
    right = capacity * temp
    right[-1] += dt * conductance[-1] * outside
    new = dgtsv(-between, diagonal, -between, right)[3]
    return new, dt * conductance[-1] * (new[-1] - outside)


# ---- the cup ----


def cup_test(nature, setting, duration=180.0, dt=0.25):
    """A free-rise test without noise or lag; `setting` is a `CupSetting` of the first nature."""
    pa, mass = setting.ambient_pressure, setting.mass * nature.shares
    y = fresh_mix(nature, setting.mix_temp, pa)
    own = moles_temp(y) / pa
    v = 1.0 / nature.liquid_density + own
    core = np.cumsum(nature.shares) <= 0.34
    rows = []
    for step in range(round(duration / dt) + 1):
        total = float(nature.shares @ v)
        h = cup_height(setting, total * setting.mass)
        x = y[OH]
        mean, inner = float(nature.shares @ x), float(x[core].mean())
        open_share = float(nature.shares @ opened(nature, x))
        rows.append((step * dt, total, float(y[TEMP, core].mean()), mean, inner, x[-1], open_share))
        area, top = cup_area(setting, h)
        y = react(nature, y, dt, pa)
        capacity, half = foam_chain(nature, mass, v, y[TEMP], area)
        outer = half[-1] + 1.0 / (setting.wall_film * area)
        chain = 1.0 / np.append(half[:-1] + half[1:], outer)
        y[TEMP], _ = conduct(capacity, chain, y[TEMP], dt, setting.ambient_temp)
        bursting = max(0.0, 1.0 - mean / nature.gel_conversion)
        y[FREE] *= np.exp(-dt * nature.burst_rate * bursting * top / (total * setting.mass))
        grown = moles_temp(y) / pa
        v = v + (grown - own) / (1.0 + (y[OH] / nature.stop_conversion) ** nature.stop_sharpness)
        own = grown
    return read_cup(nature, setting, np.array(rows).T)


def read_cup(nature, setting, rows):
    """Settling as cells open and the stopwatch times (ASTM D7487's words)."""
    time, v, core_temp, mean_x, core_x, skin_x, open_share = rows
    v = v * (1.0 - nature.settle * open_share)
    height = np.array([cup_height(setting, x * setting.mass) for x in v])
    rate = np.gradient(height, time)
    fastest = int(np.argmax(rate))
    slow = crossing(time[fastest:], -rate[fastest:], -nature.end_rate)
    return CupRun(
        time=time,
        height=height,
        volume=v * setting.mass,
        core_temp=core_temp,
        conversion=mean_x,
        cream=crossing(time, height, height[0] + nature.cream_rise),
        string_gel=crossing(time, core_x, nature.gel_conversion),
        end_of_rise=float(time[-1]) if slow is None else slow,
        tack_free=crossing(time, skin_x, nature.tack_conversion),
        density=float(1.0 / v[-1]),
    )
