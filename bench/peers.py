"""The comparison with general-purpose libraries in one run: a table, also in out/bench/peers.json and table.md.

`make bench` builds what it needs and calls it. Peers solve the same equations from the same inputs. Accuracy is
measured against the same equations at 1e-12; every solver's tolerances are scanned for the quickest that reach 1e-4.
Times are the shortest of runs taken in turns. A disagreement between independent solutions ends the run with an error.
"""

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import casting_peers
import cup_peers
import numpy as np
import risefit

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests" / "python"))
import joint_peers  # noqa: E402
import peer_model  # noqa: E402
import test_against_scipy as as_records  # noqa: E402

OUT = ROOT / "out" / "bench"
BINARIES = ROOT / "target" / "release"
GOAL, AGREEMENT = 1e-4, 1e-5
KEYS = ("name", "ours_s", "peer", "peer_s", "ratio", "ours_error", "peer_error")
TOLERANCES = (1e-3, 3e-4, 1e-4, 7e-5, 5e-5, 2e-5, 1e-5, 5e-6, 2e-6, 1e-6, 5e-7, 2e-7, 1e-7, 1e-8)
SHARES = (1.0, 1e-2, 1e-4)
STARTS = 8
# Rounds that least_squares took from one start in the cup fit here (61 evaluations of 10 each).
JOINT_ROUNDS = 6
# A sweep takes minutes only with a slow core.
SWEEP = int(os.environ.get("BENCH_SWEEP", "1000000"))


def row(name, ours_s, peer="", peer_s=None, ours_error=None, peer_error=None, **more):
    """A row of the table; `more` says how it came about."""
    ratio = peer_s / ours_s if peer_s else None
    return dict(zip(KEYS, (name, ours_s, peer, peer_s, ratio, ours_error, peer_error), strict=True)) | more


def in_turns(rounds, *works):
    """The shortest time of each, all run in turns."""
    best = [float("inf")] * len(works)
    for _ in range(rounds):
        for i, work in enumerate(works):
            begin = time.perf_counter()
            work()
            best[i] = min(best[i], time.perf_counter() - begin)
    return best


def worst(found, exact):
    """The largest relative error of the outcome quantities."""
    return float(np.max(np.abs(np.array(found, float) / np.array(exact, float) - 1)))


# ---- one casting ----


class Ours:
    """The plain casting through risefit's Python interface."""

    def __init__(self, shot):
        self.grade, self.mold = as_records.grade(shot.foam), as_records.mold(shot)
        self.settings = {
            "charge_g": shot.charge * 1e3,
            "mix_temp_K": shot.mix_temp,
            "mold_temp_K": shot.mold_temp,
            "ambient_pressure_Pa": shot.ambient,
            "closing_time_s": shot.closing_time,
            "demold_time_s": shot.demold_time,
        }

    def run(self, accuracy):
        """Peak gauge pressure (Pa), fill time (s), density (kg/m3), vent loss (kg)."""
        run = risefit.simulate(self.grade, self.mold, accuracy=accuracy, **self.settings)
        return run.peak_pressure_kPa * 1e3, run.fill_time_s, run.density_kg_m3, run.vent_loss_g * 1e-3


def shots():
    """Castings around the plain one, so that no tolerance is right by luck."""
    plain = peer_model.Shot()
    sizes = [(charge, vent) for charge in (0.058, 0.064) for vent in (2e-3, 3e-3)]
    return [replace(plain, charge=charge, vents=(peer_model.Vent((vent, 12e-3)),)) for charge, vent in sizes]


def vent_of(shot):
    """The vent of a shot as its air meets it."""
    return shot.vents[0].opening(shot.discharge, shot.ambient, shot.mold_temp)


def quickest(settings, run, many, exact):
    """The quickest setting that is accurate enough over all shots: it, its error."""
    found = []
    for setting in settings:
        error = max(worst(run(i, *setting), exact[i]) for i in range(many))
        if error <= GOAL:
            found.append((in_turns(2, lambda s=setting: [run(i, *s) for i in range(many)])[0], setting, error))
    if not found:
        raise SystemExit(f"no tolerance of {run} reaches {GOAL}")
    return min(found, key=lambda f: f[0])[1:]


