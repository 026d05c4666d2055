"""`linemap load`: files into a job, as a change that is looked at first. `undo`: the state before."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.change import print_changes, print_file, print_reviewed
from linemap.cli.terminal import (
    OUT,
    JobArgument,
    JsonOption,
    busy,
    date_option,
    now,
    opened,
    say_json,
    show_refusal,
)
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, NotFound, Severity
from linemap.io.cells.dates import DateOrder

if TYPE_CHECKING:
    from linemap.answers.change import ChangeList
    from linemap.service.files.edit import Signed
    from linemap.service.files.load_report import LoadRequest
    from linemap.service.files.review import Edit
    from linemap.store.database import Database

_COLUMN = "which column holds a field: easting=X, easting=3, with a unit easting=X[ftUS]; repeatable"
_CRS_OF_FILE = "what the files' coordinates are in, whatever they declare: job, or like EPSG:32612"
_REMEMBER = "keep what is said about the columns for the next file of the same headings"
_SHOT_ORDER = "column order without a header: pnezd or penzd"
_REMOVES = (
    "what may be taken away: structures (with records), centreline, types, framing; with holds, tickets or "
    "receipts, those that the file does not name end; repeatable"
)
_TRUE_FROM = "day from which the lists are true (YYYY-MM-DD); the day they come in by default"

YesOption = Annotated[bool, typer.Option("--yes", help="accept without being asked")]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="show what would follow, store nothing")]
RemovesOption = Annotated[list[str] | None, typer.Option("--removes", metavar="WORD", help=_REMOVES)]
ReasonOption = Annotated[str, typer.Option(help="why, kept with the change")]
ByOption = Annotated[str, typer.Option(help="name of who accepts; the user of this machine by default")]


def more_of_load() -> str:
    """Return what a new file of each list does and its columns, as they are declared."""
    from linemap.domain.kind.compare import does_of
    from linemap.io.cells.meaning import columns_in_words
    from linemap.kinds.registry import DECLARED

    lists = (f"{code}: {does_of(kind)}. {columns_in_words(kind)}" for code, kind in DECLARED.items())
    return "Columns of lists with some of their headings; others are understood too.\n\n" + "\n\n".join(lists)


def load_command(
    job: JobArgument,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="files to load, in any order")],
    kind: Annotated[
        Kind | None, typer.Option("--as", help="what the files are, when it cannot be told")
    ] = None,
    label: Annotated[str, typer.Option(help="revision label, like B")] = "",
    shot_order: Annotated[str, typer.Option(help=_SHOT_ORDER)] = "pnezd",
    column: Annotated[list[str] | None, typer.Option(metavar="FIELD=HEADING", help=_COLUMN)] = None,
    date_order: Annotated[
        DateOrder | None,
        typer.Option(help="how 5/6 is meant: mdy or dmy; also for numbers turned into dates"),
    ] = None,
    true_from: Annotated[str, typer.Option(help=_TRUE_FROM)] = "",
    crs_of_file: Annotated[str, typer.Option(metavar="CRS", help=_CRS_OF_FILE)] = "",
    remember: Annotated[bool, typer.Option("--remember", help=_REMEMBER)] = False,
    by: ByOption = "",
    reason: ReasonOption = "",
    removes: RemovesOption = None,
    yes: YesOption = False,
    dry_run: DryRunOption = False,
    as_json: JsonOption = False,
) -> None:
    """Load files into a job: all of them, or none.

    On a terminal it shows what would follow and asks. What takes away holds, tickets, structures with
    records, types in use or a centreline needs its own word, asked or not.

    Example: linemap load north.linemap linemap-demo/files/centreline.csv linemap-demo/files/equations.csv
    linemap-demo/files/structures_revB.csv linemap-demo/files/shots_2026-05-13.csv
    """
    from linemap.io.cells.shape import read_column_option
    from linemap.service.files.load_report import LoadRequest

    columns = [read_column_option(text) for text in column or ()]
    signed = _signed(by, reason, removes)
    request = LoadRequest(
        paths=tuple(files),
        kind=kind,
        label=label,
        shot_order=shot_order,
        columns={name: heading for name, heading, _ in columns},
        units={name: unit for name, _, unit in columns if unit},
        date_order=date_order,
        crs_of_file=crs_of_file,
        remember=remember,
        loaded_by=signed.who,
        ends=_ending(signed.removes),
        true_from=date_option(true_from, "--true-from"),
    )
    with opened(job) as database:
        if dry_run or _asks(yes=yes):
            from linemap.service.files.review import Edit

            edit = Edit(load=request)
            _looked_at(database, edit, signed, yes=yes, dry_run=dry_run, as_json=as_json)
        else:
            _straight(database, request, signed, as_json=as_json)


def undo_command(
    job: JobArgument,
    change: Annotated[
        str,
        typer.Argument(metavar="CHANGE", help="the beginning of its identifier, or last; listed without it"),
    ] = "",
    by: ByOption = "",
    reason: ReasonOption = "",
    removes: RemovesOption = None,
    yes: YesOption = False,
    dry_run: DryRunOption = False,
    as_json: JsonOption = False,
) -> None:
    """Undo a load: the lists before it come back as new states, and rows it only added count no more.

    Nothing is taken out of the record. Without CHANGE the accepted changes are listed.

    Example: linemap undo linemap-demo/demo.linemap
    """
    from linemap.service.files.proposal_answer import changes_answer
    from linemap.service.files.review import Edit

    signed = _signed(by, reason, removes)
    with opened(job) as database:
        listed = changes_answer(database)
        if not change:
            print_changes(listed, as_json=as_json)
            return
        edit = Edit(undo=_found(listed, change))
        yes = yes or not _asks(yes=yes)
        _looked_at(database, edit, signed, yes=yes, dry_run=dry_run, as_json=as_json)


def _asks(*, yes: bool) -> bool:
    """Say whether a person sits there who can be asked."""
    return not yes and sys.stdin.isatty() and OUT.is_terminal


def _signed(by: str, reason: str, removes: list[str] | None) -> Signed:
    from linemap.service.files.edit import TAKEN, Signed

    for word in removes or ():
        if word not in TAKEN:
            known = ", ".join(TAKEN)
            raise InputRefused.at(
                "--removes", word, "is nothing that can be taken away", f"use one of {known}"
            )
    return Signed(who=by or getpass.getuser(), reason=reason, removes=removes or ())


def _ending(words: Collection[str]) -> frozenset[Kind]:
    from linemap.domain.kind.kind import Keeps
    from linemap.kinds.registry import DECLARED

    return frozenset(code for code, kind in DECLARED.items() if code in words and kind.keeps is Keeps.KEYED)


def _straight(database: Database, request: LoadRequest, signed: Signed, *, as_json: bool) -> None:
    """Load without a look: nothing follows that the files and their words do not say."""
    from linemap.service.files.review import load_files

    with busy("loading"):
        report = load_files(database, request, now=now(), reason=signed.reason, removes=signed.removes)
    if as_json:
        say_json(report.as_dict())
        return
    for loaded in report.files:
        print_file(loaded)
    OUT.print(f"data version {report.data_version}")


def _looked_at(
    database: Database, edit: Edit, signed: Signed, *, yes: bool, dry_run: bool, as_json: bool
) -> None:
    """Show what an edit would do, ask, and do it."""
    from linemap.service.files.edit import require_words
    from linemap.service.files.proposal_answer import proposed
    from linemap.service.files.review import carry_out, review

    with busy("looking"):
        reviewed = review(database, edit, now=now())
    shown = proposed(edit, reviewed)
    if as_json:
        say_json({"dry_run": dry_run, **shown})
    else:
        print_reviewed(reviewed, shown)
    if reviewed.stops:
        problems = [each for file in reviewed.applied.files for each in file.problems]
        show_refusal([each for each in problems if each.severity is Severity.REFUSED] + [*reviewed.refused])
        raise typer.Exit(2)
    if dry_run:
        if not as_json:
            OUT.print("nothing stored (dry run)")
        return
    taken, base_version = reviewed.applied.taken, reviewed.base_version
    require_words(taken, signed.removes)
    if not yes and not typer.confirm(f"{shown['button']}?"):
        OUT.print("nothing stored")
        raise typer.Exit(1)
    with busy("storing"):
        done = carry_out(
            database, edit, reviewed.read, signed, now=now(), base_version=base_version, seen=taken
        )
    OUT.print(f"done: change {done.change.id[:8]}; linemap undo brings the state before back")


def _found(listed: ChangeList, change: str) -> str:
    standing = [each for each in listed.changes if not each.kept_by]
    if change == "last" and standing:
        return standing[0].id
    found = [each.id for each in listed.changes if each.id.startswith(change)]
    if len(found) != 1:
        which = "several changes begin" if found else "no change begins"
        raise NotFound(f"{which} with {change!r}; linemap undo JOB lists them")
    return found[0]
