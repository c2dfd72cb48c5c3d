"""What a cup test of a nature richer than the model teaches: intervals hold, and the model's own error is why."""

import math
import sys
from pathlib import Path

import pytest
import risefit

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "data"))

import generate
import shop as invented

SHOPS = range(12)


def gas_yield(tmp_path, number, **options):
    """Estimate of the gas yield from one cup, and whether its 95 % interval holds the nature's."""
    drawn = invented.draw_shop(generate.generator(77, number))
    plan = generate.CupPlan("cup", 60.0, 23.0, 22.0)
    path = tmp_path / f"cup_{number}.csv"
    path.write_text(generate.log_text(drawn, plan, generate.generator(78, number))[1])
    found = risefit.fit_free_rise(risefit.read_rise_logs(path), starts=1, **options).estimates.to_frame()
    row, true = found.loc["gas_yield_mol_kg"], drawn.nature.water
    return math.log(row["value"] / true), row["low_95"] <= true <= row["high_95"]


@pytest.mark.parametrize(("model_error", "least", "most"), [(1.0, 11, 12), (0.0, 0, 8)])
def test_the_gas_yield_of_one_cup(tmp_path, model_error, least, most):
    held = sum(gas_yield(tmp_path, number, model_error=model_error)[1] for number in SHOPS)
    assert least <= held <= most


def test_one_cup_tells_the_gas_yield_without_bias(tmp_path):
    errors = sorted(gas_yield(tmp_path, number)[0] for number in SHOPS)
    assert abs(0.5 * (errors[5] + errors[6])) < 0.1


@pytest.mark.parametrize("model_error", [-1.0, math.nan, 1e3])
def test_a_model_error_that_is_none(tmp_path, model_error):
    with pytest.raises(risefit.errors.ArgumentError, match="model_error"):
        gas_yield(tmp_path, 0, model_error=model_error)
