"""What differs from the scene file, groups of lamps, colours that cannot be, notices, two pages at once."""

import pytest

pytestmark = pytest.mark.slow


def count(opened):
    """Return what the button says that lists the changes."""
    opened.shown()
    return opened.page.locator("#acts button", has_text="hange").or_(
        opened.page.locator("#acts button", has_text="As written")).first.inner_text()


def changes(opened):
    return opened.page.evaluate("previz.store.changes")


# What differs


def test_what_differs_is_counted_marked_and_listed(opened):
    """A level, a colour, a stop, something moved: five changes, a mark at each, each in words."""
    page = opened.page
    assert count(opened) == "As written"
    assert page.locator(".differs:visible").count() == 0
    page.evaluate("""() => { const { store } = previz;
        store.changeLamp("key", { level: 0.5, cct: 3200 });
        store.changeLamp("rim", { gel: ["half cto"] });
        store.changeCamera({ iso: 400 });
        store.set({ "early|place|pieces|table": { at: ["2 m", "1.4 m"] } }); }""")
    assert count(opened) == "5 changes"
    marks = page.locator(".differs:visible")
    assert marks.count() == 3
    assert marks.evaluate_all("(all) => all.map((each) => each.getAttribute('aria-label'))") == [
        "key differs: level 50 %, −1.0 stops, written level 100 %, 0.0 stops; 3200 K, written 4300 K."
        " Put it back as written",
        "rim differs: half cto, written quarter cto + 80%. Put it back as written",
        "ISO 400, written ISO 800. Put it back as written"]
    page.keyboard.press("i")
    opened.until("document.getElementById('differs').open")
    rows = page.locator(".differ-what").all_inner_texts()
    assert len(rows) == 5 and rows[-1] == "table moved"
    # Another option has none of it.
    page.keyboard.press("Escape")
    page.evaluate("previz.store.showPlace({ option: 'late' })")
    assert count(opened) == "As written"


def test_one_difference_is_put_back_and_undone(opened):
    """One field of a lamp in the list, a lamp by its mark, a camera's field by its own, and all at once."""
    page = opened.page
    page.evaluate("""() => { const { store } = previz;
        store.changeLamp("key", { level: 0.5, cct: 3200 });
        store.changeLamp("rim", { on: false });
        store.changeCamera({ iso: 400, nd: 0.3 }); }""")
    page.keyboard.press("i")
    page.click("[aria-label^='Put back key: 3200 K']")
    assert changes(opened)["early|lamp|key"] == {"level": 0.5}
    opened.shown()
    assert page.evaluate("document.activeElement.closest('#differs') !== null")  # The hand stays in the list.
    page.click("#differs >> text=Undo")
    assert changes(opened)["early|lamp|key"] == {"level": 0.5, "cct": 3200}
    page.click("#differs >> text=Close")
    opened.shown()
    page.click("[data-lamp=key] .differs")
    assert "early|lamp|key" not in changes(opened)
    assert page.evaluate("previz.lamps.held") == "key"
    opened.shown()
    page.click("[aria-label^='ISO 400'].differs")
    assert changes(opened)["early|camera|A"] == {"nd": 0.3}
    page.keyboard.press("Escape")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert count(opened) == "5 changes"
    page.keyboard.press("i")
    page.click("text=All as written")
    assert changes(opened) == {}
    opened.shown()
    assert page.inner_text("#differs li") == "Nothing: this option is as it is written."
    page.click("#differs >> text=Undo")
    opened.shown()
    assert page.locator("#differs li").count() == 5
    page.keyboard.press("Escape")


def test_what_is_put_in_and_taken_out_counts(opened):
    """Put back, neither leaves a place behind."""
    opened.page.evaluate("""() => { const { store } = previz;
        store.send = () => {};  // The server would refuse to stage what is only half said here.
        store.set({ "early|added|pieces|crate": { shape: "box" },
            "early|place|pieces|crate": { at: [1, 1, 0] },
            "early|removed|pieces|table": true, "early|wants": ["meter place setting 0"] }); }""")
    found = opened.page.evaluate("""async () => {
        const { differencesOf, putBack } = await import("./differs.js");
        const all = differencesOf(previz.store), words = all.map((each) => `${each.of} ${each.text}`);
        putBack(previz.store, all.filter((each) => each.what === "added"));
        return [words, Object.keys(previz.store.changes)]; }""")
    assert found == [["crate put in", "crate moved", "table taken out", "wanted meter place setting 0"],
                     ["early|removed|pieces|table", "early|wants"]]
    opened.page.reload()
    opened.until("window.previz?.lamps?.rows.size > 0")


