"""Rows of flat tables on the device: what is read and added four at once is what is there."""

import numpy as np
import pytest

pytestmark = pytest.mark.engine

WIDTHS = (1, 2, 3, 4, 6, 8, 12, 16)


@pytest.mark.parametrize("width", WIDTHS)
def test_rows_are_read_as_they_lie(engine, width):
    """Every number of every row is in its place, and lanes that are off read 0."""
    import mitsuba as mi

    from previz.engine.device import on_device, read_row

    table = np.random.default_rng(width).random((37, width)).astype(np.float32)
    rows = np.array([0, 36, 5, 5, 20, 11, 3, 36, 1], np.uint32)
    on = np.arange(len(rows)) % 3 != 1
    read = read_row(on_device(mi.Float, table), mi.UInt(rows), width, mi.Bool(on))
    assert len(read) == width
    np.testing.assert_array_equal(np.array([np.array(each) for each in read]).T,
                                  table[rows] * on[:, None])


@pytest.mark.parametrize("width", WIDTHS)
def test_rows_are_added_to_where_lanes_are_on(engine, width):
    """Sums grow by each lane's numbers in its own row, and nowhere else."""
    import drjit as dr
    import mitsuba as mi

    from previz.engine.device import add_to_row, on_device

    random = np.random.default_rng(width)
    before, values = (random.random((n, width)).astype(np.float32) for n in (30, 9))
    rows = np.array([0, 29, 5, 7, 20, 11, 3, 28, 1], np.uint32)
    on = np.arange(len(rows)) % 4 != 2
    sums = mi.Float(on_device(mi.Float, before))
    add_to_row(sums, mi.UInt(rows), [mi.Float(values[:, k].copy()) for k in range(width)],
               mi.Bool(on))
    dr.eval(sums)
    expected = before.copy()
    expected[rows[on]] += values[on]
    np.testing.assert_array_equal(np.array(sums).reshape(-1, width), expected)
