"""Everything on paper: pictures, plans, lists, power, truck and meter sheet as the pages of one document.

Pages with drawings are `plans.records.Sheet`, all others are blocks; short lists stand side by side, and
options share a list.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from previz.deliver.columns import Columns, Span, set_out, span
from previz.deliver.layout import Block, Setting, doubt_blocks, map_scales, space
from previz.deliver.map import ExposureMap
from previz.deliver.pack_lamps import lamp_blocks
from previz.deliver.pack_lists import cable_blocks, change_blocks, grip_blocks, sheet_blocks, truck_blocks
from previz.deliver.pack_meters import meter_blocks, meter_notes
from previz.deliver.pack_parts import (
    AIRS,
    lines_of,
    list_of,
    list_setting,
    page_head,
    sentence,
    small_notes,
)
from previz.deliver.pack_power import OVER, UNFED, flags_of, flicker_blocks, power_blocks
from previz.deliver.pack_words import NONE, amperes_text, cable_text, length_text, weight_text
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import words_alone
from previz.deliver.tables import Cell, Column
from previz.deliver.wording import settings_text
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.safety import PLANNING_AID, Caution
from previz.plans.lines import ChangeOver, SetUp, TruckLine
from previz.plans.records import PAGES, Sheet

MM = 72 / 25.4
"""[pt]"""

PICTURES = 0.62
"""Most of a page's height that pictures take. [1]"""

Page = list[Block] | Sheet

Part = Sequence[Block] | Columns

Draw = Callable[[str], Sheet]

Content = tuple[str, str, list[Block] | None]
"""Of a page: title, subject, and its blocks; None where drawings stand."""

WORTH_LESS = 0.4
"""Where every page is filled to so much, lists are not set closer to save one. [1]"""


@dataclass(frozen=True, eq=False)
class PackPicture:
    """One option by one camera.

    Parameters
    ----------
    option, camera : str
    still : uint8 array, shape (row, column, 3)
        sRGB.
    chart : ExposureMap
    settings : CameraSettings
    said : tuple of str
        The few numbers that decide, a line each.
    short : tuple of Short
        Meters whose readings are not to be trusted as others are.
    """

    option: str
    camera: str
    still: np.ndarray
    chart: ExposureMap
    settings: CameraSettings
    said: tuple[str, ...] = ()
    short: tuple[Short, ...] = ()


@dataclass(frozen=True)
class PackNumbers:
    """The few numbers of an option that decide what comes along; see `numbers_of`.

    Parameters
    ----------
    option : str
    lamps, circuits, over, unfed : int
        Lamps that are on; circuits that hold any, and those that hold too much; lamps on no circuit.
    watts, amperes : float
        Of all that are on [W], on the fullest phase [A].
    weight : float
        Of all lamps whose weight is stated. [kg]
    unweighed : int
        Lamps whose weight is not.
    highest : float
        Middle of the highest lamp. [m]
    cable : float
        Of all pieces. [m]
    """

    option: str
    lamps: int
    watts: float
    amperes: float
    circuits: int
    over: int
    unfed: int
    weight: float
    unweighed: int
    highest: float
    cable: float


@dataclass(frozen=True, eq=False)
class PackScene:
    """All that is on paper of a scene.

    Parameters
    ----------
    title : str
    set_ups : tuple of SetUp
        Of its options.
    changes : tuple of ChangeOver
        From option to option, in the order that moves least.
    cautions : tuple of Caution
    pictures : tuple of PackPicture
    crossings : tuple of str
        Where cables cross a way.
    notes : dict of str to tuple of str
        What stands under its lists: 'grip', 'sheets', 'cable', 'meters'.
    """

    title: str
    set_ups: tuple[SetUp, ...]
    changes: tuple[ChangeOver, ...] = ()
    cautions: tuple[Caution, ...] = ()
    pictures: tuple[PackPicture, ...] = ()
    crossings: tuple[str, ...] = ()
    notes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Pack:
    """All that is on paper of a scene, or of the scenes of a day.

    Parameters
    ----------
    title : str
    scenes : tuple of PackScene
    truck : tuple of TruckLine
        The most that any one set-up of all scenes needs at once.
    cautions : tuple of Caution
        Of all scenes.
    system : str
        'metric' or 'imperial'.
    notes : tuple of str
        What is to be said of the whole: what was left out, and why.
    """

    title: str
    scenes: tuple[PackScene, ...]
    truck: tuple[TruckLine, ...] = ()
    cautions: tuple[Caution, ...] = ()
    system: str = "metric"
    notes: tuple[str, ...] = field(default=())


