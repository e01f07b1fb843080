"""The command line: one module a command, and one form for what goes wrong."""

from __future__ import annotations

import atexit
import gc
import importlib
import os
import sys
import tempfile
import traceback

import click

from previz import __version__
from previz.errors import PrevizError, RequestError

COMMANDS = {
    "check": "Check a scene file and say everything that is wrong with it.",
    "render": "Render a scene: stills, exposure maps, EXR and a comparison sheet.",
    "watch": "Render a scene again whenever its file is saved, a draft first.",
    "compare": "Options side by side, by one camera or several, with the numbers that decide.",
    "study": "One lamp direct, through a frame and off a board, over a ladder of sizes.",
    "haze": "One scene at several densities of its haze, with contrast and veil for each.",
    "match-cut": "Say whether two shots cut together, and what to change where they do not.",
    "times": "Show a scene over a day: where the sun helps, and what lamp would replace it.",
    "mood": "Make graded frames without numbers: a contact sheet and one self-contained page.",
    "meter": "Read the meters of a scene, lamp by lamp: light, ratios, colour, spots.",
    "page": "Open a page in the browser: levels, colours, stop and meters in the hand.",
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
    """Run the program and leave with its exit status.

    0 done; 2 the user can mend it (said in words); 130 interrupted; 1 a fault of the program, with
    the traceback in a file.
    """
    if argv is None:
        # The search for what may be freed at the end takes a tenth of a second, for nothing.
        atexit.register(gc.freeze)
    try:
        status = previz.main(args=argv, prog_name="previz", standalone_mode=False)
        sys.exit(status if isinstance(status, int) else 0)
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted. What was finished is kept; the same command goes on from there.",
                   err=True)
        sys.exit(130)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except Exception as error:
        from previz.cli.disk import disk_words

        words = disk_words(error)
        if words:
            click.echo(words, err=True)
            sys.exit(2)
        if isinstance(error, PrevizError):
            click.echo(str(error), err=True)
            sys.exit(2)
        with tempfile.NamedTemporaryFile("w", prefix="previz-fault-", suffix=".txt",
                                         delete=False) as file:
            traceback.print_exc(file=file)
        click.echo(f"previz failed: {error}. That is a fault of the program; what happened is in "
                   f"{file.name}.", err=True)
        sys.exit(1)
