"""Who may import whom: the table of the house style, held against every import in the package."""

import ast
import functools
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "previz"

# Package or module: what it may import from previz, and from others.
LAYERS = {
    "units": ((), ()),
    "errors": ((), ()),
    "physics": ((), ("numpy", "colour")),
    "scene": (("units", "errors"), ("yaml",)),
    "stage": (("scene", "physics", "errors"), ("numpy", "trimesh", "PIL")),
    "frames": ((), ("numpy", "OpenEXR")),
    "engine": (("stage", "frames", "physics", "errors"), ("mitsuba", "drjit", "numpy")),
    "exposure": (("frames", "physics"), ("numpy", "PyOpenColorIO", "mitsuba_oidn")),
    "deliver": (
        ("exposure", "frames", "physics", "stage.records"),
        ("numpy", "PIL", "OpenEXR", "reportlab", "pyrender", "OpenGL", "trimesh"),
    ),
    "rendering": (
        ("engine", "exposure", "frames", "stage", "physics", "errors"), ("numpy",),
    ),
    "sight": (
        ("rendering", "engine", "exposure", "frames", "stage", "physics", "errors"), ("numpy",),
    ),
    "studies": (
        ("sight", "rendering", "deliver", "engine", "exposure", "frames", "stage", "scene", "physics",
         "units", "errors"),
        ("numpy",),
    ),
    "library": (
        ("studies", "rendering", "deliver", "stage", "scene", "errors"), ("numpy", "PIL"),
    ),
    "page": (
        ("studies", "sight", "rendering", "deliver", "engine", "exposure", "frames", "stage", "scene",
         "physics", "units", "errors"),
        ("numpy", "PIL", "starlette", "uvicorn", "websockets"),
    ),
    "checks": (
        ("studies", "sight", "rendering", "deliver", "engine", "exposure", "frames", "stage", "scene",
         "physics", "units", "errors"),
        ("numpy", "PyOpenColorIO"),
    ),
    "cli": (
        ("checks", "page", "studies", "sight", "rendering", "deliver", "engine", "exposure", "frames",
         "stage", "scene", "physics", "units", "errors"),
        ("click", "numpy"),
    ),
}

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
    """The check itself can fail: a few imports that the table forbids are told apart."""
    assert not allowed("numpy", "scene")
    assert not allowed("previz.engine.render", "stage")
    assert not allowed("previz.stage.build", "deliver")
    assert allowed("previz.stage.records.Stage", "deliver")
    assert not allowed("mitsuba", "cli")
    assert not allowed("click", "studies")
    assert not allowed("previz.unitsystem", "scene")


# Called when the stages that they are for lie on the device already.
STARTED = {"probe_starts", "spot_starts"}


def on_device_modules():
    """Return the engine's modules that load the engine's library when they are imported."""
    direct = {path: {name for name, _, outer in imported(path) if outer}
              for path in (ROOT / "engine").glob("*.py")}
    names = {f"previz.engine.{path.stem}": needs for path, needs in direct.items()}
    found = {name for name, needs in names.items()
             if any(need.split(".")[0] in ("drjit", "mitsuba") for need in needs)}
    while True:
        more = {name for name, needs in names.items() if name not in found and any(
            need == each or need.startswith(f"{each}.") for need in needs for each in found)}
        if not more:
            return found
        found |= more


def test_the_engine_is_started_before_its_modules_are_imported():
    """A module that loads the library too early picks an LLVM that ends the process.

    So in the program a function has to have a stage on the device, or start the engine, before it
    imports one.
    """
    risky = on_device_modules()
    assert "previz.engine.planes" in risky and "previz.engine.render" not in risky
    early = []
    for path in (ROOT).rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for function in ast.walk(ast.parse(text)):
            if not isinstance(function, ast.FunctionDef) or function.name in STARTED:
                continue
            for node in ast.walk(function):
                if not (isinstance(node, ast.ImportFrom) and node.module in risky):
                    continue
                before = "\n".join(lines[function.lineno - 1:node.lineno - 1])
                if not any(word in before for word in ("buffers", "open_stage(", "backend.start(",
                                                        "_on_device(")):
                    early.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert early == []
