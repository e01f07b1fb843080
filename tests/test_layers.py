"""Who may import whom: the table in DEVELOPERS.md, held against every import in the package."""

import ast
import functools
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "previz"



def table():
    """Return package or module -> (what it may import from previz, and from others)."""
    text = (ROOT.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    start = text.index("| package | may import from previz |")
    rows = text[start:text.index("\n\n", start)].splitlines()[2:]
    found = {}
    for row in rows:
        own, *allowed = [tuple(re.findall(r"`([^`]+)`", cell)) for cell in row.strip("|").split("|")]
        assert len(own) == 1 and own[0] not in found, row
        found[own[0]] = tuple(allowed)
    return found


LAYERS = table()
MODULES = sorted(ROOT.rglob("*.py"))
# A maintainer's script that writes a data file into the package; nothing may import it.
BAKING = "bake_"


@functools.cache
def imported(path):
    """Return every module that a file imports: (full name, line, whether at module level)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    outermost = set(map(id, tree.body))
    parts = ("previz", *path.relative_to(ROOT).with_suffix("").parts)
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(parts[: -node.level]) + "." if node.level else ""
            module = f"{base}{node.module or ''}".rstrip(".")
            # `from previz.stage import records` imports a module, `... import Stage` a name of one.
            names = [f"{module}.{each.name}" for each in node.names]
        elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
            names = [each.value for each in node.args if isinstance(each, ast.Constant)]
        else:
            continue
        found += [(name, node.lineno, id(node) in outermost) for name in names]
    return found


def layer_of(path):
    return path.relative_to(ROOT).with_suffix("").parts[0]


def allowed(name, layer):
    own, others = LAYERS[layer]
    package, *rest = name.split(".")
    if package != "previz":
        return package in sys.stdlib_module_names or package in others
    inner = ".".join(rest)
    if rest[0].startswith("__") or inner.split(".")[0] == layer:
        return True
    return any(inner == each or inner.startswith(f"{each}.") for each in own)


def test_every_module_is_in_the_table():
    """Each part of the package has its line in the table."""
    assert {layer_of(path) for path in MODULES} - {"__init__", "__main__"} <= set(LAYERS)


@pytest.mark.parametrize("layer", LAYERS)
def test_imports_follow_the_table(layer):
    """A module imports only what the table lets its layer import."""
    wrong = [
        f"{path.relative_to(ROOT.parent)}:{line} imports {name}"
        for path in MODULES
        if layer_of(path) == layer and not path.name.startswith(BAKING)
        for name, line, _ in imported(path)
        if not allowed(name, layer)
    ]
    assert wrong == []


def test_nothing_imports_a_baking_script():
    """Scripts that write the data files are never needed when the program runs."""
    wrong = [
        f"{path.name} imports {name}"
        for path in MODULES
        for name, _, _ in imported(path)
        if any(part.startswith(BAKING) for part in name.split("."))
    ]
    assert wrong == []


def test_only_the_engine_knows_the_renderer():
    """No module outside engine/ imports mitsuba or drjit, at any depth."""
    wrong = [
        f"{path.relative_to(ROOT)}:{line}"
        for path in MODULES
        if layer_of(path) != "engine"
        for name, line, _ in imported(path)
        if name.split(".")[0] in ("mitsuba", "drjit")
    ]
    assert wrong == []


def test_the_table_refuses_what_it_should():
    """The check itself can fail: a few imports that the table forbids are distinguished."""
    assert not allowed("numpy", "scene")
    assert not allowed("previz.engine.render", "stage")
    assert not allowed("previz.stage.build", "deliver")
    assert allowed("previz.stage.records.Stage", "deliver")
    assert not allowed("mitsuba", "cli")
    assert not allowed("click", "studies")
    assert not allowed("previz.unitsystem", "scene")
