"""The invented nature behind the demo data: foam in layers, and its free rise in a cup; richer than the fitted model.

`closed_mold` puts the same foam into a vented mold. SI inside: kelvin, pascal (absolute unless named gauge), kilogram,
mole per kilogram of mix. Arrays run from core to skin.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import exp, pi

import numpy as np

R = 8.314462618
M_CO2 = 0.0440095
T_REF = 313.15
TEMP, WATER, OH, DISSOLVED, FREE = range(5)


@dataclass(frozen=True)
class Nature:
    """The constants of one invented foam grade and how it behaves."""

    liquid_density: float = 1060.0  # kg/m3
    heat_capacity: float = 1850.0  # J/(kg K)
    water: float = 0.609  # mol/kg, makes one CO2 each and takes two NCO
    hydroxyl: float = 1.75  # mol/kg
    nco: float = 3.03  # mol/kg at the start
    water_rate: float = 0.0196  # 1/s at 40 °C and full NCO
    water_activation: float = 37e3  # J/mol
    oh_rate: float = 0.0147  # 1/s at 40 °C and full NCO
    oh_activation: float = 44e3  # J/mol
    water_heat: float = 86e3  # J/mol of water
    oh_heat: float = 71e3  # J/mol of OH
    release_heat: float = 12e3  # J/mol of CO2 leaving the liquid
    induction_time: float = 3.0  # s, time constant of the catalyst waking up after mixing
    solubility: float = 1.31e-8  # kg/(kg Pa) at 40 °C
    solubility_temp: float = 900.0  # K, slope of its logarithm against 1/T
    release_time: float = 1.5  # s, supersaturation relaxes with it
    air_fraction: float = 0.03  # of the liquid's volume
    surface_loss: float = 2e-5  # m/s, velocity with which free gas leaves an open surface
    gel_conversion: float = 0.64  # of OH
    stretch_conversion: float = 0.12  # beyond gel, over which an unconfined foam still gives way
    viscosity: float = 0.22  # Pa s of the foaming mix at 40 °C, no conversion, 1/s shear
    viscosity_activation: float = 33e3  # J/mol
    viscosity_a: float = 1.3
    viscosity_b: float = 1.4
    thinning: float = 0.85  # power-law exponent in a vent
    settle: float = 0.012  # share of the height lost after the maximum
    settle_time: float = 20.0  # s
    open_time: float = 240.0  # s, gas loss after gel
    seam_gas_gap: float = 50e-6  # m, gap of the seam that doubles the gas loss after gel
    trapped_fill: float = 0.995  # fill at which foam reaches the vent; the rest of the air stays in as voids
    tack_conversion: float = 0.82  # of the skin layer
    cream_rise: float = 0.8e-3  # m, first rise that an eye sees
    end_rate: float = 0.20e-3  # m/s, slower than this looks like standing still
    layers: int = 11

    @cached_property
    def activation(self):
        """Both activation energies over R, K; shape (2, 1)."""
        return np.array([[self.water_activation], [self.oh_activation]]) / R

    @cached_property
    def rates_at_ref(self):
        """Both rates at 40 °C, 1/s; shape (2, 1)."""
        return np.array([[self.water_rate], [self.oh_rate]])


@dataclass(frozen=True)
class CupSetting:
    """One free-rise test as it truly ran."""

    mass: float
    mix_temp: float
    ambient_temp: float
    ambient_pressure: float = 101325.0
    bottom_diameter: float = 0.110
    top_diameter: float = 0.130
    height: float = 0.150
    wall_film: float = 9.0  # W/(m2 K), paper and still air


@dataclass
class CupRun:
    """A free-rise test without noise; arrays over `time`, s."""

    time: np.ndarray
    height: np.ndarray
    volume: np.ndarray
    core_temp: np.ndarray
    conversion: np.ndarray
    cream: float
    string_gel: float
    end_of_rise: float
    tack_free: float
    density: float


# ---- the mix, layer by layer ----


def fresh_layers(nature, mix_temp):
    """The state of the mix just after mixing; shape (5, layers)."""
    y = np.zeros((5, nature.layers))
    y[TEMP] = mix_temp
    return y


def saturation(nature, temp, p):
    """CO2 that the liquid holds at pressure p (Henry's law), mol/kg."""
    return nature.solubility / M_CO2 * p * np.exp(nature.solubility_temp * (1.0 / temp - 1.0 / T_REF))


def reaction_rates(nature, y, awake):
    """Rates of the water and OH conversions, 1/s; both need the NCO that is left; shape (2, layers)."""
    nco_left = 1.0 - (2.0 * nature.water * y[WATER] + nature.hydroxyl * y[OH]) / nature.nco
    k = nature.rates_at_ref * np.exp(nature.activation * (1.0 / T_REF - 1.0 / y[TEMP]))
    return k * (awake * np.maximum(nco_left, 0.0)) * (1.0 - y[WATER : OH + 1])


def layer_rates(nature, y, t, p):
    """Time derivative of all layers by reaction and by gas leaving the liquid at pressure p, without conduction."""
    awake = 1.0 - exp(-t / nature.induction_time)
    dy = np.empty_like(y)
    dy[WATER : OH + 1] = reaction_rates(nature, y, awake)
    release = np.maximum(y[DISSOLVED] - saturation(nature, y[TEMP], p), -y[FREE]) / nature.release_time
    dy[DISSOLVED] = nature.water * dy[WATER] - release
    dy[FREE] = release
    heat = nature.water * nature.water_heat * dy[WATER] + nature.hydroxyl * nature.oh_heat * dy[OH]
    dy[TEMP] = (heat - nature.release_heat * release) / nature.heat_capacity
    return dy


def advance_layers(nature, y, t, dt, p, wall):
    """One step at fixed pressure and geometry: Heun's method for reaction and gas, then conduction."""
    first = layer_rates(nature, y, t, p)
    second = layer_rates(nature, y + dt * first, t + dt, p)
    y = y + 0.5 * dt * (first + second)
    y[TEMP] = conduct(y[TEMP], dt, wall)
    return y


def conduct(temp, dt, wall):
    """One implicit step of heat between layers and to the wall; fresh layers are too thin for an explicit one."""
    wall_temp, between, outward = wall
    matrix = dt * between * slab_laplacian(temp.size)
    matrix.flat[:: temp.size + 1] += 1.0
    matrix[-1, -1] += dt * outward
    right = temp.copy()
    right[-1] += dt * outward * wall_temp
    return np.linalg.solve(matrix, right)


@lru_cache
def slab_laplacian(n):
    """Differences between neighbors of n equal slabs, insulated at both ends; shape (n, n)."""
    matrix = 2.0 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
    matrix[0, 0] = matrix[-1, -1] = 1.0
    return matrix


def wall_exchange(nature, mass, volume, area, film, wall_temp):
    """Wall temperature, K, exchange between layers and with the wall per layer's heat capacity, 1/s."""
    n = nature.layers
    conductivity = 0.035 + 0.15 * mass / volume / 1100.0
    thickness = volume / (area * n)
    per_heat = area * n / (mass * nature.heat_capacity)
    outward = 1.0 / (1.0 / film + 0.5 * thickness / conductivity)
    return wall_temp, per_heat * conductivity / thickness, per_heat * outward


def gas_volume(y, air, p):
    """Volume of the gas in a kilogram of foam, m3/kg, from the moles of every layer at its own temperature."""
    return R * float(np.dot(y[FREE] + air, y[TEMP])) / y.shape[1] / p


def beaten_air(nature, temp, p):
    """Air beaten in while mixing, mol/kg."""
    return nature.air_fraction / nature.liquid_density * p / (R * temp)


def foam_viscosity(nature, temp, conversion):
    """Viscosity of the foaming mix at 1/s shear, Pa s; infinite from gel on."""
    if conversion >= nature.gel_conversion:
        return float("inf")
    ratio = nature.gel_conversion / (nature.gel_conversion - conversion)
    thermal = exp(nature.viscosity_activation / R * (1.0 / temp - 1.0 / T_REF))
    return nature.viscosity * thermal * ratio ** (nature.viscosity_a + nature.viscosity_b * conversion)


def crossing(time, values, level):
    """When `values` first reach `level`, between the two steps around it; None if never."""
    above = np.asarray(values) >= level
    i = int(np.argmax(above))
    if not above[i]:
        return None
    if i == 0:
        return float(time[0])
    share = (level - values[i - 1]) / (values[i] - values[i - 1])
    return float(time[i - 1] + share * (time[i] - time[i - 1]))


# ---- the cup ----


def cup_height(setting, volume):
    """Height of a volume in the cup, m; above the rim a column of the rim's diameter."""
    d0, d1, rim = setting.bottom_diameter, setting.top_diameter, setting.height
    slope = (d1 - d0) / rim
    if slope == 0.0:
        return volume / (pi / 4 * d0**2)
    inside = pi * (d1**3 - d0**3) / (12 * slope)
    if volume > inside:
        return rim + (volume - inside) / (pi / 4 * d1**2)
    return (np.cbrt(d0**3 + 12 * slope * volume / pi) - d0) / slope


def cup_area(setting, height):
    """Surface of the foam (all around) and of its open top at this height, m2."""
    slope = (setting.top_diameter - setting.bottom_diameter) / setting.height
    top = setting.bottom_diameter + slope * min(height, setting.height)
    side = pi * 0.5 * (top + setting.bottom_diameter) * height
    return side + pi / 4 * (top**2 + setting.bottom_diameter**2), pi / 4 * top**2


def give_way(nature, conversion):
    """Share of the expansion that an unconfined foam still follows: 1 before gel, then fading."""
    beyond = (conversion - nature.gel_conversion) / nature.stretch_conversion
    return min(1.0, max(0.0, 1.0 - beyond))


def cup_test(nature, setting, duration=180.0, dt=0.25):
    """A free-rise test without noise or lag."""
    pa = setting.ambient_pressure
    y = fresh_layers(nature, setting.mix_temp)
    air = beaten_air(nature, setting.mix_temp, pa)
    swollen = gas_volume(y, air, pa)
    v = 1.0 / nature.liquid_density + swollen
    core = max(1, nature.layers // 3)
    rows = []
    for step in range(round(duration / dt) + 1):
        t = step * dt
        h = cup_height(setting, v * setting.mass)
        x = y[OH]
        rows.append((t, h, v, y[TEMP, :core].mean(), x.mean(), x[:core].mean(), x[-1]))
        area, top = cup_area(setting, h)
        wall = wall_exchange(nature, setting.mass, v * setting.mass, area, setting.wall_film, setting.ambient_temp)
        y = advance_layers(nature, y, t, dt, pa, wall)
        y[FREE] *= exp(-dt * nature.surface_loss * top / (v * setting.mass))
        grown = gas_volume(y, air, pa)
        v += give_way(nature, x.mean()) * (grown - swollen)
        swollen = grown
    return read_cup(nature, setting, np.array(rows).T)


def read_cup(nature, setting, rows):
    """Settling after the maximum and the stopwatch times (ASTM D7487's words)."""
    time, height, v, core_temp, mean_x, core_x, skin_x = rows
    rate = np.gradient(height, time)
    fastest = int(np.argmax(rate))
    slow = crossing(time[fastest:], -rate[fastest:], -nature.end_rate)
    end = float(time[-1]) if slow is None else slow
    lost = nature.settle * (1.0 - np.exp(-np.clip(time - end, 0.0, None) / nature.settle_time))
    v = v * (1.0 - lost)
    height = np.array([cup_height(setting, x * setting.mass) for x in v])
    return CupRun(
        time=time,
        height=height,
        volume=v * setting.mass,
        core_temp=core_temp,
        conversion=mean_x,
        cream=crossing(time, height, height[0] + nature.cream_rise),
        string_gel=crossing(time, core_x, nature.gel_conversion),
        end_of_rise=end,
        tack_free=crossing(time, skin_x, nature.tack_conversion),
        density=float(1.0 / v[-1]),
    )
