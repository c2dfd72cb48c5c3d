"""What tests share: the checkout, a temporary folder that looks like it, quick fits of the demo, interrupts."""

import signal
from pathlib import Path

import pytest
import risefit as rf

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    """The temporary folder, made the current one; `data` and `examples` are links into the checkout."""
    for name in ("data", "examples"):
        if (ROOT / name).exists():
            (tmp_path / name).symlink_to(ROOT / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def mold():
    """The demo's mold."""
    return rf.Mold.load(ROOT / "data/molds/armrest.toml")


@pytest.fixture(scope="session")
def fit():
    """The demo's cup tests, from one start."""
    return rf.fit_free_rise(rf.read_rise_logs(ROOT / "data/logs/*.csv"), name="K", starts=1)


@pytest.fixture(scope="session")
def cal(fit, mold):
    """The demo's castings, from one start."""
    return rf.calibrate(fit, mold, rf.read_trials(ROOT / "data/trials/armrest.csv"), starts=1)


@pytest.fixture
def interrupts():
    """Interrupts are heard here and in child processes, even where whoever started the tests ignores them."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
