"""All cautions that a pack of paper carries, in one order, and who decides."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from previz.physics.safety import NO_SOURCE, PLANNING_AID, Caution, together
from previz.scene.scene import Scene
from previz.stage.feeds import cable_caution
from previz.stage.mains import OVERLOADED
from previz.stage.records import Stage

WHO_DECIDES = PLANNING_AID
"""What stands over or under the cautions on every page that has some."""

ADVICE = 7
"""How urgent is what the plan of circuits says by common practice; what a rule has is as urgent as a load."""

_SOURCED = re.compile(r"(.*?)\s*\(([^()]*(?:\([^()]*\)[^()]*)*)\)\s*\.?\s*", re.DOTALL)


def paper_cautions(scenes: Sequence[Scene], stages: Sequence[Stage], crossings: Sequence[str] = (),
                   warnings: Sequence[str] = ()) -> tuple[Caution, ...]:
    """Return the cautions of options of one scene, or of the scenes of a day, the most urgent first.

    Options of one scene say the worst of each sort; things of different scenes stay apart, each under the
    title of its scene. Notes of what is to be checked are not among them: `previz check` says those.

    Parameters
    ----------
    scenes, stages : sequences of Scene and of Stage
        One stage for each scene.
    crossings : sequence of str
        Ways that cables cross: 'the door', 'clerk's way to window'.
    warnings : sequence of str
        What `plans.lines.PowerPlan.warnings` says, each with its source in brackets.

    Raises
    ------
    ValueError
        There are not as many stages as scenes.
    """
    titles = dict.fromkeys(scene.title for scene in scenes)
    found: list[Caution] = []
    for title in titles:
        of_scene = together(each for scene, stage in zip(scenes, stages, strict=True) if scene.title == title
                            for each in stage.reminders if each.kind != "note")
        found += [_titled(each, title) if len(titles) > 1 else each for each in of_scene]
    if crossings:
        found.append(cable_caution(list(dict.fromkeys(crossings))))
    found += _power(warnings, found)
    return together(found)


def _titled(each: Caution, title: str) -> Caution:
    """Return a caution of one scene of several; its things are not those of another that are called alike."""
    of = title or "without a title"
    return replace(each, brief=f"{of}: {each.brief}", text=f"{of}: {each.text}",
                   names=tuple(f"{of}: {name}" for name in each.names))


def _power(warnings: Sequence[str], found: Sequence[Caution]) -> Iterator[Caution]:
    """Yield the plan of circuits' warnings, less those that a scene's own cautions say."""
    said = {each.brief for each in found}
    for line in dict.fromkeys(warnings):
        sourced = _SOURCED.fullmatch(line)
        words, source = (sourced[1], sourced[2]) if sourced else (line.rstrip(". "), NO_SOURCE)
        if line == PLANNING_AID or words in said:
            continue
        text = f"{words}. A licensed electrician decides. Source: {source}."
        ruled = "common practice" not in source and source != "from memory"
        urgency = OVERLOADED if ruled else ADVICE
        yield Caution("power", "the plan of circuits", words, text, source, urgency, (words,))
