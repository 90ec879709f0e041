"""What is due to fail in the next weeks, as the pages on failures show it."""

from dataclasses import dataclass

from jobs.services.forecasting import firm_forecast

WEEKS = 26


@dataclass(frozen=True)
class Due:
    """Expected failures in the next `weeks` of what is in care, with the range that holds `level` of the time."""

    expected: float
    low: int
    high: int
    in_care: float
    of_unseen_age: float
    weeks: int = WEEKS


def due_by_component(as_of):
    """{component: Due} of all component types in care."""
    return {row.component: _due(row) for row in _forecast(as_of).by_component}


def due_in_all(as_of):
    """Everything together, None where nothing is in care."""
    return next((_due(row) for row in _forecast(as_of).total if row.in_care > 0), None)


def due_by_van(component, as_of):
    """[(key of the van or "", Due)] of one component type, most first; "" where no van serves the place."""
    rows = [row for row in _forecast(as_of).rows if row.component == component]
    return [("" if row.van == "-" else row.van, _due(row)) for row in sorted(rows, key=lambda row: -row.expected)]


def _forecast(as_of):
    return firm_forecast(as_of, days=(WEEKS * 7,))


def _due(row):
    return Due(row.expected, row.low, row.high, row.in_care, row.of_unseen_age)
