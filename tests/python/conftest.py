"""What tests share: the checkout, a temporary folder that looks like it and can be written to, interrupts."""

import signal
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    """The temporary folder, made the current one; `data` and `examples` are links into the checkout."""
    for name in ("data", "examples"):
        if (ROOT / name).exists():
            (tmp_path / name).symlink_to(ROOT / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def interrupts():
    """Interrupts are heard here and in child processes, even where whoever started the tests ignores them."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
