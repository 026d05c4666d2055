"""What crews found at frames themselves, counted, and how well they measure by the survey that came after."""

from __future__ import annotations

from linemap.answers import progress as answer
from linemap.domain.crew_check.agreement import COMPARED, Precision, precisions
from linemap.domain.crew_check.frame import CheckVerdict
from linemap.domain.finding.phrase import length_text
from linemap.domain.record.status import Key
from linemap.service.view.crew_checks import event_of, frames_of
from linemap.service.view.view import JobView

#: Checks from which an rms is known to a quarter or so: of fewer it is said how little they tell.
_ENOUGH = 30


def crew_checks(view: JobView, *, line: str = "") -> answer.CrewChecks:
    """Return the crew checks of a job, or of one line of it."""
    checks = {
        key: view.crew_checks[key]
        for key in sorted(view.crew_checks, key=lambda key: view.row_of.get(key, len(view.row_of)))
        if line in ("", key[0])
    }
    frames, by_verdict = frames_of(view), dict[CheckVerdict, list[Key]]()
    compared = []
    for key, there in checks.items():
        newest = there[-1]
        by_verdict.setdefault(newest.judged.verdict, []).append(key)
        found = frames.compared(key, newest, event_of(view, key, newest))
        if found is not None:
            compared.append(found)
    return answer.CrewChecks(
        newest=[
            answer.CheckCount(
                words=f"crew check: {verdict.value}",
                list=[answer.Place(line=of, number=number) for of, number in by_verdict[verdict]],
            )
            for verdict in CheckVerdict
            if verdict in by_verdict
        ],
        precision=[_precision(each, view.unit.symbol) for each in precisions(compared)],
    )


def _precision(found: Precision, unit: str) -> answer.CrewPrecision:
    def text(name: str) -> str:
        def size(value: float) -> str:
            return f"{abs(value):.2f}°" if name == "rotation" else length_text(value, unit)

        sign = "+" if found.bias[name] >= 0.0 else "−"
        own = f"{size(found.expected[name])} expected"
        return f"{size(found.rms[name])} rms, {sign}{size(found.bias[name])} mean ({own})"

    texts = {f"{name}_text": text(name) for name in COMPARED}
    many = f"{found.count} check{'s' if found.count != 1 else ''}"
    few = f"; so few tell little: the true rms may be {found.rms_at_most:.1f} times that"
    return answer.CrewPrecision(
        method=found.method,
        crew=found.crew,
        person=found.person,
        count=found.count,
        **texts,
        poles_text=f"{length_text(found.poles_rms, unit)} rms",
        few_text=many + few * (found.count < _ENOUGH),
    )
