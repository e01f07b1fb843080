"""`previz new`: the file that it writes is a good scene, in every room, and never in another's place."""

import itertools

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.errors import RequestError
from previz.scene.figure import PERSONS
from previz.scene.read import load
from previz.studies.starter import LEAST_ROOM, MOST_ROOM, OUTSIDE, WALLS, Start, starter, usual_window

ROOMS = (LEAST_ROOM, (3.0, 6.0, 2.5), (9.0, 3.0, 4.0), MOST_ROOM)


def _asked(*words):
    return CliRunner().invoke(previz, ["new", *words])


@pytest.mark.parametrize("wall", WALLS)
def test_in_every_room_it_can_be_checked_without_a_doubt(tmp_path, wall):
    """Each wall, room and light outside; all is inside, and nothing is hardly meant."""
    for number, (room, outside) in enumerate(itertools.product(ROOMS, OUTSIDE)):
        path = tmp_path / f"{number}.yaml"
        person = PERSONS[number % len(PERSONS)]
        start = Start(room, wall, usual_window(room, wall), person, outside, "It's: a # start")
        path.write_text(starter(start))
        scene = load(path).scene(None)
        assert scene.title == "It's: a # start"
        for thing in (*scene.figures, *scene.lights, *scene.cameras):
            assert np.all(np.array(thing.at)[:2] > 0) and np.all(np.array(thing.at) < room), thing
        done = CliRunner().invoke(previz, ["check", str(path)])
        assert done.exit_code == 0 and ": good. " in done.output, done.output


@pytest.mark.parametrize("wall", WALLS)
def test_the_camera_sees_the_face_and_a_part_of_the_window(tmp_path, wall):
    """The head is within the frame, and looks towards the lens rather than away from it."""
    room = (5.0, 4.0, 2.7)
    path = tmp_path / "start.yaml"
    path.write_text(starter(Start(room, wall, usual_window(room, wall), "person one", "dusk", "a")))
    scene = load(path).scene(None)
    camera, figure = scene.cameras[0], scene.figures[0]
    ahead = np.subtract(camera.aim.point, camera.at)[:2]
    head = np.subtract(figure.at, camera.at)[:2]
    facing = np.radians(figure.facing)

    def between(a, b):
        return np.degrees(np.arccos(a @ b / np.linalg.norm(a) / np.linalg.norm(b)))

    # Half of 24.9 mm over 28 mm: 24 deg to either side.
    assert between(ahead, head) < 15
    assert between(np.array([np.cos(facing), np.sin(facing)]), -head) < 50
    opening = scene.room.openings[0]
    far = opening.along + opening.size[0]
    edge = {"west": (0, far), "east": (room[0], far), "south": (far, 0), "north": (far, room[1])}[wall]
    assert between(ahead, np.subtract(edge, camera.at[:2])) < 24


def test_the_stop_is_about_what_the_face_meters_at(tmp_path):
    """Brighter outside asks for a smaller stop or more filter."""
    room, kept = (5.0, 4.0, 2.7), []
    for outside in ("night", "dusk", "day"):
        path = tmp_path / f"{outside}.yaml"
        path.write_text(starter(Start(room, "west", (1.5, 1.2), "person one", outside, "a")))
        camera = load(path).scene(None).cameras[0]
        kept.append(2 * np.log2(camera.stop) + camera.nd / np.log10(2))
    assert kept[0] <= kept[1] < kept[2]


def test_what_is_there_is_never_replaced(tmp_path):
    """A file of that name stays as it was, and says so; so does the target of a link that leads nowhere."""
    path = tmp_path / "a.yaml"
    words = ["--room", "5 m x 4 m x 2.7 m", "--window", "west"]
    assert _asked(str(path), *words).exit_code == 0
    path.write_text("mine")
    done = _asked(str(path), *words)
    assert done.exit_code == 2 and "is there already" in done.output and path.read_text() == "mine"
    link = tmp_path / "b.yaml"
    link.symlink_to(tmp_path / "nowhere.yaml")
    assert _asked(str(link), *words).exit_code == 2 and not (tmp_path / "nowhere.yaml").exists()


@pytest.mark.parametrize(("words", "said"), [
    (["--room", "5 x 4 x 2.7", "--window", "west"], "'5' has no unit"),
    (["--room", "5 m x 4 m", "--window", "west"], "is not 3 lengths"),
    (["--room", "5 m x 4 m x 2.7 m", "--window", "roof"], "'roof' is no wall with a window"),
    (["--room", "5 m x 4 m x 2.7 m", "--window", "west, 9 m x 1 m"], "does not fit the west wall"),
    (["--room", "1 m x 4 m x 2.7 m", "--window", "west"], "A room of 1 m across is out of range"),
    (["--room", "5 m x 4 m x 2.7 m", "--window", "west", "--person", "nobody"], "There is no 'nobody'"),
])
def test_what_cannot_be_is_said_with_what_to_write(tmp_path, words, said):
    """Nothing is written then."""
    done = _asked(str(tmp_path / "a.yaml"), *words)
    assert done.exit_code == 2 and said in done.output, done.output
    assert not list(tmp_path.iterdir())


def test_it_is_a_yaml_file(tmp_path):
    """Another ending is refused, as the other commands would not take it for a scene."""
    with pytest.raises(RequestError):
        starter(Start((5.0, 4.0, 2.7), "west", (6.0, 1.0), "person one", "dusk", "a"))
    done = _asked(str(tmp_path / "a.txt"), "--room", "5 m x 4 m x 2.7 m", "--window", "west")
    assert done.exit_code == 2 and "ends in .yaml" in done.output
