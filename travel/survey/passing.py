"""Cross slope that changes where the machine goes straight on over a node of three and more roads."""

from __future__ import annotations

import numpy as np

from travel.survey.arrays import Floats
from travel.survey.onward import straight_pairs
from travel.survey.survey import Survey


def change_of_cross_slope(survey: Survey, base_m: float) -> Floats:
    """Give by piece the greatest change of cross slope over a wheelbase, also straight on past a junction.

    Windows end at nodes of three and more roads; there what lies within a wheelbase beyond counts, at the pieces that
    touch the node. Cross slope that is not known beyond is left to the pieces there.

    Args:
        survey: the site's survey
        base_m: wheelbase [m]

    Returns:
        (pieces,) [-], NaN where not known
    """
    base_m = float(base_m)
    made: Floats = survey.kept(("change", base_m), lambda: _locked(survey, base_m))
    return made


def _locked(survey: Survey, base_m: float) -> Floats:
    change = survey.cross_change(base_m)
    np.maximum(change, _passing(survey, base_m), out=change)
    change.setflags(write=False)
    return change


def _passing(survey: Survey, base_m: float) -> Floats:
    network, out = survey.network, np.zeros(len(survey.pieces))
    back, on = straight_pairs(survey)
    most, least = _leaving(survey, base_m)
    change = np.fmax(np.fmax(most[on] + most[back], -(least[on] + least[back])), 0.0)
    first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
    np.maximum.at(out, np.where(back & 1, last[back >> 1], first[back >> 1]), np.nan_to_num(change))
    return out


def _leaving(survey: Survey, base_m: float) -> tuple[Floats, Floats]:
    """Give by edge the greatest and least cross slope within a wheelbase of its tail, as the machine leaves it."""
    network, pieces = survey.network, survey.pieces
    start, stop = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop)
    link = np.repeat(np.arange(len(start)), stop - start)
    slope = survey.cross_slope_ratio
    out = [np.full(2 * len(start), np.nan) for _ in range(2)]
    ends = (
        (0, pieces.from_m < np.asarray(network.link_from_m)[link] + base_m, slope),
        (1, pieces.to_m > np.asarray(network.link_to_m)[link] - base_m, -slope),
    )
    for side, near, value in ends:
        pick = np.flatnonzero(near)
        np.fmax.at(out[0], 2 * link[pick] + side, value[pick])
        np.fmin.at(out[1], 2 * link[pick] + side, value[pick])
    return out[0], out[1]
