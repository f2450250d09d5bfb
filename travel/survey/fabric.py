"""What the columns of a survey are drawn from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from travel.domain.site import Amendment
from travel.survey.arrays import Ints
from travel.survey.chains import Chains, Links
from travel.survey.course import Course
from travel.survey.cutting import Cells, Order
from travel.survey.features import Features
from travel.survey.intervals import Intervals
from travel.survey.lines import Lines
from travel.survey.profile import Heights


@dataclass(frozen=True, eq=False, kw_only=True)
class Fabric:
    """The site laid out. ``own`` holds where features lie over the road itself, ``link_row`` each link's row."""

    lines: Lines
    links: Links
    chains: Chains
    course: Course
    heights: Heights
    cells: Cells
    order: Order
    features: Mapping[str, Features]
    own: Mapping[str, Intervals]
    ranged: tuple[tuple[int, Amendment], ...]
    link_row: Ints
