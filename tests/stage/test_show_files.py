"""Files that cameras look through: what is read, and the whole text of what is wrong with the others."""

import os

import pytest
import shows
from click.testing import CliRunner

from previz.cli.check import command
from previz.cli.main import previz
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import show_files
from previz.stage.build import build_stage
from previz.stage.fingerprint import digest_of, light_path_hash

SCENE = """\
previz: 1
cameras:
  - {name: A, at: [1 m, 1 m, 1.5 m], aim: [2 m, 2 m, 1 m], lens: 35 mm, stop: T2.8, iso: 800,
     show: SHOW}
"""
CUBE = "{file: look.cube, takes: acescct, gives: srgb}"


@pytest.fixture
def camera(tmp_path, monkeypatch):
    """Return a function: what is written as show, content of files -> the stage's camera."""
    monkeypatch.chdir(tmp_path)

    def build(show, **files):
        for name, content in files.items():
            path = tmp_path / name.replace("_", ".")
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
        (tmp_path / "scene.yaml").write_text(SCENE.replace("SHOW", show), encoding="utf-8")
        return build_stage(load("scene.yaml").scene()).cameras[0]

    return build


def test_a_cube_is_carried_whole(camera):
    """Name, content, and what it is fed; readings and paths of light know nothing of it."""
    text = shows.cube()
    show = camera(CUBE, look_cube=text).show
    assert (show.name, show.content, show.ending) == ("look.cube", text.encode(), ".cube")
    assert (show.takes, show.gives) == ("acescct", "srgb")


def test_a_decision_works_in_acescct_unless_written(camera):
    """And gives what it takes; of several the one that is named."""
    show = camera("{file: look.ccc, decision: evening}", look_ccc=shows.CDL).show
    assert (show.takes, show.gives, show.decision) == ("acescct", "acescct", "evening")
    show = camera("{file: look.ccc, decision: evening, takes: acescg}").show
    assert (show.takes, show.gives) == ("acescg", "acescg")


def test_a_common_lut_says_itself_what_it_takes(camera):
    """Its descriptors name both; what they leave open is written."""
    show = camera("look.clf", look_clf=shows.OVER).show
    assert (show.takes, show.gives) == ("acescct", "srgb")
    bare = shows.OVER.replace("ACEScct", "the set's own").replace("sRGB", "Rec.1886")
    show = camera("{file: look.clf, takes: acescg}", look_clf=bare).show
    assert (show.takes, show.gives) == ("acescg", "bt.1886")


def test_an_option_changes_what_is_looked_through(tmp_path, monkeypatch):
    """A file alone, one field of it, or none."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "look.clf").write_text(shows.OVER, encoding="utf-8")
    (tmp_path / "look.ccc").write_text(shows.CDL, encoding="utf-8")
    (tmp_path / "scene.yaml").write_text(SCENE.replace("SHOW", "look.clf") + """\
options:
  graded: {cameras: {A: {show: {file: look.ccc, decision: evening}}}}
  other: {like: graded, cameras: {A: {show: {decision: plain}}}}
  again: {like: other, cameras: {A: {show: look.clf}}}
  bare: {cameras: {A: {show: none}}}
