"""`previz new`: a starter scene from a room's size, a window and a person."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.options import quantity


def lengths(text: str, count: int, example: str) -> tuple[float, ...]:
    """Return lengths with an x between, as '5 m x 4 m x 2.7 m'. [m]"""
    parts = text.replace("×", "x").split("x")
    if len(parts) != count:
        raise click.BadParameter(f"'{text}' is not {count} lengths with an x between; write it "
                                 f"as '{example}'.")
    return tuple(quantity(part.strip(), "length") for part in parts)


def room_size(text: str) -> tuple[float, ...]:
    """Return a room's size, across, deep and high. [m]"""
    return lengths(text, 3, "5 m x 4 m x 2.7 m")


def window_in(text: str) -> tuple[str, tuple[float, ...] | None]:
    """Return (wall, size or None) of 'west' or of 'west, 1.5 m x 1.2 m'."""
    from previz.studies.starter import WALLS

    wall, _, size = (part.strip() for part in text.partition(","))
    if wall not in WALLS:
        raise click.BadParameter(f"'{wall}' is no wall with a window; write one of: {', '.join(WALLS)}, "
                                 "and its size behind a comma, as 'west, 1.5 m x 1.2 m'.")
    return wall, lengths(size, 2, "1.5 m x 1.2 m") if size else None


@click.command()
@click.argument("scene", type=click.Path(path_type=Path))
@click.option("--room", type=room_size, required=True, metavar="SIZE",
              help="Across, deep and high, as '5 m x 4 m x 2.7 m'.")
@click.option("--window", type=window_in, required=True, metavar="WALL[, SIZE]",
              help="The wall that it is in, and its width and height, as 'west, 1.5 m x 1.2 m'.")
@click.option("--person", default="person two", show_default=True, metavar="PERSON",
              help="Which of the built-in persons sits at it.")
@click.option("--outside", type=click.Choice(["day", "dusk", "night"]), default="dusk", show_default=True,
              help="The light outside.")
@click.option("--title", metavar="TEXT", help="The scene's title; its file's name without.")
def command(scene, room, window, person, outside, title):
    """Write SCENE, a file to start from: a room, a window, a person at it, two lamps and a camera.

    It can be rendered as it stands, and says in comments what is what. A file that is there is not
    replaced.
    """
    from previz.errors import RequestError
    from previz.frames.whole import whole_file
    from previz.studies.folders import out_file
    from previz.studies.starter import Start, starter, usual_window

    if scene.suffix not in (".yaml", ".yml"):
        raise RequestError(f"A scene's file ends in .yaml; write '{scene}.yaml'.")
    wall, size = window
    text = starter(Start(room, wall, size or usual_window(room, wall), person, outside, title or scene.stem))
    if scene.exists() or scene.is_symlink():
        raise RequestError(f"'{scene}' is there already, and nothing is replaced; give another name.")
    with whole_file(out_file(scene)) as part:
        part.write_text(text, encoding="utf-8")
    click.echo(f"{scene}: written. Look at it with: previz render {scene} --quality draft")
