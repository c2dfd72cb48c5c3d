"""How far predictions can be trusted where nature is richer than the model, or obeys other laws altogether.

Shops of `data/shop_list.py` of the first and of the second invented nature: cups and six to eight castings are fitted,
then a fresh casting, one at 2000 m and one on a cold morning are predicted. `make two-natures` goes on where it was
stopped; `.venv/bin/python studies/two_natures.py --report` only counts.
"""

import argparse
import csv
import os
import sys
import tempfile
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

# One process a core: what NumPy would start in each of them only gets in the way.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "data"))

import generate  # noqa: E402
import risefit as rf  # noqa: E402
import shop_list  # noqa: E402

WHAT = ["peak_pressure_kPa", "density_kg_m3", "part_mass_g", "vent_loss_g", "fill_time_s", "gel_time_s"]
DRAWN = [*WHAT, "skin_thickness_mm"]
DRAWS = 400
COLUMNS = ["nature", "shop", "layers", "gauge", "asked", "quantity", "truth", "value", "rank", "linear_95"]


def fitted(found, folder, layers):
    """The shop's records read and fitted as a user would."""
    for i, text in enumerate(found.logs):
        (folder / f"log_{i}.csv").write_text(text)
    (folder / "traces").mkdir()
    for trial, text in found.traces.items():
        (folder / "traces" / f"{trial}.csv").write_text(text)
    with (folder / "ledger.csv").open("w") as file:
        csv.writer(file).writerows([generate.LEDGER, *found.rows])
    (folder / "mold.toml").write_text(found.mold)
    fit = rf.fit_free_rise(rf.read_rise_logs(folder / "log_*.csv"), name="drawn", starts=1, threads=1)
    trials = rf.read_trials(folder / "ledger.csv")
    mold = rf.Mold.load(folder / "mold.toml")
    return fit, rf.calibrate(fit, mold, trials, layers=layers, starts=1, threads=1)


def setting(plan):
    """A casting as the shop asks for it; what stays in the cup is the shop's usual."""
    return {
        "charge_g": plan.charge_g,
        "left_in_cup_g": 1.6,
        "vent_mm": plan.vent_mm,
        "mix_temp_C": plan.mix_temp_C,
        "mold_temp_C": plan.mold_temp_C,
        "closing_time_s": plan.closing_time_s,
        "ambient_pressure_kPa": plan.ambient_pressure_kPa,
        "clamp_force_N": plan.clamp_force_N,
        "demold_time_s": plan.demold_time_s,
    }


def answer(which, number, layers):
    """Lines of the table for one shop; a failure is a line as well."""
    head = [which, number, layers, int(number % 2 == 0)]
    began = time.perf_counter()
    try:
        found = shop_list.listed(which, number)
        with tempfile.TemporaryDirectory() as name:
            fit, cal = fitted(found, Path(name), layers)
        lines = [[*head, "", "converged", "", int(fit.converged and cal.converged), "", ""]]
        for parameter, estimate in cal.estimates.items():
            if " " not in parameter and "(" not in parameter:
                lines.append([*head, "", f"fitted {parameter}", "", estimate.value, "", ""])
        for asked, (plan, truth) in found.asked.items():
            lines += [[*head, asked, *line] for line in predicted(cal, plan, truth, number)]
    except rf.RisefitError as error:
        lines = [[*head, "", f"failed: {type(error).__name__}: {error}".replace("\n", " ")[:300], "", "", "", ""]]
    lines.append([*head, "", "seconds", "", round(time.perf_counter() - began, 1), "", ""])
    return lines


def predicted(cal, plan, truth, seed):
    """Quantity, truth, best estimate, share of draws below the truth, whether the linear interval holds it."""
    told = cal.predict(**setting(plan))
    draws = cal.outcomes(draws=DRAWS, seed=seed, threads=1, **setting(plan))
    for name in DRAWN:
        true = np.inf if truth[name] is None else truth[name]
        drawn = np.asarray(getattr(draws, name), float)
        value, rank, linear = getattr(told.run, name), "", ""
        if name != "skin_thickness_mm" or value is not None:
            drawn = np.where(np.isnan(drawn), np.inf, drawn)
            rank = round(float(np.mean(drawn < true) + 0.5 * np.mean(drawn == true)), 5)
        said = getattr(told, name, None)
        if said is not None and truth[name] is not None:
            linear = int(said.interval_95[0] <= true <= said.interval_95[1])
        yield [name, blank(truth[name]), blank(value), rank, linear]
    yield ["core_temp_C", truth["core_temp_C"], told.run.peak_core_temp_C, "", ""]
    yield ["outcome", truth["outcome"], told.verdict, "", ""]


