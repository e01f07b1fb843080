"""Small faults, drawn from the syntax trees of the package: one at a time, as a slip of the hand makes them.

A fault replaces one piece of a file's text. Words of messages, docstrings, annotations and decorators are
left alone: no reading or picture depends on them.
"""

from __future__ import annotations

import ast
import random
import re
from dataclasses import dataclass
from pathlib import Path

STRATA = {
    "engine": ("engine",), "frames": ("frames",), "stage": ("stage",), "scene": ("scene", "units"),
    "physics": ("physics",), "exposure": ("exposure",), "deliver": ("deliver",),
    "rendering": ("rendering", "sight"), "app": ("cli", "studies", "page", "library", "checks"),
}
"""What is drawn from evenly, and the packages in each."""

LEFT_OUT = re.compile(r"bake_|figures/recipes|checks/benches/|engine/benchmark|/__main__")
"""What bakes the data that come with the package, and what only says how fast something is."""

SWAPPED = {"min": "max", "minimum": "maximum", "floor": "ceil", "any": "all", "sin": "cos",
           "argmin": "argmax", "nanmin": "nanmax"}
SWAPPED |= {b: a for a, b in SWAPPED.items()}
OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div,
             ast.Mod: ast.Mult, ast.Pow: ast.Mult}
COMPARISONS = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==",
               ast.Is: "is not", ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in"}
WRITTEN = {ast.Is: "is", ast.IsNot: "is not", ast.In: "in", ast.NotIn: "not in", ast.Lt: "<", ast.LtE: "<=",
           ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}
DEFAULTS = {"bool": "True", "float": "0.0", "int": "0", "list": "[]", "dict": "{}", "tuple": "()",
            "str": '""'}
TOLD = re.compile(r"Error$|Problem$|Exit$|Exception$|^(warn|echo|secho|progress|debug|info)$")
"""Calls whose words are told to someone."""


@dataclass(frozen=True)
class Fault:
    """One fault: from `start` to `end` (bytes) of a file, `new` instead of `old`."""

    path: str
    line: int
    place: str
    kind: str
    start: int
    end: int
    old: str
    new: str

    @property
    def key(self) -> str:
        """Return what names the fault, whatever stands above it in the file."""
        short = [" ".join(text.split()) for text in (self.old, self.new)]
        return f"{self.path} {self.place} {self.kind}: {short[0]} -> {short[1]}"

    def put_into(self, source: bytes) -> bytes:
        """Return the file with the fault in it."""
        return source[:self.start] + self.new.encode() + source[self.end:]