# Groups and the master


def test_the_master_keeps_ratios_and_says_what_holds_it(opened):
    """Down two stops and up again every ratio is as it was; nothing rises over a lamp that is at full."""
    page, levels = opened.page, "previz.store.lamps.map((each) => previz.store.lamp(each.name).level)"
    before = page.evaluate(levels)
    page.keyboard.press("t")
    page.keyboard.press("PageUp")
    opened.shown()
    assert page.evaluate(levels) == before
    held = page.inner_text(".group-row .note")
    assert held == "counter and key at full: none can rise without another ratio."
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")
    opened.shown()
    # counter, key and rim go down by two stops, daylight stays.
    assert page.evaluate(levels) == pytest.approx([before[0] / 4, before[1] / 4, before[2] / 4, before[3]])
    assert not page.is_visible(".group-row .note") or page.inner_text(".group-row .note") == ""
    page.keyboard.press("Home")  # To the end of the scale, not out: the ratio is still there.
    opened.shown()
    assert page.evaluate(levels)[:2] == pytest.approx([2**-8, 2**-8])
    assert page.inner_text(".group-row .note") == "rim under −8.0 stops, as good as out."
    page.keyboard.press("End")
    opened.shown()
    assert page.evaluate(levels) == pytest.approx(before, rel=1e-5)


def test_a_group_moves_together_and_can_be_undone(opened):
    """Named, set up from its lamps, moved by its level, switched, changed, taken apart, each one step."""
    page = opened.page
    page.click("text=New group")
    page.fill("#grouping input[type=text]", "front")
    page.click("#grouping >> text=Keep")
    assert page.inner_text("#grouping [role=alert]") == "Take two lamps or more."
    page.fill("#grouping input[type=text]", "front|wall")
    page.click("#grouping >> text=Keep")
    assert page.inner_text("#grouping [role=alert]").startswith("A name begins with a letter")
    page.fill("#grouping input[type=text]", "front")
    page.check("#grouping >> text=key")
    page.check("#grouping >> text=rim")
    page.click("#grouping >> text=Keep")
    assert changes(opened) == {"group|early|front": ["key", "rim"]}
    assert count(opened) == "As written"  # A group is the table's, not the scene's.
    opened.shown()
    page.focus("[aria-label='Group front'] input[type=range]")
    page.keyboard.press("PageDown")
    opened.shown()
    assert changes(opened)["early|lamp|key"] == {"level": 0.5}
    assert changes(opened)["early|lamp|rim"] == {"level": 0.3}
    assert page.evaluate("previz.store.lamp('counter').level") == 1
    page.click("[aria-label='Group front on']")
    lit = "['key', 'rim', 'counter'].map((each) => previz.store.lamp(each).on)"
    assert page.evaluate(lit) == [False, False, True]
    opened.shown()
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert changes(opened) == {"group|early|front": ["key", "rim"]}
    opened.shown()
    page.click("[aria-label='Change group front']")
    page.click("text=Take the group apart")
    assert changes(opened) == {}
    page.keyboard.press("Control+z")
    opened.shown()
    assert page.locator("[aria-label='Group front']").count() >= 1


# Colours that cannot be


