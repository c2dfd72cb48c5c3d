"""The package as installed: what importing it costs, its version, and whether the stubs name what is there."""

import ast
import re
import subprocess
import sys

import risefit
from conftest import ROOT
from risefit import _core


def run(code):
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_import_brings_in_neither_numpy_nor_pandas():
    assert run("import risefit, sys; print(sorted({'numpy', 'pandas'} & set(sys.modules)))") == "[]"


def test_import_takes_less_than_a_tenth_of_a_second():
    code = "import time; t = time.perf_counter(); import risefit; print(time.perf_counter() - t)"
    # The least of three: other work on the machine only ever adds time.
    assert min(float(run(code)) for _ in range(3)) < 0.1


def test_library_and_bindings_have_one_version():
    found = [
        re.search(r'^version = "(.*)"', (ROOT / path).read_text(), re.M)[1]
        for path in ("Cargo.toml", "python/Cargo.toml")
    ]
    assert found == [risefit.__version__] * 2


def test_all_names_exist():
    assert [name for name in risefit.__all__ if not hasattr(risefit, name)] == []


def test_stubs_name_what_the_compiled_part_has():
    assert stub_names(ROOT / "python/risefit/_core.pyi") == public_names(_core)


def public_names(module):
    return {name for name in vars(module) if not name.startswith("_")} | {"__version__"}


def stub_names(path):
    names = set()
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, (ast.ClassDef, ast.FunctionDef)) and not node.name.startswith("_"):
            names.add(node.name)
        elif isinstance(node, ast.AnnAssign):
            names.add(node.target.id)
    return names
