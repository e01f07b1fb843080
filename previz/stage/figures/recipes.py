"""What the stand-in figures are made of: six people, the kept bones, face units, landmarks.

Read by `bake_figure` only. The six people are invented: both sexes, several ages and builds.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Recipe:
    """How much of each shape target makes up one person.

    Parameters
    ----------
    name, sex : str
        Plain name; 'female' or 'male'.
    age : float
        0 a young adult, 1 very old.
    muscle, weight, height, proportions : float
        0 the least, 0.5 the middle, 1 the most.
    ground : (float, float, float)
        Shares of the three ground shapes of the data; they sum to 1.
    head : (float, float, float)
        Length, breadth and height of the head over those of the middle of that sex.
    wide, drop : float
        How far the lids open beyond the shape's own, as a share of a face unit, and how far the
        eyeballs sit below the middle of the shape's own. The lower lid then touches the iris and
        the upper covers 1.5 to 2 mm of it, as at rest (common practice, no source). [1], [m]
    features : dict
        Folder and name of a target -> amount; eye, cheek and ear targets act on both sides.
    """

    name: str
    sex: str
    age: float
    muscle: float
    weight: float
    height: float
    proportions: float
    ground: tuple[float, float, float]
    head: tuple[float, float, float] = (1.0, 1.0, 1.0)
    wide: float = 0.0
    drop: float = 0.0
    features: dict[str, float] = field(default_factory=dict)


HEAD_FIT = {
    "standing over rest": 1.012,
    # Over stature. Breadth: the medians of ANSUR II (154 / 1755, 147 / 1626). Length: medians are
    # 200 / 1755 = 0.1140 and 190 / 1626 = 0.1169; both are drawn to the inside of 0.114..0.117.
    # Height of the crown over the eyes: the means of ANSUR II (113.8 / 1756.2, 108.9 / 1628.5).
    "male": {"length": 0.1152, "breadth": 0.0877, "height": 0.0648},
    "female": {"length": 0.1160, "breadth": 0.0904, "height": 0.0669},
}

RECIPES = (
    Recipe(
        "person one", "male", 0.14, 0.46, 0.50, 0.5, 0.55, (0.05, 0.05, 0.90),
        head=(1.0, 1.0, 0.99), wide=0.60, drop=1.0e-3,
        features={"asym/asym-nose-1-l": 0.2, "chin/chin-width-incr": 0.2},
    ),
    Recipe(
        "person two", "female", 0.05, 0.46, 0.46, 0.5, 0.6, (0.55, 0.15, 0.30),
        head=(1.0, 0.99, 0.98), wide=0.15, drop=0.1e-3,
        features={"asym/asym-brown-1-r": 0.2},
    ),
    Recipe(
        "person three", "male", 0.62, 0.42, 0.74, 0.5, 0.5, (0.15, 0.75, 0.10),
        head=(1.0, 1.01, 0.98), wide=0.50, drop=0.5e-3,
        features={"asym/asym-jaw-1-l": 0.2, "neck/neck-double-incr": 0.3},
    ),
    Recipe(
        "person four", "female", 0.86, 0.38, 0.45, 0.5, 0.5, (0.05, 0.10, 0.85),
        head=(1.0, 0.98, 0.98), wide=0.30, drop=0.6e-3,
        features={"asym/asym-mouth-1-r": 0.2, "nose/nose-hump-incr": 0.25},
    ),
    Recipe(
        "person five", "male", 0.0, 0.46, 0.34, 0.5, 0.5, (0.85, 0.05, 0.10),
        head=(1.0, 0.98, 0.98), wide=0.60, drop=1.0e-3,
        features={"asym/asym-nose-2-r": 0.2, "cheek/cheek-bones-incr": 0.2},
    ),
    Recipe(
        "person six", "female", 0.30, 0.48, 0.70, 0.5, 0.5, (0.10, 0.80, 0.10),
        head=(1.0, 1.008, 0.98), wide=0.35, drop=-0.8e-3,
        features={"asym/asym-brown-2-l": 0.2, "head/head-round": 0.3},
    ),
)


def _side_bones(side, word):
    """Return the kept bones of one side: the file's name -> our name."""
    bones = {
        f"clavicle.{side}": f"{word} clavicle",
        f"shoulder01.{side}": f"{word} shoulder",
        f"upperarm01.{side}": f"{word} upper arm",
        f"upperarm02.{side}": f"{word} upper arm low",
        f"lowerarm01.{side}": f"{word} forearm",
        f"lowerarm02.{side}": f"{word} forearm low",
        f"wrist.{side}": f"{word} hand",
    }
    for number, finger in enumerate(("thumb", "index", "middle", "ring", "little"), start=1):
        for joint in (1, 2, 3):
            bones[f"finger{number}-{joint}.{side}"] = f"{word} {finger} {joint}"
    return bones | {
        f"upperleg01.{side}": f"{word} thigh",
        f"upperleg02.{side}": f"{word} thigh low",
        f"lowerleg01.{side}": f"{word} shank",
        f"lowerleg02.{side}": f"{word} shank low",
        f"foot.{side}": f"{word} foot",
        f"toe2-1.{side}": f"{word} toes",
    }


