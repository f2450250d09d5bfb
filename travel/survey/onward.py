"""Where the machine goes on over a node of three and more roads: which chain follows on which."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.survey.arrays import Bools, Ints, expand
from travel.survey.corners import CORNER_RAD, edge_headings, pairs_of_edges
from travel.survey.survey import Survey


@dataclass(frozen=True, eq=False, kw_only=True)
class Onward:
    """Ends of chains (``far``: the chain's high end) and the chain that goes on from each, entered at its high end
    (``to_far``) or its low one."""

    chain: Ints
    far: Bools
    to_chain: Ints
    to_far: Bools

    def __len__(self) -> int:
        return len(self.chain)

    def some(self, which: Ints | Bools) -> Onward:
        """Give some of the ways."""
        return Onward(
            chain=self.chain[which], far=self.far[which], to_chain=self.to_chain[which], to_far=self.to_far[which]
        )


def straight_pairs(survey: Survey) -> tuple[Ints, Ints]:
    """Give the pairs of edges (one back, one on) that lead straight on over a node of three and more roads."""
    back, on, angle = pairs_of_edges(survey, edge_headings(survey))
    straight = np.abs(angle) < CORNER_RAD
    return back[straight], on[straight]


def ways_onward(survey: Survey) -> Onward:
    """Give the chains that go straight on past the ends of others, once."""
    made: Onward = survey.kept(("onward",), lambda: onward_over(survey, *straight_pairs(survey)))
    return made


def onward_over(survey: Survey, back: Ints, on: Ints) -> Onward:
    """Give the ways from edges back to others on, both of which leave a node of three and more roads."""
    (chain, far), (to_chain, to_far) = (_ends(survey, edge) for edge in (back, on))
    return Onward(chain=chain, far=far, to_chain=to_chain, to_far=to_far)


def _ends(survey: Survey, edge: Ints) -> tuple[Ints, Bools]:
    """Give the chain that edges leave their tail on, and whether at its high end."""
    chains, link = survey.fabric.chains, edge >> 1
    return chains.chain[link], np.asarray(((edge & 1) == 0) != (chains.sign[link] > 0))


def past_ends(survey: Survey, piece: Ints, reach_m: float, onward: Onward) -> tuple[Ints, Ints]:
    """Give the pieces that reach past the end of their chain on to another, and by which way, sorted.

    Args:
        survey: the site's survey
        piece: pieces, (p,)
        reach_m: how far beyond its cell each looks
        onward: the ways

    Returns:
        rows of ``piece`` and of ``onward``; a row once for each way
    """
    of, course = survey.pieces, survey.fabric.course
    order = np.argsort(of.chain[piece], kind="stable")
    start, stop = (np.searchsorted(of.chain[piece][order], onward.chain, side) for side in ("left", "right"))
    way, place = expand(start, stop - start)
    row = order[place]
    after = course.high[onward.chain[way]] - of.cell_to_m[piece[row]]
    before = of.cell_from_m[piece[row]] - course.low[onward.chain[way]]
    near = np.flatnonzero(np.where(onward.far[way], after, before) < reach_m)
    near = near[np.lexsort((way[near], row[near]))]
    return row[near], way[near]
