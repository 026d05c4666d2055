"""A finding: something a person should know about one structure or a whole line, in plain words."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Finding"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found while computing or checking. Findings are data, never errors."""

    #: Line name.
    line: str
    #: Structure number, or "" when the finding is about the line.
    structure: str
    #: Short stable key, for filters: "off line", "no structure at PI", "reversed", ...
    code: str
    #: One sentence with the numbers and their units, lower-case, without a full stop.
    words: str

    def __str__(self) -> str:
        """Print line, structure and words in one line.

        >>> str(Finding(line="North", structure="9/2", code="off line", words="centre 3.10 ft right of line"))
        'North 9/2: centre 3.10 ft right of line'
        """
        return f"{self.line} {self.structure}".strip() + f": {self.words}"
