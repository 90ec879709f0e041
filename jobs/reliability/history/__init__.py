"""Life history: a firm's records as arrays become spells. Pure; contracts.md section 2 to the letter.

docs/mathematics-spells.md says how what that section leaves open was decided.
"""

from jobs.reliability.history.build import InCare, build_spells, positions_in_care
from jobs.reliability.history.dates import PlacedDates, place_dates
from jobs.reliability.history.records import (
    BREAKDOWN,
    KINDS,
    NO_DAY,
    NONE,
    PRECISIONS,
    WHYS,
    Appliances,
    Catalogue,
    Earlier,
    Findings,
    Fitted,
    Jobs,
    Names,
    Records,
    Visits,
)
from jobs.reliability.history.spells import CLOCKS, CLOSED_BY, OPENED_BY, Spells

__all__ = [
    "BREAKDOWN",
    "CLOCKS",
    "CLOSED_BY",
    "KINDS",
    "NONE",
    "NO_DAY",
    "OPENED_BY",
    "PRECISIONS",
    "WHYS",
    "Appliances",
    "Catalogue",
    "Earlier",
    "Findings",
    "Fitted",
    "InCare",
    "Jobs",
    "Names",
    "PlacedDates",
    "Records",
    "Spells",
    "Visits",
    "build_spells",
    "place_dates",
    "positions_in_care",
]
