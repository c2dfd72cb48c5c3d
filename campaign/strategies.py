"""Ways to dial in a mold: two rules of thumb, and following risefit. Each is told what a shop knows.

A way is a class: made from a task, `propose()` gives the charge in g and the drill in mm of the next casting, and
`learn` is told what was weighed and read of it. None of them sees the truth. The rules in words: campaign/README.md.
"""

import csv
import math
import tempfile
from dataclasses import replace
from pathlib import Path

import generate
import risefit as rf
from new_molds import (
    DIP_SD,
    DOSING,
    DRILLS_MM,
    LEFT_SCATTER,
    LEFT_SPREAD,
    MOLD_TEMP_SD,
    TOLERANCE,
    WINDOW_KPA,
    generator,
    typical_left,
)

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
    "weighed_after_h",
    "part_mass_g",
    "vent_loss_g",
    "flash_g",
    "outcome",
    "peak_pressure_kPa",
    "gauge_at_stop",
]


AIR_G_PER_ML, LIQUID_G_PER_ML = 1.19e-3, 1.05
TOO_MUCH_LOST = 0.08  # of the charge, through the vents: more charge would follow


class Volume:
    """The cavity's volume as known: from drawing or water fill, and better with every full part that was dipped."""

    def __init__(self, task):
        self.mL, self.sd = 1e6 * task.drawing.volume, task.volume_sd

    def learn(self, readings):
        """Weighs in a dipped part; a short one says nothing."""
        if readings["outcome"] != "short":
            old, new = self.sd**-2, DIP_SD**-2
            self.mL = (old * self.mL + new * readings["dipped_mL"]) / (old + new)
            self.sd = (old + new) ** -0.5


def next_drill(vent_mm, way):
    """One drill size up (1) or down (-1), if the shop has one."""
    place = min(max(DRILLS_MM.index(vent_mm) + way, 0), len(DRILLS_MM) - 1)
    return DRILLS_MM[place]


class ChargeThenDrill:
    """One thing at a time: the charge in proportion to the density error, then the drill by one size."""

    both_at_once = False
    dead_band = TOLERANCE

    def __init__(self, task):
        self.task, self.volume = task, Volume(task)
        filling = task.density * task.drawing.volume
        self.charge = 1e3 * (1.01 * filling + typical_left(filling))
        self.vent = task.plan.vent_mm

    def propose(self):
        """Charge, g, and drill, mm."""
        return self.charge, self.vent

    def learn(self, plan, readings):
        """Corrects charge and drill for the next casting."""
        self.volume.learn(readings)
        if readings["outcome"] == "short":
            self.charge *= 1.06
            return
        if readings["vent_loss_g"] > TOO_MUCH_LOST * plan.charge_g:
            self.vent = next_drill(self.vent, -1)
            return
        density = 1e3 * readings["part_mass_g"] / self.volume.mL
        is_off = abs(density / self.task.density - 1) > self.dead_band
        if is_off:
            self.charge *= self.task.density / density
        if self.both_at_once or not is_off:
            if readings["peak_pressure_kPa"] > WINDOW_KPA[1] or readings["outcome"] == "flash":
                self.vent = next_drill(self.vent, 1)
            elif readings["peak_pressure_kPa"] < WINDOW_KPA[0]:
                self.vent = next_drill(self.vent, -1)


class ChargeAndDrill(ChargeThenDrill):
    """Both corrections at once, and finer ones of the charge."""

    both_at_once = True
    dead_band = 0.01


