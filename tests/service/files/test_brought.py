"""Files brought for a job to be made: how they read, and where they lie in a reference or none."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import geopandas
import pytest
import shapely

from linemap.answers.office import DrawnFile, LookedAt
from linemap.io.source.sandbox import Cancelled
from linemap.service.files.brought import FilesBrought

NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)
HEADS = "structure,easting,northing\n"
STRUCTURES = HEADS + "".join(f"{k},{2250000 + 900 * k},900000\n" for k in range(1, 5))
SHOTS = "point,northing,easting,elevation,description\n"


def looked(folder: Path, crs: str = "", **kinds: str) -> LookedAt:
    brought = FilesBrought(folder)
    return brought.look(crs, kinds, now=NOW, progress=lambda _done, _of: None, cancelled=lambda: False)  # type: ignore[arg-type]


def drawn(folder: Path, name: str, crs: str = "") -> DrawnFile:
    return next(each for each in looked(folder, crs).drawn if each.name == name)


def write(folder: Path, **texts: str) -> None:
    for name, text in texts.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


def vector(folder: Path, name: str, crs: str | None) -> None:
    """Write three structures that stand amid the list's, in a reference."""
    points = geopandas.GeoSeries(shapely.points([[2250900, 900000], [2251800, 900000]]), crs="EPSG:6515")
    frame = geopandas.GeoDataFrame({"structure": ["1", "2"]}, geometry=points)
    frame.to_crs(crs or "EPSG:6515").to_file(folder / name)
    if crs is None:
        (folder / name).with_suffix(".prj").unlink()


def test_exchanged_columns_are_told_beside_the_others(tmp_path: Path) -> None:
    write(tmp_path, structures=STRUCTURES, shots=SHOTS + "1,2250900,900000,3900,STR 1 A\n")
    words = drawn(tmp_path, "shots.csv").words
    assert "it lies 1,910,461 from structures.csv, farther than either is long" in words
    assert words.endswith("with eastings and northings exchanged it would lie at it.")
    write(tmp_path, shots=SHOTS + "1,900006,2250900,3900,STR 1 A\n")
    assert "farther" not in drawn(tmp_path, "shots.csv").words


def test_a_unit_of_the_headings_is_the_unit_of_the_drawing(tmp_path: Path) -> None:
    write(tmp_path, structures="structure,easting (m),northing (m)\n1,500000,5176000\n2,500300,5176000\n")
    found = looked(tmp_path)
    assert (found.unit, found.drawn[0].places[1]) == ("m", ("2", (500300.0, 5176000.0)))
    assert found.drawn[0].words == (
        "2 points, 1 to 2: easting 500,000 to 500,300, northing 5,176,000 to 5,176,000 m."
    )
    in_feet = looked(tmp_path, "EPSG:6515")
    assert (in_feet.unit, in_feet.drawn[0].places[1][1]) == (
        "ft",
        pytest.approx((1641404.2, 16981627.3), abs=0.1),
    )


def test_a_unit_that_only_a_reference_says_is_not_said_before(tmp_path: Path) -> None:
    write(tmp_path, structures="structure,easting,northing,pole spacing (m)\n1,2250000,900000,4\n")
    units = {"": ["easting", "pole spacing (m) (metre)"], "EPSG:6515": ["easting (international foot)"]}
    for crs, said in units.items():
        columns = [each.heading for each in looked(tmp_path, crs).files[0].columns]
        assert [each for each in said if each not in columns] == [], columns


def test_degrees_are_drawn_in_metres_alone_and_beside_grid_once_there_is_a_reference(tmp_path: Path) -> None:
    vector(tmp_path, "new.geojson", "EPSG:4326")
    alone = looked(tmp_path)
    (_, first), (_, second) = alone.drawn[0].places
    apart = ((second[0] - first[0]) ** 2 + (second[1] - first[1]) ** 2) ** 0.5
    assert (alone.unit, alone.crs) == ("m", "")
    assert apart == pytest.approx(900 * 0.3048, rel=5e-3)
    write(tmp_path, structures=STRUCTURES)
    assert drawn(tmp_path, "new.geojson").places == []
    assert "drawn beside the others once" in drawn(tmp_path, "new.geojson").words
    assert drawn(tmp_path, "new.geojson", "EPSG:6515").places[0][1] == pytest.approx(
        (2250900, 900000), abs=1e-3
    )


def test_the_reference_a_file_carries_is_proposed(tmp_path: Path) -> None:
    vector(tmp_path, "new.shp", "EPSG:6514")
    found = looked(tmp_path)
    assert [each.name for each in found.files] == ["new.shp"], "its companions are no files of their own"
    there = looked(tmp_path, found.crs)
    assert there.where[0].startswith("46.7131° N, 108.3718° W in NAD83(2011) / Montana")


def test_a_file_that_does_not_say_its_reference_is_drawn_beside_the_question(tmp_path: Path) -> None:
    vector(tmp_path, "new.shp", None)
    for crs in ("", "EPSG:6515"):
        found = looked(tmp_path, crs)
        assert "does not say which coordinate reference" in found.files[0].problems[0].reason
        assert found.drawn[0].places[0] == ("1", (2250900.0, 900000.0))


def test_a_reference_made_for_another_place_is_told(tmp_path: Path) -> None:
    write(tmp_path, structures=STRUCTURES)
    assert looked(tmp_path, "EPSG:2277").where[1].startswith("That lies outside its area of use: ")
    assert looked(tmp_path, "EPSG:4326").where[0].startswith("EPSG:4326 is geographic")
    assert looked(tmp_path).where == []


def test_of_many_places_some_are_drawn(tmp_path: Path) -> None:
    write(tmp_path, structures=HEADS + "".join(f"{k},{2250000 + 900 * k},900000\n" for k in range(1, 4002)))
    found = drawn(tmp_path, "structures.csv")
    assert (len(found.places), found.places[1][0]) == (1334, "4")
    assert found.words.endswith("; 1,334 of them are drawn.")


def test_a_look_that_is_not_wanted_any_more_ends(tmp_path: Path) -> None:
    write(tmp_path, structures=HEADS + "".join(f"{k},{k},{k}\n" for k in range(200_000)))
    with pytest.raises(Cancelled):
        FilesBrought(tmp_path).look("", {}, now=NOW, progress=lambda _done, _of: None, cancelled=lambda: True)
