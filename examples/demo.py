"""The main job on the shipped data, which are invented: three cup tests and eight castings in, the next casting out.

Run it with `make demo`, or `python examples/demo.py FOLDER` to have the files elsewhere than in out/demo.
"""

import os
import sys
from pathlib import Path

import risefit as rf

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT / "data"

# How the next part is to be cast: mixed at 23 °C, poured into a mold at 30 °C, closed after 12 s.
NEXT = rf.Casting(
    charge_g=62,
    vent_mm=4.0,
    mix_temp_C=23,
    mold_temp_C=30,
    left_in_cup_g=1.6,
    clamp_force_N=1500,
    closing_time_s=12,
)


def main(folder: Path) -> None:
    """Fit, calibrate, predict; print the short report and write the whole one into `folder`."""
    sheet = rf.Datasheet.load(DATA / "grades/K_datasheet.toml")
    start = rf.Grade(sheet.name, liquid_density_kg_m3=sheet.liquid_density_kg_m3)

    logs = rf.read_rise_logs(DATA / "logs/K_*.csv")
    fit = rf.fit_free_rise(logs, start=start)

    trials = rf.read_trials(DATA / "trials/armrest.csv")
    calibration = rf.calibrate(fit, rf.Mold.load(DATA / "molds/armrest.toml"), trials)

    # What if someone drilled the vent out, and the shop is cold?
    what_if = NEXT.replace(vent_mm=12, mix_temp_C=18, mold_temp_C=20)
    predictions = [calibration.predict(NEXT), calibration.predict(what_if)]

    print(rf.short_report(fit, calibration, predictions))
    files = rf.write_report(fit, calibration, predictions, folder)
    print(f"Files in {os.path.relpath(folder)}")
    for file in files:
        print(f"- {file.name}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "out/demo")
