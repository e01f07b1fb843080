"""`previz validate --honesty`: the errors that meters state, held against the errors they make."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from previz.app.main import previz
from previz.app.validation import honesty, honesty_table
from previz.app.validation.honesty import Runs
from previz.app.validation.honesty_scenes import SCENES

# The colour library warns of optional parts that are not installed.
pytestmark = pytest.mark.filterwarnings("ignore")


def runs(gaps, stated=1.0, reached=True, truth=100.0):
    """Runs of one meter that lie so far from the truth."""
    gaps = np.asarray(gaps, float)[:, None]
    return Runs("mirror", ("patch",), np.array([truth]), np.array([0.0]), truth + gaps,
                np.full(gaps.shape, stated), np.full(gaps.shape, reached),
                np.full(gaps.shape, 65536))


def even(count, spread=1.0):
    """Gaps of a Gaussian, with exactly its spread."""
    gaps = np.random.default_rng(3).standard_normal(count)
    return spread * gaps / np.sqrt(np.mean(gaps**2))


def test_spread_over_stated_is_judged():
    """Errors stated right, at half and at twice what they are; fewer runs are judged more mildly."""
    assert runs(even(200)).spread == pytest.approx(1)
    assert runs(even(200)).honest
    assert not runs(even(200, 1.3)).honest
    assert not runs(even(200, 0.75)).honest
    assert runs(even(8, 1.3)).honest
    # sqrt(1 / 16) is the spread of a spread of 8 runs; more than two and a half of it is none's luck.
    assert not runs(even(8, 2.2)).honest


def test_one_run_far_off_is_told():
    """A run off by six stated errors fails the stage, also where it was said not to be reached."""
    gaps = [*even(200), 6.0]
    assert runs(gaps).worst == pytest.approx(6)
    assert not runs(gaps).honest
    assert not runs([0.5, -6.0], reached=False).honest
    told = runs([0.5, -1.0], reached=False)
    assert told.honest and np.isnan(told.spread)
    # A reading without an error that is not the truth is off without bound.
    assert not runs([0.5, 0.0], stated=0.0).honest
    assert runs([0.0, 0.0], stated=0.0, truth=0.0).worst == 0


def test_words_of_the_table():
    """Each meter has a row; what does not hold is named."""
    found = [runs(even(200)), runs(even(200, 3))]
    text = honesty_table.markdown(found, 0.01, "0.1", "llvm", 3.0)
    assert "1 of 2 stages state errors that hold. 200 runs each, asked for 1 %." in text
    assert "Not honest: mirror." in text
    rows = [line for line in text.splitlines() if line.startswith("|")]
    assert {line.count("|") for line in rows} == {9}
    told = json.loads(honesty_table.json_text(found, 0.01, "0.1", "llvm", 3.0))
    assert told["stages"][0]["spread_over_stated"] == pytest.approx(1)
    assert told["honest"] is False


@pytest.mark.parametrize("name", SCENES)
def test_stages_are_scenes(name):
    """Each stage is a scene without a fault, with meters or a thing for the camera to meter."""
    stage, spots = honesty.stage_of(name)
    assert stage.lamps and (spots or stage.probes)
    assert set(spots) <= {mesh.name for mesh in stage.meshes}


@pytest.mark.engine
@pytest.mark.slow
def test_errors_own_up_in_short(monkeypatch, tmp_path):
    """Two quick stages, eight runs each, through the command."""
    monkeypatch.setattr(honesty, "RUN_SECONDS", 60.0)
    done = CliRunner().invoke(previz, [
        "validate", "--honesty", "--seeds", "8", "--precision", "2 %", "--stage", "far small lamp", "--stage",
        "bounced frame", "--out", str(tmp_path / "told.json")], standalone_mode=False)
    assert done.exception is None, done.output
    told = json.loads((tmp_path / "told.json").read_text(encoding="utf-8"))
    assert [each["stage"] for each in told["stages"]] == ["bounced frame", "far small lamp"]
    for each in told["stages"]:
        assert np.array(each["reached"]).all()
        assert each["honest"], each
    assert done.return_value == 0


@pytest.mark.engine
@pytest.mark.long
@pytest.mark.parametrize("name", SCENES)
def test_errors_own_up(name):
    """Forty runs of a stage spread as they state, and none lies off by five stated errors."""
    found = honesty.run(name, "auto")
    print(honesty_table.markdown([found], 0.01, "", "", 0))  # noqa: T201
    assert found.honest


def test_least_paths_by_what_throws_light():
    """More paths look where a mirror may throw light, most where it may throw the sun."""
    from previz.engine.gather import LEAST_BY_CHANCE, LEAST_FOR_THE_SUN, LEAST_PATHS, least_paths

    for name, least in (("bounced frame", LEAST_PATHS), ("bottle", LEAST_BY_CHANCE),
                        ("mirror", LEAST_FOR_THE_SUN), ("slit of sun", LEAST_PATHS)):
        assert least_paths(honesty.stage_of(name)[0]) == least
