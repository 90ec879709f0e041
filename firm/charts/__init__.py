"""Charts as SVG made by the server: no inline style, no script; app.css colours them for light, dark and print.

Each function gives a Chart: the picture with its title, key, description and the table behind it.
"""

from firm.charts.bars import money_by_month, months, running_share
from firm.charts.canvas import Chart, Key
from firm.charts.checks import by_appliance_age, month_factors, repairs_by_age
from firm.charts.frontier import frontier
from firm.charts.lives import added_up, failures_by_age, still_working
from firm.charts.periods import shares_by_period
from firm.charts.whiskers import Whiskers

__all__ = [
    "Chart",
    "Key",
    "Whiskers",
    "added_up",
    "by_appliance_age",
    "failures_by_age",
    "frontier",
    "money_by_month",
    "month_factors",
    "months",
    "repairs_by_age",
    "running_share",
    "shares_by_period",
    "still_working",
]
