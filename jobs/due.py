"""What is due to fail in the next weeks and months, as the pages on failures show it."""

from dataclasses import dataclass

from jobs.services.forecasting import DAYS, firm_forecast

WEEKS = 26
NO_VAN = "-"


@dataclass(frozen=True)
class Due:
    """Expected failures in the next `weeks` of what is in care, with the range that holds `level` of the time."""

    expected: float
    low: int
    high: int
    in_care: float
    of_unseen_age: float
    weeks: int = WEEKS


def due_by_component(as_of, **assumed):
    """{component: Due} of all component types in care. assumed: as firm_forecast takes them."""
    return {row.component: _due(row) for row in _forecast(as_of, assumed).by_component}


def due_in_all(as_of, **assumed):
    """Everything together, None where nothing is in care."""
    return next((_due(row) for row in _forecast(as_of, assumed).total if row.in_care > 0), None)


def due_soon(component, as_of, **assumed):
    """[(key of the van, "" where no van serves the place, None for all; rows of DAYS)], all first, then most first.

    The rows are those of the page and the API of what will fail next; vans of which hardly any fails are left out.
    """
    found = firm_forecast(as_of, **assumed)
    whole = [row for row in found.by_component if row.component == component]
    vans = {}
    for row in found.rows:
        if row.component == component:
            vans.setdefault("" if row.van == NO_VAN else row.van, []).append(row)
    by_van = sorted(vans.items(), key=lambda pair: -pair[1][-1].expected)
    return [(None, whole), *((van, rows) for van, rows in by_van if rows[-1].expected >= 0.1)] if whole else []


def _forecast(as_of, assumed):
    return firm_forecast(as_of, days=(WEEKS * 7,), **assumed)


def _due(row):
    return Due(row.expected, row.low, row.high, row.in_care, row.of_unseen_age)


__all__ = ["DAYS", "WEEKS", "Due", "due_by_component", "due_in_all", "due_soon"]
