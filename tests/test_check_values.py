"""Every value that tests hold the program to has its row, and every row a source or a plain word."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TABLE = ROOT / "tests" / "check_values.md"
BASES = ("published", "derived", "from memory", "common practice, no source")
CITED = re.compile(r"check values? (\d+\.\d+(?:(?:,| and| to)\s+\d+\.\d+)*)", re.IGNORECASE)
VAGUE = re.compile(r"\bany\b.*\btext|textbook|\bpages\b|some(where| books)", re.IGNORECASE)


def rows():
    """Return number -> (what, basis, source)."""
    found = {}
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        match = re.match(r"\| (\d+\.\d+) \|", line)
        if match:
            what, basis, source = [part.strip() for part in line.strip("| ").split(" | ")[1:]] + (
                [""] if line.rstrip().endswith("| |") else [])
            assert match[1] not in found, f"{match[1]} is there twice"
            found[match[1]] = what, basis, source
    return found


def cited(text):
    return [number for each in CITED.findall(text) for number in re.findall(r"\d+\.\d+", each)]


def sources():
    return [path for folder in ("previz", "tests") for path in sorted((ROOT / folder).rglob("*.py"))]


def test_every_citation_has_its_row():
    """A number that code or a test cites is in the table."""
    known, missing, used = rows(), [], set()
    for path in sources():
        numbers = cited(" ".join(path.read_text(encoding="utf-8").split()))
        used.update(numbers)
        missing += [f"{path.relative_to(ROOT)}: {each}" for each in numbers if each not in known]
    assert missing == []
    assert set(known) - used == set(), "rows that nothing cites"


def test_every_row_says_where_it_is_from():
    """A row is published or derived, with a source that can be checked, or says that it is not."""
    for number, (what, basis, source) in rows().items():
        assert what and basis in BASES, number
        assert bool(source) or basis == "common practice, no source", number
        assert not VAGUE.search(source.replace("opening pages", "").replace("annex", "")), (number, source)


def test_no_source_is_vague_or_outside():
    """No line of code or test leans on a table that is not here, or on 'any text'."""
    vague = re.compile(r"\bfacts \d|any (photometry )?text\b|optics pages", re.IGNORECASE)
    found = [f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
             for path in sources() if path != Path(__file__).resolve()
             for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
             if vague.search(line)]
    assert found == []


@pytest.mark.parametrize("text, numbers", [
    ("(check value 1.2)", ["1.2"]), ("check values 1.2, 1.3 and 1.15", ["1.2", "1.3", "1.15"]),
    ("value 1.2", [])])
def test_citations_are_found(text, numbers):
    """The search itself can fail."""
    assert cited(text) == numbers
