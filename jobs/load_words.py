"""What a proposal for a van says in words: the whole van, what it reckoned with, and each line's state."""

from decimal import Decimal

from firm.models import Setting
from firm.words import count, money, number, per_cent


def whole_van(proposal, lines):
    """The line of the whole van: gain, cash, and in words the first-visit fix rate, its worth, room and limit."""
    found = proposal.result
    return {
        "gain": _gain(proposal),
        "cash": sum((cash for cash in map(cash_of, lines) if cash is not None), Decimal(0)),
        "words": _rate_words(found.get("first_visit_fix_rate_now"), found.get("first_visit_fix_rate")),
        "worth": _worth_words(proposal),
        "room": _room(proposal.van, found),
        "later": _later(found),
        "warnings": found.get("warnings", []),
        "method": found.get("method", ""),
    }


def _gain(proposal):
    """What the whole change saves in a year: visits saved less the cost of holding, against today's levels."""
    found, holding = proposal.result, proposal.inputs.get("holding_per_year")
    needed = [found.get(name) for name in ("worth_per_year", "worth_per_year_now", "spend", "spend_now")] + [holding]
    if None in needed:
        return None
    worth, worth_now, spend, spend_now, holding = needed
    return Decimal(str(worth - worth_now - holding * (spend - spend_now))).quantize(Decimal("0.01"))


def _rate_words(before, after):
    if after is None:
        return "No appliance in its area is known to need a part."
    was = f"{per_cent(before, 1)} now, " if before is not None else ""
    return f"Finished at the first visit: {was}{per_cent(after, 1)} as proposed."


def _later(found):
    """What the whole way to the best load would bring, where a proposal takes only some steps of it."""
    best = found.get("best")
    if not best or not found.get("waiting") or best.get("first_visit_fix_rate") is None:
        return ""
    sign = Setting.current().currency
    return (
        f"With all that pays, {count(found['waiting'], 'change')} more, it would be "
        f"{per_cent(best['first_visit_fix_rate'], 1)} with {money(best['spend'], sign, 0)} in the van."
    )


def _worth_words(proposal):
    found, sign = proposal.result, Setting.current().currency
    if found.get("worth_per_year") is None or found.get("worth_per_year_now") is None:
        return ""
    now, then = (money(found[name], sign, 0) for name in ("worth_per_year_now", "worth_per_year"))
    cash_now, cash = (money(found.get(name), sign, 0) for name in ("spend_now", "spend"))
    return f"Visits saved are worth {then} a year (now {now}) with {cash} in the van (now {cash_now})."


def _room(van, found):
    """«87 of 120 litres, 141 of 300 kg. Cash is the limit.»"""
    said = []
    for name, unit in (("litres", "litres"), ("kilograms", "kg")):
        limit = getattr(van, name)
        if found.get(name) is not None:
            said.append(f"{number(found[name], 0)}{f' of {number(limit, 0)}' if limit else ''} {unit}")
    limits = {"cash": "Cash", "budget": "Cash", "litres": "Room", "kilograms": "Weight"}
    binding = found.get("binding")
    ends = f"{limits.get(binding, binding)} is the limit." if binding else "No limit binds: more would not pay."
    return f"{', '.join(said)}. {ends}" if said else ends


INPUT_WORDS = {
    "second_visit": "A second visit costs",
    "merchant_run": "A run to the merchant costs",
    "holding_per_year": "Holding costs in a year, share of the price",
    "intervals_per_year": "Top-ups in a year",
    "max_per_part": "Most pieces of one part",
    "horizon_days": "Days ahead that count",
    "budget": "Cash limit of this van",
    "litres": "Room, litres",
    "kilograms": "Weight limit, kg",
}
MONEY = {"second_visit", "merchant_run", "budget"}
LIMITS = {"budget", "litres", "kilograms"}


def inputs_in_words(proposal):
    """(what, value) of what the proposal reckoned with."""
    currency = Setting.current().currency
    for name, label in INPUT_WORDS.items():
        value = proposal.inputs.get(name)
        if value is None:
            yield label, "no limit" if name in LIMITS else "not known"
        elif name in MONEY:
            yield label, money(value, currency)
        else:
            yield label, per_cent(value) if name == "holding_per_year" else number(value, 0)
    yield from _calm(proposal.inputs.get("damping", ...), currency)


def _calm(damping, currency):
    """How small the steps are that a proposal may take."""
    if damping is ...:
        return
    if damping is None:
        yield "Small steps", "no: everything that pays, at once"
        return
    yield "A change must gain more than", f"{money(damping['handling'], currency, 0)} a year, its handling"
    yield "A new line stays", f"{number(damping['stays_weeks'], 0)} weeks"
    most = damping["most_changes"]
    yield "Changes this week, at most", "no limit, the season turns" if most is None else str(most)


def change_chip(line, fixed):
    """(kind, sign, word) of a line's change."""
    difference = line.proposed - line.now
    if fixed:
        return ("note", "pin", f"Fixed at {fixed.level}")
    if line.accepted_at:
        return ("good", "tick", f"Accepted {line.proposed}")
    if difference > 0:
        return ("good", "up", f"Add {difference}")
    return ("care", "down", f"Take {-difference} out") if difference < 0 else ("", "same", f"Keep {line.now}")


def could_be(line):
    """«Could be 2» of a line that is left as it is because the change is not worth the bother."""
    return ("", "wait", "Could go" if line.best == 0 else f"Could be {line.best}")


def cash_of(line):
    """What the change puts into the van or takes out of it, or None where nobody knows the price."""
    return None if line.price is None else ((line.proposed - line.now) * line.price).quantize(Decimal("0.01"))


def fixed_words(fixed, line, currency):
    """«Fixed by Asha until 1 March 2027: costs about £14 a year.» Empty where nobody fixed the line."""
    if not fixed:
        return ""
    until = f" until {fixed.until:%-d %B %Y}" if fixed.until else ""
    return f"Fixed by {fixed.fixed_by or 'the office'}{until}: {_cost_words(_cost_of(fixed, line), currency)}"


def _cost_of(fixed, line):
    """What the fixed level loses in a year against the best one, or None where that was not reckoned."""
    if line is None:
        return None
    if line.cost_of_fixing is not None and fixed.since <= line.proposal.made_at:
        return line.cost_of_fixing
    best = line.proposed if line.best is None else line.best
    if fixed.level == best:
        return Decimal(0)
    return line.gain_per_year if fixed.level == line.now and not line.damped else None


def _cost_words(cost, currency):
    if cost is None:
        return "what that costs shows when it is worked out anew."
    if cost < Decimal("0.50"):
        return "costs next to nothing."
    return f"costs about {money(cost, currency, 0)} a year."
