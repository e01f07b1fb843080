"""Paper for the truck and the floor: pages, lists that options share, flags, type that can be read."""

import csv
import io
import re
from dataclasses import replace

import pytest
from drawings import room_drawing
from drawn import Recording, cut, drawn, faults, on_pictures
from pack_sample import BOUNCE, DIRECT, METERS, POWER, pack
from samples import CAUTIONS, SETTINGS, picture
from test_plan_pdf import letters, pages, said

from previz.deliver.columns import BETWEEN, Columns, set_out, span
from previz.deliver.layout import Block, Setting
from previz.deliver.map import exposure_map
from previz.deliver.pack import numbers_of, set_out_pack
from previz.deliver.pack_csv import pack_tables
from previz.deliver.pack_lamps import lamp_blocks, otherwise, shared_lamps
from previz.deliver.pack_lists import grip_lines
from previz.deliver.pack_meters import between_text, light_text
from previz.deliver.pack_power import plans_of, power_blocks
from previz.deliver.pack_words import count_text, pieces_text, place_text, size_text
from previz.deliver.pdf import pdf_bytes
from previz.plans.records import PAGES, Head
from previz.plans.sheet import compose

WHITE = (255, 255, 255)


def full(page="a4", **more):
    """A pack with pictures and cautions, set out on paper."""
    shown = picture(45, 80)
    return set_out_pack(pack(CAUTIONS, shown.still, exposure_map(shown.signal, shown.frames.names_index),
                             SETTINGS, **more), page)


def words_of(layout):
    """All words of a pack's pages of blocks."""
    return " ".join(word for blocks in layout.pages([]) if isinstance(blocks, list)
                    for word in drawn(blocks, layout.setting).words)


@pytest.mark.parametrize("system", ["metric", "imperial"])
@pytest.mark.parametrize("page", PAGES)
def test_pages_are_full_and_nothing_is_cut_or_overlaps(page, system):
    """On each paper nothing leaves the page, meets another word, lies on a picture or is cut short."""
    layout = full(page, system=system)
    height = layout.size[1] / layout.size[0] * layout.setting.width
    for blocks in layout.pages([]):
        canvas = Recording(layout.setting.width, height)
        top = layout.setting.margin
        for block in blocks:
            block.draw(canvas, layout.setting.margin, top, layout.setting.inner)
            top += block.height
        assert top <= height - layout.setting.margin + 1
        assert faults(canvas) == [] and on_pictures(canvas) == [] and cut(canvas) == []


@pytest.mark.parametrize("page", PAGES)
def test_type_is_seven_points_and_more(page):
    """The smallest type is 7 points on the page, which is read at arm's length."""
    layout = full(page)
    points = layout.size[0] / layout.setting.width
    sizes = {line.size * points for blocks in layout.pages([])
             for line in drawn(blocks, layout.setting)._lines}
    # Common practice, no source: newspapers set their listings in 7 points.
    assert min(sizes) >= 7 and max(sizes) < 16


def test_a_scene_of_two_options_takes_few_pages():
    """Pictures, lists and meter sheet on three pages: with plans and section no more than six."""
    layout = full()
    assert layout.count([]) <= 3
    assert [blocks for blocks in layout.pages([]) if not blocks] == []


def test_pages_say_whose_they_are_and_of_how_many():
    """Every page has the scene, what is on it and its number at its head; drawings get theirs."""
    numbers = []

    def plan(number):
        numbers.append(number)
        return compose(room_drawing(50), PAGES["a4"], Head("Cabin", "Plan", number), (), system="metric")

    made = pack()
    layout = set_out_pack(made, "a4")
    content = layout.pages([[plan, plan]])
    count = len(content)
    assert numbers == [f"1 of {count}", f"2 of {count}"]
    for number, blocks in enumerate(content, 1):
        if isinstance(blocks, list):
            words = drawn(blocks[:1], layout.setting).words
            assert words[0] == f"page {number} of {count}" and words[1] == made.title


def test_a_circuit_over_the_rule_is_flagged_in_words():
    """In black and white: the word OVER, by how much, and what to do; in the PDF's text too."""
    layout = full()
    words = words_of(layout)
    assert "OVER: 13.9 A on a circuit that may hold 12.8 A, 1.1 A too much. Put lever rim on wall 2." in words
    assert "NOT ON ANY CIRCUIT: desk helper." in words
    assert "OVER: 1 of them; NOT ON ANY CIRCUIT: 1 lamp" in words
    layout = set_out_pack(pack(CAUTIONS), "a4")
    made = pdf_bytes(layout.pages([]), layout.setting, {"Title": "t"}, layout.size, ground=WHITE,
                     folios=False)
    text = " ".join(" ".join(said(content, letters(made))) for content, _ in pages(made))
    assert "wall 1: OVER: 13.9 A on a circuit that may hold 12.8 A" in text
    # Set white on black as well, and on a white page: no tone under it.
    (content, _), *_ = pages(made)
    assert "1 1 1 rg" in content and not re.search(r"\.956\d* \.956", content)
    # Without one nothing is flagged.
    calm = replace(POWER, circuits=(replace(POWER.circuits[0], over=False, note=""),), unfed=())
    setting = Setting(2000)
    calm_words = drawn(power_blocks(setting, [replace(BOUNCE, power=calm)]), setting).words
    assert not any("OVER" in word or "NOT ON" in word for word in calm_words)


