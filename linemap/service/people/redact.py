"""What of a job is shown to whom: the one place where nests, cultural sites, gate codes and owners stop.

Everything that leaves the job (an answer to a page, a field pack, a file) is made from a view that went
through `redact_view`. Two nets lie one behind the other: fields that are restricted are emptied, and words
that stand in restricted fields are then taken out of all free text, since people write a gate's code into a
remark. Levels, common practice without a published source:

owner
    Everything.
crew
    No restricted features, no owners, no codes, no names of people in parcel names; of a restricted hold, or
    one set for a landowner, the kind and not the reason.
public
    As crew, and no gates, access roads or parcels, no names of people, crews, devices, and no remarks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from linemap.domain.causes.cause import Cause
from linemap.domain.crew.hold import Hold
from linemap.domain.design.figures import Figures
from linemap.domain.design.revision import Revised
from linemap.domain.finding.wording.design import LOADING
from linemap.domain.finding.wording.survey import QUOTING
from linemap.domain.kind.kind import Kind, free_of, secret_of
from linemap.domain.record.event import Event
from linemap.domain.record.person import Audience
from linemap.domain.record.reading_type import READINGS
from linemap.domain.record.status import StructureStatus
from linemap.kinds.registry import CROSSINGS
from linemap.service.people.restricted import (
    REMOVED,
    RestrictedWords,
    asked_for,
    public_hold,
    redacted_context,
    redacted_crossings,
    redacted_hold,
    redacted_release,
    restricted_words,
    whole_hold,
)
from linemap.service.view.lists import lists_of_view
from linemap.service.view.remembered import MadeOnUse, Remembered
from linemap.service.view.view import JobView

#: Fields of a view that hold numbers, codes and declarations only, so that nothing has to go.
PLAIN = frozenset(
    {
        "name", "data_version", "base_version", "as_of", "asked_for", "when",
        "projection", "network", "set_poles", "checks", "anchor_checks", "tolerances", "declaration",
        "workflow", "types", "row_of", "guy_names", "naming", "identity", "incarnation", "corrected",
        "baselines", "baselines_came", "baseline_declared", "begun", "calendar", "calendar_declared",
        "framing", "blocks_owned", "moved", "crew_checks", "wind_limits", "punch_roles",
        "evidence_rules", "catenary", "zone_declared", "stake_plan",
    }
)  # fmt: skip
#: Field of a view -> attributes of its records in which people write what they like.
_FREE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "observed_shots": ("description", "note"),
        "check_ins": ("description",),
        "shots_by_structure": ("description", "note"),
        "decisions": ("subject", "note"),
        "events_by_structure": ("note", "brand_seen", "readings", "content"),
    }
)
#: Texts of an explanation, which is worked out only when somebody asks for it.
_CAUSE = ("subject", "words", "evidence", "would_change", "asks_for")
#: Field of a view -> attributes that the public gets empty. Of claims, tickets, material and punch
#: items it gets none.
_NOT_PUBLIC: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "observed_shots": ("description",),
        "check_ins": ("description",),
        "shots_by_structure": ("description",),
        "decisions": ("note",),
        "events_by_structure": (
            "crew",
            "actor",
            "device",
            "signed_by",
            "signed_how",
            "role",
            "sent_by",
            "content",
            "note",
        ),
    }
)
#: Fields that `redact_view` makes anew.
TREATED = frozenset(
    {*_FREE, *dict(lists_of_view()), "ledger", "causes", "figures", "correction_notes", "statuses",
     "holds", "releases", "holds_by_row", "changes_by_structure", "crossings", "context",
     "claims_by_structure", "cases", "emergency"}
)  # fmt: skip
_LAYERS_NOT_PUBLIC = frozenset({"gate", "access", "parcel"})
_NOTHING: Mapping[Any, Any] = MappingProxyType({})
_Text = Callable[[str], str]


def redact_view(view: JobView, audience: Audience) -> JobView:
    """Return a job as `build_view` gives it, as one kind of reader may see it.

    Nothing in the answer is marked restricted any more: what is there may be shown to this reader, and what
    may not is gone. A view that did not come from here keeps its marks, and pages leave those out.
    """
    return Redactor(audience).redacted(view)


class Redactor:
    """Redacts one view after another for one audience; what did not change in between is not done again.

    Not to be shared between threads.
    """

    def __init__(self, audience: Audience) -> None:
        self._audience = audience
        self._known = Remembered()
        self._words: tuple[str, ...] | None = None

    def redacted(self, view: JobView) -> JobView:
        """Return a view as `redact_view` does."""
        if self._audience is Audience.OWNER:
            context = tuple(replace(feature, restricted=False) for feature in view.context)
            return replace(view, context=context, **self._holds(view, whole_hold))
        self._known.begin()
        words = restricted_words(view.context, view.crossings, view.holds)
        people = self._people(view) if self._audience is Audience.PUBLIC else RestrictedWords(())
        if (*words.words, *people.words) != self._words:
            self._known.clear()
            self._words = (*words.words, *people.words)
        redacted = self._without_restricted(view, words)
        return redacted if self._audience is Audience.CREW else self._without_people(redacted, people)

    def _without_restricted(self, view: JobView, words: RestrictedWords) -> JobView:
        again, out_of = self._known.again, words.out_of
        # findings and cases quote what holds ask for, and of whom
        quoted = partial(asked_for, words=words)
        return replace(
            view,
            **self._texts(view, {**_FREE, **_of_lists(free_of)}, "restricted", out_of),
            **self._holds(view, lambda hold: redacted_hold(hold, words)),
            ledger=view.ledger.redacted(quoted),
            causes=_causes(view.causes, out_of),
            figures=again("restricted", view.figures, lambda: _with_remarks(view, out_of)),
            correction_notes=_each(view.correction_notes, ("words",), out_of),
            changes_by_structure=self._changes(view, "restricted", lambda each: each.reworded(out_of)),
            releases=tuple(redacted_release(release, words) for release in view.releases),
            cases={key: tuple(case.reworded(quoted) for case in found) for key, found in view.cases.items()},
            crossings=again("restricted", view.crossings, lambda: redacted_crossings(view.crossings, words)),
            context=again("restricted", view.context, lambda: redacted_context(view.context, words)),
        )

    def _without_people(self, view: JobView, people: RestrictedWords) -> JobView:
        """Take people, crews and remarks out of a view that holds nothing restricted."""
        again, out_of = self._known.again, people.out_of_name
        view = replace(view, **self._texts(view, {**_FREE, **_of_lists(free_of)}, "people", out_of))
        secret = {**_NOT_PUBLIC, **_of_lists(secret_of), "crossings": secret_of(CROSSINGS)}
        view = replace(view, **self._texts(view, secret, "blank", lambda _: ""))
        hidden: dict[str, Any] = {field: () for field, kind in lists_of_view() if not kind.public}
        nobody = {
            key: again("nobody", status, partial(_nobody, status)) for key, status in view.statuses.items()
        }
        return replace(
            view,
            ledger=view.ledger.redacted(out_of).without({*LOADING, *QUOTING}),
            causes=_causes(view.causes, out_of),
            figures=again("blank", view.figures, lambda: _with_remarks(view, lambda _: "")),
            decisions=_each(view.decisions, ("who",), lambda _: REMOVED),
            statuses=nobody,
            correction_notes=_each(view.correction_notes, ("words",), out_of),
            changes_by_structure=self._changes(
                view, "people", lambda each: None if each.is_remark else each.reworded(out_of)
            ),
            releases=_each(view.releases, ("who", "evidence", "device"), lambda _: REMOVED),
            context=tuple(each for each in view.context if each.layer not in _LAYERS_NOT_PUBLIC),
            **self._holds(view, public_hold),
            claims_by_structure=_NOTHING,
            cases=_NOTHING,
            emergency=(),
            **hidden,
        )

    def _texts(
        self, view: JobView, table: Mapping[str, tuple[str, ...]], name: str, change: _Text
    ) -> dict[str, Any]:
        """Return the fields of a table with their texts changed; what comes again is kept."""

        def changed(records: Any, field: str) -> Any:
            make = partial(_each, records, table[field], change)
            return self._known.again(f"{name} {field}", records, make)

        def of(field: str, value: Any) -> Any:
            if isinstance(value, Mapping):
                return {key: changed(records, field) for key, records in value.items()}
            return tuple(changed(record, field) for record in value)

        return {field: of(field, getattr(view, field)) for field in table}

    def _changes(
        self, view: JobView, name: str, tell: Callable[[Revised], Revised | None]
    ) -> Mapping[Any, list[Revised]]:
        changes = view.changes_by_structure

        def made() -> dict[Any, list[Revised]]:
            return {
                key: [redacted for each in group if (redacted := tell(each))]
                for key, group in changes.items()
            }

        return self._known.again(f"{name} changes", changes, made)

    def _holds(self, view: JobView, tell: Callable[[Hold], Hold]) -> dict[str, Any]:
        def tell_all(held: list[Hold]) -> list[Hold]:
            return [tell(hold) for hold in held]

        return {
            "holds": tuple(tell(hold) for hold in view.holds),
            "holds_by_row": {row: tell_all(held) for row, held in view.holds_by_row.items()},
        }

    def _people(self, view: JobView) -> RestrictedWords:
        names: set[str] = set()
        for events in view.events_by_structure.values():
            names |= self._known.again("names", events, partial(_names, events))
        names |= {decision.who for decision in view.decisions} | {release.who for release in view.releases}
        return RestrictedWords(names)


def _of_lists(chosen: Callable[[Kind[Any]], tuple[str, ...]]) -> Mapping[str, tuple[str, ...]]:
    """Return field of a view -> some attributes of the records of each declared list, as declared.

    Holds and crossings are told by rules of their own: one field decides on another, names of things stay.
    """
    return {
        field: found
        for field, kind in lists_of_view()
        if field not in {"holds", "crossings"} and (found := chosen(kind))
    }


def _names(events: list[Event]) -> frozenset[str]:
    said = (reading for event in events for reading in event.readings)
    people = [str(each.value) for each in said if (known := READINGS.get(each.name)) and known.person]
    for event in events:
        people += [event.crew, event.actor, event.signed_by, event.sent_by]
    return frozenset(people)


def _causes(causes: Sequence[Cause], change: _Text) -> Sequence[Cause]:
    def made() -> Sequence[Cause]:
        redacted: tuple[Cause, ...] = _each(tuple(causes), _CAUSE, change)
        return redacted

    return MadeOnUse(made)


def _with_remarks(view: JobView, change: _Text) -> Figures:
    structures = view.figures.structures
    remarks = np.array([change(text) for text in structures.remarks], dtype=structures.remarks.dtype)
    return replace(view.figures, structures=replace(structures, remarks=remarks))


def _nobody(status: StructureStatus) -> StructureStatus:
    return replace(
        status,
        done={code: state._replace(crew="") for code, state in status.done.items()},
        begun={code: state._replace(crew="") for code, state in status.begun.items()},
    )


def _each(records: Any, attributes: tuple[str, ...], change: _Text) -> Any:
    """Return a record, or a list or tuple of records, with some texts changed."""
    if isinstance(records, tuple | list):
        return type(records)(_each(record, attributes, change) for record in records)
    values = {name: (getattr(records, name), _changed(getattr(records, name), change)) for name in attributes}
    changed = {name: new for name, (old, new) in values.items() if old != new}
    return replace(records, **changed) if changed else records


def _changed(texts: Any, change: _Text) -> Any:
    """Return a text changed, or a tuple of texts, or of readings, which change those that people write."""
    if isinstance(texts, str):
        return change(texts)
    return tuple(change(each) if isinstance(each, str) else each.reworded(change) for each in texts)
