"""The page under a finger: a swipe goes past a lamp, a thumb that is held takes it along."""

import pytest

pytestmark = pytest.mark.slow

PHONE = {"width": 390, "height": 844, "has_touch": True}


@pytest.fixture(scope="module")
def phone(browser, served, opened_as):
    """A page on a phone that the tests of this file share."""
    page = opened_as(browser, served.plain, **PHONE)
    yield page
    page.close()


@pytest.fixture
def touched(phone):
    """The page on the phone, as written, and a function that draws a finger from one point along others."""
    phone.as_written()
    phone.page.evaluate("scrollTo(0, 0)")
    phone.shown()
    session = phone.page.context.new_cdp_session(phone.page)

    def draw(*points):
        for number, (x, y) in enumerate(points):
            kind = "touchMove" if number else "touchStart"
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
            phone.shown()
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        phone.shown()

    yield phone, draw
    session.detach()


LEVEL = "[data-lamp='key'] .level"


def thumb(phone):
    """Return where the thumb of the key's level is, once it is in sight, and how long a stop is. [px]"""
    phone.page.evaluate(f"document.querySelector(\"{LEVEL}\").scrollIntoView({{ block: 'center' }})")
    phone.shown()
    box = phone.page.locator(LEVEL).bounding_box()
    wide, low = 22, box["width"] - 22
    share = phone.page.evaluate(f"Number(document.querySelector(\"{LEVEL}\").value) / 8 + 1")
    return box["x"] + wide / 2 + share * low, box["y"] + box["height"] / 2, low / 8


def level(phone):
    """Return the level of the key. [1]"""
    return phone.page.evaluate("previz.store.lamp('key').level")


def test_a_swipe_down_the_page_changes_no_lamp(touched):
    """From the middle of a level, from its thumb and a little aslant: the page scrolls, the level stays."""
    phone, draw = touched
    for aside in (-120, 0):
        x, y, _ = thumb(phone)
        before = phone.page.evaluate("scrollY")
        draw((x + aside, y), *((x + aside - 2 * n, y - 15 * n) for n in range(1, 9)))
        phone.until(f"scrollY > {before} + 40")
        assert phone.page.evaluate("previz.store.changes") == {}


def test_a_tap_changes_no_lamp(touched):
    """A finger that comes down on a level and goes is no wish."""
    phone, draw = touched
    x, y, _ = thumb(phone)
    draw((x - 100, y))
    draw((x, y))
    phone.page.touchscreen.tap(x - 60, y)
    phone.shown()
    assert phone.page.evaluate("previz.store.changes") == {}


def test_a_thumb_that_is_held_takes_the_level_along(touched):
    """Two stops of way are two stops of light, from the thumb and from anywhere by drawing aside."""
    phone, draw = touched
    x, y, stop = thumb(phone)
    draw((x, y), (x - 6, y), (x - 6 - stop, y), (x - 6 - 2 * stop, y))
    assert level(phone) == pytest.approx(0.25, rel=0.08)
    # Far from the thumb it takes a stroke to have the level, and from there on it follows the finger.
    draw((x - 5 * stop, y), (x - 5 * stop + 20, y + 4), (x - 4 * stop + 20, y + 6))
    assert level(phone) == pytest.approx(0.5, rel=0.08)
    assert phone.page.evaluate("previz.store.done.length") <= 2


def test_a_mouse_beside_the_fingers_sets_a_level_at_once(touched):
    """On a machine with both a click on the scale sets it, as it does without a touch screen."""
    phone, _ = touched
    x, y, stop = thumb(phone)
    phone.page.mouse.click(x - 3 * stop, y)
    phone.shown()
    assert level(phone) == pytest.approx(0.125, rel=0.08)


SMALL = """(least) => [...document.querySelectorAll("a[href], button, input, select, summary")]
    .filter((each) => each.checkVisibility() && !each.closest(".skip")).flatMap((each) => {
        // What belongs to a box that is ticked is hit by its words too.
        const whole = /checkbox|radio/.test(each.type) && each.labels[0] || each;
        const { width, height } = whole.getBoundingClientRect();
        return Math.min(width, height) < least ? [[each.outerHTML.slice(0, 90), width, height]] : [];
    })"""


def test_everything_is_large_enough_for_a_finger(touched):
    """44 px and more on a phone, all that opens opened."""
    phone, _ = touched
    phone.all_open()
    phone.page.evaluate("""() => { previz.store.changeLamp("key", { level: 0.5 });
        previz.store.changeCamera({ iso: 400 });
        previz.looks.keep(); }""")
    phone.shown()
    # Layout counts in 64ths of a pixel.
    assert phone.page.evaluate(SMALL, 43.9) == []
    phone.page.evaluate("for (const each of document.querySelectorAll('details')) each.open = false")


def test_everything_is_large_enough_for_a_pointer(opened):
    """24 px and more on a desk (WCAG 2.2, 2.5.8)."""
    page = opened.page
    page.evaluate("previz.store.changeLamp('key', { level: 0.5 }); previz.store.changeCamera({ iso: 400 })")
    opened.all_open()
    assert page.evaluate(SMALL, 23.9) == []