def numbers_of(set_up: SetUp) -> PackNumbers:
    """Return the few numbers of an option that decide what comes along."""
    on = [lamp for lamp in set_up.lamps if lamp.on]
    return PackNumbers(
        set_up.option, len(on), set_up.power.watts, set_up.power.amperes,
        sum(bool(line.lamps) for line in set_up.power.circuits),
        sum(line.over for line in set_up.power.circuits), len(set_up.power.unfed),
        sum(lamp.weight or 0.0 for lamp in set_up.lamps),
        sum(lamp.weight is None for lamp in set_up.lamps),
        max((lamp.at[2] for lamp in set_up.lamps), default=0.0),
        sum(line.length * line.count for line in set_up.cables))


@dataclass(frozen=True, eq=False)
class Layout:
    """A pack set out on pages, all but its drawings.

    Parameters
    ----------
    contents : tuple of (str, str, blocks or None)
        Title, subject and blocks of each page; None where the drawings of the next scene stand.
    setting : Setting
        Sizes of the pages that are not drawings.
    size : (float, float)
        Width and height of a page. [pt]
    """

    contents: tuple[Content, ...]
    setting: Setting
    size: tuple[float, float]

    def count(self, drawings: Sequence[Sequence[Any]]) -> int:
        """Return how many pages there are with the drawings of each scene."""
        return sum(blocks is not None for *_, blocks in self.contents) + sum(map(len, drawings))

    def pages(self, drawings: Sequence[Sequence[Draw]]) -> list[Page]:
        """Return the pages: blocks under a head that says whose page it is and of how many, and drawings.

        `drawings` are functions for each scene, (number of the page as a sheet has it) -> Sheet.
        """
        made: list[Page] = []
        count, scenes = self.count(drawings), iter(drawings)
        for title, subject, blocks in self.contents:
            if blocks is None:
                first = len(made)
                made += [draw(f"{first + number} of {count}")
                         for number, draw in enumerate(next(scenes, ()), 1)]
            else:
                aside = f"page {len(made) + 1} of {count}"
                made.append([page_head(self.setting, title, subject, aside), *blocks])
        return made


def set_out_pack(pack: Pack, page: str) -> Layout:
    """Return a pack set out on pages: lists and meter sheet apart, unless that takes too much paper.

    Parameters
    ----------
    pack : Pack
    page : str
        A key of `PAGES`.
    """
    width, height = (side * MM for side in PAGES[page])
    made: list[Layout] = []
    for air in AIRS:
        setting = list_setting(page, width, air)
        tall = height / width * setting.width
        contents = tuple(contents_of(pack, setting, tall))
        made.append(Layout(contents, setting, (width, height)))
        if all(blocks is None or sum(block.height for block in blocks) > WORTH_LESS * tall
               for *_, blocks in contents):
            break
    return min(made, key=lambda layout: len(layout.contents))


def contents_of(pack: Pack, setting: Setting, tall: float) -> list[Content]:
    """Return what stands on each page of a height [px]; see `Layout`."""
    # Heads are set later, as they say how many pages there are.
    room = tall - page_head(setting, "", "", "").height
    made: list[Content] = []
    if len(pack.scenes) > 1:
        made += _laid(pack.title, "the day: truck, power, cautions", _cover_parts(pack, setting), setting,
                      room)
    for scene in pack.scenes:
        made += _scene_contents(pack, scene, setting, room)
    return made


def _laid(title: str, subject: str, parts: Sequence[Part], setting: Setting, room: float) -> list[Content]:
    return [(title, subject, blocks) for blocks in set_out(parts, setting, room)]