BONES = {
    "root": "pelvis",
    "spine05": "spine 1",
    "spine04": "spine 2",
    "spine03": "spine 3",
    "spine02": "spine 4",
    "spine01": "spine 5",
    "neck01": "neck 1",
    "neck02": "neck 2",
    "neck03": "neck 3",
    "head": "head",
    **_side_bones("L", "left"),
    **_side_bones("R", "right"),
}
"""The file's bone -> our name. Every other bone is folded into the nearest of these above it."""

FACE_UNIT_STEMS = {
    "blink": ("eyeBlinkLeft", "eyeBlinkRight"),
    "smile": ("mouthSmileLeft", "mouthSmileRight", "cheekSquintLeft", "cheekSquintRight"),
    "jaw open": ("jawOpen",),
    "left lid down": ("eyeLookDownLeft",),
    "right lid down": ("eyeLookDownRight",),
    "left lid up": ("eyeLookUpLeft",),
    "right lid up": ("eyeLookUpRight",),
    "wide": ("eyeWideLeft", "eyeWideRight"),
    "brow down": ("browDownLeft", "browDownRight"),
    "brow inner up": ("browInnerUp",),
    "brow outer up": ("browOuterUpLeft", "browOuterUpRight"),
    "squint": ("eyeSquintLeft", "eyeSquintRight"),
    "cheek squint": ("cheekSquintLeft", "cheekSquintRight"),
    "nose sneer": ("noseSneerLeft", "noseSneerRight"),
    "mouth frown": ("mouthFrownLeft", "mouthFrownRight"),
    "upper lip up": ("mouthUpperUpLeft", "mouthUpperUpRight"),
    "lower lip down": ("mouthLowerDownLeft", "mouthLowerDownRight"),
    "mouth stretch": ("mouthStretchLeft", "mouthStretchRight"),
    "mouth press": ("mouthPressLeft", "mouthPressRight"),
    "mouth funnel": ("mouthFunnel",),
    "mouth pucker": ("mouthPucker",),
    "dimple": ("mouthDimpleLeft", "mouthDimpleRight"),
    "eye bag": ("eyes/l-eye-bag-incr", "eyes/r-eye-bag-incr"),
    "lid fold": ("eyes/l-eye-eyefold-down", "eyes/r-eye-eyefold-down"),
    "laugh lines": ("mouth/mouth-laugh-lines-in",),
    "double chin": ("neck/neck-double-incr",),
}
"""Our name of a unit -> its targets: face units by name, shape targets by folder and name."""
FACE_UNITS = tuple(FACE_UNIT_STEMS)

WIDE_STEMS = FACE_UNIT_STEMS["wide"]
"""Face units behind `Recipe.wide`, whose share is baked into the shapes."""

LANDMARKS = {
    # Skin vertices of the base mesh, found once by eye; the topology never changes.
    "nose": 5054,
    "mouth": 509,
    "chin": 5162,
    "under chin": 787,
    "neck": 803,
    "forehead": 244,
    "crown": 879,
    "left cheek": 11909,
    "right cheek": 5304,
    "left ear": 12038,
    "right ear": 5439,
}
