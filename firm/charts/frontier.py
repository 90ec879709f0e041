"""Cash against work finished at the first visit: the whole frontier, and where the firm is today."""

from firm.charts.canvas import Canvas, Chart, nice_ticks
from firm.words import money, per_cent


def frontier(name, title, sub, curve, currency, *, here=None, best=None, budget=None):
    """curve: (cash, share finished first time), rising; here, best: such points or None; budget: cash limit or None."""
    points = [*curve, *[p for p in (here, best) if p]]
    most = max([cash for cash, _ in points] + [budget or 0], default=1000) or 1000
    least = min([share for _, share in points], default=0.5)
    x_ticks, y_ticks = nice_ticks(0, most, 4), nice_ticks(max(0, least - 0.05), 1, 5)
    canvas = Canvas((0, x_ticks[-1]), (y_ticks[0], 1), left=50)
    canvas.axes(x_ticks, [v for v in y_ticks if v <= 1], lambda v: money(v, currency, 0), per_cent, "cash in the van")
    canvas.path(curve, "line")
    if budget:
        x = canvas.x(budget)
        canvas.line(x, canvas.top, x, canvas.bottom, "dash")
        canvas.text(x - 6, canvas.bottom - 8, f"limit {money(budget, currency, 0)}", "t-end")
    if here and best:
        canvas.line(canvas.x(here[0]), canvas.y(here[1]), canvas.x(best[0]), canvas.y(best[1]), "ref")
    if here:
        canvas.add("rect", css="dot here", x=canvas.x(here[0]) - 5, y=canvas.y(here[1]) - 5, width=10, height=10)
        _label(canvas, here, "you are here", 18)
    if best:
        canvas.add("circle", css="dot", r=6.5, cx=canvas.x(best[0]), cy=canvas.y(best[1]))
        _label(canvas, best, "pays best", -13)
    for cash, share in curve:
        canvas.at(
            cash, share, f"{money(cash, currency, 0)} in the van: {per_cent(share, 1)} finished at the first visit"
        )
    told = [
        f"with {money(p[0], currency, 0)} {words} {per_cent(p[1], 1)}"
        for p, words in ((here, "as loaded today"), (best, "as it pays best"))
        if p
    ]
    description = (
        "Finished at the first visit: " + "; ".join(told) + "." if told else "Cash against work finished first time."
    )
    table = [[money(cash, currency, 0), per_cent(share, 1)] for cash, share in curve]
    return Chart(
        name, title, sub, canvas.svg(name, title, description), ["Cash in the van", "Finished first time"], table
    )


def _label(canvas, point, words, down):
    x, y = canvas.x(point[0]), canvas.y(point[1]) + down
    right = x < canvas.left + 90
    canvas.text(x + 8 if right else x - 8, y, words, "t-strong" if right else "t-strong t-end")
