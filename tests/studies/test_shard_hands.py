"""Processes, and workers of a cluster, at one day's work: those too that die, and those that come twice."""

import os
import signal
import sys
import threading
import time

import pytest
from shard_yard import arrays, by_a_hand, by_one, office, task

from previz.engine import backend
from previz.errors import EngineError, RequestError
from previz.rendering.progress import Progress
from previz.rendering.shards.planning import Split
from previz.rendering.shards.units import LIGHT
from previz.studies.shard import processes
from previz.studies.shard.bench import Bench
from previz.studies.shard.cluster import LOCAL, client_of, do_unit, over_cluster
from previz.studies.shard.plans import plan_for
from previz.studies.shard.processes import places, share_out

pytestmark = pytest.mark.engine

FIRST = ("plain",)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """The scene, and what one process renders of its first option."""
    backend.start("processor")
    folder = tmp_path_factory.mktemp("yard")
    scene = office(folder)
    return scene, arrays(by_one(scene, folder / "one", FIRST))


@pytest.fixture(scope="module")
def client():
    """A cluster of two processes on this machine."""
    pytest.importorskip("distributed")
    with client_of(LOCAL, 2, {"PREVIZ_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}) as running:
        yield running


def planned(one):
    return plan_for(Bench(), one, Progress())


def test_a_cluster_comes_to_the_same_bits(yard, client, tmp_path):
    """Only names go to and fro; a unit that is done twice at once, and a worker that dies, harm nothing."""
    scene, expected = yard
    one = task(scene, tmp_path, Split(2, 2), FIRST)
    plan = planned(one)
    light = next(unit for unit in plan.units if unit.kind == LIGHT)
    twice = [client.submit(do_unit, one.plain(), light.plain(), [], pure=False, workers=[worker])
             for worker in client.scheduler_info()["workers"]]
    assert client.gather(twice) == [(), ()]
    killed = []

    def kill(share, *_):
        if share > 0.3 and not killed:
            killed.append(client.run(os.getpid))
            os.kill(next(iter(killed[0].values())), signal.SIGKILL)

    day, anew = over_cluster(client, [plan], Progress(kill))
    assert killed and not anew and not day.look() and arrays(tmp_path) == expected


def test_a_scene_that_has_changed_is_planned_anew(yard, client, tmp_path):
    """A worker finds that its unit is of another state of the scene, and says so."""
    scene, _ = yard
    one = task(scene, tmp_path / "frames", Split(1), FIRST)
    plan = planned(one)
    changed = tmp_path / "office.yaml"
    changed.write_text(scene.read_text().replace("at: [2 m, 0.5 m, 2.2 m]", "at: [2 m, 0.6 m, 2.2 m]"))
    light = next(unit for unit in plan.units if unit.kind == LIGHT)
    other = task(changed, tmp_path / "frames", Split(1), FIRST)
    assert client.submit(do_unit, other.plain(), light.plain(), [], pure=False).result() is None


def test_no_cluster_is_said_in_words(monkeypatch):
    """Neither a wrong address nor a missing library ends in a traceback."""
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "distributed", None)
        with pytest.raises(RequestError, match=r"previz\[cluster\]"), client_of(LOCAL):
            pass
    pytest.importorskip("distributed")
    monkeypatch.setattr("previz.studies.shard.cluster.SILENCE", 0.2)
    with pytest.raises(RequestError, match="No cluster answers"), client_of("tcp://127.0.0.1:9"):
        pass
    with pytest.raises(RequestError, match="No cluster answers"), client_of("nonsense://"):
        pass


def test_processes_come_to_the_same_bits(yard, tmp_path, monkeypatch):
    """One of two is killed at its first unit; the other takes what it has left."""
    scene, expected = yard
    one = task(scene, tmp_path, Split(2, 2), FIRST)
    plan, crews = planned(one), []
    real = processes._Crew

    def crew(*given):
        crews.append(real(*given))
        threading.Thread(target=kill, args=(crews[-1],)).start()
        return crews[-1]

    def kill(started):
        end = time.monotonic() + 60
        while not list((tmp_path / "shards").glob("*.lease")) and time.monotonic() < end:
            time.sleep(0.005)
        os.kill(started.processes[0].pid, signal.SIGKILL)

    monkeypatch.setattr(processes, "_Crew", crew)
    day = share_out([one], [plan], places(2, None), Progress())
    assert crews[0].processes[0].returncode == -signal.SIGKILL
    assert not day.look() and arrays(tmp_path) == expected


def test_interrupted_processes_end(yard, tmp_path):
    """What they were at is put away, and anybody goes on from there; no process and no lease is left."""
    scene, expected = yard
    one = task(scene, tmp_path, Split(2), FIRST)
    plan, calls = planned(one), []

    def stop():
        calls.append(1)
        return len(calls) > 1

    with pytest.raises(KeyboardInterrupt):
        share_out([one], [plan], places(1, None), Progress(cancel=stop))
    assert not list(tmp_path.rglob("*.lease"))
    by_a_hand(one)
    assert arrays(tmp_path) == expected


def test_places(monkeypatch):
    """A GPU a process, as far as there are any; cores are shared out evenly."""
    monkeypatch.delenv("PREVIZ_THREADS", raising=False)
    monkeypatch.setattr(processes, "usable_cores", lambda: 8)
    assert places(3, None) == [{"PREVIZ_THREADS": "2"}] * 3
    monkeypatch.setattr(processes, "gpus", lambda: ["0", "2"])
    assert places(None, "auto") == [{"CUDA_VISIBLE_DEVICES": "0"}, {"CUDA_VISIBLE_DEVICES": "2"}]
    assert places(None, 1) == [{"CUDA_VISIBLE_DEVICES": "0"}]
    with pytest.raises(EngineError, match="There are 2 GPUs here"):
        places(None, 3)
    monkeypatch.setattr(processes, "gpus", list)
    with pytest.raises(EngineError, match="No CUDA device"):
        places(None, "auto")
