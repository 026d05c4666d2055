"""Nests, cultural sites, gate codes and owners: where they are told, and that they are nowhere else."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import geopandas
import orjson
import pytest
import shapely

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.record.event import Event
from linemap.domain.record.person import Audience, Person, Role
from linemap.domain.record.reading import Reading
from linemap.kinds.registry import CONTEXT, CROSSINGS, HOLDS
from linemap.report import ExportFormat
from linemap.service.crew.holds import holds_answer
from linemap.service.export import export_job, snapshot_answers
from linemap.service.people.redact import PLAIN, TREATED, redact_view
from linemap.service.people.restricted import RestrictedWords, hold_kind, is_secret_feature, restricted_words
from linemap.service.survey.survey_page import survey_answer
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import open_job
from linemap.store.events import add_events
from linemap.store.lists import keep_list, load_list

NOW = dt.datetime(2026, 5, 10, 12, 0, tzinfo=dt.UTC)
#: What no crew and no public may read, wherever people wrote it.
SECRETS = (
    "Tollgate Ranch", "lambing", "Wilhelmina Quist", "555-0147", "4417", "8 2 6 1", "golden eagle", "nest",
    "cultural", "burial", "Thistledown Electric", "Ledger Creek Gas", "Hobnail Transmission",
)  # fmt: skip
#: What the public may not read besides.
PEOPLE = ("Raven", "Odd Nilsen", "Jo Tern", "tablet seven", "G-7", "AR-3", "T-01")


def strew(view: JobView) -> dict[str, Any]:
    """Return records in which people wrote what they should not have."""
    note = "gate combination 4417 from Wilhelmina Quist, past the golden eagle nest and the burial"
    return {
        "features": [
            *view.context,
            ContextFeature(
                layer="parcel",
                name="Wilhelmina Quist",
                geometry=shapely.Point(-108.4, 46.7),
                properties={"owner": "Wilhelmina Quist", "phone": "555-0147"},
            ),
            ContextFeature(
                layer="gate",
                name="G-12 (code 8 2 6 1)",
                geometry=shapely.Point(-108.4, 46.7),
                properties={"gate_code": "4417"},
            ),
            ContextFeature(layer="raptor survey", name="golden eagle", geometry=shapely.Point(-108.4, 46.7)),
        ],
        "events": [
            Event(
                id="strewn",
                line=view.figures.lines[0].name,
                structure="11/4",
                step="dug",
                happened_at=NOW,
                received_at=NOW,
                crew="Raven",
                actor="Odd Nilsen",
                device="tablet seven",
                note=note,
                readings=(Reading(name="monitor", value="Jo Tern"),),
            )
        ],
        "crossings": [
            *view.crossings,
            Crossing(
                line=view.figures.lines[0].name,
                what="ditch of Wilhelmina Quist",
                owner="Wilhelmina Quist",
                back_structure="11/4",
                ahead_structure="11/5",
                rule="call Wilhelmina Quist, 555-0147, keypad 4417",
            ),
        ],
        "holds": [*view.holds, Hold(id="HB-1", structures=("11/5",), reason="burial", restricted=True)],
    }


@pytest.fixture(scope="module")
def strewn_job(demo_job: Path, demo_view: JobView, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo job with restricted words in every free text."""
    path = tmp_path_factory.mktemp("strewn") / "strewn.linemap"
    path.write_bytes(demo_job.read_bytes())
    records = strew(demo_view)
    with open_job(path) as database, database.writing() as connection:
        keep_list(connection, CONTEXT, records["features"], now=dt.datetime.now(dt.UTC))
        keep_list(connection, CROSSINGS, records["crossings"], now=dt.datetime.now(dt.UTC))
        keep_list(connection, HOLDS, records["holds"], now=dt.datetime.now(dt.UTC))
        add_events(connection, records["events"])
        assert load_list(connection, CONTEXT)
        assert load_list(connection, CROSSINGS)
        assert load_list(connection, HOLDS)
    return path


def found(text: str, words: tuple[str, ...]) -> list[str]:
    text = text.casefold()
    known = [word for word in words if word.casefold() in text]
    return [word for word in known if re.search(rf"(?<!\w){re.escape(word.casefold())}(?!\w)", text)]


