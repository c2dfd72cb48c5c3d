"""The stubs: a strict type checker accepts a user's script, knows its types and refuses slips."""

import subprocess
import sys

import pytest
from conftest import ROOT

SCRIPT = """
import numpy as np
import risefit as rf
from numpy.typing import NDArray

logs = rf.read_rise_logs("data/logs/*.csv")
fit = rf.fit_free_rise(logs, held={"gel_conversion": 0.64}, priors={**rf.priors(), "viscosity_Pa_s": (1.0, 3.0)})
mold: rf.Mold = rf.Mold.load("data/molds/armrest.toml").replace(vent_mm=[3, 2], clamp_force_N=None)
cal = rf.calibrate(fit, mold, rf.read_trials("data/trials/armrest.csv"))
run = cal.simulate(rf.Casting(charge_g=62, mix_temp_C=23, mold_temp_C=30), vent_mm=4.0)
margin: float | None = run.margin_s
pressure: NDArray[np.float64] = run.pressure_kPa
psi: float = run.peak_pressure_psi
low, high = cal.predict(charge_g=62, mix_temp_C=23, mold_temp_C=30).peak_pressure_kPa.interval_95
width: float = high - low
run.chart(title="Next", units="us").save("run.svg")
logged: rf.Trial = rf.read_trials("data/trials/armrest.csv")[3]
cal.predict(logged.casting).chart(trial=logged, height=680).save("run.svg")
rf.calibrate(rf.fit_free_rise(logs[0]), mold, logged, held={"cell_opening_time_s": float("inf")})
rf.simulate(fit.grade, mold, charge_oz=2.2, mix_temp_F=73, mold_temp_F=86).to_frame().describe()
result = rf.sweep(cal, charge_g=(50, 70, 20), vent_mm=[3, 4], mix_temp_C=23, mold_temp_C=30, threads=1)
peaks: NDArray[np.float64] = result.peak_pressure_kPa
found: rf.Recommendation = cal.recommend(target_density_kg_m3=96, mix_temp_C=23, mold_temp_C=30, drills=["1/8", 3.5])
charge: float = found.casting.charge_g
after: rf.NextTrial = found.next_trial(has_gauge=True)
expected: float = after.castings_expected
rf.recommend(fit, mold, target_density_lb_ft3=6, pressure_psi=(4, 9), mix_temp_F=73, mold_temp_F=86).chart()
gas: rf.Estimate = fit.estimates["gas_yield_mol_kg"]
spread: float = gas.interval_95[1] - gas.interval_95[0]
names: list[str] = [casting.name for casting in cal.castings] + [log.name for log in fit.logs]
cal.outcomes(found.casting, mold_temp_F=90, threads=1).probabilities(density_kg_m3=(94, 100), peak_pressure_psi=(3, 12))
rf.Grade("K", viscosity_mPa_s=900.0, note="thick").replace(name="K2", cell_opening_time_min=1.0)
rf.free_rise(fit.grade, mass_g=60, mix_temp_C=23, cup_diameter_mm=80, cup_height_cm=20)
for block in rf.Sweep([(fit.grade, mold)], charge_g=[60, 62], mix_temp_C=23, mold_temp_C=30).blocks(1):
    start: int = block.start
"""


def checked(path, text):
    path.write_text(text)
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(ROOT / "out/types"), str(path)]
    return subprocess.run(command, capture_output=True, text=True, cwd=path.parent, check=False)


@pytest.fixture(scope="module")
def script(tmp_path_factory):
    return tmp_path_factory.mktemp("types") / "script.py"


def test_script_passes(script):
    done = checked(script, SCRIPT)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("slip", "words"),
    [
        ("x: int = run.peak_pressure_kPa", "Incompatible types in assignment"),
        ("run.margin_s + 1", "Unsupported operand types"),
        ("rf.calibrate(mold, mold, [])", "Argument 1"),
        ('run.chart(units="imperial")', "Argument"),
        ("cal.simulate(charge_gg=62, mix_temp_C=23, mold_temp_C=30)", 'Unexpected keyword argument "charge_gg"'),
        ("rf.Casting(charge_g=62, mix_temp=23)", 'Unexpected keyword argument "mix_temp"'),
        ("found.casting.replace(charge_g='62')", "Argument"),
        ("cal.recommend(target_density_kg_m3=(90, 100))", "Argument"),
        ("cal.next_trial(target_densty_kg_m3=96)", 'Unexpected keyword argument "target_densty_kg_m3"'),
        ("cal.outcomes(found.casting).probabilities(density=(94, 100))", 'Unexpected keyword argument "density"'),
        ('rf.Grade("K", viscosity=1.5)', 'Unexpected keyword argument "viscosity"'),
        ("mold.replace(volume_ml=620.0)", 'Unexpected keyword argument "volume_ml"'),
        ("rf.sweep(cal, charge_gg=(50, 70, 20))", "No overload variant"),
        ("rf.free_rise(fit.grade, mass=60)", 'Unexpected keyword argument "mass"'),
    ],
)
def test_slips_are_seen(tmp_path, slip, words):
    # A file each: the checker's cache takes two texts of one length and one second for the same.
    done = checked(tmp_path / "script.py", SCRIPT + slip + "\n")
    assert done.returncode == 1
    assert words in done.stdout
