"""The cautions of a pack: the worst of options, scenes of a day apart, cables and circuits, who decides."""

from types import SimpleNamespace

import pytest

from previz.physics.safety import PLANNING_AID, Caution
from previz.studies.paper.cautions import WHO_DECIDES, paper_cautions


def caution(name, urgency, amount=0.0, kind="overhead"):
    words = f"Overhead: {name}, {amount:g} kg"
    return Caution(kind, "things hung overhead", words, f"{words}. A rigger decides.", "a standard", urgency,
                   (name,), amount)


def pack(*options, **words):
    """Return the cautions of (title, its own cautions) each."""
    return paper_cautions([SimpleNamespace(title=title) for title, *_ in options],
                          [SimpleNamespace(reminders=tuple(own)) for _, *own in options], **words)


def test_options_say_the_worst_and_notes_stay_out():
    """Of one thing in two options the heavier is told; what is to be checked is `check`'s."""
    light, heavy, note = caution("key", 3, 4.0), caution("key", 3, 9.0), caution("", 99, kind="note")
    assert pack(("cabin", light, note), ("cabin", heavy)) == (heavy,)


def test_scenes_of_a_day_stay_apart():
    """Two lamps of one name in two sets are two; each says where it is, the most urgent first."""
    near, far = caution("key", 3, 4.0), caution("key", 1, 9.0)
    first, second = pack(("cabin", near), ("shed", far))
    assert (first.brief, second.brief) == ("shed: Overhead: key, 9 kg", "cabin: Overhead: key, 4 kg")
    assert first.text.startswith("shed: Overhead") and second.names == ("cabin: key",)


def test_cables_and_circuits_take_their_places():
    """Circuits by how urgent a load is, their source out of the brackets; ways once each."""
    over = "Circuit one: 14 A, which is too much (of 12.8 A) for it"
    found = pack(("cabin", caution("key", 3), caution("arc", 7)), crossings=["the door", "the door"],
                 warnings=[f"{over} (NEC 210.20(A))", PLANNING_AID, "Read the labels."])
    assert [each.kind for each in found] == ["power", "overhead", "cables", "overhead", "power"]
    load, _, ways, _, labels = found
    assert (load.brief, load.source) == (over, "NEC 210.20(A)")
    assert labels.said == "Read the labels (common practice)."
    assert ways.names == ("the door",)
    assert WHO_DECIDES.startswith("Planning aid only.") and all("decide" in each.text for each in found)


def test_a_stage_for_each_scene():
    """What does not fit together is refused."""
    with pytest.raises(ValueError, match="shorter"):
        paper_cautions([SimpleNamespace(title="cabin")], [])
    assert paper_cautions([], []) == ()
