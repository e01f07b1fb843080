"""A sheet of levels where there is no lamp: under sun and sky alone, by stop and ND."""

from drawn import drawn
from samples import want_lines

from previz.deliver.balance_sheet import balance_blocks
from previz.deliver.layout import Setting


def test_a_scene_without_lamps_has_no_table_of_lamps():
    """What is wanted, and what is said, is there all the same."""
    setting = Setting(900)
    words = drawn(balance_blocks(want_lines()[:2], [], [], ["Set camera A to T9."], setting, title="Yard",
                                 subject="Levels for what is wanted"), setting).words
    assert {"Set camera A to T9.", "What is wanted"} <= set(words) and "Lamps" not in words
