"""What records of the field are held against, and which structure one names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.domain.crew.fix import Sites
from linemap.domain.crew.hold import Hold
from linemap.domain.design.naming import Naming
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import Called
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import Workflow
from linemap.service.view.structure import stops_of
from linemap.service.view.view import JobView


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """What records are held against: everything of the job that no record changes."""

    sites: Sites
    #: Poles of each structure, "AB" or "ABC".
    letters: Mapping[Key, str]
    #: Guys of each structure by name, where the workflow has steps of them.
    guys: Mapping[Key, tuple[str, ...]]
    #: Holds in force, without reasons that are not for everyone.
    holds: Mapping[Key, Sequence[Hold]]
    workflow: Workflow
    naming: Naming
    #: Findings that stop work.
    stops: Mapping[Key, Sequence[Finding]]
    #: Structures that an earlier list had or records name, which the lists no longer have.
    gone: frozenset[Key]

    @property
    def lines(self) -> tuple[str, ...]:
        """Names of the lines."""
        return tuple(line.name for line in self.sites.figures.lines)

    @property
    def only_line(self) -> str:
        """Name of the line of a job that has one; "" of several."""
        return self.lines[0] if len(self.lines) == 1 else ""

    def called(self, key: Key) -> Called:
        """Return what the owner calls the poles of a structure."""
        return self.naming.called(key)


def what_is_known(view: JobView) -> Known:
    """Gather what records are held against; good until anything but the record of the field changes."""
    return Known(
        sites=Sites(figures=view.figures, projection=view.projection, row_of=view.row_of),
        letters=view.figures.letters_by_key(),
        guys=view.guy_names,
        holds={
            view.key(row): [hold.without_reason() for hold in holds]
            for row, holds in view.holds_by_row.items()
        },
        workflow=view.workflow,
        naming=view.naming,
        stops=stops_of(view),
        gone=frozenset({*view.changes_by_structure, *view.events_by_structure}.difference(view.row_of)),
    )


def locate_record(known: Known, line: str, structure: str) -> tuple[Key, str]:
    """Find the structure a record names, however it is spelt: its key, and what to ask ("" = nothing).

    A number that is in no list is taken when the structure it seems to be inserted beside is: lists follow
    the field, not the other way round; so is one that was in an earlier list. `ValueError` = the line or the
    structure is not known, or it may be several of the list.
    """
    named = line.strip() or known.only_line
    if named not in known.lines:
        names = ", ".join(known.lines[:5])
        raise ValueError(f"no line {named!r} in this job; use one of {names}")
    number = known.naming.listed.find(structure, named)
    if (named, number) in known.letters:
        return (named, number), ""
    if (named, number) in known.gone:
        return (named, number), f"{number} is in no list of line {named} any more: kept as a case"
    beside = _beside(known, named, number)
    if (named, beside) in known.letters:
        return (named, number), f"{number} is in no list of line {named}, {beside} is: inserted beside it?"
    raise ValueError(
        f"line {named} has no structure {number!r}; use its number, like {_example(known, named)}"
    )


def _beside(known: Known, line: str, number: str) -> str:
    """Return the listed number without what marks an inserted structure; "" when there is none."""
    plain = known.naming.numbering.beside(number)
    meant = known.naming.listed.meant(plain, line) if plain else ()
    return meant[0] if len(meant) == 1 else ""


def _example(known: Known, line: str) -> str:
    return next((number for name, number in known.letters if name == line), "9/2")