""")
    file = load("scene.yaml")
    stages = {name: build_stage(file.scene(name)) for name in file.option_names}
    shown = {name: stage.cameras[0].show for name, stage in stages.items()}
    assert [shown[name].decision for name in ("graded", "other")] == ["evening", "plain"]
    assert shown["again"].name == "look.clf" and shown["bare"] is None
    assert len({light_path_hash(stage) for stage in stages.values()}) == 1
    assert len({digest_of(stage.cameras[0]) for stage in stages.values()}) == 4



LUT3D = """<ProcessList id="a" compCLFversion="3"><InputDescriptor>ACEScct</InputDescriptor>
<OutputDescriptor>sRGB</OutputDescriptor><LUT3D inBitDepth="32f" outBitDepth="32f"><Array dim="%s 3">
%s</Array></LUT3D></ProcessList>"""

LUT1D = '  <LUT1D inBitDepth="32f" outBitDepth="32f"><Array dim="2 1">0 1</Array></LUT1D>\n'

CUBES = {
    "empty": ("", "it has no LUT_3D_SIZE and no LUT_1D_SIZE", show_files.AGAIN),
    "few colours": ("LUT_3D_SIZE 2\n0 0 0\n", "it has 1 colours, and LUT_3D_SIZE 2 makes 8",
                    show_files.AGAIN),
    "no number": (shows.cube().replace("1.000000", "nan", 1), "line 3: a number is none, or beyond 65504",
                  show_files.AGAIN),
    "endless": (shows.cube().replace("1.000000", "1e999", 1), "line 3: a number is none, or beyond 65504",
                show_files.AGAIN),
    "a word": (shows.cube().replace("1.000000", "0,5", 1), "line 3: there are no three numbers",
               show_files.AGAIN),
    "two tables": ("LUT_1D_SIZE 2\nLUT_3D_SIZE 2\n0 0 0\n",
                   "line 2: it holds a 1D and a 3D table, and programs differ in their use",
                   "Export it with one of the two, or as .clf."),
    "too fine": ("LUT_3D_SIZE 129\n0 0 0\n", "line 1: LUT_3D_SIZE is no number from 2 to 65",
                 "Export it with 33 steps."),
    "of one step": ("LUT_1D_SIZE 1\n0 0 0\n", "line 1: LUT_1D_SIZE is no number from 2 to 4096",
                    "Export it with 1024 steps."),
    "back to front": (shows.cube(head="DOMAIN_MIN 1 1 1\nDOMAIN_MAX 0 0 0\n"), "its domain runs from 1 to 0",
                      "Export it with a DOMAIN_MAX above its DOMAIN_MIN."),
    "another format": ("SIZE 2\n", "line 1: 'SIZE' is no word of a .cube", show_files.AGAIN),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0", "it is no text", show_files.AGAIN),
}
OTHERS = {
    "torn.clf": (shows.OVER[:200], "line 4: it is no whole XML", show_files.AGAIN),
    "page.clf": ("<html/>", "it is no process list of the common LUT format", show_files.AGAIN),
    "leads.clf": (shows.OVER.replace("<Matrix", '<Reference path="other.clf"/><Matrix'),
                  "it names another file", "Export it again, with everything in it."),
    "bombs.clf": ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "it has a document type of its own",
                  "Export it again, without one."),
    "none.clf": (shows.OVER.replace("-1 0 0 1", "nan 0 0 1", 1), "a number in it is none, or beyond 65504",
                 show_files.AGAIN),
    "huge.clf": (shows.OVER.replace("-1 0 0 1", "1e39 0 0 1", 1), "a number in it is none, or beyond 65504",
                 show_files.AGAIN),
    "word.clf": (shows.OVER.replace("-1 0 0 1", "one 0 0 1", 1), "a number in it is none", show_files.AGAIN),
    "fine.clf": (LUT3D % ("129 129 129", "0 0 0"), "a cube in it has no edge of 2 to 65 steps",
                 "Export it with 33 steps."),
    "short.clf": (LUT3D % ("2 2 2", "0 0 0"), "line 2: it cannot be read", show_files.AGAIN),
    "many.clf": (shows.OVER.replace("  <Matrix", 4 * LUT1D + "  <Matrix"), "it holds 4 tables",
                 "Export it as one cube, or with 3 tables at most."),
    "two.ccc": (shows.CDL, "it holds 2 decisions",
                "Write 'decision:' with the id of one: 'plain', 'evening'."),
    "none.cdl": ("<ColorDecisionList/>", "it holds no decision of the ASC CDL", show_files.AGAIN),
    "below.cc": ('<ColorCorrection id="a"><SOPNode><Slope>-1 1 1</Slope></SOPNode></ColorCorrection>',
                 "a Slope in it is below what the ASC CDL has",
                 "Export it with slopes and saturation of 0 or more and powers above 0."),
    "words.cc": ('<ColorCorrection id="a"><SOPNode><Slope>1 1</Slope></SOPNode></ColorCorrection>',
                 "a Slope in it is not three numbers", show_files.AGAIN),
}


def refused(camera, show, message, advice, **files):
    """A build and `previz check` say one thing, at the file's place."""
    with pytest.raises(SceneError) as caught:
        camera(show, **files)
    (problem,) = caught.value.problems
    assert problem.message == message
    assert problem.advice == advice
    with pytest.raises(SceneError) as checked:
        CliRunner().invoke(command, ["scene.yaml"], catch_exceptions=False)
    assert [str(each) for each in checked.value.problems] == [str(problem)]
    return problem


@pytest.mark.parametrize("case", CUBES)
def test_a_cube_that_shows_nothing_is_refused(camera, case):
    """Each with its line and what to do."""
    content, message, advice = CUBES[case]
    problem = refused(camera, CUBE, f"the file 'look.cube' of camera 'A': {message}", advice,
                      look_cube=content)
    assert (problem.path, problem.line, problem.column) == ("scene.yaml", 4, 19)


