"""How long components live: the share still working at each age, failures added up with age, and at each age."""

from firm.charts.canvas import Canvas, Chart, Key, nice_ticks
from firm.words import between, known, likely, number, per_cent, plural

HUNDREDTHS = [0, 0.25, 0.5, 0.75, 1]


def still_working(name, noun, curve, steps, marks, watched_to=0, *, level):
    """Share still working by age.

    curve: (age, share, low, high) of the fitted life, or empty; steps: (age, share, low, high) as counted;
    marks: (age, share, words) to point out; watched_to: up to which age was counted. Ages in years, shares 0 to 1.
    """
    last = max([watched_to if steps else 0, *(age for age, *_ in [*curve, *steps])]) or 10
    canvas = Canvas((0, max(nice_ticks(0, last))), (0, 1))
    canvas.axes(nice_ticks(0, last), HUNDREDTHS, _whole, lambda v: f"{v:.0%}", f"age of the {noun}, years")
    banded = curve and all(known(low) and known(high) for _, _, low, high in curve)
    if banded:
        canvas.path([(a, h) for a, _, _, h in curve], "band", close=[(a, low) for a, _, low, _ in reversed(curve)])
    if steps:
        canvas.path(_staircase(steps, watched_to), "line seen", step=True)
    if curve:
        canvas.path([(a, s) for a, s, *_ in curve], "line")
    for age, share, words in marks:
        _point_out(canvas, age, share, words)
    rows = _yearly(curve) or [tuple(step) for step in steps]
    for age, share, low, high in rows:
        said = f" ({likely(low, high, _tenths)})" if known(low) else ""
        canvas.at(age, share, f"Age {_age(age)}: {per_cent(share, 1)} still working{said}")
    title = f"Share of {plural(noun)} still working by age"
    description = ". ".join(f"{words}" for _, _, words in marks) or f"Drawn from {len(steps)} ages of failure."
    key = [Key("line", "fitted life")] if curve else []
    key += [Key("band", f"likely between ({level:.0%})")] if banded else []
    key += [Key("seen", "plain count, age by age")] if steps else []
    return Chart(
        name,
        "Still working at each age",
        f"share of all {plural(noun)}",
        canvas.svg(name, title, description),
        ["Age, years", "Still working", f"Likely between ({level:.0%})"],
        [[_age(age), per_cent(share), between(low, high, per_cent)] for age, share, low, high in rows],
        key,
        "The numbers behind the life curve",
    )


def added_up(name, noun, steps, curve, watched_to, *, level):
    """Failures added up with age (the cumulative hazard).

    steps: (age, at risk, failures a place, low, high) as counted up to the age watched_to; curve: (age, failures a
    place) of the fitted life.
    """
    last = max([watched_to, *(age for age, *_ in [*steps, *curve])])
    inside = [sum_ for _, sum_ in curve] + [sum_ for _, _, sum_, *_ in steps]
    usual = max([*inside, *(min(high, 2 * sum_) for _, _, sum_, _, high in steps), 0.05])
    ticks = nice_ticks(0, usual, 4)
    canvas = Canvas((0, max(nice_ticks(0, last))), (0, max(ticks)))
    canvas.axes(nice_ticks(0, last), ticks, _whole, _whole, f"age of the {noun}, years")
    lows, highs = ([(row[0], min(row[place], max(ticks))) for row in steps] for place in (3, 4))
    end = [(last, steps[-1][2])] if steps else []
    canvas.path(_corners(highs, last), "band", close=_corners(lows, last)[::-1])
    canvas.path([(0, 0), *[(age, sum_) for age, _, sum_, *_ in steps], *end] if steps else [], "line seen", step=True)
    canvas.path(curve, "line")
    if steps and watched_to <= steps[-1][0]:  # the band of the last count has no width
        _whisker(canvas, steps[-1][0], *steps[-1][2:], max(ticks))
    for age, at_risk, sum_, low, high in thinned(steps):
        canvas.at(
            age, sum_, f"Age {_age(age)}: {number(sum_, 2)} failures a place ({likely(low, high, _hundredths)}), "
            f"{number(at_risk)} under watch",
        )  # fmt: skip
    told = f"{number(steps[-1][2], 2)} by age {_age(steps[-1][0])} as counted." if steps else "Nothing counted."
    key = [Key("line", "fitted life")] if curve else []
    return Chart(
        name,
        "Failures added up with age",
        f"of one place whose {noun} is mended each time and goes on ageing",
        canvas.svg(name, f"Failures of {plural(noun)}, added up with age", told),
        ["Age, years", "Under watch", "Failures a place", f"Likely between ({level:.0%})"],
        [
            [number(age, 2), number(at_risk), number(sum_, 2), between(low, high, _hundredths)]
            for age, at_risk, sum_, low, high in thinned(steps)
        ],
        [*key, Key("seen", "plain count"), Key("band", f"its likely range ({level:.0%})")],
        "The numbers behind the failures added up",
    )


