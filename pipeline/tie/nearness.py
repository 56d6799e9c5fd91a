"""Places by coordinates: which known place is nearest to a call, and which calls stand together.

Distances are straight lines in metres between points of a sphere of the Earth's mean radius: within a site they
differ from any local projection by less than coordinates on work orders are worth, and no zone, pole or date line
needs a rule of its own.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the Earth (IUGG, from memory); the ellipsoid differs by up to 0.6 %."""

Degrees = NDArray[np.float64]


class Nearest(NamedTuple):
    """For each point: the nearest place's index, its distance, and the runner-up's distance (inf if there is none)."""

    nearest: NDArray[np.intp]
    metres: NDArray[np.float64]
    next_metres: NDArray[np.float64]


def _on_sphere(latitude: Degrees, longitude: Degrees) -> NDArray[np.float64]:
    """Points on the sphere as rows x, y, z in metres. Degrees north and east."""
    north, east = np.radians(latitude), np.radians(longitude)
    flat = np.cos(north)
    return EARTH_RADIUS_M * np.column_stack([flat * np.cos(east), flat * np.sin(east), np.sin(north)])


def nearest_places(
    latitude: Degrees, longitude: Degrees, place_latitude: Degrees, place_longitude: Degrees
) -> Nearest:
    """The place nearest to each point, and how far the next one is. At least one place; degrees north and east."""
    tree = cKDTree(_on_sphere(place_latitude, place_longitude))
    distances, indices = map(np.asarray, tree.query(_on_sphere(latitude, longitude), k=2))
    return Nearest(indices[:, 0], distances[:, 0], distances[:, 1])


def standing_together(latitude: Degrees, longitude: Degrees, within_metres: float) -> NDArray[np.int32]:
    """A group number for each point: points ``within_metres`` of one another, directly or by steps, share one."""
    count = len(latitude)
    pairs = cKDTree(_on_sphere(latitude, longitude)).query_pairs(within_metres, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int32)
