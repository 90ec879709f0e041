"""The reason for one line of a load in plain words, from the numbers that decided it."""

from dataclasses import dataclass

NUMBER_WORDS = ("none", "one", "two", "three", "four", "five", "six")
ORDINALS = ("one", "a second", "a third", "a fourth", "a fifth", "a sixth")


@dataclass(frozen=True)
class Window:
    """What the words count over. words: 'this winter (26 weeks)'. intervals: restocks in it."""

    words: str
    intervals: float

    @classmethod
    def year(cls, intervals_per_year):
        return cls(f"a year ({intervals_per_year:g} restocks)", intervals_per_year)


@dataclass(frozen=True)
class Numbers:
    """Everything that the words of one line say, over the window.

    wanted: expected jobs that could take the part, with low and high of the 90 % range from one rate for the whole
    window. in_area: such components there. saves, saves_money: what the pieces on board save, against none.
    next_*: what one more would save, cost, and with which other parts. holding: of one more, over the window.
    barred: why one more is not carried although it would pay: a limit's name, 'most', 'fixed', 'later', or empty.
    only: no other part would do for those jobs.
    """

    part: str
    level: int
    now: int | None
    wanted: float
    low: int
    high: int
    in_area: float
    saves: float
    saves_money: float
    next_saves: float | None
    next_money: float
    next_cost: float
    next_with: str
    holding: float
    barred: str
    fixed: tuple[int, int] | None
    only: bool = True


def reason(n: Numbers, window: Window, currency="£") -> str:
    """Two or three sentences: what to do, how many are wanted, what it saves, why not one more."""
    said = [f"{_what_to_do(n)}: {_wanted(n, window)}"]
    if n.level:
        boards = f"{_count(n.level)} on board {'saves' if n.level == 1 else 'save'}"
        said[0] += f"; {boards} {_about(n.saves)} second visits, {_money(n.saves_money, currency)}"
    said[0] += "."
    if n.next_saves is not None:
        said.append(_one_more(n, currency))
    if n.fixed:
        least, most = n.fixed
        said.append(f"Fixed at {least}." if least == most else f"Fixed between {least} and {most}.")
    return " ".join(said)


def _what_to_do(n):
    if n.now is None or n.now == n.level:
        return f"Carry {n.level}" if n.level else "Do not carry"
    if n.level == 0:
        return f"Take off all {n.now}" if n.now > 1 else "Take it off"
    if n.now < n.level:
        return f"Carry {n.level}, {n.level - n.now} more than now"
    return f"Carry {n.level}, {n.now - n.level} fewer than now"


def _wanted(n, window):
    if n.wanted <= 0:
        return "no job in this area needs it"
    area = f" on about {n.in_area:,.0f} in this area" if n.in_area >= 1 else ""
    verb = "are needed" if n.only else "could be used"
    return f"{_about(n.wanted)} of these {verb} in {window.words}{area} (range {n.low}–{n.high})"


def _one_more(n, currency):
    ordinal = ORDINALS[n.level] if n.level < len(ORDINALS) else "one more"
    if n.next_saves < 5e-4:
        return f"{_capital(ordinal)} would save {'next to ' if n.next_saves > 1e-9 else ''}nothing."
    saving = f"would save {_few(n.next_saves)} ({_money(n.next_money, currency)})"
    companions = f", with {n.next_with}," if n.next_with else ""
    return f"{_capital(ordinal)}{companions} {saving} for {_money(n.next_cost, currency)}: {_verdict(n, currency)}."


def _verdict(n, currency):
    if n.barred == "later":
        return "it would pay"
    if n.next_money <= n.holding:
        return f"not worth it, holding it costs {_money(n.holding, currency)} over that time"
    return {
        "cash": "it would pay, but the cash does more elsewhere",
        "litres": "it would pay, but the room (litres) does more elsewhere",
        "kilograms": "it would pay, but the weight (kilograms) does more elsewhere",
        "most": "no more, by the rule of the most per part",
        "fixed": "no more, because the level is fixed",
    }.get(n.barred, "not worth it beside what is on board")


def _count(n):
    return NUMBER_WORDS[n] if n < len(NUMBER_WORDS) else str(n)


def _about(x):
    return f"about {_few(x)}" if x >= 0.0095 else _few(x)


def _few(x):
    if x >= 9.95:
        return f"{x:,.0f}"
    return f"{x:.1f}" if x >= 0.095 else f"{x:.2f}" if x >= 0.0095 else "less than 0.01"


def _money(x, currency):
    return f"{currency}{x:,.0f}" if x >= 9.995 else f"{currency}{x:.2f}"


def _capital(words):
    return words[0].upper() + words[1:]
