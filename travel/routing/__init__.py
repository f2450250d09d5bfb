"""Ways: arrivals and arcs over the site's network, the search, and what stops it."""

from travel.routing.arcs import Step
from travel.routing.choice import Choice, choose, steady_mps
from travel.routing.closeness import too_close
from travel.routing.graph import AIMS, Graph, make_graph
from travel.routing.search import Arrivals, Way, corners_of, drivable_steps, find_way, nearest_reached
from travel.routing.speeds import Speeds, lay_over, rates

__all__ = [
    "AIMS",
    "Arrivals",
    "Choice",
    "Graph",
    "Speeds",
    "Step",
    "Way",
    "choose",
    "corners_of",
    "drivable_steps",
    "find_way",
    "lay_over",
    "make_graph",
    "nearest_reached",
    "rates",
    "steady_mps",
    "too_close",
]
