"""What comes over the page's socket: each key by its form, each value by what belongs there."""

import asyncio
import json
import math
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest
from websockets.sync.client import connect

from previz.errors import DataError
from previz.frames.whole import write_sealed
from previz.page.change_values import MOST_AT_ONCE, MOST_PARTS, OF_OPTIONS, OWN, check_changes, fault_of
from previz.page.desk import CHANGES_NAME, Desk
from previz.page.server import _hear

LOOK = {"lamps": {"key": {"level": 0.5}}, "cameras": {"A": {"stop": 4.0}}, "moves": {"remove": ["rim"]}}

GOOD = {
    "early|lamp|key": {
        "level": 0.5,
        "on": False,
        "cct": 3200,
        "duv": 0.003,
        "gel": ["half cto", {"sheet": 1}],
    },
    "|lamp|sky": {"level": 2.0},
    "early|camera|A": {
        "stop": 5.6,
        "iso": 400,
        "shutter": 180.0,
        "nd": 0.3,
        "white_balance": 4300,
        "green": 0.0,
    },
    "early|wants": ["shadow side clerk -2"],
    "early|place|lights|key": {"at": ["2 m", "1 m", "2 m"]},
    "early|added|pieces|card 2": {"shape": "sheet", "at": ["1 m", "1 m", "1 m"], "size": ["1 m", "1 m"]},
    "early|removed|pieces|table": True,
    "late|removed||table": True,
    "pin": {"option": "early", "camera": "A", "look": LOOK},
    "look|9f02a1c3d4": {"name": "dusk", "note": "", "option": "early", "camera": "A", "look": LOOK},
    "reference|03ab": {"file": "a.png"},
    "spots|early|A": [{"name": "1", "x": 0.5, "y": 0.25}],
    "group|early|window side": ["key", "rim"],
    "zones": {"over": 2.5},
}

BAD_KEYS = [
    "",
    "|",
    "early",
    "early|lamp",
    "early|lamp|key|more",
    "early|lamps|key",
    "__proto__",
    "constructor|lamp",
    "early|place|__proto__|polluted",
    "__proto__|lamp|key",
    "early|lamp|__proto__",
    "toString",
    "pin|more",
    "early|lamp|../../etc/passwd",
    "early|lamp|a\\0b",
    "look|../x",
    "early|lamp|" + "a" * 61,
    "x" * 10**6,
]

BAD_VALUES = [
    ("early|lamp|key", 0.5),
    ("early|lamp|key", {"level": "NaN"}),
    ("early|lamp|key", {"level": 1e300}),
    ("early|lamp|key", {"level": -0.1}),
    ("early|lamp|key", {"level": True}),
    ("early|lamp|key", {"level": [0.5]}),
    ("early|lamp|key", {"output": 9000}),
    ("early|lamp|key", {"__proto__": {"level": 1}}),
    ("early|lamp|key", {"gel": ["no such gel"]}),
    ("early|lamp|key", {"gel": ["half cto"] * 9}),
    ("early|lamp|key", {"cct": 1}),
    ("early|lamp|key", {"on": "yes"}),
    ("early|camera|A", {"stop": 0}),
    ("early|camera|A", {"stop": 10**400}),
    ("early|camera|A", {"lens": 24}),
    ("early|camera|A", [4.0]),
    ("early|wants", "more"),
    ("early|wants", [""]),
    ("early|wants", ["x"] * 25),
    ("early|wants", ["x" * 201]),
    ("early|removed|pieces|table", False),
    ("early|place|lights|key", ["2 m"]),
    ("early|place|lights|key", {"at": [math.inf]}),
    ("early|place|lights|key", {"at": [10**16]}),
    ("early|place|lights|key", {"at": "x" * 3000}),
    ("early|place|lights|key", {"at": [0] * (MOST_PARTS + 1)}),
    ("pin", {"option": "early", "camera": "A", "look": {"lamps": {"key": {"level": 7}}}}),
    ("pin", {"look": {"lamps": []}}),
    ("pin", {"look": {"lamps": {}, "more": 1}}),
    ("pin", {"look": None}),
    ("spots|early|A", {"0": 1}),
    ("zones", {"over": math.nan}),
]


def nested(depth):
    """Return groups within groups."""
    value = {}
    for _ in range(depth):
        value = {"a": value}
    return value


def test_what_a_page_sets_is_taken():
    """Every form of key has a value here that is good, and what is taken back needs none."""
    check_changes(GOOD)
    check_changes(dict.fromkeys(GOOD))
    words = {
        key.split("|")[1] if key.split("|")[1:2] and key.split("|")[1] in OF_OPTIONS else key.split("|")[0]
        for key in GOOD
    }
    assert words == {*OF_OPTIONS, *OWN}


