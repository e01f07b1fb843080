"""Power by circuit and phase, and what flickers; what is wrong is said in words, in the strong face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from previz.deliver.layout import Block, Setting, space, together
from previz.deliver.pack_parts import list_head, list_of, list_table, sentence
from previz.deliver.pack_words import NONE, amperes_text, listed, printed, share_text
from previz.deliver.tables import Cell, Column
from previz.deliver.wording import shutter_text
from previz.physics.safety import PLANNING_AID
from previz.plans.lines import CircuitLine, FlickerLine, PowerPlan, SetUp

OVER = "OVER"
"""Before what is too much for a circuit or a phase: it has to be seen in black and white."""

UNFED = "NOT ON ANY CIRCUIT"
"""Before lamps that no circuit holds."""

RISKS = {"none": "none", "bands": "BANDS across the frame", "pulse": "PULSES from frame to frame",
         "unknown": "not known"}
"""How a risk of flicker is said."""


def over_text(line: CircuitLine) -> str:
    """Return what is said of a circuit that holds too much: by how much, and what the rule lets it hold."""
    return (f"{OVER}: {amperes_text(line.amperes)} A on a circuit that may hold "
            f"{amperes_text(line.holds)} A, {amperes_text(line.amperes - line.holds)} A too much")


def flags_of(set_up: SetUp) -> list[str]:
    """Return what is past the rule in an option, a sentence each."""
    option = set_up.option or "as written"
    return [*(f"{option}: circuit {line.name}, {over_text(line)}" for line in set_up.power.circuits
              if line.over),
            *(f"{option}: {UNFED}: {lamp}" for lamp in set_up.power.unfed)]


def plans_of(set_ups: Sequence[SetUp]) -> list[tuple[PowerPlan, tuple[str, ...]]]:
    """Return the plans of power of all options, each once, with the options that it is of."""
    found: list[tuple[PowerPlan, list[str]]] = []
    for set_up in set_ups:
        for plan, options in found:
            if plan == set_up.power:
                options.append(set_up.option)
                break
        else:
            found.append((set_up.power, [set_up.option]))
    return [(plan, tuple(options)) for plan, options in found]


def power_blocks(setting: Setting, set_ups: Sequence[SetUp]) -> list[Block]:
    """Return power by circuit and phase, of options with the same only once."""
    blocks: list[Block] = []
    plans = plans_of(set_ups)
    for plan, options in plans:
        if not (plan.circuits or plan.unfed or plan.watts):
            continue
        title = "Power" if len(plans) == 1 else f"Power, {listed([each or 'as written' for each in options])}"
        blocks += _plan_blocks(setting, title, plan)
    return blocks


def _plan_blocks(setting: Setting, title: str, plan: PowerPlan) -> list[Block]:
    """Return one plan: its circuits, what is over or fed by none, what is to be looked at."""
    phases = any(line.phase for line in plan.circuits)
    columns = [
        Column("circuit", "", 5.6, lambda line: line.name, align="left", wraps=True),
        *([Column("phase", "", 3.2, lambda line: line.phase or NONE, align="left")] if phases else ()),
        Column("lamps", "", 12.0, lambda line: listed(line.lamps) or NONE, align="left", wraps=True),
        Column("W", "", 3.4, lambda line: f"{line.watts:.0f}"),
        Column("A", "", 3.2, lambda line: Cell(amperes_text(line.amperes), strong=line.over)),
        Column("may hold", "A, 3 h and more", 4.0, lambda line: amperes_text(line.holds)),
        Column("breaker", "A", 3.4, lambda line: f"{line.breaker:g}"),
        Column("", "", 6.0, lambda line: Cell(OVER if line.over else "within", flag=line.over), align="left"),
    ]
    head = list_head(setting, title, plan.supply)
    blocks = (list_table(setting, columns, plan.circuits).under(head) if plan.circuits
              else [together(head, space(0))])
    for line in plan.circuits:
        said = " ".join(filter(None, (f"{over_text(line)}." if line.over else "", line.note)))
        if said:
            blocks.append(sentence(setting, f"{line.name}: {said}", strong=line.over))
    if plan.unfed:
        blocks.append(sentence(setting, f"{UNFED}: {listed(plan.unfed)}.", strong=True))
    # Who decides is said with the cautions.
    warnings = [text for text in plan.warnings if text != PLANNING_AID]
    return [*blocks, sentence(setting, summary_text(plan)),
            *(sentence(setting, text, small=True) for text in warnings), space(0.5 * setting.unit)]


def summary_text(plan: PowerPlan) -> str:
    """Return a plan of power in a line: all of it, phase by phase, the neutral."""
    parts = [f"All: {plan.watts:.0f} W, {plan.volt_amperes:.0f} VA"]
    if plan.phases:
        parts.append(", ".join(f"{name} {amperes_text(amperes)} A" for name, amperes in plan.phases))
    else:
        parts.append(f"{amperes_text(plan.amperes)} A")
    if len(plan.phases) > 1:
        parts.append(f"the fullest {amperes_text(plan.amperes)} A, up to {share_text(plan.unbalance)} off "
                     f"their mean, neutral up to {amperes_text(plan.neutral)} A")
    return "; ".join(parts) + "."


def flicker_of(set_ups: Sequence[SetUp]) -> list[FlickerLine]:
    """Return what cameras make of lamps' flicker, lamps and cameras of which the same is said in a line."""
    alike: dict[FlickerLine, dict[str, str]] = {}
    for set_up in set_ups:
        for line in set_up.flicker:
            alike.setdefault(replace(line, lamp="", tag=""), {})[line.lamp] = line.tag
    # Cameras with the same shutter have the same of the same lamps.
    cameras: dict[FlickerLine, dict[str, None]] = {}
    for line, lamps in alike.items():
        tags = ", ".join(filter(None, lamps.values()))
        cameras.setdefault(replace(line, camera="", lamp=", ".join(lamps), tag=tags), {})[line.camera] = None
    return [replace(line, camera=", ".join(names)) for line, names in cameras.items()]


