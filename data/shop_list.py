"""What 200 shops of each invented nature log, cast and ask: fixed before any answer to it was seen.

Shops with an even number have a gauge, every fourth a logger as well; those without are odd. Two of four have a core
probe. A shop plans by its drawing and by the free-rise density of its grade, as one would.
"""

from dataclasses import dataclass
from pathlib import Path

import closed_mold
import generate
import nature
import numpy as np
import second_shop
import shop as first_shop

SEED = 20267
SHOPS = 200
DRILLS_MM = [2.5, 3.0, 3.5, 4.0, 5.0, 6.0]
WEIGHED_AFTER_H = [0.1, 1.0, 3.0, 24.0]
MOLD = """\
# invented: mold of shop {number}
name = "drawn"

[cavity]
volume_mL = {volume_mL:.0f}
projected_area_cm2 = {projected_cm2:.0f}
wall_area_cm2 = {wall_cm2:.0f}
heat_transfer_W_m2K = 12
stretch_per_bar = 0.0
clamp_force_N = {clamp_N:.0f}
discharge = 0.82

[[vents]]
count = {vents}
diameter_mm = 3.0
length_mm = {land_mm:.0f}
at_fill = 1.0

[parting_line]
length_mm = {seam_mm:.0f}
land_mm = 5
gap_um = 0
opening_um_per_kN = 5000
at_fill = 1.0
"""


@dataclass(frozen=True)
class Listed:
    """Everything about one shop of the list: texts as it wrote them, and the truth of castings to be predicted."""

    mold: str
    logs: list
    rows: list
    traces: dict
    skins_mm: list  # as cut from castings, which the ledger has no column for
    asked: dict  # name: (plan as written, truth)


def generator(which, number, *place):
    """A stream of its own for each record; `which` is 1 for the first nature, 2 for the second."""
    return np.random.default_rng([SEED, which, number, *place])


def drawn_shop(which, number):
    """The shop, its mold as drawn and the free-rise density that its plans go by, kg/m3."""
    rng = generator(which, number)
    if which == 2:
        shop = second_shop.draw_shop(rng)
        return shop, shop.drawing, second_shop.free_rise_density(shop)
    shop = first_shop.draw_shop(rng)
    cup = nature.CupSetting(0.060, 296.15, 296.15)
    return shop, closed_mold.Mold(), nature.cup_test(shop.nature, cup).density


def plan_cups(rng, density):
    """Two free-rise tests, a cold and a warm one."""
    temps = [rng.uniform(18, 21), rng.uniform(25, 29)]
    share = min(density / 76, 1.3)
    return [
        first_shop.CupPlan(f"cup {i}", round(rng.uniform(55, 65) * share, 1), round(t, 1), round(t - 0.5, 1))
        for i, t in enumerate(temps)
    ]


def plan_castings(number, rng, drawing, density):
    """Six to eight castings, the first with little charge, and three to predict."""
    count, start = int(rng.integers(6, 9)), float(rng.uniform(28, 36))
    size = np.sqrt(drawing.volume / 620e-6 / drawing.vents[0].count)
    vents = [max(1.5, float(np.round(2 * d * size)) / 2) for d in rng.choice(DRILLS_MM, 3, replace=False)]
    packed = density * drawing.volume * 1e3
    gauge, logger, probe = number % 2 == 0, number % 4 == 0, number % 4 in (0, 1)

    def plan(name, packing, vent, **more):
        given = {
            "mix_temp_C": round(rng.uniform(21, 25), 1),
            "mold_temp_C": round(start + rng.uniform(-1, 1), 1),
            "ambient_pressure_kPa": round(rng.uniform(100.3, 102.0), 1),
            "closing_time_s": float(round(rng.uniform(9, 14))),
            "clamp_force_N": drawing.clamp_force,
        }
        return first_shop.CastPlan(name, round(packing * packed + 1.6, 1), vent, **(given | more))

    castings = [
        plan(
            f"T{i}",
            rng.uniform(0.98, 1.08) if i == 0 else rng.uniform(1.12, 1.42),
            vents[i % 2],
            weighed_after_h=float(rng.choice(WEIGHED_AFTER_H)),
            gauge_stop_kPa=160.0 if gauge else None,
            trace=logger and i in (2, count - 1),
            core=probe and i in (1, 2, 3),
        )
        for i in range(count)
    ]
    fresh = plan("fresh", rng.uniform(1.18, 1.38), vents[2])
    # At 2000 m, in a standard atmosphere.
    high = plan("high", rng.uniform(1.02, 1.18), vents[0], ambient_pressure_kPa=79.5)
    cold = plan("cold", rng.uniform(1.18, 1.32), vents[1], mix_temp_C=16.0, mold_temp_C=18.0, ambient_temp_C=17.0)
    return castings, [fresh, high, cold]


