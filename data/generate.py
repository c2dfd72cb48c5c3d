"""Writes the invented demo data: `python data/generate.py --out DIR`; the same seed gives the same bytes."""

import argparse
import csv
import io
import json
from dataclasses import asdict
from pathlib import Path

import numpy as np
from closed_mold import cast
from nature import CupSetting, cup_test
from shop import KELVIN, CastPlan, CupPlan, Shop, cast_setting, log_cup, nominal_cast, run_trial, set_up

SEED = 20261

CUPS = {
    "K_19C": CupPlan("K at 19 C", 60.8, 19.2, 18.9, 101.3),
    "K_23C": CupPlan("K at 23 C", 62.3, 23.1, 22.8, 101.1),
    "K_28C": CupPlan("K at 28 C", 59.6, 28.0, 26.4, 100.8),
}

TRIALS = [
    CastPlan("A1", 48.0, 3.0, 22.6, 29.5, 21.8, 101.2, closing_time_s=14, remarks="top corner missing"),
    CastPlan("A2", 56.5, 3.0, 22.9, 30.0, 22.0, 101.2, closing_time_s=12, remarks="full but soft skin"),
    CastPlan("A3", 61.0, 4.0, 23.2, 30.5, 22.3, 101.1, gauge_stop_kPa=100, core=True, remarks="good skin"),
    CastPlan("A4", 64.0, 3.0, 23.0, 30.0, 22.4, 101.1, closing_time_s=13, trace=True, remarks="logger fitted"),
    CastPlan("A5", 66.0, 6.0, 23.4, 31.0, 22.9, 101.0, core=True, remarks="vent drilled out; long sprue"),
    CastPlan("A6", 68.0, 2.5, 22.8, 30.0, 22.1, 100.7, closing_time_s=11, gauge_stop_kPa=60, remarks="0-60 kPa gauge"),
    CastPlan("A7", 63.0, 5.0, 24.6, 36.0, 23.5, 100.9, trace=True, core=True, remarks="warm mold; logger fitted"),
    CastPlan("A8", 66.0, 3.0, 23.1, 30.0, 22.6, 101.0, 150.0, remarks="two clamps left off; flash all around"),
]

TARGETS = [CastPlan(f"62 g, vent {d} mm", 62.0, d, ambient_pressure_kPa=101.325) for d in (3.0, 4.0)]
TARGET_LEFT_IN_CUP = 1.6e-3

LEDGER = [
    "trial",
    "charge_g",
    "left_in_cup_g",
    "mix_temp_C",
    "mold_temp_C",
    "ambient_temp_C",
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
    "core_temp_C",
    "trace_file",
    "remarks",
]

MOLD = """\
# invented demo data
name = "armrest"
note = "invented: printed mold of an armrest pad, one top vent"

[cavity]
volume_mL = 620
projected_area_cm2 = 150
wall_area_cm2 = 480
heat_transfer_W_m2K = 12
stretch_per_bar = 0.0
clamp_force_N = 1500
discharge = 0.82

[[vents]]
count = 1
diameter_mm = 3.0
length_mm = 12.0
at_fill = 1.0

[parting_line]
length_mm = 600
land_mm = 5
gap_um = 0
opening_um_per_kN = 5000
at_fill = 1.0
"""

DATASHEET = """\
# invented demo data: what a supplier's data sheet of the invented grade K would say
name = "K"

[datasheet]
free_rise_density_kg_m3 = 76
cream_time_s = 11
string_gel_time_s = 59
end_of_rise_s = 70
demold_time_s = 240
at_temp_C = 23
mix_ratio = "100 : 76"
liquid_density_kg_m3 = 1060
"""


def generator(*place):
    """A stream of its own for each record, so that a new record changes no other."""
    return np.random.default_rng([SEED, *place])


def log_text(shop, plan, rng):
    """A rise log as a file: its run and its text."""
    run, series, readings = log_cup(shop, plan, rng)
    return run, text_of_log(plan, series, readings)


def text_of_log(plan, series, readings):
    """What was read in a free-rise test as the text of a file."""
    time, height, temp = series
    cup = CupSetting(0, 0, 0)
    density = readings["free_rise_density_kg_m3"]
    head = {
        "name": plan.name,
        "mass_g": plan.mass_g,
        "mix_temp_C": plan.mix_temp_C,
        "ambient_temp_C": plan.ambient_temp_C,
        "ambient_pressure_kPa": plan.ambient_pressure_kPa,
        "cup_bottom_diameter_mm": f"{cup.bottom_diameter * 1e3:.0f}",
        "cup_top_diameter_mm": f"{cup.top_diameter * 1e3:.0f}",
        "cup_height_mm": f"{cup.height * 1e3:.0f}",
        **readings,
        "free_rise_density_kg_m3": f"{density:.1f}",
    }
    lines = ["# invented demo data", *(f"# {k} = {v}" for k, v in head.items()), "time_s,height_mm,temp_C"]
    lines += [f"{t:.1f},{h:.1f},{c:.1f}" for t, h, c in zip(time, height, temp, strict=True)]
    return "\n".join(lines) + "\n"


def number(value, digits):
    """A cell: blank if not measured."""
    return "" if value is None else f"{value:.{digits}f}"


