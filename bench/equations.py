"""The plain casting's equations as a competent user writes them for speed: flat functions of floats, one vent, bolted.

The same source runs as plain Python and, compiled by numba, as machine code. State: blowing and gelling conversion,
temperature (K), headspace air (mol), foam lost through the vent (kg). SI units, pressures absolute. What all peers are
held against is `tests/python/peer_model.py`, solved by Radau.
"""

from math import exp, expm1, log, sqrt

R = 8.314462618
M_CO2 = 0.0440095
M_AIR = 0.0289644
RS_AIR = R / M_AIR
GAMMA = 1.4
CRITICAL = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))
T_REF = 313.15
BLUNT_PA = 20.0
OPEN, RISING, FILLED, SET = 0.0, 1.0, 2.0, 3.0
SIZE = 5
# Positions in the constants of what changes on the way.
PHASE, SATURATED = 0, 1


def constants(shot, vent):
    """What the equations need of a shot of `peer_model` and its blunted vent: a flat list, the regime first."""
    f = shot.foam
    return [
        OPEN,
        float(f.solubility == 0),
        f.blow_rate,
        f.blow_activation / R,
        f.gel_rate,
        f.gel_activation / R,
        f.blow_heat,
        f.gel_heat,
        shot.heat_transfer * shot.wall_area / f.heat_capacity,
        shot.mold_temp,
        shot.charge,
        shot.volume,
        f.liquid_density,
        f.gas_yield,
        f.beaten_in(shot.ambient, shot.mix_temp),
        f.solubility / M_CO2,
        shot.ambient,
        vent.area,
        vent.duct,
        vent.foam_duct,
        1.458e-6 * shot.mold_temp**1.5 / (shot.mold_temp + 110.4),
        f.gel_conversion,
        f.viscosity,
        f.viscosity_activation / R,
        f.viscosity_a,
        f.viscosity_b,
    ]


def pressure(xb, temp, head, vented, c):
    """Absolute pressure of the closed mold, Pa."""
    mass = c[10] - vented
    made = c[14] + c[13] * xb * c[1]
    henry = c[15] * c[1]
    return R * (mass * made * temp + head * c[9]) / (c[11] - mass / c[12] + henry * mass * R * temp)


def air_flow(inside, outside, c):
    """Mass flow of air outward through the vent, kg/s; inward where the pressure is lower inside."""
    sign, up, down = (1.0, inside, outside) if inside >= outside else (-1.0, outside, inside)
    laminar = c[18] * (up - down) * (up + down) / (2 * c[20] * RS_AIR * c[9])
    if up - down <= 1e-9 * down:
        return sign * laminar
    ratio = max(down / up, CRITICAL)
    psi = 2 * GAMMA / (GAMMA - 1) * ratio ** (2 / GAMMA) * -expm1((GAMMA - 1) / GAMMA * log(ratio))
    orifice = c[17] * up * sqrt(psi / (RS_AIR * c[9]))
    return sign * laminar * orifice / sqrt(laminar * laminar + orifice * orifice)


def foam_flow(gauge, xg, temp, vented, c):
    """Mass flow of foam outward through the vent, kg/s."""
    if gauge <= 0.0:
        return 0.0
    left = max(c[21] - xg, 1e-6 * c[21])
    viscosity = c[22] * exp(c[23] * (1 / temp - 1 / T_REF)) * (c[21] / left) ** (c[24] + c[25] * xg)
    density = (c[10] - vented) / c[11]
    laminar = density * c[19] * gauge / viscosity
    orifice = c[17] * sqrt(2 * density * gauge)
    started = sqrt(gauge**3 / (gauge**3 + BLUNT_PA**3))
    return started * laminar * orifice / sqrt(laminar * laminar + orifice * orifice)


def rate(xb, xg, temp, head, vented, c):
    """The time derivatives of the state, in its order."""
    inverse = 1 / temp - 1 / T_REF
    blow = c[2] * exp(-c[3] * inverse) * (1 - xb)
    gel = c[4] * exp(-c[5] * inverse) * (1 - xg) * (1 - xg)
    heat = c[6] * blow + c[7] * gel - c[8] * (temp - c[9]) / (c[10] - vented)
    air = foam = 0.0
    if c[0] == RISING:
        air = -air_flow(pressure(xb, temp, head, vented, c), c[16], c) / M_AIR
    elif c[0] == FILLED:
        foam = foam_flow(pressure(xb, temp, head, vented, c) - c[16], xg, temp, vented, c)
    return blow, gel, heat, air, foam


def marks(xb, xg, temp, head, vented, c):
    """What ends a regime where it rises through zero: saturation, the front at the vent, gel; 1 where it cannot."""
    p = c[16] if c[0] == OPEN else pressure(xb, temp, head, vented, c)
    saturation = 1.0 if c[1] else c[13] * xb - c[15] * p
    front = -head * R * c[9] / p / c[11] if c[0] == RISING else 1.0
    gel = 1.0 if c[0] == SET else xg - c[21]
    return saturation, front, gel


def headspace_at_closing(xb, temp, c):
    """Air that the closed mold holds, mol."""
    free = max(c[13] * xb - c[15] * c[16], 0.0) + c[14]
    foam = c[10] * (1 / c[12] + free * R * temp / c[16])
    return c[16] * (c[11] - foam) / (R * c[9])
