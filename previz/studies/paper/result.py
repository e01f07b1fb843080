"""Paper as a result: its pages as a PDF, drawings and lists as files, and every number as a row."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from previz.deliver.pack import Layout, Pack, Page
from previz.deliver.pack_csv import pack_tables
from previz.deliver.pack_power import flags_of
from previz.deliver.stems import unique_stems
from previz.frames.together import finish, together
from previz.physics.safety import Caution
from previz.plans.records import Sheet
from previz.studies.folders import usable
from previz.studies.paper.rows import drawn_rows, pack_rows
from previz.studies.render import Shot
from previz.studies.result import Result, Row
from previz.studies.rows import camera_rows, caution_rows, face_rows, short_rows

WHITE = (255, 255, 255)
"""Ground of pages that are printed: a tone would be a screen of dots."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A plan or a section on its page.

    Parameters
    ----------
    scene, stem : str
        Title of the scene; stem of the scene's files where there are several, else ''.
    parts : tuple of str
        What its file is called by: 'plan', and the option where there are several plans.
    sheet : Sheet
    """

    scene: str
    stem: str
    parts: tuple[str, ...]
    sheet: Sheet


@dataclass(frozen=True, eq=False)
class Paper(Result):
    """Everything on paper of a scene, or of the scenes of a day.

    Parameters
    ----------
    pack : Pack
        Lists, pictures, power, cautions.
    layout : Layout
        Sizes of its pages.
    pages : tuple of blocks or Sheet
    drawings : tuple of Drawn
    shots : tuple of (str, Shot)
        Pictures, each with the title of its scene.
    meters_csv : dict of str to str
        Files for `previz readings`, yet to be filled in: name without its ending -> CSV.
    """

    study: ClassVar[str] = "paper"
    axes: ClassVar[tuple[str, ...]] = ("scene", "option", "lamp", "circuit", "camera", "figure", "meter",
                                       "thing")

    pack: Pack
    layout: Layout
    pages: tuple[Page, ...]
    drawings: tuple[Drawn, ...]
    shots: tuple[tuple[str, Shot], ...]
    meters_csv: Mapping[str, str]

    @property
    def title(self) -> str:
        """Of the scene, or of the day."""
        return self.pack.title

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of all scenes."""
        return self.pack.cautions

    @property
    def over(self) -> list[str]:
        """What is past the rule of its circuit, or on none, each in a sentence with its scene and option."""
        return [f"{scene.title}, {text}" for scene in self.pack.scenes for set_up in scene.set_ups
                for text in flags_of(set_up)]

    def _rows(self) -> list[Row]:
        rows = list(pack_rows(self.pack))
        for scene, shot in self.shots:
            of = {"scene": scene, "option": shot.option, "camera": shot.camera.name}
            rows += camera_rows(shot.settings, **of)
            if shot.face is not None:
                rows += face_rows(shot.face, shot.settings, shot.short, **of)
            rows += short_rows(shot.short, **of)
        rows += drawn_rows((each.scene, each.sheet) for each in self.drawings)
        return rows + caution_rows(self.cautions)

    def to_json(self) -> str:
        """Return the rows as JSON, with the meaning of each quantity, and all lists as they are."""
        return json.dumps({**json.loads(super().to_json()), "lists": self.lists()}, indent=1,
                          ensure_ascii=False)

    def lists(self) -> dict[str, Any]:
        """Return all lists as plain values; lengths in m, angles in deg, power in W, weights in kg."""
        def plain(lines: Any) -> list[dict[str, Any]]:
            return [dataclasses.asdict(line) for line in lines]

        return {
            "scenes": [{"title": scene.title, "options": plain(scene.set_ups),
                        "changes": plain(scene.changes), "crossings": list(scene.crossings)}
                       for scene in self.pack.scenes],
            "truck": plain(self.pack.truck)}

    def files(self) -> dict[str, bytes]:
        """Return what is written, by name: the paper, drawings as SVG and DXF, lists as CSV."""
        # Their libraries are slow to import, and of no use to who wants the numbers alone.
        from previz.deliver.pdf import pdf_bytes
        from previz.deliver.plan_dxf import dxf_bytes
        from previz.deliver.plan_svg import svg_text

        made = {"paper.pdf": pdf_bytes(self.pages, self.layout.setting, self._words(
            "Paper for the truck and the floor."), self.layout.size, ground=WHITE, folios=False)}
        stems = unique_stems([(each.stem, *each.parts) for each in self.drawings])
        made |= {f"{stem}.svg": svg_text(each.sheet).encode("utf-8")
                 for stem, each in zip(stems, self.drawings, strict=True)}
        scenes = dict.fromkeys(each.stem for each in self.drawings)
        for scene, stem in zip(scenes, unique_stems([(scene, "drawings") for scene in scenes]), strict=True):
            made[f"{stem}.dxf"] = dxf_bytes([("-".join(each.parts), each.sheet) for each in self.drawings
                                             if each.stem == scene], self.pack.system)
        tables = {**pack_tables(self.pack), **self.meters_csv}
        return made | {f"{name}.csv": text.encode("utf-8") for name, text in tables.items()}

    def sheet(self, path: Path | str) -> list[Path]:
        """Write all files into a folder of that name, all of them or none; return them."""
        folder, made = Path(path), self.files()
        # What the drawings are called is known only now; a folder in the way is told before any file is new.
        usable(folder, files=tuple(made))
        folder.mkdir(parents=True, exist_ok=True)
        finish(folder)
        with together(folder) as whole:
            for name, content in made.items():
                with whole.whole_file(folder / name) as part:
                    part.write_bytes(content)
        return [folder / name for name in made]
