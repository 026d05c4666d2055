"""Sheets that are tables: exceptions by crew, framing marks, staking."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from linemap.answers.marks import PanelMarkedPole, PanelMarks
from linemap.answers.staking import StakedStructure
from linemap.report import Paper
from linemap.report.flow import Block, Column, Grid, Part, Rules, Words, flow_pdf
from linemap.report.paper import PORTRAIT, TitleBlock

_EXCEPTION_COLUMNS = (
    Column(name="structure", of=lambda row: f"{row.number} {row.station}", share=0.8),
    Column(name="verdict", of="verdict", share=1.1),
    Column(name="what was found, and its likely cause", of=lambda row: "; ".join(row.sentences), share=4.2),
    Column(name="done, by, on", share=1.5),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExceptionRow:
    """One structure whose survey or record needs somebody."""

    number: str
    station: str
    verdict: str
    #: Residuals and findings in sentences; then causes, which are proposed and not applied.
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewExceptions:
    """What concerns one crew."""

    #: As recorded; words that say so where none was.
    crew: str
    rows: tuple[ExceptionRow, ...]
    #: Open punch items in sentences.
    punch: tuple[str, ...]


def exceptions_pdf(
    title_block: TitleBlock, crews: Iterable[CrewExceptions], *, paper: Paper = "letter"
) -> bytes:
    """Return the lists, each crew from a new page on; one page that says so when there is nothing."""
    blocks = [block for crew in crews for block in _blocks(crew)]
    nothing = Block(parts=(Words(text="No exception and no open punch item is recorded.", size=9.0),))
    return flow_pdf(title_block, blocks or [nothing], size=PORTRAIT[paper])


def _blocks(crew: CrewExceptions) -> Iterable[Block]:
    found, items = len(crew.rows), len(crew.punch)
    counts = (
        f"{found} exception{'' if found == 1 else 's'} of survey and record, "
        f"{items} open punch item{'' if items == 1 else 's'}"
    )
    yield Block(
        new_page=True,
        parts=(Words(text=crew.crew, size=14.0, bold=True), Words(text=counts, size=8.5)),
    )
    if crew.rows:
        yield Block(parts=(Grid.listing(_EXCEPTION_COLUMNS, crew.rows),))
    if crew.punch:
        punch = (Words(text=f"[  ] {words}", size=8.5) for words in crew.punch)
        yield Block(parts=(Words(text="Punch list", size=10.0, bold=True), *punch))


_MARK_COLUMNS = (
    Column(name="mark", of="name", share=1.6),
    Column(name="from the top", of="drop_wood", right=True),
    Column(name="", of="drop_text", right=True),
    Column(name="from the butt", of="butt_wood", right=True),
    Column(name="", of="butt_text", right=True),
    Column(name="above ground", of="above_text", right=True),
    Column(name="drawing", of="drawing", share=1.2),
    Column(name="checked", share=1.0),
)


def marks_pdf(
    title_block: TitleBlock,
    structures: Iterable[tuple[PanelMarks, Sequence[str], Mapping[str, str]]],
    *,
    paper: Paper = "letter",
) -> bytes:
    """Return the marks of each structure, with its holds as sentences, on a page of its own.

    What the owner calls the poles stands with each, by their letters.
    """
    return flow_pdf(title_block, map(_mark_block, structures), size=PORTRAIT[paper])


def _mark_block(structure: tuple[PanelMarks, Sequence[str], Mapping[str, str]]) -> Block:
    entry, holds, called = structure
    drawings = ", ".join(entry.drawings) or "none named"
    sentences = [
        *(f"HOLD: {hold}" for hold in holds),
        f"type {entry.type or 'not given'}, spacing {entry.spacing_text}, drawings {drawings}",
        *entry.sentences,
        *(f"not available: {why}" for why in entry.unavailable),
    ]
    material = [*([f"bundle: {', '.join(entry.bundle)}"] if entry.bundle else []), *entry.material]
    return Block(
        new_page=True,
        parts=(
            Words(text=entry.number, size=16.0, bold=True),
            *(Words(text=words, size=8.0) for words in sentences),
            *(part for pole in entry.poles for part in _pole(pole, called[pole.letter])),
            *(Words(text=words, size=8.0) for words in material),
            Words(text="measured here", size=8.0),
            _measured([called[pole.letter] for pole in entry.poles]),
        ),
    )


def _measured(poles: Sequence[str]) -> Rules:
    """Return a line for the spacing, one for each pole's length, and one for the name."""
    labels = ("spacing", *(f"length of pole {pole}" for pole in poles), "by, on")
    return Rules(count=1, columns=len(labels), labels=labels)


def _pole(pole: PanelMarkedPole, name: str) -> tuple[Part, ...]:
    brand = f", brand {pole.brand_text} above ground" if pole.brand_text else ""
    least = f" (at least {pole.least_depth_text})" if pole.least_depth_text else ""
    depth = f"dig {pole.depth_wood} = {pole.depth_text}{least}"
    return (
        Words(text=f"Pole {name}: {pole.length_text}, {depth}{brand}", size=9.0, bold=True),
        Grid.listing(_MARK_COLUMNS, pole.marks),
    )


_STAKE_COLUMNS = (
    Column(name="point", of="point", share=0.7),
    Column(name="stake", of="description", share=1.9),
    Column(name="circle right", of="circle_text", share=1.1, right=True),
    Column(name="distance", of="distance_text", share=1.1, right=True),
    Column(name="N grid", of=lambda point: f"{point.northing:.3f}", share=1.4, right=True),
    Column(name="E grid", of=lambda point: f"{point.easting:.3f}", share=1.4, right=True),
    Column(name="ground", of=lambda point: _level(point.elevation), right=True),
    Column(name="staked, by, check", share=2.0),
)


def staking_pdf(
    title_block: TitleBlock, structures: Iterable[StakedStructure], *, paper: Paper = "letter"
) -> bytes:
    """Return the staking table, each structure together."""
    return flow_pdf(title_block, map(_stake_block, structures), size=PORTRAIT[paper])


def _stake_block(entry: StakedStructure) -> Block:
    turn = f", {entry.deflection_text}" if entry.deflection_text else ""
    head = f"{entry.structure}   {entry.station_text}{turn}"
    words = [entry.kind_text, _set_up(entry), *(f"note: {note}" for note in entry.notes)]
    words += [f"HOLD: {hold}" for hold in entry.holds]
    return Block(
        parts=(
            Words(text=head, size=10.0, bold=True),
            *(Words(text=text) for text in words if text),
            Grid.listing(_STAKE_COLUMNS, entry.points),
        )
    )


def _set_up(entry: StakedStructure) -> str:
    if not entry.backsight:
        return "not available: no neighbour to sight"
    magnetic = f", {entry.backsight_magnetic_text}" if entry.backsight_magnetic_text else ""
    sight = (
        f"over the centre hub, circle 0 on {entry.backsight} ({entry.backsight_way}): "
        f"{entry.backsight_bearing_text}{magnetic}, {entry.backsight_distance_text}"
    )
    if not entry.check:
        return sight
    return f"{sight}; proof {entry.check} at {entry.check_circle_text}, {entry.check_distance_text}"


def _level(elevation: float | None) -> str:
    return "" if elevation is None else f"{elevation:.2f}"
