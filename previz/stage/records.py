"""The Stage: a scene with every number in SI units and nothing implied.

The records here are the whole contract between the description of a scene and the engine. Many
kinds of lamp, board and figure become a few things that light knows about: triangles with
a surface, emitting triangles with an angular table, a sun, a sky, clear panes, and guides. They stay in
one file, long as it is: whoever writes an engine reads it from top to bottom and has read it all.

World axes: x across (east), y deep (north), z up. Lengths in m. Spectra are sampled on
`previz.physics.spectra.WAVELENGTHS_NM`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.beam import AngularTable
from previz.physics.light import LampLight
from previz.physics.safety import PLANNING_AID, Caution
from previz.physics.stops import PLAIN, MapSettings
from previz.physics.taking import Iris, Optics
from previz.physics.viewing import ShowFile
from previz.stage.heads import Head

if TYPE_CHECKING:
    from previz.stage.heat import Surroundings


WHERE_SET = "where set"
"""Mark of a field that has no part in fingerprints where it is None, so that those of scenes without it
stay what they were before there was one."""


def where_set():
    """Return a field that is None unless it is set; see `WHERE_SET`."""
    return field(default=None, metadata={WHERE_SET: True})


@dataclass(frozen=True)
class Glass:
    """What clear glass does with light, its gloss aside.

    Parameters
    ----------
    ior : float
        Index of refraction. [1]
    absorption : float array, shape (81,)
        Share that is swallowed in a short length, over that length. [1/m]
    thickness : float
        Of a sheet that light goes straight through; 0 for a body that it is refracted by. [m]
    closed : bool
        True where a sheet's mesh has both of its faces, and it counts where light enters it.
    """

    ior: float
    absorption: np.ndarray
    thickness: float = 0.0
    closed: bool = False

    @property
    def tint(self) -> np.ndarray:
        """Internal transmission of a sheet at normal incidence, shape (81,). [1]"""
        return np.exp(-np.asarray(self.absorption, float) * self.thickness)


@dataclass(frozen=True)
class Pattern:
    """What of a surface changes from place to place, in a tile that repeats over the mesh's uv.

    Parameters
    ----------
    tile : float array, shape (rows, columns, 4)
        Share of `second`; then what reflectance, gloss and roughness are multiplied by. The top row
        lies at the greatest v. [1]
    size : (float, float)
        Width and height of a tile in the mesh's uv, which is in metres on built-in shapes. [m] or [1]
    second : float array, shape (81,)
        Albedo of the diffuse reflection of what the pattern shows beside the surface's own. [1]
    """

    tile: np.ndarray
    size: tuple[float, float]
    second: np.ndarray


@dataclass(frozen=True)
class Relief:
    """How a surface leans from place to place, in a tile that repeats over the mesh's uv.

    Parameters
    ----------
    slopes : float array, shape (rows, columns, 2)
        Rise over length towards greater u and greater v; the top row lies at the greatest v. [1]
    size : (float, float)
        As in `Pattern`.
    """

    slopes: np.ndarray
    size: tuple[float, float]


@dataclass(frozen=True)
class Surface:
    """How one material sends light on: lobes with a reflectance per wavelength.

    Parameters
    ----------
    name : str
        What reports call it.
    reflectance : float array, shape (81,)
        Albedo of the diffuse reflection. [1]
    transmission : float array, shape (81,)
        Albedo of the diffuse transmission; zeros for anything opaque. [1]
    specular : float array, shape (81,)
        Reflectance at normal incidence of the surface's gloss (Fresnel F0). [1]
    gloss : float
        Share of the surface that carries the gloss, 0 to 1. [1]
    roughness : float
        GGX width alpha; below `SMOOTH` the gloss is a mirror. [1]
    texture : float array, shape (rows, columns, 3), or None
        Linear Rec. 709 reflectance that replaces `reflectance`, read by the mesh's uv. [1]
    subsurface : float
        How far light wanders under the surface before it leaves, over how far it does in the skin
        of `physics.skin.seep_shares`; 0 where it leaves where it came in. [1]
    lobe : float
        Width of the transmission about straight on: it falls to 1/e where the sine of the angle
        has changed by so much; 0 where it leaves evenly in all directions. [1]
    glass : Glass or None
        Set for clear glass, of which the lobes say only what it mirrors.
    pattern : Pattern or None
    relief : Relief or None
    across : float or None
        GGX width of the gloss square to the mesh's u, where `roughness` is that along it, as of hair,
        satin and brushed metal; None for the same in all directions. [1]
    texture_size : (float, float) or None
        Width and height of the texture in the mesh's uv, over which it repeats; None for one.
    fuzz : float or None
        Spread of upright fibres, 0 to 1: the gloss is then theirs, as of wool and velvet, and shows
        where the surface is seen or lit at a glancing angle; None for a smooth surface. [1]
    """

    name: str
    reflectance: np.ndarray
    transmission: np.ndarray
    specular: np.ndarray
    gloss: float = 0.0
    roughness: float = 0.3
    texture: np.ndarray | None = None
    subsurface: float = 0.0
    lobe: float = 0.0
    glass: Glass | None = None
    pattern: Pattern | None = where_set()
    relief: Relief | None = where_set()
    across: float | None = where_set()
    fuzz: float | None = where_set()
    texture_size: tuple[float, float] | None = where_set()

    @property
    def is_sheet(self) -> bool:
        """Whether it is thin glass, which is seen through and casts no shadow of its own."""
        return self.glass is not None and self.glass.thickness > 0


SMOOTH = 0.02
"""Roughness under which a gloss is computed as a perfect mirror. [1]"""


@dataclass(frozen=True)
class Mesh:
    """Triangles that share one surface and one name.

    Parameters
    ----------
    name : str
        The thing of the scene these triangles belong to; parts of one thing share it.
    surface : str
        Name of a `Surface` of the stage.
    vertices : float array, shape (vertices, 3)
        World position. [m]
    faces : int array, shape (faces, 3)
        Corners, counter-clockwise seen from the outside.
    normals : float array, shape (vertices, 3), or None
        Smooth shading normals; None for flat faces.
    uv : float array, shape (vertices, 2), or None
        Texture coordinates, v upwards.
    role : str
        'set', 'figure', 'lamp', 'board', 'frame', 'flag' or 'outside'; for reports.
    """

    name: str
    surface: str
    vertices: np.ndarray
    faces: np.ndarray
    normals: np.ndarray | None = None
    uv: np.ndarray | None = None
    role: str = "set"


@dataclass(frozen=True)
class Emitter:
    """Triangles that give out a share of one lamp's flux, at unit total flux.

    Parameters
    ----------
    lamp : int
        Index of the lamp in `Stage.lamps`.
    name : str
        Name shown where the emitting face itself is seen.
    vertices, faces
        As in `Mesh`; light leaves on the side that the face normals point to.
    share : float
        Part of the lamp's lumens that leaves here. [1]
    table : AngularTable or None
        Intensity per lumen against direction; None for a Lambertian surface.
    world_from_light : float array, shape (3, 3)
        Columns: the table's phi=0 axis, its phi=90° axis, and the beam axis (theta=0).
    flat : bool
        True where all faces lie in one plane square to the beam axis (a lens, a panel): the
        apparent area then shrinks with the cosine. False for a ball, whose apparent size is the same
        from everywhere.
    symmetric : bool
        True where the shape is its own point reflection through its centre and convex, so that
        the half that faces a point can be sampled alone.
    focus : float
        Distance along the axis at which the table's picture is sharp; inf for a plain table. [m]
    picture : float array, shape (rows, columns, 3), or None
        Linear Rec. 709 share of the light that leaves each place of a flat rectangle, the only
        emitter of its lamp; the picture's top row is at the end of its second axis. None for
        even light. [1]
    """

    lamp: int
    name: str
    vertices: np.ndarray
    faces: np.ndarray
    share: float = 1.0
    table: AngularTable | None = None
    world_from_light: np.ndarray = field(default_factory=lambda: np.eye(3))
    flat: bool = False
    symmetric: bool = False
    focus: float = np.inf
    picture: np.ndarray | None = None


@dataclass(frozen=True)
class Sun:
    """A disc in the sky, at 1 lx on a surface that faces it.

    Parameters
    ----------
    lamp : int
        Index of the lamp in `Stage.lamps`.
    towards : float array, shape (3,)
        Unit vector from the scene to the middle of the disc.
    angle_deg : float
        Full angle of the disc. [deg]
    """

    lamp: int
    towards: np.ndarray
    angle_deg: float = 0.533


@dataclass(frozen=True)
class Sky:
    """A dome of light above the horizon, at 1 lx on an open horizontal surface.

    Parameters
    ----------
    lamp : int
        Index of the lamp in `Stage.lamps`.
    radiance : float array, shape (zenith angles, azimuths)
        Radiance at cell centres over 0..90° from the zenith and 0..360° counter-clockwise from
        +x, per lux. [1/sr]
    """

    lamp: int
    radiance: np.ndarray


@dataclass(frozen=True)
class Pane:
    """A clear flat sheet: it mirrors a little and lets the rest straight through.

    Parameters
    ----------
    name : str
        What reports call it.
    centre : float array, shape (3,)
        Middle of the sheet. [m]
    half_u, half_v : float array, shape (3,)
        Half-edge vectors, square to each other. [m]
    ior : float
        Index of refraction. [1]
    sheets : int
        1 for single glazing, 2 for double.
    tint : float array, shape (81,)
        Internal transmission of each sheet at normal incidence. [1]
    """

    name: str
    centre: np.ndarray
    half_u: np.ndarray
    half_v: np.ndarray
    ior: float
    sheets: int
    tint: np.ndarray


@dataclass(frozen=True)
class Guide:
    """A place to aim rays at, because light is known to come from there.

    Parameters
    ----------
    name : str
        The board, frame, shade or opening.
    centre : float array, shape (3,)
        Middle. [m]
    half_u, half_v : float array, shape (3,)
        Half-edge vectors of a rectangle, square to each other; zeros for a ball. [m]
    radius : float
        Above 0 the guide is a ball of this radius about the centre, and the edges are ignored. [m]
    opening : bool
        True where the sky is seen through it.
    """

    name: str
    centre: np.ndarray
    half_u: np.ndarray = field(default_factory=lambda: np.zeros(3))
    half_v: np.ndarray = field(default_factory=lambda: np.zeros(3))
    radius: float = 0.0
    opening: bool = False


@dataclass(frozen=True)
class Haze:
    """Haze in the air, the same from place to place but for its height.

    Parameters
    ----------
    density : float
        Extinction coefficient at height `floor`. [1/m]
    albedo : float array, shape (81,)
        Share of what it takes from a beam that is scattered, not swallowed. [1]
    g : float
        Mean cosine of the scattering, -1 to 1; above 0 is forward. [1]
    thinning : float
        One over the height in which the density falls to 1/e; 0 for even haze. [1/m]
    floor : float
        Height at which `density` holds. [m]
    low, high : float array, shape (3,)
        Corners of the upright box that it fills. [m]
    """

    density: float
    albedo: np.ndarray
    g: float
    thinning: float
    floor: float
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True)
class Camera:
    """One camera: where it stands, what its lens sees, and how it is set.

    Parameters
    ----------
    name : str
    world_from_camera : float array, shape (3, 3)
        Columns: right, up, forward.
    position : float array, shape (3,)
        Entrance pupil. [m]
    tan_half : (float, float)
        Tangent of half the angle of view, horizontal and vertical, of the delivered frame. [1]
    aspect : float
        Width over height of the delivered picture. [1]
    lens_radius : float
        Radius of the entrance pupil. [m]
    focus : float
        Distance of sharp focus along the axis. [m]
    stop, iso, shutter_s, nd_density, white_balance, tint
        Exposure settings: T-stop, exposure index, s, density, K, Duv.
    focal : float
        Focal length. [m]
    sensor : (float, float)
        Width and height of the sensor. [m]
    over, under : float or None
        What it holds over and under mid grey; None for no limit. [stops]
    show : ShowFile or None
        What its picture is looked at through; None for the plain view.
    iris : Iris or None
        The shape of the pupil, of the area of the round one; None for that.
    optics : Optics or None
        What its lens and sensor do to pictures, and to no reading.
    """

    name: str
    world_from_camera: np.ndarray
    position: np.ndarray
    tan_half: tuple[float, float]
    aspect: float
    lens_radius: float
    focus: float
    stop: float
    iso: float
    shutter_s: float
    nd_density: float
    white_balance: float
    tint: float
    focal: float
    sensor: tuple[float, float]
    over: float | None = where_set()
    under: float | None = where_set()
    show: ShowFile | None = where_set()
    iris: Iris | None = where_set()
    optics: Optics | None = where_set()


@dataclass(frozen=True)
class Probe:
    """A meter: a small receptor somewhere in the scene.

    Parameters
    ----------
    name : str
    position : float array, shape (3,)
        Centre of the receptor. [m]
    normal : float array, shape (3,)
        Unit vector the receptor faces.
    dome : bool
        True for a domed (cardioid) receptor, False for a flat (cosine) one.
    """

    name: str
    position: np.ndarray
    normal: np.ndarray
    dome: bool = False


@dataclass(frozen=True)
class Patch:
    """A place that spot meters are pointed at.

    Parameters
    ----------
    name : str
    camera : str
        The camera that it is metered from; '' for every camera.
    middle : (float, float)
        Shares of the picture from its left and its top. [1]
    size : (float, float) or None
        Shares of the picture; None for a round patch of `angle_deg`. [1]
    angle_deg : float
        Full angle of a round patch. [deg]
    towards : float array, shape (3,), or None
        Direction of a patch of the sky, which takes the place of `middle`.
    """

    name: str
    camera: str = ""
    middle: tuple[float, float] = (0.5, 0.5)
    size: tuple[float, float] | None = None
    angle_deg: float = 1.0
    towards: np.ndarray | None = None


@dataclass(frozen=True)
class Rig:
    """What paperwork needs of a lamp and the light does not.

    Parameters
    ----------
    name, kind : str
    position : float array, shape (3,)
        [m]
    watts : float or None
        Power drawn. [W]
    in_shot : bool
        Left in the picture on purpose.
    weight : float or None
        With its accessories. [kg]
    hung : str or None
        What it hangs by; None for a lamp that stands.
    """

    name: str
    kind: str
    position: np.ndarray
    watts: float | None
    in_shot: bool
    weight: float | None = None
    hung: str | None = None


@dataclass(frozen=True)
class Grip:
    """What paperwork needs of a board, frame, flag, net or grid.

    Parameters
    ----------
    name : str
    what : str
        As the truck has it, such as 'board, white card' or 'mirror board, soft side out'.
    size : (float, float)
        Width and height. [m]
    position : float array, shape (3,)
        Middle. [m]
    hung : str or None
        What it hangs by; None on a stand or in front of a lamp.
    """

    name: str
    what: str
    size: tuple[float, float]
    position: np.ndarray
    hung: str | None = None


@dataclass(frozen=True)
class Stage:
    """Everything the engine and the reports need of one option of a scene."""

    title: str
    surfaces: dict[str, Surface]
    meshes: tuple[Mesh, ...]
    lamps: tuple[LampLight, ...]
    emitters: tuple[Emitter, ...]
    sun: Sun | None = None
    sky: Sky | None = None
    panes: tuple[Pane, ...] = ()
    guides: tuple[Guide, ...] = ()
    haze: Haze | None = None
    cameras: tuple[Camera, ...] = ()
    probes: tuple[Probe, ...] = ()
    patches: tuple[Patch, ...] = ()
    heads: tuple[Head, ...] = ()
    rig: tuple[Rig, ...] = ()
    grip: tuple[Grip, ...] = ()
    places: dict[str, np.ndarray] = field(default_factory=dict)
    reminders: tuple[Caution, ...] = ()
    around: Surroundings | None = None
    map: MapSettings = PLAIN

    @property
    def cautions(self) -> tuple[str, ...]:
        """The whole text of every caution, and before them who decides."""
        return PLANNING_AID, *(each.text for each in self.reminders)

    def head(self, figure: str, mark: str = "") -> Head:
        """Return the head of a figure, or the one at its mark.

        Raises
        ------
        KeyError
            There is none.
        """
        for head in self.heads:
            if (head.figure, head.mark) == (figure, mark):
                return head
        raise KeyError(f"{figure}.{mark}" if mark else figure)
