import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from linemap.domain.design.line import Catenary
from linemap.service.view.columns import result_columns
from linemap.service.view.marks import arm_elevation
from linemap.service.view.panel import (
    ahead_lengths_text,
    arm_magnetic_text,
    structure_panel,
    weight_span_text,
    weight_spans_of,
)
from linemap.service.view.view import JobView


def test_three_lengths_of_one_span_are_named_and_differ(demo_view: JobView) -> None:
    # 1,073.00 ft on the ground; grid = ground x 0.999217; the ellipsoid lies between them
    assert ahead_lengths_text(demo_view, demo_view.row("", "1/1")) == (
        "grid 1,072.16 ft, ground 1,073.00 ft, geodesic 1,072.80 ft"
    )
    assert ahead_lengths_text(demo_view, demo_view.row("", "23/2")) == ""


def test_a_compass_azimuth_carries_its_day_and_uncertainty(demo_view: JobView) -> None:
    told = arm_magnetic_text(demo_view, demo_view.row("", "1/1"))
    assert told.endswith("magnetic (WMM2025, 2026-05-15)")
    assert "±" in told
    assert arm_magnetic_text(replace(demo_view, as_of=dt.date(2041, 1, 1)), 0) == ""


CATENARY = Catenary(constant=4500.0, source="invented sag table")


def test_without_a_constant_there_is_none(demo_view: JobView) -> None:
    assert weight_spans_of(demo_view) is None
    words = structure_panel(demo_view, "", "2/1").weight_span_text
    assert words == "not available: no catenary constant declared"
    columns = result_columns(
        demo_view.figures,
        demo_view.set_poles,
        demo_view.checks,
        demo_view.ledger,
        weight_span=weight_spans_of(demo_view),
    )
    assert "weight_span" not in columns


def test_weight_spans_share_out_the_whole_line(demo_view: JobView) -> None:
    view = replace(demo_view, catenary=CATENARY)
    found = weight_spans_of(view)
    assert found is not None
    assert found.sum() == pytest.approx(np.nansum(view.figures.ahead_span))
    columns = result_columns(view.figures, view.set_poles, view.checks, view.ledger, weight_span=found)
    names = list(columns)
    assert names[names.index("wind_span") + 1] == "weight_span"


def test_the_low_point_lies_where_the_arms_put_it(demo_view: JobView) -> None:
    """By hand for 2/1: each half span, and the shift of the low point c h / L of a parabola, as a check."""
    view = replace(demo_view, catenary=CATENARY)
    row = view.row("", "2/1")
    back, ahead = view.figures.back_span[row], view.figures.ahead_span[row]
    here = arm_elevation(view, row)
    behind, before = (arm_elevation(view, row + step) for step in (-1, 1))
    by_hand = (back + ahead) / 2 + 4500.0 * (here - behind) / back + 4500.0 * (here - before) / ahead
    found = weight_spans_of(view)
    assert found is not None
    assert found[row] == pytest.approx(by_hand, rel=0.01)
    assert weight_span_text(view, row) == (
        f"{found[row]:,.2f} ft (arm bolts as framed, strings of one length; "
        "catenary constant 4,500 ft (invented sag table))"
    )


def test_an_unknown_attachment_is_named(demo_view: JobView) -> None:
    row = demo_view.row("", "2/1")
    poles = {**demo_view.poles_by_structure, demo_view.key(row + 1): []}
    view = replace(demo_view, catenary=CATENARY, poles_by_structure=poles)
    assert weight_span_text(view, row) == "not available: no attachment elevation at 2/2"
    found = weight_spans_of(view)
    assert found is not None
    assert np.isnan(found[[row, row + 1, row + 2]]).all()
    assert not np.isnan(found[row + 3])


def test_a_job_without_a_framing_table_goes_by_the_ground_and_says_so(demo_view: JobView) -> None:
    view = replace(demo_view, catenary=CATENARY, framing={})
    assert "ground at the centres, attachments of one height taken" in weight_span_text(
        view, view.row("", "2/1")
    )
