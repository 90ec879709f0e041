"""Estimates with their likely ranges on one log axis: the plain count above, the best estimate below."""

import math

from django.utils.safestring import mark_safe

from firm.words import known

WIDTH, HEIGHT = 272, 44
STEPS = (1, 2, 5)


class Whiskers:
    """One axis for all rows of a table. rows: (plain, low, high, best, best low, best high), None = not known."""

    def __init__(self, rows, reference=None, unit="years"):
        values = [v for row in rows for v in row if known(v) and v > 0] + ([reference] if known(reference) else [])
        low, high = (min(values), max(values)) if values else (1, 100)
        ends = sorted(row[2] for row in rows if known(row[2]))
        if ends and high > 8 * ends[len(ends) // 2]:
            high = 8 * ends[len(ends) // 2]  # one endless range would squeeze all others: it gets an arrow
        self.low, self.high = _down(max(low, 0.05)), _up(max(high, low * 2))
        self.reference, self.unit = reference, unit

    def x(self, value):
        share = (math.log(min(max(value, self.low), self.high)) - math.log(self.low)) / math.log(self.high / self.low)
        return round(14 + share * (WIDTH - 34), 1)

    def ticks(self):
        decades = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
        found = [
            s * 10**d
            for d in decades
            for s in STEPS
            if self.low <= s * 10**d * 1.0001 and s * 10**d <= self.high * 1.0001
        ]
        return found if len(found) <= 7 else [v for v in found if f"{v:e}"[0] == "1"]

    def axis(self):
        marks = [
            f'<line class="axis" x1="{self.x(v)}" x2="{self.x(v)}" y1="33" y2="38"/>'
            f'<text class="t-mid" x="{self.x(v)}" y="28">{v:,g}</text>'
            for v in self.ticks()
        ]
        return mark_safe(
            f'<svg viewBox="0 0 {WIDTH} 38" aria-hidden="true">'
            f'<text x="4" y="11">{self.unit}, each step a multiple</text>'
            f"{''.join(marks)}</svg>"
        )

    def row(self, plain, low, high, best, best_low, best_high):
        marks = [f'<line class="grid" x1="{self.x(v)}" x2="{self.x(v)}" y1="0" y2="{HEIGHT}"/>' for v in self.ticks()]
        if known(self.reference):
            marks.append(
                f'<line class="dash" x1="{self.x(self.reference)}" x2="{self.x(self.reference)}" y1="0" y2="{HEIGHT}"/>'
            )
        marks += self._whisker(low, high, 15, "whisk raw")
        if known(plain):
            marks.append(f'<circle class="dot raw" r="4" cx="{self.x(plain)}" cy="15"/>')
        marks += self._whisker(best_low, best_high, 30, "whisk")
        if known(best):
            marks.append(f'<path class="dot" d="M{self.x(best) - 6:.1f} 30l6 -6l6 6l-6 6Z"/>')
        marks += [
            f'<text class="tick t-mid" x="{self.x(v)}" y="57">{v:,g}</text>'
            for v in self.ticks()[:: 2 if len(self.ticks()) > 4 else 1]
        ]
        return mark_safe(f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true">{"".join(marks)}</svg>')

    def _whisker(self, low, high, y, css):
        if not known(low):
            return []
        start, endless = self.x(low), not known(high) or high > self.high
        end = WIDTH - 8 if endless else self.x(high)
        marks = [f'<line class="{css}" x1="{start}" x2="{end}" y1="{y}" y2="{y}"/>']
        if endless:
            marks.append(f'<path class="{css}" fill="none" d="M{end - 5} {y - 5}L{end + 1} {y}L{end - 5} {y + 5}"/>')
        if not known(high):
            marks.append(f'<line class="{css}" x1="{start}" x2="{start}" y1="{y - 5}" y2="{y + 5}"/>')
        return marks


def _down(value):
    power = 10 ** math.floor(math.log10(value))
    return max(s * power for s in (1, 2, 3, 5) if s * power <= value * 1.0001)


def _up(value):
    power = 10 ** math.floor(math.log10(value))
    return min(s * power for s in (1, 1.5, 2, 3, 5, 10) if s * power >= value * 0.9999)
