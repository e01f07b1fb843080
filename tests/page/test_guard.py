"""Who may talk to the server: each thing that is refused, over a real socket."""

import contextlib
import http.client
import json
import socket
import time
from urllib.parse import quote

import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from previz.errors import DataError
from previz.page.guard import Guard
from previz.page.serving import LOOPBACK, bound

pytestmark = pytest.mark.slow


def answer(served, path, *, method="GET", body=None, host=None, **headers):
    """Ask with exactly these headers and return the answer with its body read."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
    connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    connection.putheader("Host", host or f"127.0.0.1:{served.port}")
    for name, value in headers.items():
        connection.putheader(name.replace("_", "-"), value)
    if body is not None:
        connection.putheader("Content-Length", str(len(body)))
    connection.endheaders(body)
    result = connection.getresponse()
    result.text = result.read().decode("utf-8", "replace")
    connection.close()
    return result


def test_with_the_token_it_answers(served):
    """The address that was printed opens the page, and says that nothing else may be loaded."""
    result = answer(served, f"/{served.token}/")
    assert result.status == 200
    assert "<title>previz</title>" in result.text
    assert "default-src 'none'" in result.headers["content-security-policy"]
    assert result.headers["referrer-policy"] == "no-referrer"
    assert result.headers["cache-control"] == "no-store"
    assert answer(served, f"/{served.token}").headers["location"] == f"/{served.token}/"


@pytest.mark.parametrize("path", ["/", "/scene.json", "/wrong/scene.json", "//", "/%00/scene.json"])
def test_without_the_token_nothing_is_said(served, path):
    """No token, or another, and not even a file of the page is given out."""
    result = answer(served, path)
    assert result.status == 403
    assert result.text == "Refused: the address lacks the token."


def test_half_a_token_is_no_token(served):
    """The whole token counts."""
    assert answer(served, f"/{served.token[:-1]}/scene.json").status == 403
    assert answer(served, f"/{served.token}x/scene.json").status == 403


@pytest.mark.parametrize("host", ["depot.example", "127.0.0.1", "127.0.0.1:1", "0.0.0.0:{port}",
                                  "localhost.depot.example:{port}"])
def test_another_host_is_refused(served, host):
    """A name that was made to point at this machine is not this machine."""
    result = answer(served, f"/{served.token}/scene.json", host=host.format(port=served.port))
    assert result.status == 403
    assert result.text == "Refused: the host is not this machine."


@pytest.mark.parametrize("origin", ["http://depot.example", "null", "https://127.0.0.1:{port}",
                                    "http://127.0.0.1:1"])
def test_another_origin_is_refused(served, origin):
    """A page from elsewhere is refused even if it knows the token."""
    result = answer(served, f"/{served.token}/scene.json", Origin=origin.format(port=served.port))
    assert result.status == 403
    assert result.text == "Refused: the request comes from another page."


def test_its_own_origin_is_taken(served):
    """By number and by name."""
    for name in ("127.0.0.1", "localhost"):
        host = f"{name}:{served.port}"
        path = f"/{served.token}/changes.json"
        assert answer(served, path, host=host, Origin=f"http://{host}").status == 200


@pytest.mark.parametrize("path", [
    "../../../../etc/passwd", "..%2f..%2f..%2f..%2fetc%2fpasswd", "%2e%2e/canteen.yaml",
    "static/main.js", "/etc/passwd", "main.js/../../answers.py", "slice/../../../canteen.yaml",
    "renders/page/changes.json", "answers.py", "..\\..\\canteen.yaml"])
def test_a_path_outside_leads_nowhere(served, path):
    """Only the page's own files and the questions have paths; nothing else exists."""
    result = answer(served, f"/{served.token}/{path}")
    assert result.status in (403, 404)
    assert "root:" not in result.text
    assert "previz: 1" not in result.text


def test_saving_needs_an_origin(served):
    """What changes a file must say which page it comes from; a foreign form is refused."""
    body = json.dumps({"name": "stolen", "where": "scene", "option": "early", "look": {}}).encode()
    scene = served.folder / "canteen.yaml"
    before = scene.read_bytes()
    path = f"/{served.token}/save"
    assert answer(served, path, method="POST", body=body).status == 403
    assert answer(served, path, method="POST", body=body,
                  Origin="http://depot.example").status == 403
    assert scene.read_bytes() == before


def test_taking_in_a_look_needs_an_origin_and_opens_nothing(served):
    """A look is text: a path in its place is no look, and another page may not even ask."""
    path, own = f"/{served.token}/look", {"Origin": f"http://127.0.0.1:{served.port}"}
    scene = str(served.folder / "canteen.yaml")
    for text in (scene, "../../canteen.yaml", f"file://{scene}", '{"previz_look": 1, "file": "/etc/passwd"}'):
        body = json.dumps({"text": text, "option": scene, "path": scene}).encode()
        assert answer(served, path, method="POST", body=body).status == 403
        assert answer(served, path, method="POST", body=body, Origin="http://depot.example").status == 403
        result = answer(served, path, method="POST", body=body, **own)
        assert result.status == 400 and "previz: 1" not in result.text and "root:" not in result.text
    for body in (b"[]", b"{", b'{"text": 7}', b'{"text": {"a": 1}}', b'{"text": "\\ud800"}'):
        assert answer(served, path, method="POST", body=body, **own).status == 400
    assert answer(served, path, method="POST", body=b"x" * (2 << 20), **own).status == 413


def test_saving_too_much_is_refused(served):
    """A body over the limit is not taken in."""
    result = answer(served, f"/{served.token}/save", method="POST", body=b"x" * (2 << 20),
                  Origin=f"http://127.0.0.1:{served.port}")
    assert (result.status, result.text) == (413, "That is too much at once.")


