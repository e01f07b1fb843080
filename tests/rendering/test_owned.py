"""Of a cache only what previz wrote is removed, however alike other files are called and linked."""

import hashlib
import os
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from previz import frames as fr
from previz.cli.main import previz
from previz.frames.arrays import sweep, write_array
from previz.frames.batches import Batches, write_meter
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import write_lamp
from previz.frames.whole import write_sealed
from previz.rendering.cache import owned
from previz.rendering.cache.contents import cache_folders, contents_of
from previz.rendering.cache.limit import kept_in, left_in, make_room, set_limit
from previz.rendering.cache.meters import sweep_marks

LONG, OTHER, SHORT = "a1" * 16, "b2" * 16, "c3" * 8
BANDS, ROWS, COLUMNS = 2, 3, 4


def gathered():
    plane = np.ones((ROWS, COLUMNS), np.float32)
    return Gathered(np.ones((BANDS, ROWS, COLUMNS), np.float32), plane, 8.0, 1, 1, plane, plane)


def filled(renders: Path) -> Path:
    """Write one thing of every kind, as previz does, and return the cache."""
    cache = renders / "frames"
    lamp = cache / "lamps" / LONG / SHORT
    for folder in (lamp, lamp / "rows-00000-00002"):
        write_lamp(folder, gathered(), 8.0, {"lamp": "key"})
    grid = (ROWS, COLUMNS)
    planes = {"albedo": np.ones((3, *grid)), "normal": np.ones((3, *grid)), "depth": np.ones(grid),
              "names_index": np.zeros(grid, int)}
    fr.write(cache / LONG, fr.Frames(
        fr.LampSlices([gathered().slices]), np.ones((1, *grid), np.float32),
        planes["albedo"].astype(np.float32), planes["normal"].astype(np.float32),
        planes["depth"].astype(np.float32), planes["names_index"].astype(np.int32), ("key",), ("set",),
        np.linspace(380, 780, BANDS + 1), 8, 1))
    (cache / LONG / ".lock").touch()
    for name in ("albedo", "depth"):
        (cache / "planes" / OTHER).mkdir(parents=True, exist_ok=True)
        write_array(cache / "planes" / OTHER, name, planes[name], np.dtype("<f4"))
    write_sealed(cache / "planes" / OTHER / "planes.json", {"previz_planes": 1, "names": []})
    meters = Batches.empty(("sill",), ("key",), BANDS)
    for name in (LONG, f"{LONG}-0123abcd"):
        write_meter(cache / "meters" / f"{name}.npz", meters, 0)
    mark = cache / "meters" / "near" / OTHER / f"{LONG}.npz"
    mark.parent.mkdir(parents=True)
    mark.touch()
    write_sealed(cache / "meters" / f"{LONG}-rig.json", {"previz_rig": 1, "traces": []})
    write_sealed(cache / "meters" / f"{LONG}.json", {"previz_view": 1, "shares": {}})
    write_sealed(cache / "verdicts" / f"{LONG}.json", {"previz_verdict": 1, "change": []})
    for path, arrays in ((cache / "bodies" / f"{SHORT}.npz", {"0": np.ones(3)}),
                         (cache / "bodies" / f"{'d4' * 8}.npz", {}),
                         (cache / f"haze-{LONG}.npz", {"total": np.ones(3), "done": np.array(1)}),
                         (renders / "page" / LONG / "clean-000.npz", {"bands": np.ones(3)})):
        with fr.whole_file(path) as part, open(part, "wb") as file:
            np.savez(file, **arrays)
    shards = cache / "shards"
    (shards / LONG).mkdir(parents=True)
    write_array(shards / LONG, "pass-00000", planes["depth"], np.dtype("<f4"))
    (shards / ".lock").touch()
    write_sealed(shards / LONG / "unit.json", {"previz_unit": 1, "passes": {}})
    write_sealed(shards / f"{LONG}.lease", {"previz_lease": 1})
    for what in ("plan", "cost"):
        write_sealed(shards / f"{what}-{LONG}.json", {"previz_shards": 1})
    write_sealed(cache / f"together-{'0' * 12}.json", {"previz_together": 1, "files": []})
    # What writes that were cut short have left.
    for path, start in ((lamp / f".slices.0123abcd.npy.{'0' * 12}.part", b"\x93NUM"),
                        (cache / "meters" / f".{LONG}.npz.{'0' * 12}.part", b""),
                        (cache / f".haze-{LONG}.npz.{'0' * 12}.part", b"PK\3\4")):
        path.write_bytes(start)
    owned.mark(renders / "page" / LONG)
    return cache


