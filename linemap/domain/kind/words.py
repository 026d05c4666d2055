"""Headings that several lists know by the same words, squeezed and lower case, the surest first."""

from __future__ import annotations

from linemap.domain.kind.kind import Cell

LINE_WORDS = "line linename lineid route circuit lineno"
STRUCTURE_WORDS = (
    "structure str strno strnum strnumber structureno structurenumber structurenum structureid struct "
    "structno structnumber structnum tower towerno towernumber"
)
HEIGHT_WORDS = (
    "elevation elev el z groundel groundelev groundelevation cleelev clelev clelevation groundlevel gl "
    "height orthoheight"
)
REMARKS_WORDS = "remarks remark notes note comments comment"
#: Name of the line; rows that name none are on the job's own.
LINE = Cell(LINE_WORDS, way="line")
FROM_STRUCTURE = Cell("fromstructure fromstr structurefrom strfrom firststructure", way="end")
TO_STRUCTURE = Cell("tostructure tostr structureto strto laststructure", way="end")
#: Grid and geographic coordinates by the names of their columns.
PLACE_WORDS = {
    "easting": "easting e east eastings x xcoord xcoordinate coordx gride gridx grideasting centereasting "
    "centreeasting centere centree designeasting eastcoord xeast eastingx pointx",
    "northing": "northing n north northings y ycoord ycoordinate coordy gridn gridy gridnorthing "
    "centernorthing centrenorthing centern centren designnorthing northcoord ynorth northingy pointy",
    "longitude": "longitude lon long lng wgs84longitude wgs84lon declon declongitude londd",
    "latitude": "latitude lat wgs84latitude wgs84lat declat declatitude latdd",
}
