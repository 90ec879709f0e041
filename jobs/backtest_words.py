"""What a back-test found and what it assumed, in plain words: also where the simple rule does better."""

from collections import defaultdict

from firm.models import Setting
from firm.words import known, likely, money, number, per_cent

WAYS = {"proposal": "proposal", "rule": "simple rule", "fact": "as it was"}
STATES = {
    "done": ("good", "tick", "Done"),
    "running": ("note", "wait", "Running"),
    "stopped": ("care", "warn", "Stopped, run again"),
    "failed": ("bad", "cross", "Ended without result"),
}
OTHERS = {"against_rule": "the simple rule", "against_fact": "the vans as they were"}


def verdict(found):
    """One sentence for the head of the page."""
    if not found["jobs"]:
        return "In these days no job needed a part, so there is nothing to compare."
    return " ".join(_against(found[name], OTHERS[name]) for name in ("against_rule", "against_fact"))


def _against(gain, other):
    points = f"{number(abs(gain['points']))} points of first visits"
    if gain["low"] > 0:
        return f"The proposal finishes {points} more than {other}."
    if gain["high"] < 0:
        return f"{other[:1].upper()}{other[1:]} would have finished {points} more than the proposal."
    lean = "ahead" if gain["points"] > 0 else "behind"
    apart = f"the proposal is {points} {lean}, which may be chance" if gain["points"] else "not a job apart"
    return f"Against {other} there is no clear difference: {apart}."


def gain_words(found, name, currency):
    """Points, jobs and money of one comparison, each with its likely range."""
    gain = found[name]

    def row(label, value, low, high, show):
        return {"label": label, "value": show(value), "range": likely(low, high, show)}

    def cash(amount):
        return money(amount, currency, 0)

    jobs = [gain[end] * gain["jobs"] / 100 for end in ("low", "high")]
    rows = [
        row("Points of first-visit fix rate", gain["points"], gain["low"], gain["high"], _signed),
        row("More jobs finished with what was on board", gain["visits"], *jobs, lambda n: _signed(n, 0)),
        row("Saved in visits and runs", gain["money"], gain.get("money_low"), gain.get("money_high"), cash),
    ]
    return {"other": OTHERS[name], "rows": rows, "chip": gain_chip(gain), "words": _against(gain, OTHERS[name])}


def holding_words(test, currency):
    """(why, the sum) of what the proposal saves or costs in holding beside today's vans, over the days replayed.

    None where that cannot be reckoned: nothing known of today's vans, or no job to weigh it against.
    """
    found, inputs = test.result, test.inputs
    today, share = found.get("cash_today"), inputs.get("holding_per_year")
    if not (known(today) and known(share) and inputs.get("vans") and found["jobs"]):
        return None
    years = ((test.last - test.first).days + 1) / 365.25
    saved = (today - found["cash"]) * len(inputs["vans"]) * share * years
    net = found["against_fact"]["money"] + saved
    why = (
        f"The vans hold {money(today, currency, 0)} each today, against {money(found['cash'], currency, 0)} in the "
        f"proposal: over these days holding costs {money(abs(saved), currency, 0)} {'less' if saved >= 0 else 'more'}. "
        "What they held at the time is not in the book, so this takes today’s worth for it."
    )
    ahead = "ahead of" if net >= 0 else "behind"
    total = (
        f"Visits, runs and holding together, the proposal comes out {money(abs(net), currency, 0)} {ahead} the vans "
        "as they were."
    )
    return why, total


def _signed(value, places=1):
    return f"{'+' if value > 0 else ''}{number(value, places)}"


def gain_chip(gain):
    if gain["low"] > 0:
        return ("good", "up", "Proposal ahead")
    return ("care", "down", "Proposal behind") if gain["high"] < 0 else ("", "same", "No clear difference")


INPUT_WORDS = {
    "second_visit": "A second visit costs",
    "merchant_run": "A run to the merchant costs",
    "holding_per_year": "Holding costs in a year, share of the price",
    "restock_days": "Days between two top-ups",
    "max_per_part": "Most pieces of one part",
    "window_days": "Days of one period",
}


def inputs_in_words(inputs):
    """[(what, value)] of what it reckoned with."""
    currency, said = Setting.current().currency, []
    for name, label in INPUT_WORDS.items():
        value = inputs.get(name)
        if not known(value):
            continue
        shown = money(value, currency) if name in {"second_visit", "merchant_run"} else number(value, None)
        said.append((label, per_cent(value) if name == "holding_per_year" else shown))
    alike = defaultdict(list)
    for van in inputs.get("vans", []):
        alike[_limits(van, currency)].append(van["van"])
    return said + [(f"Limits of {', '.join(vans)}", limits) for limits, vans in alike.items()]


def _limits(van, currency):
    limits = [f"{number(van[name], 0)} {unit}" for name, unit in ROOM.items() if name in van]
    limits += [f"cash {money(van['budget'], currency, 0)}"] if "budget" in van else []
    return ", ".join(limits) or "none"


ROOM = {"litres": "litres", "kilograms": "kg"}
CARE = {
    "perhaps": "a part that was there before care may have been changed before",
    "first": "a part that was there before care was the first",
    "unknown": "nothing is assumed of what was there before care",
}
SILENCE = {
    "model": "a silent customer counts with the chance of being still in care",
    "window": "a silent customer has left after the care window",
}


def assumptions(inputs):
    """The rules of the replay, one sentence each."""
    lives = [CARE.get(inputs.get("before_care")), SILENCE.get(inputs.get("silence"))]
    told = [
        f"On the first day of each period ({inputs.get('window_days', 90)} days) nothing later is known: neither "
        "failures nor customers nor prices. Each van’s load is proposed from that.",
        "Then the jobs that really came are replayed in their order on the day of their first visit, in the van that "
        "went. A job is finished when one way to do it is wholly on board. The van is topped up to its levels on the "
        "firm’s restock days.",
        "A job that lacks a part costs a run to the merchant where one has it the same day, else a second visit.",
        "What a job needed is what was fitted because it failed, or was written down as missing, up to sixty days "
        "after the last day.",
        "The simple rule: own use last year for each pound, then the whole firm’s use, until the cash of the proposal "
        "is spent, within the same room.",
        "As it was: whether the first visit was in fact finished with what was in the van that day. A part bought at "
        "the counter on the way, or fetched from another place, was not on board.",
        "Jobs whose first visit ended with a price for the customer to agree are left out: no load finishes those "
        "then. A visit on which nobody was in is no first visit.",
        f"The likely range comes from drawing whole weeks again, 2,000 times (seed {inputs.get('seed', 1)}); nine "
        "times in ten it holds the true difference.",
        "The proposal here is free to change every line each period; levels that are fixed today count as fixed then.",
    ]
    if any(lives):
        told.append(f"In the lives behind it, {'; '.join(each for each in lives if each)}.")
    return told
