"""`previz validate`: the table of what the program reproduces."""

import functools
import json
import re

import pytest
import snapshot
from click.testing import CliRunner

from previz.checks.validation import run, table
from previz.checks.validation.records import Group
from previz.cli.main import main, previz

# The colour library warns of optional parts that are not installed.
pytestmark = pytest.mark.filterwarnings("ignore")

GROUP = Group("test")


def worked_out_once(checks):
    @functools.cache
    @functools.wraps(checks)
    def found():
        return list(checks())
    return found


ARITHMETIC = tuple((name, worked_out_once(checks)) for name, checks in run.ARITHMETIC)
"""The groups without the engine, each worked out once for all tests."""


@pytest.mark.parametrize(("name", "checks"), ARITHMETIC)
def test_arithmetic_is_reproduced(name, checks):
    """Every check without the engine passes, has a source and a name of its own."""
    found = checks()
    assert [check.quantity for check in found if not check.passed] == []
    assert len({check.quantity for check in found}) == len(found)
    assert all(check.source and check.tolerance >= 0 for check in found)


@pytest.mark.parametrize(("name", "checks"), ARITHMETIC)
def test_snapshot_checks(name, checks):
    """As much is held against the world as was, as closely."""
    held = [[each.quantity, each.source, each.expected, each.tolerance, each.relative] for each in checks()]
    snapshot.hold("words", f"checks, {name}", {"held": snapshot.number(held)}, 1e-5)


@pytest.mark.engine
@pytest.mark.slow
def test_whole_table(tmp_path, monkeypatch):
    """Every check passes, engine included, and the table has its columns and both marks."""
    monkeypatch.setattr(run, "ARITHMETIC", ARITHMETIC)
    found = CliRunner().invoke(previz, ["validate", "--out", str(tmp_path / "table.md")],
                               standalone_mode=False)
    assert found.exception is None, found.output
    text = (tmp_path / "table.md").read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert rows[0] == "| Quantity | Source | Expected | Got | Tolerance | Verdict |"
    assert [row for row in rows if row.endswith("| fail |")] == []
    assert found.return_value == 0
    # Closed forms, cube, furnace, penumbra, sky, pane; spectra; exposure; levels; lens; skin.
    for said in ("disc 1 m across", "rectangle 1.2 × 1.2 m", "tube 1.2 m", "closed cube",
                 "reflectance 1 in that light", "shadow's edge", "overcast sky", "pane", "mesh's pane",
                 "black body 3200 K", "Ra of FL2", "Rf and Rg", "SSI of", "BT.709", "BT.2408",
                 "near and far limit", "horizontal angle", "tungsten of 3200 K", "medium skin",
                 "(from memory)", "common practice, no source", "±"):
        assert said in text, said
    # Every row of a table has six cells.
    assert {len(re.split(r"(?<!\\)\|", row)) for row in rows} == {8}


def test_words_of_the_table():
    """It says 'reproduces', and never that it is certified or validated by anyone."""
    checks = [GROUP.near("one", "definition", 1.0, 1.0, 0.1), GROUP.near("two", "x | y", 1, 2, 0.1)]
    text = table.markdown(checks, "0.1", "processor", 3.0)
    assert "reproduces 1 of 2 values" in text
    assert "Failed: test, two." in text
    assert "x \\| y" in text
    assert not re.search(r"certif|validated by", text, re.IGNORECASE)


def test_a_wrong_number_fails():
    """Tolerances cut on both sides, absolute and relative, each part of a pair."""
    assert GROUP.near("a", "s", 10, 10.1, 0.1).passed
    assert not GROUP.near("a", "s", 10, 9.89, 0.1).passed
    assert GROUP.share("a", "s", 200, 202, 0.01).passed
    assert not GROUP.share("a", "s", 200, 203, 0.01).passed
    assert not GROUP.near("a", "s", (0.3, 0.4), (0.3, 0.5), 0.01).passed
    assert not GROUP.near("a", "s", 1.0, float("nan"), 0.1).passed


def test_noise_is_allowed_for_but_hides_nothing():
    """Four standard errors are allowed; a number too noisy to show a miss is a miss."""
    assert GROUP.rendered("a", "s", 100, 100.9, 0.2).passed
    assert GROUP.rendered("a", "s", 100, 101.9, 0.49).passed
    assert not GROUP.rendered("a", "s", 100, 102.1, 0.49).passed
    assert not GROUP.rendered("a", "s", 100, 100.0, 0.6).passed
    assert not GROUP.rendered("a", "s", 100, 50.0, 0.1).passed


def test_numbers_show_what_is_known():
    """Rendered numbers have decimals as their error allows."""
    text = table.markdown([GROUP.rendered("a", "s", 250, 249.8123, 0.24)], "0.1", "processor", 1.0)
    assert "249.81 ± 0.24 lx" in text


@pytest.mark.parametrize(("got", "status"), [(1.0, 0), (2.0, 1)])
def test_json_and_exit_status(monkeypatch, capsys, got, status):
    """A list of checks with verdicts; status 1 as soon as one fails."""
    # Without a backend there is no engine group, and this test needs none.
    monkeypatch.setattr("previz.checks.validate.choose", lambda backend: "processor")
    monkeypatch.setattr(run, "all_checks",
                        lambda backend, progress: iter([GROUP.near("a", "s", 1.0, got, 0.1, "lx")]))
    with pytest.raises(SystemExit) as end:
        main(["validate", "--json"])
    assert end.value.code == status
    result = json.loads(capsys.readouterr().out)
    check, = result["checks"]
    assert check["verdict"] == ("pass", "fail")[status]
    assert set(check) >= {"quantity", "source", "expected", "got", "tolerance", "verdict"}
    assert result["passed"] == (status == 0)
