"""The site cut into pieces, one column a quantity: network, heights, features beside and over the road."""

from travel.survey.amendments import lay_on
from travel.survey.records import Network, Pairs, Pieces, Tolerance, Windowed
from travel.survey.survey import Survey, build_survey

__all__ = ["Network", "Pairs", "Pieces", "Survey", "Tolerance", "Windowed", "build_survey", "lay_on"]
