"""Lamps are sampled by what they give at a place: probabilities, draws, and no bias."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

pytestmark = pytest.mark.engine


def room(tiny):
    """A room whose card stands close before one lamp and far from the other."""
    emitters = [tiny.ball_lamp(0.05, (2.7, 0.3, 1.7), index=0, subdivisions=1),
                tiny.rectangle_lamp(0.3, 0.3, (0.5, 1.6, 0.9), (-1, 0, 0), index=1)]
    card = tiny.patch(0.8, 0.8, (0.1, 1.6, 0.9), (1, 0, 0), "card", "card")
    lamps = [tiny.lamp("bulb", output=100.0), tiny.lamp("box", output=100.0)]
    return tiny.stage(tiny.closed_box((0, 0, 0), (3, 2.4, 2)), card, emitters=emitters, lamps=lamps,
                      surfaces=[tiny.surface(reflectance=0.4), tiny.surface("card", 0.9)])


def view(tiny):
    """A camera that sees the room but not the front of the card's lamp."""
    return tiny.camera((2.8, 2.2, 1.2), (0.6, 0.9, 0.8), tan_half=(0.6, 0.4))


def opened(tiny, stage):
    from previz.engine.render import open_stage

    return open_stage(stage, 1)


def test_alias_tables_hold_the_chances(engine):
    """What the tables draw has the probabilities that they were made of, to rounding."""
    from previz.engine.choice import alias_tables

    random = np.random.default_rng(5)
    for choices in (2, 3, 8, 33):
        probabilities = random.dirichlet(np.full(choices, 0.3), 50)
        likely, other = alias_tables(probabilities)
        drawn = likely.copy()
        for column in range(choices):
            np.add.at(drawn, (np.arange(50), other[:, column]), 1 - likely[:, column])
        np.testing.assert_allclose(drawn / choices, probabilities, atol=1e-12)


def test_draws_have_the_stated_chances(tiny):
    """A chi-square test of drawn lamps against `probability`, in the cell of the card and in another."""
    import drjit as dr
    import mitsuba as mi

    choice = opened(tiny, room(tiny)).choice
    for point in ((0.15, 1.6, 0.9), (2.5, 0.5, 1.0)):
        cell = choice.cell(mi.Point3f(*point))
        rng = mi.PCG32(size=40_000)
        drawn = np.array(choice.draw(dr.gather(mi.UInt, cell, dr.zeros(mi.UInt, 40_000)),
                                     rng.next_float32()))
        probabilities = [choice.probability(cell, mi.UInt(k))[0] for k in range(2)]
        assert sum(probabilities) == pytest.approx(1, abs=1e-6)
        counts = np.bincount(drawn, minlength=2)
        expected = 40_000 * np.array(probabilities) / sum(probabilities)
        assert stats.chisquare(counts, expected).pvalue > 1e-4


def test_what_is_no_place_has_a_cell_too(tiny):
    """Paths that met nothing are drawn for as well, wherever they say they are: within the table.

    A whole number made of NaN is no such cell on a processor, and reading there ends the process.
    """
    import mitsuba as mi

    from previz.engine.choice import CELLS

    choice = opened(tiny, room(tiny)).choice
    for odd in (np.nan, np.inf, -np.inf, 1e30, -1e30):
        for axis in range(3):
            place = np.array([1.0, 1.0, 1.0])
            place[axis] = odd
            values = [mi.Float(np.full(8, x, np.float32)) for x in place]
            cell = np.array(choice.cell(mi.Point3f(*values)))
            assert np.all(cell < np.prod(CELLS)), (odd, axis)


def test_arrays_have_room_behind_them():
    """As much as the widest vector, whatever their length: both engines read past the end."""
    from previz.engine.tables import ALIGNMENT, roomy

    for length in range(1, 40):
        values = roomy(np.arange(length, dtype=np.float32))
        np.testing.assert_array_equal(values, np.arange(length))
        whole = values
        while isinstance(whole.base, np.ndarray):
            whole = whole.base
        first, last = np.lib.array_utils.byte_bounds(values)
        assert first % ALIGNMENT == 0
        assert np.lib.array_utils.byte_bounds(whole)[1] - last >= ALIGNMENT


