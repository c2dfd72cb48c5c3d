"""Documents keep in step with the code: names, defaults, numbers and priors of docs/model.md, paths, links, lengths.

Source is read as text: a name that the code has and the page has not, or the other way round, fails here.
"""

import re
from math import inf, log

import pytest
import risefit as rf
from conftest import ROOT

MODEL = (ROOT / "docs" / "model.md").read_text()
STRUCTS = ["FoamConstants", "Cavity", "Vent", "PartingLine", "Casting", "Leak", "CastingResult"]
DOCUMENTS = sorted(
    path
    for path in [*ROOT.glob("*.md"), *ROOT.glob("*/*.md"), *(ROOT / "docs").glob("*/*.md")]
    if path.relative_to(ROOT).parts[0] not in ("target", "out", ".venv", "node_modules")
)
LINES = {"README.md": 250, "DEVELOPERS.md": 250}
COLUMNS = 120
NUMBER = r"[-+]?[\d._]+(?:e[-+]?\d+)?"


def rows(text):
    """Cells of every table row, but for heads and rules."""
    tables = re.findall(r"(?:^\|.*\n)+", text, re.M)
    return [[cell.strip() for cell in line.strip("|").split("|")] for t in tables for line in t.splitlines()[2:]]


def source():
    """Text of every Rust file of the library."""
    return "\n".join(path.read_text() for path in sorted((ROOT / "src").rglob("*.rs")))


def fields(rust, struct):
    """Names of the public fields of a struct."""
    bodies = re.findall(rf"^pub struct {struct}\b[^;{{]*{{(.*?)^}}", rust, re.M | re.S)
    assert len(bodies) == 1, f"one `pub struct {struct}` is expected in src/, {len(bodies)} are there"
    return set(re.findall(r"^    pub (\w+):", bodies[0], re.M))


def named(text, struct):
    """Names of a struct's fields in the tables of a page: second cell."""
    return {found[1] for row in rows(text) if (found := re.fullmatch(rf"`{struct}\.(\w+)`", row[1]))}


def number(text):
    """The number that a literal stands for: `1.0 / 30.0`, `f64::INFINITY`, `101_325.0`, `1/30`, `inf`."""
    text = text.strip()
    if text in ("f64::INFINITY", "inf"):
        return inf
    above, _, below = text.partition("/")
    return float(above) / (float(below) if below else 1.0)


def constants(rust):
    """Values of the plain constants of one file."""
    return {name: number(value) for name, value in re.findall(rf"const (\w+): f64 = ({NUMBER});", rust)}


@pytest.mark.parametrize("struct", STRUCTS)
def test_the_model_page_names_every_field_and_no_other(struct):
    in_code, in_page = fields(source(), struct), named(MODEL, struct)
    assert in_code, f"`{struct}` has no fields: has its form changed?"
    assert in_page == in_code, f"docs/model.md: missing {in_code - in_page}, unknown {in_page - in_code}"


def test_a_missing_or_an_unknown_field_would_be_seen():
    rust = "pub struct Vent<S = f64> {\n    /// How many.\n    pub count: u32,\n    pub diameter: S,\n}\n"
    page = "| symbol | name |\n|---|---|\n| N | `Vent.count` |\n| x | `Vent.width` |\n"
    assert fields(rust, "Vent") - named(page, "Vent") == {"diameter"}
    assert named(page, "Vent") - fields(rust, "Vent") == {"width"}


def test_defaults_are_those_of_the_code():
    body = re.search(r"impl Default for FoamConstants {.*?FoamConstants {(.*?)}", source(), re.S)[1]
    in_code = {name: number(value) for name, value in re.findall(r"(\w+): ([^,]+),", body)}
    in_page = {
        found[1]: number(row[3]) for row in rows(MODEL) if (found := re.fullmatch(r"`FoamConstants\.(\w+)`", row[1]))
    }
    assert in_page == in_code


def test_numbers_are_those_of_the_code():
    pages = MODEL, (ROOT / "docs" / "layers.md").read_text()
    quoted = [row for page in pages for row in rows(page) if len(row) == 4 and row[2].startswith("`src/")]
    assert len(quoted) > 15
    for name, value, file, _ in quoted:
        in_code = constants((ROOT / file.strip("`")).read_text())
        assert name.strip("`") in in_code, f"docs/model.md: {file} has no constant {name}"
        assert in_code[name.strip("`")] == pytest.approx(number(value), rel=1e-6), name


def test_priors_are_those_of_the_code():
    in_page = {}
    for row in rows(MODEL):
        if len(row) == 4 and (spread := re.fullmatch(rf"(factor|±) ({NUMBER})", row[2])):
            in_page[row[0].strip("`")] = (number(row[1]), spread[1], number(spread[2]))
    in_code = rf.priors()
    assert set(in_page) == set(in_code)
    for name, (center, kind, spread) in in_page.items():
        assert in_code[name][0] == pytest.approx(center, rel=1e-3), name
        size = log if kind == "factor" else float
        assert size(in_code[name][1]) == pytest.approx(size(spread), rel=0.02), name