def listing(*folders: Path) -> dict[str, tuple]:
    """Return every file, link and folder below some folders, with content and time."""
    found = {}
    for folder in folders:
        for root, names, files in os.walk(folder):
            for name in (*names, *files):
                path = Path(root, name)
                about = path.lstat()
                content = (os.readlink(path) if path.is_symlink() else
                           path.read_bytes() if path.is_file() else "folder")
                found[str(path)] = (content, about.st_mtime_ns if content != "folder" else 0)
    return found


def test_everything_that_is_written_can_be_cleared(tmp_path):
    """Of every kind of thing nothing stays but mark, limit, lock and what was changed on the page."""
    cache = filled(tmp_path)
    owned.mark(cache)
    set_limit(cache, 10**9)
    write_sealed(tmp_path / "page" / "changes.json", {"previz_page": 1, "changes": {"a": 1}})
    assert {thing.kind for thing in kept_in(cache)} == {form.kind for form in
                                                        (*owned.FORMS, *owned.CLEANED)}
    assert left_in(cache) == []
    make_room(cache, 0, 0.0)
    files = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")
                   if path.is_file())
    assert files == ["frames/CACHEDIR.TAG", "frames/limit.json", "page/changes.json"]
    assert not list(cache.glob("**/*/*"))


def foreign(renders: Path, outside: Path) -> None:
    """Put files of other people everywhere where the cache lies, and links from it to elsewhere."""
    cache = renders / "frames"
    for path in sorted(path for path in cache.rglob("*") if path.is_file()):
        # The name of a file that previz writes, in a folder called as one of its own.
        twin = Path(str(path).replace(LONG, "e5" * 16).replace(OTHER, "f6" * 16).replace(SHORT, "97" * 8))
        twin.parent.mkdir(parents=True, exist_ok=True)
        if not twin.exists():
            twin.write_text("a plate")
        # Names that are nearly one.
        (path.parent / f"{path.stem} copy{path.suffix}").write_text("a note")
    for name in ("plate/meta.json", "lamps/key/bodies/lamp.json", "notes.txt", "meters/readings.npz",
                 "meters/near/notes/day.npz", "bodies/figure.npz", "verdicts/verdict.json",
                 f"{LONG}/still.png", f"lamps/{LONG}/{SHORT}/slices.npy", ".hidden", "limit.json"):
        (cache / name).parent.mkdir(parents=True, exist_ok=True)
        (cache / name).write_text("a document")
    for name in ("letter/page-1.txt", f"{LONG}/clean-000 copy.npz", f"{OTHER}/clean-000.npz", "plan.pdf"):
        (renders / "page" / name).parent.mkdir(parents=True, exist_ok=True)
        (renders / "page" / name).write_text("a document")
    # What a link leads to is as previz writes it, and still not this cache's.
    elsewhere = filled(outside / "other")
    (cache / ("12" * 16)).symlink_to(elsewhere / LONG)
    (cache / "lamps" / ("12" * 16)).symlink_to(elsewhere / "lamps" / LONG)
    (cache / "lamps" / LONG / ("12" * 8)).symlink_to(elsewhere / "lamps" / LONG / SHORT)
    (cache / "planes" / ("12" * 16)).symlink_to(elsewhere / "planes" / OTHER)
    (cache / "meters" / f"{'12' * 16}.npz").symlink_to(elsewhere / "meters" / f"{LONG}.npz")
    (cache / "meters" / "near" / ("12" * 16)).symlink_to(elsewhere / "meters" / "near" / OTHER)
    (cache / "meters" / f"{'34' * 16}.npz").symlink_to("nowhere")
    (renders / "page" / ("12" * 16)).symlink_to(outside / "other" / "page" / LONG)
    # From outside into the cache.
    (outside / "in").symlink_to(cache)


@pytest.mark.parametrize("how", ["clear", "evict", "command"])
def test_what_others_wrote_is_left(tmp_path, monkeypatch, how):
    """A tree full of foreign files of the same names, links out and links in: all as before."""
    renders, outside = tmp_path / "renders" / "office", tmp_path / "outside"
    cache = filled(renders)
    ours = set(listing(tmp_path))
    foreign(renders, outside)
    before = {path: what for path, what in listing(tmp_path).items() if path not in ours}
    if how == "command":
        monkeypatch.chdir(tmp_path)
        shown = CliRunner().invoke(previz, ["cache", "office.yaml", "--clear"]).output
        assert "Left, as previz did not write it:" in shown
    else:
        make_room(cache, 0 if how == "clear" else 1, 0.0)
        sweep_marks(cache)
    after = listing(tmp_path)
    assert before == {path: what for path, what in after.items() if path in before}
    # And what is previz's own is gone.
    gone = [path for path in ours if not Path(path).is_dir() and path in after]
    assert gone == []
    left = {str(path) for path in left_in(cache)}
    assert {f"{cache}/notes.txt", f"{cache}/plate", f"{cache}/{'12' * 16}",
            f"{renders}/page/letter", f"{cache}/meters/{'34' * 16}.npz"} <= left
    assert all(path in before for path in left)


