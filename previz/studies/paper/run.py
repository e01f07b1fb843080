"""Put scenes on paper: drawings, lists, power, pictures and meter sheet, gathered into one pack."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from previz.deliver.pack import Pack, PackScene, set_out_pack
from previz.deliver.pdf_faces import printable
from previz.deliver.stems import unique_stems
from previz.errors import Problem, RequestError, SceneError
from previz.plans.lengths import METRIC, SYSTEMS
from previz.plans.lines import MeterLine, SetUp
from previz.plans.records import PAGES, Sheet
from previz.plans.tags import tags_of
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.read import SceneFile, load
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.studies.paper.cable import cable_notes, crossings
from previz.studies.paper.cautions import paper_cautions
from previz.studies.paper.drawings import Ask, Drawings, Page
from previz.studies.paper.gels import sheet_notes
from previz.studies.paper.grip import grip_notes
from previz.studies.paper.lists import set_up_of
from previz.studies.paper.meters import meter_csv, meter_lines, meter_notes
from previz.studies.paper.pictures import picture_of, shots_of
from previz.studies.paper.result import Drawn, Paper
from previz.studies.paper.strike import change_overs
from previz.studies.paper.truck import truck_lines
from previz.studies.render import Shot
from previz.studies.selection import select
from previz.units import quote

FITTING, EACH, DIFFERENCES = "", "each", "differences"
"""Plans: one for each option while that stays within `MOST_PAGES`; always one for each; one for all, with
what differs marked."""

MOST_PAGES = 6
"""Of a scene with its options, where a plan for each does not have to be."""

METER_SECONDS = 300.0
"""Meters of an option are not run for longer. [s]"""


def load_all(paths: Sequence[Path]) -> list[SceneFile]:
    """Return scene files, each once; what is wrong with any of them is told all at once.

    Raises
    ------
    SceneError
        With every problem of every file.
    """
    files, problems = list[SceneFile](), list[Problem]()
    once: dict[Path, Path] = {}
    for path in paths:
        # From here and from the root it is the same file.
        once.setdefault(Path(os.path.abspath(path)), path)
    for path in once.values():
        try:
            files.append(load(path))
        except SceneError as error:
            problems += error.problems
    if problems:
        raise SceneError(problems)
    return files


@dataclass(frozen=True, eq=False)
class _Set:
    """A scene file with the options that paper is made of.

    Parameters
    ----------
    file : SceneFile
    title, stem : str
        Of the scene; of its files, '' where there is no other scene.
    scenes, stages : dict
        By option.
    tags : dict of str to str
        Of all options of the file, also of those that are left out.
    cameras : list of str
    """

    file: SceneFile
    title: str
    stem: str
    scenes: Mapping[str, Scene]
    stages: Mapping[str, Stage]
    tags: Mapping[str, str]
    cameras: list[str]


def paper(files: Sequence[SceneFile], request: Request, *, options: Sequence[str] = (),
          cameras: Sequence[str] = (), page: str = "a4", system: str = METRIC, section: str = "",
          scale: int | None = None, pictures: bool = True, meters: bool = True, one_sheet: str = FITTING,
          seconds: float = METER_SECONDS, cache_of: Callable[[Path], Path] | None = None,
          progress: Progress | None = None) -> Paper:
    """Put a scene on paper, or the scenes of a day.

    Parameters
    ----------
    files : sequence of SceneFile
        Of several the options and cameras that are named have to be in one of them; a scene that has
        none of those that are named is there with all of its own.
    request : Request
        Of pictures and meters.
    options, cameras : sequence of str
        All that there are without any; '' for a scene as written.
    page : str
        'a4', 'a3' or 'letter', lying.
    system : str
        'metric' or 'imperial'.
    section : str
        Where the section is cut, as `plans.cut.cut_of` has it; '' for the usual place.
    scale : int, optional
        Of plans and sections, 50 for 1:50; as large as the page allows without it.
    pictures, meters : bool
        False renders, or meters, nothing and leaves them out.
    one_sheet : str
        'each' for a plan of each option, 'differences' for one with what differs marked, '' for 'each' where
        that does not take more than six pages.
    seconds : float
        Run the meters of an option for so long at most.
    cache_of : function, optional
        (scene file) -> its folder of frames; the request's own for all without it.
    progress : Progress, optional
        A picture is 1 of its work; silent by default.

    Raises
    ------
    RequestError
        There is no such option, camera, page or place of a section, or the page has no room.
    ResourceError
        There surely is not enough memory or disk for it.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    for value, known, what in ((page, PAGES, "page"), (system, SYSTEMS, "system of lengths"),
                               (one_sheet, (FITTING, EACH, DIFFERENCES), "kind of plan")):
        if value not in known:
            raise RequestError(f"There is no {what} '{value}'",
                               f"There are: {', '.join(each for each in known if each)}.")
    if not files:
        raise RequestError("There is no scene to put on paper", "Name one or more.")
    # Everything is built before anything is rendered, so that a bad mesh costs no time.
    sets = _sets(files, options, cameras)
    # Scales and cuts that cannot be are refused before that too.
    ask = Ask(page, system, section, scale)
    for line in unprintable(sets):
        progress.say(line)
    plans = [Drawings(each.title, each.scenes, each.stages, each.tags, ask) for each in sets]
    for drawings in plans:
        drawings.made(one_sheet == DIFFERENCES)
    shots, readings = [], []
    for each in sets:
        own = request if cache_of is None else replace(request, cache=cache_of(each.file.path))
        shots.append(shots_of(each.stages, each.cameras, own, progress, meters=meters, seconds=seconds)
                     if pictures else {})
        # What the pictures' faces were metered for is in the cache now.
        readings.append({option: meter_lines(scene, each.stages[option], own, progress=progress,
                                             seconds=seconds)
                         for option, scene in each.scenes.items()} if meters else {})
    return _bound(sets, plans, shots, readings, ask, one_sheet)


