"""Where a site lies that has no coordinates of its own: amid its controls, if those lie close together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.numerals import count_text

Row = dict[str, Any]

EARTH_RADIUS_KM = 6371.0
"""Mean radius of the Earth (R1 of the WGS 84 ellipsoid is 6371.009 km)."""
FARTHEST_KM = 5.0
"""A site is one place for the sun if none of its controls lies further than this from their mean: at 5 km the sun
rises and sets at most about half a minute earlier or later (at 60 degrees; a day turns the Earth 360 degrees)."""
_NAMED = 5


class PlacedSites(NamedTuple):
    """Site rows with coordinates filled in, and the sentences that say so (place, message)."""

    sites: list[Row]
    notices: list[tuple[str, str]]


def with_coordinates(sites: Sequence[Row], controls: Iterable[Row]) -> PlacedSites:
    """Give each site without any coordinate the mean of its controls' (degrees), where they lie close together."""
    by_site: defaultdict[str, list[tuple[float, float]]] = defaultdict(list)
    for control in controls:
        if control["latitude"] is not None and control["longitude"] is not None:
            by_site[control["site_id"]].append((control["latitude"], control["longitude"]))
    placed, taken, apart = [], [], []
    for site in sites:
        points = by_site.get(site["site_id"])
        if points and site["latitude"] is None and site["longitude"] is None:
            latitude, longitude, farthest_km = mean_place(np.array(points))
            if farthest_km < FARTHEST_KM:
                taken.append(site["site_id"])
                site = site | {"latitude": latitude, "longitude": longitude}
            else:
                apart.append(f"{site['site_id']} ({count_text(round(farthest_km))} km)")
        placed.append(site)
    return PlacedSites(placed, [*_taken(taken), *_apart(apart)])


def mean_place(points: NDArray[np.float64]) -> tuple[float, float, float]:
    """Mean of places on the sphere, and how far the farthest lies from it.

    points : (n, 2), degrees north and east, n >= 1. Gives degrees north, degrees east and km. Places are averaged
    as directions, so that 179.9 and -179.9 degrees east have their mean at 180.
    """
    north, east = np.radians(points).T
    directions = np.column_stack([np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)])
    x, y, z = mean = directions.mean(axis=0)
    middle = mean / max(float(np.linalg.norm(mean)), 1e-12)
    half_chords = np.linalg.norm(directions - middle, axis=1) / 2
    farthest_km = 2 * EARTH_RADIUS_KM * float(np.arcsin(np.clip(half_chords, 0, 1)).max())
    return float(np.degrees(np.arctan2(z, np.hypot(x, y)))), float(np.degrees(np.arctan2(y, x))), farthest_km


def _taken(sites: list[str]) -> Iterable[tuple[str, str]]:
    if sites:
        yield (
            "sites.csv, latitude and longitude",
            f"{_sites(len(sites))} without coordinates of {_its(sites)} own: the mean of the controls' stands in "
            f"({_names(sites)}).",
        )


def _apart(sites: list[str]) -> Iterable[tuple[str, str]]:
    if sites:
        yield (
            "controls.csv, latitude and longitude",
            f"{_sites(len(sites))} without coordinates of {_its(sites)} own, and with controls {FARTHEST_KM:g} km or "
            f"more from their mean, so no place is taken from them ({_names(sites)}): correct the controls, or give "
            "the site's coordinates in sites.csv.",
        )


def _sites(number: int) -> str:
    return f"{count_text(number)} {'site is' if number == 1 else 'sites are'}"


def _its(sites: list[str]) -> str:
    return "its" if len(sites) == 1 else "their"


def _names(sites: list[str]) -> str:
    more = f" and {count_text(len(sites) - _NAMED)} more" if len(sites) > _NAMED else ""
    return ", ".join(sites[:_NAMED]) + more
