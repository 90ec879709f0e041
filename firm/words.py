"""Numbers in words for the screen: never NaN, None or null on a page."""

import math
from decimal import ROUND_HALF_UP, Decimal

SIGNS = {"GBP": "£", "EUR": "€", "USD": "$"}
UNKNOWN = "not known"


def known(value):
    """Whether there is a number at all: neither empty nor NaN nor endless."""
    return value is not None and value != "" and math.isfinite(value)


def money(amount, currency="GBP", places=2):
    """£1,234.50, −£3.00 with a true minus, or «not known»; never nil for what is unknown."""
    if not known(amount):
        return UNKNOWN
    amount = Decimal(str(amount)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    sign = SIGNS.get(currency, f"{currency} ")
    return f"{'−' if amount < 0 else ''}{sign}{abs(amount):,.{places}f}"


def number(value, places=1):
    """1,234.5 with thousands and a true minus; a whole number keeps no needless zeros when places is None."""
    if not known(value):
        return UNKNOWN
    if places is None:
        text = f"{Decimal(str(value)).normalize():,f}"
    else:
        text = f"{value:,.{places}f}"
    return text.replace("-", "−") if text.strip("-0.,") else text.lstrip("-")


LONG = 1000  # years: what lasts longer is not told apart


def years(value):
    """15.7 years, one place below twenty and none above; over 1,000 years is all that is said of what lasts longer."""
    if known(value) and value > LONG:
        return f"over {number(LONG, 0)} years"
    return f"{number(value, 1 if value < 20 else 0)} years" if known(value) else UNKNOWN


def between(low, high, show=number):
    """12.5 to 19.8; over 11.3 where there is no upper end; up to 9 where there is no lower."""
    if known(low) and known(high):
        return f"{show(low)} to {show(high)}"
    if known(low):
        return f"over {show(low)}"
    return f"up to {show(high)}" if known(high) else "range not known"


def span_of_years(low, high):
    """The ends of a range of years as they are told: an end beyond a thousand years is none."""
    return (low if known(low) and low <= LONG else LONG if known(low) else None), (
        high if known(high) and high <= LONG else None
    )


def day(on):
    """25 Nov 2026, never broken over two lines."""
    return f"{on:%-d %b %Y}".replace(" ", "\u00a0")


def per_cent(share, places=0):
    return f"{number(share * 100, places)}%" if known(share) else UNKNOWN


def count(how_many, noun, plural=None):
    """1 pump, 2 pumps, no pumps."""
    many = plural or f"{noun}s"
    if how_many == 0:
        return f"no {many}"
    return f"{number(how_many, None)} {noun if how_many == 1 else many}"


def likely(low, high, show=number):
    """likely between 2.9 and 4.9, or likely over 11.3."""
    if known(low) and known(high):
        return f"likely between {show(low)} and {show(high)}"
    return f"likely {between(low, high, show)}" if known(low) or known(high) else UNKNOWN


def plural(word):
    """pumps, batteries, switches, vessels (heating), valves of a cistern; what ends in s stays."""
    for after in (" (", " of ", " with "):
        head, found, tail = word.partition(after)
        if found:
            return f"{plural(head)}{after}{tail}"
    if word.endswith("s"):
        return word
    if word.endswith(("ch", "sh", "x")):
        return f"{word}es"
    return f"{word[:-1]}ies" if word.endswith(("ty", "ry", "ly")) else f"{word}s"
