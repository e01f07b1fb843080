"""Cautions on paper: three lines at most, the most urgent first, who decides last; none, no word."""

import pytest
from drawn import drawn
from samples import CAUTIONS, SHEETS

from previz.deliver.canvas import wrapped
from previz.deliver.layout import Setting
from previz.deliver.reminders import LEAD, LINES, SIZE, WHO, caution_blocks, phrases, short_text, words_alone

SAID = [name for name in SHEETS if name not in ("mood", "scopes", "pack")]


@pytest.mark.parametrize("width", [1000, 2600])
def test_cautions_take_three_lines_at_most(width):
    """Of what has no room the command that says it is named."""
    setting = Setting(width)
    high = round(SIZE * setting.unit)
    canvas = drawn(caution_blocks(setting, CAUTIONS), setting)
    lead, *lines = canvas.words
    assert lead == "Cautions" and 1 < len(lines) <= LINES
    text = " ".join(lines).replace("\N{NO-BREAK SPACE}", " ")
    assert text.startswith(phrases(CAUTIONS)[0]) and text.endswith(f"{WHO}.")
    said = sum(each in text for each in phrases(CAUTIONS))
    assert "The rest by `previz check --cautions`." in text and said < len(phrases(CAUTIONS))
    # One more would not have had room.
    room = setting.inner - LEAD * setting.unit
    longer = " ".join([*phrases(CAUTIONS)[:said + 1], f"The rest by `previz check --cautions`. {WHO}."])
    assert len(wrapped(longer, high, room)) > LINES


def test_a_sheet_without_cautions_says_nothing_of_them():
    """A scene that calls for none leaves no line."""
    assert caution_blocks(Setting(1000), ()) == []
    assert words_alone(()) == words_alone(CAUTIONS[-1:]) == short_text((), lambda text: True) == ""


@pytest.mark.parametrize("name", SAID)
def test_each_sheet_says_the_most_urgent(name):
    """Every sheet with numbers has its cautions, the hottest cloth first."""
    setting = Setting(2400)
    text = " ".join(drawn(SHEETS[name](setting), setting).words).replace("\N{NO-BREAK SPACE}", " ")
    assert "Heat: key is 0.4 m from silk, up to 7.8 kW/m² there" in text
    assert WHO in text and "(Babrauskas 2001). And more like it." in text


def test_a_mood_sheet_says_them_without_numbers():
    """It names what calls for care; nothing on it is a number."""
    setting = Setting(2400)
    text = " ".join(drawn(SHEETS["mood"](setting), setting).words)
    assert "This set calls for care: heat near cloth and boards, heat near people," in text
    assert WHO in text and not any(letter.isdigit() for letter in text)


def test_where_nothing_has_room_it_is_said_what_tells_them():
    """Where not even the first has room the command is named all the same."""
    text = short_text(CAUTIONS, lambda each: len(each) < 80)
    assert text == f"The rest by `previz check --cautions`. {WHO}."
