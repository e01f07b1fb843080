"""A tiny scene with frames made by arithmetic (`furnished`), served as `previz page` serves it.

So these tests need no engine, and `previz render` finds the very same frames.
"""

from __future__ import annotations

import base64
import os
import re
import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from furnished import SAMPLES, furnished_desk, put_frames, request_for
from page_process import Command, branched, started
from PIL import Image

from previz.cli.main import previz
from previz.exposure.camera import expose
from previz.exposure.display import show_8bit
from previz.exposure.picture import develop
from previz.frames import whole_file
from previz.page.answers import shot
from previz.page.clean import read_clean, write_clean
from previz.page.desk import Desk
from previz.physics.light import lamp_band_xyz

PATIENCE = 180.0
"""How long is waited for what is sure to come, on a busy machine. [s]"""


@pytest.fixture(scope="session")
def furnished(tmp_path_factory):
    """A furnished folder to copy from."""
    folder = tmp_path_factory.mktemp("canteen")
    furnished_desk(folder)
    return folder


@pytest.fixture(scope="session")
def furnish():
    """Return a function: folder, scene -> its desk, with frames and meters in the cache."""
    return furnished_desk


@pytest.fixture(scope="session")
def put():
    """Return a function: desk, picture, seed -> frames of it put into the cache."""
    return put_frames


@pytest.fixture
def folder(furnished, tmp_path):
    """A furnished folder of a test's own."""
    shutil.copytree(furnished, tmp_path / "depot")
    return tmp_path / "depot"


@pytest.fixture
def desk(folder):
    """The desk of a furnished folder."""
    return Desk(request_for(folder))


class Served:
    """`previz page` in a process of its own."""

    def __init__(self, folder: Path, *more: str, run: Callable[[list[str]], Command] = branched,
                 render: bool = False):
        self.folder = folder
        self.process = run(
            ["page", str(folder / "canteen.yaml"), "--size", "160", "--samples", str(SAMPLES),
             "--out", str(folder / "renders"), "--no-open", *([] if render else ["--no-render"]), *more])
        self.address = self.process.printed.readline().strip()
        found = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/([\w-]+)/", self.address)
        assert found, f"no address but {self.address!r}"
        self.port, self.token = int(found[1]), found[2]

    @property
    def plain(self) -> str:
        """The address of the page without the GPU, for tests of what does not depend on it.

        Most of what it takes to open a page is to translate the screen's shader.
        """
        return f"{self.address}?plain"

    def kill(self) -> None:
        """End it as a power cut would."""
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.ended(None)
        self.process.printed.close()

    def close(self) -> None:
        """End it as a person would."""
        if not self.process.ended(0):
            os.kill(self.process.pid, signal.SIGINT)
            if not self.process.ended(PATIENCE):
                self.kill()
        self.process.printed.close()


@pytest.fixture(scope="session")
def served(furnished, tmp_path_factory):
    """A served folder that tests share; each page that opens takes back what others changed."""
    folder = tmp_path_factory.mktemp("served") / "depot"
    shutil.copytree(furnished, folder)
    Image.new("RGB", (64, 36), (90, 120, 150)).save(folder / "recce.png")
    # The one that most tests share is run as a person runs it.
    page = Served(folder, run=started)
    yield page
    page.close()


@pytest.fixture
def own_served(folder):
    """A served folder of one test alone."""
    page = Served(folder)
    yield page
    page.close()


@pytest.fixture
def serve():
    """Return a function that serves a folder."""
    pages = []

    def start(folder: Path, *more: str, render: bool = False) -> Served:
        pages.append(Served(folder, *more, render=render))
        return pages[-1]

    yield start
    for page in pages:
        page.close()


@pytest.fixture(scope="session")
def render(tmp_path_factory):
    """Return a function: folder, option -> the still of `previz render`, (row, column, 3)."""
    scans = tmp_path_factory.mktemp("scans")

    def still(folder: Path, option: str, camera: str = "A") -> np.ndarray:
        # What of the rig is in the picture goes by the cache's own names, and takes the engine to find.
        cache = folder / "renders" / "frames" / "meters"
        shutil.copytree(scans, cache, dirs_exist_ok=True)
        result = CliRunner().invoke(previz, [
            "render", str(folder / "canteen.yaml"), "--size", "160", "--samples", str(SAMPLES),
            "--no-exr", "--out", str(folder / "renders"), "--option", option, "--camera", camera],
            catch_exceptions=False)
        assert result.exit_code == 0, result.output
        for scan in cache.glob("*-rig.json"):
            shutil.copy(scan, scans)
        return np.array(Image.open(folder / "renders" / f"{option}-{camera}.png"))

    return still


