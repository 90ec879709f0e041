"""The figures that most pages show, reckoned ahead of those who will ask for them."""

from collections.abc import Callable
from datetime import date

from jobs import checks, due, failures, lives
from jobs.services.alarms import firm_alarms
from jobs.services.forecasting import firm_forecast
from jobs.services.positions_ahead import positions_ahead

USUAL: tuple[Callable[[date], object], ...] = (  # the most seen first
    firm_alarms,
    failures.fleet,
    due.due_by_component,
    firm_forecast,
    positions_ahead,
    checks.month_factors_of,
    lives.sensitivity,
    *(lambda as_of, by=by: failures.grouped_counts(as_of, f"component,{by}") for by in ("model", "maker", "supplier")),
    lambda as_of: lives.report(as_of, by="component,model"),
)


def reckon_usual(as_of: date) -> None:
    """Each is kept where it stands already on the newest records."""
    for figures in USUAL:
        figures(as_of)