def _scene_contents(pack: Pack, scene: PackScene, setting: Setting, room: float) -> list[Content]:
    """Return the pages of a scene: pictures, drawings, lists, meter sheet."""
    within, day = span(setting), len(pack.scenes) > 1
    front, rest = _front(pack, scene, setting, room)
    whole: list[Part] = [lamp_blocks(setting, scene.set_ups, pack.system)]
    if not scene.pictures:
        # Numbers alone do not take a page.
        whole, front = [_number_parts(pack, scene, setting), *whole], []
    lists = [*_list_panels(pack, scene, within), *rest]
    meters = _meter_panels(pack, scene, within)
    cautions = [] if day else [_caution_blocks(within, scene.cautions)]
    subject = "lamps, grip, cable, power"

    def laid(subject: str, *parts: Part) -> list[Content]:
        return _laid(scene.title, subject, parts, setting, room)

    if meters:
        # Who meters gets a page alone, unless that takes more paper.
        apart = [*laid(subject, *whole, Columns(lists)), *laid("meter sheet", Columns([*meters, *cautions]))]
        joined = laid(f"{subject}, meter sheet", *whole, Columns([*lists, *meters, *cautions]))
        pages = joined if len(joined) < len(apart) else apart
    else:
        pages = laid(subject, *whole, Columns([*lists, *cautions]))
    return [*((scene.title, _front_subject(scene), blocks) for blocks in front),
            (scene.title, "", None), *pages]


def _front(pack: Pack, scene: PackScene, setting: Setting,
           room: float) -> tuple[list[list[Block]], list[list[Block]]]:
    """Return the first page of a scene, and of what goes on it where there is room that which has none."""
    within = span(setting)
    blocks = [*_picture_blocks(scene, setting, room), *_number_parts(pack, scene, setting)]
    changes, truck = change_blocks(within, scene.changes), list[Block]()
    if len(pack.scenes) == 1:
        truck = truck_blocks(within, pack.truck, pack.system, scene.set_ups[0].label, scene.title)
    if scene.pictures:
        for here, rest in (([changes, truck], []), ([truck], [changes]), ([changes], [truck])):
            pages = set_out([blocks, Columns(here)], setting, room)
            if len(pages) == 1:
                return pages, rest
    return set_out([blocks], setting, room), [changes, truck]


def _front_subject(scene: PackScene) -> str:
    options = [each.option for each in scene.set_ups if each.option]
    return f"options {', '.join(options)}" if len(options) > 1 else f"option {options[0]}" if options else ""


def _picture_blocks(scene: PackScene, setting: Setting, room: float) -> list[Block]:
    """Return stills with their maps, as many side by side as they need to leave room on the page."""
    if not scene.pictures:
        return []
    plates = [Plate(([each.still, each.chart],), each.option or f"camera {each.camera}",
                    " · ".join(filter(None, (f"camera {each.camera}" if each.option else "",
                                             settings_text(each.settings)))),
                    under=each.said) for each in scene.pictures]
    rows = [plate_rows(setting, plates, across) for across in range(1, min(len(plates), 4) + 1)]
    # Full rows of pictures rather than a ragged last one.
    full = [blocks for across, blocks in enumerate(rows, 1) if len(plates) % across == 0]
    fitting = (blocks for blocks in (*full, *rows) if sum(each.height for each in blocks) <= PICTURES * room)
    # Type of the usual size, on the scale of a page that is smaller than a sheet's.
    larger = Span(setting.width, setting.units * 0.88, setting.air, setting.inner)
    return [space(0.4 * setting.unit), *next(fitting, rows[-1]),
            *map_scales(larger, "stops from 18 % grey", [
                (f"camera {each.camera}", each.chart) for each in scene.pictures], 11.0),
            *doubt_blocks(setting, [(each.option, each.short) for each in scene.pictures])]


def _number_parts(pack: Pack, scene: PackScene, setting: Setting) -> list[Block]:
    """Return the numbers that decide, what was left out, and what calls for care."""
    blocks = _number_blocks(pack, scene, setting)
    if len(pack.scenes) == 1:
        blocks += [*(sentence(setting, note, quiet=True) for note in pack.notes),
                   *_care_blocks(setting, scene.cautions), space(0.4 * setting.unit)]
    return blocks


def _number_blocks(pack: Pack, scene: PackScene, setting: Setting) -> list[Block]:
    return list_of(setting, "The numbers that decide", _number_columns(pack.system, lambda each: each.option
                   or "as written", "option"), [numbers_of(each) for each in scene.set_ups])


