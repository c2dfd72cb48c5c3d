"""Settings as keyword arguments: units, defaults, changes, and what is refused."""

import numpy as np
import pytest
import risefit as rf
from conftest import ROOT
from risefit.errors import ArgumentError, CastingError, RisefitError

NEEDED = {"charge_g": 62, "mix_temp_C": 23, "mold_temp_C": 30}


def test_defaults_are_those_of_the_ledger():
    casting = rf.Casting(**NEEDED)
    assert casting.ambient_pressure_kPa == 101.325
    assert (casting.left_in_cup_g, casting.closing_time_s, casting.demold_time_s) == (0, 0, 300)
    assert (casting.opening_limit_kPa, casting.weighed_after_h) == (5, 0)
    assert casting.vent_mm is None and casting.clamp_force_N is None and casting.leak_mm is None


@pytest.mark.parametrize(
    ("given", "name", "value"),
    [
        ({"charge_oz": 2}, "charge_g", 56.69904625),
        ({"mix_temp_F": 75.2}, "mix_temp_C", 24),
        ({"vent_in": 0.125}, "vent_mm", 3.175),
        ({"vent_mm": [3, 2]}, "vent_mm", [3, 2]),
        ({"vent_mm": np.array([3.0, 2.0])}, "vent_mm", [3, 2]),
        ({"vent_mm": np.float64(3)}, "vent_mm", [3]),
        ({"weighed_after_min": 90}, "weighed_after_h", 1.5),
        ({"clamp_force_lbf": 100}, "clamp_force_N", 444.8222),
        ({"ambient_pressure_inHg": 29.92}, "ambient_pressure_kPa", 101.3207),
        # As in tests/records/units.rs: 79.50142 kPa at 2000 m.
        ({"altitude_m": 2000}, "ambient_pressure_kPa", 79.50142),
        ({"altitude_ft": 2000 / 0.3048}, "ambient_pressure_kPa", 79.50142),
    ],
)
def test_units(given, name, value):
    rest = {key: x for key, x in NEEDED.items() if not clash(key, given)}
    np.testing.assert_allclose(getattr(rf.Casting(**rest, **given), name), value, rtol=1e-5)


def clash(key, given):
    return any(key.rsplit("_", 1)[0] == other.rsplit("_", 1)[0] for other in given)


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"charge_g": -62}, "charge_g", "above 0"),
        ({"charge_g": 0}, "charge_g", "above 0"),
        ({"vent_mm": [3, -2]}, "vent_mm", "0 or more"),
        ({"closing_time_s": -1}, "closing_time_s", "0 or more"),
        ({"charg_g": 62}, "charg_g", "did you mean `charge_g`"),
        ({"left_in_cup": 2}, "left_in_cup", "left_in_cup_g"),
        ({"closing_time_mm": 2}, "closing_time_mm", "closing_time_s"),
        ({"charge_oz": 2}, "charge_oz", "the same setting twice"),
        ({"mold_temp_C": 303}, "mold_temp_C", "kelvin"),
        ({"clamp_force_N": "1500"}, "clamp_force_N", "a finite number"),
        ({"clamp_force_N": [1500, 2]}, "clamp_force_N", "a finite number"),
        ({"vent_mm": "3"}, "vent_mm", "numbers"),
        ({"vent_mm": float("nan")}, "vent_mm", "a finite number"),
        ({"ambient_pressure_kPa": 101, "altitude_m": 0}, "ambient_pressure", "one of the two"),
        ({"leak_mm": 1, "leak_length_mm": 5}, "leak_time_s", "when the leak opens"),
        ({"leak_mm": 1, "leak_time_s": 5}, "leak_length_mm", "a leak has"),
        ({"leak_pressure_kPa": 30}, "leak_mm", "a leak has"),
        ({"leak_mm": 1, "leak_length_mm": 5, "leak_time_s": 1, "leak_pressure_kPa": 9}, "leak_time", "one of the two"),
        ({"altitude_m": 20000}, "altitude_m", "between -500 and 11000 m"),
    ],
)
def test_what_makes_no_sense_is_refused(given, field, words):
    with pytest.raises(ArgumentError, match=words) as info:
        rf.Casting(**(NEEDED | given))
    assert info.value.field == field


@pytest.mark.parametrize("name", NEEDED)
def test_missing_settings_are_named(name):
    with pytest.raises(ArgumentError, match=f"{name}: got `?nothing") as info:
        rf.Casting(**{key: x for key, x in NEEDED.items() if key != name})
    assert info.value.field == name