class _Finder(ast.NodeVisitor):
    """Gathers the faults that one file could have."""

    def __init__(self, path: str, source: bytes):
        self.path, self.source, self.found = path, source, []
        self.lines = [0]
        for line in source.splitlines(keepends=True):
            self.lines.append(self.lines[-1] + len(line))
        self.places: list[str] = []

    def _span(self, node: ast.AST) -> tuple[int, int]:
        return (self.lines[node.lineno - 1] + node.col_offset,
                self.lines[node.end_lineno - 1] + node.end_col_offset)

    def text(self, node: ast.AST) -> str:
        start, end = self._span(node)
        return self.source[start:end].decode()

    def add(self, kind: str, node: ast.AST, new: str, span: tuple[int, int] | None = None) -> None:
        """Note a fault that writes `new` for a node, or for a span of bytes."""
        start, end = span or self._span(node)
        old = self.source[start:end].decode()
        if old != new:
            self.found.append(Fault(self.path, node.lineno, ".".join(self.places) or "<module>", kind,
                                    start, end, old, new))

    # What is walked through, and what is left alone

    def _body(self, node: ast.AST) -> None:
        self.places.append(node.name)
        for child in node.body:
            self.visit(child)
        self.places.pop()

    def visit_ClassDef(self, node):  # noqa: N802
        self._body(node)

    def visit_FunctionDef(self, node):  # noqa: N802
        if node.name in ("__repr__", "__str__", "message"):
            return
        annotation = self.text(node.returns).split("[")[0] if node.returns else ""
        self.places.append(node.name)
        for child in ast.walk(node) if annotation in DEFAULTS else ():
            if isinstance(child, ast.Return) and child.value is not None:
                new = DEFAULTS[annotation]
                self.add("return", child.value, "False" if self.text(child.value) == new == "True" else new)
        self.places.pop()
        for default in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(default)
        self._body(node)

    visit_AsyncFunctionDef = visit_FunctionDef  # noqa: N815

    def visit_Raise(self, node):  # noqa: N802
        self.add("statement", node, "pass")

    def visit_Assert(self, node):  # noqa: N802
        pass

    def visit_JoinedStr(self, node):  # noqa: N802
        pass

    def visit_AnnAssign(self, node):  # noqa: N802
        if node.value:
            self.visit(node.value)

    def visit_Assign(self, node):  # noqa: N802
        if self.text(node.targets[0]) != "__all__":
            self.visit(node.value)

    def visit_Expr(self, node):  # noqa: N802
        if isinstance(node.value, ast.Call):
            if not self._told(node.value):
                self.add("statement", node, "pass")
            self.visit(node.value)

    def _told(self, call: ast.Call) -> bool:
        return bool(TOLD.search(_name(call.func)))

    # Faults

    def visit_BinOp(self, node):  # noqa: N802
        words = any(isinstance(n, ast.JoinedStr) or (isinstance(n, ast.Constant) and isinstance(n.value, str))
                    for side in (node.left, node.right) for n in ast.walk(side))
        if type(node.op) in OPERATORS and not words:
            new = ast.unparse(ast.BinOp(node.left, OPERATORS[type(node.op)](), node.right))
            self.add("operator", node, f"({new})")
        self.generic_visit(node)

    def visit_AugAssign(self, node):  # noqa: N802
        self.add("statement", node, "pass")
        self.visit(node.value)

    def visit_Compare(self, node):  # noqa: N802
        sides = [node.left, *node.comparators]
        for number, op in enumerate(node.ops):
            between = self._span(sides[number])[1], self._span(sides[number + 1])[0]
            text = self.source[slice(*between)].decode()
            old = WRITTEN[type(op)]
            start = between[0] + len(text[:text.find(old)].encode())
            self.add("bound", node, COMPARISONS[type(op)], (start, start + len(old)))
        self.generic_visit(node)

    def visit_UnaryOp(self, node):  # noqa: N802
        if isinstance(node.op, ast.USub | ast.Not):
            kind = "sign" if isinstance(node.op, ast.USub) else "logic"
            self.add(kind, node, f"({self.text(node.operand)})")
        self.generic_visit(node)

    def visit_BoolOp(self, node):  # noqa: N802
        for number in range(len(node.values) - 1):
            between = self._span(node.values[number])[1], self._span(node.values[number + 1])[0]
            text = self.source[slice(*between)].decode()
            old = "and" if isinstance(node.op, ast.And) else "or"
            start = between[0] + text.find(old)
            self.add("logic", node, "or" if old == "and" else "and", (start, start + len(old)))
        self.generic_visit(node)

    def visit_Constant(self, node):  # noqa: N802
        if isinstance(node.value, bool):
            self.add("constant", node, str(not node.value))
        elif isinstance(node.value, int):
            self.add("constant", node, str(node.value + 1))
        elif isinstance(node.value, float):
            self.add("constant", node, repr(node.value * 1.1 or 0.1))

    def visit_If(self, node):  # noqa: N802
        if "TYPE_CHECKING" not in self.text(node.test):
            for forced in ("True", "False"):
                self.add("condition", node.test, forced)
        self.generic_visit(node)

    def visit_IfExp(self, node):  # noqa: N802
        for forced in ("True", "False"):
            self.add("condition", node.test, forced)
        self.generic_visit(node)

    def visit_With(self, node):  # noqa: N802
        if all(item.optional_vars is None for item in node.items):
            start = self._span(node)[0]
            end = self._span(node.items[-1].context_expr)[1]
            if self.source[end:end + 1] == b":":
                self.add("with", node, "if True", (start, end))
        self.generic_visit(node)

    def visit_Call(self, node):  # noqa: N802
        if self._told(node):
            return
        name = node.func
        if _name(name) in SWAPPED:
            end = self._span(name)[1]
            self.add("swap", node, SWAPPED[_name(name)], (end - len(_name(name)), end))
        whole = [*node.args, *node.keywords]
        for keyword in node.keywords:
            if keyword.arg == "axis":
                self.add("axis", keyword.value, "1" if self.text(keyword.value) == "0" else "0")
            if keyword.arg and keyword.arg not in ("help", "example", "sense", "strict"):
                self._drop("keyword", whole, keyword)
        if len(node.args) > 1 and re.search(r"digest|hash|fingerprint|stack|concatenate", _name(name)):
            for argument in node.args:
                self._drop("item", whole, argument)
        for child in (node.func, *node.args, *(k.value for k in node.keywords if k.arg != "strict")):
            self.visit(child)

    def _items(self, node) -> None:
        if len(node.elts) > 1 and isinstance(getattr(node, "ctx", ast.Load()), ast.Load):
            for item in node.elts:
                if len(node.elts) > 2 or not isinstance(node, ast.Tuple):
                    self._drop("item", node.elts, item)
        self.generic_visit(node)

    visit_Tuple = visit_List = visit_Set = _items  # noqa: N815

    def visit_Dict(self, node):  # noqa: N802
        for key, value in zip(node.keys, node.values, strict=True):
            if key is not None and len(node.keys) > 1:
                start, end = self._span(key)[0], self._span(value)[1]
                comma = re.match(rb"\s*,\s*", self.source[end:])
                if comma:
                    self.add("item", key, "", (start, end + comma.end()))
        for value in node.values:
            self.visit(value)

    def _drop(self, kind: str, whole: list, one: ast.AST) -> None:
        """Note a fault that leaves one of several things out, with its comma."""
        start, end = self._span(one)
        comma = re.match(rb"\s*,\s*", self.source[end:])
        if comma and one is not whole[-1]:
            self.add(kind, one, "", (start, end + comma.end()))
        elif one is whole[-1] and len(whole) > 1:
            self.add(kind, one, "", (self._span(whole[-2])[1], end))

    def visit_Slice(self, node):  # noqa: N802
        for bound in (node.lower, node.upper):
            if bound is not None and not isinstance(bound, ast.Constant):
                self.add("slice", bound, "")
        self.generic_visit(node)

    def visit_Subscript(self, node):  # noqa: N802
        self.visit(node.value)
        self.visit(node.slice)