def test_a_colour_that_cannot_be_is_held_and_explained(opened):
    """Warm and green: the tint is held where light can be made, in slider and number; its row says why."""
    page = opened.page
    row = page.locator("[data-lamp=key]")
    row.locator("summary").click()
    field = row.get_by_label("Tint", exact=True)
    field.fill("0.03")
    field.press("Enter")
    assert page.evaluate("previz.store.lamp('key').duv") == 0.03  # At 4300 K it can be.
    warm = row.get_by_label("Colour temperature", exact=True)
    warm.fill("1700")
    warm.press("Enter")
    opened.shown()
    held = page.evaluate("previz.store.lamp('key').duv")
    assert 0.003 < held < 0.007
    why = row.locator(".hold").inner_text()
    assert why == f"Held at Duv +{held:g}: at 1700 K no light is greener than that."
    assert float(field.input_value()) == held
    field.fill("0.02")
    field.press("Enter")
    opened.shown()
    assert page.evaluate("previz.store.lamp('key').duv") == held and float(field.input_value()) == held
    # The program makes it, so nothing goes wrong.
    opened.settled()
    opened.until("!previz.table.set.requests.size")
    assert page.inner_text("#fault") == ""
    row.get_by_text("Colour as written").click()
    assert changes(opened) == {}


# Notices


def test_a_notice_looks_and_sounds_like_one_and_an_error_like_one(opened):
    """Politely in plain text what went well, at once and in the colour of a warning what went wrong."""
    page = opened.page
    page.keyboard.press("d")
    page.evaluate("previz.fault('The scene has no such lamp.')")
    found = page.evaluate("""["notice", "fault"].map((id) => { const each = document.getElementById(id);
        return [each.textContent, each.getAttribute("role"), getComputedStyle(each).color]; })""")
    (note, polite, plain), (fault, loud, warning) = found
    assert note == "Choose a look to compare with first: this one now (P), or a kept one in the strip."
    assert polite == "status"
    assert (fault, loud) == ("The scene has no such lamp.", "alert")
    assert plain != warning == page.evaluate("getComputedStyle(document.getElementById('spoilt')).color")
    page.click("#fault-close")
    assert page.inner_text("#fault") == "" and page.inner_text("#notice") != ""
    page.click("#notice-close")


def test_what_the_server_refuses_is_an_error(opened):
    """An answer that fails is told as such."""
    opened.expected = "400 (Bad Request)"
    opened.page.route("**/meters.json*",
                      lambda route: route.fulfill(status=400, body="It cannot be metered."))
    opened.page.evaluate("previz.metersSoon(0)")
    opened.until("document.getElementById('fault').textContent === 'It cannot be metered.'")
    opened.page.unroute_all()
    opened.page.click("#fault-close")
    opened.page.evaluate("previz.metersSoon(0)")
    opened.metered()


# Two pages


def test_undo_leaves_what_another_page_has_changed_since(own_served, open_page):
    """Key by key: what still is as this page left it is undone, the rest stays and is told; redo likewise."""
    one, two = open_page(own_served.plain), open_page(own_served.plain)
    one.page.evaluate("""previz.store.set({ "early|lamp|key": { level: 0.5 },
        "early|lamp|rim": { level: 0.2 } })""")
    two.until("previz.store.lamp('rim').level === 0.2")
    two.page.evaluate("previz.store.changeLamp('key', { level: 0.7 })")
    one.until("previz.store.lamp('key').level === 0.7")
    one.page.keyboard.press("Control+z")
    assert one.page.inner_text("#notice") == "Another page has changed key since; that stays as it is."
    levels = "['key', 'rim'].map((each) => previz.store.lamp(each).level)"
    assert one.page.evaluate(levels) == [0.7, 0.6]
    two.until("previz.store.lamp('rim').level === 0.6")
    assert two.page.evaluate(levels) == [0.7, 0.6]
    # Redo brings back what was undone, and no more.
    one.page.keyboard.press("Control+Shift+z")
    assert one.page.evaluate(levels) == [0.7, 0.2]
    two.until("previz.store.lamp('rim').level === 0.2")
    # The other page undoes its own.
    two.page.keyboard.press("Control+z")
    assert two.page.evaluate(levels) == [0.5, 0.2]
    one.until("previz.store.lamp('key').level === 0.5")
    # Nothing of a step is left: nothing happens, and it says so.
    two.page.evaluate("previz.store.changeLamp('rim', { level: 0.1 })")
    one.until("previz.store.lamp('rim').level === 0.1")
    one.page.click("#notice-close")
    one.page.keyboard.press("Control+z")
    assert one.page.evaluate(levels) == [0.5, 0.1]
    assert one.page.inner_text("#notice").startswith("Another page has changed ")
    one.kept()
    two.kept()
