"""Configurations that one part of a rule cannot tell apart, so that the grid asks it once for all of them.

A rule sees its configurations only through :meth:`Rows.by_config` and what rests on it, and every column it looks at
there is noted. Configurations that agree in all of them get the same answer by construction: no list of what a rule
depends on has to be kept, and none can be wrong.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


class Alike:
    """Groups of configurations, and what has been looked at since they were made.

    ``group``: number of each configuration's group; ``first``: the configuration that stands for each group.
    """

    def __init__(self, group: Ints, seen: frozenset[bytes] = frozenset(), first: Ints | None = None) -> None:
        self.group = group
        self.first: Ints = np.unique(group, return_index=True)[1].astype(np.int64) if first is None else first
        self._place = self.first.reshape(-1, 1, 1)
        self._seen = seen
        self._looked: dict[bytes, NDArray[Any]] = {}

    @classmethod
    def all(cls, count: int) -> Alike:
        """Give one group of all configurations: nothing has been looked at."""
        return cls(np.zeros(count, dtype=np.int64))

    def __len__(self) -> int:
        return len(self.first)

    @property
    def config(self) -> Ints:
        """The first axis of a grid asked by groups; its values are no configuration, so that nothing can be read by
        them past :meth:`look`."""
        return np.full((len(self), 1, 1), len(self.group))

    def look(self, values: NDArray[Any]) -> NDArray[Any]:
        """Give a per-configuration column by group, along the first axis of the grid, and note that it was read."""
        key = values.tobytes()
        if key not in self._seen:
            self._looked[key] = values
        return values[self._place]

    def split(self) -> Alike | None:
        """Give the finer groups that what was looked at asks for; None where these are fine enough."""
        if not self._looked:
            return None
        columns = [self.group, *self._looked.values()]
        rows = [tuple(column[k].tobytes() for column in columns) for k in range(len(self.group))]
        number = {row: k for k, row in enumerate(dict.fromkeys(rows))}
        self._seen, self._looked = self._seen.union(self._looked), {}
        finer = np.array([number[row] for row in rows], dtype=np.int64)
        return None if len(number) == len(self) else Alike(finer, self._seen)

    def anew(self) -> Alike:
        """Give the same groups for another thread to note what it looks at."""
        return Alike(self.group, self._seen, self.first)
