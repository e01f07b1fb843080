"""What a study gives back: its numbers as rows, its sheet as files."""

from __future__ import annotations

import csv
import io
import json
import math
from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from previz import __version__
from previz.errors import resources_told
from previz.studies.quantities import QUANTITIES

if TYPE_CHECKING:
    from previz.physics.safety import Caution

FORMAT = 1
"""Of the JSON that `Result.to_json` writes; a key that is renamed or dropped raises it."""

Row = dict[str, Any]


def row(quantity: str, value: object, error: float | None = None, /, *, note: str = "", **of: str) -> Row:
    """Return one number as a row.

    Parameters
    ----------
    quantity : str
        A key of `QUANTITIES`, which has its unit and meaning.
    value : float, str, bool or None
        None where there is no such number, as the stops of no light; `note` says why.
    error : float, optional
        Its standard error, in the same unit.
    note : str
        What is to be said of it: on few paths, no light.
    **of : str
        What it is of: option, camera, figure, lamp, meter, ...

    Raises
    ------
    KeyError
        There is no such quantity.
    """
    return {**of, "quantity": quantity, "value": _plain(value), "unit": QUANTITIES[quantity].unit,
            "standard_error": _plain(error), "note": note}


def _plain(value: Any) -> str | bool | float | None:
    """Return a value as JSON has it; what is not finite is no number."""
    if value is None or isinstance(value, (str, bool)):
        return value
    number = float(value)
    return number if math.isfinite(number) else None


class Result(ABC):
    """What a study found.

    Every number that its sheet shows is a row of `rows`. Rows are tidy: a number each, with what
    it is of, its unit and its standard error.
    """

    study: ClassVar[str]
    """Name of the study, as the command line has it."""

    axes: ClassVar[tuple[str, ...]]
    """What a row can be of, in the order of the columns: 'option', 'camera', ..."""

    if TYPE_CHECKING:
        @property
        def title(self) -> str:
            """Over the sheet; a field or a property of each study."""

        @property
        def cautions(self) -> tuple[Caution, ...]:
            """That the scenes call for, the most urgent first; a field or a property of each study."""

    def __init_subclass__(cls, **words: Any) -> None:
        """Let every sheet say in words what goes wrong with disk and memory, as a `ResourceError`."""
        super().__init_subclass__(**words)
        if "sheet" in cls.__dict__:
            cls.sheet = resources_told()(cls.sheet)  # type: ignore[method-assign]

    @abstractmethod
    def _rows(self) -> list[Row]:
        """Return every number, made by `row`."""

    def _words(self, description: str = "") -> dict[str, str]:
        """Return what the files of the sheet say of themselves."""
        words = {"Title": self.title, "Software": f"previz {__version__}"}
        return {**words, "Description": description} if description else words

    @abstractmethod
    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet under a name without its ending; return the files."""

    def rows(self) -> list[Row]:
        """Return every number of the sheet, each as a dict with the same keys in the same order.

        Keys are those of `axes`, '' where a number is not of such a thing, then quantity, value,
        unit, standard_error and note.
        """
        return [{**{axis: each.get(axis, "") for axis in self.axes},
                 **{key: each[key] for key in COLUMNS}} for each in self._rows()]

    def to_json(self) -> str:
        """Return the rows as JSON, with the meaning of each quantity."""
        rows = self.rows()
        used = dict.fromkeys(each["quantity"] for each in rows)
        return json.dumps({
            "previz_rows": FORMAT, "version": __version__, "study": self.study, "title": self.title,
            "quantities": {name: {"unit": QUANTITIES[name].unit, "meaning": QUANTITIES[name].meaning}
                           for name in used},
            "rows": rows}, indent=1, ensure_ascii=False)

    def to_csv(self) -> str:
        """Return the rows as CSV (RFC 4180), the first line names the columns."""
        out = io.StringIO()
        writer = csv.DictWriter(out, [*self.axes, *COLUMNS])
        writer.writeheader()
        writer.writerows(self.rows())
        return out.getvalue()


COLUMNS = ("quantity", "value", "unit", "standard_error", "note")
"""Columns of every row after those that say what it is of."""
