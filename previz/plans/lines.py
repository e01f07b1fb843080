"""Lines of the lists that go to the truck and the floor: plain values, laid out and written by others.

Lengths in m, angles in deg, power in W, currents in A, weights in kg.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Point = tuple[float, float, float]


@dataclass(frozen=True)
class LampLine:
    """One lamp of one option.

    Parameters
    ----------
    tag, name, kind : str
        Its number on the plan; its name; a key of `previz.scene.light.LIGHTS`.
    at : (float, float, float)
        Middle of its bright face; the third is its height over the floor. [m]
    aim : str
        What it is aimed at, as written or as a point; '' for one that shines all round.
    pan, tilt, throw : float or None
        Bearing of the aim clockwise from the set's north (+y); over (+) or under (-) level [deg]; distance to
        what it is aimed at [m]. None without an aim.
    size : (float, ...)
        Width and height, or a diameter alone, of its face. [m]
    cct : float or None
        At full level without gels. [K]
    gels : tuple of str
    dimmer : float
        Level, as a share of the light. [1]
    on, in_shot : bool
    modifiers : tuple of str
        What is on it and before it, with tags: 'barn doors', 'egg crate 50 mm', 'D1 half silk at 0.50 m'.
    watts, amperes : float or None
        At full level; None for what draws nothing from the mains. [W] and [A]
    guessed : bool
        True where the watts are not stated and follow from the lumens.
    power_factor : float
        [1]
    weight : float or None
        None where it is not stated. [kg]
    support : str
        'stand', 'hung by a cord', 'on the camera', 'on the set', 'from above', ...
    circuit : str
        As written in the scene; '' where that is not said.
    spectrum : str
        What makes its light: 'tungsten', 'led', ...; 'own' for figures or a file of its own.
    """

    tag: str
    name: str
    kind: str
    at: Point
    aim: str = ""
    pan: float | None = None
    tilt: float | None = None
    throw: float | None = None
    size: tuple[float, ...] = ()
    cct: float | None = None
    gels: tuple[str, ...] = ()
    dimmer: float = 1.0
    on: bool = True
    in_shot: bool = False
    modifiers: tuple[str, ...] = ()
    watts: float | None = None
    amperes: float | None = None
    guessed: bool = False
    power_factor: float = 1.0
    weight: float | None = None
    support: str = "stand"
    circuit: str = ""
    spectrum: str = ""


@dataclass(frozen=True)
class GripLine:
    """A board, frame, flag, net or grid; or so many stands, arms or sandbags.

    Parameters
    ----------
    tag, name : str
        '' for what has no name of its own, such as sandbags.
    what : str
        'board, white card', 'diffusion frame, half silk', 'stand', 'sandbag'.
    count : int
    size : (float, float) or None
        [m]
    at : (float, float, float) or None
        [m]
    support : str
        'stand', 'hung by a pipe', 'before key at 0.50 m'; '' for what supports.
    of : tuple of str
        Names of what it holds or weighs down.
    """

    tag: str
    name: str
    what: str
    count: int = 1
    size: tuple[float, float] | None = None
    at: Point | None = None
    support: str = ""
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class SheetLine:
    """Gel, diffusion or cloth by area.

    Parameters
    ----------
    what : str
        'half ctb', 'full silk', 'black cloth', 'window gel full cto'.
    use : str
        'gel', 'diffusion', 'window gel', 'net', 'cloth' or 'blind'.
    area, waste, order : float
        What is covered [m²]; cut off and lost, as a share [1]; what to bring [m²].
    of : tuple of str
        Lamps, frames and openings.
    note : str
        What to heed with it.
    cuts : tuple of (str, float, float)
        What each piece is for, and its sides with the margin that it is fastened by. [m]
    roll : float
        Width of the roll that they are cut from; 0 for what is made to measure. [m]
    """

    what: str
    use: str
    area: float
    waste: float
    order: float
    of: tuple[str, ...] = ()
    note: str = ""
    cuts: tuple[tuple[str, float, float], ...] = ()
    roll: float = 0.0


@dataclass(frozen=True)
class CableRun:
    """How one lamp is fed.

    Parameters
    ----------
    lamp, source : str
        Its name; where it is fed from: a distribution box, a socket, 'battery'.
    route : float
        Along walls and floor, and up to the lamp. [m]
    length : float
        With slack. [m]
    pieces : tuple of float
        Cables of the stock that make it up, less the lamp's own lead. [m]
    what : str
        As in `CableLine`.
    crosses : tuple of str
        Doors that it goes through, and ways of people that it lies across.
    path : tuple of (float, float)
        Corners of its way over the floor. [m]
    """

    lamp: str
    source: str
    route: float
    length: float
    pieces: tuple[float, ...]
    what: str = ""
    crosses: tuple[str, ...] = ()
    path: tuple[tuple[float, float], ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True)
class CableLine:
    """Cables of one length: `what` as '16 A, 3-core', `length` of each [m], and how many."""

    what: str
    length: float
    count: int


@dataclass(frozen=True)
class Change:
    """What is done to one thing between two options.

    `what` is 'strike', 'add', 'move', 'aim', 'gel', 'frame' or 'set' (a level, a stop); `text` says it.
    """

    what: str
    tag: str
    name: str
    text: str


@dataclass(frozen=True)
class ChangeOver:
    """From one option to the next, in the order that moves least; `effort` is what that order counts by."""

    before: str
    after: str
    changes: tuple[Change, ...]
    effort: float


@dataclass(frozen=True)
class TruckLine:
    """What the truck carries: the most that any one set-up of the day needs at once.

    Parameters
    ----------
    group : str
        'lamps', 'stands', 'grip', 'gels', 'cable', 'distribution' or 'care'.
    what : str
    count : float
    unit : str
        '' for pieces, 'm²', 'm'.
    most : str
        The set-up that needs so many.
    note : str
    """

    group: str
    what: str
    count: float
    unit: str = ""
    most: str = ""
    note: str = ""


@dataclass(frozen=True)
class CircuitLine:
    """One circuit with what hangs on it.

    Parameters
    ----------
    name : str
    phase : str
        'L1', 'L2', 'L3'; '' on a single phase.
    breaker : float
        [A]
    lamps : tuple of str
    watts, amperes : float
    holds : float
        What the breaker holds in use of three hours and more. [A]
    over : bool
        True where the amperes are more than it holds.
    note : str
        What is wrong, and what to do; '' where nothing is.
    """

    name: str
    phase: str
    breaker: float
    lamps: tuple[str, ...]
    watts: float
    amperes: float
    holds: float
    over: bool = False
    note: str = ""


@dataclass(frozen=True)
class PowerPlan:
    """How one option is fed.

    Parameters
    ----------
    circuits : tuple of CircuitLine
    phases : tuple of (str, float)
        Each phase with its current. [A]
    neutral : float
        The most that the neutral carries with all lamps lit. [A]
    watts, volt_amperes, amperes : float
        Of all lamps [W], [VA], and on the fullest phase [A].
    unbalance : float
        The greatest difference of a phase from their mean, over the mean. [1]
    supply : str
        What feeds it, in words: 'three phases of 63 A at 230 V, 50 Hz', 'generator of 20 kVA'.
    unfed : tuple of str
        Lamps that no circuit holds.
    warnings : tuple of str
        Each with its source in brackets.
    note : str
        Whether circuits are as few, and phases as even, as they can be.
    """

    circuits: tuple[CircuitLine, ...] = ()
    phases: tuple[tuple[str, float], ...] = ()
    neutral: float = 0.0
    watts: float = 0.0
    volt_amperes: float = 0.0
    amperes: float = 0.0
    unbalance: float = 0.0
    supply: str = ""
    unfed: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class FlickerLine:
    """One lamp seen by one camera.

    Parameters
    ----------
    camera, lamp, tag : str
    fps, shutter : float
        [1/s]; time that a frame is exposed [s].
    frequency, depth : float
        Of the lamp's light: ripples a second [Hz], and how far it swings about its mean [1].
    swing : float
        Between the brightest and the darkest frame, or line of a frame. [stops]
    beat : float
        How often that pulses from frame to frame at most; 0 where all frames are alike. [Hz]
    risk : str
        'none', 'bands' (stands still, or moves, across the frame) or 'pulse' (frame to frame), 'unknown':
        then frequency, depth, swing and beat are those of light that goes out twice in each cycle of the
        mains.
    advice : str
        The nearest safe angles and rate; '' where nothing is to be done.
    """

    camera: str
    lamp: str
    tag: str
    fps: float
    shutter: float
    frequency: float
    depth: float
    swing: float
    beat: float
    risk: str
    advice: str = ""


@dataclass(frozen=True)
class MeterLine:
    """What a meter is to read at one place.

    Parameters
    ----------
    place : str
        As `previz readings` reads it: 'clerk left cheek', 'desk'.
    lamps : str
        What is on: 'all', 'daylight', a lamp's name alone, or 'key + daylight' where daylight stays.
    lux, error : float
        Expected, with its standard error. [lx, or cd/m² of a spot meter: `unit`]
    tolerance : float
        How far a reading may lie off before it is to be asked why, as a share. [1]
    stops : float or None
        From the working stop, or from 18 % grey; None without light or without a camera.
    camera : str
        Whose working stop, or whose spot meter.
    mark : str
        '' for a figure's own place.
    unit : str
        'lx', or 'cd/m²' of a spot meter.
    note : str
        'lit side', 'at 70 %'; '' for nothing to say.
    """

    place: str
    lamps: str
    lux: float
    error: float
    tolerance: float
    stops: float | None
    camera: str = ""
    mark: str = ""
    unit: str = "lx"
    note: str = ""


@dataclass(frozen=True)
class SetUp:
    """All lists of one option of one scene.

    Parameters
    ----------
    scene, option : str
        Title of the scene; '' for an option of the scene as it is written.
    """

    scene: str
    option: str
    lamps: tuple[LampLine, ...] = ()
    grip: tuple[GripLine, ...] = ()
    sheets: tuple[SheetLine, ...] = ()
    runs: tuple[CableRun, ...] = ()
    cables: tuple[CableLine, ...] = ()
    power: PowerPlan = field(default_factory=PowerPlan)
    flicker: tuple[FlickerLine, ...] = ()
    meters: tuple[MeterLine, ...] = ()

    @property
    def label(self) -> str:
        """What sheets call it."""
        return f"{self.scene}, {self.option}" if self.option else self.scene