def unprintable(sets: Sequence[_Set]) -> list[str]:
    """Return what is to be said of names with letters that the face of the PDF lacks."""
    names = dict.fromkeys(name for each in sets for option, scene in each.scenes.items()
                          for name in (each.title, option, *(item.name for item in scene.all_items())))
    lost = [name for name in names if not name.isascii() and printable(name) != name]
    if not lost:
        return []
    more = f" and {len(lost) - 3} more" if len(lost) > 3 else ""
    told = ", ".join(quote(name) for name in lost[:3])
    return [f"The PDF has no letters for {told}{more}: they are '?' in it. SVG, DXF and CSV have them."]


def _sets(files: Sequence[SceneFile], options: Sequence[str], cameras: Sequence[str]) -> list[_Set]:
    """Return scene files with their options built; refuse names that none of them has."""
    select([each for each in options if each], [name for file in files for name in file.option_names],
           "option")
    chosen = [[name for name in dict.fromkeys(options) if not name or name in file.option_names]
              or list(file.option_names) or [""] for file in files]
    scenes = [{name: file.scene(name or None) for name in names}
              for file, names in zip(files, chosen, strict=True)]
    known = [list(dict.fromkeys(camera.name for scene in each.values() for camera in scene.cameras))
             for each in scenes]
    select(cameras, dict.fromkeys(name for names in known for name in names), "camera")
    stems = unique_stems([(file.path.stem,) for file in files])
    titles = [file.title or file.path.stem for file in files]
    return [_Set(file, title if titles.count(title) == 1 else f"{title} ({stem})",
                 stem if len(files) > 1 else "", own,
                 {name: build_stage(scene) for name, scene in own.items()},
                 tags_of([file.scene(name or None) for name in ("", *file.option_names)]),
                 [name for name in names if not cameras or name in cameras] or names)
            for file, title, stem, own, names in zip(files, titles, stems, scenes, known, strict=True)]


def _set_ups(of: _Set, readings: Mapping[str, tuple[MeterLine, ...]], system: str) -> list[SetUp]:
    """Return the lists of each option of a scene; the box that lamps are fed from stays where it is."""
    made = list[SetUp]()
    for option, scene in of.scenes.items():
        before = made[0] if made else None
        lists = set_up_of(of.title, scene, of.stages[option], of.tags, system, before)
        made.append(replace(lists, meters=readings.get(option, ())))
    return made


