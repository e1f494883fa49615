"""Words that tell layers apart: those of county and state GIS offices, of OpenStreetMap, and of the trade."""

from __future__ import annotations

from collections.abc import Mapping


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


ROADS = _set(
    "road track trail residential unclassified service primary secondary tertiary trunk motorway path footway lane "
    "driveway street highway bridleway cycleway pedestrian"
)
WATERS = _set(
    "creek stream river pond lake spring branch bayou slough canal ditch reservoir tank wash arroyo brook drain "
    "perennial intermittent ephemeral waterway swamp wetland lagoon riv"
)
HOUSES = _set(
    "house home barn cabin dwelling residence trailer farmhouse building shed garage cottage lodge camp apartments"
)
FENCES = _set("fence fencing barbed woven netwire electric crossfence paddock")
POWER = _set("transmission distribution powerline powerlines overhead minor_line cable tower pole pylon")
NAMES: Mapping[str, frozenset[str]] = {
    "parcels": _set("parcel parcels ownership tract tracts property properties cadastre plots boundary"),
    "tracks": _set("road roads track tracks trail trails streets highway driving ways"),
    "gates": _set("gate gates"), "fences": _set("fence fences"),
    "dwellings": _set("dwelling dwellings house houses buildings homes structures"),
    "water": _set("water creek creeks stream streams river rivers pond ponds lake lakes hydro nhd flowline"),
    "power_lines": _set("power powerline powerlines electric utility transmission"),
    "no_go": _set("nogo closed closure closures restricted restriction keepout offlimits"),
    "soils": _set("soil soils ssurgo mupolygon"), "sign": _set("sign rooting wallow"),
    "searched": _set("searched search walk walks transect"), "probes": _set("probe probes cone penetrometer"),
}  # fmt: skip
"""Words in the names of files and layers."""
