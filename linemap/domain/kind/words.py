"""Headings that several lists share, squeezed; common practice, no source."""

from __future__ import annotations

from linemap.domain.kind.kind import Cell

__all__ = ["FROM_STRUCTURE", "LINE", "REMARKS_WORDS", "STRUCTURE_WORDS", "TO_STRUCTURE"]

LINE_WORDS = "line linename lineid route circuit lineno"
STRUCTURE_WORDS = (
    "structure str strno strnum strnumber structureno structurenumber structurenum structureid struct "
    "structno structnumber structnum tower towerno towernumber"
)
REMARKS_WORDS = "remarks remark notes note comments comment"
#: Name of the line; rows that name none are on the job's own.
LINE = Cell(LINE_WORDS, way="line")
FROM_STRUCTURE = Cell("fromstructure fromstr structurefrom strfrom firststructure", way="end")
TO_STRUCTURE = Cell("tostructure tostr structureto strto laststructure", way="end")