def _bound(sets: Sequence[_Set], plans: Sequence[Drawings], shots: Sequence[Mapping[str, tuple[Shot, ...]]],
           readings: Sequence[Mapping[str, tuple[MeterLine, ...]]], ask: Ask, one_sheet: str) -> Paper:
    """Return lists, drawings and pictures on pages."""
    set_ups = [_set_ups(each, metered, ask.system) for each, metered in zip(sets, readings, strict=True)]
    changes = [change_overs(list(zip(each.scenes.values(), own, strict=True)), system=ask.system)
               for each, own in zip(sets, set_ups, strict=True)]
    crossed = [crossings([run for set_up in own for run in set_up.runs]) for own in set_ups]
    # What is to be looked at in a plan of circuits stands with it.
    cautions = [paper_cautions(list(each.scenes.values()), list(each.stages.values()), ways)
                for each, ways in zip(sets, crossed, strict=True)]
    all_cautions = cautions[0] if len(sets) == 1 else paper_cautions(
        [scene for each in sets for scene in each.scenes.values()],
        [stage for each in sets for stage in each.stages.values()], [way for ways in crossed for way in ways])
    truck = truck_lines([set_up for own in set_ups for set_up in own], ask.system)
    pictures = [tuple(picture_of(shot) for each in own.values() for shot in each) for own in shots]
    title = sets[0].title if len(sets) == 1 else f"A day of {len(sets)} scenes"

    scenes = tuple(PackScene(each.title, tuple(own), done, care, seen, ways, _notes(each, own, ask.system))
                   for each, own, done, care, seen, ways in zip(
                       sets, set_ups, changes, cautions, pictures, crossed, strict=True))
    pack = Pack(title, scenes, truck, all_cautions, ask.system)
    layout, most = set_out_pack(pack, ask.page), MOST_PAGES * len(sets) + (len(sets) > 1)
    drawn = _drawn(plans, one_sheet, lambda pages: layout.count(pages) <= most)
    composed = [[page.compose for page in own] for own in drawn]
    pages = layout.pages(composed)
    sheets = [page for page in pages if isinstance(page, Sheet)]
    drawings = tuple(Drawn(each.title, each.stem, page.parts, sheet) for (each, page), sheet in zip(
        [(each, page) for each, own in zip(sets, drawn, strict=True) for page in own], sheets, strict=True))
    return Paper(pack, layout, tuple(pages), drawings,
                 tuple((each.title, shot) for each, own in zip(sets, shots, strict=True)
                       for taken in own.values() for shot in taken), _meter_tables(sets, readings))


def _drawn(plans: Sequence[Drawings], one_sheet: str,
           fits: Callable[[Sequence[tuple[Page, ...]]], bool]) -> list[tuple[Page, ...]]:
    """Return the drawings of each scene; where it is left to the program, as few pages as it has to be."""
    if one_sheet == EACH:
        return [(*own.plans, *own.sections) for own in plans]
    if one_sheet == FITTING:
        drawn = [(*own.plans, *own.section) for own in plans]
        if fits(drawn):
            # Sections take long: they are not drawn where there is no room for one more.
            for number, own in enumerate(plans):
                if len(own.scenes) > 1 and fits([*drawn, own.section]):
                    more = [*drawn[:number], (*own.plans, *_possible(own, "sections", own.section)),
                            *drawn[number + 1:]]
                    drawn = more if fits(more) else drawn
            return drawn
        return [(*_possible(own, "differences", own.plans), *own.section) for own in plans]
    return [(*own.differences, *own.section) for own in plans]


def _possible(of: Drawings, wanted: str, otherwise: tuple[Page, ...]) -> tuple[Page, ...]:
    """Return the drawings that the program would choose, or others where the page has no room for them.

    Nobody asked for these, and by now all is rendered.
    """
    try:
        pages: tuple[Page, ...] = getattr(of, wanted)
        for page in pages:
            page.compose("")
    except RequestError:
        return otherwise
    return pages


def _notes(of: _Set, set_ups: Sequence[SetUp], system: str) -> dict[str, tuple[str, ...]]:
    """Return what stands under the lists of a scene, each sentence once."""
    def once(notes: Iterable[Sequence[str]]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(text for each in notes for text in each))

    return {"grip": once(grip_notes(each.grip, system) for each in set_ups),
            "sheets": once(sheet_notes(each.sheets, system) for each in set_ups),
            "cable": once(cable_notes(each.runs, system) for each in set_ups),
            "meters": once(meter_notes(each.meters, of.stages[each.option].lamps) for each in set_ups)}


def _meter_tables(sets: Sequence[_Set],
                  readings: Sequence[Mapping[str, tuple[MeterLine, ...]]]) -> dict[str, str]:
    """Return a table for each option to write readings in, as `previz readings` takes them: name -> CSV."""
    metered = [(each, option, lines) for each, own in zip(sets, readings, strict=True)
               for option, lines in own.items() if lines]
    several = any(len(own) > 1 for own in readings)
    stems = unique_stems([("meters", each.stem, option if several else "") for each, option, _ in metered])
    return {stem: meter_csv(lines) for stem, (*_, lines) in zip(stems, metered, strict=True)}
