"""Scene files, their options, and shots of them, as values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from previz.errors import RequestError, resources_told
from previz.library.settings import Settings, check, request_of
from previz.scene.read import SceneFile, load
from previz.studies.selection import no_camera, select_one

if TYPE_CHECKING:
    import numpy as np

    from previz.rendering.request import Request
    from previz.scene.wants import Want
    from previz.studies.balance import Balance
    from previz.studies.meter import Metered
    from previz.studies.render import Rendered
    from previz.studies.render import Shot as RenderedShot

LAMP_FIELDS = ("dimmer", "on", "cct", "duv", "gel")
"""What can be changed of a lamp without rendering."""


def open(path: str | PathLike[str]) -> File:
    """Return a scene file, read and checked.

    Parameters
    ----------
    path : path-like

    Raises
    ------
    SceneError
        With every problem of the file, each with its line and what to write.

    Examples
    --------
    >>> import previz
    >>> file = previz.open("scenes/signal-cabin.yaml")
    >>> file.options
    ('bounce', 'direct')
    >>> file["bounce"].cameras
    ('A',)
    """
    return File(path)


class File:
    """A scene file: its options by their names, '' for the scene as written.

    Parameters
    ----------
    path : path-like
    """

    @resources_told()
    def __init__(self, path: str | PathLike[str]):
        self.file: SceneFile = load(path)

    @property
    def path(self) -> Path:
        """The file."""
        return self.file.path

    @property
    def title(self) -> str:
        """Its title; '' for none."""
        return self.file.title

    @property
    def options(self) -> tuple[str, ...]:
        """Names of its options, in the order written."""
        return self.file.option_names

    def __getitem__(self, option: str) -> Option:
        """Return an option; '' is the scene as written."""
        if option:
            select_one(option, self.options, "option")
        return Option(self.file, option)

    def __iter__(self) -> Iterator[str]:
        """Yield the names of the options."""
        return iter(self.options)

    def __len__(self) -> int:
        return len(self.options)

    def __repr__(self) -> str:
        return f"<previz file {self.path}: {', '.join(self.options) or 'no options'}>"


class Option:
    """A scene with one of its options applied.

    Parameters
    ----------
    file : SceneFile
    name : str
        '' for the scene as written.
    """

    def __init__(self, file: SceneFile, name: str):
        self.file, self.name = file, name
        self.scene = file.scene(name or None)

    @property
    def cameras(self) -> tuple[str, ...]:
        """Names of its cameras."""
        return tuple(camera.name for camera in self.scene.cameras)

    @property
    def lamps(self) -> tuple[str, ...]:
        """Names of its lamps, with those of sun, moon and sky."""
        from previz.stage.outdoors import build_daylight

        outdoors = build_daylight(self.scene.daylight, 0)[0]
        return (*(light.name for light in self.scene.lights), *(lamp.name for lamp in outdoors))

    @resources_told()
    def render(self, camera: str = "", *, noise: float | None = None, seconds: float | None = None,
               **settings: Unpack[Settings]) -> Shot:
        """Return what a camera sees, rendered and metered.

        Parameters
        ----------
        camera : str
            The first that there is without it.
        noise : float, optional
            Refine in rounds until faces, or the picture without any, are as noisy as that. [1]
        seconds : float, optional
            Refine in rounds for so long, meters included. [s]
        **settings
            See `Settings`.

        Raises
        ------
        RequestError
            There is no such camera or setting.
        SceneError
            A mesh or picture that the scene names cannot be used.
        EngineError
            The renderer cannot run here.
        ResourceError
            There is not enough memory or disk for it.

        Examples
        --------
        >>> import previz
        >>> option = previz.open("scenes/signal-cabin.yaml")["bounce"]
        >>> shot = option.render("A", size=(64, 36), quality="draft", samples=1)  # doctest: +SKIP
        """
        from previz.studies.render import render

        if not self.cameras:
            raise no_camera()
        name = select_one(camera, self.cameras, "camera")
        request, progress = request_of(self.file.path, settings)
        found = render(self.file, request, options=[self.name], cameras=[name], noise=noise,
                       seconds=seconds, progress=progress)
        return Shot(self, found.shots[0], found.title, request)

    @resources_told()
    def meters(self, cameras: Sequence[str] = (), **words: Any) -> Metered:
        """Return what its meters read: every face, mark and meter, and the cameras' spot meters.

        Parameters
        ----------
        cameras : sequence of str
            Whose settings stops are counted at, and whose spot meters read; all without any.
        **words
            Fields of `studies.meter.Meters` (spots, no_spots, key_lamps, patches, skies,
            reference, seconds) and of `Settings`; `error` is usually 0.01.

        Raises
        ------
        RequestError
            There is no such camera, lamp, thing or word.
        """
        from previz.studies.meter import Meters, meter

        own = [each.name for each in fields(Meters) if each.name != "cameras"]
        check(words, [*own, *Settings.__annotations__], "word")
        request, progress = request_of(self.file.path, {
            key: value for key, value in words.items() if key not in own})
        kept: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value
                for key, value in words.items() if key in own}
        return meter(self.file, request, options=[self.name],
                     meters=Meters(cameras=tuple(cameras), **kept), progress=progress)

    def balance(self, wants: Sequence[str | Want] = (), **words: Any) -> Balance:
        """Return the levels, colours and exposure that come nearest to what is wanted.

        See `previz.balance`.
        """
        from previz.library.studies import balance

        return balance(self, wants, **words)

    def __repr__(self) -> str:
        return f"<previz option {self.name or 'as written'} of {self.file.path}>"


class Shot:
    """What a camera sees, its map and its meters. Notebooks show it as a picture.

    Made by `Option.render`.
    """

    def __init__(self, option: Option, shot: RenderedShot, title: str, request: Request,
                 changed: tuple[dict[str, Any], dict[str, Any]] = ({}, {}), base: RenderedShot | None = None):
        self.option, self.shot = option, shot
        self._title, self._request = title, request
        self._changed, self._base = changed, base or shot

    @property
    def camera(self) -> str:
        """Name of the camera."""
        return self.shot.camera.name

    @property
    def still(self) -> np.ndarray:
        """The picture through the ACES output transform, uint8, shape (row, column, 3), sRGB."""
        return self.shot.developed.still

    @property
    def linear(self) -> np.ndarray:
        """Scene-linear light in ACEScg, exposed and balanced, denoised; 0.18 is mid grey.

        float32, shape (row, column, 3). [1]
        """
        import numpy as np

        return np.moveaxis(self.shot.developed.linear, 0, -1)

    @property
    def map(self) -> np.ndarray:
        """The exposure map in false colour, uint8, shape (row, column, 3), sRGB."""
        return self.shot.chart.picture()

    @property
    def result(self) -> Rendered:
        """The numbers of this shot alone, and its sheet."""
        from previz.studies.render import Rendered

        return Rendered(self._title, (self.shot,))

    @resources_told()
    def with_lamps(self, lamps: Mapping[str, Mapping[str, Any]] | None = None, /,
                   **more: Any) -> Shot:
        """Return this shot with other levels, colours and camera settings; nothing is rendered.

        Parameters
        ----------
        lamps : mapping of str to mapping, optional
            By lamp: `dimmer` (share of its light, of sun and sky of what the scene says), `on`,
            `cct` [K], `duv` [1], `gel` (a trade name or a list).
        **more
            The same for lamps whose names are Python names, and the camera's `stop`, `iso`,
            `shutter` [deg], `nd`, `white_balance` [K] and its Duv. A stop changes the exposure; the
            depth of field is that of the stop that was rendered.

        Raises
        ------
        RequestError
            There is no such lamp or field, a value is out of range, or the change needs a render.

        Examples
        --------
        >>> shot.with_lamps({"desk lamp": {"on": False}}, key={"dimmer": 0.4}, stop=4.0)  # doctest: +SKIP
        """
        from previz.studies.changes import CAMERA_FIELDS, changes_from
        from previz.studies.relit import relit

        values = {**(lamps or {}), **more}
        known = [lamp.name for lamp in self.shot.stage.lamps]
        camera = {key: values.pop(key) for key in CAMERA_FIELDS
                  if key in values and not isinstance(values[key], Mapping)}
        unknown = [key for key in values if key not in known]
        if unknown:
            raise RequestError(
                f"nothing called '{unknown[0]}' can be changed without rendering",
                f"Lamps: {', '.join(known) or 'none'}. Of the camera: {', '.join(CAMERA_FIELDS)}.")
        of_lamps, of_camera = self._changed
        merged = {name: {**of_lamps.get(name, {}), **_lamp(name, values.get(name, {}))}
                  for name in (*of_lamps, *values)}
        settings = {**of_camera, **camera}
        changes = changes_from(merged, {self.camera: settings} if settings else {})
        shot = relit(self._base, self.option.scene, changes, self._request)
        return Shot(self.option, shot, self._title, self._request, (merged, settings), self._base)

    def rows(self) -> list[dict[str, Any]]:
        """Return every number of its sheet, map and meters; see `studies.result.Result.rows`."""
        return self.result.rows()

    def to_json(self) -> str:
        """Return the rows as JSON, with the meaning of each quantity."""
        return self.result.to_json()

    def to_csv(self) -> str:
        """Return the rows as CSV."""
        return self.result.to_csv()

    def sheet(self, path: str | PathLike[str]) -> list[Path]:
        """Write its sheet under a name without its ending; return the files."""
        return self.result.sheet(Path(path))

    def _repr_png_(self) -> bytes:
        """Return the still as a PNG file, which notebooks show."""
        from PIL import Image

        from previz.deliver.atomic import packed_png

        return packed_png(Image.fromarray(self.still), {"Title": self._title, "Description": repr(self)},
                          photo=True)

    def __repr__(self) -> str:
        rows, columns = self.still.shape[:2]
        return f"<previz shot {self.option.name or 'as written'}, camera {self.camera}, {columns}x{rows}>"


def _lamp(name: str, values: Any) -> dict[str, Any]:
    """Return what is changed of a lamp, a single gel as a list."""
    if not isinstance(values, Mapping):
        raise RequestError(f"what is changed of '{name}' is {values!r}",
                           f"Give its fields, as {{'dimmer': 0.5}}. There are: {', '.join(LAMP_FIELDS)}.")
    made = dict(values)
    if "gel" in made:
        made["gel"] = [made["gel"]] if isinstance(made["gel"], (str, Mapping)) else list(made["gel"])
    return made
