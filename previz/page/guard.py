"""Who may talk to the page's server: this machine's own browser, from the page's own address.

The server listens on the loopback alone. Yet any web page that is open in the same browser can
send requests there, and a name can be made to point at it; so every request must name the host
that was bound (against rebinding), carry the token that is part of the page's address, and, where
the browser says which page it comes from, come from this one.
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable
from dataclasses import dataclass

HOSTS = ("127.0.0.1", "localhost")
"""Names of the loopback that a request may have."""

HEADERS = {
    "cache-control": "no-store",
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
        "connect-src 'self'; form-action 'none'; frame-ancestors 'none'; base-uri 'none'"),
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
}
"""Sent with every answer: nothing is kept, embedded, or fetched from elsewhere."""


@dataclass(frozen=True)
class Guard:
    """Checks requests at a port; the token, which is random, is the first part of every path."""

    port: int
    token: str

    def fault(self, path: str, headers: Iterable[tuple[bytes, bytes]], *,
              from_page: bool) -> str | None:
        """Return why a request is refused, None for a good one.

        The path is decoded, headers are as ASGI gives them, names in lower case. `from_page` is for requests
        that change something, and have to say which page they come from.
        """
        given: dict[bytes, list[str]] = {}
        for name, value in headers:
            given.setdefault(name, []).append(value.decode("latin-1"))
        hosts = given.get(b"host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts():
            return "the host is not this machine"
        origins = given.get(b"origin", [])
        if len(origins) > 1 or (from_page and not origins):
            return "the request does not say which page it comes from"
        if origins and origins[0].lower() not in {f"http://{host}" for host in self._hosts()}:
            return "the request comes from another page"
        given = path.lstrip("/").partition("/")[0]
        if not hmac.compare_digest(given.encode("utf-8", "replace"), self.token.encode()):
            return "the address lacks the token"
        return None

    def _hosts(self) -> set[str]:
        return {f"{name}:{self.port}" for name in HOSTS}

    def rest(self, path: str) -> str | None:
        """Return what follows the token in a path, None where the path ends with the token."""
        _, slash, rest = path.lstrip("/").partition("/")
        return rest if slash else None
