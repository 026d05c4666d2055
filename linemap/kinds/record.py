"""Lists of what was agreed, found and seen: they grow, and nothing in them is ever changed."""

from __future__ import annotations

from linemap.domain.kind.kind import Cell, Keeps, Kind
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.fact import RecordedFact

__all__ = ["FACTS", "PLANS", "PUNCH"]

#: A row of a file may hold several entries of one item: each of its days is one.
PUNCH: Kind[PunchEntry] = Kind(
    code="punch",
    record=PunchEntry,
    noun="punch item",
    table="punch_entry",
    keeps=Keeps.GROWS,
    key=("item", "action", "on"),
    needs=("item", "structure", "opened", "text | severity"),
    named_by=("item",),
    public=False,
    totals=True,
    refusal="punch entries are only ever added; write a new entry that closes or reopens the item",
    extra={
        "opened": Cell("opened openedon dateopened opendate found foundon", way="day"),
        "closed": Cell("closed closedon dateclosed closedate", way="day"),
        "reopened": Cell("reopened reopenedon datereopened", way="day"),
    },
)
#: Which columns a row needs depends on what was seen: `linemap.io.survey.facts`.
FACTS: Kind[RecordedFact] = Kind(
    code="facts",
    record=RecordedFact,
    noun="fact of",
    table="fact",
    keeps=Keeps.GROWS,
    key=("what", "structure", "pole", "on"),
    needs=(
        "structure",
        "what",
        "pointed_by | face | looking | upper_height | arm_length",
        "who | on",
    ),
    named_by=("what", "structure"),
    totals=True,
    refusal="facts are only ever added; record what you see now as a new fact",
)
#: A file holds a row for each week of a baseline. One made anew stands beside those before it.
PLANS: Kind[Baseline] = Kind(
    code="plan",
    record=Baseline,
    noun="baseline plan",
    table="plan",
    keeps=Keeps.GROWS,
    key=("line", "step", "revision"),
    needs=("planned", "week | revision | frozen_on"),
    named_by=("planned",),
    refusal="plans are frozen; give a new plan a revision of its own",
    once=True,
    extra={
        "week": Cell("week weekof weekbeginning weekstarting weekcommencing monday", way="day"),
        "planned": Cell(
            "planned plannedcumulative cumulativeplanned plannedtodate plancumulative target", way="count"
        ),
    },
)