def test_options_share_a_lamp_list():
    """A lamp stands there once; an option says only what it has otherwise, and nothing where it has none."""
    lamps = shared_lamps([BOUNCE, DIRECT], "metric")
    assert [each.line.name for each in lamps] == [lamp.name for lamp in BOUNCE.lamps]
    assert [each.otherwise[0] for each in lamps] == [(), (), (), ()]
    assert lamps[0].otherwise[1] == (
        "half ctb + nd 1.2", "aim clerk's face, pan 320°, tilt −22°, 3.90 m")
    assert [each.otherwise[1] for each in lamps[1:]] == [(), ("off",), ()]
    assert otherwise(BOUNCE.lamps[0], None, "metric") == ("not there",)
    setting = Setting(4200, 105)
    words = drawn(lamp_blocks(setting, [BOUNCE, DIRECT], "metric"), setting).words
    assert words.count("desk lamp, in") == 1 and words.count("as listed") == 2
    assert "differs in direct" in " ".join(words)
    alone = drawn(lamp_blocks(setting, [BOUNCE], "metric"), setting).words
    assert not any("differs" in word for word in alone) and "as listed" not in alone
    # An option with a lamp that the first has not shows it, and the first that it has none.
    less = replace(BOUNCE, lamps=BOUNCE.lamps[1:])
    assert shared_lamps([less, DIRECT], "metric")[-1].otherwise == (("not there",), ())


def test_options_share_grip_and_power():
    """What only one option has counts for that alone; the same power is told once."""
    counts = {each.line.name or each.line.what: each.counts for each in grip_lines([BOUNCE, DIRECT])}
    assert counts == {"card": (1, 0), "silk": (1, 1), "stand": (3, 2), "sandbag": (6, 4)}
    plans = plans_of([BOUNCE, replace(DIRECT, power=POWER)])
    assert [options for _, options in plans] == [("bounce", "direct")]


def test_the_numbers_that_decide():
    """Lamps that are lit, circuits in use and over, stated weights, the highest lamp, all cable."""
    numbers = numbers_of(BOUNCE)
    # 7.4 + 9.0 kg; 1 x 5 m + 4 x 10 m; the panel's middle at 3.45 m.
    assert (numbers.lamps, numbers.circuits, numbers.over) == (4, 2, 1)
    assert (numbers.weight, numbers.unweighed, numbers.highest, numbers.cable) == (16.4, 2, 3.45, 45.0)
    assert numbers_of(DIRECT).lamps == 3


def test_meter_sheet_has_room_to_write():
    """Each line has an empty field of 20 mm and more by 5 mm and more, and a box to tick."""
    layout = full()
    boxes = []

    class Framed(Recording):
        def stroke(self, points, colour=(), thickness=1.0, dash=None):
            boxes.append((points[2][0] - points[0][0], points[2][1] - points[0][1]))

    meters = layout.pages([])[-1]
    canvas = Framed(layout.setting.width, 4000)
    top = 0.0
    for block in meters:
        block.draw(canvas, 0, top, layout.setting.inner)
        top += block.height
    mm = layout.size[0] / layout.setting.width / 72 * 25.4
    fields = [(wide * mm, high * mm) for wide, high in boxes if wide > 2 * high]
    assert len(fields) == len(BOUNCE.meters) + len(DIRECT.meters)
    assert min(wide for wide, _ in fields) >= 20 and min(high for _, high in fields) >= 5
    assert sum(wide == pytest.approx(high) for wide, high in boxes) >= len(fields)
    assert any("previz readings" in word for word in canvas.words)


def test_light_and_limits_in_both_systems():
    """1180 lx is 109.6 fc (a foot is 0.3048 m: 1 fc = 10.764 lx), to a tenth either way."""
    assert light_text(1180.0, "metric") == "1\u202f180" and light_text(1180.0, "imperial") == "110"
    assert between_text(METERS[2], "metric") == "234 to 286"
    # 260 lx +- 10 % over 10.764.
    assert between_text(METERS[2], "imperial") == "21.7 to 26.6"


def test_lengths_as_a_tape_has_them():
    """Places, sizes, pieces and counts in both systems; no hyphen stands for a minus."""
    assert place_text((-3.0, 2.6, 0.0), "metric") == "−3.00, 2.60 m"
    assert place_text((-0.3048, 2.54, 0.0), "imperial").replace("\xa0", " ") == "−1' 0\", 8' 4\""
    assert size_text((1.2, 0.6), "metric").replace("\xa0", " ") == "1.20 × 0.60 m"
    assert size_text((0.15,), "metric") == "Ø 150 mm" and size_text((), "metric") == "–"
    assert pieces_text((10.0, 5.0, 10.0), "metric") == "2 × 10 m + 5 m"
    assert count_text(0.11, "m²", "metric") == "0.11 m²" and count_text(3, "", "metric") == "3"