@pytest.mark.parametrize(
    ("given", "kind", "words"),
    [
        ({"vent_mm": [3, 2]}, ArgumentError, "2 diameters"),
        ({"ambient_pressure_kPa": 5}, ArgumentError, "absolute"),
        ({"demold_time_s": 10, "closing_time_s": 12}, ArgumentError, "demold_time"),
        ({"left_in_cup_g": 70}, ArgumentError, "less than the charge"),
        ({"charge_g": 700}, CastingError, "the cavity holds"),
        ({"closing_time_s": 200}, CastingError, "close earlier"),
    ],
)
def test_what_this_mold_cannot_do_is_refused(mold, given, kind, words):
    with pytest.raises(kind, match=words):
        rf.simulate(rf.Grade("K"), mold, **(NEEDED | given))


def test_leak_opens_at_its_pressure(mold):
    leak = {"leak_mm": 2, "leak_length_mm": 5, "leak_pressure_kPa": 10}
    run = rf.simulate(rf.Grade("K"), mold, **(NEEDED | leak | {"charge_g": 68}))
    opened = np.interp(run.leak_opened_s, run.time_s, run.pressure_kPa)
    assert opened == pytest.approx(10, abs=0.5)


def test_casting_is_changed_not_mutated(mold):
    casting = rf.Casting(**NEEDED, vent_mm=4)
    other = casting.replace(charge_oz=2.3, vent_mm=None, altitude_m=2000)
    assert (casting.charge_g, casting.vent_mm.tolist(), casting.ambient_pressure_kPa) == (62, [4], 101.325)
    assert other.vent_mm is None and other.ambient_pressure_kPa == pytest.approx(79.50142, rel=1e-5)
    assert other == other.replace() != casting
    assert repr(casting).startswith("Casting(charge_g=62")
    by_object = rf.simulate(rf.Grade("K"), mold, casting, charge_g=60)
    by_name = rf.simulate(rf.Grade("K"), mold, **(NEEDED | {"charge_g": 60, "vent_mm": 4}))
    assert by_object.peak_pressure_kPa == by_name.peak_pressure_kPa


def test_a_leak_that_opens_by_pressure_can_be_made_to_open_by_time():
    casting = rf.Casting(**NEEDED, leak_mm=2, leak_length_mm=5, leak_pressure_kPa=10)
    by_time = casting.replace(leak_time_s=40)
    assert (by_time.leak_time_s, by_time.leak_pressure_kPa) == (40, None)
    back = by_time.replace(leak_pressure_psi=1)
    assert (back.leak_time_s, back.leak_pressure_psi) == (None, 1)
    assert casting.replace(leak_mm=None, leak_length_mm=None, leak_pressure_kPa=None).leak_mm is None


def test_unknown_attributes_say_what_would_do(mold):
    run = rf.simulate(rf.Grade("K"), mold, **NEEDED)
    with pytest.raises(AttributeError, match="did you mean `peak_pressure_kPa`"):
        _ = run.peak_presure_kPa
    with pytest.raises(AttributeError, match="a name ends in its unit: peak_pressure_kPa, .*peak_pressure_psi"):
        _ = run.peak_pressure
    assert not hasattr(run, "__array__") and not hasattr(run, "_repr_png_")
    assert {"peak_pressure_kPa", "time_s", "to_frame"} <= set(dir(run))
    assert all(hasattr(run, name) for name in dir(run))


def test_grades_are_changed_by_name_and_unit(tmp_path):
    grade = rf.Grade("K", viscosity_Pa_s=1.5)
    other = grade.replace(viscosity_mPa_s=800, gel_activation_J_mol=41e3, name="L")
    assert (other.name, other.viscosity_Pa_s, other.gel_activation_kJ_mol) == ("L", 0.8, 41)
    assert grade.viscosity_Pa_s == 1.5
    assert grade.constants["viscosity_Pa_s"] == 1.5 and len(grade.constants) == 22
    other.save(tmp_path / "grade.toml")
    assert rf.Grade.load(tmp_path / "grade.toml") == other == rf.Grade.from_toml(other.to_toml())
    with pytest.raises(ArgumentError, match="gel_conversion: got `?1.2") as info:
        grade.replace(gel_conversion=1.2)
    assert info.value.field == "gel_conversion"
    with pytest.raises(ArgumentError, match="did you mean `viscosity_Pa_s`"):
        grade.replace(viscosty_Pa_s=1)


