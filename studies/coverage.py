"""How far predictions can be trusted where nature is richer than the model.

Many invented shops, each with a grade, a mold and scatter of its own, one free-rise test at two temperatures and four
castings, and one more casting to predict. `make coverage` takes some minutes; the same shops each time.
"""

import argparse
import csv
import json
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
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
VENTS_MM = [2.5, 3.0, 3.5, 4.0, 5.0, 6.0]
DRAWS = 1000
STARTS = 4


def generator(*place):
    """A stream of its own for each record."""
    return np.random.default_rng([SEED, *place])


def plans(rng, scale):
    """Two cups, four castings and the one to predict: charges that fill the mold or nearly."""
    temps = [rng.uniform(18, 21), rng.uniform(25, 29)]
    cups = [
        invented.CupPlan(f"cup {i}", round(rng.uniform(55, 65) * min(scale, 1.3), 1), round(t, 1), round(t - 0.5, 1))
        for i, t in enumerate(temps)
    ]
    vents = rng.choice(VENTS_MM, 3, replace=False)
    castings = [
        invented.CastPlan(
            f"T{i}",
            round(rng.uniform(52, 68) * scale, 1),
            float(vents[i % 2]),
            mix_temp_C=round(rng.uniform(21.5, 24.5), 1),
            mold_temp_C=round(rng.uniform(27, 35), 1),
            closing_time_s=round(rng.uniform(9, 15)),
            gauge_stop_kPa=160.0,
        )
        for i in range(4)
    ]
    target = invented.CastPlan("next", round(rng.uniform(56, 68) * scale, 1), float(vents[2]))
    return cups, castings, target


def shop_records(number):
    """Texts of a shop's records, and what the next casting comes to."""
    shop = invented.draw_shop(generator(number))
    scale = cup_test(shop.nature, STANDARD_CUP).density / cup_test(invented.Shop().nature, STANDARD_CUP).density
    cups, castings, target = plans(generator(number, 9), scale)
    logs = [generate.log_text(shop, plan, generator(number, 1, i))[1] for i, plan in enumerate(cups)]
    rows = [
        generate.ledger_row(plan, invented.run_trial(shop, plan, generator(number, 2, i))[2])
        for i, plan in enumerate(castings)
    ]
    truth = generate.cast_truth(invented.run_trial(shop, target, generator(number, 3))[0])
    return {"logs": logs, "rows": rows, "target": target, "truth": truth}


def calibrated(records):
    """The shop's records read and fitted as a user would."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for i, text in enumerate(records["logs"]):
            (folder / f"log_{i}.csv").write_text(text)
        with (folder / "ledger.csv").open("w") as file:
            csv.writer(file).writerows([generate.LEDGER, *records["rows"]])
        fit = rf.fit_free_rise(rf.read_rise_logs(folder / "log_*.csv"), name="drawn", starts=1)
        mold = rf.Mold.load(ROOT / "data" / "molds" / "armrest.toml")
        return fit, rf.calibrate(fit, mold, rf.read_trials(folder / "ledger.csv"), starts=STARTS)


def setting(target):
    """The next casting as the shop asks for it; what stays in the cup is the shop's usual."""
    return {
        "charge_g": target.charge_g,
        "left_in_cup_g": 1.6,
        "vent_mm": target.vent_mm,
        "mix_temp_C": target.mix_temp_C,
        "mold_temp_C": target.mold_temp_C,
        "closing_time_s": target.closing_time_s,
        "ambient_pressure_kPa": target.ambient_pressure_kPa,
    }


def answer(number):
    """For each quantity: the truth, where it stands among the draws, whether the linear interval holds it."""
    records = shop_records(number)
    fit, cal = calibrated(records)
    asked = setting(records["target"])
    predicted = cal.predict(**asked)
    draws = cal.outcomes(draws=DRAWS, seed=number, **asked)
    return {
        "number": number,
        "stands": fit.converged and cal.converged,
        "quantities": {
            name: judged(records["truth"][name], getattr(predicted, name), getattr(draws, name)) for name in WHAT
        },
    }


def judged(truth, predicted, draws):
    """One quantity; a time at which nothing happened is later than any."""
    value = np.inf if truth is None else truth
    drawn = np.where(np.isnan(draws), np.inf, draws)
    below, ties = np.mean(drawn < value), np.mean(drawn == value)
    return {
        "truth": truth,
        "value": None if predicted is None else predicted.value,
        "sd": None if predicted is None else predicted.standard_error,
        "rank": float(below + 0.5 * ties),
        "linear_95": None
        if predicted is None or truth is None
        else bool(predicted.interval_95[0] <= truth <= predicted.interval_95[1]),
    }


def main():
    """Prints for each quantity the median error and how many intervals hold the truth."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--out", type=Path, default=ROOT / "out" / "coverage" / "shops.json")
    given = parser.parse_args()
    with ProcessPoolExecutor() as pool:
        answers = list(pool.map(answer, range(given.shops), chunksize=2))
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text(json.dumps(answers, indent=1))
    report(answers)


def report(answers):
    """The table, in shares of the shops."""
    print(f"{sum(a['stands'] for a in answers)} of {len(answers)} calibrations say that they can be stood behind")
    print(f"{'':18} median error   in 90 %   in 95 %   linear 95 %")
    for name in WHAT:
        all_of = [a["quantities"][name] for a in answers]
        ranks = np.array([q["rank"] for q in all_of])
        told = [q for q in all_of if q["truth"] and q["value"] is not None]
        error = np.median([abs(q["value"] / q["truth"] - 1) for q in told])
        linear = [q["linear_95"] for q in all_of if q["linear_95"] is not None]
        inside = [np.mean(np.abs(ranks - 0.5) <= share / 2) for share in (0.90, 0.95)]
        print(f"{name:18} {error:11.1%} {inside[0]:10.1%} {inside[1]:9.1%} {np.mean(linear):12.1%}")


if __name__ == "__main__":
    main()