@pytest.mark.parametrize("key", BAD_KEYS, ids=lambda key: repr(key)[:30])
def test_a_key_of_no_form_is_refused(key):
    """Whatever stands there, and whether it is set or taken back; the message is short."""
    for value in ({}, None):
        with pytest.raises(DataError, match="the page keeps nothing by the name") as caught:
            check_changes({key: value})
        assert len(str(caught.value)) < 300
    # What an earlier previz kept can be taken back.
    check_changes({key: None}, kept={key})


@pytest.mark.parametrize(("key", "value"), BAD_VALUES)
def test_a_value_that_cannot_be_is_refused(key, value):
    """Numbers out of range, no numbers, other things, too many and too long."""
    with pytest.raises(DataError, match="cannot be set: ") as caught:
        check_changes({**GOOD, key: value})
    assert len(str(caught.value)) < 500


def test_deep_and_many_are_refused_quickly():
    """Neither depth nor number costs more than the limit."""
    for value in (nested(9), nested(900), {"a": [[0] * 3000] * 3000}, {str(k): k for k in range(10**5)}):
        assert "it is too" in fault_of("early|place|lights|key", value)
    with pytest.raises(DataError, match=f"more than {MOST_AT_ONCE} changes"):
        check_changes({f"early|lamp|l{k}": {} for k in range(10**6)})


def test_a_file_that_was_written_by_hand_brings_nothing_else(desk):
    """Of the changes on disk those are taken that a page could have set."""
    write_sealed(
        desk.folder / CHANGES_NAME,
        {
            "previz_page": 2,
            "scene": "",
            "changes": {**GOOD, "__proto__": {"pin": 1}, "early|lamp|rim": {"level": "half"}},
        },
    )
    assert Desk(desk.request).changes == GOOD
    write_sealed(desk.folder / CHANGES_NAME, {"previz_page": 2, "scene": "", "changes": [1, 2]})
    assert Desk(desk.request).changes == {}


@pytest.mark.parametrize("stop", ["NaN", "2.8", 1e999, True, None, [2.8], 0, 1e9])
def test_what_is_looked_at_is_checked(desk, stop):
    """A stop that no lens has is refused, and an option that is not there is not rendered."""
    shown = []
    renders = SimpleNamespace(show=lambda *place: shown.append(place))

    def hear(**message):
        asyncio.run(
            _hear(
                {"say": "looking", "option": "early", "camera": "A", "stop": 2.8, **message},
                None,
                desk,
                None,
                renders,
            )
        )

    with ThreadPoolExecutor(1) as pool:
        assert isinstance(pool.submit(hear, stop=stop).exception(), ValueError)
        for wrong in ({"camera": 7}, {"option": None}, {"moves": nested(20)}):
            assert isinstance(pool.submit(hear, **wrong).exception(), ValueError)
        assert pool.submit(hear, option="none").exception() is None
        assert shown == []
        assert pool.submit(hear).exception() is None
    assert shown == [("early", "A", 2.8, "")]


@pytest.mark.slow
def test_nothing_hostile_reaches_another_page(own_served, open_page):
    """It is refused with a notice, the other page hears of good changes alone, and nothing is poisoned."""
    page = open_page(own_served.plain)
    with connect(
        f"ws://127.0.0.1:{own_served.port}/{own_served.token}/link",
        origin=f"http://127.0.0.1:{own_served.port}",
        proxy=None,
    ) as socket:
        # How the renders stand is said after the changes so far.
        while json.loads(socket.recv(timeout=60))["event"] != "off":
            pass
        hostile = [
            {"__proto__": {"polluted": 1}},
            {"early|place|__proto__|polluted": {"at": 1}},
            {"early|lamp|key": {"level": 0.5}, "early|lamps|key": {}},
            {"early|lamp|key": {"level": 9}},
        ]
        for number, changes in enumerate(hostile):
            socket.send(json.dumps({"say": "change", "number": number, "changes": changes}))
            said = json.loads(socket.recv(timeout=60))
            assert (said["event"], said.get("refused")) == ("notice", number), said
        socket.send(
            json.dumps({"say": "change", "number": 9, "changes": {"early|lamp|rim": {"level": 0.25}}})
        )
        assert json.loads(socket.recv(timeout=60))["event"] == "kept"
    page.until("previz.store.lamp('rim').level === 0.25")
    assert page.page.evaluate("Object.keys(previz.store.changes)") == ["early|lamp|rim"]
    # Should such a key come all the same, from an earlier server, it is a key like others.
    assert page.page.evaluate("""() => {
        const { store } = previz;
        store.apply(JSON.parse('{"__proto__": {"pin": 1}, "early|place|__proto__|polluted": {"at": 1}}'));
        const found = [({}).polluted, ({}).pin, store.pin, Object.keys(store.moves)];
        store.apply(JSON.parse('{"__proto__": null, "early|place|__proto__|polluted": null}'));
        return found; }""") == [None, None, None, ["__proto__"]]
