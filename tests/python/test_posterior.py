"""Posteriors and outcomes from Python: shapes, units, agreement with the linear prediction, Ctrl-C, the same bits."""

import threading
import time

import numpy as np
import pytest
import risefit as rf

NEXT = {"charge_g": 62, "vent_mm": 4.0, "mix_temp_C": 23, "mold_temp_C": 30, "left_in_cup_g": 1.6, "closing_time_s": 12}


@pytest.fixture(scope="module")
def posterior(cal):
    return cal.posterior(draws=60, chains=2, warmup=60)


def test_outcomes_agree_with_the_linear_prediction(cal):
    outcomes, linear = cal.outcomes(**NEXT, draws=800), cal.predict(**NEXT)
    assert outcomes.density_kg_m3.shape == (800,)
    assert outcomes.count == 800
    assert outcomes.failures == []
    frame = outcomes.to_frame()
    assert frame.loc["density_kg_m3", "median"] == pytest.approx(linear.density_kg_m3.value, rel=0.03)
    low, high = linear.peak_pressure_kPa.interval_95
    assert frame.loc["peak_pressure_kPa", "low_95"] == pytest.approx(low, rel=0.1)
    assert frame.loc["peak_pressure_kPa", "high_95"] == pytest.approx(high, rel=0.1)
    np.testing.assert_allclose(outcomes.peak_pressure_psi, outcomes.peak_pressure_kPa / 6.894757, rtol=1e-6)


def test_probabilities_take_limits_in_any_unit(cal):
    outcomes = cal.outcomes(**NEXT, draws=200)
    inside = (outcomes.density_kg_m3 >= 95) & (outcomes.density_kg_m3 <= 99)
    p = outcomes.probabilities(density_kg_m3=(95, 99), peak_pressure_psi=(0, 100))
    assert p["density"] == pytest.approx(inside.mean())
    assert p["peak_pressure"] == 1.0
    assert 0 <= p["all"] <= min(p["full"], p["no_flash"], p["density"])


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"density_kg_m3": (99, 95)}, "smaller number first"),
        ({"density_kg_m3": [95]}, "two numbers"),
        ({"weight_g": (1, 2)}, "weight_g"),
    ],
)
def test_wrong_limits_are_refused(cal, limits, words):
    with pytest.raises(rf.RisefitError, match=words):
        cal.outcomes(**NEXT, draws=5).probabilities(**limits)


def test_a_mold_can_be_predicted_before_any_casting(fit, mold):
    before = rf.outcomes_before_castings(fit, mold, **NEXT, draws=100)
    closed = rf.outcomes_before_castings(fit, mold, **NEXT, draws=100, held={"cell_opening_time_s": float("inf")})
    assert before.count == 100
    # Cells that stay closed keep their gas, and nobody has to doubt how fast they lose it.
    assert np.median(closed.peak_pressure_kPa) > 1.1 * np.median(before.peak_pressure_kPa)
    spread = lambda outcomes: np.std(np.log(outcomes.peak_pressure_kPa))  # noqa: E731
    assert spread(closed) < 0.9 * spread(before)


def test_posterior_has_draws_and_an_account(posterior):
    k = len(posterior.parameter_names)
    assert posterior.draws.shape == (2, 60, k)
    frame = posterior.to_frame()
    assert list(frame.index) == posterior.parameter_names
    at = posterior.parameter_names.index("gas_yield_mol_kg")
    assert frame["median"].iloc[at] == pytest.approx(np.median(posterior.draws[:, :, at]))
    assert "chains" in posterior.verdict
    assert "expected before (prior" in str(posterior)
    assert "<table>" in posterior._repr_html_()
    assert posterior.summary()["estimates"]["gel_rate_per_s"]["unit"] == "1/s at 40 °C"


def test_posterior_predicts(cal, posterior):
    outcomes = posterior.predict(**NEXT, draws=100)
    assert outcomes.count == 100
    expected = cal.predict(**NEXT).density_kg_m3.value
    assert np.median(outcomes.density_kg_m3) == pytest.approx(expected, rel=0.03)


def test_the_verdict_says_how_far_to_trust_it(posterior):
    said = " ".join([posterior.verdict, *posterior.warnings])
    least = posterior.to_frame()[["bulk_ess", "tail_ess"]].min().min()
    assert f"at least {least:.0f} independent" in said
    assert "broke off" in said
    assert 0.05 < posterior.acceptance <= 1


def test_the_chart_shows_belief_and_knowledge(posterior):
    svg = posterior.chart(width=800, height=700).svg
    shared = [name for name in posterior.parameter_names if " of " not in name]
    assert "casting_scatter_factor" in shared and "lot_scatter_factor" in shared
    assert all(name in svg for name in shared)
    assert "expected before (prior" in svg and "known now" in svg


def test_direct_draws_need_no_proposals(fit):
    posterior = fit.posterior(draws=4, chains=1, warmup=4, direct=True)
    assert posterior.acceptance is None
    assert posterior.draws.shape[:2] == (1, 4)


def test_profile_closes_on_both_sides(fit):
    profile = fit.profile("gel_rate_per_s")
    low, high = profile.interval_95
    assert low < profile.value < high and profile.open == (False, False)
    np.testing.assert_array_equal(profile.values, np.sort(profile.values))
    # The interval ends where the rise is half the 95 % quantile of chi squared with one degree of freedom.
    np.testing.assert_allclose(np.interp([low, high], profile.values, profile.rises), 1.92, atol=0.03)
    estimate = fit.summary()["estimates"]["gel_rate_per_s"]
    assert high - low == pytest.approx(3.92 * estimate["standard_error"], rel=0.3)
    assert f"{profile.value:.4g}" in str(profile) and "95 %" in str(profile)
    assert "<table>" in profile._repr_html_()
    assert "gel_rate_per_s" in profile.chart().svg
    assert profile.summary()["interval_95"] == (low, high)


def test_profile_of_a_mold_counts_in_the_unit_of_its_name(cal):
    profile = cal.profile("viscosity_Pa_s")
    low, high = profile.interval_95
    assert 0 < low < profile.value < high
    assert profile.value == pytest.approx(cal.estimates.to_frame().loc["viscosity_Pa_s", "value"], rel=0.05)


@pytest.mark.parametrize("name", ["clamp_effect_factor", "gel_rate", "gas_factor"])
def test_profile_of_what_was_not_fitted_is_refused(fit, name):
    with pytest.raises(rf.errors.ArgumentError, match="parameter"):
        fit.profile(name)


def test_cup_posterior_predicts_no_casting(fit):
    posterior = fit.posterior(draws=4, chains=1, warmup=4)
    with pytest.raises(TypeError, match="calibrate a mold"):
        posterior.predict(**NEXT)


def test_the_same_seed_gives_the_same_bits(cal):
    one, two = (cal.posterior(draws=4, chains=2, warmup=4, threads=n).draws for n in (1, 2))
    np.testing.assert_array_equal(one, two)


def test_progress_is_told_and_can_stop(cal):
    told = []

    def watch(done, total):
        told.append((done, total))
        if len(told) == 3:
            raise KeyboardInterrupt

    start = time.perf_counter()
    with pytest.raises(KeyboardInterrupt):
        cal.posterior(draws=100_000, progress=watch)
    assert told[-1][1] == 4 * 100_300
    assert time.perf_counter() - start < 5


def test_the_interpreter_goes_on_meanwhile(cal):
    thread = threading.Thread(target=lambda: cal.posterior(draws=20, chains=1, warmup=20))
    thread.start()
    ticks = 0
    while thread.is_alive():
        time.sleep(0.001)
        ticks += 1
    assert ticks > 5