def test_molds_are_changed_by_name_and_unit(mold, tmp_path):
    other = mold.replace(vent_in=0.25, clamp_force_N=None, volume_L=0.7, parting_gap_um=10)
    assert other.vents == [{"kind": "hole", "count": 1, "diameter_mm": 6.35, "length_mm": 12.0, "at_fill": 1.0}]
    assert (other.clamp_force_N, other.volume_mL, other.parting_gap_um) == (None, 700, 10)
    assert mold.clamp_force_N == 1500
    other.save(tmp_path / "mold.toml")
    assert rf.Mold.load(tmp_path / "mold.toml") == other
    for given in [{"vent_mm": [3, 2]}, {"volume_mL": -1}, {"vent_mm": 0}, {"volum_mL": 3}, {"clamp_force": 3}]:
        with pytest.raises(ArgumentError):
            mold.replace(**given)


def test_priors_can_be_given_back_and_slips_are_refused():
    priors = rf.priors()
    assert priors["viscosity_Pa_s"][0] == 1.2
    logs = rf.read_rise_logs(ROOT / "data/logs/K_23C.csv")
    for given in [
        {"held": {"gel_conversion": 64}},
        {"held": {"gel_conversio": 0.64}},
        {"priors": {"gel_rate_per_s": (0.02, 0.5)}},
        {"priors": {"gel_rate_per_s": (0.02,)}},
        {"starts": 0},
    ]:
        with pytest.raises(ArgumentError):
            rf.fit_free_rise(logs, **given)
    with pytest.raises(ArgumentError, match="write `priors=`"):
        rf.fit_free_rise(logs, beliefs={})
    with pytest.raises(ArgumentError, match="`rise_end_conversion`"):
        rf.fit_free_rise(logs, held={"rise_stop": 0.7})
    with pytest.raises(TypeError, match="unexpected keyword argument 'thread'"):
        rf.fit_free_rise(logs, thread=1)


def test_cells_are_held_closed_by_an_infinite_time(mold):
    """What a grade may have infinite may be held so; nothing else, and no prior."""

    def cast(**given):
        return rf.outcomes_before_castings(rf.Grade("K"), mold, **NEEDED, draws=20, **given).peak_pressure_kPa

    closed, late = (cast(held={"cell_opening_time_s": x}) for x in (float("inf"), 1e5))
    assert closed == pytest.approx(late, rel=0.01) and not np.array_equal(closed, late)
    assert np.array_equal(closed, cast(held={"cell_opening_time_s": np.float32("inf")}))
    for given in [{"cell_opening_time_s": -np.inf}, {"cell_opening_time_s": np.nan}, {"gel_conversion": np.inf}]:
        with pytest.raises(ArgumentError, match="a finite number"):
            cast(held=given)
    with pytest.raises(ArgumentError):
        cast(priors={"cell_opening_time_s": (np.inf, 2.0)})


def test_a_calibration_keeps_cells_that_are_held_closed(mold):
    trials = rf.read_trials(ROOT / "data/trials/armrest.csv")[1:4]
    cal = rf.calibrate(rf.Grade("K"), mold, trials, starts=1, held={"cell_opening_time_s": float("inf")})
    assert cal.grade.cell_opening_time_s == np.inf and "cell_opening_time_s" not in cal.estimates.to_frame().index


def test_recommendations_can_be_had_for_closed_cells(mold):
    asked = {"mix_temp_C": 23, "mold_temp_C": 30, "target_density_kg_m3": 96, "draws": 20, "vent_mm": 4}
    closed, late = (rf.recommend(rf.Grade("K"), mold, **asked, held={"cell_opening_time_s": x}) for x in (np.inf, 1e5))
    assert closed.casting.charge_g == pytest.approx(late.casting.charge_g, abs=0.2)


def test_wrong_kinds_are_refused(mold):
    with pytest.raises(TypeError):
        rf.simulate("K", mold, **NEEDED)
    with pytest.raises(TypeError, match="a FreeRiseFit, a GradeKnowledge or a Grade"):
        rf.calibrate(mold, mold, [])
    with pytest.raises(RisefitError):
        rf.fit_free_rise([])
    with pytest.raises(RisefitError):
        rf.calibrate(rf.Grade("K"), mold, [])
    with pytest.raises(ArgumentError, match="metric"):
        rf.simulate(rf.Grade("K"), mold, **NEEDED).report(units="imperial")
