"""Cautions of several options are reported once, the most urgent first."""

from previz.physics.safety import Caution, together


def caution(names, amount=0.0, kind="overhead", urgency=3, text=""):
    """One caution of some names."""
    return Caution(kind, kind, f"{kind} {names}", text or f"{kind} {names} {amount}", "a standard", urgency,
                   tuple(names.split(", ")), amount)


def test_a_caution_that_another_says_with_more_names_is_left_out():
    """One lamp fewer overhead adds nothing; heavier ones, other things and other kinds stay."""
    both, heavy = caution("key, back"), caution("key", 4.0)
    rim, heat = caution("rim"), caution("key, silk", kind="heat", urgency=1)
    assert together([both, caution("key"), heavy, rim, heat, both]) == (heat, heavy, both, rim)


def test_the_worst_of_two_options_is_told():
    """Of a load in two options the larger is said, and of haze the thicker."""
    small, large = caution("mains", 300, "mains", 9), caution("mains", 5000, "mains", 2)
    assert together([small, large]) == (large,)
    assert together([large, small]) == (large,)
    wall = caution("wall one", 200, "mains", 9)
    assert together([wall, large]) == (large, wall)


def test_notes_are_all_kept():
    """What has no names is dropped only where it says the same."""
    one, other = (Caution("note", "", each, each, "", 99) for each in ("a", "b"))
    assert together([one, other, one]) == (one, other)
