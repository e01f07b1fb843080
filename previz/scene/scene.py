"""The whole scene, as it was written, with one option applied."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

from previz.scene.camera import Camera, Meter, SpotPatch
from previz.scene.daylight import Daylight
from previz.scene.fields import items, record, text
from previz.scene.figure import Figure
from previz.scene.haze import Haze
from previz.scene.light import LIGHTS, Light
from previz.scene.mains import Mains
from previz.scene.modifiers import Board, Diffusion, Flag, Grid, Net
from previz.scene.piece import Piece
from previz.scene.records import Item, Record, record_class
from previz.scene.room import Room
from previz.scene.skyline import Band
from previz.scene.stop_map import StopMap
from previz.scene.surface import Surface, surface_field
from previz.scene.wants import Want


@record_class
class Scene(Record):
    """Everything that was written, every number in SI units.

    Parameters
    ----------
    base : Path
        Folder of the scene file.
    option : str
        Name of the option applied; '' for the scene as it is.
    """

    noun: ClassVar[str] = "scene"

    title: str = text("What reports call the scene.", "", example="Signal cabin, last light")
    room: Room | None = record(
        Room, "The room; none outdoors.", None, example="{size: [5.2 m, 3.8 m, 2.7 m]}"
    )
    ground: Surface | None = surface_field(
        "What lies outside, at the height of the floor.", None, example="gravel"
    )
    surroundings: tuple[Band, ...] = items(Band, "What ends the view outdoors.")
    pieces: tuple[Piece, ...] = items(Piece, "Furniture, blocks, partitions and meshes.")
    figures: tuple[Figure, ...] = items(Figure, "The people in the scene.")
    daylight: Daylight | None = record(
        Daylight, "The light from outside.", None, example="{sky: overcast, illuminance: 6000 lx}"
    )
    lights: tuple[Light, ...] = items(LIGHTS, "The lamps.", base=Light)
    boards: tuple[Board, ...] = items(Board, "Boards that bounce light.")
    diffusion: tuple[Diffusion, ...] = items(Diffusion, "Frames that soften light.")
    flags: tuple[Flag, ...] = items(Flag, "Black cloths that stop light.")
    nets: tuple[Net, ...] = items(Net, "Open-weave cloths that take a part of the light.")
    grids: tuple[Grid, ...] = items(Grid, "Grids of cells that let light through about one direction.")
    mains: Mains = record(
        Mains, "The mains that the lamps are fed from.", Mains(), example="{voltage: 120 V, circuit: 20 A}"
    )
    haze: Haze | None = record(Haze, "Haze in the air.", None, example="{visibility: 60 m}")
    cameras: tuple[Camera, ...] = items(Camera, "The cameras.")
    meters: tuple[Meter, ...] = items(Meter, "Places where the light is metered.")

    spots: tuple[SpotPatch, ...] = items(
        SpotPatch, "Patches of the picture or of the sky that spot meters read."
    )
    wants: tuple[Want, ...] = items(Want, "What is wanted of the light, for 'previz balance'.")
    map: StopMap | None = record(
        StopMap, "What exposure maps show; none for whole stops up to where the camera clips.", None,
        example="{steps: half}",
    )  # fmt: skip

    base: Path = dataclasses.field(default=Path())
    option: str = ""

    def all_items(self) -> Iterator[Item]:
        """Yield everything with a name: openings first, then each section in order."""
        if self.room:
            yield from self.room.openings
        for section in (
            self.surroundings, self.pieces, self.figures, self.lights, self.boards, self.diffusion,
            self.flags,
            self.nets, self.grids, self.cameras, self.meters, self.spots, self.wants,
        ):  # fmt: skip
            yield from section
