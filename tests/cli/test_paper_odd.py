"""`previz paper` with scenes and folders that nobody would give it on purpose."""

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from previz.cli import ending, main
from previz.cli.main import previz as program
from previz.errors import RequestError
from previz.plans.records import Drawing
from previz.rendering.request import Request
from previz.studies.paper import load_all, paper
from previz.studies.paper.drawings import Page
from previz.studies.paper.run import DIFFERENCES, FITTING, _drawn

pytestmark = pytest.mark.filterwarnings("ignore")

EMPTY = "previz: 1\ntitle: Yard\n"


def on_paper(folder: Path, *words: str):
    (folder / "yard.yaml").write_text(EMPTY, encoding="utf-8")
    return CliRunner().invoke(program, ["paper", str(folder / "yard.yaml"), "--no-pictures", "--no-meters",
                                        "--out", str(folder / "out"), *words])


def test_the_same_file_named_in_two_ways_is_one_scene(tmp_path, monkeypatch):
    (tmp_path / "yard.yaml").write_text(EMPTY, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    files = load_all([Path("yard.yaml"), tmp_path / "yard.yaml", tmp_path / "." / "yard.yaml"])
    assert [file.path for file in files] == [Path("yard.yaml")]


def test_a_folder_in_the_way_of_a_drawing_leaves_the_files_of_before(tmp_path):
    (tmp_path / "out/paper/plan.svg").mkdir(parents=True)
    (tmp_path / "out/paper/paper.pdf").write_text("before")
    result = on_paper(tmp_path)
    assert result.exit_code == 2 and "plan.svg' is a folder" in result.output
    assert (tmp_path / "out/paper/paper.pdf").read_text() == "before"
    assert sorted(path.name for path in (tmp_path / "out/paper").iterdir()) == ["paper.pdf", "plan.svg"]


def test_a_set_without_lamps_brings_no_distribution(tmp_path):
    result = on_paper(tmp_path)
    assert result.exit_code == 0, result.output
    assert "distribution" not in (tmp_path / "out/paper/truck.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize(("heard", "status"), [([], 70), ([2], 130), ([15], 143)])
def test_what_fails_after_ctrl_c_has_ended_by_it(monkeypatch, tmp_path, capsys, heard, status):
    # Seen with a mesh library that swallowed the interrupt in an import, and then added None to a stand-in.
    def broken(**_):
        raise TypeError("unsupported operand")

    monkeypatch.setattr(main.previz, "main", broken)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    assert main._status(["paper"], heard) == status
    assert ("Interrupted." in capsys.readouterr().err) is bool(heard)


@pytest.mark.skipif(sys.gettrace() is not None, reason="a debugger's trace is left alone")
def test_ctrl_c_is_not_lost_where_an_import_swallows_it(monkeypatch, tmp_path):
    (tmp_path / "swallows_it.py").write_text(
        "import signal\ntry:\n    signal.raise_signal(signal.SIGINT)\nexcept BaseException:\n    pass\n")
    monkeypatch.syspath_prepend(tmp_path)
    on, before = [], sys._getframe().f_trace

    def lazily():
        import swallows_it
        on.append(swallows_it)

    with pytest.raises(KeyboardInterrupt), ending.interrupts() as heard:
        lazily()
    assert heard == [2] and not on and sys._getframe().f_trace is before


class Several:
    """Drawings of seven options, of which one plan for all cannot be made."""

    scenes = dict.fromkeys("abcdefg")

    def __init__(self, refused_late: bool):
        def plan(number):
            return Drawing

        def refused(number):
            raise RequestError("The page has no room", "Take a larger one.")

        self.plans = tuple(Page(("plan", name), plan) for name in self.scenes)
        self.section = (Page(("section",), plan),)
        self.late = (Page(("plan",), refused),) if refused_late else None

    @property
    def differences(self):
        if self.late is None:
            raise RequestError("One plan for 7 options cannot be read", "Name 2 to 6 options.")
        return self.late


@pytest.mark.parametrize("late", [False, True])
def test_where_one_plan_for_all_cannot_be_each_option_has_its_own(late):
    several = Several(late)
    assert _drawn([several], FITTING, lambda pages: False) == [(*several.plans, *several.section)]
    # Who asks for it is told.
    if late:
        assert _drawn([several], DIFFERENCES, lambda pages: False) == [(*several.late, *several.section)]
    else:
        with pytest.raises(RequestError, match="cannot be read"):
            _drawn([several], DIFFERENCES, lambda pages: False)


def test_letters_that_the_face_lacks_are_told_and_printed_as_question_marks(tmp_path):
    """A name in Chinese letters: the PDF has '??', a line says so, the list as CSV has the name."""
    scene = tmp_path / "odd.yaml"
    scene.write_text("""
previz: 1
title: Yard
room: {size: [4 m, 3 m, 2.5 m]}
lights:
  - {name: 主光, kind: fresnel, at: [1 m, 1 m, 2 m], aim: [2 m, 2 m, 1 m], output: 900 lm}
""", encoding="utf-8")
    done = CliRunner().invoke(program, ["paper", str(scene), "--no-pictures", "--no-meters",
                                        "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    assert "no letters for '主光'" in done.output
    assert "主光" in (tmp_path / "paper" / "lamps.csv").read_text(encoding="utf-8")


def test_the_box_stays_where_it_is_between_options(tmp_path):
    """In the carriage's afternoon fewer lamps are there, and alone it would have its box elsewhere."""
    file = load_all([Path(__file__).parents[2] / "scenes" / "carriage-window.yaml"])

    def sources(*options):
        found = paper(file, Request(tmp_path / "frames"), options=options, pictures=False, meters=False)
        return [(run.source, run.path[0]) for set_up in found.pack.scenes[0].set_ups for run in set_up.runs]

    assert len(set(sources("blue hour", "afternoon"))) == 1
    assert sources("afternoon")[0] != sources("blue hour")[0]
