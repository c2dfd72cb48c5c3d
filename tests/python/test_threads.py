"""A fit leaves other threads running, does not depend on how many work, and Ctrl-C stops it."""

import signal
import subprocess
import sys
import threading
import time
from itertools import pairwise

import pytest
import risefit as rf
from conftest import ROOT

SLOW = f"""
import risefit as rf
logs = rf.read_rise_logs({str(ROOT / "data/logs/*.csv")!r})
print("started", flush=True)
try:
    rf.fit_free_rise(logs, starts=1000)
except KeyboardInterrupt:
    print("stopped", flush=True)
"""


def test_other_threads_run_during_a_fit():
    logs = rf.read_rise_logs(ROOT / "data/logs/K_23C.csv")
    ticks, done = [], threading.Event()

    def count():
        while not done.is_set():
            ticks.append(time.monotonic())
            time.sleep(0.002)

    counter = threading.Thread(target=count)
    counter.start()
    start = time.monotonic()
    rf.fit_free_rise(logs, starts=1)
    end = time.monotonic()
    done.set()
    counter.join()
    during = [t for t in ticks if start < t < end]
    # With the lock held there would be none but the first or last.
    assert len(during) > 5
    assert max(b - a for a, b in pairwise(during)) < 0.5 * (end - start)


def test_threads_change_no_bit_of_a_fit():
    logs = rf.read_rise_logs(ROOT / "data/logs/K_23C.csv")
    one, three = (rf.fit_free_rise(logs, starts=2, threads=n) for n in (1, 3))
    assert str(one.summary()) == str(three.summary())
    mold, trials = rf.Mold.load(ROOT / "data/molds/armrest.toml"), rf.read_trials(ROOT / "data/trials/armrest.csv")
    for refused in (
        lambda: rf.fit_free_rise(logs, threads=0),
        lambda: rf.calibrate(one, mold, trials, threads=0),
        lambda: rf.grade_from_datasheet(rf.Datasheet.load(ROOT / "data/grades/K_datasheet.toml"), threads=0),
    ):
        with pytest.raises(rf.errors.ArgumentError, match="1 or more"):
            refused()


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ")
@pytest.mark.usefixtures("interrupts")
def test_interrupt_stops_a_fit():
    with subprocess.Popen([sys.executable, "-c", SLOW], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "started\n"
        time.sleep(1)
        assert process.poll() is None
        asked = time.monotonic()
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=60)
        assert out == "stopped\n"
        assert time.monotonic() - asked < 10


def test_simulations_run_side_by_side():
    grade, mold = rf.Grade("K"), rf.Mold.load(ROOT / "data/molds/armrest.toml")
    runs = {}

    def cast(charge):
        runs[charge] = rf.simulate(grade, mold, charge_g=charge, mix_temp_C=23, mold_temp_C=30)

    threads = [threading.Thread(target=cast, args=(charge,)) for charge in (58, 60, 62, 64)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    pressures = [runs[charge].peak_pressure_kPa for charge in (58, 60, 62, 64)]
    assert pressures == sorted(pressures) and pressures[0] < pressures[-1]
