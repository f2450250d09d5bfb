"""A plan as files for other devices: the way for a telephone, plan and site for a GIS."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from travel.service.document import plan_on_site
from travel.writers.files import write_whole
from travel.writers.geo import frame_of, names_of, where_xy
from travel.writers.gpx import gpx
from travel.writers.plan_gpkg import plan_sheets, write_sheets


def export_plan(plan_file: Path, site: Path, folder: Path, rulebooks: tuple[Path, ...] = ()) -> tuple[Path, ...]:
    """Write ``way.gpx`` and ``plan.gpkg`` whole into a folder and give their paths.

    Raises:
        InputError: the files' faults; a site or rulebook that is not the plan's
    """
    plan, read, rulebook = plan_on_site(plan_file, site, rulebooks)
    frame = frame_of(read)
    points: dict[int, tuple[float, float]] = {}
    for finding in plan.findings:
        xy = where_xy(finding.where, read, frame)
        if xy is not None:
            lon, lat = frame.to_lonlat(np.array([xy]))[0]
            points[finding.flag] = (float(lon), float(lat))
    way, layers = folder / "way.gpx", folder / "plan.gpkg"
    write_whole(way, gpx(plan, rulebook, names_of(read), points))
    write_sheets(layers, plan_sheets(plan, read, rulebook), read.crs_wkt)
    return (way, layers)
