"""Start the page's server on the loopback, open a browser on it, and stop it cleanly."""

from __future__ import annotations

import contextlib
import secrets
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable

import uvicorn

from previz.errors import DataError
from previz.page.desk import Desk
from previz.page.guard import Guard
from previz.page.hand import Hand
from previz.page.opening import Worker
from previz.page.renders import Renders
from previz.page.server import LARGEST, make_app

LOOPBACK = "127.0.0.1"


def bound(port: int) -> socket.socket:
    """Return a socket on the loopback, at any free port for 0.

    Raises
    ------
    DataError
        The port is taken.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # On Windows two programs could have a port by it; there a port is free at once without.
    if sys.platform != "win32":
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    else:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    try:
        listening.bind((LOOPBACK, port))
        # From here on a browser that is quicker than the server waits instead of being refused.
        listening.listen(64)
    except OSError:
        listening.close()
        advice = "Give another with --port, or leave it out."
        raise DataError(f"port {port} is taken", advice) from None
    return listening


def serve(desk: Desk, port: int, *, open_browser: bool, render: bool, opened: Callable[[str], None],
          closing: Callable[[], None], worker: Worker | None = None) -> None:
    """Serve a desk until interrupted, at any free port for 0.

    Parameters
    ----------
    open_browser : bool
        False leaves that to whoever `opened` gives the address to.
    render : bool
        False shows what is there and renders nothing.
    opened : function
        Called with the page's address as soon as it answers.
    closing : function
        Called at the end where a render is left off.
    worker : Worker, optional
        A renderer that was started already.
    """
    listening = bound(port)
    guard = Guard(listening.getsockname()[1], secrets.token_urlsafe(24))
    renders = Renders(desk, lambda message: pages.send(message), worker)
    hand = Hand(desk, renders)
    app = make_app(desk, guard, renders if render else None, hand if render else None)
    pages = app.state.pages
    address = f"http://{LOOPBACK}:{guard.port}/{guard.token}/"
    opened(address)
    server = uvicorn.Server(uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, date_header=False,
        ws_max_size=LARGEST, timeout_graceful_shutdown=2, lifespan="on"))
    if render:
        renders.start()
    if open_browser:
        with contextlib.suppress(webbrowser.Error):
            webbrowser.open(address)
    hung_up = _hung_up(server)
    try:
        # The server stops cleanly on an interrupt and then passes it on; it is the usual end here.
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listening])
    finally:
        hung_up()
        if renders.busy:
            closing()
        hand.close()
        renders.close()
        listening.close()


def _hung_up(server: uvicorn.Server) -> Callable[[], object]:
    """Let the server stop as cleanly where its terminal is closed; return what takes that back."""
    number = getattr(signal, "SIGHUP", None)
    # Where it is ignored, as by nohup, it stays so.
    if number is None or threading.current_thread() is not threading.main_thread() or (
            before := signal.getsignal(number)) == signal.SIG_IGN:
        return lambda: None
    signal.signal(number, server.handle_exit)
    return lambda: signal.signal(number, before)
