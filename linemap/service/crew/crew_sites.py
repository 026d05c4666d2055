"""What the records of a job hold of each structure that matters for going there, and the ways to it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from linemap.answers.card import CardTicket
from linemap.answers.field import Barrier
from linemap.domain.crew.access import build_access
from linemap.domain.crew.material import shortages
from linemap.domain.crew.refusal import Site, material_words
from linemap.domain.crew.travel import AccessNetwork, Start, Travel, travel_from, travel_words
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.kinds.registry import RECEIPTS, TICKETS
from linemap.service.view.lists import finder_of
from linemap.service.view.punch import open_punch
from linemap.service.view.recorded import sites_of as counted_sites
from linemap.service.view.structure import dated_holds, stops_of, wrong_of
from linemap.service.view.view import JobView

#: Line name and structure number.
Key = tuple[str, str]


def sites_of(
    view: JobView, line: str = "", travel: Travel | None = None, *, step: str = ""
) -> Iterator[Site]:
    """Give every structure of a line, "" = of all lines, with what the records and the ways say of it.

    With a step, only the structures where it is built at all: guys only where there are guys. Without
    `travel` no way is known.
    """
    tickets, receipts = finder_of(view, TICKETS), finder_of(view, RECEIPTS)
    stops, wrong = stops_of(view), wrong_of(view)
    unneeded = unneeded_steps(view) if step else {}
    for key, row in view.row_of.items():
        if (line and key[0] != line) or step in unneeded.get(key, ()):
            continue
        came = receipts(*key)
        yield Site(
            line=key[0],
            number=key[1],
            called=view.figures.called(row),
            status=view.statuses.get(key, NOTHING_RECORDED),
            stops=stops.get(key, ()),
            wrong=wrong.get(key, ()),
            holds=tuple(dated_holds(view, row)),
            tickets=tuple(tickets(*key)),
            shortages=shortages(came, view.poles_by_structure.get(key, ())),
            claims=tuple(view.claims_by_structure.get(key, ())),
            punch=open_punch(view, key),
            material_known=bool(came),
            travel_m=math.inf if travel is None else float(travel.metres[row]),
            along_m=math.inf if travel is None else float(travel.along_m[row]),
        )


def closed_rows(view: JobView) -> set[int]:
    """Return the rows of structures that are held for everyone: the right of way is not driven past them."""
    return {
        row
        for row, holds in view.holds_by_row.items()
        if any(not hold.conditional and hold.stops("entry") for hold in holds)
    }


def done_by(view: JobView) -> Iterator[tuple[str, str]]:
    """Give pairs of step and crew, one for each step done at each structure."""
    for status in view.statuses.values():
        for code, state in status.done.items():
            yield code, state.crew


def ticket_cards(view: JobView, key: Key) -> list[CardTicket]:
    """Return the tickets of a structure as a card shows them."""
    return [
        CardTicket(
            number=ticket.number,
            valid_from="" if ticket.valid_from is None else ticket.valid_from.isoformat(),
            valid_to="" if ticket.last_day is None else ticket.last_day.isoformat(),
            covers=ticket.covers,
            anchors=ticket.covers_anchors,
            waits=ticket.responses if ticket.waits_for_answers else "",
            sentence=ticket.sentence(view.as_of),
        )
        for ticket in finder_of(view, TICKETS)(*key)
    ]


def shortage_words(view: JobView, key: Key) -> list[str]:
    """Return what a structure lacks by the yard's list, one sentence each."""
    found = shortages(finder_of(view, RECEIPTS)(*key), view.poles_by_structure.get(key, ()))
    return [material_words(one, view.as_of) for one in found]


def unneeded_steps(view: JobView) -> dict[Key, tuple[str, ...]]:
    """Return, by (line, number), the codes of steps that are not built at a structure; most have none."""
    steps = view.workflow.order()
    found = {
        site.key: tuple(step.code for step in steps if not site.needs(step)) for site in counted_sites(view)
    }
    return {key: codes for key, codes in found.items() if codes}


def access_network(view: JobView) -> AccessNetwork:
    """Return the roads and rights of way of a job; worth keeping for as long as the data version stands."""
    return build_access(view.figures, view.context, view.crossings, projection=view.projection)


def barriers_of(view: JobView, network: AccessNetwork) -> dict[str, list[Barrier]]:
    """Return, by line, the stretches of its right of way that no vehicle crosses, in line order.

    Each is told by the structures before and after it, what is in the way, and the shortest way round: all a
    phone needs to put what lies beyond a river behind what lies on this side of it.
    """
    found: dict[str, list[Barrier]] = {}
    along = network.node_along[network.structure_node]
    for cut in sorted(network.breaks, key=lambda one: (one.line, one.low)):
        line = view.figures.lines[cut.line]
        rows = np.flatnonzero(view.figures.line_index == cut.line)
        before, after = rows[along[rows] <= cut.low], rows[along[rows] >= cut.high]
        if not (len(before) and len(after)):
            continue
        back, ahead = int(before[-1]), int(after[0])
        travel = travel_from(network, view.figures, start_at(view, back, network))
        found.setdefault(line.name, []).append(
            Barrier(
                back=view.key(back)[1],
                ahead=view.key(ahead)[1],
                what=cut.what,
                words=travel_words(travel, ahead, line.unit),
            )
        )
    return found


def start_at(view: JobView, row: int, network: AccessNetwork) -> Start:
    """Return the structure of a row as a place to start from."""
    return Start(
        line=int(view.figures.line_index[row]),
        along=float(network.node_along[network.structure_node[row]]),
        easting=float(view.figures.structures.easting[row]),
        northing=float(view.figures.structures.northing[row]),
        row=row,
    )
