"""Every Python example in README.md, docs/ and their like runs; those of one document share their names."""

import re

import pytest
from conftest import ROOT

FENCE = re.compile(r"^```python\n(.*?)^```$", re.M | re.S)


def examples(text):
    """Line and code of each ```python fence."""
    return [(text.count("\n", 0, fence.start(1)), fence[1]) for fence in FENCE.finditer(text)]


def run(name, text):
    """Run the examples one after the other; a traceback points at the line in the document."""
    scope = {"__name__": "__main__"}
    for line, code in examples(text):
        exec(compile("\n" * line + code, name, "exec"), scope)


DOCUMENTS = sorted(str(p.relative_to(ROOT)) for p in [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


@pytest.mark.parametrize("name", [name for name in DOCUMENTS if examples((ROOT / name).read_text())])
def test_examples_run(name, checkout):
    run(name, (ROOT / name).read_text())


def test_readme_shows_python():
    assert examples((ROOT / "README.md").read_text())


def test_what_the_readme_shows_is_what_it_prints(checkout, capsys):
    text = (ROOT / "README.md").read_text()
    line, code = examples(text)[0]
    exec(compile("\n" * line + code, "README.md", "exec"), {"__name__": "__main__"})
    printed = capsys.readouterr().out.splitlines()
    shown = re.search(r"^```text\n(.*?)^```$", text, re.M | re.S)[1].splitlines()
    assert [line for line in shown if line != "..." and line not in printed] == []


def test_a_wrong_example_fails_at_its_line():
    text = "Text.\n```bash\nexit 1\n```\n```python\nx = 1\n```\n```python\nassert x == 2\n```\n"
    with pytest.raises(AssertionError) as info:
        run("sample.md", text)
    assert (str(info.traceback[-1].path), info.traceback[-1].lineno + 1) == ("sample.md", 9)
