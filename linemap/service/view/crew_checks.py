"""The crew checks of a job: which stand, what the job makes of each, and how they compare with the survey."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from linemap.answers.structure import CrewCheckEntry
from linemap.domain.crew.in_force import InForce, net_move
from linemap.domain.crew_check.agreement import COMPARED, Compared, apart_of
from linemap.domain.crew_check.frame import CheckVerdict, FrameDesign
from linemap.domain.crew_check.record import StandingCheck, check_finding, judge_check
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import date_words, length_text
from linemap.domain.record.event import Event
from linemap.domain.record.replay import first_copies, replay, standing_events, without_corrected
from linemap.domain.record.status import Key
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks, Verdict
from linemap.service.view.view import JobView

#: A difference of so many sigmas of both is more than chance: once in a thousand.
_APART = 3.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckedFrames:
    """What crew checks are judged by, and compared with."""

    figures: Figures
    row_of: Mapping[Key, int]
    tolerances: Tolerances
    set_poles: SetPoles
    checks: Checks
    shots: Mapping[Key, list[Shot]]

    def design(self, key: Key) -> FrameDesign | None:
        """Return the frame of a structure as the lists have it; None = they do not say, or do not list it."""
        row = self.row_of.get(key)
        return None if row is None else FrameDesign.of(self.figures, row, self.tolerances)

    def standing(
        self, events: Mapping[Key, Iterable[Event]], corrected: Collection[str], in_force: InForce
    ) -> dict[Key, tuple[StandingCheck, ...]]:
        """Return the checks that stand at each structure that has any, the oldest first.

        `events` may hold others too; `corrected` names what events of whichever structure correct.
        """
        found = {}
        for key, group in events.items():
            checks = [event for event in group if event.what == "check"]
            if not checks:
                continue
            known = without_corrected(first_copies(checks), corrected)
            design = self.design(key)
            standing = [
                self._judged(each, design, in_force) for each in standing_events(replay(known, letters=""))
            ]
            if standing:
                found[key] = tuple(standing)
        return found

    def _judged(self, event: Event, design: FrameDesign | None, in_force: InForce) -> StandingCheck:
        since = [move for move in in_force.moves.get(event.key, ()) if move.at > event.moment]
        return StandingCheck(
            event=event.id,
            at=event.moment,
            judged=judge_check(event.content, design),
            moved=bool(since) and net_move(since) > in_force.move_limit,
        )

    def findings(
        self, standing: Mapping[Key, Sequence[StandingCheck]], events: Mapping[Key, Iterable[Event]]
    ) -> dict[Key, list[Finding]]:
        """Return what the newest check of each structure gives to look at, until the survey judges."""
        found = {}
        for key, checks in standing.items():
            (event,) = [each for each in first_copies(events[key]) if each.id == checks[-1].event]
            said = list(self._of_newest(key, checks[-1], event))
            if said:
                found[key] = said
        return found

    def _of_newest(self, key: Key, check: StandingCheck, event: Event) -> Iterator[Finding]:
        if not self.is_surveyed_since(key, check):
            if check.judged.verdict is not CheckVerdict.PASS or check.moved:
                yield check_finding(check, event, self.design(key))
            return
        survey = Verdict(self.checks.verdict[self.row_of[key]])
        apart_by = self._far_apart(key, check)
        if (check.judged.verdict is CheckVerdict.PASS and survey is Verdict.FAIL) or apart_by:
            values = check_finding(check, event, self.design(key)).values
            yield Finding(
                line=key[0],
                structure=key[1],
                code="crew check unlike survey",
                values={**values, "survey": survey.value, "apart_by": tuple(apart_by.items())},
                since=check.at.date(),
            )

    def is_surveyed_since(self, key: Key, check: StandingCheck) -> bool:
        """Say whether the survey has a verdict by shots of the day of a check or later."""
        row = self.row_of.get(key)
        if row is None or self.checks.verdict[row] not in (Verdict.PASS, Verdict.FAIL):
            return False
        day = check.at.date().isoformat()
        return any(shot.item == "pole" and shot.observed_on >= day for shot in self.shots.get(key, ()))

    def apart(self, key: Key, check: StandingCheck) -> tuple[dict[str, float], tuple[float, ...]] | None:
        """Return by how much a check and the survey of its frame differ, as `apart_of` does.

        None where there is nothing to compare: the check failed, so that the frame was moved after it, or its
        poles do not follow; or the frame was not surveyed since.
        """
        judged = check.judged
        told = judged.verdict in (CheckVerdict.PASS, CheckVerdict.CANNOT_TELL) and bool(judged.poles)
        if not told or check.moved or not self.is_surveyed_since(key, check):
            return None
        row = self.row_of[key]
        ahead, right = self.figures.in_frame(row, self.set_poles.position[row, : len(judged.poles)])
        surveyed = np.stack([right, ahead], axis=-1)
        return apart_of(judged.poles, surveyed) if np.isfinite(surveyed).all() else None

    def _far_apart(self, key: Key, check: StandingCheck) -> dict[str, float]:
        found = self.apart(key, check)
        row, checks, own = self.row_of[key], self.checks, sigmas_of(check)
        survey = {
            "rotation": checks.rotation_sigma_deg[row],
            "along": checks.along_sigma[row],
            "across": checks.across_sigma[row],
            "spacing": checks.spacing_sigma[row],
        }
        return {
            name: size
            for name, size in ({} if found is None else found[0]).items()
            if abs(size) > _APART * math.hypot(own[name], float(survey[name]))
        }

    def compared(self, key: Key, check: StandingCheck, event: Event) -> Compared | None:
        """Return a check beside the survey of its frame; None where there is nothing to compare."""
        found = self.apart(key, check)
        if found is None:
            return None
        return Compared(
            line=key[0],
            structure=key[1],
            method=check.judged.method,
            crew=event.crew or event.who,
            person=event.actor,
            apart=found[0],
            poles_apart=found[1],
            sigmas=sigmas_of(check),
        )


def frames_of(view: JobView) -> CheckedFrames:
    """Return the frames of a view."""
    return CheckedFrames(
        figures=view.figures,
        row_of=view.row_of,
        tolerances=view.tolerances,
        set_poles=view.set_poles,
        checks=view.checks,
        shots=view.shots_by_structure,
    )


def event_of(view: JobView, key: Key, check: StandingCheck) -> Event:
    """Return the event that a check is of."""
    return next(each for each in view.events_by_structure[key] if each.id == check.event)


def proving_words(view: JobView, key: Key) -> str:
    """Name the crew check that proves a frame, the newest; the structure has one."""
    check = [each for each in view.crew_checks[key] if each.proves][-1]
    who = event_of(view, key, check).who
    return f"frame check: crew check by {check.judged.method}, {date_words(check.at.date())}, {who}"


def crew_checks_at(view: JobView, row: int) -> list[CrewCheckEntry]:
    """Return the crew checks that stand at the structure of a row, the newest first."""
    key = view.key(row)
    frames, called = frames_of(view), view.figures.called(row)
    found = []
    for check in reversed(view.crew_checks.get(key, ())):
        said = check_finding(check, event_of(view, key, check), frames.design(key))
        found.append(
            CrewCheckEntry(
                id=check.event,
                when=check.at.isoformat(timespec="minutes"),
                method=check.judged.method,
                verdict=check.judged.verdict.value,
                words=replace(said, called=called).words,
                survey=_beside_survey(frames, key, check),
            )
        )
    return found


def _beside_survey(frames: CheckedFrames, key: Key, check: StandingCheck) -> str:
    """Say how a check compares with the shots that came after it."""
    found = frames.apart(key, check)
    if found is None:
        return ""
    apart, poles = found
    unit = frames.tolerances.unit
    moved = ", ".join(length_text(each, unit) for each in poles)
    turned = f"{abs(apart['rotation']):.2f}°"
    gap = length_text(apart["spacing"], unit)
    return (
        f"beside the survey: turned {turned} otherwise, spacing {gap} apart, poles {moved} from their shots"
    )


def beside(
    found: Mapping[Key, Sequence[Finding]], checked: Mapping[Key, Sequence[Finding]]
) -> dict[Key, Sequence[Finding]]:
    """Return what the record gives to look at, by structure, and behind it what crew checks do."""
    return {**found, **{key: (*found.get(key, ()), *said) for key, said in checked.items()}}


def sigmas_of(check: StandingCheck) -> dict[str, float]:
    """Return the uncertainties a check had for itself, by names of `COMPARED`; that of both gaps as one."""
    sigmas = {name: sigma for name, (_, sigma) in check.judged.quantities.items()}
    gaps = [sigma for name, sigma in sigmas.items() if name.startswith("spacing")]
    return {name: math.hypot(*gaps) if name == "spacing" else sigmas[name] for name in COMPARED}
