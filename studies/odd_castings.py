"""How often `diagnose` finds a casting with a planted fault, and names the fault.

Other invented shops are cast in, whose nature is richer than the model.

`.venv/bin/python studies/odd_castings.py 30` takes some minutes on two cores; the same shops each time. With `--logger`
five of six castings have a pressure trace instead of a dial gauge, and so has the one in question.
"""

import csv
import os
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "data"))

import closed_mold  # noqa: E402
import generate  # noqa: E402
import risefit as rf  # noqa: E402
import shop as invented  # noqa: E402
from nature import CupSetting, cup_test  # noqa: E402

SEED = 11
STANDARD_CUP = CupSetting(0.060, 296.15, 296.15)
CUPS = [invented.CupPlan("cold", 60.8, 19.2, 18.9), invented.CupPlan("warm", 60.2, 27.0, 25.5)]
# Six castings without a fault, and the one in question.
SOUND = [
    invented.CastPlan("B1", 56.5, 3.0),
    invented.CastPlan("B2", 61.0, 4.0, gauge_stop_kPa=100),
    invented.CastPlan("B3", 64.0, 3.0, gauge_stop_kPa=100),
    invented.CastPlan("B4", 66.0, 6.0, mold_temp_C=31, gauge_stop_kPa=100),
    invented.CastPlan("B5", 63.0, 5.0, mix_temp_C=24.6, mold_temp_C=36, gauge_stop_kPa=100),
    invented.CastPlan("B6", 66.0, 2.5, gauge_stop_kPa=100),
]
IN_QUESTION = invented.CastPlan("X", 64.0, 3.0, gauge_stop_kPa=100)
FAULTS = ["none", "charge", "leak", "clamp", "vent", "mold_temp", "mix_temp", "late_closing", "lot", "misread"]


class Spilling(closed_mold.Cavity):
    """A cavity that cannot be closed over more foam than it holds: what stands above the rim comes out."""

    def push_air(self, dt):
        """As the mold closes, takes away what is too much."""
        if self.head is None and self.foam_volume > 0.999 * self.mold.volume:
            spilled = self.mass * (1 - 0.999 * self.mold.volume / self.foam_volume)
            self.mass -= spilled
            self.flash += spilled
        super().push_air(dt)


closed_mold.Cavity = Spilling


def generator(*place):
    """A stream of its own for each record."""
    return np.random.default_rng([SEED, *place])


def either(rng, low, high):
    """A size between the two, up or down."""
    return rng.uniform(low, high) * rng.choice([-1.0, 1.0])


def faulty(shop, plan, fault, rng):
    """The shop and the plan as they truly were, and what the size of the fault is called in a diagnosis."""
    if fault == "charge":
        short = -rng.uniform(0.045, 0.09) * plan.charge_g
        return shop, replace(plan, charge_g=plan.charge_g + short), {"charge_error_g": short}
    if fault == "leak":
        gap = rng.uniform(0.3e-3, 0.7e-3)
        mold = replace(shop.mold, seam_length=0.06, seam_gap=gap, seam_opening=0.0)
        return replace(shop, mold=mold), plan, {}
    if fault == "clamp":
        held = rng.uniform(80, 300)
        return shop, replace(plan, clamp_force_N=held), {"clamp_held_N": held}
    if fault == "vent":
        vent = rng.choice([1.5, 2.0, 5.0, 6.0, 7.0])
        return shop, replace(plan, vent_mm=vent), {"vent_mm": vent}
    if fault == "mold_temp":
        by = either(rng, 8, 15)
        return shop, replace(plan, mold_temp_C=plan.mold_temp_C + by), {"mold_temp_error_K": by}
    if fault == "mix_temp":
        by = either(rng, 4, 7)
        return shop, replace(plan, mix_temp_C=plan.mix_temp_C + by), {"mix_temp_error_K": by}
    if fault == "late_closing":
        closed = invented.nominal_cast(shop, plan).fill_time + rng.uniform(1.5, 5)
        return shop, replace(plan, closing_time_s=closed), {"closing_delay_s": closed - plan.closing_time_s}
    if fault == "lot":
        by = either(rng, 0.08, 0.15)
        nature = replace(shop.nature, water=shop.nature.water * (1 + by))
        return replace(shop, nature=nature), plan, {"gas_change": by}
    return shop, plan, {}


def line(folder, shop, plan, rng, written=None, misread=0.0):
    """A casting as a line of the ledger, which says `written` where something else was done."""
    _, _, readings, trace = invented.run_trial(shop, plan, rng)
    readings["part_mass_g"] += misread
    if trace is not None:
        (folder / "traces" / f"{plan.trial}.csv").write_text(generate.trace_text(plan.trial, trace))
    return generate.ledger_row(written or plan, readings)


