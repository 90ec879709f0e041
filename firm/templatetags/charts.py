"""{% chart c %} draws a firm.charts.Chart with its key and the table behind it."""

from django import template
from django.utils.safestring import mark_safe

register = template.Library()

SWATCHES = {
    "line": '<path class="line" d="M0 8H36"/>',
    "band": '<path class="band" d="M0 1H36V15H0Z"/>',
    "seen": '<path class="line seen" d="M0 4H12V9H24V13H36"/>',
    "raw": '<line class="whisk raw" x1="2" x2="34" y1="8" y2="8"/><circle class="dot raw" r="4" cx="18" cy="8"/>',
    "best": '<line class="whisk" x1="4" x2="32" y1="8" y2="8"/><path class="dot" d="M12 8l6 -6l6 6l-6 6Z"/>',
    "dash": '<line class="dash" x1="0" x2="36" y1="8" y2="8"/><circle class="dot here" r="3.5" cx="18" cy="8"/>',
    "ref": '<line class="dash" x1="18" x2="18" y1="0" y2="16"/>',
    "bar": '<rect class="bar" x="2" y="2" width="32" height="12"/>',
    "run": '<rect class="bar run" x="2" y="6" width="32" height="4"/>',
    "below": '<rect class="bar below" x="2" y="2" width="32" height="12"/>',
    "here": '<rect class="dot here" x="13" y="3" width="10" height="10"/>',
}


@register.inclusion_tag("firm/_chart.html")
def chart(drawn):
    return {"chart": drawn}


@register.simple_tag
def swatch(kind):
    return mark_safe(f'<svg viewBox="0 0 36 16" aria-hidden="true">{SWATCHES[kind]}</svg>')
