"""The paper that every chart is drawn on: scales, axes, paths and the figure around them."""

import math
from dataclasses import dataclass, field
from html import escape

from django.utils.safestring import SafeString, mark_safe

WIDTH = 440  # text of 12.5 units is 11 px on a phone of 390 px


@dataclass(frozen=True)
class Key:
    """One entry of a chart's key. kind: line, band, seen, raw, best, dash, ref, bar, run, below, here."""

    kind: str
    words: str


@dataclass(frozen=True)
class Chart:
    """A picture and what it says in words and numbers. head and rows are the table behind it."""

    name: str
    title: str
    sub: str
    svg: SafeString
    head: list = field(default_factory=list)
    rows: list = field(default_factory=list)
    key: list[Key] = field(default_factory=list)
    behind: str = "The numbers behind the picture"


def nice_ticks(low, high, most=5):
    """Round values from at or below `low` to at or above `high`, about `most` steps of 1, 2, 2.5 or 5."""
    span = max(high - low, 1e-9)
    rough = span / most
    unit = 10 ** math.floor(math.log10(rough))
    step = next(unit * m for m in (1, 2, 2.5, 5, 10) if unit * m >= rough * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(i * step, 10) for i in range(first, max(last, first + 1) + 1)]


class Canvas:
    """Linear scales over a frame of 440 units, and a list of marks drawn so far."""

    def __init__(self, x_range, y_range, *, height=290, left=46, right=14, top=14, bottom=40):
        self.x_range, self.y_range, self.height = x_range, y_range, height
        self.left, self.right, self.top, self.bottom = left, WIDTH - right, top, height - bottom
        self.marks = []

    def x(self, value):
        low, high = self.x_range
        return round(self.left + (value - low) / (high - low) * (self.right - self.left), 1)

    def y(self, value):
        low, high = self.y_range
        return round(self.bottom - (value - low) / (high - low) * (self.bottom - self.top), 1)

    def add(self, name, text=None, **attributes):
        """One SVG element. `css` is its class; underscores in names become hyphens; text is escaped."""
        attributes = {"class" if key == "css" else key.replace("_", "-"): v for key, v in attributes.items()}
        inside = " ".join(f'{key}="{escape(str(value))}"' for key, value in attributes.items())
        self.marks.append(f"<{name} {inside}/>" if text is None else f"<{name} {inside}>{escape(str(text))}</{name}>")

    def line(self, x1, y1, x2, y2, css):
        self.add("line", css=css, x1=x1, y1=y1, x2=x2, y2=y2)

    def text(self, x, y, words, css=""):
        self.add("text", words, css=css, x=x, y=y)

    def axes(self, x_ticks, y_ticks, x_show=str, y_show=str, x_label=""):
        for value in y_ticks:
            y = self.y(value)
            self.line(self.left, y, self.right, y, "grid")
            self.text(self.left - 8, y + 4, y_show(value), "t-end")
        for value in x_ticks:
            x = self.x(value)
            self.line(x, self.bottom, x, self.bottom + 4, "axis")
            self.text(x, self.bottom + 18, x_show(value), "t-mid")
        self.line(self.left, self.bottom, self.right, self.bottom, "axis")
        if x_label:
            self.text(self.right, self.height - 4, x_label, "t-end")

    def path(self, points, css, *, step=False, close=()):
        """A line through (x, y) values; `close` are the points of the way back of a band."""
        drawn = self._steps(points, step=step)
        if close:
            drawn += self._steps(close).replace("M", "L", 1) + "Z"
        if drawn:
            self.add("path", css=css, d=drawn)

    def _steps(self, points, *, step=False):
        drawn = []
        for x, y in points:
            px, py = self.x(x), self.y(y)
            drawn.append(f"M{px} {py}" if not drawn else f"H{px}V{py}" if step else f"L{px} {py}")
        return "".join(drawn)

    def at(self, x, y, say):
        """A point that chart.js can read out."""
        self.add("circle", css="at", r=0, cx=self.x(x), cy=self.y(y), data_say=say)

    def svg(self, name, title, description):
        return drawing(name, title, description, self.marks, WIDTH, self.height)


def drawing(name, title, description, marks, width, height):
    return mark_safe(
        f'<svg viewBox="0 0 {width} {height}" role="img" aria-labelledby="{name}-t {name}-d" data-chart="">'
        f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{escape(description)}</desc>'
        f"{''.join(marks)}</svg>"
    )
