"""Where the model errs: predictions in the demo's shop with one setting changed, beside the truth of its nature.

`.venv/bin/python studies/what_if.py` prints a table of docs/trust.md.
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "data"))

import generate  # noqa: E402
import risefit as rf  # noqa: E402
import shop as invented  # noqa: E402

PLAN = {
    "charge_g": 62.0,
    "vent_mm": 4.0,
    "mix_temp_C": 23.0,
    "mold_temp_C": 30.0,
    "ambient_pressure_kPa": 101.325,
    "clamp_force_N": 1500.0,
}
CHANGES = {
    "as planned": {},
    "vent 2 mm": {"vent_mm": 2.0},
    "vent 6 mm": {"vent_mm": 6.0},
    "mix 16 °C, mold 18 °C": {"mix_temp_C": 16.0, "mold_temp_C": 18.0},
    "mix 27 °C, mold 40 °C": {"mix_temp_C": 27.0, "mold_temp_C": 40.0},
    "48 g": {"charge_g": 48.0},
    "50 g": {"charge_g": 50.0},
    "54 g": {"charge_g": 54.0},
    "vent 12 mm": {"vent_mm": 12.0},
    "72 g": {"charge_g": 72.0},
    "at 2000 m": {"ambient_pressure_kPa": 79.5},
    "clamp 500 N": {"clamp_force_N": 500.0},
}


def row(name, calibration, change):
    """One line: what is predicted, its interval, and the truth."""
    setting = PLAN | change
    truth = generate.cast_truth(invented.nominal_cast(invented.Shop(), invented.CastPlan("next", **setting)))
    predicted = calibration.predict(left_in_cup_g=1.6, closing_time_s=12, **setting)
    cells = [f"{name:22} {predicted.verdict:5} (truth {truth['outcome']:5})"]
    for what in ("peak_pressure_kPa", "density_kg_m3", "vent_loss_g"):
        value = getattr(predicted, what)
        low, high = value.interval_95
        cells.append(f"{what} {value.value:.1f} ({low:.1f} to {high:.1f}), truth {truth[what]:.1f}")
    return " | ".join(cells)


def main():
    """Fits the demo's records and prints the table."""
    fit = rf.fit_free_rise(rf.read_rise_logs(ROOT / "data" / "logs" / "*.csv"), name="K", starts=1)
    mold = rf.Mold.load(ROOT / "data" / "molds" / "armrest.toml")
    calibration = rf.calibrate(fit, mold, rf.read_trials(ROOT / "data" / "trials" / "armrest.csv"), starts=1)
    for name, change in CHANGES.items():
        print(row(name, calibration, change))


if __name__ == "__main__":
    main()