def everything(view: JobView) -> str:
    """Return all that pages and packs are made from, as one text."""
    return orjson.dumps({"map": snapshot_answers(view), "survey": survey_answer(view)}).decode()


@pytest.fixture(scope="module")
def strewn_view(strewn_job: Path) -> JobView:
    with open_job(strewn_job) as database:
        return build_view(database, today=NOW.date())


def test_the_words_looked_for_are_there_to_be_found(strewn_view: JobView) -> None:
    told = everything(redact_view(strewn_view, Audience.OWNER))
    assert set(SECRETS) - set(found(told, SECRETS)) == {
        # a crossing's owner stands in no answer at all; it is looked for all the same
        "Thistledown Electric", "Ledger Creek Gas", "Hobnail Transmission",
    }  # fmt: skip
    assert set(found(told, PEOPLE)) >= {"Raven", "G-7", "AR-3", "T-01"}


@pytest.mark.parametrize("audience", [Audience.CREW, Audience.PUBLIC])
def test_no_restricted_word_is_in_any_answer(strewn_view: JobView, audience: Audience) -> None:
    view = redact_view(strewn_view, audience)
    assert found(everything(view), SECRETS) == []
    for role in Role:
        assert found(orjson.dumps(holds_answer(view, Person(name="Ada", role=role))).decode(), SECRETS) == []


def test_the_public_reads_no_people_gates_or_parcels(strewn_view: JobView) -> None:
    assert found(everything(redact_view(strewn_view, Audience.PUBLIC)), PEOPLE) == []
    assert "Raven" in found(everything(redact_view(strewn_view, Audience.CREW)), PEOPLE)


def text_of(file: Path) -> str:
    """Return what a file says, what it packs as well."""
    if file.suffix == ".xlsx":
        with zipfile.ZipFile(file) as packed:
            return "".join(packed.read(name).decode() for name in packed.namelist())
    if file.suffix == ".parquet":
        return str(geopandas.read_parquet(file).drop(columns="geometry").to_csv())
    return file.read_bytes().decode("utf-8", errors="replace")


@pytest.mark.parametrize("audience", [Audience.CREW, Audience.PUBLIC])
@pytest.mark.parametrize("form", list(ExportFormat))
def test_no_restricted_word_is_in_any_file(
    strewn_view: JobView, tmp_path: Path, form: ExportFormat, audience: Audience
) -> None:
    out = tmp_path / f"job.{'html' if form is ExportFormat.SNAPSHOT else form.value}"
    export_job(strewn_view, form, out, audience=audience)
    content = text_of(out)
    if form is ExportFormat.SNAPSHOT:
        # the page's own scripts have words of their own; the job is what lies in the answers
        content = content.partition('id="linemap-answers"')[2].partition("</script>")[0]
    assert "14/2" in content
    assert found(content, SECRETS) == []
    if audience is Audience.PUBLIC:
        assert found(content, PEOPLE) == []


def test_a_file_for_the_owner_holds_what_the_owner_knows(strewn_view: JobView, tmp_path: Path) -> None:
    out = tmp_path / "owner.html"
    export_job(strewn_view, ExportFormat.SNAPSHOT, out, audience=Audience.OWNER)
    assert {"nest", "Wilhelmina Quist", "Tollgate Ranch"} <= set(found(out.read_text("utf-8"), SECRETS))


def test_a_held_structure_says_the_kind_of_its_hold_and_no_more(strewn_view: JobView) -> None:
    view = redact_view(strewn_view, Audience.CREW)
    held = {hold.id: hold for holds in view.holds_by_row.values() for hold in holds}
    assert "(hold: environmental)" in held["HN-1"].sentence()
    assert held["HC-1"].condition == "monitor on site"
    assert (
        held["HC-1"]
        .sentence()
        .endswith("released (hold: environmental); to be released by environmental lead")
    )
    assert held["HC-1"].conditional
    assert "(hold: landowner)" in held["HL-1"].sentence()
    assert "(wetland: no vehicle before mats are in)" in held["HW-1"].sentence()
    assert set(held) == {hold.id for holds in strewn_view.holds_by_row.values() for hold in holds}
    public = redact_view(strewn_view, Audience.PUBLIC)
    assert {hold.reason for hold in public.holds} == {"", "hold: environmental", "hold: landowner"}


