"""The closeout matrix: columns add up, and every number has its names."""

from __future__ import annotations

from linemap.domain.schedule.closeout import Asked, matrix, mile_parts, section_parts
from linemap.domain.schedule.progress import Site
from linemap.domain.schedule.readiness import Section


def site(number: str, mile: int, line: str = "North") -> Site:
    return Site(line=line, number=number, distance=0.0, mile=mile)


SITES = tuple(site(number, int(number[0])) for number in ("1/1", "1/2", "2/1", "2/2", "3/1"))
SECTIONS = (
    Section(line="North", number=1, sites=SITES[:3]),
    Section(line="North", number=2, sites=SITES[2:]),
)


def test_a_structure_at_a_section_break_counts_once() -> None:
    parts = section_parts(SECTIONS)
    assert [part.name for part in parts] == ["section 1 (1/1-2/1)", "section 2 (2/1-3/1)"]
    assert sum(len(part.keys) for part in parts) == len(SITES)


def test_cells_say_how_many_and_name_those_that_have_it_and_lack_it_in_line_order() -> None:
    keys = frozenset(each.key for each in SITES)
    asked = Asked(words="set", needed=keys - {("North", "1/2")}, found=frozenset({("North", "2/1")}))
    ((row, (first, second)),) = matrix(section_parts(SECTIONS), [asked])
    assert row.words == "set"
    assert (first.text, second.text) == ("1 of 2", "0 of 2")
    assert first.found == (("North", "2/1"),)
    assert first.missing == (("North", "1/1"),)
    assert second.missing == (("North", "2/2"), ("North", "3/1"))


def test_where_nothing_is_needed_no_number_stands() -> None:
    nothing = Asked(words="guyed", needed=frozenset(), found=frozenset())
    ((_, cells),) = matrix(mile_parts(SITES, "mile"), [nothing])
    assert [cell.text for cell in cells] == ["–", "–", "–"]


def test_lines_are_named_where_there_are_several() -> None:
    both = (*SITES, site("1/1", 1, line="South"))
    names = [part.name for part in mile_parts(both, "kilometre")]
    assert names == ["North kilometre 1", "North kilometre 2", "North kilometre 3", "South kilometre 1"]