class Risefit:
    """Follows `recommend` before the first casting and `next_trial` after each."""

    def __init__(self, task):
        self.task, self.volume = task, Volume(task)
        self.vent = task.plan.vent_mm
        self.folder = tempfile.TemporaryDirectory()
        self.rows, self.left_g, self.chances = [], [], []
        self.fit = cup_fit(task, Path(self.folder.name))

    def propose(self):
        """Charge, g, and drill, mm."""
        asked = self.question()
        if not self.rows:
            found = rf.recommend(self.fit, self.mold(), priors=self.priors(), **asked)
        else:
            found = self.calibration().next_trial(has_gauge=True, **asked)
        self.chances.append(found.chance)
        self.vent = float(found.casting.vent_mm[0])
        return found.casting.charge_g, self.vent

    def question(self):
        """What a good part is, the drills, and how the shop casts."""
        task, plan = self.task, self.task.plan
        return {
            "target_density_kg_m3": task.density,
            "tolerance_percent": 100 * TOLERANCE,
            "pressure_kPa": WINDOW_KPA,
            "drills_mm": DRILLS_MM,
            "vent_mm": self.vent,
            "left_in_cup_g": self.left()[0],
            "mix_temp_C": plan.mix_temp_C,
            "mold_temp_C": plan.mold_temp_C,
            "ambient_pressure_kPa": plan.ambient_pressure_kPa,
            "closing_time_s": plan.closing_time_s,
            "demold_time_s": plan.demold_time_s,
            "clamp_force_N": plan.clamp_force_N,
        }

    def left(self):
        """What stays in the cup, g: believed mean, its doubt, and scatter from casting to casting.

        The mean of what the castings so far left (charged, less all that was weighed) and what such shops leave.
        """
        typical = 1e3 * typical_left(self.task.density * self.task.drawing.volume)
        scatter = LEFT_SCATTER * typical
        single = math.hypot(scatter, self.dosing())
        old, new = (LEFT_SPREAD * typical) ** -2, len(self.left_g) * single**-2
        mean = (old * typical + single**-2 * sum(self.left_g)) / (old + new)
        return max(mean, 0.0), (old + new) ** -0.5, scatter

    def dosing(self):
        """How far a charge is from what was meant, g."""
        return math.hypot(0.05, DOSING * 1e3 * self.task.density * self.task.drawing.volume)

    def priors(self):
        """What the shop knows of itself."""
        _, doubt, scatter = self.left()
        return {
            "charge_error_g": (0.0, math.hypot(self.dosing(), scatter, doubt)),
            "cavity_volume_factor": (1.0, math.exp(self.volume.sd)),  # log-normal: a factor
            "mold_temp_error_K": (0.0, MOLD_TEMP_SD),
        }

    def mold(self):
        """The mold as its drawing says, of the volume known by now."""
        return mold_of(self.task, self.volume.mL)

    def calibration(self):
        """The mold calibrated to the castings so far."""
        path = Path(self.folder.name) / "ledger.csv"
        with path.open("w", newline="") as file:
            table = csv.DictWriter(file, LEDGER)
            table.writeheader()
            table.writerows(self.rows)
        return rf.calibrate(self.fit, self.mold(), rf.read_trials(path), starts=1, priors=self.priors())

    def learn(self, plan, readings):
        """Writes the casting into the ledger; what did not come out stayed in the cup.

        A scale shows a part without the air that it displaces.
        """
        self.volume.learn(readings)
        buoyancy = AIR_G_PER_ML * (self.volume.mL - readings["part_mass_g"] / LIQUID_G_PER_ML)
        came_out = buoyancy + sum(readings[name] for name in ("part_mass_g", "vent_loss_g", "flash_g"))
        self.left_g.append(plan.charge_g - came_out)
        said = {name: getattr(plan, name) for name in LEDGER if hasattr(plan, name)}
        read = {name: value for name, value in readings.items() if name in LEDGER}
        own = {"trial": f"T{len(self.rows) + 1}", "left_in_cup_g": round(max(self.left_g[-1], 0.0), 2)}
        self.rows.append(said | read | own)


def mold_of(task, volume_mL):
    """The mold as its drawing says: a tight seam, the vents that it came with."""
    d = task.drawing
    vent = d.vents[0]
    return rf.Mold.from_toml(f"""
name = "new"
[cavity]
volume_mL = {volume_mL}
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
    return rf.fit_free_rise(rf.read_rise_logs(path), start=known, starts=1)


WAYS = {"risefit": Risefit, "charge, then drill": ChargeThenDrill, "charge and drill": ChargeAndDrill}


def planned(task, name, charge_g, vent_mm):
    """A proposal as the shop casts it: the charge to a tenth of a gram (a hundredth below 50 g)."""
    digits = 2 if charge_g < 50 else 1
    return replace(task.plan, trial=name, charge_g=round(charge_g, digits), vent_mm=vent_mm)
