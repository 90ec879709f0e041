"""What alarms watch: stretches of component positions, at each age that they may have, and the lives of their kinds."""

from dataclasses import dataclass

import numpy as np

Array = np.ndarray
ANY, UNKNOWN = -1, -2
NO_MONTH = -1_000_000  # months count from January 1970, and earlier ones are negative


@dataclass(frozen=True)
class Pieces:
    """Watched stretches of component positions (n,), as life history gives them.

    kind: component type; part, supplier: of what stands there since a renewal in care, UNKNOWN where no record tells,
    ANY where it was there before; model: of the appliance; opened, closed, fitted: days; failed; in_place: still there
    on the day of analysis.
    """

    kind: Array
    part: Array
    supplier: Array
    model: Array
    opened: Array
    closed: Array
    fitted: Array
    failed: Array
    in_place: Array


@dataclass(frozen=True)
class Stretches:
    """The same at each age that they may have had (m,): which piece, entry and exit as ages, failed, weight."""

    piece: Array
    entry: Array
    exit: Array
    failed: Array
    weight: Array

    def of(self, rows) -> "Stretches":
        return Stretches(*(column[rows] for column in vars(self).values()))


@dataclass(frozen=True)
class Lives:
    """shape, scale: of each kind (kinds,); season: month factors (kinds, 12), January first."""

    shape: Array
    scale: Array
    season: Array

    def passed(self, kind, age):
        """Failures to be expected up to an age."""
        return (age / self.scale[kind]) ** self.shape[kind]