def _name(node: ast.AST) -> str:
    return getattr(node, "attr", None) or getattr(node, "id", "")


def _compiles(fault: Fault, source: bytes) -> bool:
    try:
        changed = ast.parse(fault.put_into(source))
    except SyntaxError:
        return False
    return ast.dump(changed) != ast.dump(ast.parse(source))


def files(root: Path, stratum: str) -> list[Path]:
    """Return the files that a stratum is drawn from."""
    found = []
    for package in STRATA[stratum]:
        folder = root / "previz" / package
        found += sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]
    return [p for p in found if not LEFT_OUT.search(str(p.relative_to(root)))]


def drawn(root: Path, *, seed: int, count: int, only: str | None = None) -> list[Fault]:
    """Return faults, as many of each stratum, and within it of each kind, as there can be."""
    strata = [only] if only else list(STRATA)
    sample = []
    for number, stratum in enumerate(strata):
        chance = random.Random(f"{seed} {stratum}")
        kinds: dict[str, list] = {}
        for fault in (f for path in files(root, stratum) for f in found_in(path, root)):
            kinds.setdefault(fault.kind, []).append(fault)
        for found in kinds.values():
            chance.shuffle(found)
        wanted = count // len(strata) + (number < count % len(strata))
        order = sorted(kinds)
        chance.shuffle(order)
        taken: list[Fault] = []
        while len(taken) < wanted and any(kinds.values()):
            for kind in order:
                while kinds[kind] and len(taken) < wanted:
                    fault = kinds[kind].pop()
                    if _compiles(fault, (root / fault.path).read_bytes()):
                        taken.append(fault)
                        break
        sample += taken
    return sample


def found_in(path: Path, root: Path) -> list[Fault]:
    """Return every fault that one file of the package could have."""
    finder = _Finder(str(path.relative_to(root)), path.read_bytes())
    finder.visit(ast.parse(finder.source))
    return list(dict.fromkeys(finder.found))


def place_of(source: str, line: int) -> str:
    """Return the function or class that a line stands in, `<module>` outside of any."""
    places, body = [], ast.parse(source).body
    while inner := [n for n in body if hasattr(n, "body") and n.lineno <= line <= n.end_lineno]:
        if hasattr(inner[0], "name"):
            places.append(inner[0].name)
        body = inner[0].body
    return ".".join(places) or "<module>"
