"""Trips into one travel plan: way, findings, conditions, what was relied on."""

from travel.planning.compose import compose
from travel.planning.trips import Trip, TripRequest, solve

__all__ = ["Trip", "TripRequest", "compose", "solve"]
