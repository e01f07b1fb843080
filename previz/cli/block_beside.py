"""A process beside `previz block` that reads mesh files, finds first hits by GL and draws one view.

The first two take long imports, which run on another core here while the scene is read and staged;
and a driver that crashes takes this process with it, not the command.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading

PIPE = 1 << 20
"""Room in the pipes; a picture of hits is 15 MB. [B]"""


class Beside:
    """The process, as the command sees it; a context manager. It starts at once and is not waited for.

    Parameters
    ----------
    size : (int, int)
        Of the drawings that will be asked for. [px]
    """

    def __init__(self, size: tuple[int, int]):
        # A file that is broken or a driver that chats is told of in this process, not there.
        self._process = subprocess.Popen(
            # -P: what lies beside the scene is not to be taken for a module.
            [sys.executable, "-P", "-m", "previz.cli.block_beside", *map(str, size)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        for pipe in (self._process.stdin, self._process.stdout):
            _widen(pipe)
        self._reading, self._files = (), {}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self) -> None:
        """End the process."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            # What was still to be written has nobody to read it.
            with contextlib.suppress(OSError):
                pipe.close()
        self._process.wait()

    def _ask(self, question) -> None:
        with contextlib.suppress(OSError):
            pickle.dump(question, self._process.stdin, pickle.HIGHEST_PROTOCOL)
            self._process.stdin.flush()

    def _answer(self):
        """Return (whether it worked, the answer or why not)."""
        try:
            return pickle.load(self._process.stdout)
        except (OSError, EOFError, pickle.UnpicklingError):
            # One that has not ended by itself is of no more use.
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(1)
            self._process.kill()
            return False, f"the process that draws ended with {self._process.wait()}"

    def read_ahead(self, paths) -> None:
        """Have files read that `read_parts` will be asked for; to be called once, before all else.

        Parameters
        ----------
        paths : list of str
        """
        self._reading = tuple(paths)
        self._ask(self._reading)

    def read_parts(self, path: str) -> list:
        """Return every mesh of a file, as `mesh_files.read_parts` does.

        Parameters
        ----------
        path : str

        Raises
        ------
        Exception
            Of nearly any kind, on a broken file.
        """
        self._take_files()
        if path in self._files:
            return self._files[path]
        from previz.stage.mesh_files import read_parts

        # Read here, where every library is whole and an error is the reader's own.
        return read_parts(path)

    def _take_files(self) -> None:
        if self._reading is not None:
            worked, answer = self._answer()
            self._files, self._reading = (answer if worked else {}), None

    def look(self, views):
        """Ask for what is seen in each view; return what yields it, the next one looked at meanwhile.

        Parameters
        ----------
        views : list of (View, str)
            With the name of the option; '' for the scene as it is written.

        Yields
        ------
        FirstHits or PIL.Image.Image
            The last view comes drawn, as by then this process has nothing else to do.

        Raises
        ------
        NoGraphicsError
            There is no GL, or it failed at the view that was to come.
        """
        self._take_files()
        # All at once, as the views of an option have most of their stage in common.
        self._ask(views)
        return self._seen(len(views))

    def _seen(self, count):
        from previz.deliver.blocking.hits import NoGraphicsError

        for number in range(count):
            worked, answer = self._answer()
            if not worked:
                raise NoGraphicsError(answer)
            if number + 1 == count:
                # It takes a moment to end, which need not be waited for.
                self._process.kill()
            yield answer


def _widen(pipe) -> None:
    """Give a pipe more room, where the system has it to give."""
    # Only Linux has the call, and it may refuse: pipes of a user have a limit together.
    with contextlib.suppress(ImportError, AttributeError, OSError):
        import fcntl

        fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, PIPE)


def _serve(questions, answers, size) -> None:
    """Read the files that are asked for first, then look until nobody asks any more."""
    # trimesh does without these, of which neither reading a file nor drawing has any need; to
    # import them takes longer than all the rest.
    sys.modules["scipy"] = sys.modules["networkx"] = None

    def answer(worked, told):
        pickle.dump((worked, told), answers, pickle.HIGHEST_PROTOCOL)
        answers.flush()

    from previz.stage.mesh_files import import_trimesh

    import_trimesh()  # Before anything is asked, as it takes longest.
    # Until the meshes are wanted there is nobody who takes them, and GL can be opened.
    telling = threading.Thread(target=answer, args=(True, _files(pickle.load(questions))))
    telling.start()
    eye, fault = _opened(size)
    telling.join()
    # Likewise before it is wanted.
    from previz.deliver.blocking.drawing import draw_view

    views = pickle.load(questions)
    for number, (view, option) in enumerate(views):
        if eye is None:
            answer(False, fault)
            return
        try:
            found = eye.first_hits(view.stage, view.camera, *view.grid)
            if number + 1 == len(views):
                found = draw_view(view, found, size, option)
        # Whatever fails in a driver, the engine takes its place.
        except Exception as error:
            answer(False, str(error))
            return
        answer(True, found)
    # The command ends this process, which takes a driver longer; or is itself gone.
    questions.read()


def _files(paths) -> dict:
    """Return the meshes of each file that can be read."""
    from previz.stage.mesh_files import read_parts

    read = {}
    for path in paths:
        # The command reads a broken file again, and says what is wrong with it.
        with contextlib.suppress(Exception):
            read[path] = read_parts(path)
    return read


def _opened(size):
    """Return (a warm eye, None), or (None, why there is none)."""
    from previz.deliver.blocking.hits import GlEye
    from previz.deliver.blocking.views import grid_of

    try:
        eye = GlEye()
        # The first picture takes longest: shaders are compiled and buffers of its size made for it.
        eye.warm(*grid_of(*size))
    except Exception as error:
        return None, str(error)
    return eye, None


def _main() -> None:
    # The command ends this process, also when it is itself interrupted.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Drivers write to the standard output, which carries the answers.
    with os.fdopen(os.dup(1), "wb") as answers, contextlib.suppress(BrokenPipeError, EOFError):
        os.dup2(2, 1)
        _serve(sys.stdin.buffer, answers, tuple(map(int, sys.argv[1:])))


if __name__ == "__main__":
    _main()
