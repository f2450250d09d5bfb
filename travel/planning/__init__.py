"""Trips into one travel plan: way, findings, conditions, what was relied on."""

from travel.planning.both_ways import out_and_back
from travel.planning.compose import compose
from travel.planning.trips import Prepared, Trip, TripRequest, prepare, search, solve

__all__ = ["Prepared", "Trip", "TripRequest", "compose", "out_and_back", "prepare", "search", "solve"]
