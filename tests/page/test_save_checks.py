"""What stands between a look and somebody's scene file: each check of a saved look, and its locks."""

import contextlib
import os
from threading import Barrier, BrokenBarrierError, Thread

import pytest

from previz.errors import DataError
from previz.frames import lock
from previz.page import desk as desk_module
from previz.page.desk import Desk
from previz.page.save import save_look
from previz.scene.read import load
from previz.studies import saving as module
from previz.studies.saving import own_path

TOGETHER = 0.25
"""How long one waits for another who should be kept out. [s]"""


def save(desk, name="dimmed", where="scene"):
    return save_look(desk, {"name": name, "option": "early", "where": where,
                            "look": {"lamps": {"key": {"level": 0.5}}, "cameras": {}}})


def refused(desk, words, **more):
    """Save, which must be refused in words, and leave the file as it was."""
    before = desk.path.read_bytes()
    with pytest.raises(DataError, match=words):
        save(desk, **more)
    assert desk.path.read_bytes() == before
    assert sorted(path.name for path in desk.path.parent.glob("*.yaml")) == ["canteen.yaml"]




@pytest.mark.parametrize("change", [
    lambda text: text.replace(b"output: 1500 lm", b"output: 1501 lm"),
    # One that the look does not go by, and that is therefore not in the new option.
    lambda text: text.replace(b"dimmer: 40 %", b"dimmer: 41 %"),
    lambda text: text.replace(b"  late:", b"  later:"),
])
def test_a_text_that_changes_an_option_is_not_written(desk, monkeypatch, change):
    """Options that were there must be read back as they were, one digit of one of them even."""
    plain = module.with_option

    def spoilt(*given):
        text = plain(*given)
        assert change(text) != text
        return change(text)

    monkeypatch.setattr(module, "with_option", spoilt)
    refused(desk, "nothing can be added to")


@pytest.mark.parametrize("change", [
    lambda lines: [line.replace("50 %", "51 %") for line in lines],
    lambda lines: [line.replace("50 %", "50 %, on: no") for line in lines],
    lambda lines: ["another:", *lines[1:]],
    lambda lines: [line.replace("like: early", "like: late") for line in lines],
])
def test_a_text_that_is_not_the_look_is_not_written(desk, monkeypatch, change):
    """The new option must be read back as the look: its level, its lamps, its name, its base."""
    plain = module.option_lines

    def spoilt(*given):
        lines = plain(*given)
        assert change(lines) != lines
        return change(lines)

    monkeypatch.setattr(module, "option_lines", spoilt)
    refused(desk, "nothing can be added to")


def test_an_edit_during_the_check_is_seen(desk, monkeypatch):
    """Saved by an editor while the text is read back, the file is not what the text was made of."""
    plain = module.load_tree

    def edited(*given):
        made = plain(*given)
        desk.path.write_bytes(desk.path.read_bytes() + b"# by hand\n")
        return made

    monkeypatch.setattr(module, "load_tree", edited)
    with pytest.raises(DataError, match="was changed meanwhile"):
        text = module.with_option(desk.path.read_bytes(), desk.path, "new", ["new: {}"])
        module.check_text(text, desk.file, "new", desk.scene("early"), desk.changed_on_disk)


def test_an_edit_of_the_same_time_and_size_is_seen(desk, monkeypatch):
    """A clock that is coarse, or set back, hides no edit: the bytes themselves are compared."""
    plain = module.check_text

    def edited(*given):
        plain(*given)
        about = desk.path.stat()
        text = desk.path.read_bytes()
        desk.path.write_bytes(text.replace(b"1500 lm", b"1600 lm"))
        os.utime(desk.path, ns=(about.st_atime_ns, about.st_mtime_ns))
        assert not desk.changed_on_disk()

    monkeypatch.setattr(module, "check_text", edited)
    with pytest.raises(DataError, match="was changed meanwhile"):
        save(desk)
    assert b"1600 lm" in desk.path.read_bytes() and b"dimmed" not in desk.path.read_bytes()


def test_who_may_read_it_stays(desk):
    """A file that a group may write, and nobody else read, is so afterwards."""
    desk.path.chmod(0o660)
    save(desk)
    assert desk.path.stat().st_mode & 0o777 == 0o660


def at_once(*work):
    """Run work in threads; return what each gave back or was refused with."""
    found = [None] * len(work)

    def run(number):
        try:
            found[number] = work[number]()
        except DataError as error:
            found[number] = error.message

    threads = [Thread(target=run, args=(number,)) for number in range(len(work))]
    for each in threads:
        each.start()
    for each in threads:
        each.join(30)
    return found


def meeting(plain):
    """Return a function that waits for another caller before it does its work, for a while."""
    barrier = Barrier(2)

    def met(*given):
        with contextlib.suppress(BrokenBarrierError):
            barrier.wait(TOGETHER)
        return plain(*given)

    return met


@pytest.mark.parametrize("programs", ["one, where disks have no locks", "two"])
def test_of_two_looks_saved_at_once_none_is_lost(desk, monkeypatch, programs):
    """Past every check, and before a byte is written, there is never more than one."""
    other = desk
    if programs == "two":
        other = Desk(desk.request)
    else:
        monkeypatch.setattr(lock, "fcntl", None)
    monkeypatch.setattr(module, "whole_file", meeting(module.whole_file))
    found = at_once(lambda: save(desk, "first"), lambda: save(other, "second"))
    saved = {each["option"] for each in found if isinstance(each, dict)}
    assert len(saved) == 1 and "canteen.yaml was changed meanwhile" in found
    assert saved == set(load(desk.path).scenes) & {"first", "second"}


def test_of_two_files_of_one_name_the_first_stays(desk, monkeypatch):
    """That there is no such file yet is known until it is written."""
    monkeypatch.setattr(module, "whole_file", meeting(module.whole_file))
    other = Desk(desk.request)
    found = at_once(lambda: save(desk, where="own file"), lambda: save(other, where="own file"))
    assert sorted(map(type, found), key=str) == [dict, str]
    assert own_path(desk.path, "dimmed").is_file()


def test_a_file_called_as_the_changes_is_left(desk):
    """What previz did not write is not written over; a torn one of its own is."""
    path = desk.folder / desk_module.CHANGES_NAME
    desk.folder.mkdir(exist_ok=True)
    path.write_text("a document")
    with pytest.raises(DataError, match="Move it away"):
        desk.change({"early|lamp|key": {"level": 0.5}})
    assert path.read_text() == "a document"
    path.write_text('{\n "previz_page": 1, "ch')
    desk.change({"early|lamp|key": {"level": 0.5}})
    assert Desk(desk.request).changes == {"early|lamp|key": {"level": 0.5}}


def test_changes_of_two_pages_are_both_kept(desk, monkeypatch):
    """Each page writes what it was told and what the other wrote."""
    other = Desk(desk.request)
    monkeypatch.setattr(desk_module, "write_sealed", meeting(desk_module.write_sealed))
    at_once(lambda: desk.change({"early|lamp|key": {"level": 0.5}}),
            lambda: other.change({"early|lamp|rim": {"level": 0.25}}))
    assert Desk(desk.request).changes == {"early|lamp|key": {"level": 0.5}, "early|lamp|rim": {"level": 0.25}}
