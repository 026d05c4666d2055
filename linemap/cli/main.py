"""Find the command, run it, and turn whatever goes wrong into one clear message.

Exit codes: 0 done, 2 input refused (the message names file, row, value and what to do), 1 failure.
"""

from __future__ import annotations

import gc
import importlib
import inspect
import os
import sys
import traceback
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Annotated, NoReturn

import typer

from linemap import __version__
from linemap.cli.choice import with_options
from linemap.cli.terminal import ERR, OUT, show_refusal
from linemap.errors import InputRefused, LinemapError, Problem

#: Command -> module under `linemap.cli` whose function of the same name runs it ("new" is `new_command`).
COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "compute": "job",
        "new": "job",
        "declare": "job",
        "load": "load",
        "undo": "load",
        "check": "survey",
        "decide": "survey",
        "cases": "case",
        "move": "case",
        "shots": "shots",
        "redmarks": "output",
        "package": "output",
        "export": "output",
        "stakeout": "output",
        "marks": "output",
        "print": "output",
        "next": "record",
        "progress": "record",
        "serve": "serve",
        "log": "log",
        "backup": "keep",
        "restore": "keep",
        "user": "user",
        "demo": "serve",
    }
)


#: Values made before rubbish is looked for: what a command makes it keeps to its end, which a server has not.
_MADE = 100_000


def main() -> None:
    """Run the command line; every refusal is one clear message and exit code 2, never a traceback."""
    if sys.argv[1:2] != ["serve"]:
        gc.set_threshold(_MADE)
    try:
        stopped = application(sys.argv[1:])(prog_name="linemap", standalone_mode=False)
        if isinstance(stopped, int):  # typer hands back the code of typer.Exit
            sys.exit(stopped)
    except typer.Exit as stop:
        sys.exit(stop.exit_code)
    except typer.Abort:
        ERR.print("stopped")
        sys.exit(1)
    except InputRefused as refusal:
        _refuse(refusal.problems)
    except LinemapError as refusal:
        _refuse([Problem(file="", reason=str(refusal))])
    except Exception as failure:
        _fail(failure)


def application(arguments: Sequence[str]) -> typer.Typer:
    """Return the application with the one command that is asked for, or with all of them for the help.

    The modules of the commands hold options and printing; each brings in what does the work when it runs. So
    the help comes at once, and `compute` starts without a database and a server.
    """
    app = typer.Typer(
        name="linemap",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        help="Stationing, A/B orientation and framing status of wood H-frame lines.\n\n"
        "linemap COMMAND --help ends with an example; the examples run on the line that linemap demo builds.",
    )
    app.callback(invoke_without_command=True)(_version)
    asked = next((word for word in arguments if not word.startswith("-")), "")
    for name in [asked] if asked in COMMANDS else COMMANDS:
        module = importlib.import_module(f"linemap.cli.{COMMANDS[name]}")
        command = getattr(module, f"{name}_command")
        more = getattr(module, f"more_of_{name}", None) if name == asked and "--help" in arguments else None
        words = _pasteable(inspect.getdoc(command) or "")
        if options := getattr(module, f"options_of_{name}", None):
            # what a job declares says them, not the code
            declared = options() if name == asked else ()
            command = with_options(command, declared, instead_of="given")
        app.command(name, help=words, epilog=more and more())(command)
    return app


def _pasteable(text: str) -> str:
    """Return the help of a command with its example as a shell takes it, whatever the terminal's width."""
    words, mark, example = text.rpartition("Example: ")
    return f"{words}\b\n{mark}" + example.replace("\n", " \\\n    ") if mark else text


def _version(
    version: Annotated[bool, typer.Option("--version", help="print the version and stop")] = False,
) -> None:
    if version:
        OUT.print(f"linemap {__version__}")
        raise typer.Exit


def _refuse(problems: Sequence[Problem]) -> NoReturn:
    show_refusal(problems)
    sys.exit(2)


def _fail(failure: Exception) -> NoReturn:
    """Say in one line what failed; a wrong option is input, everything else is a failure of ours."""
    words = getattr(failure, "format_message", None)
    if words is not None:
        _refuse([Problem(file="", reason=words(), remedy="see --help")])
    if os.environ.get("LINEMAP_DEBUG"):
        traceback.print_exc()
    words = f"failed: {type(failure).__name__}: {failure}; set LINEMAP_DEBUG=1 to see where"
    ERR.print(words)
    sys.exit(1)
