"""The stubs: in step with the compiled module, and what `stubtest` says of them."""

import subprocess
import sys

from conftest import ROOT


def test_the_generator_would_change_nothing():
    done = subprocess.run(
        [sys.executable, ROOT / "python/stubs.py", "--check"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


# What pyo3 adds to a module, and the parts that are for tests and for the generator.
ALLOWED = r"risefit\._core\.(__all__|_probe|_tables)"
SETTINGS = """
[mypy]
[mypy-pandas.*]
ignore_missing_imports = True
"""


def test_stubs_say_what_is_there(tmp_path):
    (tmp_path / "allowed").write_text(ALLOWED + "\n")
    (tmp_path / "mypy.ini").write_text(SETTINGS)
    command = [
        sys.executable,
        "-m",
        "mypy.stubtest",
        "risefit",
        "--allowlist",
        "allowed",
        "--mypy-config-file",
        "mypy.ini",
    ]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