def flicker_blocks(setting: Setting, set_ups: Sequence[SetUp]) -> list[Block]:
    """Return what flickers in which camera, and what does about it; what is steady in a line."""
    lines = flicker_of(set_ups)
    if not lines:
        return []
    seen = [line for line in lines if line.risk != "none"]
    still = [line for line in lines if line.risk == "none"]
    steady = (f"Steady at {_rates(still)}: {listed(tuple(dict.fromkeys(line.lamp for line in still)))}."
              if still else "")
    blocks = list_of(setting, "Flicker", [
        Column("no.", "", 2.2, lambda line: line.tag, align="left", wraps=True),
        Column("lamps", "", 7.0, lambda line: line.lamp, align="left", wraps=True),
        Column("camera", "", 6.0, lambda line: f"{line.camera}, {line.fps:g} fps, "
               f"{shutter_text(line.shutter)}", align="left", wraps=True),
        Column("ripple", "", 6.0, lambda line: f"{line.frequency:g} Hz, {share_text(line.depth)}",
               align="left", wraps=True),
        Column("off by", "stops", 3.0, lambda line: f"{line.swing:.2f}"),
        Column("risk", "", 8.0, lambda line: Cell(_risk(line), strong=line.risk != "unknown"), align="left",
               wraps=True),
        Column("what to do", "", 13.0, lambda line: printed(line.advice) or NONE,
               align="left", wraps=True),
    ], seen)
    if steady:
        line = sentence(setting, steady)
        blocks += [line if seen else together(list_head(setting, "Flicker"), line), space(0.5 * setting.unit)]
    return blocks


def _risk(line: FlickerLine) -> str:
    said = RISKS.get(line.risk, line.risk)
    return f"{said}, {line.beat:.3g} times a second" if line.beat else said


def _rates(lines: Sequence[FlickerLine]) -> str:
    return listed(tuple(dict.fromkeys(
        f"{line.camera}: {line.fps:g} fps, {shutter_text(line.shutter)}" for line in lines)))
