"""Castings until a new mold is dialed in: following risefit, and two rules of thumb, on simulated shops.

`make campaign` runs 200 new molds; `.venv/bin/python campaign/run.py 10` runs ten. The same shops and castings each time, on
any number of processes. Prints the distribution for each way and writes out/campaign/summary.json.
"""

import os

# One thread a process: the shops are what runs side by side. Set before risefit is imported.
os.environ.setdefault("RAYON_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse  # noqa: E402
import json  # noqa: E402
import multiprocessing  # noqa: E402
import statistics  # noqa: E402
import time  # noqa: E402

import new_molds  # noqa: E402
import shop as invented  # noqa: E402
from strategies import STRATEGIES, planned  # noqa: E402

MOST = 12
OUT = new_molds.ROOT / "out" / "campaign"


def campaign(number):
    """All ways in one shop: for each, its castings until one is good, at most MOST."""
    task = new_molds.draw_task(number)
    about = {
        "shop": number,
        "volume_mL": round(1e6 * task.drawing.volume, 1),
        "target_density_kg_m3": task.density,
        "pressure_kPa": task.pressure,
        "met_by": task.anchor,
    }
    return about | {"ways": {name: dial_in(task, way) for name, way in STRATEGIES.items()}}


def dial_in(task, way):
    """The castings that one way makes. The scatter of casting number k is the same for all ways."""
    start = time.process_time()
    strategy, castings = way(task), []
    for k in range(MOST):
        plan = planned(task, f"T{k + 1}", *strategy.propose())
        rng = new_molds.generator(task.number, 2, k)
        run, _, readings, _ = invented.run_trial(task.shop, plan, rng, new_molds.STEP)
        castings.append(row(task, plan, run))
        if task.is_good(run):
            break
        strategy.learn(plan, readings)
    for casting, chance in zip(castings, getattr(strategy, "chances", []), strict=False):
        casting["chance"] = round(chance, 3)
    return {"castings": castings, "dialed_in": castings[-1]["good"], "seconds": time.process_time() - start}


def row(task, plan, run):
    """A casting as it truly came out."""
    return {
        "charge_g": plan.charge_g,
        "vent_mm": plan.vent_mm,
        "outcome": run.outcome,
        "density_error_percent": round(100 * (run.density / task.density - 1), 2),
        "pressure_kPa": round(run.peak_pressure / 1e3, 1),
        "good": task.is_good(run),
    }


def summary(shops):
    """For each way: how many castings it took, the median, the share within 3, and how many were never dialed in."""
    out = {}
    for name in STRATEGIES:
        ways = [shop["ways"][name] for shop in shops]
        counts = [len(way["castings"]) if way["dialed_in"] else MOST + 1 for way in ways]
        out[name] = {
            "shops": len(shops),
            "counts": {str(k): counts.count(k) for k in range(1, MOST + 1)},
            "median": statistics.median(counts),
            "share_within_2": round(sum(c <= 2 for c in counts) / len(counts), 3),
            "share_within_3": round(sum(c <= 3 for c in counts) / len(counts), 3),
            "never_within_12": counts.count(MOST + 1),
        }
    return out


def text(result):
    """The distributions as a table."""
    lines = ["castings to dial in   " + "".join(f"{k:>4}" for k in range(1, MOST + 1)) + "  more  median  within 3"]
    for name, r in result.items():
        counts = "".join(f"{r['counts'][str(k)]:>4}" for k in range(1, MOST + 1))
        more, median, share = r["never_within_12"], r["median"], r["share_within_3"]
        lines.append(f"{name:<22}{counts}{more:>6}{median:>8g}{share:>9.0%}")
    return "\n".join(lines)


def main():
    """Runs the shops side by side."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("shops", nargs="?", type=int, default=200, help="how many new molds (200)")
    parser.add_argument("--processes", type=int, default=os.cpu_count(), help="how many at a time")
    parser.add_argument("--first", type=int, default=0, help="number of the first shop")
    asked = parser.parse_args()
    start, shops = time.monotonic(), []
    with multiprocessing.Pool(asked.processes) as pool:
        for shop in pool.imap(campaign, range(asked.first, asked.first + asked.shops)):
            shops.append(shop)
            took = {name: len(w["castings"]) if w["dialed_in"] else "-" for name, w in shop["ways"].items()}
            print(f"{shop['shop']:>4} {shop['volume_mL']:>7} mL", took, flush=True)
    result = summary(shops)
    print(text(result))
    print(f"{asked.shops} new molds in {time.monotonic() - start:.0f} s; within 3 % of the target density, in the pressure")
    print("window, full and without flash, as it truly came out")
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / "summary.json").write_text(json.dumps(result, indent=1) + "\n")
    for shop in shops:
        for way in shop["ways"].values():
            del way["seconds"]
    (OUT / "shops.json").write_text(json.dumps(shops, indent=1) + "\n")


if __name__ == "__main__":
    main()
