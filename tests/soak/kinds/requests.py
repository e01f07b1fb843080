"""What reaches the page's server: questions, looks to save, messages of its socket, right and wrong ones."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from urllib.parse import quote, urlencode

from furnished import SCENE, furnished_desk, request_for

from previz.page.answers import ANSWERS
from previz.page.desk import Desk
from previz.page.guard import Guard
from previz.page.server import make_app

from ..damage import TEXTS, broken_bytes, broken_text
from ..guard import ViolationError
from ..shrink import smaller_list
from .page_scene import CAMERAS, LAMPS, NAMES, OPTIONS, look, number

WIDTH = 32
TOKEN, PORT = "a-token", 4321
HOST, ORIGIN = f"127.0.0.1:{PORT}", f"http://127.0.0.1:{PORT}"
GOOD = {200, 307, 400, 404, 405, 413}
PATIENCE = 30.0
"""How long one request may take. [s]"""


@dataclass(frozen=True)
class Asked:
    """One request: what it is, its path and query, headers, and its body or messages."""

    kind: str
    path: str
    query: str = ""
    headers: tuple[tuple[str, str], ...] = (("host", HOST), ("origin", ORIGIN))
    parts: tuple[bytes | str, ...] = field(default=())

    @property
    def ours(self) -> bool:
        """True where it comes from the page itself: host, origin and token are right."""
        return self.headers == Asked("", "").headers and self.path.split("/")[1:2] == [TOKEN]


class Renders:
    """Takes what the page wants rendered."""

    def show(self, option, camera, stop):
        """Take what is in view."""
        assert isinstance(option, str) and isinstance(camera, str) and isinstance(stop, float)

    def again(self):
        """Take that the scene was read anew."""


class Requests:
    """Some requests, one after the other."""

    name = "requests"

    def begin(self, folder: Path) -> None:
        """Furnish a desk, and make the server's application."""
        self.folder = folder / "depot"
        furnished_desk(self.folder, size=(WIDTH, None))
        self.path = self.folder / "canteen.yaml"
        self.desk = self._opened()
        self.app = make_app(self.desk, Guard(PORT, TOKEN), Renders())
        self.loop = asyncio.new_event_loop()
        self.loop.set_exception_handler(lambda loop, context: self.escaped.append(context))
        self.escaped: list[dict] = []
        self._ask(Asked("GET", f"/{TOKEN}/scene.json"))

    def _opened(self) -> Desk:
        return Desk(request_for(self.folder, size=(WIDTH, None)))

    def make(self, chance: Random) -> list[Asked]:
        """Return one to four requests."""
        return [
            chance.choice((self._question, self._question, self._question, self._saving, self._talk))(chance)
            for _ in range(chance.choice((1, 1, 2, 4)))
        ]

    def _headers(self, chance: Random) -> tuple[tuple[str, str], ...]:
        headers = list(Asked("", "").headers)
        if chance.random() < 0.06:
            at = chance.randrange(2)
            headers[at] = (
                headers[at][0],
                chance.choice(
                    (
                        "evil.example",
                        "null",
                        "",
                        "127.0.0.1",
                        f"localhost:{PORT + 1}",
                        ORIGIN + "/",
                        "\xff" * 9,
                        "x" * 9000,
                    )
                ),
            )
        if chance.random() < 0.03:
            del headers[chance.randrange(2)]
        if chance.random() < 0.03:
            headers.append(
                chance.choice((("host", HOST), ("origin", ORIGIN), ("x-forwarded-host", "evil.example")))
            )
        return tuple(headers)

    def _place(self, chance: Random, name: str) -> str:
        if chance.random() < 0.05:
            return chance.choice(
                (
                    f"/{name}",
                    f"/{TOKEN}x/{name}",
                    "/",
                    "",
                    f"/{TOKEN}",
                    f"/{TOKEN}//{name}",
                    f"/{TOKEN}/../{name}",
                    f"/{TOKEN}/{name}/",
                    f"/{TOKEN}/%2e%2e/{name}",
                    f"/{TOKEN}/\udcff",
                    f"/\x00/{name}",
                )
            )
        return f"/{TOKEN}/{name}"

    def _question(self, chance: Random) -> Asked:
        others = ("index.html", "nothing", "main.js", "save", "link", "reference")
        name = chance.choice((*ANSWERS, *ANSWERS, *others))
        query = {}
        for key in (
            "option",
            "camera",
            "look",
            "lamp",
            "x",
            "y",
            "stop",
            "quick",
            "than",
            "than_option",
            "than_camera",
            "title",
            "all_cameras",
            "width",
            "file",
            "looks",
        ):
            if chance.random() < (0.6 if key in ("option", "camera", "look", "lamp", "x", "y") else 0.15):
                query[key] = self._said(key, chance)
        text = urlencode(query, quote_via=quote, errors="surrogatepass")
        return Asked(
            chance.choice(("GET",) * 9 + ("HEAD", "POST", "DELETE", "OPTIONS")),
            self._place(chance, name),
            text if chance.random() < 0.95 else broken_text(text, chance),
            self._headers(chance),
        )

    def _said(self, key: str, chance: Random) -> str:
        if chance.random() < 0.06:
            return chance.choice(TEXTS)[:2000]
        if key in ("look", "than"):
            text = json.dumps(look(chance))
            return text if chance.random() < 0.85 else broken_text(text, chance)
        words = {
            "option": OPTIONS[:2] * 3 + OPTIONS,
            "than_option": OPTIONS,
            "camera": CAMERAS[:2] * 3 + CAMERAS,
            "than_camera": CAMERAS,
            "lamp": LAMPS,
            "x": ("0", "0.5", "1", "nan", "-0", "1e-9", "2"),
            "y": ("0", "0.5", "1", "inf", ""),
            "stop": ("2.8", "4", "0", "-1", "nan", "1e9", "1e-9", "inf"),
            "quick": ("1", ""),
            "title": ("Look", "\ud800", "<b>"),
            "all_cameras": ("1", ""),
            "width": ("160", "80", "0", "1e9", "x"),
            "file": ("0123456789abcdef.jpg", "a", "", "../a"),
            "looks": ('["a"]', "[]", "{", "[1]", "null"),
        }
        return chance.choice(words[key])

    def _saving(self, chance: Random) -> Asked:
        wanted = {
            "name": chance.choice(NAMES),
            "option": chance.choice(OPTIONS),
            "look": look(chance),
            "where": chance.choice(("scene", "own file", "x")),
        }
        body = json.dumps(wanted).encode()
        if chance.random() < 0.2:
            body = broken_bytes(body, chance)
        if chance.random() < 0.02:
            body = chance.choice(
                (b"[" * 300_000, b" " * (1 << 21), b"", b"null", b'{"name": 1e999}', b"1" * 6000)
            )
        at = chance.randrange(len(body) + 1)
        return Asked("POST", self._place(chance, "save"), "", self._headers(chance), (body[:at], body[at:]))

    def _kept(self, chance: Random) -> dict:
        """Return something like a look that is kept."""
        made = {
            "name": chance.choice(NAMES),
            "note": chance.choice(TEXTS)[:90],
            "option": chance.choice(OPTIONS),
            "camera": chance.choice(CAMERAS),
            "at": number(chance, 1, 2),
            "look": look(chance),
            "wants": chance.choice((None, ["meter place setting 0"], [1], "x")),
            "file": chance.choice(("0123456789abcdef.jpg", "../x", 1)),
        }
        return {key: each for key, each in made.items() if chance.random() < 0.95}

    def _talk(self, chance: Random) -> Asked:
        parts = []
        for _ in range(chance.randint(0, 4)):
            changes = {}
            for _ in range(chance.randint(0, 3)):
                what = chance.choice(("lamp", "camera", "x"))
                changes[f"{chance.choice(OPTIONS)}|{what}|{chance.choice(LAMPS + CAMERAS)}"] = chance.choice(
                    (None, {"level": number(chance, 0.5)}, look(chance), 1, "x")
                )
            if chance.random() < 0.2:
                key = chance.choice(("look|a", "look|b", "reference|a", "spots|early|A", "zones"))
                changes[key] = chance.choice((None, 1, self._kept(chance)))
            message: object = chance.choice(
                (
                    {"say": "change", "number": number(chance, 1, 2), "changes": changes},
                    {
                        "say": "looking",
                        "option": chance.choice(OPTIONS),
                        "camera": chance.choice(CAMERAS),
                        "stop": number(chance, 2.8, 4),
                    },
                    {"say": chance.choice(("change", "looking", "x", 1, None, []))},
                    [],
                    1,
                    None,
                    {"changes": changes},
                )
            )
            text = json.dumps(message)
            if chance.random() < 0.2:
                text = broken_text(text, chance)
            if chance.random() < 0.03:
                text = chance.choice(
                    (
                        "[" * 50_000,
                        '{"say":' * 3000,
                        "",
                        "1" * 5000,
                        '{"say": "change", "number": 1, "changes": {"\\ud800": 1}}',
                    )
                )
            parts.append(text.encode("utf-8", "surrogatepass") if chance.random() < 0.05 else text)
        return Asked("socket", self._place(chance, "link"), "", self._headers(chance), tuple(parts))

    # One request after the other

    def attempt(self, given: list[Asked]) -> str:
        """Ask, and look at the answers and at what is kept."""
        self.escaped.clear()
        try:
            words = [self._ask(each) for each in given]
            if self.escaped:
                error = self.escaped[0].get("exception")
                raise error or ViolationError(f"escaped: {self.escaped[0]}")
            if self._opened().changes != self.desk.changes:
                raise ViolationError("the changes on disk are not those that the page was told are kept")
        finally:
            self._restore()
        return "+".join(sorted(set(words)))

    def _restore(self) -> None:
        self.desk.changes = {}
        (self.desk.folder / "changes.json").unlink(missing_ok=True)
        for each in self.folder.glob("canteen.looks*"):
            each.unlink()
        for each in self.folder.glob("canteen-*"):
            each.unlink()
        if self.path.read_text(encoding="utf-8") != SCENE:
            self.path.write_text(SCENE, encoding="utf-8")
            self.desk.reload()

    def _ask(self, asked: Asked) -> str:
        talk = self._socket(asked) if asked.kind == "socket" else self._http(asked)
        return self.loop.run_until_complete(asyncio.wait_for(talk, PATIENCE))

    def _scope(self, asked: Asked) -> dict:
        headers = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in asked.headers]
        return {
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "path": asked.path,
            "raw_path": quote(asked.path, errors="replace").encode(),
            "query_string": asked.query.encode("ascii", "replace"),
            "root_path": "",
            "headers": headers,
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", PORT),
        }

    async def _http(self, asked: Asked) -> str:
        sent: list[dict] = []
        parts = list(asked.parts)

        async def receive():
            body = parts.pop(0) if parts else b""
            return {"type": "http.request", "body": body, "more_body": bool(parts)}

        async def send(message):
            sent.append(message)

        await self.app(
            {"type": "http", "method": asked.kind, "scheme": "http", **self._scope(asked)}, receive, send
        )
        status, headers = sent[0]["status"], dict(sent[0]["headers"])
        body = b"".join(each.get("body", b"") for each in sent[1:])
        if b"content-security-policy" not in headers:
            raise ViolationError(f"an answer without the page's headers: {status}")
        if not asked.ours:
            foreign = (
                not any(name == "host" and value == HOST for name, value in asked.headers)
                or TOKEN not in asked.path
            )
            if foreign and status not in (403,):
                raise ViolationError(f"answered {status} to one who may not ask: {asked}")
            return "refused" if status >= 400 else "answered"
        if status not in GOOD:
            raise ViolationError(f"answered {status}: {body[:300]!r}")
        if status >= 400 and not body and asked.kind != "HEAD":
            raise ViolationError(f"answered {status} without a word")
        if (
            status == 200
            and headers.get(b"content-type", b"").startswith(b"application/json")
            and asked.kind == "GET"
        ):
            json.loads(body, parse_constant=_no_number)
        return "answered" if status < 400 else "refused"

    async def _socket(self, asked: Asked) -> str:
        sent: list[dict] = []
        parts = list(asked.parts)
        begun = False

        async def receive():
            nonlocal begun
            if not begun:
                begun = True
                return {"type": "websocket.connect"}
            # What was said before is done with before more is said, so that no answer is missed.
            for _ in range(3):
                await asyncio.sleep(0)
            if not parts:
                return {"type": "websocket.disconnect", "code": 1001}
            part = parts.pop(0)
            return {"type": "websocket.receive", "text" if isinstance(part, str) else "bytes": part}

        async def send(message):
            sent.append(message)

        await self.app(
            {"type": "websocket", "scheme": "ws", "subprotocols": [], **self._scope(asked)}, receive, send
        )
        for each in sent:
            if each["type"] == "websocket.send":
                json.loads(each.get("text") or each["bytes"], parse_constant=_no_number)
        opened = any(each["type"] == "websocket.accept" for each in sent)
        if opened and not asked.ours and dict(asked.headers).get("host") != HOST:
            raise ViolationError(f"opened a socket to one who may not: {asked}")
        return "talked" if opened else "refused"

    def smaller(self, given: list[Asked]):
        """Yield fewer requests, and such of fewer parts."""
        yield from smaller_list(given)
        for at, asked in enumerate(given):
            for parts in smaller_list(list(asked.parts)):
                yield [
                    *given[:at],
                    Asked(asked.kind, asked.path, asked.query, asked.headers, tuple(parts)),
                    *given[at + 1 :],
                ]
            for query in smaller_list(asked.query.split("&")):
                yield [
                    *given[:at],
                    Asked(asked.kind, asked.path, "&".join(query), asked.headers, asked.parts),
                    *given[at + 1 :],
                ]

    def keep(self, given: list[Asked], folder: Path) -> None:
        """Write the requests."""
        (folder / "requests.txt").write_text(
            "\n".join(repr(each)[:5000] for each in given), encoding="utf-8", errors="backslashreplace"
        )


def _no_number(text: str):
    raise ViolationError(f"'{text}' is no JSON")
