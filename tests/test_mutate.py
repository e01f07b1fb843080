"""The tool that puts faults into copies: what it draws, and what it leaves alone."""

import ast
import importlib
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

SOURCE = '''
"""What this is: 3 + 4."""

LIMIT = 2.0


def told(value: int = 3) -> bool:
    """Return 1 + 1."""
    with lock:
        if value < LIMIT and not value:
            raise ValueError(f"{value + 1} is " + "too much")
    return digest_of(value, LIMIT, axis=0) == max(-value, [1, 2][1:])
'''

EXPECTED = {
    ("constant", "2.0", "2.2"), ("constant", "3", "4"), ("with", "with lock", "if True"),
    ("bound", "<", "<="),
    ("logic", "and", "or"), ("logic", "not value", "(value)"), ("bound", "==", "!="),
    ("swap", "max", "min"), ("sign", "-value", "(value)"), ("item", "LIMIT, ", ""),
    ("keyword", ", axis=0", ""), ("axis", "0", "1"),
    ("statement", 'raise ValueError(f"{value + 1} is " + "too much")', "pass"),
    ("condition", "value < LIMIT and not value", "True"), ("item", "1, ", ""),
}


@pytest.fixture
def faults(monkeypatch):
    monkeypatch.setattr(sys, "path", [str(ROOT), *sys.path])
    return importlib.import_module("tests.mutate.faults")


def test_slips_are_found_and_words_are_left_alone(faults, tmp_path):
    """Operators, bounds, signs, locks, dropped things; no docstring, annotation or message."""
    path = tmp_path / "one.py"
    path.write_text(SOURCE)
    found = faults.found_in(path, tmp_path)
    assert {(each.kind, each.old, each.new) for each in found} >= EXPECTED
    assert not [each for each in found if each.old in ("1 + 1", "value + 1", "int", "bool")]
    for each in found:
        changed = each.put_into(SOURCE.encode()).decode()
        assert changed != SOURCE
        assert ast.get_docstring(ast.parse(changed)) == "What this is: 3 + 4."
    assert {each.place for each in found} == {"<module>", "told"}


def test_a_sample_is_drawn_again_by_its_seed(faults):
    """The same seed has the same faults, another has others; kinds come by turns."""
    one, again, other = (faults.drawn(ROOT, seed=seed, count=14, only="frames") for seed in (1, 1, 2))
    assert one == again and len(one) == len(set(one)) == 14
    assert {each.key for each in one} != {each.key for each in other}
    assert len({each.kind for each in one}) > 10
    assert all(each.path.startswith("previz/frames/") for each in one)


def test_what_is_argued_names_a_file_and_a_reason(faults):
    """A line is the fault as it is reported, and why nothing would show it."""
    for line in (Path(faults.__file__).parent / "argued.txt").read_text().splitlines():
        key, reason = line.rsplit(" | ", 1)
        assert (ROOT / key.split()[0]).is_file() and " -> " in f"{key} " and len(reason) > 10
