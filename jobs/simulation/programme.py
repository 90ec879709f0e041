"""The whole table in pieces, each with its own seed: one piece comes out the same whatever else is asked for."""

from dataclasses import dataclass
from time import perf_counter

import numpy as np

from jobs.simulation.bias import measure_bias
from jobs.simulation.false_alarms import POWER_FLEETS, SIZES, measure_alarms, measure_batches
from jobs.simulation.fleets import FLEETS
from jobs.simulation.forecasts import measure_forecasts
from jobs.simulation.lives import measure_lives
from jobs.simulation.rates import measure_rates, rate_rows
from jobs.simulation.taken_over_forecasts import measure_taken_over_forecasts

EXPECTED = (2, 4, 10, 30, 100)
TAKEN_OVER = ((2, 5), (4, 5), (10, 5), (30, 20))  # expected, and of how many groups one is drawn
SERVICED = (0.0, 0.3, 0.6, 1.0)
CELLS = ("lives", "rates", "forecasts", "bias", "alarms")


@dataclass(frozen=True)
class Piece:
    """A number of the table's rows: name, and the seconds and rows once measured."""

    name: str
    number: int
    measure: object

    def run(self, seed):
        """(rows, seconds) of this piece under a seed."""
        begun = perf_counter()
        return self.measure(np.random.default_rng([seed, self.number])), perf_counter() - begun


def pieces(cells, groups) -> list[Piece]:
    """Pieces of the chosen `cells`; groups: in each cell of limits, fewer for means and firms."""
    every = [
        *(
            (f"lives: {expected} expected, past {past}", _lives(expected, groups, past))
            for expected in EXPECTED
            for past in ("known", "perhaps")
        ),
        ("rates", lambda rng: _rates(rng, 2 * groups)),
        *((f"forecasts: {expected} to come", _forecasts(expected, groups)) for expected in EXPECTED),
        *(
            (f"forecasts: {expected} to come, taken over", _taken_over(expected, max(groups // many, 10)))
            for expected, many in TAKEN_OVER
        ),
        *((f"bias: {share:.0%} on a service", _bias(share, max(groups // 10, 8))) for share in SERVICED),
        *((f"alarms: {fleet.name}", _alarms(max(groups // 50, 2), fleet)) for fleet in FLEETS),
        *(
            (f"alarms: batches of {size}, {fleet.name}", _batches(max(groups // 80, 2), fleet, size))
            for fleet in POWER_FLEETS
            for size in SIZES
        ),
    ]
    numbered = [Piece(name, number, measure) for number, (name, measure) in enumerate(every)]
    return [piece for piece in numbered if piece.name.split(":")[0] in cells]


def _lives(expected, groups, past):
    return lambda rng: measure_lives(rng, expected, groups, past=past)


def _forecasts(expected, groups):
    return lambda rng: measure_forecasts(rng, expected, groups)


def _taken_over(expected, groups):
    return lambda rng: measure_taken_over_forecasts(rng, expected, groups)


def _bias(share, groups):
    return lambda rng: measure_bias(rng, share, groups)


def _alarms(firms, fleet):
    return lambda rng: measure_alarms(rng, firms, fleet)


def _batches(firms, fleet, size):
    return lambda rng: measure_batches(rng, firms, fleet, size)


def _rates(rng, groups):
    return rate_rows({expected: measure_rates(rng, expected, groups) for expected in EXPECTED})