def test_lists_as_csv_have_all_that_paper_has():
    """Every list is a table with a head; flags are words; what is a tuple is divided by semicolons."""
    tables = {name: list(csv.reader(io.StringIO(text))) for name, text in pack_tables(pack(CAUTIONS)).items()}
    assert set(tables) == {"lamps", "grip", "gels", "cable", "power", "flicker", "changes", "truck"}
    assert all(len(row) == len(rows[0]) for rows in tables.values() for row in rows)
    lamps = [dict(zip(tables["lamps"][0], row, strict=True)) for row in tables["lamps"][1:]]
    assert len(lamps) == 8 and lamps[4]["option"] == "direct" and lamps[4]["gels"] == "half ctb; nd 1.2"
    assert (lamps[1]["x [m]"], lamps[1]["weight [kg]"], lamps[1]["watts guessed"]) == ("-3", "", "yes")
    power = [dict(zip(tables["power"][0], row, strict=True)) for row in tables["power"][1:]]
    assert [row["flag"] for row in power if row["flag"]] == ["OVER", "UNFED", "UNFED"]
    assert power[0]["note"].startswith("OVER: 13.9 A on a circuit that may hold 12.8 A")
    truck = {row[1]: row[2:4] for row in tables["truck"][1:]}
    assert truck["half ctb"] == ["0.11", "m²"]


def test_a_day_has_one_truck_and_one_list_of_cautions():
    """The first page has the truck, all set-ups and the cautions in full; scenes have none of their own."""
    made = pack(CAUTIONS)
    other = replace(made.scenes[0], title="Booking hall", set_ups=(replace(BOUNCE, scene="Booking hall"),))
    layout = set_out_pack(replace(made, title="A day", scenes=(made.scenes[0], other)), "a4")
    first, *others = [drawn(blocks, layout.setting).words for blocks in layout.pages([])]
    assert "Truck" in first and "Cautions" in first and "Booking hall" in first
    assert any(word.startswith("Booking hall, bounce: circuit wall 1, OVER: 13.9 A") for word in first)
    assert not any("Truck" in words or "Cautions" in words for words in others)


def test_cautions_stand_in_full_and_are_named_in_front():
    """Every text with its source, who decides before them; the first page says what calls for care."""
    layout = full()
    first, *_, last = [drawn(blocks, layout.setting).words for blocks in layout.pages([])]
    assert any(word.startswith("This set calls for care: heat near cloth and boards") for word in first)
    assert all(each.text in last for each in CAUTIONS) and "Planning aid only." in " ".join(last)


def blocks_of(heights, whole=None):
    return [Block(high, lambda paper, left, top, width: None, whole) for high in heights]


def test_columns_end_at_about_the_same_height():
    """Six of 10 in two columns are two of 30; with a whole one of 40 they are 40 and 20."""
    setting = Setting(1000)
    page, = set_out([Columns([blocks_of([10] * 6)])], setting, 500)
    assert page[0].height == 30
    page, = set_out([Columns([blocks_of([10] * 4, "table"), blocks_of([10] * 2)])], setting, 500)
    assert page[0].height == 40
    assert span(setting).inner == pytest.approx((setting.inner - BETWEEN * setting.unit) / 2)


def test_columns_go_on_over_pages():
    """What does not fit goes on; nothing is lost, and what is left of a page is used where it is enough."""
    setting = Setting(1000)
    room = 500 - 2 * setting.margin
    seen = []

    def one(number):
        return Block(50, lambda paper, left, top, width: seen.append((number, left)))

    made = set_out([blocks_of([100]), Columns([[one(number) for number in range(30)]])], setting, 500)
    assert all(sum(block.height for block in page) <= room for page in made)
    for page in made:
        for block in page:
            block.draw(None, 0, 0, setting.inner)
    assert [number for number, _ in seen] == list(range(30))
    # Of 456 px, 356 are left on the first page: 7 in each column; 9 in each on the second; none is left.
    assert len(made) == 2 and len({left for _, left in seen}) == 2
    # No room worth beginning in: the columns start on the next page.
    made = set_out([blocks_of([420]), Columns([blocks_of([20])])], setting, 500)
    assert [len(page) for page in made] == [1, 1]


def test_panels_change_places_where_a_page_has_no_room_in_order():
    """Lists of 260, 200, 250 and 180 px, each whole, go on a page of 456 px as 260 + 180 and 200 + 250."""
    setting = Setting(1000)
    panels = [blocks_of([high], object()) for high in (260, 200, 250, 180)]
    # 500 px less two margins of 2.4 units: 456.4. In order the third would not fit under 260 + 200 = 460 px.
    page, = set_out([Columns(panels)], setting, 500)
    assert page[0].height == 450
    # Nothing of 3 x 300 px fits two columns of 456: they go on over pages.
    assert len(set_out([Columns([blocks_of([300], object()) for _ in range(3)])], setting, 500)) == 2
