"""Tables of published numbers kept with the package, each file headed by its source."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np

from previz.physics.arrays import FloatArray


@cache
def read_table(name: str) -> dict[str, FloatArray]:
    """Read one table of `previz/physics/data`.

    A table is comma separated: lines that start with '#' say what it is and where it comes from,
    the first other line names the columns, the rest are numbers.

    Parameters
    ----------
    name : str
        File name without '.csv'.

    Returns
    -------
    dict of str to float array, shape (rows,)
        The columns by name, in the file's order; read-only.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    text = files("previz.physics").joinpath("data", f"{name}.csv").read_text("utf-8")
    rows = [line for line in text.splitlines() if line and not line.startswith("#")]
    heads = [head.strip() for head in rows[0].split(",")]
    values = np.array([[float(cell) for cell in row.split(",")] for row in rows[1:]])
    values.setflags(write=False)
    return {head: values[:, column] for column, head in enumerate(heads)}
