"""A finding, and many findings of one code as columns. Neither keeps a sentence: `words` makes it."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from linemap.domain.finding.code import Asks, Code, Severity, Stop, Values
from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.finding.wording import anchor, control, crew_check, design, record, survey

#: Every code there is: `linemap.domain.finding.wording` says what it means and how it reads.
CODES: Mapping[str, Code] = MappingProxyType(
    {
        **design.DESIGN,
        **survey.CODES,
        **anchor.CODES,
        **control.CODES,
        **record.CODES,
        **crew_check.CODES,
        **design.LOADING,
    }
)


class _Coded:
    """What a code says of one finding or of many."""

    __slots__ = ()
    code: str
    weight: Severity | None

    @property
    def severity(self) -> Severity:
        """How much it matters."""
        return CODES[self.code].severity if self.weight is None else self.weight

    @property
    def asks(self) -> Asks:
        """Who is asked to look at it."""
        return CODES[self.code].asks


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding(_Coded):
    """One thing found while computing, checking or recording. Findings are data, never errors."""

    #: Line name.
    line: str
    #: Structure number, or "" when the finding is about the line.
    structure: str
    #: Key of `CODES`.
    code: str
    #: Pole, guy, step, span or file row within the place; "" = all of it.
    part: str = ""
    values: Values = field(default_factory=dict)
    #: None = as the code says.
    weight: Severity | None = None
    #: Day it is so since; None = not known.
    since: dt.date | None = None
    #: What the owner calls the poles of the structure; whoever shows findings sets it (`Ledger`).
    called: Called = field(default_factory=lambda: BY_LETTER, compare=False)

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure it is about."""
        return (self.line, self.structure)

    @property
    def stop(self) -> Stop | None:
        """What it stops; None = no step, because its severity does not stop work."""
        return CODES[self.code].stop if self.severity is Severity.STOPS else None

    @property
    def closes(self) -> str:
        """What closes it, and who."""
        return CODES[self.code].closes

    @property
    def words(self) -> str:
        """One sentence with the numbers and their units, lower-case, without a full stop."""
        return CODES[self.code].say({**self.values, "called": self.called})

    @property
    def id(self) -> str:
        """Name that stays as long as code, place and part do, whatever its numbers become."""
        return token(self.line, self.structure, self.code, self.part)

    def reworded(self, change: Callable[[str], str]) -> Finding:
        """Return it with its texts changed, as for readers who may not see some words."""
        values = {name: _reworded(value, change) for name, value in self.values.items()}
        return replace(self, values=values, part=change(self.part))

    def __str__(self) -> str:
        """Print line, structure and words in one line.

        >>> offset = {"offset": 3.1, "unit": "ft"}
        >>> str(Finding(line="North", structure="9/2", code="off line", values=offset))
        'North 9/2: centre 3.10 ft right of the line'
        """
        return f"{self.line} {self.structure}".strip() + f": {self.words}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block(_Coded):
    """Findings of one code and one severity at many structures."""

    code: str
    #: Rows of `Figures`, (m,); -1 = at no structure that is listed.
    rows: NDArray[np.int64]
    #: Name -> a column of that length, or one value for all of them.
    values: Values
    #: Part of the place, as a column or for all of them.
    part: object = ""
    weight: Severity | None = None

    def at(self, index: int, line: str, structure: str) -> Finding:
        """Return one of them as a finding of the structure of its row."""
        values = {name: _one(value, index) for name, value in self.values.items()}
        part = str(_one(self.part, index))
        return Finding(
            line=line, structure=structure, code=self.code, part=part, values=values, weight=self.weight
        )


#: What judges returns any mix of both.
Found = Block | Finding


def _one(values: object, index: int) -> object:
    if not isinstance(values, np.ndarray):
        return values
    value: object = values[index]
    return value.item() if isinstance(value, np.generic) else value


def _reworded(value: object, change: Callable[[str], str]) -> object:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple | list):
        return tuple(_reworded(each, change) for each in value)
    return value


def token(*parts: str) -> str:
    """Return a short name made of what is named: the same for the same parts, whatever else there is.

    >>> token("North", "9/2", "arm turned", "") == token("North", "9/2", "arm turned", "")
    True
    """
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:7]