def test_a_reference_needs_an_origin_too(served):
    """A picture is taken from the page alone, and so much of it at most."""
    path, kept = f"/{served.token}/reference", served.folder / "canteen.looks"
    before = kept.exists(), sorted(kept.glob("*"))
    assert answer(served, path, method="POST", body=b"x").status == 403
    assert answer(served, path, method="POST", body=b"x", Origin="http://depot.example").status == 403
    own = {"Origin": f"http://127.0.0.1:{served.port}"}
    large = answer(served, path, method="POST", body=bytes((32 << 20) + 1), **own)
    assert (large.status, large.text) == (413, "That picture is larger than 32 MB.")
    assert answer(served, path, method="POST", body=b"GIF89a", **own).status == 400
    assert (kept.exists(), sorted(kept.glob("*"))) == before


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_other_methods_do_nothing(served, method):
    """Questions can only be read."""
    result = answer(served, f"/{served.token}/scene.json", method=method,
                  Origin=f"http://127.0.0.1:{served.port}")
    assert result.status == 405


@pytest.mark.parametrize(("origin", "path"), [
    (None, "/{token}/link"), ("http://depot.example", "/{token}/link"),
    ("http://127.0.0.1:{port}", "/link"), ("http://127.0.0.1:{port}", "/wrong/link")])
def test_the_socket_is_as_careful(served, origin, path):
    """No socket without the token, and none for a page from elsewhere or from nowhere."""
    address = f"ws://127.0.0.1:{served.port}{path.format(token=served.token)}"
    with pytest.raises(InvalidStatus) as refused:
        connect(address, origin=origin and origin.format(port=served.port), proxy=None)
    assert refused.value.response.status_code == 403


def test_the_socket_opens_for_the_page(served):
    """The page itself gets in, and is reported of the changes so far."""
    address = f"ws://127.0.0.1:{served.port}/{served.token}/link"
    with connect(address, origin=f"http://127.0.0.1:{served.port}", proxy=None) as line:
        result = [json.loads(line.recv(timeout=60)) for _ in range(2)]
        assert {each["event"] for each in result} == {"changes", "off"}
        for nonsense in ("{", "[]", '{"say": "change"}', '{"say": "change", "changes": 3}', b"no text"):
            line.send(nonsense)
            assert json.loads(line.recv(timeout=60))["event"] == "notice"


def test_the_server_is_on_the_loopback_alone():
    """It is bound to 127.0.0.1, and says so where the port is taken."""
    with bound(0) as listening:
        host, port = listening.getsockname()
        assert host == LOOPBACK == "127.0.0.1"
        with pytest.raises(DataError, match=f"port {port} is taken"):
            bound(port)


def test_headers_sent_twice_are_refused():
    """Two hosts or two origins are a trick."""
    guard = Guard(8000, "token")
    host = (b"host", b"127.0.0.1:8000")
    assert guard.fault("/token/x", [host], from_page=False) is None
    assert guard.fault("/token/x", [host, host], from_page=False)
    origin = (b"origin", b"http://127.0.0.1:8000")
    assert guard.fault("/token/x", [host, origin, origin], from_page=False)
    assert guard.fault("/token/x", [], from_page=False)
    assert guard.fault("/t\u00f6ken/x", [host], from_page=False)


def test_what_no_text_can_hold_is_refused_all_the_same(served):
    """Half a letter in a name, and brackets without end, are answers in words and not faults."""
    look = quote('{"lamps": {"\\ud800": {}}}')
    result = answer(served, f"/{served.token}/settled?option=early&camera=A&look={look}")
    assert (result.status, result.text[:23]) == (400, "the option has no lamp ")
    result = answer(served, f"/{served.token}/settled?option=%ff%fe&camera=%00")
    assert result.status == 400
    result = answer(served, f"/{served.token}/save", method="POST", body=b"[" * 500_000,
                  Origin=f"http://127.0.0.1:{served.port}")
    assert result.status == 400


def test_changes_with_half_a_letter_do_not_stop_the_page(own_served):
    """Whatever a page has kept, the next one can read it."""
    address = f"ws://127.0.0.1:{own_served.port}/{own_served.token}/link"
    with connect(address, origin=f"http://127.0.0.1:{own_served.port}", proxy=None) as line:
        line.send('{"say": "change", "number": 1, "changes": {"\\ud800": {"level": 1}}}')
        while json.loads(line.recv(timeout=60))["event"] not in ("kept", "notice"):
            pass
        for text in ("[" * 500_000, '{"say": "change", "number": Infinity, "changes": {}}',
                     '{"say": "change", "number": 1e999, "changes": {}}'):
            line.send(text)
            while json.loads(line.recv(timeout=60)).get("text") != "The page sent what cannot be read.":
                pass
    assert answer(own_served, f"/{own_served.token}/changes.json").status == 200


def test_a_slow_client_holds_nobody_up(served):
    """Requests that are begun and never ended leave the others their answers."""
    slow = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(40)]
    for each in slow:
        each.sendall(f"GET /{served.token}/scene.json HTTP/1.1\r\nHost: 127.0".encode())
    began = time.monotonic()
    assert answer(served, f"/{served.token}/changes.json").status == 200
    # Far under any timeout of the server's; the answer itself takes milliseconds.
    assert time.monotonic() - began < 10
    for each in slow:
        each.close()


def test_one_line_without_end_is_refused(served):
    """An address of a megabyte is not taken in, and costs nobody else an answer."""
    with contextlib.suppress(ConnectionError):  # It may be hung up on before it has been sent.
        result = answer(served, f"/{served.token}/settled?look=" + "x" * (1 << 20))
        assert result.status == 400
    assert answer(served, f"/{served.token}/changes.json").status == 200