@pytest.fixture(scope="session")
def about():
    """Return a function: folder, option, look -> what a question to the server is about."""
    desks = {}

    def posed(folder: Path, option: str, look: str = "", camera: str = "A"):
        if folder not in desks:
            desks[folder] = Desk(request_for(folder))
        if desks[folder].changed_on_disk():
            desks[folder].reload()
        return shot(desks[folder], {"option": option, "camera": camera, "look": look})

    return posed


@pytest.fixture(scope="session")
def gathered():
    """Return a function: folder, option -> what the meters have gathered."""
    return lambda folder, option: Desk(request_for(folder)).meters(option)


@pytest.fixture(scope="session")
def developed(about):
    """Return a function: folder, option, look -> the frame developed as for a still."""

    def of(folder: Path, option: str, look: str = ""):
        request = about(folder, option, look)
        return develop(request.found.frames, request.lamps(), request.settings)

    return of


@pytest.fixture(scope="session")
def cleaned(about, tmp_path_factory):
    """Return a function: folder, option, camera -> cleans the lamps as the renderer does."""
    kept = tmp_path_factory.mktemp("cleaned")

    def clean(folder: Path, option: str, camera: str = "A") -> None:
        found = about(folder, option, camera=camera).found
        # Each lamp takes a while; frames of one name are the same in every folder.
        for number in range(len(found.frames.lights)):
            write_clean(kept / found.key, found.frames, number)
        shutil.copytree(kept / found.key, found.clean, dirs_exist_ok=True, copy_function=copied_whole)

    return clean


def copied_whole(source: str, target: str) -> None:
    """Copy a file so that a server that reads meanwhile finds all of it or nothing."""
    with whole_file(Path(target)) as part:
        shutil.copyfile(source, part)


@pytest.fixture(scope="session")
def live_mix(about):
    """Return a function: folder, option, look -> the sum of the cleaned lamps as a still."""

    def mixed(folder: Path, option: str, look: str) -> np.ndarray:
        request = about(folder, option, look)
        frames, total = request.found.frames, 0.0
        for lamp in request.lamps():
            bands, scale = read_clean(request.found.clean, frames, frames.lights.index(lamp.name))
            weights = lamp_band_xyz(lamp, len(bands)) * scale
            total = total + np.einsum("brk,bc->crk", bands.astype(float), weights)
        return show_8bit(expose(total, request.settings)).astype(int)

    return mixed


WINDOW = {"width": 1140, "height": 600}
"""Little to draw, and wide enough for the page to be laid out as on a desk. [px]"""


