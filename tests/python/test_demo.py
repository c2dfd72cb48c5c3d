"""The demo as a user runs it: what it prints, the files it writes, its numbers against the truth."""

import json
import os
import subprocess
import sys
from xml.etree import ElementTree

import pytest
from conftest import ROOT

TRUTH = json.loads((ROOT / "data/truth.json").read_text())["targets"]["62 g, vent 4.0 mm"]["truth"]
CHARTS = {
    "casting_A4.svg",
    "casting_A7.svg",
    "predicted_1.svg",
    "predicted_2.svg",
    "rise_K_at_19_C.svg",
    "rise_K_at_23_C.svg",
    "rise_K_at_28_C.svg",
    "rise_curves.svg",
    "weighed.svg",
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "new/folder"
    command = [sys.executable, ROOT / "examples/demo.py", folder]
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=True, cwd="/", env=environment)
    return done.stdout, folder


@pytest.fixture(scope="module")
def summary(demo):
    return json.loads((demo[1] / "summary.json").read_text())


def test_it_writes_page_summary_and_charts_and_names_them(demo):
    text, folder = demo
    assert {file.name for file in folder.iterdir()} == CHARTS | {"report.html", "summary.json"}
    assert all(f"- {file.name}\n" in text for file in folder.iterdir())
    for name in CHARTS:
        assert ElementTree.parse(folder / name).getroot().tag.endswith("svg")


def test_page_needs_nothing_else(demo):
    page = (demo[1] / "report.html").read_text(encoding="utf-8")
    assert page.count("<svg") == len(CHARTS)
    assert "<script" not in page and "<link" not in page and "src=" not in page


def test_text_fits_two_screens_and_says_what_matters(demo):
    lines = demo[0].splitlines()
    assert len(lines) < 100 and max(map(len, lines)) <= 120
    for words in [
        "Casting 1: 62.0 g, vent 4.0 mm",
        "Trust it? Yes",
        "95 % interval",
        "Isocyanates",
        "gas_retention",
    ]:
        assert words in demo[0], words
    assert "Trust it? With care: vent 12.0 mm is beyond what was cast (2.5 to 6.0 mm)" in " ".join(demo[0].split())


@pytest.mark.parametrize("name", ["peak_pressure", "density", "part_mass", "vent_loss", "fill_time", "gel_time"])
def test_truth_is_inside_the_intervals(summary, name):
    found = summary["entries"]["predictions"][0][name]
    unit = {"kg/m3": "kg_m3"}.get(found["unit"], found["unit"])
    low, high = found["interval_95"]
    assert low < TRUTH[f"{name}_{unit}"] < high
    assert low < found["value"] < high


def test_headline_is_close_to_the_truth(summary):
    found = summary["entries"]["predictions"][0]
    assert found["peak_pressure"]["value"] == pytest.approx(TRUTH["peak_pressure_kPa"], rel=0.08)
    assert found["density"]["value"] == pytest.approx(TRUTH["density_kg_m3"], rel=0.02)
    assert found["verdict"] == "full" and found["trust"] == "Yes"


def test_a_vent_drilled_out_in_a_cold_shop_loses_pressure_and_foam(summary):
    usual, cold = summary["entries"]["predictions"]
    assert cold["peak_pressure"]["value"] < usual["peak_pressure"]["value"]
    assert cold["density"]["value"] < usual["density"]["value"]
    assert cold["gel_time"]["value"] > usual["gel_time"]["value"] + 5
    assert cold["trust"] == "With care"
