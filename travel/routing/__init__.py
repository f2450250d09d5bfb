"""Ways: arrivals and arcs over the site's network, the search, and what stops it."""

from travel.routing.choice import Choice, choose
from travel.routing.graph import AIMS, Graph, make_graph
from travel.routing.search import Step, Way, find_way, nearest_reached

__all__ = ["AIMS", "Choice", "Graph", "Step", "Way", "choose", "find_way", "make_graph", "nearest_reached"]