def test_the_grade_of_the_formats_page_is_that_of_its_data_sheet():
    """The grade typed out there and the data sheet of the demo are the same invented grade."""
    page = (ROOT / "docs" / "formats.md").read_text()
    grade = rf.Grade.from_toml(re.search(r"```toml\n(name = [^`]*?\[constants\].*?)```", page, re.S)[1])
    sheet = rf.Datasheet.load(ROOT / "data" / "grades" / "K_datasheet.toml")
    rise = rf.free_rise(grade, mass_g=62, mix_temp_C=23)
    assert rise.density_kg_m3 == pytest.approx(sheet.free_rise_density_kg_m3, rel=0.03)
    assert rise.string_gel_time_s == pytest.approx(sheet.string_gel_time_s, abs=2.5)


def test_the_formats_page_names_every_setting():
    rows_of_code = (ROOT / "src" / "model" / "settings.rs").read_text()
    names = set(re.findall(r"row\(\s*Setting::\w+,\s*\"(\w+)\"", rows_of_code))
    assert len(names) > 10
    page = (ROOT / "docs" / "formats.md").read_text()
    assert {name for name in names if f"`{name}`" not in page} == set()


def test_the_changelog_names_everything_that_was_renamed():
    renamed = re.findall(r"\(\"(\w+)\", \"([\w.]+)\"\)", (ROOT / "src" / "units" / "renamed.rs").read_text())
    assert len(renamed) > 10
    entries = [row for row in rows((ROOT / "CHANGELOG.md").read_text()) if len(row) == 2]
    missing = {
        old for old, new in renamed if not any(re.search(rf"\b{old}", r[0]) and re.search(new, r[1]) for r in entries)
    }
    assert missing == set()


def paths(text):
    """What looks like a path of the repository: in back quotes, below one of its folders, or Python, Rust or a page."""
    quoted = re.findall(r"`([\w./*-]+)`", text)
    below = r"(\.ci|bench|campaign|data|docs|examples|notebooks|python|src|studies|tests)/"
    return {p for p in quoted if re.match(below, p) or re.search(r"^(?!out/).*(\.(py|md)|/.*\.rs)$", p)}


def is_there(path, document):
    """Whether a path names files, from the root, from src/, or from beside the document."""
    places = [ROOT, ROOT / "src", document.parent]
    return any(any(place.glob(path.rstrip("/"))) for place in places)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_path_exists(document):
    missing = {path for path in paths(document.read_text()) if not is_there(path, document)}
    assert not missing


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_link_leads_somewhere(document):
    for target in re.findall(r"\]\(([^)\s]+)\)", document.read_text()):
        if target.startswith("http"):
            continue
        file, _, anchor = target.partition("#")
        page = document.parent / file if file else document
        assert page.exists(), target
        if anchor:
            assert anchor in anchors(page.read_text()), target


def anchors(text):
    """Anchors of a page's headings."""
    heads = re.findall(r"^#+ (.*)$", re.sub(r"^```.*?^```", "", text, flags=re.M | re.S), re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_lines_are_short_and_pages_not_long(document):
    lines = document.read_text().splitlines()
    too_long = [i for i, line in enumerate(lines, 1) if len(line) > COLUMNS]
    assert not too_long
    assert len(lines) < LINES.get(str(document.relative_to(ROOT)), inf)


def test_every_dependency_has_its_reason():
    text = (ROOT / "DEVELOPERS.md").read_text()
    table = text[text.index("## Dependencies") : text.index("## Testing")]
    reasons = {name for row in rows(table) for name in re.findall(r"`([\w-]+)`", row[0])}
    used = set()
    for manifest in (ROOT / "Cargo.toml", ROOT / "python" / "Cargo.toml"):
        sections = re.findall(r"^\[(?:dev-)?dependencies\]\n(.*?)(?=^\[|\Z)", manifest.read_text(), re.M | re.S)
        used |= {name for body in sections for name in re.findall(r"^([\w-]+) = ", body, re.M)}
    assert used - {"risefit"} <= reasons
    assert reasons <= used | {"divan", "diffsol"}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_make_target_is_there(document):
    targets = set(re.findall(r"^([\w-]+):", (ROOT / "Makefile").read_text(), re.M))
    assert set(re.findall(r"`make ([a-z-]+)", document.read_text())) <= targets


def test_every_decision_stands_in_the_index():
    folder = ROOT / "docs" / "decisions"
    index = (folder / "README.md").read_text()
    assert [p.name for p in sorted(folder.glob("[0-9]*.md")) if f"({p.name})" not in index] == []


def test_paths_and_links_that_lead_nowhere_would_be_seen():
    text = "See `src/no_such.rs`, `units/table.rs` and `peak_pressure_kPa`.\n\n## How far to trust it\n"
    assert {p for p in paths(text) if not is_there(p, ROOT / "README.md")} == {"src/no_such.rs"}
    assert anchors(text) == {"how-far-to-trust-it"}
