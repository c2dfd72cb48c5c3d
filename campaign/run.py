"""Castings until a new mold is dialed in: following risefit, and two rules of thumb, on simulated shops.

`make campaign` runs 200 new molds, `make campaign MOLDS=10` ten. The same shops and castings each time, on any number
of processes. Prints the distribution for each way and writes out/campaign/summary.json.
"""

import os

# One thread a process: the shops are what runs side by side. Set before risefit is imported.
os.environ.setdefault("RAYON_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import json
import multiprocessing
import statistics
import time
from pathlib import Path

import new_molds
from strategies import WAYS, planned

MOST = 12
OUT = new_molds.ROOT / "out" / "campaign"


def campaign(number):
    """All ways with one mold: for each, its castings until one is good, at most MOST."""
    task = new_molds.draw_task(number)
    about = {
        "mold": number,
        "volume_mL": round(1e6 * task.shop.mold.volume, 1),
        "target_density_kg_m3": task.density,
        "redrawn": task.redrawn,
        "met_by": task.anchor,
    }
    return about | {"ways": {name: dial_in(task, way) for name, way in WAYS.items()}}


def dial_in(task, way):
    """The castings that one way makes. The scatter of casting number k is the same for all ways."""
    start = time.process_time()
    way, castings = way(task), []
    for k in range(MOST):
        plan = planned(task, f"T{k + 1}", *way.propose())
        run, readings = task.cast(plan, new_molds.generator(task.number, 2, k))
        castings.append(row(task, plan, run))
        if castings[-1]["good"]:
            break
        way.learn(plan, readings)
    for casting, chance in zip(castings, getattr(way, "chances", []), strict=False):
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


def summary(molds):
    """For each way: how many castings it took, the median, the share within 3, how many were never dialed in."""
    out = {}
    for name in WAYS:
        ways = [mold["ways"][name] for mold in molds]
        counts = [len(way["castings"]) if way["dialed_in"] else MOST + 1 for way in ways]
        out[name] = {
            "molds": len(molds),
            "counts": {str(k): counts.count(k) for k in range(1, MOST + 1)},
            "median": statistics.median(counts),
            "share_within_2": round(sum(c <= 2 for c in counts) / len(counts), 3),
            "share_within_3": round(sum(c <= 3 for c in counts) / len(counts), 3),
            "never_within_12": counts.count(MOST + 1),
        }
    out["risefit"]["stated_chances"] = stated_chances(molds)
    return out


def stated_chances(molds):
    """Chances stated before each casting against the share that was good, in five bins; first castings also alone."""
    all_castings = [mold["ways"]["risefit"]["castings"] for mold in molds]
    every = [(c["chance"], c["good"]) for castings in all_castings for c in castings]
    first = [(castings[0]["chance"], castings[0]["good"]) for castings in all_castings]
    return {"all castings": in_bins(every), "first castings": in_bins(first)}


def in_bins(pairs):
    """For each fifth from 0 to 1: castings, mean of the chances stated, share good."""
    bins = []
    for fifth in range(5):
        # A chance is written with three digits: what stands on a border belongs above it.
        inside = [(chance, good) for chance, good in pairs if min(4, round(1000 * chance) // 200) == fifth]
        stated = statistics.mean(chance for chance, _ in inside) if inside else None
        good = statistics.mean(good for _, good in inside) if inside else None
        bins.append({"from": fifth / 5, "castings": len(inside), "stated": stated, "good": good})
    return bins


def text(result):
    """The distributions, and the stated chances, as tables."""
    lines = ["castings to dial in   " + "".join(f"{k:>4}" for k in range(1, MOST + 1)) + "  more  median  within 3"]
    for name, r in result.items():
        counts = "".join(f"{r['counts'][str(k)]:>4}" for k in range(1, MOST + 1))
        more, median, share = r["never_within_12"], r["median"], r["share_within_3"]
        lines.append(f"{name:<22}{counts}{more:>6}{median:>8g}{share:>10.0%}")
    for which, bins in result["risefit"]["stated_chances"].items():
        lines.append(f"chances stated, {which}: stated -> good (castings)")
        shown = [b for b in bins if b["castings"]]
        lines += [f"  {b['stated']:.0%} -> {b['good']:.0%} ({b['castings']})" for b in shown]
    return "\n".join(lines)


def main():
    """Runs the molds side by side."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("molds", nargs="?", type=int, default=200, help="how many new molds (200)")
    parser.add_argument("--processes", type=int, default=os.cpu_count(), help="how many at a time")
    parser.add_argument("--first", type=int, default=0, help="number of the first mold")
    parser.add_argument("--out", type=Path, default=OUT, help="folder of the results")
    asked = parser.parse_args()
    start, molds = time.monotonic(), []
    with multiprocessing.Pool(asked.processes) as pool:
        for mold in pool.imap(campaign, range(asked.first, asked.first + asked.molds)):
            molds.append(mold)
            took = {name: len(w["castings"]) if w["dialed_in"] else "-" for name, w in mold["ways"].items()}
            print(f"{mold['mold']:>4} {mold['volume_mL']:>7} mL", took, flush=True)
    result = summary(molds)
    print(text(result))
    redrawn = sum(mold["redrawn"] for mold in molds)
    print(
        f"{asked.molds} new molds in {time.monotonic() - start:.0f} s; {redrawn} drawn again: not to be met by anybody"
    )
    write(result, molds, asked.out)


def write(result, molds, out):
    """summary.json, and every casting in molds.json."""
    seconds = [[way.pop("seconds") for way in mold["ways"].values()] for mold in molds]
    print("processor time by way, s:", [round(sum(column)) for column in zip(*seconds, strict=True)])
    out.mkdir(parents=True, exist_ok=True)
    (out / "summary.json").write_text(json.dumps(result, indent=1) + "\n")
    (out / "molds.json").write_text(json.dumps(molds, indent=1) + "\n")


if __name__ == "__main__":
    main()