def casting_rows():
    """One casting from Python against each integrator of Python."""
    all_shots = shots()
    ours = [Ours(shot) for shot in all_shots]
    exact = [o.run(1e-12) for o in ours]
    for shot, ours_exact in zip(all_shots, exact, strict=True):
        oracle = peer_model.cast(shot)
        theirs = [oracle[k] for k in ("peak", "fill_time", "density", "vent_loss")]
        agree("risefit and Radau (peer_model)", ours_exact, theirs)
    many = len(all_shots)
    settings = [(t,) for t in TOLERANCES]
    (accuracy,), ours_error = quickest(settings, lambda i, t: ours[i].run(t), many, exact)
    rows = []
    for label, kind in (
        ("SciPy LSODA, Python equations", casting_peers.Lsoda),
        ("CVODE, Python equations", casting_peers.Cvode),
        ("CVODE, equations compiled by numba", casting_peers.CompiledCvode),
    ):
        peers = [(kind, shot, vent_of(shot)) for shot in all_shots]
        run = lambda i, t, share, p=peers: p[i][0](*p[i][1:], t, share).run()  # noqa: E731
        for i in range(many):
            agree(f"risefit and {label}", exact[i], run(i, 1e-10, 1e-2))
        setting, peer_error = quickest([(t, s) for t in TOLERANCES for s in SHARES], run, many, exact)
        ours_s, peer_s = in_turns(
            10,
            lambda: [o.run(accuracy) for o in ours],
            lambda s=setting, r=run: [r(i, *s) for i in range(many)],
        )
        rows.append(
            row(
                "one casting, called from Python",
                ours_s / many,
                label,
                peer_s / many,
                ours_error,
                peer_error,
                ours_setting=accuracy,
                peer_setting=setting,
            )
        )
    return rows


def agree(who, one, other):
    """Ends the run where independent solutions of the same equations are apart."""
    apart = worst(one, other)
    if not apart <= AGREEMENT:
        raise SystemExit(f"{who} disagree by {apart:.1e}: {one} {other}. The comparison is void.")


# ---- Rust ----


def program(name, *arguments):
    """What a benchmark program prints as JSON."""
    done = subprocess.run([BINARIES / name, *arguments], check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def corner_row(relative):
    """The stiff corner against the plain casting in the same run."""
    file = OUT / "corners.json"
    command = [BINARIES / "corners", "10000", "1", relative, "--json", file]
    print(subprocess.run(command, capture_output=True, text=True).stdout)
    found = json.loads(file.read_text())
    times = [f"{found[f'{key}_s'] / found['plain_s']:.1f}" for key in ("median", "p99", "max")]
    shares = f"50, 99, 100 %: {', '.join(times)} plain castings"
    stiffest = max((times for _, times in found["named"]), default=float("nan"))
    slow = f"{found['above_five']} above 5; {stiffest:.1f} the stiffest of {len(found['named'])} named"
    name = f"median of {found['sets']} odd castings, {found['failures']} failed; {shares}, {slow}"
    return row(name, found["median_s"], corners=found)


def sweep_row(relative, peer_s, peer):
    """A map of a million castings; the peer's time is its one casting's, times the castings, over the cores."""
    found = program("sweep", str(SWEEP), relative)
    memory = f"{found['memory_at_tenth_kB']} kB at a tenth, {found['memory_at_end_kB']} kB at the end"
    name = f"sweep of {found['castings']} castings, {found['cores']} cores, {memory}"
    scaled = peer_s * found["castings"] / found["cores"]
    return row(name, found["seconds"], f"{peer}, scaled from one casting", scaled, sweep=found)


# ---- fits ----


def fit_rows():
    """Three cup logs of 600 points, 9 parameters, from 8 starts; peers run one start, which is scaled and says so."""
    logs = cup_peers.readings()
    with tempfile.TemporaryDirectory() as folder:
        read = risefit.read_rise_logs([str(p) for p in cup_peers.write_logs(Path(folder), logs)])
    names = {name: (unit, truth) for name, unit, truth in cup_peers.FITTED}
    ours_s = in_turns(3, lambda: risefit.fit_free_rise(read, starts=STARTS, held=cup_peers.HELD, model_error=0))[0]
    fit = risefit.fit_free_rise(read, starts=STARTS, held=cup_peers.HELD, model_error=0)
    if not fit.converged:
        raise SystemExit(f"risefit's fit of the cup logs failed: {fit.warnings}")
    ours_error = cup_peers.error(values_of(fit, names))
    problem = cup_peers.Problem(logs, risefit.priors())
    rows = []
    for label, solve in (("SciPy least_squares", problem.by_scipy), ("lmfit", problem.by_lmfit)):
        begin = time.perf_counter()
        found = solve(0)
        peer_s = (time.perf_counter() - begin) * STARTS
        rows.append(
            row(
                "fit of 3 cup logs of 600 points, 9 parameters, 8 starts",
                ours_s,
                f"{label} on LSODA, finite differences; 8 times one start",
                peer_s,
                ours_error,
                cup_peers.error(found),
            )
        )
    return rows


def joint_row():
    """Three logs and ten castings. Ours: the cup fit and the calibration on it, from 8 starts each. The peer: one round
    of residuals and differences, which is timed, times the rounds and starts that such a fit takes."""
    problem = joint_peers.Problem(cup_peers.readings(), risefit.priors())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = risefit.read_rise_logs([str(p) for p in cup_peers.write_logs(folder, problem.cups.logs)])
        ledger, mold_file = joint_peers.write_ledger(folder, problem.readings)
        trials, mold = risefit.read_trials(ledger), risefit.Mold.load(mold_file)

    def ours():
        fit = risefit.fit_free_rise(logs, starts=STARTS, held=cup_peers.HELD, model_error=0)
        return risefit.calibrate(fit, mold, trials, starts=STARTS, held={"cell_opening_time_s": 1e5})

    ours_s = in_turns(1, ours)[0]
    peer_s = in_turns(1, problem.one_round)[0] * JOINT_ROUNDS * STARTS
    label = f"SciPy on LSODA, finite differences; one round, times {JOINT_ROUNDS} rounds, times {STARTS} starts"
    return row("3 cup logs and then 10 castings, 14 parameters", ours_s, label, peer_s)


def values_of(fit, names):
    """Fitted values in SI, in the order of `names`."""
    estimates = fit.summary()["estimates"]
    return [estimates[name]["value"] * unit for name, (unit, _) in names.items()]


# ---- import ----


def import_row():
    """Time of `import risefit` on top of a bare interpreter, beside that of the numpy within it."""
    start = lambda code: subprocess.run([sys.executable, "-c", code], check=True)  # noqa: E731
    works = [lambda c=c: start(c) for c in ("pass", "import numpy", "import risefit")]
    bare_s, numpy_s, risefit_s = in_turns(9, *works)
    return row("import risefit", risefit_s - bare_s, "import numpy alone", numpy_s - bare_s)


# ---- the table ----


def machine():
    """Processor, cores, date."""
    info = Path("/proc/cpuinfo")
    models = [line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")]
    model = models[0] if models else platform.processor() or platform.machine()
    return f"{model}, {os.cpu_count()} cores, Python {platform.python_version()}, {date.today():%Y-%m-%d}"


def in_words(seconds):
    """A time with three digits and a unit."""
    if seconds is None:
        return ""
    for factor, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "us")):
        if seconds >= factor or unit == "us":
            return f"{seconds / factor:.3g} {unit}"
    return ""


