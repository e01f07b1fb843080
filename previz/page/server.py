"""The page's server: its files and answers over HTTP, changes and progress over one socket."""

from __future__ import annotations

import asyncio
import contextlib
import json
from urllib.parse import parse_qsl

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from previz.errors import PrevizError, resource_error
from previz.page.answers import ANSWERS, JSON, answer
from previz.page.change_values import plain_fault
from previz.page.desk import Desk, moves_text, problem_text
from previz.page.guard import HEADERS, Guard
from previz.page.hand import Hand
from previz.page.look_text import look_answer
from previz.page.looks import is_beside
from previz.page.references import LARGEST_SENT, keep_named, keep_reference
from previz.page.renders import LOOKING, is_stop
from previz.page.save import gone_text, save_look
from previz.page.static_files import static_files
from previz.page.wanted import added_key

LOOK_EVERY = 1.0
"""How often the scene file is checked for changes made in an editor. [s]"""

MISSED = 2
"""Looks in a row without a scene file after which it is said to be gone. [1]"""

WHOLE = ("settled", "still.png", "map.png", "difference.png")
"""Answers that take all cores for a second: they are made one at a time."""

MOST_WAITING = 100
"""Messages that wait for one page, after which it is told no more of how a render goes on."""

LARGEST = 1 << 20
"""Largest body or message that is taken. [bytes]"""


class Pages:
    """The pages that are open, and the events that each is sent.

    Messages wait in a queue of their own for each page, so a slow one holds nobody up.
    """

    def __init__(self, rendering: bool):
        self._queues: set[asyncio.Queue] = set()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._standing: dict = LOOKING if rendering else {"event": "off"}
        self._spoilt: dict | None = None
        self.keeping = asyncio.Lock()
        """Held while one page's changes are kept and sent on, so that all hear of them in one order."""

    def open(self) -> asyncio.Queue:
        """Return the queue of a new page, which begins with how the renders stand."""
        self._loop = asyncio.get_running_loop()
        queue: asyncio.Queue = asyncio.Queue()
        queue.put_nowait(self._standing)
        if self._spoilt is not None:
            queue.put_nowait(self._spoilt)
        self._queues.add(queue)
        return queue

    def close(self, queue: asyncio.Queue) -> None:
        """Forget a page."""
        self._queues.discard(queue)

    @property
    def any(self) -> bool:
        """Whether any page is open."""
        return bool(self._queues)

    def send(self, message: dict, but: asyncio.Queue | None = None) -> None:
        """Tell every page, from any thread."""
        if message.get("event") in ("progress", "idle", "failed", "held", "looking"):
            self._standing = message
        if message.get("event") in ("spoilt", "scene"):
            self._spoilt = message if message["event"] == "spoilt" else None
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._spread, message, but)

    def _spread(self, message, but) -> None:
        for queue in self._queues:
            # A page that has fallen asleep is not told how a render went on meanwhile.
            late = message.get("event") == "progress" and queue.qsize() > MOST_WAITING
            if queue is not but and not late:
                queue.put_nowait(message)