def _number_columns(system: str, name: Callable[[PackNumbers], str], head: str) -> list[Column]:
    return [
        Column(head, "", 14.0, name, align="left", wraps=True),
        Column("lamps on", "", 5.0, lambda each: f"{each.lamps}"),
        Column("W at full", "", 6.0, lambda each: f"{each.watts:.0f}"),
        Column("A, fullest phase", "", 7.0, lambda each: amperes_text(each.amperes)),
        Column("circuits", "", 5.0, lambda each: f"{each.circuits}" if each.circuits else NONE),
        Column("", "", 8.0, _flag, align="left"),
        Column("lamps weigh", "", 7.0, lambda each: weight_text(each.weight or None, system)),
        Column("without a weight", "", 6.0, lambda each: f"{each.unweighed}"),
        Column("highest lamp", "", 7.0, lambda each: length_text(each.highest or None, system)),
        Column("cable", "", 6.0, lambda each: cable_text(each.cable, system) if each.cable else NONE),
    ]


def _flag(numbers: PackNumbers) -> Cell:
    """Return what is wrong with the circuits of an option."""
    said = [f"{OVER}: {numbers.over} of them"] if numbers.over else []
    if numbers.unfed:
        said.append(f"{UNFED}: {numbers.unfed} lamp{'s' if numbers.unfed > 1 else ''}")
    return Cell("; ".join(said), flag=bool(said))


def _list_panels(pack: Pack, scene: PackScene, within: Setting) -> list[list[Block]]:
    notes = {name: scene.notes.get(name, ()) for name in ("grip", "sheets", "cable")}
    ways, cables = cable_blocks(within, scene.set_ups, pack.system, scene.crossings)
    return [[*grip_blocks(within, scene.set_ups, pack.system), *small_notes(within, notes["grip"])],
            [*sheet_blocks(within, scene.set_ups, pack.system), *small_notes(within, notes["sheets"])],
            [*ways, *small_notes(within, notes["cable"])], cables,
            power_blocks(within, scene.set_ups), flicker_blocks(within, scene.set_ups)]


def _meter_panels(pack: Pack, scene: PackScene, within: Setting) -> list[list[Block]]:
    panels = [meter_blocks(within, each, pack.system) for each in scene.set_ups if each.meters]
    return [*panels, meter_notes(within, scene.notes.get("meters", ()))] if panels else []


def _cover_parts(pack: Pack, setting: Setting) -> list[Part]:
    """Return the first page of a day: all set-ups, the truck, cautions over all."""
    within, first = span(setting), pack.scenes[0].set_ups[0].label
    rows = [(scene.title, numbers_of(set_up)) for scene in pack.scenes for set_up in scene.set_ups]
    columns = _number_columns(pack.system, lambda each: each.option or "as written", "option")
    columns = [Column("scene", "", 14.0, lambda each: each[0], align="left", wraps=True), *(
        Column(column.head, column.under, column.share, lambda each, column=column: column.cell(each[1]),
               align=column.align, wraps=column.wraps) for column in columns)]
    over = [f"{scene.title}, {text}" for scene in pack.scenes for set_up in scene.set_ups
            for text in flags_of(set_up)]
    return [[*list_of(setting, "The day", columns, rows),
             *(sentence(setting, text, strong=True) for text in over),
             *(sentence(setting, note, quiet=True) for note in pack.notes)],
            Columns([truck_blocks(within, pack.truck, pack.system, first),
                     _caution_blocks(within, pack.cautions)])]


def _care_blocks(setting: Setting, cautions: Sequence[Caution]) -> list[Block]:
    """Return what is to be careful about in a line, and where the rest stands."""
    text = words_alone(cautions)
    said = f"{text} In full, with sources, at the end of this paper."
    return [sentence(setting, said, strong=True)] if text else []


def _caution_blocks(setting: Setting, cautions: Sequence[Caution]) -> list[Block]:
    """Return all cautions in full, with their sources, who decides first."""
    if not cautions:
        return []
    return lines_of(setting, "Cautions", [PLANNING_AID, *(each.text for each in cautions)],
                    strong=lambda line: line == PLANNING_AID, small=True)
