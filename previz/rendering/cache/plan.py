"""What of a camera's picture is there already, lamp by lamp, and what is to be rendered.

A lamp's light is used again

- where nothing that it depends on has changed, or
- where other lamps stand otherwise than they did, if their bodies do not count: the camera sees
  none of them, and a small render of both stages, with the same random numbers, shows that the
  light changes by less than `WHOLE` over the picture and by less than `TILE` in every part of it.

How the lamps stood is kept with the light, so small changes do not add up unseen.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from previz import __version__
from previz.frames.lamp_files import LampFile
from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.body_files import WAS, BodyPart, as_they_stood, read_bodies
from previz.rendering.cache.store import LampCache
from previz.rendering.cache.why import why_not
from previz.stage.fingerprint import digest_of, seen_by
from previz.stage.records import Camera

WHOLE = 0.01
"""Change over the picture up to which the bodies of other lamps do not count. [1]"""

TILE = 0.05
"""Change in a part of the picture up to which they do not: 0.07 stop. [1]

Parts are a 16th of the width for straight light and its shadows, an 8th for all light."""

MOST_TRIED = 2
"""Earlier places of the lamps that are tried."""


@dataclass(frozen=True, eq=False)
class LampState:
    """What is there of one lamp's light.

    Parameters
    ----------
    lamp : str
    status : str
        'cached': as it would be rendered; 'reused': rendered with other lamps standing otherwise;
        'partial': has too few samples, to be gone on with; 'missing': to be rendered.
    file : LampFile or None
    why : str
        Reason, in words.
    """

    lamp: str
    status: str
    file: LampFile | None
    why: str

    @property
    def done(self) -> bool:
        """True where nothing is to be rendered."""
        return self.status in ("cached", "reused")


def plan(cache: LampCache, camera: Camera, samples: float, *, measure: bool, exact: bool = False,
         explain: bool = False) -> list[LampState]:
    """Return what is there of each lamp's light at a camera.

    Parameters
    ----------
    samples : float
        Paths a pixel that it needs. [1]
    measure : bool
        Whether what bodies do may be measured, which takes the engine; else only what was
        measured before is used.
    exact : bool
        Never use light with other lamps standing otherwise.
    explain : bool
        Say of what is new why it is.
    """
    states, missing = {}, []
    for lamp in (each.name for each in cache.stage.lamps):
        file = cache.find(lamp, camera)
        if file is None:
            missing.append(lamp)
        elif file.samples >= samples:
            states[lamp] = LampState(lamp, "cached", file, "nothing that it depends on has changed")
        else:
            states[lamp] = LampState(lamp, "partial", file,
                                     f"{file.samples:.0f} of {samples:.0f} samples are there")
    tried: dict[str, str] = {}
    if missing and not exact:
        for state in _reusable(cache, camera, missing, samples, measure, tried):
            states[state.lamp] = state
    for lamp in missing:
        if lamp not in states:
            why = tried.get(lamp) or (why_not(cache, lamp, camera) if explain else "")
            states[lamp] = LampState(lamp, "missing", None, why)
    return [states[lamp.name] for lamp in cache.stage.lamps]


def _reusable(cache: LampCache, camera: Camera, missing: list[str], samples: float, measure: bool,
              tried: dict[str, str]) -> Iterator[LampState]:
    """Yield the lamps whose light with others standing otherwise can be used."""
    groups: dict[str, dict[str, LampFile]] = {}
    for lamp in missing:
        for file in cache.elsewhere(lamp, camera):
            if file.samples >= samples:
                groups.setdefault(file.note["all_bodies"], {}).setdefault(lamp, file)
    order = sorted(groups, key=lambda bodies: -len(groups[bodies]))
    found = set()
    for bodies in order[:MOST_TRIED]:
        files = {lamp: f for lamp, f in groups[bodies].items() if lamp not in found}
        verdict = _verdict(cache, camera, bodies, sorted(files), measure) if files else None
        if verdict is None:
            continue
        others = _listed(verdict["moved"])
        for lamp, file in files.items():
            whole, worst = verdict["lamps"][lamp]
            if verdict["seen"]:
                tried[lamp] = f"the camera sees {_listed(verdict['seen'])}, which stood otherwise"
            elif whole > WHOLE or worst > TILE:
                tried[lamp] = (f"the body of {others}, which stood otherwise, changes its light by "
                               f"{whole:.1%}, and by up to {worst:.0%} in a part of the picture")
            else:
                found.add(lamp)
                yield LampState(lamp, "reused", file,
                                f"the body of {others}, which stood otherwise, changes its light "
                                f"by {whole:.1%} (at most {worst:.1%} in a part of the picture)")


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)


def _verdict(cache: LampCache, camera: Camera, bodies: str, lamps: list[str],
             measure: bool) -> dict[str, Any] | None:
    """Return what other places of the bodies do to some lamps, measured once and kept."""
    parts = cache.parts
    name = digest_of(sorted(parts.things.values()), parts.air, bodies, cache.all_bodies,
                     seen_by(camera), cache.settings, [[n, parts.lamps[n]] for n in lamps])
    path = cache.folder / "verdicts" / f"{name[:32]}.json"
    with contextlib.suppress(FramesError, KeyError):
        kept = read_sealed(path, "previz_verdict", path.stem)
        return {part: kept[part] for part in ("seen", "moved", "lamps")}
    old = read_bodies(cache.bodies_path(bodies)) if measure else None
    if old is None:
        return None
    found = _measured(cache, camera, old, lamps)
    write_sealed(path, {**marked("previz_verdict"), "version": __version__, **found}, path.stem)
    return found


def _measured(cache: LampCache, camera: Camera, old: list[BodyPart],
              lamps: list[str]) -> dict[str, Any]:
    from previz.engine.influence import influence

    stage = cache.stage
    before, now, moved = as_they_stood(stage, cache.parts, old, lamps)
    change = influence(before, now, camera, moved | {WAS + lamp for lamp in moved},
                       (cache.order.width, cache.order.height), cache.order.backend, TILE)
    seen = sorted({name.removeprefix(WAS) for name in change.seen})
    return {"seen": seen, "moved": sorted(moved),
            "lamps": {lamp: [float(change.whole[k]), float(change.worst[k])]
                      for k, lamp in enumerate(
                          each.name for each in stage.lamps if each.name in lamps)}}
