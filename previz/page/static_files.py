"""The page's own files: a fixed list, read from the package; no path leads anywhere else."""

from __future__ import annotations

from importlib import resources

KINDS = {".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8",
         ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}


def static_files() -> dict[str, tuple[str, str]]:
    """Return name -> (media type, text) of every file of the page."""
    files = {}
    for entry in sorted(resources.files("previz.page").joinpath("static").iterdir(),
                        key=lambda each: each.name):
        kind = KINDS.get("." + entry.name.rpartition(".")[2])
        if kind and entry.is_file():
            files[entry.name] = (kind, entry.read_text(encoding="utf-8"))
    return files