def scaled(plan, scale, logger):
    """The plan for a grade of another free-rise density, with a logger instead of a dial gauge if there is one."""
    has_logger = logger and plan.gauge_stop_kPa is not None
    return replace(plan, charge_g=round(plan.charge_g * scale, 1), trace=has_logger)


def shop_cases(number, logger):
    """All faults in one shop: for each, what the diagnosis says."""
    shop = invented.draw_shop(generator(number))
    scale = cup_test(shop.nature, STANDARD_CUP).density / cup_test(invented.Shop().nature, STANDARD_CUP).density
    mold = rf.Mold.load(ROOT / "data" / "molds" / "armrest.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for i, plan in enumerate(CUPS):
            plan = replace(plan, mass_g=plan.mass_g * min(scale, 1.3))
            (folder / f"{plan.name}.csv").write_text(generate.log_text(shop, plan, generator(number, 1, i))[1])
        fit = rf.fit_free_rise(rf.read_rise_logs(folder / "*.csv"), name="drawn", starts=1)
        (folder / "traces").mkdir()
        plans = [scaled(plan, scale, logger) for plan in (*SOUND, IN_QUESTION)]
        sound = [line(folder, shop, plan, generator(number, 2, i)) for i, plan in enumerate(plans[:-1])]
        return [case(number, shop, plans[-1], fault, (fit, mold, sound, folder)) for fault in FAULTS]


def case(number, shop, plan, fault, around):
    """One fault: its name, whether X is odd, other odd castings, causes, whether the size is in its interval."""
    fit, mold, sound, folder = around
    rng = generator(number, 3, FAULTS.index(fault))
    true_shop, true_plan, size = faulty(shop, plan, fault, rng)
    # A part that weighs more than the charge would be refused as the ledger is read.
    misread = -rng.uniform(3, 8) if fault == "misread" else 0.0
    last = line(folder, true_shop, true_plan, rng, plan, misread)
    with (folder / "ledger.csv").open("w") as file:
        csv.writer(file).writerows([generate.LEDGER, *sound, last])
    try:
        cal = rf.calibrate(fit, mold, rf.read_trials(folder / "ledger.csv"), starts=1)
        found = cal.diagnose()
    except rf.RisefitError as error:
        return fault, None, [], [], None, f"{type(error).__name__}: {error}"
    x = found.castings[-1]
    held = None
    for cause in x["causes"]:
        if cause["cause"] == fault and size:
            ((key, value),) = size.items()
            low, high = cause[f"{key}_90"]
            held = low <= value <= high
    causes = [(cause["cause"], cause["probability"]) for cause in x["causes"]]
    return fault, x["odd"], [t for t in found.odd if t != "X"], causes, held, size


def main():
    """Runs as many shops as the first argument says."""
    shops = next((int(word) for word in sys.argv[1:] if word.isdigit()), 30)
    logger = "--logger" in sys.argv
    os.environ.setdefault("RAYON_NUM_THREADS", "1")
    with ProcessPoolExecutor(int(os.environ.get("WORKERS", "2"))) as pool:
        cases = [case for shop in pool.map(shop_cases, range(shops), [logger] * shops) for case in shop]
    if "-v" in sys.argv:
        for one in cases:
            print(one)
    report(cases)


def report(cases):
    """The table: found, named, and which cause came first."""
    print(f"{'planted':13} cases odd first top2 size  causes that came first")
    for fault in FAULTS:
        mine = [c for c in cases if c[0] == fault and c[1] is not None]
        odd = [c for c in mine if c[1]]
        firsts = [c[3][0][0] for c in odd]
        top2 = sum(fault in [name for name, _ in c[3][:2]] for c in odd)
        sized = [c[4] for c in odd if c[4] is not None]
        counted = ", ".join(f"{name} {firsts.count(name)}" for name in sorted(set(firsts), key=firsts.count)[::-1])
        size = f"{sum(sized)}/{len(sized)}" if sized else "-"
        print(f"{fault:13} {len(mine):5} {len(odd):3} {firsts.count(fault):5} {top2:4} {size:>5} {counted}")
    sound = [c for c in cases if c[1] is not None]
    alarms = sum(len(c[2]) for c in sound)
    print(f"sound castings called odd: {alarms} of {len(SOUND) * len(sound)}")
    failed = [c for c in cases if c[1] is None]
    print(f"cases that ended in an error: {len(failed)}", *[c[5] for c in failed[:3]])


if __name__ == "__main__":
    main()
