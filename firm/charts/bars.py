"""Counts and sums as bars: by kind with the running share, by month, money by month above and below nil."""

from firm.charts.canvas import WIDTH, Canvas, Chart, Key, nice_ticks
from firm.words import count, money, number, per_cent

ROW, BAR = 38, 10


def running_share(name, title, sub, pairs, noun, *, most=12):
    """Bars of (words, how many), largest first, with the share that they and all above them make."""
    pairs = sorted((pair for pair in pairs if pair[1] > 0), key=lambda pair: -pair[1])
    total = sum(value for _, value in pairs) or 1
    rows, run = [], 0
    for words, value in pairs:
        run += value
        rows.append((words, value, run / total))
    shown = rows[:most]
    height = 12 + ROW * max(len(shown), 1)
    canvas = Canvas((0, 1), (0, 1), height=height, left=2, right=62)
    _share_rows(canvas, shown, rows[0][1] if rows else 1, noun)
    description = "; ".join(f"{words} {number(value, None)}" for words, value, _ in shown[:5])
    table = [[words, number(value, None), per_cent(share)] for words, value, share in rows]
    return Chart(
        name,
        title,
        sub,
        canvas.svg(name, title, description or "Nothing to count yet."),
        ["", noun.capitalize() + "s", "Running share"],
        table,
        [Key("bar", f"{noun}s"), Key("run", "running share: of all of them, this and all above")],
    )


def _share_rows(canvas, rows, largest, noun):
    """Each row: its words and count, a bar for the count, a thin one for the running share of the full width."""
    full = canvas.right - 2
    for i, (words, value, share) in enumerate(rows):
        y = 8 + ROW * i
        canvas.text(2, y + 7, words, "t-strong")
        canvas.add("rect", css="bar", x=2, y=y + 12, height=BAR, width=max(round(value / largest * full, 1), 1.5))
        canvas.add("rect", css="bar run", x=2, y=y + 14 + BAR, height=3, width=round(share * full, 1))
        canvas.text(WIDTH - 2, y + 7, number(value, None), "t-end t-strong")
        canvas.text(WIDTH - 2, y + 24, per_cent(share), "t-end")
        canvas.add(
            "circle",
            css="at",
            r=0,
            cx=round(2 + share * full, 1),
            cy=y + 15.5 + BAR,
            data_say=f"{words}: {count(value, noun)}; with all above it {per_cent(share)}",
        )


def months(name, title, sub, pairs, noun):
    """Columns of (first day of month, how many)."""
    top = max([value for _, value in pairs], default=1)
    canvas = Canvas((0, max(len(pairs), 1)), (0, max(nice_ticks(0, max(top, 4), 4))), height=220)
    canvas.axes([], nice_ticks(0, max(top, 4), 4), y_show=lambda v: number(v, None))
    _month_names(canvas, [month for month, _ in pairs])
    for i, (month, value) in enumerate(pairs):
        _column(canvas, i, 0, value, "bar")
        canvas.at(i + 0.5, value, f"{month:%B %Y}: {count(value, noun)}")
    description = (
        f"From {pairs[0][0]:%B %Y} to {pairs[-1][0]:%B %Y}, {count(sum(v for _, v in pairs), noun)}."
        if pairs
        else "No months yet."
    )
    table = [[f"{month:%B %Y}", number(value, None)] for month, value in reversed(pairs)]
    return Chart(name, title, sub, canvas.svg(name, title, description), ["Month", noun.capitalize() + "s"], table)


def money_by_month(name, title, sub, rows, currency, *, head, table):
    """Columns of (first day of month, amount), above or below nil. head, table: what stands behind the picture."""
    values = [float(value) for _, value in rows]
    ticks = nice_ticks(min([0, *values]), max([1, *values]), 4)
    canvas = Canvas((0, max(len(rows), 1)), (ticks[0], ticks[-1]), height=250, left=62)
    canvas.axes([], ticks, y_show=lambda v: money(v, currency, 0))
    _month_names(canvas, [month for month, _ in rows])
    for i, (month, value) in enumerate(rows):
        _column(canvas, i, 0, float(value), "bar" if value >= 0 else "bar below")
        canvas.at(i + 0.5, float(value), f"{month:%B %Y}: {money(value, currency)}")
    canvas.line(canvas.left, canvas.y(0), canvas.right, canvas.y(0), "axis")
    best = max(rows, key=lambda row: row[1], default=None)
    description = f"Most in {best[0]:%B %Y}: {money(best[1], currency)}." if best else "No months yet."
    return Chart(name, title, sub, canvas.svg(name, title, description), head, table)


def _column(canvas, i, low, high, css):
    top, bottom = sorted((canvas.y(low), canvas.y(high)))
    gap = (canvas.x(1) - canvas.x(0)) * 0.16
    canvas.add(
        "rect",
        css=css,
        x=round(canvas.x(i) + gap, 1),
        y=top,
        height=max(round(bottom - top, 1), 0),
        width=round(canvas.x(1) - canvas.x(0) - 2 * gap, 1),
    )


def _month_names(canvas, months_of):
    """Years at each January; of a short row every month by its letters."""
    short = len(months_of) <= 13
    for i, month in enumerate(months_of):
        x = canvas.x(i + 0.5)
        if short:
            canvas.text(x, canvas.bottom + 16, f"{month:%b}"[:3], "t-mid")
        if month.month == 1 or (short and i == 0 and month.month != 12):
            if not short:
                canvas.line(canvas.x(i), canvas.bottom, canvas.x(i), canvas.bottom + 6, "axis")
            canvas.text(
                x if short else canvas.x(i) + 3,
                canvas.bottom + (31 if short else 18),
                f"{month:%Y}",
                "t-mid t-strong" if short else "t-strong",
            )