@pytest.mark.parametrize("where", ["lamps", "meters", "planes", "bodies", "verdicts", "page"])
def test_a_link_in_the_place_of_a_folder_is_not_followed(tmp_path, where):
    """A folder of the cache that is a link elsewhere: nothing there is counted or removed."""
    cache, elsewhere = filled(tmp_path / "office"), tmp_path / "elsewhere"
    folder = tmp_path / "office" / "page" if where == "page" else cache / where
    folder.rename(elsewhere)
    folder.symlink_to(elsewhere)
    before = listing(elsewhere)
    make_room(cache, 0, 0.0)
    sweep_marks(cache)
    assert listing(elsewhere) == before and folder.is_symlink()
    assert left_in(cache) == [folder]


def test_a_cache_on_another_disk_is_cleared_where_previz_has_marked_it(tmp_path):
    """A link in the cache's place is followed once previz has written there; further up, always."""
    cache = filled(tmp_path / "disk")
    office = tmp_path / "renders" / "office"
    office.mkdir(parents=True)
    (office / "frames").symlink_to(cache)
    (cache / "meters" / f"{LONG}.npz").unlink()
    before = listing(tmp_path / "disk")
    make_room(office / "frames", 0, 0.0)
    sweep_marks(office / "frames")
    assert kept_in(office / "frames") == [] and listing(tmp_path / "disk") == before
    owned.mark(office / "frames")
    make_room(office / "frames", 0, 0.0)
    sweep_marks(office / "frames")
    assert [path.name for path in cache.rglob("*") if path.is_file()] == [owned.TAG_NAME]
    # The folder of all renders may be a link as any folder of the user's.
    cache = filled(tmp_path / "big" / "yard")
    (tmp_path / "linked").symlink_to(tmp_path / "big")
    make_room(tmp_path / "linked" / "yard" / "frames", 0, 0.0)
    assert kept_in(cache) == []


def test_the_mark_is_the_standards_and_only_where_nothing_else_lies(tmp_path):
    """Programs that back up leave out what is marked, so a folder with anything else gets no mark."""
    # Cache Directory Tagging Specification: the MD5 of '.IsCacheDirectory', at the very start.
    digest = hashlib.md5(b".IsCacheDirectory", usedforsecurity=False).hexdigest()
    for name, note in (("own", None), ("shared", "plate.tif")):
        cache = filled(tmp_path / name)
        if note:
            (cache / note).write_text("a plate")
        owned.mark(cache)
    text = (tmp_path / "own" / "frames" / "CACHEDIR.TAG").read_text()
    assert text.startswith(f"Signature: {digest}\n") and owned.is_marked(tmp_path / "own" / "frames")
    assert not owned.is_marked(tmp_path / "shared" / "frames")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "CACHEDIR.TAG").write_text(f"Signature: {digest}\n# by another program")
    assert not owned.is_marked(tmp_path / "other")


def test_a_folder_that_is_called_as_a_cache_is_none(tmp_path):
    """Folders of plates called frames are not listed, bounded or cleared."""
    (tmp_path / "film" / "frames").mkdir(parents=True)
    (tmp_path / "film" / "frames" / "0001.png").write_text("a plate")
    filled(tmp_path / "office")
    assert cache_folders(tmp_path) == [tmp_path / "office" / "frames"]


def test_sums_of_haze_are_counted(tmp_path):
    """They are large, and go as all else does."""
    labels = {group.label: group.count for group in contents_of(filled(tmp_path)).groups}
    assert labels["densities of haze"] == 1


def test_arrays_of_earlier_writes_go_and_others_stay(tmp_path):
    """Only names with a checksum are swept, and no links."""
    names = ("slices.0123abcd.npy", "slices.my-plate.npy", "slices.12345678.npy",
             ".slices.0123abcd.npy.0123456789ab.part", ".slices.mine.part")
    for name in names:
        (tmp_path / name).write_text(name)
    (tmp_path / "slices.deadbeef.npy").symlink_to(tmp_path / names[1])
    sweep(tmp_path, ("slices",), {names[2]})
    assert {path.name for path in tmp_path.iterdir()} == {names[1], names[2], names[4], "slices.deadbeef.npy"}