def thinned(rows, most=25):
    """About twenty of many rows, the last among them."""
    return list(rows) if len(rows) <= most else [*rows[:: len(rows) // 20], rows[-1]]


def _corners(points, last):
    """The corners of a staircase, on to the age `last`."""
    if not points:
        return []
    ages = [age for age, _ in points[1:]] + [max(last, points[-1][0])]
    return [corner for (age, y), next_ in zip(points, ages, strict=True) for corner in ((age, y), (next_, y))]


def failures_by_age(name, noun, bands, curve, *, level):
    """Failures a year of a hundred pieces, by age.

    bands: (from, to, rate, low, high, failures, exposure), rates a year; curve: (age, rate) of the fitted life.
    """
    seen = [band for band in bands if band[6] > 0]
    last = max([band[1] for band in seen], default=10)
    top = _top(seen, curve)
    canvas = Canvas((0, max(nice_ticks(0, last))), (0, top))
    canvas.axes(
        nice_ticks(0, last), nice_ticks(0, top, 4), _whole, lambda v: number(v * 100, None), f"age of the {noun}, years"
    )
    canvas.path([(a, h) for a, h in curve if h <= top and a <= last], "line")
    for band in seen:
        _band(canvas, band, top)
    title = f"Failures a year of a hundred {plural(noun)}, by age"
    worst = max(seen, key=lambda band: band[2], default=None)
    description = (
        f"Highest from age {worst[0]:g} to {worst[1]:g}: {worst[2] * 100:.1f} in a hundred a year." if worst else ""
    )
    key = [Key("line", "fitted life")] if curve else []
    key.append(Key("raw", f"plain count, likely range ({level:.0%})"))
    table = [
        [f"{a:g} to {b:g}", number(n, None), number(t), number(r * 100), between(lo * 100, hi * 100)]
        for a, b, r, lo, hi, n, t in seen
    ]
    return Chart(
        name,
        "Failures at each age",
        f"in a year, of a hundred {plural(noun)} that old",
        canvas.svg(name, title, description),
        ["Age", "Failed", "Years in care", "Of 100 a year", f"Likely between ({level:.0%})"],
        table,
        key,
        "The numbers behind the failures by age",
    )


def _top(bands, curve):
    """High enough for the rates, not for every whisker: those get an arrow."""
    rates = [band[2] for band in bands]
    highs = sorted(band[4] for band in bands)
    usual = highs[len(highs) // 2] if highs else 0
    most = max([*rates, usual, *(h for a, h in curve if bands and a <= bands[-1][1])], default=0.1)
    return max(nice_ticks(0, min(max(most, 0.01), 3 * max([*rates, usual, 0.01])), 4))


def _band(canvas, band, top):
    start, end, rate, low, high, failed, years = band
    _whisker(canvas, (start + end) / 2, rate, low, high, top)
    canvas.at(
        (start + end) / 2,
        min(rate, top),
        f"Age {start:g} to {end:g}: {number(failed, None)} failed in {number(years)} years of use; "
        f"{number(rate * 100)} in a hundred a year ({between(low * 100, high * 100)})",
    )


def _whisker(canvas, at, value, low, high, top):
    """A count with its range; one that leaves the frame ends in an arrow."""
    x, y1, y2 = canvas.x(at), canvas.y(min(low, top)), canvas.y(min(high, top))
    canvas.line(x, y1, x, y2, "whisk raw")
    canvas.line(x - 4, y1, x + 4, y1, "whisk raw")
    if high <= top:
        canvas.line(x - 4, y2, x + 4, y2, "whisk raw")
    else:
        canvas.add("path", css="whisk raw", fill="none", d=f"M{x - 4} {y2 + 6}L{x} {y2}L{x + 4} {y2 + 6}")
    canvas.add("circle", css="dot raw", r=4, cx=x, cy=canvas.y(min(value, top)))


def _point_out(canvas, age, share, words):
    if not canvas.x_range[0] <= age <= canvas.x_range[1]:
        return
    x, y = canvas.x(age), canvas.y(share)
    canvas.line(x, y, x, canvas.bottom, "ref")
    canvas.add("circle", css="dot here", r=4.5, cx=x, cy=y)
    room = x + 9 + 6.3 * len(words) < canvas.right + 10
    canvas.text(x + 9 if room else x - 9, y - 6 if room else y + 16, words, "t-strong" if room else "t-strong t-end")


def _staircase(steps, watched_to):
    start = [(0, 1.0)] if steps[0][1] > 0.5 else []
    end = [(watched_to, steps[-1][1])] if watched_to > steps[-1][0] else []
    return [*start, *[(age, share) for age, share, *_ in steps], *end]


def _yearly(curve):
    """The rows of the curve at whole years, every second one beyond twenty."""
    whole = [row for row in curve if abs(row[0] - round(row[0])) < 1e-6]
    return [(round(a), s, lo, hi) for a, s, lo, hi in (whole if len(whole) <= 21 else whole[::2])]


def _whole(value):
    return f"{value:g}"


def _age(age):
    return number(age, None if age == int(age) else 1)


def _hundredths(value):
    return number(value, 2)


def _tenths(share):
    return per_cent(share, 1)
