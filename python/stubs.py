"""Fills in the stubs what the tables and the compiled module know: docstrings, attributes, keyword names.

By hand in `_core.pyi`: the signatures. From here: the classes of `typed` and `attributes`, and every docstring. Run by
`make stubs`; `--check` changes nothing and fails where something would change.
"""

import ast
import inspect
import re
import subprocess
import sys
import textwrap
from pathlib import Path

from risefit import _core
from risefit._core import _tables as tables

STUBS = Path(__file__).parent / "risefit/_core.pyi"
WIDTH = 112
ONE, ROW = "float | None", "float | Sequence[float] | _Array | None"


def typed():
    """The keyword names of each call in every unit: class, bases, names with their types."""
    settings = tables.settings()
    of_mold = {
        **each(tables.cavity(), "float", absent="float | None"),
        **each(tables.vents(), ROW.removesuffix(" | None")),
    }
    asked = each(tables.asked(), "float", range="tuple[float, float]", any="Sequence[float]")
    notes = {"note": "str"}
    return {
        "_Settings": ("TypedDict", each(settings, ONE, several=ROW)),
        "_Axes": ("TypedDict", each(settings, "float | Sequence[float] | _Array | tuple[float, float, int] | None")),
        "_Asked": ("_Settings", {**asked, "drills": "Sequence[float | str]"}),
        "_Limits": ("TypedDict", each(tables.limits(), "tuple[float, float]")),
        "_Constants": ("TypedDict", {**each(tables.constants(), "float"), **notes}),
        "_GradeChanges": ("_Constants", {"name": "str"}),
        "_MoldChanges": ("TypedDict", {**of_mold, **notes, "name": "str"}),
        "_CupTest": ("TypedDict", each(tables.cup_test(), ONE)),
    }


def each(rows, usual, **otherwise):
    """The names of these rows in every unit, with the type that their words ask for."""
    return {name: one_type(words, usual, otherwise) for names, _, words in rows for name in names}


def one_type(words, usual, otherwise):
    """The type of a row with these words."""
    return next((kind for word, kind in otherwise.items() if word in words), usual)


def attributes():
    """The attributes that come from tables, in their customary units: class, rows of name, type and sentence."""
    outcomes = tables.outcomes()
    kept = [row for row in tables.settings() if "turned" not in row[2]]
    predicted = [row for row in outcomes if "predicted" in row[2]]
    drawn = [row for row in outcomes if "drawn" in row[2]]
    return {
        "_SettingValues": shown(kept, "float", several="_Array | None", absent="float | None"),
        "_Observed": shown(tables.observations(), "float | None"),
        "_ConstantValues": shown(tables.constants(), "float"),
        "_CavityValues": shown(tables.cavity(), "float", absent="float | None"),
        "_OutcomeValues": shown(outcomes, "float", absent="float | None"),
        "_OutcomeArrays": shown(outcomes, "_Array"),
        "_DrawnArrays": shown(drawn, "_Array"),
        "_PredictedValues": shown(predicted, "Predicted", absent="Predicted | None"),
    }


def shown(rows, usual, **otherwise):
    """Attributes from rows of a table."""
    return [(names[0], one_type(words, usual, otherwise), sentence) for names, sentence, words in rows]


def class_of(name, base, doc, body):
    """A generated class."""
    head = f"class {name}({base}, total=False): ..." if base else f"class {name}: ..."
    node = ast.parse(head).body[0]
    node.body = [docstring(doc, 0)]
    for attribute, kind, sentence in body:
        node.body += ast.parse(f"{attribute}: {kind}").body
        node.body += [docstring(sentence, 0)] if sentence else []
    return node


def generated():
    """The generated classes, by name."""
    out = {}
    for name, (base, names) in typed().items():
        body = [(key, kind, "") for key, kind in names.items()]
        out[name] = class_of(name, base, "Keyword names, in every unit.", body)
    for name, body in attributes().items():
        out[name] = class_of(name, "", "In customary units; any other unit of the quantity works as well.", body)
    return out


DOCS = []


def docstring(text, indent):
    """A place for a docstring of something at this indent; its paragraphs are wrapped."""
    pad = " " * (indent + 4)
    wrap = {"width": WIDTH - indent, "break_on_hyphens": False, "break_long_words": False}
    paragraphs = [textwrap.fill(" ".join(p.split()), **wrap) for p in inspect.cleandoc(text).split("\n\n")]
    lines = "\n\n".join(paragraphs).split("\n")
    body = "\n".join([lines[0], *(pad + line if line else "" for line in lines[1:])])
    DOCS.append(f'"""{body}"""' if len(lines) == 1 else f'"""{body}\n{pad}"""')
    return ast.Expr(ast.Name(f"_DOC_{len(DOCS) - 1}_"))


def own_doc(runtime):
    """The docstring that was written for this object; Python's own of special methods do not count."""
    name = getattr(runtime, "__name__", "")
    return "" if name.startswith("__") else (getattr(runtime, "__doc__", None) or "")


def is_text(node):
    """Whether a statement is a text alone."""
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)


def documented(node, runtime):
    """Puts the docstring of the compiled function into its stub, in place of what stands there."""
    doc = own_doc(runtime)
    node.body = [docstring(doc, node.col_offset) if doc else ast.Expr(ast.Constant(...))]


def members(body, runtime):
    """The members of a class with the docstrings of its methods and attributes."""
    out, seen = [], set()
    for node in body:
        if is_text(node):
            continue
        out.append(node)
        if isinstance(node, ast.FunctionDef) and node.name not in seen:
            member = inspect.getattr_static(runtime, node.name, None)
            documented(node, getattr(member, "__func__", member))
            seen.add(node.name)
        elif isinstance(node, ast.AnnAssign) and (
            doc := own_doc(inspect.getattr_static(runtime, node.target.id, None))
        ):
            out.append(docstring(doc, 0))
    return out


def filled(text):
    """The stubs with everything that is known put in."""
    tree = ast.parse(text)
    new, body, seen = generated(), [], set()
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name in new:
            node = new.pop(node.name)
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            runtime = getattr(_core, node.name)
            node.body = [docstring(runtime.__doc__, 0), *members(node.body, runtime)]
        elif isinstance(node, ast.FunctionDef) and node.name not in seen:
            documented(node, getattr(_core, node.name))
            seen.add(node.name)
        body.append(node)
    if new:
        raise SystemExit(f"{STUBS.name} has no classes {', '.join(new)}: add them, empty")
    tree.body = body
    written = ast.unparse(ast.fix_missing_locations(tree))
    return formatted(re.sub(r"\b_DOC_(\d+)_", lambda place: DOCS[int(place[1])], written) + "\n")


def formatted(text):
    """The text in the form that `make lint` asks for."""
    ruff, of = Path(sys.executable).parent / "ruff", ["--stdin-filename", STUBS, "-"]
    for command in (["check", "--quiet", "--fix", "--select", "I", *of], ["format", "--quiet", *of]):
        text = subprocess.run([ruff, *command], input=text, capture_output=True, text=True, check=True).stdout
    return text


def main():
    """Writes the stubs, or checks them."""
    old = STUBS.read_text()
    new = filled(old)
    if "--check" in sys.argv and new != old:
        raise SystemExit(f"{STUBS.name} is not what the compiled module says: run `make stubs`")
    STUBS.write_text(new)


if __name__ == "__main__":
    main()
