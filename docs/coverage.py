"""How often the 95 % intervals hold the truth: fits other invented shops and predicts one more casting of each.

`.venv/bin/python docs/coverage.py 26` takes some minutes; the same shops each time.
"""

import csv
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "data"))

import generate  # noqa: E402
import risefit as rf  # noqa: E402
import shop as invented  # noqa: E402
from nature import CupSetting, cup_test  # noqa: E402

SEED = 7
WHAT = ["peak_pressure_kPa", "density_kg_m3", "part_mass_g", "vent_loss_g", "fill_time_s", "gel_time_s"]
STANDARD_CUP = CupSetting(0.060, 296.15, 296.15)


def generator(*place):
    """A stream of its own for each record."""
    return np.random.default_rng([SEED, *place])


def write_records(folder, shop, number, scale):
    """The demo's cups and castings once more in another shop, charges scaled with its free-rise density."""
    for name in ("logs", "traces"):
        (folder / name).mkdir()
    for i, (stem, plan) in enumerate(generate.CUPS.items()):
        plan = replace(plan, mass_g=plan.mass_g * min(scale, 1.3))
        (folder / "logs" / f"{stem}.csv").write_text(generate.log_text(shop, plan, generator(number, 1, i))[1])
    with (folder / "ledger.csv").open("w") as file:
        table = csv.writer(file)
        table.writerow(generate.LEDGER)
        for i, plan in enumerate(generate.TRIALS):
            plan = replace(plan, charge_g=round(plan.charge_g * scale, 1))
            _, _, readings, trace = invented.run_trial(shop, plan, generator(number, 2, i))
            table.writerow(generate.ledger_row(plan, readings))
            if trace is not None:
                (folder / "traces" / f"{plan.trial}.csv").write_text(generate.trace_text(plan.trial, trace))


def answer(number):
    """Whether the fits can be stood behind, and for each quantity whether its interval holds the truth."""
    shop = invented.draw_shop(generator(number))
    scale = cup_test(shop.nature, STANDARD_CUP).density / cup_test(invented.Shop().nature, STANDARD_CUP).density
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_records(folder, shop, number, scale)
        fit = rf.fit_free_rise(rf.read_rise_logs(folder / "logs" / "*.csv"), name="drawn", starts=1)
        mold = rf.Mold.load(ROOT / "data" / "molds" / "armrest.toml")
        cal = rf.calibrate(fit, mold, rf.read_trials(folder / "ledger.csv"), starts=1)
    plan = invented.CastPlan("next", round(62 * scale, 1), 4.0, ambient_pressure_kPa=101.325)
    setting = {"charge_g": plan.charge_g, "vent_mm": 4.0, "mix_temp_C": 23, "mold_temp_C": 30, "closing_time_s": 12}
    predicted = cal.predict(left_in_cup_g=1.6, **setting)
    truth = generate.cast_truth(invented.run_trial(shop, plan, generator(number, 3))[0])
    return fit.success and cal.success, {name: is_inside(getattr(predicted, name), truth[name]) for name in WHAT}


def is_inside(predicted, truth):
    """Whether the interval holds the truth; nothing holds nothing."""
    if predicted is None or truth is None:
        return predicted is None and truth is None
    return predicted.interval_95[0] <= truth <= predicted.interval_95[1]


def main():
    """Runs as many shops as the first argument says."""
    shops = int(sys.argv[1]) if len(sys.argv) > 1 else 26
    answers = [answer(number) for number in range(shops)]
    print(f"{sum(good for good, _ in answers)} of {shops} calibrations say that they can be stood behind")
    for name in WHAT:
        print(f"{name:18} {sum(held[name] for _, held in answers)} of {shops}")


if __name__ == "__main__":
    main()