def test_nothing_a_redacted_view_holds_is_left_marked_restricted(strewn_view: JobView) -> None:
    for audience in Audience:
        view = redact_view(strewn_view, audience)
        assert not any(hold.restricted for hold in view.holds)
        assert not any(feature.restricted for feature in view.context)


def test_a_view_that_was_not_redacted_still_leaves_marked_things_out(strewn_view: JobView) -> None:
    told = orjson.dumps(snapshot_answers(strewn_view).context).decode()
    assert found(told, ("nest", "cultural")) == []


def test_redacting_changes_no_number_and_no_verdict(strewn_view: JobView) -> None:
    view = redact_view(strewn_view, Audience.PUBLIC)
    assert view.figures.station is strewn_view.figures.station
    assert view.checks is strewn_view.checks
    keys = strewn_view.row_of
    assert [view.stage_at(key) for key in keys] == [strewn_view.stage_at(key) for key in keys]


def test_every_field_of_a_view_is_treated_or_known_to_be_plain() -> None:
    assert {field.name for field in fields(JobView)} <= PLAIN | TREATED
    assert not PLAIN & TREATED


def test_releases_are_told_without_what_is_restricted(strewn_view: JobView) -> None:
    nest = next(hold for hold in strewn_view.holds if hold.id == "HN-1")
    release = HoldRelease(
        hold=nest, who="Odd Nilsen", role=Role.INSPECTOR, evidence="nest is empty", at=NOW, recorded_at=NOW
    )
    view = replace(strewn_view, releases=(release,))
    crew, public = (redact_view(view, audience).releases[0] for audience in (Audience.CREW, Audience.PUBLIC))
    assert (crew.who, crew.evidence, crew.hold.reason) == (
        "Odd Nilsen", "[not shown] is empty", "hold: environmental",
    )  # fmt: skip
    assert (public.who, public.evidence) == ("[not shown]", "[not shown]")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("gate code 4417", "gate code [not shown]"),
        ("keypad: 8 2 6 1, then left", "keypad: [not shown], then left"),
        ("ada marrow's gate", "[not shown]'s gate"),
        ("Adamarrow", "Adamarrow"),
        ("station 44+17 ahead, 45 ft", "station 44+17 ahead, 45 ft"),
        ("nested anchors", "nested anchors"),
        ("", ""),
    ],
)
def test_words_and_codes_go_and_the_rest_stays(text: str, told: str) -> None:
    assert RestrictedWords(["Ada Marrow", "", "x"]).out_of(text) == told


def test_a_name_in_capitals_keeps_a_road_that_is_called_after_a_bird() -> None:
    words = RestrictedWords([])
    assert words.out_of_name("Eagle Road") == "Eagle Road"
    assert words.out_of("see the eagle at Eagle Road") == "see the [not shown] at [not shown] Road"


@pytest.mark.parametrize(
    ("hold", "kind"),
    [
        (Hold(id="a", reason="drawing revision due", set_by="engineer"), ""),
        (Hold(id="a", reason="wetland: mats first", set_by="environmental lead"), ""),
        (Hold(id="a", reason="wetland", restricted=True), "hold: environmental"),
        (Hold(id="a", reason="burial", restricted=False), "hold: environmental"),
        (Hold(id="a", reason="gate", set_by="landowner"), "hold: landowner"),
        (Hold(id="a", reason="strike", restricted=True), "hold: restricted"),
    ],
)
def test_the_kind_of_a_hold(hold: Hold, kind: str) -> None:
    assert hold_kind(hold) == kind


def test_a_layer_is_secret_by_its_name_too() -> None:
    point = shapely.Point(0, 0)
    layers = {
        layer: is_secret_feature(ContextFeature(layer=layer, geometry=point)) for layer in ("nest", "road")
    }
    assert layers == {"nest": True, "road": False}
    assert is_secret_feature(ContextFeature(layer="road", restricted=True, geometry=point))
    assert restricted_words([], [], []).words == ()