def cells(found):
    """A row as text."""
    error = lambda e: "" if e is None else f"{e:.0e}"  # noqa: E731
    ratio = found["ratio"]
    return [
        found["name"],
        in_words(found["ours_s"]),
        found["peer"],
        in_words(found["peer_s"]),
        "" if ratio is None else f"{ratio:.3g}",
        error(found["ours_error"]),
        error(found["peer_error"]),
    ]


HEAD = ["work", "ours", "peer", "peer takes", "ratio", "our error", "its error"]


def write(rows):
    """Prints the table and writes it as JSON and Markdown."""
    table = [HEAD] + [cells(r) for r in rows]
    widths = [max(len(line[i]) for line in table) for i in range(len(HEAD))]
    incomplete = [r["name"] for r in rows if not set(KEYS) <= set(r)]
    if incomplete:
        raise SystemExit(f"rows without all of {KEYS}: {incomplete}")
    for line in table:
        print("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())
    print(machine())
    (OUT / "peers.json").write_text(json.dumps([{**r, "machine": machine()} for r in rows], indent=1, default=str))
    lines = ["| " + " | ".join(line) + " |" for line in table]
    lines.insert(1, "|" + "---|" * len(HEAD))
    (OUT / "table.md").write_text("\n".join(lines) + f"\n\n{machine()}\n")


def main():
    """Runs everything."""
    OUT.mkdir(parents=True, exist_ok=True)
    rust = program("peer-diffsol")
    from_python = casting_rows()
    lsoda, relative = from_python[0], rust[0]["ours_setting"]
    rows = rust + from_python
    # The casting itself, without what a call from Python adds: trace, free rise, objects.
    for peer in from_python:
        name = "one casting, 300 s, all events (Rust, timed apart from the peer)"
        rows.append({**peer, "name": name, "ours_s": rust[0]["ours_s"], "ours_error": rust[0]["ours_error"]})
        rows[-1]["ratio"] = peer["peer_s"] / rust[0]["ours_s"]
    rows.append(sweep_row(relative, lsoda["peer_s"], lsoda["peer"]))
    rows.append(corner_row(relative))
    rows += fit_rows()
    rows.append(joint_row())
    rows.append(import_row())
    write(rows)
    if any(r.get("corners", {}).get("failures") for r in rows):
        raise SystemExit("castings of the stiff corner failed: see above")


if __name__ == "__main__":
    main()
