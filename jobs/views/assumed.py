"""What the address of a page assumes about the time before care and the care window, kept by the links of the page."""

from dataclasses import dataclass
from math import isfinite
from urllib.parse import urlencode

from firm.models import Setting
from firm.words import number
from jobs import history, lives
from jobs.failure_words import BEFORE_CARE, BEFORE_CARE_SHORT

LONGEST_WINDOW = 12_000  # months, as the API has it


@dataclass(frozen=True)
class Assumed:
    """care_window: months, None for the firm's own."""

    before_care: str = lives.BEFORE_CARE
    care_window: float | None = None

    @property
    def parts(self):
        """As firm_forecast takes them."""
        return {"before_care": self.before_care, "care_window": self.care_window}

    @property
    def query(self):
        """What a link to another page of the same figures ends with: nothing for what is usual."""
        asked = {"before_care": self.before_care} if self.before_care != lives.BEFORE_CARE else {}
        if self.care_window is not None:
            asked["care_window"] = f"{self.care_window:g}"
        return f"?{urlencode(asked)}" if asked else ""

    @property
    def words(self):
        """The assumption in a sentence or two."""
        if self.care_window is None:
            return BEFORE_CARE[self.before_care]
        return f"{BEFORE_CARE[self.before_care]} The care window is {number(self.care_window, None)} months here."


def asked_assumption(request) -> Assumed:
    """What the address asks for, or what is usual where it asks for nothing that can be had."""
    before_care, window = request.GET.get("before_care", ""), _months(request.GET.get("care_window", ""))
    if window == Setting.current().care_window_months:
        window = None
    return Assumed(before_care if before_care in history.BEFORE_CARE else lives.BEFORE_CARE, window)


def _months(text):
    try:
        months = float(text)
    except ValueError:
        return None
    return months if isfinite(months) and 0 < months < LONGEST_WINDOW else None


def shown_assumption(assumed: Assumed):
    """What the templates show of it: in words, and the links to the other answers, the usual first."""
    own = float(Setting.current().care_window_months)
    window = own if assumed.care_window is None else assumed.care_window
    return {
        "before_care": assumed.before_care,
        "kept": assumed.query,
        "assumption": assumed.words,
        "unusual": bool(assumed.query),
        "before_here": BEFORE_CARE_SHORT[assumed.before_care],
        "befores": [
            (word if word != lives.BEFORE_CARE else None, BEFORE_CARE_SHORT[word])
            for word in history.BEFORE_CARE
            if word != assumed.before_care
        ],
        "window_here": f"{number(window, None)} months",
        "windows": [
            (f"{months:g}" if months != own else None, f"{number(months, None)} months")
            for months in (own, own / 2, own * 2)
            if months != window
        ],
    }
