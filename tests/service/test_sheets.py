"""The sheets of the invented line against the job they are printed from."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from linemap.domain.person import Audience
from linemap.errors import NotFound
from linemap.service.redact import redact_view
from linemap.service.sheet_exceptions import exceptions_by_crew
from linemap.service.sheets import SHEETS, Chosen, Sheet, sheet_pdf
from linemap.service.stakeout import staking_table
from linemap.service.view import JobView
from linemap.store.database import Database


@pytest.fixture(scope="module")
def crew_view(demo_view: JobView) -> JobView:
    return redact_view(demo_view, Audience.CREW)


def text_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


@pytest.mark.parametrize("sheet", SHEETS)
def test_every_page_carries_revision_dates_and_cautions(
    demo_database: Database, crew_view: JobView, sheet: Sheet
) -> None:
    chosen = Chosen(structures=("9/2", "9/3"))
    content = sheet_pdf(demo_database, crew_view, sheet, chosen=chosen)
    assert content == sheet_pdf(demo_database, crew_view, sheet, chosen=chosen)
    for page in PdfReader(io.BytesIO(content)).pages:
        text = " ".join(page.extract_text().split())
        assert "structures Rev C" in text
        assert "as of 2026-05-15; holds as of 2026-05-15" in text
        assert "Treat every wire as energized." in text
        assert "The stamped drawing" in text


@pytest.mark.parametrize("sheet", SHEETS)
def test_no_sheet_names_an_owner_of_land_or_a_restricted_place(
    demo_database: Database, demo_view: JobView, crew_view: JobView, sheet: Sheet
) -> None:
    secret = {
        value
        for feature in demo_view.context
        for name, value in feature.properties.items()
        if name in ("owner", "code") and len(value) > 3
    } | {feature.name for feature in demo_view.context if feature.restricted and feature.name}
    assert secret
    text = text_of(sheet_pdf(demo_database, crew_view, sheet, chosen=Chosen(mile=14)))
    assert [word for word in secret if word in text] == []


def test_staking_prints_every_point_of_the_table(demo_database: Database, crew_view: JobView) -> None:
    row = crew_view.row("", "10/5")
    (entry,) = staking_table(crew_view, rows=[row])
    words = text_of(sheet_pdf(demo_database, crew_view, "staking", chosen=Chosen(structures=("10/5",))))
    for point in entry["points"]:
        assert point["description"] in words
        assert f"{point['northing']:.3f}" in words
    assert entry["backsight_bearing_text"] in words


def test_a_card_names_hold_crossing_and_pole_a(demo_database: Database, crew_view: JobView) -> None:
    chosen = Chosen(structures=("9/2",))
    text = " ".join(text_of(sheet_pdf(demo_database, crew_view, "card", chosen=chosen)).split())
    assert "no framed, set, guyed at 9/2" in text or "no framing" in text
    assert "buried gas pipeline" in text
    assert "pole A is on your" in text
    assert "code 9/2" in text


def test_exceptions_are_those_of_the_check_and_stand_once(crew_view: JobView) -> None:
    crews = exceptions_by_crew(crew_view, range(len(crew_view.figures)))
    listed = [row.number for crew in crews for row in crew.rows]
    verdicts = dict(zip(crew_view.figures.structures.number, map(str, crew_view.checks.verdict), strict=True))
    assert sorted(listed) == sorted(
        number for number, verdict in verdicts.items() if verdict in ("fail", "cannot tell")
    )
    punch = [words for crew in crews for words in crew.punch]
    assert not any(words.startswith("P-01") for words in punch), "closed with a photo"
    assert any(words.startswith("P-05") for words in punch)


def test_a_mile_and_a_crew_choose(demo_database: Database, crew_view: JobView) -> None:
    pages = PdfReader(io.BytesIO(sheet_pdf(demo_database, crew_view, "card", chosen=Chosen(mile=9)))).pages
    numbers = [number for number in crew_view.figures.structures.number if number.startswith("9/")]
    assert len(pages) == len(numbers)
    with pytest.raises(NotFound, match="mile 99 and crew Nobody"):
        sheet_pdf(demo_database, crew_view, "card", chosen=Chosen(mile=99, crew="Nobody"))
    with pytest.raises(NotFound, match="no line South"):
        sheet_pdf(demo_database, crew_view, "card", chosen=Chosen(line="South"))
