"""What a portrait's meters read, as rows and as a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from previz.deliver.portrait_sheet import PortraitRow, doubted, write_portrait_sheet
from previz.deliver.wording import settings_text
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution
from previz.studies.portrait import studio
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, face_rows, short_rows


@dataclass(frozen=True, eq=False)
class Portrait(Result):
    """A head under each placement, hard and soft.

    Rows are of a source ('hard', 'soft') and a placement, and of a meter where it is one's reading.

    Parameters
    ----------
    described : str
        Whose head it is.
    lines : tuple of PortraitRow
        'hard' and 'soft'.
    settings : CameraSettings
        How the camera is set; its stop is the working stop.
    fill, exposure : float or None
        As of `portrait`. [stops]
    cautions : tuple of Caution
        Of the studio.
    """

    study: ClassVar[str] = "portrait"
    axes: ClassVar[tuple[str, ...]] = ("source", "placement", "figure", "meter")

    described: str
    lines: tuple[PortraitRow, ...]
    settings: CameraSettings
    fill: float | None
    exposure: float
    cautions: tuple[Caution, ...] = ()

    @property
    def title(self) -> str:
        """Of the sheet."""
        return f"Portrait: {self.described}"

    @property
    def doubtful(self) -> list[tuple[str, tuple[Short, ...]]]:
        """Readings that are not as good as requested, as `trust.doubts` takes them."""
        return doubted(self.lines)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG."""
        file = Path(path).with_suffix(".png")
        file.parent.mkdir(parents=True, exist_ok=True)
        shown = "" if not self.exposure else (
            f"; shown at {self.exposure:+g} stop{'' if abs(self.exposure) == 1 else 's'}")
        write_portrait_sheet(file, self.lines, title=self.title,
                             subject=f"Metered for {settings_text(self.settings)}{shown}",
                             note=self._note(), words=self._words(), cautions=self.cautions)
        return [file]

    def _note(self) -> str:
        filled = ("There is no fill. " if self.fill is None else
                  f"A broad lamp over the lens fills, {abs(self.fill):g} stops under the key. ")
        denoised = next((cell.note for line in self.lines for cell in line.cells if cell.note), "")
        return (
            "Every lamp gives the same light at the face, held towards the lamp; that light is the "
            f"working stop. {filled}Lit and shadow side are the brighter and the darker cheek, "
            "metered as planes turned 45° out of the face, in stops over or under the working stop; key "
            "alone is what the lit side has over the shadow side. Across is from the "
            f"lens towards camera left, up from the face. {denoised}").strip()

    def _rows(self) -> list[Row]:
        rows = camera_rows(self.settings)
        rows.append(row("fill_set", self.fill, note="" if self.fill is not None else "no fill"))
        rows.append(row("opened", self.exposure))
        for each in studio.PLACEMENTS:
            rows.append(row("lamp_across", each.across, placement=each.name))
            rows.append(row("lamp_up", each.up, placement=each.name))
        for line in self.lines:
            rows.append(row("source_size", studio.SOURCE_SIZE[line.name], source=line.name))
            rows.append(row("lamp_distance", studio.DISTANCE, source=line.name))
            for cell in line.cells:
                of = {"source": line.name, "placement": cell.name}
                rows += face_rows(cell.face, cell.settings, **of)
                rows += short_rows(cell.short, **of)
        return rows + caution_rows(self.cautions)