def make_app(desk: Desk, guard: Guard, renders=None, hand: Hand | None = None) -> Starlette:
    """Return the server's application.

    `hand` makes the small pictures of what is being moved; `renders` renders what is in view, and sends its
    events by the `pages.send` of `app.state.pages`.
    """
    pages, files, whole = Pages(renders is not None), static_files(), asyncio.Lock()

    async def file_or_answer(request):
        path = guard.rest(request.url.path)
        if path is None:
            return Response(status_code=307, headers={"location": f"/{guard.token}/"})
        path = path or "index.html"
        if path in files:
            kind, text = files[path]
            return Response(text, media_type=kind)
        if path not in ANSWERS and not (path == "coarse" and hand is not None):
            return PlainTextResponse("There is nothing here.", 404)
        query = dict(parse_qsl(request.url.query, keep_blank_values=True))
        alone = path in WHOLE and not query.get("quick")
        try:
            async with whole if alone else contextlib.nullcontext():
                # A hand that has moved on does not wait for it any more.
                if alone and await request.is_disconnected():
                    return Response(status_code=503)
                found = await (run_in_threadpool(answer, desk, path, query) if path in ANSWERS
                               else run_in_threadpool(hand.answer, query))
        except Exception as error:  # Whatever goes wrong is the page's to show.
            return _refusal(error)
        return Response(found.body, media_type=found.kind, headers=dict(found.headers))

    async def save(request):
        body = await _body(request)
        if body is None:
            return PlainTextResponse("That is too much at once.", 413)
        try:
            saved = await run_in_threadpool(save_look, desk, body)
        except Exception as error:
            return _refusal(error)
        if saved["taken"]:
            gone = dict.fromkeys(saved["taken"])
            await run_in_threadpool(desk.change, gone)
            pages.send({"event": "change", "changes": gone, "taken": True})
        if saved["reload"] and desk.changed_on_disk():
            await _reload(desk, pages, renders, hand)
        return Response(json.dumps(saved), media_type=JSON)

    async def reference(request):
        data = await _bytes(request, LARGEST_SENT)
        if data is None:
            return PlainTextResponse(f"That picture is larger than {LARGEST_SENT >> 20} MB.", 413)
        name = request.query_params.get("name")
        try:
            kept = await (run_in_threadpool(keep_reference, desk, data) if name is None
                          else run_in_threadpool(keep_named, desk, name))
        except Exception as error:
            return _refusal(error)
        return Response(json.dumps(kept), media_type=JSON)

    async def look(request):
        body = await _body(request)
        if body is None:
            return PlainTextResponse("That is too much at once.", 413)
        try:
            taken = await run_in_threadpool(look_answer, desk.as_it_is(), body)
        except Exception as error:
            return _refusal(error)
        return Response(json.dumps(taken), media_type=JSON)

    async def link(socket: WebSocket):
        await _page(socket, desk, pages, renders, hand)

    async def watch():
        missed = 0
        while True:
            await asyncio.sleep(LOOK_EVERY)
            if desk.gone:
                missed += 1
                # An editor that saves by renaming may leave a gap.
                if missed == MISSED:
                    pages.send({"event": "spoilt", "text": gone_text(desk)})
            elif missed >= MISSED or desk.changed_on_disk():
                missed = 0
                await _reload(desk, pages, renders, hand)
            else:
                missed = 0

    @contextlib.asynccontextmanager
    async def lifespan(app):
        watching = asyncio.create_task(watch())
        yield
        watching.cancel()

    app = Starlette(routes=[
        Route("/{token}/save", save, methods=["POST"]),
        Route("/{token}/reference", reference, methods=["POST"]),
        Route("/{token}/look", look, methods=["POST"]),
        WebSocketRoute("/{token}/link", link),
        Route("/{rest:path}", file_or_answer, methods=["GET"]),
    ], lifespan=lifespan)
    app.state.pages = pages
    return _guarded(app, guard)


def _guarded(app, guard: Guard):
    """Wrap an application so that nothing reaches it that the guard refuses."""

    async def checked(scope, receive, send):
        if scope["type"] not in ("http", "websocket"):
            await app(scope, receive, send)
            return
        changing = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD")
        fault = guard.fault(scope["path"], scope["headers"], from_page=changing)
        if fault and scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": fault})
            return
        if fault:
            await PlainTextResponse(f"Refused: {fault}.", 403, headers=HEADERS)(
                scope, receive, send)
            return

        async def with_headers(message):
            if message["type"] == "http.response.start":
                headers = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
                message = {**message, "headers": [*message["headers"], *headers]}
            await send(message)

        await app(scope, receive, with_headers)

    checked.state = app.state
    return checked


def _refusal(error: Exception) -> PlainTextResponse:
    """Return what the page shows of an error: 400 for what a person can mend, 507 for a full disk or memory
    (RFC 4918, 11.5), 500 for a fault of the program.
    """
    status = 400 if isinstance(error, PrevizError) else 507 if resource_error(error) else 500
    # A name in a request may hold what no text file can.
    return PlainTextResponse(problem_text(error).encode("utf-8", "replace"), status)


async def _bytes(request, most: int) -> bytes | None:
    """Return what a request holds, None where that is more than is taken."""
    taken, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size <= most:
            taken.append(part)
        # An answer is only heard by one who has ended speaking, so a little more is let pass.
        if size > most + 16 * LARGEST:
            break
    return b"".join(taken) if size <= most else None


async def _body(request) -> dict | None:
    taken = await _bytes(request, LARGEST)
    if taken is None:
        return None
    try:
        given = _plain(taken)
    except (ValueError, RecursionError):
        given = None
    return given if isinstance(given, dict) else {}


