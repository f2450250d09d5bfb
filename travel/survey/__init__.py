"""The site cut into pieces, one column a quantity: network, heights, features beside and over the road."""

from travel.survey.amendments import lay_on
from travel.survey.onward import Onward, onward_over, past_ends, ways_onward
from travel.survey.passing import change_of_cross_slope
from travel.survey.records import Network, Pairs, Pieces, Tolerance, Windowed
from travel.survey.survey import Survey, build_survey

__all__ = [
    "Network",
    "Onward",
    "Pairs",
    "Pieces",
    "Survey",
    "Tolerance",
    "Windowed",
    "build_survey",
    "change_of_cross_slope",
    "lay_on",
    "onward_over",
    "past_ends",
    "ways_onward",
]
