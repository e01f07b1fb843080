"""`previz times`: a scene over the hours of a day, with the sun where it stands."""

from __future__ import annotations

import datetime

import click

from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
    quantity,
    scene_of,
)
from previz.cli.progress import TerminalProgress, drawn
from previz.cli.saved import refuse_name, save_lamp

MOST = 24
"""Most times of one sheet."""


def clock(text: str) -> datetime.time:
    """Return a time of day, of '16:30'."""
    try:
        return datetime.time.fromisoformat(text if len(text) > 4 else f"0{text}")
    except ValueError:
        raise click.BadParameter(f"'{text}' is no time of day; write it as '16:30'.") from None


def time_zone(text: str) -> datetime.tzinfo:
    """Return a time zone, of '+01:00' or of a name such as 'Europe/Paris'."""
    from previz.scene.moment import zone_of

    found = zone_of(text.strip())
    if found is None:
        raise click.BadParameter(f"'{text}' is no time zone; write the hours from UTC, as '+01:00'.")
    return found


def spot(text: str) -> tuple[float, float]:
    """Return (latitude, longitude) of '52.5, 13.4', north and east positive. [deg]"""
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError:
        latitude = longitude = 999.0
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise click.BadParameter(f"'{text}' is no place; write latitude and longitude in degrees, north and "
                                 "east positive, as '52.5, 13.4'.")
    return latitude, longitude


def length(text: str) -> float:
    """Return how far outside a lamp stands. [m]"""
    found = quantity(text, "length")
    if not 0.2 <= found <= 500:
        raise click.BadParameter(f"'{text}' is out of range; write 0.2 m to 500 m.")
    return found


@click.command(cls=Timed)
@SCENE
@click.option("--place", type=spot, required=True, metavar="LAT,LON",
              help="Where it is, in degrees, north and east positive: '52.5, 13.4'.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), required=True, metavar="YYYY-MM-DD",
              help="The day.")
@click.option("--zone", type=time_zone, required=True, metavar="ZONE",
              help="Of the times: '+01:00', or a name such as 'Europe/Paris'.")
@click.option("--at", "given", type=clock, multiple=True, metavar="HH:MM",
              help="A time of day; may be given again.")
@click.option("--from", "first", type=clock, metavar="HH:MM", help="First of a row of times.")
@click.option("--to", "last", type=clock, metavar="HH:MM", help="Last of a row of times.")
@click.option("--every", type=click.IntRange(5, 720), default=60, show_default=True,
              metavar="MINUTES", help="Step of a row of times.")
@ONE_OPTION
@click.option("--camera", default="", metavar="NAME", help="The camera; the first by default.")
@click.option("--on", "figure", default="", metavar="FIGURE",
              help="The face; the camera's own subject by default.")
@click.option("--throw", type=length, default="10 m", show_default=True, metavar="LENGTH",
              help="How far outside the opening a lamp for the sun would stand.")
@click.option("--helps", "least", type=click.FloatRange(0.1, 6), default=1.0, show_default=True,
              metavar="STOPS", help="From how much on the face the sun counts as help.")
@click.option("--save", "saved", default=None, metavar="NAME",
              help="Write an option of that name into SCENE: the lamp outside in the sun's place, aimed, "
                   "with its beam, light and colour, and the sun hidden.")
@click.option("--save-at", type=clock, metavar="HH:MM",
              help="Which of the times' suns that lamp is for; needed where there are several.")
@SIZE
@QUALITY
@PATHS
@SHEET
def command(scene, place, date, zone, given, first, last, every, option, saved, save_at, out, size, quality,
            samples, seed, bands, backend, as_json, as_csv, **study):
    """Show SCENE at several times of a day: pictures, what of the face is the sun's, where it
    stops helping, and how large a lamp outside would stand in for it. The sun of the scene is
    moved to where it stands at that place and time; strength and colour follow its altitude.
    With --save that lamp is written as an option.

    Times are given one by one with --at, or as a row with --from and --to.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.times import times

    moments = [datetime.datetime.combine(date.date(), each, zone)
               for each in clock_times(given, first, last, every)]
    lamp_at = None
    if save_at is not None and saved is None:
        raise click.UsageError("--save-at needs --save with the option's name.")
    if saved is not None:
        if save_at is None and len(moments) > 1:
            raise click.UsageError("--save needs --save-at with one of the times: each sun has a lamp of "
                                   "its own.")
        lamp_at = moments[0] if save_at is None else datetime.datetime.combine(date.date(), save_at, zone)
    file, lit = scene_of(scene, option)
    if saved is not None:
        refuse_name(file, saved)
    stem = sheet_stem("times", (option or "", study["camera"], f"{date:%Y-%m-%d}"), quality)
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    day = times(lit, request, moments=moments, latitude=place[0], longitude=place[1],
                title=file.title or scene.stem, lamp_at=lamp_at, progress=TerminalProgress(), **study)
    print_rows(day, as_json, as_csv, drawn(lambda: day.sheet(folder / stem)))
    if saved is not None and day.lamp is not None:
        save_lamp(file, saved, option or "", day.lamp)
    print_doubts([(hour.label, hour.measures.short) for hour in day.hours])


def clock_times(given, first, last, every: int) -> list[datetime.time]:
    """Return the requested times, in order: single ones, and a row of them with a step in minutes.

    Raises
    ------
    click.UsageError
        There are none or too many, or the row has one end only or runs backwards.
    """
    found = {t.hour * 60 + t.minute for t in given}
    if (first is None) != (last is None):
        raise click.UsageError("A row of times needs --from and --to.")
    if first is not None:
        start, end = (t.hour * 60 + t.minute for t in (first, last))
        if end < start:
            raise click.UsageError("--to lies before --from.")
        found |= set(range(start, end + 1, every))
    if not found:
        raise click.UsageError("Give times of day, as --at 16:30, or a row, as --from 8:00 "
                               "--to 18:00.")
    if len(found) > MOST:
        raise click.UsageError(f"That is {len(found)} times; {MOST} are the most of one sheet.")
    return [datetime.time(minutes // 60, minutes % 60) for minutes in sorted(found)]
