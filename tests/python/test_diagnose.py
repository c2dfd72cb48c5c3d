"""Diagnosis from Python: the demo with a fault that the ledger does not tell of; frames, report, chart, Ctrl-C."""

import _thread
import threading

import pytest
import risefit as rf
from conftest import ROOT


@pytest.fixture(scope="module")
def cal(fit, mold, tmp_path_factory):
    """The demo; its ledger says nothing of the two clamps that were left off A8, nor has it the traces."""
    text = (ROOT / "data/trials/armrest.csv").read_text()
    told = "A8,66.0,1.5,23.1,30.0,22.6,101.0,3.0,150,"
    assert told in text
    ledger = tmp_path_factory.mktemp("trials") / "armrest.csv"
    text = text.replace(told, told.replace(",150,", ",1500,"))
    ledger.write_text(text.replace("traces/A4.csv", "").replace("traces/A7.csv", ""))
    return rf.calibrate(fit, mold, rf.read_trials(ledger), starts=1)


@pytest.fixture(scope="module")
def found(cal):
    return cal.diagnose()


def test_the_odd_casting_is_named_with_its_causes(found):
    assert found.odd == ["A8"]
    *sound, a8 = found.castings
    assert all(casting["causes"] == [] and not casting["odd"] for casting in sound)
    assert {cause["cause"] for cause in a8["causes"][:2]} == {"clamp", "leak"}
    assert sum(cause["probability"] for cause in a8["causes"]) == pytest.approx(1.0)
    clamp = next(cause for cause in a8["causes"] if cause["cause"] == "clamp")
    low, high = clamp["clamp_held_N_90"]
    assert low < 150 < high
    assert clamp["opened_at_kPa"] == pytest.approx(clamp["clamp_held_N"] / 0.015 / 1e3, rel=1e-6)
    flash = next(reading for reading in a8["readings"] if reading["reading"] == "flash_g")
    assert flash["measured"] == pytest.approx(0.9)
    assert flash["deviations"] > 3
    assert set(a8["separation"]["between"]) == {"clamp", "leak"}


def test_frame_and_summary_say_the_same(found):
    frame = found.to_frame()
    assert list(frame.index) == [f"A{i}" for i in range(1, 9)]
    assert frame.loc["A8", "odd"] == 1
    assert frame.loc["A8", "is_clamp"] + frame.loc["A8", "is_leak"] > 0.9
    assert frame["is_clamp"].isna().sum() == 7
    summary = found.summary()
    assert summary["odd"] == ["A8"]
    assert sum(summary["prior"].values()) == pytest.approx(1.0)
    assert frame.loc["A8", "probability"] == summary["castings"][-1]["probability"]


def test_it_shows_itself(found):
    assert "A8 does not fit the others" in repr(found)
    assert "local codes" in str(found)
    assert "psi" in found.report(units="us")
    html = found._repr_html_()
    assert "<svg" in html
    assert "the clamp gave way" in html
    assert "A8 (!)" in found.chart(width=700, height=500).svg


def test_odds_are_the_shops(cal):
    found = cal.diagnose(odds={"leak": 0, "clamp": 30})
    names = [cause["cause"] for cause in found.castings[-1]["causes"]]
    assert names[0] == "clamp"
    assert "leak" not in names
    assert found.prior["leak"] == 0


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"odds": {"leek": 1}}, "leek"),
        ({"odds": {"leak": -1}}, "zero or more"),
        ({"odd_below": 0}, "odd_below"),
        ({"odd_below": 2}, "at most 1"),
    ],
)
def test_slips_are_refused(cal, options, words):
    with pytest.raises(rf.errors.ArgumentError, match=words):
        cal.diagnose(**options)


@pytest.mark.usefixtures("interrupts")
def test_ctrl_c_stops_it(cal):
    timer = threading.Timer(0.1, _thread.interrupt_main)
    timer.start()
    with pytest.raises(KeyboardInterrupt):
        cal.diagnose(odd_below=1)
    timer.join()