def blank(value):
    """A cell: blank where nothing happened."""
    return "" if value is None else value


# ---- the table ----


def read(path):
    """Lines so far; those of a shop that was broken off are left out."""
    if not path.exists():
        return []
    with path.open() as file:
        lines = list(csv.DictReader(file))
    done = {key(line) for line in lines if line["quantity"] == "seconds"}
    return [line for line in lines if key(line) in done]


def key(line):
    """What a line belongs to."""
    return int(line["nature"]), int(line["shop"]), int(line["layers"])


def run(path, jobs, workers):
    """Answers what is not yet answered, and writes each shop as it comes."""
    lines = read(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    done = {key(line) for line in lines}
    with path.open("w") as file, ProcessPoolExecutor(workers) as pool:
        table = csv.writer(file)
        table.writerows([COLUMNS, *([line[c] for c in COLUMNS] for line in lines)])
        file.flush()
        waiting = [pool.submit(answer, *job) for job in jobs if job not in done]
        for future in as_completed(waiting):
            rows = future.result()
            table.writerows(rows)
            file.flush()
            print(*rows[-1][:4], f"{rows[-1][7]} s", rows[0][5] if len(rows) < 3 else "", flush=True)


# ---- the count ----


def report(lines):
    """Tables, one for each nature, number of layers and way to know the pressure."""
    groups = defaultdict(list)
    for line in lines:
        groups[int(line["nature"]), int(line["layers"]), int(line["gauge"])].append(line)
    for (nature, layers, gauge), found in sorted(groups.items()):
        shops = {line["shop"] for line in found}
        failed = sum(line["quantity"].startswith("failed") for line in found)
        stand = sum(line["quantity"] == "converged" and line["value"] == "1" for line in found)
        how = "with a gauge" if gauge else "without a gauge"
        print(f"\nnature {nature}, layers {layers}, {how}: {len(shops)} shops, {failed} failed, {stand} converged")
        heads = ["n", "bias", "±", "median", "error", "in 90 %", "in 95 %", "linear"]
        print(" " * 26 + "".join(f"{h:>9}" for h in heads))
        for asked in ("fresh", "high", "cold"):
            for name in [*DRAWN, "core_temp_C"]:
                count(asked, name, [x for x in found if x["asked"] == asked and x["quantity"] == name])
        outcomes = [x for x in found if x["quantity"] == "outcome"]
        right = np.mean([x["truth"] == x["value"] for x in outcomes]) if outcomes else np.nan
        print(f"short, full or flash as in truth: {right:.1%} of {len(outcomes)}")


def count(asked, name, found):
    """One row: mean and median of the error, its median size, and how often intervals hold the truth."""
    told = [(float(x["truth"]), float(x["value"])) for x in found if x["truth"] and x["value"]]
    if not told:
        return
    true, value = np.array(told).T
    absolute = name == "core_temp_C"
    # A vent loss may be nothing: its error is a share of the mean.
    off = value - true if absolute else (value - true) / (true.mean() if name == "vent_loss_g" else true)
    ranks = np.array([float(x["rank"]) for x in found if x["rank"]])
    linear = [int(x["linear_95"]) for x in found if x["linear_95"]]
    inside = [f"{np.mean(np.abs(ranks - 0.5) <= s / 2):.1%}" if ranks.size else "" for s in (0.90, 0.95)]
    share = "{:.1f}" if absolute else "{:.1%}"
    errors = [off.mean(), off.std() / np.sqrt(off.size), np.median(off), np.median(np.abs(off))]
    bias, doubt, median, size = (share.format(e) for e in errors)
    held = f"{np.mean(linear):.1%}" if linear else ""
    cells = [off.size, bias, doubt, median, size, *inside, held]
    print(f"{asked:6} {name:19}" + "".join(f"{c:>9}" for c in cells))


def main():
    """Runs shops and reports."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=shop_list.SHOPS)
    parser.add_argument("--natures", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--layers", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--out", type=Path, default=ROOT / "out" / "two_natures" / "shops.csv")
    parser.add_argument("--report", action="store_true", help="only count what is there")
    given = parser.parse_args()
    if not given.report:
        jobs = [(which, number, given.layers) for number in range(given.shops) for which in given.natures]
        run(given.out, jobs, given.workers)
    report(read(given.out))


if __name__ == "__main__":
    main()
