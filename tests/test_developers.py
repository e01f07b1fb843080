"""The map for developers names what is there."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
RETIRED = re.compile(r"\b(Shelf|HOPELESS|lower_\w+|app/\w+)\b")


def there(name):
    """Return whether a file or folder of that name is in the repository, in the package or in tests."""
    if any((base / name).exists() for base in (ROOT, ROOT / "previz", ROOT / "tests")):
        return True
    return "/" not in name and any((ROOT / "previz").rglob(name)) or any((ROOT / "tests").rglob(name))


def test_every_file_that_is_named_is_there():
    """`engine/kernel.py`, `kernel.py`, `rendering/cache/`: each is a file or a folder."""
    names = re.findall(r"`([\w./-]+(?:\.(?:py|js|md|txt|toml)|/))`", TEXT)
    assert len(names) > 100
    assert [name for name in names if not there(name.rstrip("/"))] == []


def test_no_retired_word_is_left():
    """Words that were replaced stand neither in the map nor in the code."""
    found = [match[0] for match in RETIRED.finditer(TEXT)]
    for path in sorted((ROOT / "previz").rglob("*.py")):
        found += [f"{path.name}: {match[0]}" for match in RETIRED.finditer(path.read_text(encoding="utf-8"))]
    assert found == []
