"""Ways to dial in a mold: two rules of thumb, and following risefit. Each is told what a shop knows, and proposes castings.

A strategy is a class: made from a task, `propose()` gives the charge in g and the drill in mm of the next casting, `learn`
is told what was weighed and read of it. None of them sees the truth.
"""

import csv
import math
import tempfile
from dataclasses import replace
from pathlib import Path

import generate
import risefit as rf
from new_molds import DEMO_VOLUME, DRILLS_MM, TOLERANCE, generator, nearest_drill

LEDGER = [
    "trial",
    "charge_g",
    "left_in_cup_g",
    "mix_temp_C",
    "mold_temp_C",
    "ambient_pressure_kPa",
    "vent_mm",
    "clamp_force_N",
    "closing_time_s",
    "demold_time_s",
    "part_mass_g",
    "vent_loss_g",
    "flash_g",
    "outcome",
    "peak_pressure_kPa",
    "gauge_at_stop",
]


def next_drill(vent_mm, way):
    """One drill size up (1) or down (-1), if the shop has one."""
    place = min(max(DRILLS_MM.index(vent_mm) + way, 0), len(DRILLS_MM) - 1)
    return float(DRILLS_MM[place])


class ThumbRule:
    """Charge in proportion to the density error; one drill size up where the pressure is high, down where it is low.

    The first charge fills the drawing's volume at the target density, with 2 % for the vent and what stays in the cup; the
    first drill is the usual one for the size. A short shot gets 6 % more charge. Flash without too much pressure on the gauge
    counts as too much pressure.
    """

    both_at_once = True

    def __init__(self, task):
        self.task = task
        self.charge = 1.02e3 * task.density * task.drawing.volume + 1e3 * task.shop.stuck_mean
        self.vent = nearest_drill(3.0 * (task.drawing.volume / DEMO_VOLUME) ** (1 / 3))

    def propose(self):
        """Charge, g, and drill, mm."""
        return self.charge, self.vent

    def learn(self, plan, readings):
        """Corrects charge and drill for the next casting."""
        task = self.task
        if readings["outcome"] == "short":
            self.charge *= 1.06
            return
        density = 1e-3 * readings["part_mass_g"] / task.drawing.volume
        low, high = task.pressure
        is_off = abs(density / task.density - 1) > TOLERANCE
        if self.both_at_once or is_off:
            self.charge *= task.density / density
        if self.both_at_once or not is_off:
            if readings["peak_pressure_kPa"] > high or readings["outcome"] == "flash":
                self.vent = next_drill(self.vent, 1)
            elif readings["peak_pressure_kPa"] < low:
                self.vent = next_drill(self.vent, -1)


class ChargeFirst(ThumbRule):
    """The same, one thing at a time: the charge until the density is right, then the drill by one size."""

    both_at_once = False


class Risefit:
    """Follows `recommend` before the first casting and `next_trial` after each."""

    def __init__(self, task):
        self.task = task
        self.folder = tempfile.TemporaryDirectory()
        self.rows = []
        self.mold = mold_of(task)
        self.fit = cup_fit(task, Path(self.folder.name))
        self.beliefs = {"charge_error_g": (0.0, task.dosing_sd_g)}
        self.chances = []

    def propose(self):
        """Charge, g, and drill, mm."""
        asked = self.question()
        if not self.rows:
            found = rf.recommend(self.fit, self.mold, beliefs=self.beliefs, **asked)
        else:
            found = self.calibration().next_trial(has_gauge=True, **asked)
        self.chances.append(found.chance)
        return found.casting.charge_g, float(found.casting.vent_mm[0])

    def question(self):
        """What a good part is, the drills, and how the shop casts."""
        task, plan = self.task, self.task.plan
        return {
            "target_density_kg_m3": task.density,
            "tolerance_percent": 100 * TOLERANCE,
            "pressure_kPa": task.pressure,
            "drills_mm": DRILLS_MM,
            "left_in_cup_g": 1e3 * task.shop.stuck_mean,
            "mix_temp_C": plan.mix_temp_C,
            "mold_temp_C": plan.mold_temp_C,
            "ambient_pressure_kPa": plan.ambient_pressure_kPa,
            "closing_time_s": plan.closing_time_s,
            "demold_time_s": plan.demold_time_s,
            "clamp_force_N": plan.clamp_force_N,
        }

    def calibration(self):
        """The mold calibrated to the castings so far."""
        path = Path(self.folder.name) / "ledger.csv"
        with path.open("w", newline="") as file:
            table = csv.DictWriter(file, LEDGER)
            table.writeheader()
            table.writerows(self.rows)
        return rf.calibrate(self.fit, self.mold, rf.read_trials(path), starts=1, beliefs=self.beliefs)

    def learn(self, plan, readings):
        """Writes the casting into the ledger."""
        said = {name: getattr(plan, name) for name in LEDGER if hasattr(plan, name)}
        read = {name: value for name, value in readings.items() if name in LEDGER}
        self.rows.append(said | read | {"trial": f"T{len(self.rows) + 1}"})


def mold_of(task):
    """The mold as its drawing says."""
    d = task.drawing
    vent = d.vents[0]
    return rf.Mold.from_toml(f"""
name = "new"
[cavity]
volume_mL = {1e6 * d.volume}
projected_area_cm2 = {1e4 * d.projected_area}
wall_area_cm2 = {1e4 * d.wall_area}
heat_transfer_W_m2K = 12
clamp_force_N = {d.clamp_force}
discharge = 0.82
stretch_per_bar = 0.0
[[vents]]
count = {vent.count}
diameter_mm = {1e3 * vent.diameter}
length_mm = {1e3 * vent.length}
at_fill = 1.0
[parting_line]
length_mm = {1e3 * d.seam_length}
land_mm = {1e3 * d.seam_land}
gap_um = 0
opening_um_per_kN = {1e9 * d.seam_opening}
at_fill = 1.0
""")


def cup_fit(task, folder):
    """The grade from its data sheet and one cup test, poured at the temperature of the castings."""
    lines = "\n".join(f"{name} = {value}" for name, value in task.datasheet.items())
    sheet = rf.Datasheet.from_toml(f'name = "new"\n[datasheet]\n{lines}\n')
    known = rf.grade_from_datasheet(sheet, starts=1)
    cup = generate.CupPlan("cup", task.cup_mass_g, task.plan.mix_temp_C, 22.0)
    path = folder / "cup.csv"
    path.write_text(generate.log_text(task.shop, cup, generator(task.number, 1))[1])
    return rf.fit_free_rise(rf.read_rise_logs(path), known, starts=1)


STRATEGIES = {"risefit": Risefit, "charge, then drill": ChargeFirst, "charge and drill": ThumbRule}


def planned(task, name, charge_g, vent_mm):
    """A proposal as the shop casts it: the charge to a tenth of a gram (a hundredth below 50 g)."""
    digits = 2 if charge_g < 50 else 1
    return replace(task.plan, trial=name, charge_g=round(charge_g, digits), vent_mm=vent_mm)


def is_finite(value):
    """Whether a reading can be worked with."""
    return value is not None and math.isfinite(value)
