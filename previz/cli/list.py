"""`previz list`: everything that can be written in a scene, and where its numbers come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from previz.studies.vocabulary import Entry

SECTIONS = ("lights", "spectra", "modifiers", "surfaces", "colours", "fields", "gels", "pieces")


@click.command()
@click.argument("section", type=click.Choice(SECTIONS), required=False)
def command(section: str | None) -> None:
    """List lamps, modifiers, surfaces, colours, gels, pieces and fields: units, ranges, defaults, sources.

    SECTION shows one of them; without it, all.
    """
    from previz.studies.vocabulary import vocabulary

    for name in (section,) if section else SECTIONS:
        click.echo(click.style(name.upper(), bold=True))
        for group in vocabulary(name):
            if group.head:
                click.echo(group.head)
            if group.note:
                click.echo(f"  {group.note}")
            for entry in group.entries:
                click.echo(f"{'  ' if group.head else ''}{_line(entry)}")
        click.echo()


def _line(entry: Entry) -> str:
    unit = f" [{entry.unit}]" if entry.unit else ""
    facts = f" ({'; '.join(entry.facts)})" if entry.facts else ""
    return f"{entry.name}{unit}: {entry.text}{facts}"