@pytest.mark.parametrize("name", OTHERS)
def test_other_files_that_show_nothing_are_refused(camera, name):
    """Common LUTs and decisions."""
    content, message, advice = OTHERS[name]
    problem = refused(camera, name, f"the file '{name}' of camera 'A': {message}", advice,
                      **{name.replace(".", "_"): content})
    assert (problem.line, problem.column) == (4, 12)


def test_a_file_that_leaves_open_what_it_takes_is_refused(camera):
    """A common LUT without descriptors, or with others than the scene says."""
    choices = "acescct, acescg, aces2065-1, bt.709, linear bt.709"
    refused(camera, "{file: look.clf, gives: srgb}",
            "the file 'look.clf' of camera 'A' does not state what it takes in a word known here",
            f"Write 'takes:' with one of: {choices}.",
            look_clf=shows.OVER.replace("ACEScct", ""))
    refused(camera, "{file: look.clf, gives: bt.1886}",
            "the file 'look.clf' of camera 'A' states that it gives srgb, and 'gives' says bt.1886",
            "Leave out 'gives', or write 'gives: srgb'.", look_clf=shows.OVER)


def test_a_decision_that_is_not_there(camera):
    """With the ids that are."""
    refused(camera, "{file: look.ccc, decision: noon}",
            "the file 'look.ccc' of camera 'A': it holds no decision 'noon'",
            "Write 'decision:' with the id of one: 'plain', 'evening'.", look_ccc=shows.CDL)


def test_what_the_library_cannot_say_is_refused_all_the_same(camera):
    """Digits of another script: its message breaks off within one, which is an error of its own."""
    content = ('<ProcessList id="n" compCLFversion="3"><Matrix inBitDepth="32f" outBitDepth="32f">'
               '<Array dim="3 3">1 0 0  0 1 0  0 \u0663</Array></Matrix></ProcessList>')
    refused(camera, "{file: a.clf, takes: acescct, gives: srgb}",
            "the file 'a.clf' of camera 'A': it cannot be read", show_files.AGAIN, a_clf=content)


def test_a_file_larger_than_any_is_not_read(camera, monkeypatch):
    """Nor a pipe, which nobody writes to."""
    monkeypatch.setattr(show_files, "SHOW_BYTES", 2**10)
    refused(camera, CUBE, "the file 'look.cube' of camera 'A' cannot be read: it is 1 MB",
            "Use a file of 0 MB or less.", look_cube="#" * 2**11)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes")
def test_a_pipe_is_not_waited_for(tmp_path, camera):
    """It is no file."""
    os.mkfifo(tmp_path / "look.cube")
    with pytest.raises(SceneError, match="is not a file"):
        camera(CUBE)


@pytest.mark.parametrize("words", [["render"], ["block"], ["meter"], ["page", "--no-open"]])
def test_commands_end_with_2_and_the_place(camera, words):
    """Before anything is rendered or written."""
    with pytest.raises(SceneError):
        camera(CUBE, look_cube="LUT_3D_SIZE 2\n0 0 0\n")
    result = CliRunner().invoke(previz, [words[0], "scene.yaml", *words[1:], "--out", "out"])
    said = result.output + str(result.exception or "")
    assert "scene.yaml:4:19: the file 'look.cube' of camera 'A': it has 1 colours" in said
    assert isinstance(result.exception, SceneError | SystemExit) and not os.path.exists("out")


def test_a_cube_does_not_say_what_it_is_for(camera):
    """So the scene has to; and a table has no decisions, nor a decision a screen."""
    with pytest.raises(SceneError) as caught:
        camera("look.cube", look_cube=shows.cube(), look_cc=shows.CDL)
    assert str(caught.value) == """\
scene.yaml:4:12: 'show' of camera 'A' is a .cube and has no 'takes' and no 'gives'.
    4 |      show: look.cube}
      |            ^
  Write what it was made for: a .cube does not say so itself. For example 'takes: acescct' and \
'gives: srgb'."""
    with pytest.raises(SceneError, match="is a look-up table and has a decision"):
        camera("{file: look.cube, takes: acescct, gives: srgb, decision: evening}")
    with pytest.raises(SceneError, match="is a colour decision, which gives what it takes"):
        camera("{file: look.cc, gives: srgb}")
    with pytest.raises(SceneError, match="is a colour decision, which works in ACEScct or ACEScg"):
        camera("{file: look.cc, takes: bt.709}")
