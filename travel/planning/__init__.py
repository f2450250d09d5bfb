"""Trips into one travel plan: way, findings, conditions, what was relied on."""

from travel.planning.compose import compose
from travel.planning.trips import Prepared, Trip, TripRequest, prepare, search, solve

__all__ = ["Prepared", "Trip", "TripRequest", "compose", "prepare", "search", "solve"]
