"""Give a table its meaning: which reader reads which kind, with what the job declares."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from linemap.domain.design.line import PoleASide
from linemap.geometry.projection import Projection
from linemap.io.cells.shape import Answers
from linemap.io.cells.table import Kind, Loaded, RawTable
from linemap.io.design.context import read_context
from linemap.io.design.crossings import read_crossings
from linemap.io.design.equations import read_equations
from linemap.io.design.framing import read_framing
from linemap.io.design.guys import read_guys
from linemap.io.design.pi_list import read_pi_list
from linemap.io.design.poles import read_poles
from linemap.io.design.rows import Gatherer, Maker, read_rows
from linemap.io.design.structures import read_structures
from linemap.io.design.types import read_types
from linemap.io.records.plans import baselines_of_rows
from linemap.io.records.punch import entries_of_row
from linemap.io.records.records import read_records
from linemap.io.survey.facts import read_facts
from linemap.io.survey.shots import read_shot_order, read_shots
from linemap.io.survey.tolerances import read_tolerances
from linemap.kinds.registry import KINDS

__all__ = ["Declared", "understand"]


#: What makes records of the rows of lists where a row is not one record.
_MAKERS: Mapping[Kind, Maker[Any]] = {"punch": entries_of_row}
_GATHERERS: Mapping[Kind, Gatherer[Any]] = {"plan": baselines_of_rows}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Declared:
    """What readers must know of the job before they can read anything."""

    projection: Projection
    #: Line of rows that name none.
    line_default: str
    pole_a: PoleASide = "left"
    #: The job's settings; defaults for lines that files bring.
    settings: Mapping[str, Any]

    @property
    def combined_factor(self) -> float | None:
        """The one combined factor declared for the job; None when none is, or it is taken by structure."""
        try:
            return float(str(self.settings.get("combined_factor", "")))
        except ValueError:
            return None


def understand(
    table: RawTable,
    kind: Kind,
    declared: Declared,
    *,
    shot_order: str = "pnezd",
    answers: Answers | None = None,
    now: dt.datetime,
) -> Loaded[Any]:
    """Read a table as the kind it is; `answers` say what dates mean, the table knows its named columns.

    Raises
    ------
    InputRefused
        With every problem of the table.
    """
    projection, line, unit = declared.projection, declared.line_default, declared.projection.unit
    order = answers.date_order if answers else None
    readers: Mapping[Kind, Callable[[], Loaded[Any]]] = {
        "centreline": lambda: read_pi_list(
            table, projection=projection, line_default=line, combined_factor=declared.combined_factor
        ),
        "equations": lambda: read_equations(table, unit=unit, line_default=line),
        "types": lambda: read_types(table, unit=unit),
        "framing": lambda: read_framing(table, unit=unit),
        "tolerances": lambda: read_tolerances(table, unit=unit),
        "structures": lambda: read_structures(
            table, projection=projection, line_default=line, pole_a=declared.pole_a, order=order
        ),
        "poles": lambda: read_poles(table, unit=unit, line_default=line, order=order),
        "guys": lambda: read_guys(table, unit=unit, line_default=line),
        "shots": lambda: read_shots(
            table, projection=projection, line_default=line, order=read_shot_order(shot_order)
        ),
        "records": lambda: read_records(
            table, line_default=line, received_at=now, zone=now.tzinfo or dt.UTC, order=order
        ),
        "crossings": lambda: read_crossings(table, unit=unit, line_default=line),
        "facts": lambda: read_facts(table, unit=unit, line_default=line, order=order),
        "context": lambda: read_context(table, projection=projection),
    }
    if kind in KINDS and kind not in readers:
        return read_rows(
            table,
            KINDS[kind],
            unit=unit,
            line_default=line,
            order=order,
            make=_MAKERS.get(kind),
            gather=_GATHERERS.get(kind),
        )
    return readers[kind]()
