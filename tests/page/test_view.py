"""Cameras with a look of their own: the page shows them as `previz render` does, each by its own view."""

import shutil

import numpy as np
import pytest
import shows

pytestmark = pytest.mark.slow

ONE_CODE = 1

SEEN = """\
  seen:
    like: early
    cameras:
      A: {latitude: {over: 1.5, under: 4}, show: {file: mixed.cube, takes: acescct, gives: bt.1886}}
  graded: {like: early, cameras: {A: {show: {file: looks.ccc, decision: evening}}}}
  shaped: {like: early, cameras: {A: {show: {file: shaped.clf, gives: srgb}}}}
"""

# A curve on linear light before a cube, as a common LUT (S-2014-006) has them.
SHAPED = """<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="shaped" compCLFversion="3">
  <InputDescriptor>ACEScg</InputDescriptor>
  <LUT1D inBitDepth="32f" outBitDepth="32f"><Array dim="%d 1">%s</Array></LUT1D>
  <LUT3D inBitDepth="32f" outBitDepth="32f" interpolation="trilinear"><Array dim="3 3 3 3">%s</Array></LUT3D>
</ProcessList>
"""


def mixed(r, g, b):
    return (r**1.3 * 0.9 + 0.05 * b, 0.8 * g + 0.1 * r * r, 0.5 * b + 0.3 * g + 0.05)


def shaped():
    """Return a common LUT: more steps than one row of a texture has, then a cube of three."""
    # Red changes slowest here, other than in a .cube.
    thirds = [0, 0.5, 1]
    cube = [" ".join(f"{v:.6f}" for v in mixed(r, g, b)) for r in thirds for g in thirds for b in thirds]
    return SHAPED % (5000, " ".join(f"{(k / 4999) ** 0.4:.6f}" for k in range(5000)), "\n".join(cube))


@pytest.fixture(scope="module")
def seen_folder(furnished, tmp_path_factory):
    """A furnished folder with options of such cameras."""
    folder = tmp_path_factory.mktemp("seen") / "depot"
    shutil.copytree(furnished, folder)
    (folder / "mixed.cube").write_text(shows.cube(9, mixed), encoding="utf-8")
    (folder / "looks.ccc").write_text(shows.CDL, encoding="utf-8")
    (folder / "shaped.clf").write_text(shaped(), encoding="utf-8")
    path = folder / "canteen.yaml"
    path.write_text(path.read_text(encoding="utf-8") + SEEN, encoding="utf-8")
    return folder


def far(one, other):
    assert one.shape == other.shape
    return np.abs(one.astype(int) - other.astype(int)).max()


def test_each_camera_is_the_still_by_its_own_view(seen_folder, serve, open_page, render):
    """Cube, latitude, decision and common LUT within a code of the still; then the plain view."""
    stills = {name: render(seen_folder, name) for name in ("early", "seen", "graded", "shaped")}
    page = open_page(serve(seen_folder).address + "#option=seen&camera=A")
    page.settled()
    assert far(page.pixels(), stills["seen"]) <= ONE_CODE
    assert "holds +1.5 and \N{MINUS SIGN}4 stops, through mixed.cube" in page.said()
    page.page.keyboard.press("p")
    page.until("previz.picture.pin && !previz.table.pinRequest", 20)
    for name in ("graded", "shaped", "early"):
        page.page.evaluate(f"previz.store.showPlace({{ option: '{name}', camera: 'A' }})")
        page.until(f"previz.table.set?.option === '{name}' && previz.table.resting", 20)
        assert far(page.pixels(), stills[name]) <= ONE_CODE, name
    assert min(far(stills["early"], stills[name]) for name in ("seen", "graded", "shaped")) > 20
    # Left of the wipe is the pinned camera by its own view, right of it the one in hand by its.
    page.page.keyboard.press("w")
    wiped, half = page.pixels(), stills["seen"].shape[1] // 2
    assert far(wiped[:, :half], stills["seen"][:, :half]) <= ONE_CODE
    assert far(wiped[:, half:], stills["early"][:, half:]) <= ONE_CODE


def test_under_a_moving_hand_and_anew_when_the_file_is_exported_again(seen_folder, serve, open_page, render):
    """The quick cube is of the view that is shown; a file that was written anew is seen."""
    page = open_page(serve(seen_folder).address + "#option=seen&camera=A")
    page.settled()
    whole = page.pixels().astype(int)
    quick = page.page.evaluate("""() => {
        const { table, picture, store } = previz, { width, height } = picture.element;
        picture.pass(null, width, height, table.exposure(), store.view, "cube");
        return [...picture.read(width, height)];
    }""")
    quick = np.array(quick).reshape(*whole.shape[:2], 4)[::-1, :, :3]
    # The corner where it clips and the toe lie between steps of the quick cube.
    assert np.abs(quick - whole).mean() < 2.5
    before = page.page.evaluate("[previz.table.frames.key, previz.table.frames.view]")
    (seen_folder / "mixed.cube").write_text(shows.cube(3, lambda r, g, b: (b, g, r)), encoding="utf-8")
    page.until(f"previz.table.frames?.view !== {before[1]!r} && previz.table.resting", 60)
    assert page.page.evaluate("previz.table.frames.key") == before[0]
    assert far(page.pixels(), render(seen_folder, "seen")) <= ONE_CODE
    (seen_folder / "mixed.cube").write_text("LUT_3D_SIZE 3\n", encoding="utf-8")
    page.until("document.getElementById('spoilt').textContent.includes('mixed.cube')", 60)
    (seen_folder / "mixed.cube").write_text(shows.cube(9, mixed), encoding="utf-8")
    page.until("document.getElementById('spoilt').textContent === '' && previz.table.resting", 60)


def test_a_hand_out_has_the_view_of_each_camera(seen_folder, furnish, cleaned, about, open_page, tmp_path):
    """Two cameras of one option, one with a look: from a file, both as the server shows them."""
    from furnished import request_for

    from previz.page.answers import ANSWERS
    from previz.page.desk import Desk

    for camera in "AB":
        cleaned(seen_folder, "seen", camera)
    body = ANSWERS["handout.html"](Desk(request_for(seen_folder)), {
        "option": "seen", "camera": "A", "all_cameras": "1"}).body
    (tmp_path / "lights.html").write_bytes(body)
    page = open_page((tmp_path / "lights.html").as_uri(), offline=True)
    for camera in "ABA":
        page.page.evaluate(f"previz.store.showPlace({{ camera: '{camera}' }})")
        page.until(f"previz.table.set?.camera === '{camera}' && !previz.table.drawing")
        from previz.exposure.camera import expose
        from previz.exposure.viewing import seen_8bit
        from previz.page.clean import read_clean
        from previz.physics.light import lamp_band_xyz

        request, total = about(seen_folder, "seen", camera=camera), 0.0
        for lamp in request.lamps():
            frames = request.found.frames
            bands, scale = read_clean(request.found.clean, frames, frames.lights.index(lamp.name))
            weights = lamp_band_xyz(lamp, len(bands)) * scale
            total = total + np.einsum("brk,bc->crk", bands.astype(float), weights)
        assert (request.settings.show is not None) == (camera == "A")
        expected = seen_8bit(expose(total, request.settings), request.settings).astype(int)
        difference = np.abs(page.pixels().astype(int) - expected)
        assert difference.mean() < 0.5 and np.percentile(difference, 99.5) <= 4, camera
