import pytest

from linemap.domain.record.claim import SUBJECTS
from linemap.errors import NotFound
from linemap.service.record.claims import briefing_sheet
from linemap.service.view.view import JobView


def test_the_sheet_is_plain_and_complete(demo_view: JobView) -> None:
    sheet = briefing_sheet(demo_view, "", "17/3")
    assert [subject.heading for subject in sheet.subjects] == list(SUBJECTS.values())
    assert any("treat as energized" in words for subject in sheet.subjects for words in subject.reminders)
    assert sheet.number == "17/3"
    assert len(sheet.coordinates) == 4


def test_an_unknown_structure_is_not_found(demo_view: JobView) -> None:
    with pytest.raises(NotFound, match="99/9"):
        briefing_sheet(demo_view, "", "99/9")
