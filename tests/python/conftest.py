"""A place to run documents and notebooks in: a temporary folder that looks like the checkout and can be written to."""

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
