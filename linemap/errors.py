"""Everything linemap can refuse, and the one shape of a problem found in a file.

The tree::

    LinemapError
    ├── InputRefused        a file or argument cannot be used; carries its problems
    ├── NotFound            a job, line, structure or revision that does not exist
    ├── Conflict            the job changed under the caller, or an identifier is taken
    ├── NotAllowed          somebody asked for what belongs to another role or person
    └── JobUnreadable       the job database cannot be opened or is of another version
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a problem found in a file matters."""

    REFUSED = "refused"
    """The whole file is refused because of it; nothing is stored."""
    LEFT_OUT = "left out"
    """The row is not used; the rest of the file is."""
    NOTED = "noted"
    """The row is used; a person should look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong, or worth a look, in one place of one file."""

    #: File name as the user gave it; empty when the problem is an argument's.
    file: str
    #: Row number as a person counts it in the file (1 = first line or sheet row); None = the whole file.
    row: int | None = None
    #: Column heading or argument name, or "".
    column: str = ""
    #: The offending value as text, shortened to 80 characters.
    value: str = ""
    #: What is wrong, lower-case, without a full stop.
    reason: str
    #: What to do about it, lower-case, without a full stop.
    remedy: str = ""
    severity: Severity = Severity.REFUSED
    #: Line and structure that the row names, as written; "" = none.
    line: str = ""
    structure: str = ""
    #: What the file may be, when that is asked.
    may_be: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if len(self.value) > 80:
            object.__setattr__(self, "value", self.value[:79] + "…")

    def __str__(self) -> str:
        """One line for a person: file, row, column, value, reason, remedy.

        >>> str(Problem(file="list.csv", row=7, column="Northing", value="nan",
        ...             reason="not a finite number", remedy="correct the cell"))
        'list.csv, row 7, Northing "nan": not a finite number; correct the cell'
        """
        place = ", ".join(
            part for part in (self.file, f"row {self.row}" if self.row is not None else "") if part
        )
        what = " ".join(part for part in (self.column, f'"{self.value}"' if self.value else "") if part)
        head = ", ".join(part for part in (place, what) if part)
        tail = self.reason + (f"; {self.remedy}" if self.remedy else "")
        return f"{head}: {tail}" if head else tail


class LinemapError(Exception):
    """Base of everything linemap raises on purpose."""


class InputRefused(LinemapError):  # noqa: N818 - named by what happened
    """A file or argument cannot be used. Nothing was stored or written.

    Parameters
    ----------
    problems : Problem or iterable of Problem
        At least one; the first is the headline.

    Raises
    ------
    ValueError
        If there is no problem.
    """

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        if not self.problems:
            raise ValueError("a refusal needs at least one problem; say what is wrong")
        super().__init__("\n".join(str(problem) for problem in self.problems))

    @classmethod
    def at(cls, column: str, value: str, reason: str, remedy: str = "", *, file: str = "") -> InputRefused:
        """Return the refusal of one argument, or of one value of a file; see `Problem`.

        >>> raise InputRefused.at("--mile", "x", "is no number", "give one like 12")
        Traceback (most recent call last):
        linemap.errors.InputRefused: --mile "x": is no number; give one like 12
        """
        return cls(Problem(file=file, column=column, value=value, reason=reason, remedy=remedy))

    @classmethod
    def of_file(
        cls, file: str, reason: str, remedy: str, *, row: int | None = None, value: str = ""
    ) -> InputRefused:
        """Return the refusal of a file, or of one of its rows; see `Problem`."""
        return cls(Problem(file=file, row=row, value=value, reason=reason, remedy=remedy))


class NotFound(LinemapError):  # noqa: N818 - named by what happened
    """A job, line, structure or revision that does not exist."""


class Conflict(LinemapError):  # noqa: N818 - named by what happened
    """The job changed under the caller, or an identifier is already taken."""


class NotAllowed(LinemapError):  # noqa: N818 - named by what happened
    """Somebody asked for what belongs to another role or another person."""


class JobUnreadable(LinemapError):  # noqa: N818 - named by what happened
    """The job database cannot be opened, or was written by another version."""
