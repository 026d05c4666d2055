"""A job of version 0.1.0 shows what 0.1.0 showed: figures, verdicts, counts."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

from linemap.domain.record.chain import first_break
from linemap.domain.record.person import Audience
from linemap.kinds.registry import TOLERANCES
from linemap.report import ExportFormat
from linemap.service.export import export_job
from linemap.service.progress.progress import claimed_only, progress_of
from linemap.service.progress.progress_words import upgrade_words
from linemap.service.view.build import build_view
from linemap.store.database import open_job
from linemap.store.events import record_in_order
from linemap.store.files import list_files
from linemap.store.job import load_job
from linemap.store.lists import load_list
from linemap.store.states import list_states
from linemap.store.structures import load_changes

DAY = dt.date(2026, 5, 16)


def test_figures_and_verdicts(older_job: str, older_structures: list[dict[str, str]], tmp_path: Path) -> None:
    with open_job(older_job) as database:
        view = build_view(database, today=DAY)
        export_job(view, ExportFormat.CSV, tmp_path / "now.csv", audience=Audience.OWNER)
    with (tmp_path / "now.csv").open(encoding="utf-8-sig", newline="") as written:
        now = list(csv.DictReader(written))
    assert [{name: row[name] for name in older_structures[0]} for row in now] == older_structures


def test_counts(older_job: str) -> None:
    with open_job(older_job) as database:
        counts = progress_of(build_view(database, today=dt.date(2026, 5, 15))).counts
    assert [(count.step, len(count.done), count.of) for count in counts] == [
        ("staked", 121, 121),
        ("spotted", 88, 121),
        ("dug", 71, 121),
        ("framed", 66, 121),
        ("set", 59, 121),
        ("guyed", 5, 13),
        ("grounded", 54, 121),
        ("blocks hung", 52, 121),
        ("surveyed", 53, 121),
        ("inspected", 38, 121),
    ]


def test_what_revisions_changed_reads_as_it_did_and_a_move_tells_how_far(older_job: str) -> None:
    with open_job(older_job) as database, database.reading() as connection:
        found = [each.change for each in load_changes(connection) if each.change.number == "15/2"]
    assert found[0].words == "moved 8.00 ft"
    assert found[0].values == {"distance": 8.0, "unit": "ft"}
    assert found[1].words == "ground elevation 4013.01 ft -> 4012.89 ft"
    remarks = [each.words for each in found if each.values.get("field") == "remarks"]
    assert remarks == ["remarks not given -> REV C: moved 8.00 ft ahead"]


def test_what_a_note_verified_is_claimed_and_said_once(older_job: str) -> None:
    with open_job(older_job) as database:
        assert database.upgraded_from == "0041"
        upgraded, lost = upgrade_words(database, today=DAY)
        view = build_view(database, today=DAY)
        with database.reading() as connection:
            assert first_break(record_in_order(connection)) is None
    assert upgraded.endswith("was brought up to date from schema 0041")
    assert lost.startswith("grounded is claimed, no longer verified, at 1/1, 1/2, ")
    claimed = claimed_only(view, progress_of(view))["grounded"]
    assert len(claimed) == 54
    assert [number for (_, number), proof in claimed.items() if not proof.only_noted] == ["3/1", "6/2", "9/5"]
    notes = {event.note for events in view.events_by_structure.values() for event in events}
    assert "12.9 ohms" in notes, "notes stay as they are"
    with open_job(older_job) as database:
        assert database.upgraded_from == ""


def test_tolerances_become_a_list_and_headings_stand_apart_from_units(older_job: str) -> None:
    with open_job(older_job) as database, database.reading() as connection:
        (state,) = list_states(connection, "tolerances")
        entries = {each.name: each for each in load_list(connection, TOLERANCES)}
        record = load_job(connection)
        (file,) = (each for each in list_files(connection) if each.name == "structures_revC.csv")
    assert (state.source_file, state.is_current) == ("tolerances.csv", True)
    assert (entries["across"].value, entries["across"].unit) == (0.25, "ft")
    assert len(entries) == 7
    assert "tolerances" not in record.settings
    assert file.mapping["number"] == {"heading": "Structure", "unit": ""}
    assert file.mapping["easting"]["unit"] == "international foot"
