"""Whether people who see, hear or move otherwise can use the page, by rules that are run on it.

Source of the rules: axe-core (WCAG 2.2, levels A and AA, and its own), as the library of the test has it.
"""

import importlib.resources
import json

import pytest

pytestmark = pytest.mark.slow

RULES = importlib.resources.files("axe_playwright_python").joinpath("axe.min.js")

KEPT = {"name": "as planned", "note": "keep the rim", "at": 0, "option": "early", "camera": "A",
        "look": {"lamps": {"key": {"level": 0.5}}}}

STATES = {
    "as opened": "",
    "the exposure map": "previz.store.setView({ mode: 'map' })",
    "kept looks and held spots": f"""previz.store.set({{ "look|a": {json.dumps(KEPT)},
        "spots|early|A": [{{ name: "wall", x: 0.4, y: 0.5 }}], "early|lamp|key": {{ level: 0.25 }} }})""",
    "the plan beside the picture": "previz.beside.next()",
    "what differs": "previz.differs.open()",
    "full screen": "previz.big.toggle()",
}


def faults(page) -> list[str]:
    """Return what the rules find on the page as it stands: the rule, and the first place."""
    found = page.evaluate("async () => (await axe.run()).violations")
    return [f"{each['id']}: {each['nodes'][0]['html'][:120]}" for each in found]


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)])
def test_the_rules_find_nothing(fresh, size):
    """On a desk and on a phone: each state of the page, one laid over the other."""
    page = fresh.page
    page.set_viewport_size(dict(zip(("width", "height"), size, strict=True)))
    page.evaluate(RULES.read_text(encoding="utf-8"))
    told = {}
    for name, step in STATES.items():
        if step:
            page.evaluate(f"() => {{ {step} }}")
        fresh.shown()
        told[name] = faults(page)
        for dialog in page.query_selector_all("dialog[open]"):
            dialog.evaluate("(each) => each.close()")
    fresh.as_written()
    page.evaluate("document.body.append(document.createElement('img'))")
    assert any(each.startswith("image-alt") for each in faults(page))
    page.evaluate("document.body.lastElementChild.remove()")
    assert {name: each for name, each in told.items() if each} == {}
