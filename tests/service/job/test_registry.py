"""What a job declares: each setting is read, kept, written and taken back as the registry says it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from linemap.domain.record.person import Person, Role
from linemap.errors import InputRefused, NotAllowed
from linemap.service.job.job import create_job, declare
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import NOUNS, Setting
from linemap.store.database import open_job
from linemap.store.job import load_job

NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)


@pytest.fixture
def job(tmp_path: Path) -> str:
    target = str(tmp_path / "north.linemap")
    create_job(target, {"crs": "EPSG:6515"}, now=NOW)
    return target


@pytest.mark.parametrize("setting", SETTINGS.values(), ids=SETTINGS)
def test_the_example_of_a_setting_is_declared_as_it_is_written(setting: Setting, job: str) -> None:
    with open_job(job) as database:
        declared = declare(database, {setting.name: setting.example}, now=NOW, who="Ada", source="sheet 4")
        entries = [entry for entry in declared.entries[setting.name] if entry.declared]
        assert [(entry.who, entry.at) for entry in entries] == [("Ada", "2026-05-16T08:00:00+00:00")]
        (entry,) = entries
        assert entry.source, "given, or that of the whole declaration"
        again = f"{entry.part}={entry.written}" if entry.part else entry.written
        kept = declare(database, {setting.name: again}, now=NOW).entries[setting.name]
        assert [each.written for each in kept if each.declared] == [entry.written], "as written, read again"
        if setting.name not in ("crs", "name"):
            nothing = f"{entry.part}=not declared" if entry.part else "not declared"
            gone = declare(database, {setting.name: nothing}, now=NOW).entries[setting.name]
            assert not [each for each in gone if each.declared]


def test_every_setting_says_what_it_means_and_where_it_is_seen() -> None:
    for name, setting in SETTINGS.items():
        assert name == setting.name
        assert setting.noun in NOUNS
        assert all((setting.means, setting.example, setting.shows, setting.roles))


def test_all_that_cannot_be_read_is_said_at_once_and_nothing_is_kept(job: str) -> None:
    wrong = {
        "blocks_owned": "many",
        "holidays": "Easter",
        "pole_a": "up",
        "colour": "red",
        "time_zone": "Mars",
    }
    with open_job(job) as database:
        with pytest.raises(InputRefused) as refused:
            declare(database, {"base_point": "none", **wrong}, now=NOW)
        assert {each.column for each in refused.value.problems} == {
            "colour",
            "--blocks-owned",
            "--holidays",
            "--pole-a",
            "--time-zone",
        }
        with database.reading() as connection:
            assert "base_point" not in load_job(connection).settings


def test_who_may_declare_what(job: str) -> None:
    surveyor = Person(name="Ada Marrow", role=Role.SURVEYOR)
    with open_job(job) as database:
        declare(database, {"base_point": "none"}, now=NOW, asking=surveyor)
        with pytest.raises(NotAllowed, match="nearest hospital is declared by the manager; Ada Marrow is"):
            declare(database, {"hospital": "Cold Ford"}, now=NOW, asking=surveyor)


def test_holidays_and_weights_are_counted_by(job: str) -> None:
    with open_job(job) as database:
        texts = {
            "work_week": "Mon-Fri",
            "holidays": "2026-07-03",
            "step_weight": ["set=50: bid", "Dug=0: bid"],
        }
        declare(database, texts, now=NOW)
        with database.reading() as connection:
            record = load_job(connection)
    assert record.calendar is not None
    assert not record.calendar.works(dt.date(2026, 7, 3))
    weights = {step.code: (step.weight, step.weight_source) for step in record.workflow.steps}
    assert weights["set"] == (50.0, "bid")
    assert weights["dug"] == (0.0, "bid")
    assert weights["framed"][0] == 20.0


def test_reading_what_is_declared_writes_nothing(job: str) -> None:
    with open_job(job) as database:
        before = database.versions()
        declare(database, {}, now=NOW)
        assert database.versions() == before
