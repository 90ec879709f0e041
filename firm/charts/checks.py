"""What was seen against what the fitted life expects, repeated failures of one place, and the seasons."""

from firm.charts.canvas import Canvas, Chart, Key, nice_ticks
from firm.charts.lives import thinned
from firm.words import between, known, number, plural

LETTERS = "JFMAMJJASOND"


def by_appliance_age(name, noun, bands):
    """Failures by the age of the appliance. bands: (from, to, failed, expected, low, high), the range of the failed."""
    top = max(nice_ticks(0, max([4, *(max(band[2], band[3], min(band[5], 3 * band[2] + 6)) for band in bands)]), 4))
    last = max([band[1] for band in bands], default=10)
    canvas = Canvas((0, max(nice_ticks(0, last))), (0, top))
    canvas.axes(nice_ticks(0, last), nice_ticks(0, top, 4), _whole, _whole, "age of the appliance, years")
    for start, end, failed, expected, low, high in bands:
        middle = (start + end) / 2
        _range(canvas, middle - 0.25, low, min(high, top), failed)
        _diamond(canvas, middle + 0.25, expected)
        canvas.at(
            middle, failed, f"Appliances {start:g} to {end:g} years old: {number(failed, None)} failed, "
            f"{number(expected)} expected",
        )  # fmt: skip
    seen, wanted = sum(band[2] for band in bands), sum(band[3] for band in bands)
    return Chart(
        name,
        "By the age of the appliance",
        f"failures of {plural(noun)}, seen and expected",
        canvas.svg(
            name, f"Failures of {plural(noun)} by the age of the appliance",
            f"{number(seen, None)} failed, {number(wanted)} expected by the fitted life.",
        ),
        ["Age of the appliance", "Failed", "Expected", "Chance leaves (90%)"],
        [
            [f"{a:g} to {b:g}", number(n, None), number(e), between(low, high)]
            for a, b, n, e, low, high in bands
        ],
        [Key("raw", "failed, with what chance leaves (90%)"), Key("best", "expected by the fitted life")],
    )  # fmt: skip


def repairs_by_age(name, noun, rows, *, level):
    """Mean number of failures of one place by the age of its appliance. rows: (age, watched, mean, low, high)."""
    last, top = max([row[0] for row in rows], default=10), max([row[4] for row in rows if known(row[4])], default=1)
    canvas = Canvas((0, max(nice_ticks(0, last))), (0, max(nice_ticks(0, max(top, 0.05), 4))))
    canvas.axes(
        nice_ticks(0, last), nice_ticks(0, max(top, 0.05), 4), _whole, lambda v: f"{v:g}", "age of the appliance, years"
    )
    drawn = [row for row in rows if known(row[3]) and known(row[4])]
    canvas.path([(row[0], row[4]) for row in drawn], "band", close=[(row[0], row[3]) for row in reversed(drawn)])
    first = rows[0][0] if rows else 0
    canvas.path([(first, 0), *[(age, mean) for age, _, mean, _, _ in rows]], "line seen", step=True)
    shown = thinned(rows)
    for age, watched, mean, low, high in shown:
        canvas.at(
            age, mean, f"By age {number(age)}: {number(mean, 2)} failures each ({between(low, high, _hundredths)}), "
            f"{number(watched, None)} under watch",
        )  # fmt: skip
    end = rows[-1] if rows else None
    told = f"By age {number(end[0])} each place has had {number(end[2], 2)} failures." if end else "None yet."
    return Chart(
        name,
        "Failures of one place, added up",
        f"mean number of times that the {noun} of one appliance has failed",
        canvas.svg(name, f"Mean number of failures of a {noun} by the age of the appliance", told),
        ["Age of the appliance", "Under watch", "Failures each", f"Likely between ({level:.0%})"],
        [
            [number(age), number(watched, None), number(mean, 2), between(low, high, _hundredths)]
            for age, watched, mean, low, high in shown
        ],
        [Key("seen", "counted, no curve assumed"), Key("band", f"likely between ({level:.0%})")],
    )


def month_factors(name, noun, rows, *, level):
    """Twelve months against the mean month. rows: (month's name, factor, low, high)."""
    top = max(nice_ticks(0, max([2, *(min(high, 3) for *_, high in rows)]), 4))
    canvas = Canvas((0, 12), (0, top), height=220)
    canvas.axes([], nice_ticks(0, top, 4), y_show=lambda v: f"×{v:g}")
    canvas.line(canvas.left, canvas.y(1), canvas.right, canvas.y(1), "dash")
    for i, (month, factor, low, high) in enumerate(rows):
        x = canvas.x(i + 0.5)
        canvas.line(x, canvas.y(min(low, top)), x, canvas.y(min(high, top)), "whisk best")
        _diamond(canvas, i + 0.5, min(factor, top))
        canvas.text(x, canvas.bottom + 16, LETTERS[i], "t-mid")
        canvas.at(i + 0.5, min(factor, top), f"{month}: {number(factor, 2)} times the mean month ({_span(low, high)})")
    most = max(rows, key=lambda row: row[1])
    told = f"Most in {most[0]}: {number(most[1], 2)} times the mean month."
    return Chart(
        name,
        "Seasons",
        "failures of each month against the mean month",
        canvas.svg(name, f"Seasons of {plural(noun)}", told),
        ["Month", "Times the mean month", f"Likely between ({level:.0%})"],
        [[month, number(factor, 2), _span(low, high)] for month, factor, low, high in rows],
        [Key("best", f"leaning on the firm’s own pattern, likely range ({level:.0%})"), Key("dash", "the mean month")],
    )


def _range(canvas, at, low, high, value):
    x = canvas.x(at)
    canvas.line(x, canvas.y(low), x, canvas.y(high), "whisk raw")
    canvas.add("circle", css="dot raw", r=4, cx=x, cy=canvas.y(value))


def _diamond(canvas, at, value):
    x, y = canvas.x(at), canvas.y(value)
    canvas.add("path", css="dot", d=f"M{x - 6:.1f} {y}l6 -6l6 6l-6 6Z")


def _span(low, high):
    return between(low, high, _hundredths)


def _hundredths(value):
    return number(value, 2)


def _whole(value):
    return f"{value:g}"
