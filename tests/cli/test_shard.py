"""`previz shard`: what is missing, who does it, and what it has cost."""

import json
import platform
from pathlib import Path

import pytest
from click.testing import CliRunner
from shard_yard import SCENE, office

from previz.cli.main import previz
from previz.frames.layouts import marked
from previz.frames.whole import read_sealed, write_sealed
from previz.rendering.cache.limit import set_limit
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Quality

SMALL = ("--size", "32", "--samples", "4", "--bands", "8", "--backend", "processor", "--quality", "draft")


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """Where the program runs: the scene, and another."""
    monkeypatch.chdir(tmp_path)
    office(tmp_path)
    Path("yard.yaml").write_text(SCENE.replace("engine shed's office", "yard"), encoding="utf-8")


def run(*words, status=0):
    done = CliRunner().invoke(previz, ["shard", *map(str, words)])
    assert done.exit_code == status, done.output
    return done


@pytest.mark.engine
def test_a_day_is_estimated_rendered_and_accounted_for(yard, monkeypatch):
    """Of two scenes in two qualities by a plan: nothing is written before, and all is there after."""
    monkeypatch.setitem(QUALITIES, "draft", Quality(8, 2, 0.5, 0.5))
    Path("day.txt").write_text("office.yaml --option plain  # the shed\n\n"
                               "yard.yaml --option 'plain' --samples 2\n")
    before = run("--plan", "day.txt", *SMALL, "--estimate").stdout
    assert before.startswith("2 scenes, 2 pictures. Units of work that are "
                             "missing: 2 of light, 2 of what cameras see, 2 of meters, 2 that put pictures "
                             "together.\n")
    # Draft has half of the size, and 16 x 16 pixels are the least: of 4 and of 2 paths.
    assert "\n1536 paths, " in before and "office: plain, camera A: key, fill, bulb\n" in before
    assert not Path("renders").exists()
    first = run("--plan", "day.txt", *SMALL, "--unit", "1/2")
    assert "Missing: " in first.stdout and "All is there" not in first.stdout
    assert "Missing: office: plain, camera A: put together" in run(
        "--plan", "day.txt", *SMALL, "--merge", status=1).stdout
    done = json.loads(run("--plan", "day.txt", *SMALL, "--json").stdout)
    assert all(unit["done"] for unit in done["units"]) and len(done["units"]) == 8
    assert [cost["scene"] for cost in done["costs"]] == ["office.yaml", "yard.yaml"]
    assert [cost["paths"] for cost in done["costs"]] == [1024, 512]
    assert all(cost["units"] == 4 and cost["processor"] > 0 == cost["gpu"] for cost in done["costs"])
    assert len(list(Path("renders").glob("*/frames/shards/cost-*.json"))) == 2
    again = run("--plan", "day.txt", *SMALL, "--merge").stdout
    assert "Nothing is missing." in again and "All is there: `previz render` finds it." in again
    for scene in ("office", "yard"):
        write_sealed(Path(f"renders/{scene}/frames/pace.json"), {
            **marked("previz_pace"), "machine": platform.node(), "runs_on": "processor",
            "paths_per_second": 1000.0})
        for path in Path(f"renders/{scene}/frames/shards").glob("cost-*.json"):
            kept = read_sealed(path, "previz_shards", path.stem)
            kept["cost"]["each"] = {"view": 1.0, "meters": 7.0, "picture": 0.25}
            write_sealed(path, kept, path.stem)
    # 32 x 18 pixels of 4 and of 2 paths, and a view and a picture of each scene; the meters are there.
    assert "\nAbout 6.0 s of this machine alone; 3.0 s of 2 like it, by the pace of its last render." in run(
        "--plan", "day.txt", *SMALL, "--size", "64", "--unit", "1/2", "--estimate").stdout
    set_limit(Path("renders/yard/frames"), 10**6)
    told = run("yard.yaml", *SMALL, "--size", "960", "--option", "plain", "--estimate").stdout
    assert "'renders/yard/frames' keeps 1.0 MB, and yard.yaml takes " in told and "cache --limit" in told


@pytest.mark.parametrize(("words", "told"), [
    ((), "Give scenes, or a file of them with --plan."),
    (("office.yaml", "--unit", "4/3"), "'4/3' is no share; write '3/8'"),
    (("office.yaml", "--gpus", "0"), "'0' is no number of GPUs"),
    (("office.yaml", "--gpus", "auto", "--unit", "1/2"), "Give --unit or --gpus, not both."),
    (("office.yaml", "--merge", "--cluster", "local"), "Give --merge or --cluster, not both."),
    (("office.yaml", "--option", "nobody"), "office.yaml: The scene has no option 'nobody'"),
    (("office.yaml", "--camera", "B"), "office.yaml: The scene has no camera 'B'"),
    (("nowhere.yaml",), "nowhere.yaml"),
    (("--plan", "nowhere.txt"), "The plan 'nowhere.txt' cannot be read"),
    (("--plan", "."), "The plan '.' cannot be read: Is a directory."),
    (("--plan", "picture.txt"), "The plan 'picture.txt' cannot be read: it is no text in UTF-8."),
    (("--plan", "empty.txt"), "The plan 'empty.txt' names no scene."),
    (("office.yaml", "--estimate", "--merge"), "Give --estimate or --merge, not both."),
    (("--plan", "bad.txt"), "bad.txt:2: "),
    (("--plan", "torn.txt"), "torn.txt:1: No closing quotation"),
    (("office.yaml", "below/office.yaml", "--out", "out"), "Two of the scenes are called 'office'")])
def test_what_cannot_be_is_said_before_any_work(yard, words, told, monkeypatch):
    """In a line, and nothing is written."""
    monkeypatch.setattr(StageJob, "buffers", property(lambda _: pytest.fail("work was begun")))
    Path("bad.txt").write_text("office.yaml\noffice.yaml --camra A\n")
    Path("torn.txt").write_text("office.yaml --option 'plain\n")
    Path("empty.txt").write_text("# nothing yet\n\n")
    Path("picture.txt").write_bytes(b"\x89PNG")
    Path("below").mkdir()
    office(Path("below"))
    done = CliRunner().invoke(previz, ["shard", *words])
    said = done.output if isinstance(done.exception, SystemExit) else str(done.exception)
    assert done.exit_code and told in said and "Traceback" not in said
    assert not list(Path().rglob("*.npy")) and not Path("out").exists()


def test_a_gpu_that_is_not_there_is_said(yard, monkeypatch):
    """Before anything is rendered."""
    monkeypatch.setattr("previz.studies.shard.processes.gpus", list)
    monkeypatch.setattr(StageJob, "buffers", property(lambda _: pytest.fail("work was begun")))
    done = CliRunner().invoke(previz, ["shard", "office.yaml", "--option", "plain", *SMALL, "--gpus", "2"])
    assert done.exit_code and "No CUDA device was found." in str(done.exception)
    assert "auto" not in str(done.exception)
