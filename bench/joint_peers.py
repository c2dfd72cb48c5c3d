"""Ten invented castings and three cup tests at once: one round of a fit with LSODA and finite differences."""

from dataclasses import replace
from math import log

import casting_peers
import cup_peers
import numpy as np
import peer_model

# What the castings add to the nine parameters of the cups: name in `risefit.priors()`, true value.
OF_MOLD = (
    ("viscosity_Pa_s", 1.5),
    ("gas_retention", 1.02),
    ("cavity_volume_factor", 1.003),
    ("heat_transfer_factor", 1.2),
    ("vent_size_factor", 1.02),
)
CHARGES = (0.050, 0.051, 0.052, 0.053, 0.054, 0.050, 0.051, 0.052, 0.053, 0.054)
VENTS = (2e-3, 2.5e-3, 3e-3, 3.5e-3, 4e-3, 3e-3, 2e-3, 2.5e-3, 3e-3, 3.5e-3)
MASS_SD, LOSS_SD, PEAK_SD = 0.3e-3, 0.2e-3, 1e3
CASTING_RTOL = 1e-7


def foam(values):
    """A grade of the peer from the cup's parameters and the viscosity."""
    gas, kb, eb, kg, eg, hb, hg = (float(v) for v in values[:7])
    return peer_model.Foam(
        gas_yield=gas,
        blow_rate=kb,
        blow_activation=eb,
        gel_rate=kg,
        gel_activation=eg,
        blow_heat=hb * gas / cup_peers.HEAT_CAPACITY,
        gel_heat=hg,
        solubility=cup_peers.KNOWN["solubility"],
        air_fraction=cup_peers.KNOWN["air_fraction"],
        gel_conversion=cup_peers.HELD["gel_conversion"],
        viscosity=float(values[9]),
    )


def outcomes(values):
    """Part mass (kg), vent loss (kg) and peak gauge pressure (Pa) of the ten castings; shape (10, 3)."""
    _, kept, volume, heat, vent = (float(v) for v in values[9:])
    grade = foam(values)
    grade = replace(grade, gas_yield=grade.gas_yield * kept)
    plain = peer_model.Shot()
    rows = []
    for charge, diameter in zip(CHARGES, VENTS, strict=True):
        shot = replace(
            plain,
            foam=grade,
            charge=charge,
            volume=plain.volume * volume,
            heat_transfer=plain.heat_transfer * heat,
            vents=(peer_model.Vent((diameter * vent, 12e-3)),),
            closing_time=5.0,
        )
        hole = shot.vents[0].opening(shot.discharge, shot.ambient, shot.mold_temp)
        peak, _, _, loss = casting_peers.Lsoda(shot, hole, CASTING_RTOL, 1e-2).run()
        rows.append((charge - loss, loss, peak))
    return np.array(rows)


class Problem:
    """Residuals of logs, castings and priors, as a function of positions in spreads."""

    def __init__(self, logs, priors):
        self.cups = cup_peers.Problem(logs, priors)
        self.center = np.append(self.cups.center, [priors[name][0] for name, _ in OF_MOLD])
        self.spread = np.append(self.cups.spread, [log(priors[name][1]) for name, _ in OF_MOLD])
        self.truth = np.append(cup_peers.TRUTH, [truth for _, truth in OF_MOLD])
        self.readings = outcomes(self.truth)

    def residuals(self, z):
        """Every reading over its scatter, and every belief."""
        cups = self.cups.residuals(z[:9])
        castings = (outcomes(self.center * np.exp(self.spread * z)) - self.readings) / (MASS_SD, LOSS_SD, PEAK_SD)
        return np.concatenate([cups, castings.ravel(), z[9:]])

    def one_round(self):
        """Residuals and their derivatives by forward differences at the truth: what every iteration asks for."""
        z = np.log(self.truth / self.center) / self.spread
        here = self.residuals(z)
        columns = [(self.residuals(z + 1e-4 * unit) - here) / 1e-4 for unit in np.eye(z.size)]
        return here, np.column_stack(columns)


def shown(mass):
    """What a scale in air at 23 °C shows of a part, kg: its closed cells displace air that is not in them."""
    s = peer_model.Shot()
    air = s.ambient * peer_model.M_AIR / (peer_model.R * 296.15)
    return mass - air * (s.volume - mass / s.foam.liquid_density)


def write_ledger(folder, readings):
    """The castings as a ledger with its mold; returns the paths."""
    ledger, mold = folder / "castings.csv", folder / "mold.toml"
    head = "trial,charge_g,left_in_cup_g,mix_temp_C,mold_temp_C,ambient_temp_C,ambient_pressure_kPa,vent_mm,"
    head += "closing_time_s,demold_time_s,weighed_after_h,part_mass_g,vent_loss_g,flash_g,"
    head += "outcome,peak_pressure_kPa,gauge_at_stop\n"
    rows = [
        f"B{i},{c * 1e3!r},0,23,30,23,101.325,{v * 1e3!r},5,300,0,{shown(m) * 1e3:.4f},{x * 1e3:.5f},0,full,"
        f"{p / 1e3:.4f},no\n"
        for i, (c, v, (m, x, p)) in enumerate(zip(CHARGES, VENTS, readings, strict=True))
    ]
    ledger.write_text("# invented benchmark data\n" + head + "".join(rows))
    s = peer_model.Shot()
    mold.write_text(
        f'name = "bench"\n[cavity]\nvolume_mL = {s.volume * 1e6!r}\nprojected_area_m2 = {s.projected_area!r}\n'
        f"wall_area_m2 = {s.wall_area!r}\nheat_transfer_W_m2K = {s.heat_transfer!r}\nstretch_per_bar = 0.0\n"
        f"discharge = {s.discharge!r}\n[[vents]]\ncount = 1\ndiameter_mm = 3.0\nlength_mm = 12.0\nat_fill = 1.0\n"
    )
    return ledger, mold
