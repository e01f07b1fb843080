"""The command line: one module a command, and one form for what goes wrong."""

from __future__ import annotations

import atexit
import contextlib
import gc
import importlib
import os
import signal
import sys
import traceback

import click

from previz import __version__
from previz.cli.ending import (
    BY_SIGNAL,
    DONE,
    FAULT,
    MENDABLE,
    NOBODY_READS,
    hush,
    interrupts,
    kept_words,
    open_streams,
    say,
    written_out,
)
from previz.errors import PrevizError, RequestError, resource_error

COMMANDS = {
    "new": "Write a starter scene from a room's size, a window and a person.",
    "check": "Check a scene file and say everything that is wrong with it.",
    "render": "Render a scene: stills, exposure maps, EXR and a comparison sheet.",
    "shard": "Render a day's scenes on many processes, GPUs and machines, to the same bits.",
    "watch": "Render a scene again whenever its file is saved, a draft first.",
    "compare": "Options side by side, by one camera or several, with the numbers that decide.",
    "balance": "Find the levels, colours and stop for what is wanted of the light.",
    "study": "One lamp direct, through a frame and off a board, over a ladder of sizes.",
    "haze": "One scene at several densities of its haze, with contrast and veil for each.",
    "match-cut": "Say whether two shots cut together, and what to change where they do not.",
    "read": "Read a reference still: what each lamp of a scene does in it.",
    "times": "Show a scene over a day: where the sun helps, and what lamp would replace it.",
    "walk": "A figure's way along its marks: stops on its face against metres, holes, hot spots.",
    "what-if": "What the light hangs on: a lamp half a stop off or out, a cloud, a step.",
    "mood": "Make graded frames without numbers: a contact sheet and one self-contained page.",
    "meter": "Read the meters of a scene, lamp by lamp: light, ratios, colour, spots.",
    "readings": "Hold readings of the set against the plan: which lamp is off, which reading cannot be so.",
    "as-shot": "Keep what was shot, and hold it against the plan: levels, colours, stops.",
    "page": "Open a page in the browser: levels, colours, stop and meters in the hand.",
    "paper": "Everything on paper: plan, section, lists, power, truck, a meter sheet to write on.",
    "block": "Draw the cameras' frames and a view from above, without light.",
    "validate": "Show which published and derivable values the program reproduces.",
    "cache": "Show what is kept of renders, bound it, clear it.",
    "doctor": "Say what this machine has, and what to install.",
    "schema": "Print the JSON Schema of scene files, for editors.",
    "list": "List lamps, surfaces and every field that can be written.",
    "portrait": "One head under six classic placements of a lamp, hard and soft, on one sheet.",
    "bench": "Measure speed and noise against the plain library, as ratios.",
}
"""Every command, in the order of a day's work, with its one line of help."""


class LazyGroup(click.Group):
    """A group whose commands are imported when they are used, so that help comes at once."""

    def list_commands(self, ctx):
        """Return the names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx, name):
        """Return one command, imported now."""
        if name not in COMMANDS:
            return None
        return importlib.import_module(f"previz.cli.{name.replace('-', '_')}").command

    def invoke(self, ctx):
        """Run a command; what is requested and not there is shown as a wrong option is."""
        try:
            return super().invoke(ctx)
        except RequestError as error:
            raise click.UsageError(str(error)) from None
        except BrokenPipeError:
            # Click would end with a status of its own.
            hush()
            raise click.exceptions.Exit(NOBODY_READS) from None
        except KeyboardInterrupt:
            raise click.Abort from None

    def format_commands(self, ctx, formatter):
        """Write the commands' help without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(self, ctx, args):
        """Return the command of that name, or suggest one that is near."""
        if args and args[0] not in COMMANDS:
            import difflib

            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise click.UsageError(f"There is no command '{args[0]}'.{hint}", ctx=ctx)
        return super().resolve_command(ctx, args)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="previz")
def previz():
    """See and measure how a scene will be lit, before the pre-light day."""


def main(argv: list[str] | None = None) -> None:
    """Run the program and leave with its exit status; see `ending`."""
    if argv is None:
        # The search for what may be freed at the end takes a tenth of a second, for nothing.
        atexit.register(gc.freeze)
    open_streams()
    words = sys.argv[1:] if argv is None else argv
    with interrupts() as heard:
        status = _status(words, heard)
    sys.exit(status)


def _status(words: list[str], heard: list[int]) -> int:
    """Run a command line; say what goes wrong, and return the exit status."""
    try:
        status = previz.main(args=words, prog_name="previz", standalone_mode=False)
        return (status if isinstance(status, int) else DONE) if written_out() else NOBODY_READS
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        with contextlib.suppress(OSError):
            error.show()
        return MENDABLE
    except (click.Abort, KeyboardInterrupt):
        say(f"\nInterrupted. {kept_words(words)}")
        return BY_SIGNAL + (heard[0] if heard else signal.SIGINT)
    except Exception as error:
        if heard and not isinstance(error, (PrevizError, OSError, MemoryError)):
            # A library that is interrupted as it imports its optional parts goes on without them, and fails.
            say(f"\nInterrupted. {kept_words(words)}")
            return BY_SIGNAL + heard[0]
        return _told(error, words)


def _told(error: Exception, words: list[str]) -> int:
    """Say an error that ends the program, and return the exit status."""
    kept = kept_words(words)
    if isinstance(error, PrevizError):
        say(str(error))
        return MENDABLE
    lacking = resource_error(error)
    if lacking is not None:
        say(f"{lacking} {kept}")
        return MENDABLE
    from previz.faults import DEVELOPERS, fault_words

    say(f"{fault_words(error)} {kept}")
    if os.environ.get(DEVELOPERS):
        say("".join(traceback.format_exception(error)))
    return FAULT
