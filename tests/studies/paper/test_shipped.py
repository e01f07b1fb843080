"""Lists of the shipped scenes: they agree with each other, and with what stands in the scenes."""

from functools import cache
from pathlib import Path

import pytest

from previz.studies.paper.cable import LEAD, SLACK
from previz.studies.paper.grip import SANDBAGS
from previz.studies.paper.strike import change_overs
from previz.studies.paper.truck import truck_lines
from tests.studies.paper.listed import listed

SCENES = Path(__file__).parents[3] / "scenes"

OPTIONS = {"signal-cabin": ("bounce", "direct"), "engine-shed": ("low sun", "lamp for sun"),
           "carriage-window": ("blue hour",)}


@cache
def of_scene(name):
    return listed(SCENES / f"{name}.yaml", OPTIONS[name])


@pytest.fixture(params=OPTIONS)
def shipped(request):
    return of_scene(request.param)


def test_lists_of_shipped_scenes_agree(shipped):
    """Every lamp once; cables reach; stands and bags for what stands; the truck has the most of each."""
    made = [each[3] for each in shipped.values()]
    for scene, _, tags, set_up in shipped.values():
        assert [line.name for line in set_up.lamps] == [light.name for light in scene.lights]
        assert len({line.tag for line in set_up.lamps}) == len(set_up.lamps)
        fed = {line.name for line in set_up.lamps if line.watts is not None}
        assert {run.lamp for run in set_up.runs} == fed
        for run in set_up.runs:
            height = next(line.at[2] for line in set_up.lamps if line.name == run.lamp)
            assert run.route >= 0.9 * height and sum(run.pieces) >= run.route * (1 + SLACK) - LEAD - 1e-9
            assert "no way" not in " ".join(run.crosses)
        standing = {line.name for line in (*set_up.lamps, *set_up.grip) if line.support.startswith("stand")}
        held = {name for line in set_up.grip if line.what.startswith(("stand", "tower")) for name in line.of}
        assert standing == held
        assert {line.name for line in set_up.grip if line.name} <= set(tags)
    for line in truck_lines(made):
        assert line.count > 0
        if line.what in SANDBAGS.values():
            assert line.count == max(sum(each.count for each in set_up.grip if each.what == line.what)
                                     for set_up in made)
    overs = change_overs([(each[0], each[3]) for each in shipped.values()])
    assert len(overs) == len(made) - 1 and all(over.changes for over in overs)


def test_the_cabin_by_hand():
    """The card goes, the key is aimed at the clerk and gets its gel: strike 2, aim and gel overhead 2 x 2."""
    cabin = of_scene("signal-cabin")
    over, = change_overs([(each[0], each[3]) for each in cabin.values()])
    assert (over.before, over.after, over.effort) == ("bounce", "direct", 6.0)
    assert [(change.what, change.name) for change in over.changes] == [
        ("strike", "card"), ("aim", "key"), ("gel", "key")]
    stove = next(run for run in cabin["bounce"][3].runs if run.lamp == "stove glow")
    assert stove.pieces == (5.0,) and not stove.crosses
