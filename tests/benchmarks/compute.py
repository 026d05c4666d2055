"""How fast figures and checks are computed, against a row-by-row way and a plain copy, in one run."""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from dataclasses import fields

import geopandas
import numpy as np
import shapely
from network import FACTOR, Synthetic, synthetic
from rich.console import Console
from rich.table import Table

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import SetPoles
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

ROW_BY_ROW_SAMPLE = 1000


def seconds(work: Callable[[], object], runs: int = 3) -> float:
    """Return the median time of `runs` runs after one that is not counted."""
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def ours(made: Synthetic, projection: Projection) -> Figures:
    """Compute all figures and the orientation check of every structure."""
    computed = figures(made.lines, made.structures, projection=projection)
    size = len(computed)
    position = made.set_poles[computed.order]
    poles = SetPoles(
        position=position,
        elevation=np.full((size, 3), np.nan),
        sigma=np.where(np.isnan(position[:, :, 0]), np.nan, 0.03),
        count=np.ones((size, 3), dtype=np.int64),
        conflict=np.zeros(size, dtype=np.bool_),
        unused={},
        findings=(),
    )
    check(computed, poles, Tolerances.default(LengthUnit.FOOT))
    return computed


def row_by_row(made: Synthetic, count: int, projection: Projection) -> None:
    """Compute the same figures and residuals of the first `count` structures, one frame row at a time."""
    routes = {
        line.name: shapely.LineString(np.column_stack([line.centreline.easting, line.centreline.northing]))
        for line in made.lines
    }
    frame = geopandas.GeoDataFrame(
        {"line": made.structures.line[:count]},
        geometry=geopandas.points_from_xy(made.structures.easting[:count], made.structures.northing[:count]),
    )
    rows = list(frame.iterrows())
    for at, (_, row) in enumerate(rows):
        route, point = routes[row["line"]], row.geometry
        station = route.project(point)
        foot = route.interpolate(station)
        azimuth = _azimuth(route.interpolate(max(station - 1.0, 0.0)), route.interpolate(station + 1.0))
        _deflection_at(route, point)
        side = math.sin(azimuth) * (point.y - foot.y) - math.cos(azimuth) * (point.x - foot.x)
        math.copysign(foot.distance(point), -side)
        for neighbour in (at - 1, at + 1):
            if 0 <= neighbour < len(rows):
                rows[neighbour][1].geometry.distance(point) / FACTOR
        arm = 12.5 * FACTOR / 2.0
        east, north = arm * math.cos(azimuth), -arm * math.sin(azimuth)
        shapely.Point(point.x - east, point.y - north), shapely.Point(point.x + east, point.y + north)
        projection.lonlat_and_factors(point.x, point.y)
        a, b = made.set_poles[at, 0], made.set_poles[at, 1]
        turn = math.atan2(b[0] - a[0], b[1] - a[1]) - azimuth - math.pi / 2.0
        sigma = math.sqrt(2.0) * 0.03 / math.dist(a, b)
        math.erf((1.0 - abs(math.degrees(turn))) / sigma / math.sqrt(2.0))


def _azimuth(back: shapely.Point, ahead: shapely.Point) -> float:
    return math.atan2(ahead.x - back.x, ahead.y - back.y)


def _deflection_at(route: shapely.LineString, point: shapely.Point) -> float:
    """Turn at the vertex within 5 ft of the point, 0 when there is none."""
    corners = list(route.coords)
    for back, here, ahead in zip(corners, corners[1:], corners[2:], strict=False):
        if math.dist(here, (point.x, point.y)) < 5.0:
            first = math.atan2(here[0] - back[0], here[1] - back[1])
            return math.atan2(ahead[0] - here[0], ahead[1] - here[1]) - first
    return 0.0


def copied(computed: Figures) -> Callable[[], object]:
    """Return work that copies all arrays of the answer once."""
    arrays = [getattr(computed, field.name) for field in fields(computed)]
    plain = [array for array in arrays if isinstance(array, np.ndarray) and array.dtype != object]
    return lambda: [array.copy() for array in plain]


def main() -> None:
    """Print the two tables."""
    console = Console()
    projection = Projection.from_text("EPSG:6515")
    table = Table(title="figures and checks of every structure")
    for heading in (
        "structures",
        "routes x PIs",
        "ours s",
        "locate s",
        "row by row s (scaled)",
        "ratio",
        "copies",
    ):
        table.add_column(heading, justify="right")
    for count, routes, vertices in ((1_000, 1, 50), (100_000, 100, 200), (1_000_000, 1_000, 200)):
        made = synthetic(count, routes, vertices)
        whole = seconds(lambda: ours(made, projection), runs=3 if count < 1_000_000 else 2)  # noqa: B023
        located = seconds(lambda: _locate(made), runs=3 if count < 1_000_000 else 2)  # noqa: B023
        sample = min(count, ROW_BY_ROW_SAMPLE)
        slow = seconds(lambda: row_by_row(made, sample, projection), runs=3) * count / sample  # noqa: B023
        copy = seconds(copied(ours(made, projection)))
        table.add_row(
            f"{count:,}",
            f"{routes} x {vertices}",
            f"{whole:.3f}",
            f"{located:.3f}",
            f"{slow:.1f}",
            f"{slow / whole:,.0f}",
            f"{whole / copy:,.0f}",
        )
    console.print(table)
    console.print(_growth())


def _locate(made: Synthetic) -> object:
    names = {line.name: index for index, line in enumerate(made.lines)}
    route = np.array([names[name] for name in made.structures.line])
    return network_of(made.lines).locate(
        made.structures.easting, made.structures.northing, route, pi_snap=5.0, competing_within=12.0
    )


def _growth() -> Table:
    table = Table(title="20,000 structures on one route, by vertices")
    for heading in ("vertices", "locate s", "per structure µs", "against 200"):
        table.add_column(heading, justify="right")
    first = 0.0
    for vertices in (200, 2_000, 20_000):
        made = synthetic(20_000, 1, vertices)
        network = network_of(made.lines)
        route = np.zeros(20_000, dtype=np.int64)
        taken = seconds(
            lambda: network.locate(  # noqa: B023
                made.structures.easting,  # noqa: B023
                made.structures.northing,  # noqa: B023
                route,  # noqa: B023
                pi_snap=5.0,
                competing_within=12.0,
            )
        )
        first = first or taken
        table.add_row(f"{vertices:,}", f"{taken:.3f}", f"{taken / 20_000 * 1e6:.2f}", f"{taken / first:.2f}")
    return table


if __name__ == "__main__":
    main()