def ledger_row(plan, readings):
    """A casting as a line of the ledger."""
    cells = {
        "trial": plan.trial,
        "charge_g": number(plan.charge_g, 1),
        "mix_temp_C": number(plan.mix_temp_C, 1),
        "mold_temp_C": number(plan.mold_temp_C, 1),
        "ambient_temp_C": number(plan.ambient_temp_C, 1),
        "ambient_pressure_kPa": number(plan.ambient_pressure_kPa, 1),
        "vent_mm": number(plan.vent_mm, 1),
        "clamp_force_N": number(plan.clamp_force_N, 0),
        "closing_time_s": number(plan.closing_time_s, 0),
        "demold_time_s": number(plan.demold_time_s, 0),
        "weighed_after_h": number(plan.weighed_after_h, 1),
        "outcome": readings["outcome"],
        "gauge_at_stop": readings["gauge_at_stop"],
        "trace_file": f"traces/{plan.trial}.csv" if plan.trace else "",
        "remarks": plan.remarks,
    }
    for name in ("left_in_cup_g", "part_mass_g", "vent_loss_g", "flash_g", "peak_pressure_kPa", "core_temp_C"):
        cells[name] = number(readings[name], 1)
    return [cells[name] for name in LEDGER]


def trace_text(trial, trace):
    """A trace as a file."""
    lines = ["# invented demo data", f"# casting {trial}, gauge pressure", "time_s,pressure_kPa,temp_C"]
    return "\n".join(lines + [f"{t:.1f},{p:.1f},{c:.1f}" for t, p, c in zip(*trace, strict=True)]) + "\n"


def cast_truth(run):
    """What a casting truly did, in the ledger's units."""
    return {
        "outcome": run.outcome,
        "peak_pressure_kPa": run.peak_pressure / 1e3,
        "peak_time_s": run.peak_time,
        "pressure_at_gel_kPa": run.pressure_at_gel / 1e3,
        "density_kg_m3": run.density,
        "fill_time_s": run.fill_time,
        "gel_time_s": run.gel_time,
        "fill_fraction": run.fill_fraction,
        "part_mass_g": run.part_mass * 1e3,
        "scale_reading_g": run.scale_reading * 1e3,
        "vent_loss_g": run.vent_loss * 1e3,
        "flash_g": run.flash * 1e3,
        "core_temp_C": run.peak_core_temp - KELVIN,
    }


def cup_truth(run):
    """What a cup test truly did."""
    return {
        "cream_time_s": run.cream,
        "string_gel_time_s": run.string_gel,
        "end_of_rise_s": run.end_of_rise,
        "tack_free_time_s": run.tack_free,
        "free_rise_density_kg_m3": run.density,
        "core_temp_C": float(run.core_temp.max()) - KELVIN,
    }


def rounded(value):
    """Six digits, so that the last bits of a processor's arithmetic stay out of the file."""
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value


def target_truth(shop, plan):
    """A prediction target: no scatter at all, everything as written."""
    run = cast(shop.nature, set_up(shop.mold, plan), cast_setting(plan, TARGET_LEFT_IN_CUP))
    said = {k: v for k, v in asdict(plan).items() if k not in ("trace", "core", "gauge_stop_kPa", "remarks", "trial")}
    return {"setting": said | {"left_in_cup_g": TARGET_LEFT_IN_CUP * 1e3}, "truth": cast_truth(run)}


def all_files(shop):
    """Every demo file: relative path to text."""
    standard = CupSetting(0.060, 296.15, 296.15)
    truth = {
        "note": "invented demo data: what only the generator knows; SI unless a name carries a unit",
        "seed": SEED,
        "nature": asdict(shop.nature),
        "mold": asdict(shop.mold),
        "scatter": {k: v for k, v in asdict(shop).items() if k not in ("nature", "mold")},
        "cup_60g_23C": cup_truth(cup_test(shop.nature, standard)),
        "cups": {},
        "trials": {},
        "targets": {p.trial: target_truth(shop, p) for p in TARGETS},
    }
    files = {"molds/armrest.toml": MOLD, "grades/K_datasheet.toml": DATASHEET}
    for i, (stem, plan) in enumerate(CUPS.items()):
        run, files[f"logs/{stem}.csv"] = log_text(shop, plan, generator(1, i))
        truth["cups"][stem] = cup_truth(run)
    rows = io.StringIO()
    rows.write("# invented demo data: armrest pad of 620 mL, grade K; pressures are gauge; blank = not measured\n")
    table = csv.writer(rows, lineterminator="\n")
    table.writerow(LEDGER)
    for i, plan in enumerate(TRIALS):
        run, setting, readings, trace = run_trial(shop, plan, generator(2, i))
        table.writerow(ledger_row(plan, readings))
        if trace is not None:
            files[f"trials/traces/{plan.trial}.csv"] = trace_text(plan.trial, trace)
        poured = {"poured_g": setting.mass * 1e3, "mix_temp_C": setting.mix_temp - KELVIN}
        nominal = cast_truth(nominal_cast(shop, plan))
        truth["trials"][plan.trial] = {"as_cast": poured | cast_truth(run), "without_scatter": nominal}
    files["trials/armrest.csv"] = rows.getvalue()
    files["truth.json"] = json.dumps(rounded(truth), indent=1) + "\n"
    return files


def main():
    """Writes the files into --out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder to write into")
    out = parser.parse_args().out
    for name, text in all_files(Shop()).items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
