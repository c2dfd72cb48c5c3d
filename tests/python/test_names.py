"""Names of before lead to the new ones; objects that hold rows give them by number and by name."""

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT


def test_old_names_are_refused_with_the_new_one(fit, cal):
    trial = rf.read_trials(ROOT / "data/trials/armrest.csv")[0]
    for one, old, new in [
        (fit, "success", "converged"),
        (cal, "success", "converged"),
        (fit, "estimates_frame", "estimates.to_frame"),
        (fit, "charts", "logs"),
        (cal, "estimates_frame", "estimates.to_frame"),
        (cal, "castings_frame", "castings.to_frame"),
        (trial, "trace_frame", "trace.to_frame"),
        (trial, "trace_pressure_psi", "trace.pressure_psi"),
        (trial.casting, "with_", "replace"),
        (rf.Grade("K"), "open_time_s", "cell_opening_time_s"),
        (rf, "beliefs", "priors"),
    ]:
        with pytest.raises(AttributeError, match=f"`{new}"):
            getattr(one, old)
        assert not hasattr(one, old)
    with pytest.raises(AttributeError, match="no attribute `nothing`"):
        _ = cal.nothing
    with pytest.raises(AttributeError, match="has no `nothing`"):
        _ = rf.nothing


def test_estimates_are_rows(fit):
    rows = fit.estimates
    frame = rows.to_frame()
    assert len(rows) == len(frame) and [row.name for row in rows] == list(frame.index)
    row = rows["gas_yield_mol_kg"]
    assert row == next(one for one in rows if one.name == "gas_yield_mol_kg") and rows[-1] == list(rows)[-1]
    assert row.value == frame.loc[row.name, "value"] and row.interval_95[0] == frame.loc[row.name, "low_95"]
    assert row.value == fit.summary()["estimates"][row.name]["value"]
    assert row.prior_95[0] < row.value < row.prior_95[1] and row.status and row.unit == "mol/kg" and row.record is None
    assert "gas_yield_mol_kg" in repr(row)
    with pytest.raises(KeyError, match="did you mean `gas_yield_mol_kg`"):
        _ = rows["gas_yeld_mol_kg"]
    with pytest.raises(IndexError, match="no number 99"):
        _ = rows[99]
    with pytest.raises(TypeError, match="number or the name"):
        _ = rows[1.5]


def test_logs_and_castings_are_rows(fit, cal):
    assert [log.name for log in fit.logs] == fit.summary()["logs"]
    log = fit.logs["K, 23 °C" if "K, 23 °C" in fit.summary()["logs"] else 0]
    frame = log.to_frame()
    assert np.nanmax(np.abs(frame["fitted_height_mm"] - frame["height_mm"])) < 10
    assert log.chart().svg != log.log.chart().svg
    times = fit.logs.to_frame()
    assert times["fitted_end_of_rise_s"].iloc[0] == pytest.approx(times["end_of_rise_s"].iloc[0], rel=0.2)
    castings = cal.castings.to_frame()
    assert [casting.name for casting in cal.castings] == list(castings.index) == cal.summary()["castings"]
    first = cal.castings[0]
    assert first.predicted["part_mass_g"] == castings["predicted_part_mass_g"].iloc[0]
    assert first.trial.part_mass_g == castings["part_mass_g"].iloc[0]
    assert first.worst_misfit_sd == castings["worst_misfit_sd"].iloc[0] and not first.odd


def test_a_trace_has_rows_and_arrays():
    trials = rf.read_trials(ROOT / "data/trials/armrest.csv")
    with_trace, without = (next(t.trace for t in trials if bool(len(t.trace)) is has) for has in (True, False))
    frame = with_trace.to_frame()
    assert len(with_trace) == len(frame) == len(list(with_trace))
    assert with_trace[0] == pytest.approx(frame.iloc[0].to_dict(), nan_ok=True)
    assert np.array_equal(with_trace["pressure_kPa"], with_trace.pressure_kPa, equal_nan=True)
    assert with_trace.pressure_psi[-1] == pytest.approx(with_trace.pressure_kPa[-1] / 6.894757, nan_ok=True)
    assert len(without) == 0 and without.time_s is None and without.to_frame().empty and list(without) == []


def test_threads_change_no_bit(cal):
    settings = {"mix_temp_C": 23, "mold_temp_C": 30}
    asked = {**settings, "target_density_kg_m3": 96, "drills_mm": [3, 4], "draws": 16}
    grade, mold = rf.Grade("K"), rf.Mold.load(ROOT / "data/molds/armrest.toml")
    for call in (
        lambda n: cal.outcomes(charge_g=62, **settings, draws=16, threads=n),
        lambda n: rf.outcomes_before_castings(grade, mold, charge_g=62, **settings, draws=16, threads=n),
        lambda n: cal.recommend(**asked, threads=n),
        lambda n: rf.recommend(grade, mold, **asked, threads=n),
        lambda n: cal.next_trial(**asked, threads=n),
        lambda n: cal.diagnose(threads=n),
        lambda n: cal.profile("viscosity_Pa_s", threads=n),
    ):
        assert call(1) == call(3)
        with pytest.raises(rf.errors.ArgumentError, match="1 or more"):
            call(0)