def test_faces_without_area_take_points_too():
    """Under a bare sky there is one such face, which stands for none: its points are its own."""
    from previz.engine.choice import DrawnSurfaces

    corner = np.array([[1.0, 2.0, 3.0]] * 3)
    bare = SimpleNamespace(positions=corner, faces=np.array([[0, 1, 2]]), face_name=np.array([0]))
    drawn = DrawnSurfaces(bare, 5)
    np.testing.assert_allclose(drawn.points, np.repeat(corner[:1], 5, axis=0))
    assert drawn.faces.tolist() == [0] * 5


def test_the_lamp_that_fills_a_card_is_sampled_from_there(tiny):
    """At the card its lamp has most of the samples, and the other keeps its share of the floor."""
    import mitsuba as mi

    from previz.engine.choice import FLOOR

    choice = opened(tiny, room(tiny)).choice
    at_card, behind = (choice.cell(mi.Point3f(*p)) for p in ((0.15, 1.6, 0.9), (2.7, 0.7, 1.2)))
    # Box at 0.4 m: about Phi / (pi d²) = 200 lx; bulb at 2.9 m: Phi / (4 pi d²) = 1 lx.
    assert choice.probability(at_card, mi.UInt(1))[0] > 0.9 * (1 - FLOOR / 2)
    assert choice.probability(at_card, mi.UInt(0))[0] >= 0.999 * FLOOR / 2
    # Behind the box there is only what the bulb gives.
    assert choice.probability(behind, mi.UInt(0))[0] > 0.9 * (1 - FLOOR / 2)


def test_chosen_and_even_samples_agree(tiny, tmp_path):
    """Any probabilities give the same picture within noise, and the chosen ones a cleaner box slice."""
    chosen = opened(tiny, room(tiny))
    even = opened(tiny, room(tiny))
    even.choice.useful = False
    size = (24, 16, 256)
    first = tiny.picture(room(tiny), view(tiny), *size, seed=3, buffers=chosen)
    other = tiny.picture(room(tiny), view(tiny), *size, seed=4, buffers=even)
    for lamp in range(2):
        tiny.z_test(tmp_path, tiny.luminance(first)[lamp], first.variance[lamp],
                    tiny.luminance(other)[lamp], other.variance[lamp])
    # The box's light all comes by the card: sampling it from there twice as often helps.
    assert first.variance[1].mean() < other.variance[1].mean()


def test_the_same_seed_gives_the_same_chances(tiny):
    """Two uploads of one stage have bit for bit the same probabilities: renders can be repeated."""
    first, second = (opened(tiny, room(tiny)).choice for _ in range(2))
    assert np.array_equal(np.array(first.probabilities), np.array(second.probabilities))


def test_a_set_of_another_size_needs_no_other_kernel(tiny):
    """Where the grid lies is data: a scene in which something moves runs the kernels that it has."""
    import dataclasses

    import drjit as dr
    import mitsuba as mi

    stage, kernels = room(tiny), []
    wider = dataclasses.replace(stage, meshes=tuple(
        dataclasses.replace(mesh, vertices=np.asarray(mesh.vertices) * 1.3) for mesh in stage.meshes))
    for each in (stage, wider):
        choice, point = opened(tiny, each).choice, dr.opaque(mi.Point3f, 1.0, 64)
        with dr.scoped_set_flag(dr.JitFlag.KernelHistory, True):
            dr.kernel_history_clear()
            dr.eval(choice.cell(point))
            kernels.append({kernel["hash"] for kernel in dr.kernel_history([dr.KernelType.JIT])})
    assert kernels[0] and kernels[0] == kernels[1]