async def _reload(desk: Desk, pages: Pages, renders, hand: Hand | None = None) -> None:
    try:
        await run_in_threadpool(desk.reload)
    except Exception as error:  # The page goes on with the scene it has, and says so.
        pages.send({"event": "spoilt", "text": problem_text(error)})
        return
    if renders is not None:
        # First, so that nothing that was said of the scene as it was is taken for this one's.
        renders.again()
    if hand is not None:
        await run_in_threadpool(hand.again)
    pages.send({"event": "scene"})


def _plain(text: str | bytes) -> object:
    """Return what a page said; ValueError where it cannot be said again: no number, half a letter."""
    given = json.loads(text)
    json.dumps(given, ensure_ascii=False, allow_nan=False).encode()
    return given


async def _page(socket: WebSocket, desk: Desk, pages: Pages, renders, hand: Hand | None = None) -> None:
    """Serve one page's socket until it closes."""
    await socket.accept()
    queue = pages.open()
    for note in desk.looks.notes:
        queue.put_nowait({"event": "notice", "text": note})
    await socket.send_json({"event": "changes", "changes": desk.changes, "edition": desk.edition})

    async def speak():
        while True:
            await socket.send_json(await queue.get())

    speaking = asyncio.create_task(speak())
    try:
        while True:
            try:
                # What is no text is a KeyError there.
                text = await socket.receive_text()
                await _hear(_plain(text), queue, desk, pages, renders, hand)
            except (ValueError, KeyError, TypeError, RecursionError):
                queue.put_nowait({"event": "notice", "text": "The page sent what cannot be read."})
            except (WebSocketDisconnect, RuntimeError):
                raise
            except Exception as error:
                queue.put_nowait({"event": "notice", "text": problem_text(error)})
    except (WebSocketDisconnect, RuntimeError):
        pass
    finally:
        pages.close(queue)
        if hand is not None and not pages.any:
            hand.idle()
        speaking.cancel()
        with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
            await speaking


async def _hear(message, queue, desk: Desk, pages: Pages, renders, hand: Hand | None = None) -> None:
    """Do what a page says; raise TypeError, KeyError or ValueError where it makes no sense."""
    if not isinstance(message, dict) or not isinstance(message.get("changes", {}), dict):
        raise TypeError(message)
    if message["say"] == "change":
        changes, number = message["changes"], message["number"]
        async with pages.keeping:
            noted = len(desk.looks.notes)
            try:
                await run_in_threadpool(desk.change, changes)
            except (PrevizError, OSError, MemoryError) as error:
                queue.put_nowait(
                    {"event": "notice", "text": problem_text(error), "refused": number})
                return
            # Only now is it safe on disk, and the page may forget that it has still to be kept.
            queue.put_nowait({"event": "kept", "number": number})
            pages.send({"event": "change", "changes": changes}, but=queue)
            for note in desk.looks.notes[noted:]:
                pages.send({"event": "notice", "text": note})
        if renders is not None and any(key.endswith(added_key("")) or is_beside(key) for key in changes):
            renders.look()
    elif message["say"] == "holding" and hand is not None:
        _held(message, desk, hand)
    elif message["say"] == "looking" and renders is not None:
        option, camera, stop = message["option"], message["camera"], message["stop"]
        moves = message.get("moves", {})
        if not (isinstance(option, str) and isinstance(camera, str) and is_stop(stop)) or plain_fault(moves):
            raise ValueError(message)
        # An edit may have taken the option out just now; the page hears of it and looks again.
        if option in desk.options:
            renders.show(option, camera, float(stop), moves_text(moves))


def _held(message: dict, desk: Desk, hand: Hand) -> None:
    """Get ready for what a page takes into its hand, or go on with other things where it has let go."""
    option, camera, lamps = message.get("option"), message.get("camera"), message.get("lamps")
    if option is None:
        hand.rest()
        return
    if not (isinstance(option, str) and isinstance(camera, str) and isinstance(lamps, list)
            and all(isinstance(each, str) for each in lamps)) or plain_fault(message.get("look", {})):
        raise ValueError(message)
    if option in desk.options:
        look = json.dumps(message.get("look", {}))
        hand.ready(option, camera, look, lamps, held=message.get("held") is not False)