def mold_text(number, drawing):
    """The drawing as a mold's file."""
    return MOLD.format(
        number=number,
        volume_mL=drawing.volume * 1e6,
        projected_cm2=drawing.projected_area * 1e4,
        wall_cm2=drawing.wall_area * 1e4,
        clamp_N=drawing.clamp_force,
        vents=drawing.vents[0].count,
        land_mm=drawing.vents[0].length * 1e3,
        seam_mm=drawing.seam_length * 1e3,
    )


def listed(which, number):
    """One shop of the list, as it logged and cast."""
    shop, drawing, density = drawn_shop(which, number)
    plans = generator(which, number, 9)
    cups = plan_cups(plans, density)
    castings, asked = plan_castings(number, plans, drawing, density)
    module = second_shop if which == 2 else first_shop
    logs = []
    for i, plan in enumerate(cups):
        _, series, readings = module.log_cup(shop, plan, generator(which, number, 1, i))
        logs.append(generate.text_of_log(plan, series, readings))
    everything = [*castings, *asked]
    streams = [generator(which, number, 2, i) for i in range(len(everything))]
    done = run_first(shop, everything, streams) if which == 1 else run_second(shop, castings, asked, streams)
    rows, traces = [], {}
    for _, plan, readings, trace in done[: len(castings)]:
        rows.append(generate.ledger_row(plan, readings))
        if trace is not None:
            traces[plan.trial] = generate.trace_text(plan.trial, trace)
    return Listed(
        mold_text(number, drawing),
        logs,
        rows,
        traces,
        [readings.get("skin_thickness_mm") for _, _, readings, _ in done[: len(castings)]],
        {plan.trial: (plan, truth(run)) for run, plan, _, _ in done[len(castings) :]},
    )


def run_first(shop, plans, streams):
    """Castings of the first nature; its mold is as warm as planned."""
    done = []
    for plan, rng in zip(plans, streams, strict=True):
        run, _, readings, trace = first_shop.run_trial(shop, plan, rng)
        done.append((run, plan, readings, trace))
    return done


def run_second(shop, castings, asked, streams):
    """Castings of the second nature: `fresh` is the next of the session, the others are of another day."""
    session = [*castings, asked[0]]
    done = second_shop.run_session(shop, session, streams[: len(session)])
    others = zip(asked[1:], streams[len(session) :], strict=True)
    return done + [second_shop.run_trial(shop, plan, rng) for plan, rng in others]


def truth(run):
    """What a casting truly did, and its skin where this nature has one."""
    skin = getattr(run, "skin_thickness", None)
    return generate.cast_truth(run) | {"skin_thickness_mm": None if skin is None else skin * 1e3}


def line(number):
    """A shop of the second nature as a line of its list."""
    shop, drawing, density = drawn_shop(2, number)
    cells = [number, f"{density:.2f}", f"{drawing.volume * 1e6:.0f}", f"{drawing.wall_area * 1e4:.0f}"]
    cells += [drawing.wall_conductivity, drawing.vents[0].count, f"{drawing.clamp_force:.0f}"]
    return ",".join(str(c) for c in [*cells, f"{shop.mold.vents_at_fill:.4f}"])


def main():
    """Writes the list of the second nature's shops, one line each."""
    lines = ["# invented: the second nature's shops, written by `python data/shop_list.py`"]
    lines.append("number,free_rise_density_kg_m3,volume_mL,wall_area_cm2,wall_W_mK,vents,clamp_N,vents_at_fill")
    lines += [line(number) for number in range(SHOPS)]
    (Path(__file__).parent / "second_shops.csv").write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
