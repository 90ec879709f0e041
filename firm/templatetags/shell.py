"""Tags and filters of the shell. Each draws one partial, so that a page says what and not how."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from firm import words

register = template.Library()

HAZARDS = {
    "gas": ("gas", "Gas"),
    "combustion": ("flame", "Combustion"),
    "oil": ("oil", "Oil"),
    "mains": ("bolt", "Mains"),
    "pressurised-hot-water": ("drop", "Hot water under pressure"),
    "refrigerant": ("cold", "Refrigerant"),
}


@register.simple_tag
def icon(name):
    return format_html('<svg class="icon" aria-hidden="true"><use href="#i-{}"/></svg>', name)


@register.inclusion_tag("firm/_chip.html")
def chip(kind, sign, word):
    """A state in a word with its sign. kind: good, care, bad, note or empty."""
    return {"kind": kind, "sign": sign, "word": word}


@register.simple_tag
def hazard_chips(hazards):
    """One chip for each hazard class of a component type."""
    chips = [(*HAZARDS.get(hazard, ("warn", hazard)),) for hazard in hazards or []]
    return mark_safe(
        " ".join(format_html('<span class="chip note">{}{}</span>', icon(sign), word) for sign, word in chips)
    )


@register.inclusion_tag("firm/_panel.html")
def panel(kind, sign, text, heading=""):
    return {"kind": kind, "sign": sign, "text": text, "heading": heading}


@register.inclusion_tag("firm/_figures.html")
def figures(entries):
    """The few numbers that matter. entries: dicts with label, value, note (firm.tables.figure makes one)."""
    return {"figures": entries}


@register.inclusion_tag("firm/_table.html", takes_context=True)
def table(context, shown):
    """A firm.tables.Table with its filters, sort links, pages and exports."""
    return {"table": shown, "page": shown.page, "request": context["request"]}


@register.inclusion_tag("firm/_field.html")
def field(bound):
    return {"field": bound}


@register.inclusion_tag("firm/_form.html")
def fields(form):
    """All the fields of a form, hidden `event` included, and what was refused at the top."""
    return {"form": form}


@register.simple_tag(takes_context=True)
def address(context, **changes):
    """This page's address with some of its words changed; None or empty takes a word out."""
    query = context["request"].GET.copy()
    for name, value in changes.items():
        if value in (None, ""):
            query.pop(name, None)
        else:
            query[name] = value
    return "?" + query.urlencode()


@register.simple_tag(takes_context=True)
def page_address(context, number):
    """The address of another page of the table whose `prefix` stands in the context."""
    query = context["request"].GET.copy()
    query[f"{context.get('prefix', '')}page"] = number
    return "?" + query.urlencode()


@register.simple_tag(takes_context=True)
def money(context, amount, places=2):
    firm = context.get("firm") or getattr(context.get("request"), "firm", None)
    return words.money(amount, firm.currency if firm else "GBP", places)


@register.filter
def number(value, places=1):
    return words.number(value, places)


@register.filter
def pieces(value):
    """A quantity without needless zeros: 2, 0.5, 1,200."""
    return words.number(value, None)


@register.filter
def years(value):
    return words.years(value)


@register.filter
def per_cent(share, places=0):
    return words.per_cent(share, places)


@register.filter
def in_ten(share):
    """0.9 as «nine times in ten»."""
    names = {0.8: "eight times in ten", 0.9: "nine times in ten", 0.95: "nineteen times in twenty"}
    return names.get(round(share, 4), f"{words.per_cent(share)} of the time")


@register.filter
def lower_first(text):
    """For a word in mid-sentence; abbreviations keep their capitals."""
    text = str(text)
    return text if text[:2].isupper() else text[:1].lower() + text[1:]


@register.filter
def before_colon(text):
    return str(text).split(":")[0]
