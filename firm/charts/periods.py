"""Shares of several ways of working, period by period: each its own mark, which grey and print tell apart too."""

from firm.charts.canvas import Canvas, Chart, Key, nice_ticks
from firm.words import per_cent

MARKS = ("best", "raw", "here")


def shares_by_period(name, title, sub, ways, rows):
    """ways: up to three names, the first drawn heavy. rows: (words of the period, [share or None of each way])."""
    shares = [share for _, found in rows for share in found if share is not None]
    ticks = [tick for tick in nice_ticks(0, max([0.1, *shares]) * 1.05, 4) if tick <= 1]
    canvas = Canvas((0, max(len(rows), 1)), (0, max(ticks)), height=250, bottom=48)
    canvas.axes([], ticks, y_show=per_cent)
    for i, (words, found) in enumerate(rows):
        head, _, tail = words.partition(" to ")
        canvas.text(canvas.x(i + 0.5), canvas.bottom + 18, head, "t-mid")
        canvas.text(canvas.x(i + 0.5), canvas.bottom + 34, f"to {tail}" if tail else "", "t-mid")
        for j, (way, share) in enumerate(zip(ways, found, strict=True)):
            if share is not None:
                _mark(canvas, i + 0.5 + 0.2 * (j - 1), share, MARKS[j])
                canvas.at(i + 0.5 + 0.2 * (j - 1), share, f"{words}, {way}: {per_cent(share, 1)}")
    description = "; ".join(
        f"{words}: " + ", ".join(f"{way} {per_cent(share)}" for way, share in zip(ways, found, strict=True))
        for words, found in rows
    )
    table = [[words, *(per_cent(share, 1) for share in found)] for words, found in rows]
    keys = [Key(mark, way) for mark, way in zip(MARKS, ways, strict=False)]
    drawn = canvas.svg(name, title, description or "No period yet.")
    return Chart(name, title, sub, drawn, ["Period", *(way.capitalize() for way in ways)], table, keys)


def _mark(canvas, x, share, kind):
    """A stem from nil, and on it a filled diamond, a hollow circle or a square."""
    px, py = canvas.x(x), canvas.y(share)
    canvas.line(px, canvas.y(0), px, py, {"best": "whisk", "raw": "whisk raw", "here": "dash"}[kind])
    if kind == "best":
        canvas.add("path", css="dot", d=f"M{px - 7:.1f} {py}l7 -7l7 7l-7 7Z")
    elif kind == "raw":
        canvas.add("circle", css="dot raw", r=5, cx=px, cy=py)
    else:
        canvas.add("rect", css="dot here", x=round(px - 5, 1), y=round(py - 5, 1), width=10, height=10)
