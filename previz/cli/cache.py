"""`previz cache`: show what is kept of a scene's renders, bound it, clear it."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from previz.cli.options import out_folder, out_option

if TYPE_CHECKING:
    from previz.rendering.cache.contents import Contents


MOST_NAMED = 5
"""Most foreign files that are named."""


def disk_size(text: str) -> int:
    """Return the bytes of a size on the disk, of '500 MB' or '20 GB'."""
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(MB|GB|TB)\s*", text, re.IGNORECASE)
    if not found:
        raise click.BadParameter(f"'{text}' is no size on a disk; write '500 MB' or '20 GB'.")
    return int(float(found[1]) * {"mb": 10**6, "gb": 10**9, "tb": 10**12}[found[2].lower()])


@click.command()
@click.argument("scene", type=click.Path(path_type=Path), required=False)
@out_option("Where the scene was rendered to; renders/<scene> by default.")
@click.option("--limit", type=disk_size, metavar="SIZE",
              help="Keep at most so much from now on, '20 GB'; what was not used for longest goes.")
@click.option("--clear", is_flag=True, help="Remove all of it. Delivered files stay.")
def command(scene: Path | None, out: Path | None, limit: int | None, clear: bool) -> None:
    """Show what is kept of the renders of SCENE, or of every scene under renders/.

    What is kept is only ever a matter of time: whatever is missing is rendered again. Files that
    previz did not write are never removed, nor is what a link leads to; --clear says what it left.
    """
    from previz.rendering.cache.contents import contents_of
    from previz.rendering.cache.limit import left_in, make_room, set_limit

    caches = _caches(scene, out, clear or limit is not None)
    if not caches:
        click.echo("Nothing is kept: no scene has been rendered here.")
        return
    for cache in caches:
        if limit is not None:
            set_limit(cache, limit)
            make_room(cache)
        if clear:
            make_room(cache, 0, 0.0)
        for line in _lines(contents_of(cache)):
            click.echo(line)
        if clear:
            _say_left(left_in(cache))


def _caches(scene: Path | None, out: Path | None, write: bool) -> list[Path]:
    from previz.rendering.cache.contents import cache_folders, is_cache

    if scene is not None or out is not None:
        cache = out_folder(out, scene or Path("scene"), write=write, take=False) / "frames"
        return [cache] if is_cache(cache) else []
    return cache_folders()


def _say_left(left: list[Path]) -> None:
    """Say what --clear has left where it is."""
    if left:
        more = f" and {len(left) - MOST_NAMED} more" if len(left) > MOST_NAMED else ""
        click.echo(f"  Left, as previz did not write it: {', '.join(map(str, left[:MOST_NAMED]))}{more}.")


def _lines(contents: Contents) -> Iterator[str]:
    yield f"{contents.folder}: {_size(contents.size)} of at most {_size(contents.limit)}"
    for group in contents.groups:
        yield (f"  {_size(group.size):>8}  used {_ago(time.time() - group.used):>12}  {group.label} "
               f"({group.count})")


def _size(count: float) -> str:
    for unit, size in (("GB", 10**9), ("MB", 10**6)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count / 1000:.0f} kB"


def _ago(seconds: float) -> str:
    for unit, size in (("days", 86400), ("h", 3600), ("min", 60)):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit} ago"
    return "just now"
