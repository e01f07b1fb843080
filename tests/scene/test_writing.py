"""Values as a scene file has them, written by the field table and read back."""

from dataclasses import replace
from pathlib import Path

import pytest

from previz.scene import writing
from previz.scene.fields import Field
from previz.scene.light import LIGHTS
from previz.scene.read import load
from previz.scene.records import Target
from previz.studies.saving import option_lines, save_option

PIECE = "pieces: [{name: case, shape: box, at: [0 m, 0 m], size: [1 m, 1 m, 1 m]}]\n"


def text_with(lights):
    return f"previz: 1\n{PIECE}lights:\n" + "".join(f"  - {each}\n" for each in lights)


def test_every_kind_of_lamp_is_read_back_as_it_was_written(load_text):
    """The sample of each kind, and its fields written anew by the table, are the same records."""
    samples = ["{" + ", ".join([f"name: lamp {i}", f"kind: {kind}", "at: [1.1 m, 0.3 m, 2.7182818 m]",
                                "dimmer: 33 %", "gel: [half ctb, {mired: +31 mired, transmission: 71 %}]",
                                *(f"{key}: {value}" for key, value in cls.sample.items())]) + "}"
               for i, (kind, cls) in enumerate(LIGHTS.items()) if kind not in ("glow", "backdrop")]
    lights = load_text(text_with(samples)).scene().lights
    anew = [writing.group([f"kind: {each.kind}", *writing.fields(each, Path())]) for each in lights]
    assert load_text(text_with(anew)).scene().lights == lights


@pytest.mark.parametrize(("value", "dimension", "text"), [
    (0.3, "fraction", "30 %"), (1e-7, "flux", "0.0000001 lm"), (12.5, "angle", "12.5 deg"),
    (0.1 + 0.2, "length", "0.30000000000000004 m"), (-0.004, "number", "-0.004"), (2.8, "t_stop", "T2.8"),
    (31.0, "mired", "31 mired")])
def test_quantities_are_written_to_their_last_digit(value, dimension, text):
    """In the unit that is used inside, without an exponent, so that the same double comes back."""
    assert writing.quantity(value, dimension) == text


def test_what_previz_does_not_write_is_refused():
    """A kind of field without a writer is no text by chance."""
    with pytest.raises(ValueError, match="'joints' is not written"):
        writing.text_of(Field("joints", ""), 1, Path())


YARD = """\
previz: 1
title: Yard
ground: gravel
daylight: {sky: clear, illuminance: 8000 lx, sun: {azimuth: 170 deg, altitude: 30 deg}}
lights:
  - {name: key, kind: soft box, at: [1 m, 1 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m], output: 9000 lm}
boards:
  - {name: card, at: [1 m, 3 m, 1 m], facing: [2 m, 3 m, 1 m], size: [1 m, 1 m]}
options:
  dim:
    lights: {key: {dimmer: 50 %}}
"""


def test_an_added_lamp_a_moved_lamp_and_a_hidden_sun_are_saved(tmp_path):
    """The option that is written reads back as the changed scene; all else of the file stays."""
    path = tmp_path / "yard.yaml"
    path.write_text(YARD, encoding="utf-8")
    file = load(path)
    base = file.scene("dim")
    key = base.lights[0]
    moved = replace(key, at=(1.5, 0.25, 2.2), size=(1.5, 0.75), aim=Target(point=(2.0, 2.0, 1.5)))
    added = LIGHTS["daylight lamp"](name="lamp for sun", at=(3.0, -12.0, 7.5), aim=Target("key"), beam=18.5,
                                    output=key.output)
    nearer = replace(base.boards[0], at=(1.25, 3.0, 1.0))
    after = replace(base, lights=(moved, added), boards=(nearer,), daylight=replace(
        base.daylight, sun=replace(base.daylight.sun, illuminance=0.0)))
    assert option_lines("evening", "dim", base, after) == [
        "evening:", "  like: dim", "  lights:",
        "    key: {at: [1.5 m, 0.25 m, 2.2 m], aim: [2 m, 2 m, 1.5 m], size: [1.5 m, 0.75 m]}",
        "  boards:", "    card: {at: [1.25 m, 3 m, 1 m]}", "  daylight:",
        "    sun: {illuminance: 0 lx}", "  add:",
        "    lights: [{name: lamp for sun, kind: daylight lamp, at: [3 m, -12 m, 7.5 m], aim: key, "
        "output: 9000 lm, beam: 18.5 deg}]"]
    save_option(file, "evening", "dim", after)
    assert path.read_text(encoding="utf-8").startswith(YARD)
    saved = load(path).scene("evening")
    assert (saved.lights, saved.boards) == (after.lights, after.boards)
    assert option_lines("less", "dim", base, replace(base, lights=())) == [
        "less:", "  like: dim", "  remove: [key]"]
    with pytest.raises(ValueError, match="another kind"):
        option_lines("other", "dim", base, replace(base, lights=(replace(added, name="key"),)))