class Opened:
    """A page in the browser, with what it requested and what went wrong in it."""

    def __init__(self, browser, address: str, *, width: int = WINDOW["width"],
                 height: int = WINDOW["height"], **more):
        self.context = browser.new_context(viewport={"width": width, "height": height}, **more)
        self.page = self.context.new_page()
        # How long anything takes is not judged here, and a busy machine takes its time.
        self.page.set_default_timeout(1e3 * PATIENCE)
        self.faults, self.requests, self.expected = [], [], None
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda result: result.type == "error" and self.faults.append(
            f"{result.text} at {result.location.get('url')}"))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(address)
        self.until("window.previz !== undefined")

    def until(self, truth: str, seconds: float = PATIENCE) -> None:
        """Wait until something is true in the page, whose policy forbids playwright's own wait."""
        # The page asks itself: a question from here takes three processes, and a good part of a core.
        held = self.page.evaluate(f"""async () => {{
            for (const end = performance.now() + {1e3 * seconds}; performance.now() < end;) {{
                if ({truth}) return true;
                await new Promise((done) => setTimeout(done, 20));
            }}
            return false; }}""")
        assert held, f"{truth} is not so; the page says {self.said()}"

    def as_written(self) -> None:
        """Take back every change that an earlier test has left on the server."""
        self.page.evaluate("""async () => {
            const { store } = previz;
            // What another page changed last may still be on its way here.
            const held = await (await fetch(new URL("changes.json", document.baseURI))).json();
            const all = Object.keys({ ...held, ...store.changes });
            if (all.length) store.set(Object.fromEntries(all.map((key) => [key, null])));
            store.done.length = store.undone.length = 0;
        }""")
        self.kept()

    def said(self) -> str:
        """Return what the page says to the person."""
        return self.page.evaluate("""["work", "spoilt", "fault", "notice", "drawn", "waiting"].map((id) =>
            document.getElementById(id).textContent).join(" | ")""")

    def settled(self) -> None:
        """Wait until the picture is the one that `previz render` would make."""
        self.until("previz.table.resting")

    def metered(self) -> None:
        """Wait until the meters are those of the lamps as they are set now."""
        # Before the first ones come, nothing is behind yet: a note stands in the table's place.
        self.until("document.getElementById('face-table').getAttribute('aria-busy') === 'false'"
                   " && document.querySelector('#face-table tbody')")

    def pixels(self, *, moving: bool = False) -> np.ndarray:
        """Return what the picture shows, shape (row, column, 3); under a moving hand on request."""
        result = self.page.evaluate("""(moving) => {
            const { table, picture, store } = previz;
            // In one go, so that no settled picture can come in between.
            if (moving) picture.dropSettled();
            if (!picture.settled) picture.mix(table.matrices());
            const codes = picture.pixels(table.exposure(), store.view);
            let text = "";
            for (let i = 0; i < codes.length; i += 8192)
                text += String.fromCharCode(...codes.subarray(i, i + 8192));
            return [picture.element.width, picture.element.height, btoa(text)];
        }""", moving)
        columns, rows, text = result
        codes = np.frombuffer(base64.b64decode(text), np.uint8).reshape(rows, columns, 4)
        return codes[::-1, :, :3]

    def shown(self) -> None:
        """Wait until what was done last is on the page: two frames, the first may be under way."""
        self.page.evaluate("""async () => { for (let i = 0; i < 2; i++)
            await new Promise((done) => requestAnimationFrame(done)); }""")

    def kept(self) -> None:
        """Wait until the server has every change on disk."""
        self.until("previz.source.pending.size === 0")

    def all_open(self) -> None:
        """Open whatever opens, and what that brings along: which there are changes while it is done."""
        for _ in range(3):
            self.page.evaluate("""() => { for (const each of document.querySelectorAll("summary"))
                if (each.checkVisibility() && !each.parentElement.open) each.click(); }""")
            self.shown()

    def close(self) -> None:
        """Close it; nothing may have gone wrong in it but what was expected."""
        self.context.close()
        assert [each for each in self.faults if not self.expected or self.expected not in each] == []


@pytest.fixture(scope="session")
def _kept_open(browser, served):
    page = Opened(browser, served.address)
    yield page
    page.close()


@pytest.fixture
def window():
    """The size of the page that tests share, as it is opened."""
    return WINDOW


@pytest.fixture
def opened(_kept_open, window):
    """The page of a served folder, as written and as if it had just been opened.

    To open one takes a second, most of it for the screen's shader; so tests that leave the page's
    own parts alone share one.
    """
    page = _kept_open
    page.page.unroute_all()
    page.page.set_viewport_size(window)
    page.page.evaluate(AS_OPENED)
    page.as_written()
    return page


AS_OPENED = """() => {
    const { store, keys } = previz;
    delete previz.source.say;
    for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
    for (const details of document.querySelectorAll("details")) details.open = false;
    for (const id of ["notice", "fault"]) previz.hush(id);
    previz.beside.put(null);
    document.activeElement?.blur();
    keys.on = true;
    // A place that is shown is requested, drawn and settled anew, so only where there is another in view.
    const other = store.alone.size || store.option !== "early" || store.camera !== "A";
    store.alone.clear();
    if (other) store.showPlace({ option: "early", camera: "A" });
    store.setView({ mode: "still", wipe: null, waveform: "luma", spot: null, unit: "lx", all: false,
        flick: false, side: null });
    scrollTo(0, 0);
}"""


@pytest.fixture
def fresh(browser, served):
    """A page of a test's own, which may do with its parts what it likes."""
    page = Opened(browser, served.address)
    page.as_written()
    # What another test had left may have been refused; all else that goes wrong while it opens counts.
    page.faults[:] = [each for each in page.faults if "400 (Bad Request)" not in each]
    yield page
    page.kept()
    page.close()


@pytest.fixture(scope="session")
def opened_as():
    """Return what opens a page: browser, address and the context's own settings."""
    return Opened


@pytest.fixture
def open_page(browser):
    """Return a function that opens an address in a context of its own."""
    pages = []

    def opened_at(address: str, **more) -> Opened:
        pages.append(Opened(browser, address, **more))
        return pages[-1]

    yield opened_at
    for page in pages:
        page.close()
