"""This week: what the owner should look at, each with its sum and one link."""

from decimal import Decimal

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Refusal, Setting
from firm.roles import owner_required
from firm.words import count, money, number
from jobs.alarm_words import told
from jobs.backtest_words import gain_chip, verdict
from jobs.earnings import below_cost, call_backs, cost_of_not_charged, recent_weeks
from jobs.failure_words import stale
from jobs.idle_stock import cash
from jobs.models import BackTest, Fitted, Job
from jobs.services.alarms import firm_alarms
from jobs.services.kept_moves import to_move

WEEKS = 4
QUARTER = 13
VERDICTS = {"": "no verdict yet", **{value: label.lower() for value, label in Job.Verdict.choices}}


@owner_required
@require_GET
def week(request):
    today, currency = timezone.localdate(), Setting.current().currency
    cards = [_to_fetch(currency), _alarms(today, currency), _below_cost(today, currency)]
    cards += [_call_backs(today, currency), *_stock(today, currency), _back_test()]
    return render(request, "jobs/week.html", {
        "cards": cards, "today": today, "refused": Refusal.objects.filter(settled_at=None).count(),
        "warnings": [warning for warning in [stale(today)] if warning], "weeks": WEEKS,
    })  # fmt: skip


def card(title, total, words, link, label, chip=None):
    """One matter: its sum, what it is, and the one page on which something can be done about it."""
    return {"title": title, "sum": total, "words": words, "link": link, "label": label, "chip": chip}


def _to_fetch(currency):
    lines, cost, unknown = cost_of_not_charged()
    if not lines:
        return card(
            "Money to fetch",
            money(0, currency, 0),
            "Everything that was fitted has been charged.",
            reverse("not_charged_list"),
            "See the list",
            ("good", "tick", "Nothing open"),
        )
    words = f"{count(lines, 'part')} fitted and not charged, at cost."
    if unknown:
        words += f" The cost of {unknown} of them is not known."
    return card(
        "Money to fetch",
        money(cost, currency, 0),
        words,
        reverse("not_charged_list"),
        "Charge them",
        ("care", "warn", count(lines, "line")),
    )


def _alarms(today, currency):
    """How many alarms stand, and what the parts concerned cost that are still in guarantee."""
    alarms = told(firm_alarms(today).alarms)
    if not alarms:
        words = "Nothing fails more often than chance allows."
        return card("Alarms", "0", words, reverse("alarm_list"), "See what is watched", ("good", "tick", "None"))
    fitted = {piece.fitted for one in alarms for piece in one.in_guarantee}
    costs = Fitted.objects.filter(pk__in=fitted).values_list("cost", flat=True)
    total = sum((cost for cost in costs if cost is not None), Decimal(0))
    names = "; ".join(one.title for one in alarms[:2]) + (" and others" if len(alarms) > 2 else "")
    words = f"{names}. The sum is the cost of the parts concerned that are still in guarantee: {len(fitted)}."
    return card(
        "Alarms",
        money(total, currency, 0),
        words,
        reverse("alarm_detail", args=[alarms[0].code]) if len(alarms) == 1 else reverse("alarm_list"),
        "See the parts concerned",
        ("bad", "warn", count(len(alarms), "alarm")),
    )


def _below_cost(today, currency):
    lost = below_cost(recent_weeks(today, WEEKS))
    total = sum((-earned.margin for _, earned in lost), Decimal(0))
    words = (
        f"{count(len(lost), 'job')} of the last {WEEKS} weeks cost more than charged so far."
        if lost
        else f"No job of the last {WEEKS} weeks cost more than it was charged."
    )
    return card(
        "Jobs below cost",
        money(total, currency, 0),
        words,
        reverse("margin_list") + "?by=job&only=below&period=3-months",
        "See the jobs",
        ("care", "warn", count(len(lost), "job")) if lost else ("good", "tick", "None"),
    )


def _call_backs(today, currency):
    found = call_backs(recent_weeks(today, QUARTER))
    many, total = sum(n for n, _ in found.values()), sum((cost for _, cost in found.values()), Decimal(0))
    told = "; ".join(
        f"{VERDICTS[verdict]}: {n}, {money(cost, currency, 0)}"
        for verdict, (n, cost) in sorted(found.items(), key=lambda item: -item[1][1])
    )
    words = (
        f"{count(many, 'call-back')} in {QUARTER} weeks. {told[:1].upper()}{told[1:]}."
        if many
        else f"No call-back in {QUARTER} weeks."
    )
    return card(
        "Call-backs at our own cost",
        money(total, currency, 0),
        words,
        reverse("margin_list") + "?by=job&only=back&period=3-months",
        "See the call-backs",
        ("note", "eye", count(many, "call-back")) if many else ("good", "tick", "None"),
    )


def _stock(today, currency):
    found = cash(today)
    wanted = [row for row in found.places if row.counts_wanted]
    parts = sum(row.counts_wanted for row in wanted)
    names = ", ".join(str(row.place) for row in wanted[:4])
    counts = card(
        "To be counted",
        str(parts),
        f"The book is in doubt in {names}{' and others' if len(wanted) > 4 else ''}."
        if wanted
        else "The book is in doubt nowhere.",
        reverse("van_list"),
        "See the vans",
        ("care", "warn", count(len(wanted), "place")) if wanted else ("good", "tick", "Nothing"),
    )
    idle = card(
        "Idle for a year",
        money(found.whole.idle, currency, 0),
        f"In parts that nobody has fitted for a year, of {money(found.whole.value, currency, 0)} in stock.",
        reverse("cash_list") + "?age=older#h-lines",
        "See the lines",
        ("note", "box", "Cash in stock"),
    )
    return [_moves(found, currency), counts, idle]


def _moves(found, currency):
    """The newest list of who passes what to whom; before the first one, what lies above a level and is missing."""
    listed, label = to_move(), "See what to pass"
    if listed is not None:
        many = listed.passes + listed.returns
        words = (
            f"{count(listed.passes, 'line')} to pass to another van, {listed.returns} back to the store, worth a year."
            if many
            else "Everything on the last list has changed its place."
        )
        chip = ("note", "van", count(many, "line")) if many else ("good", "tick", "Nothing")
        return card("Stock to move", money(listed.worth, currency, 0), words, reverse("move_list"), label, chip)
    words = (
        f"{count(len(found.moves), 'part')} above the level in one place and missing in another. "
        if found.moves
        else "No part is above its level in one place while it is missing in another. "
    ) + "Who should pass what to whom is not worked out yet."
    chip = ("note", "van", count(len(found.moves), "part")) if found.moves else ("good", "tick", "Nothing")
    return card("Stock to move", money(found.movable, currency, 0), words, reverse("move_list"), label, chip)


def _back_test():
    """What the last back-test found, whoever won."""
    test = BackTest.objects.exclude(finished_at=None).filter(problem="").first()
    if test is None:
        words = "Would the proposals have done better on your own past? Nobody has tried yet."
        return card("Last back-test", "none", words, reverse("back_test_list"), "Run one", ("note", "wait", "Not run"))
    gain = test.result["against_rule"]
    days = f"{test.first:%-d %b %Y} to {test.last:%-d %b %Y}"
    return card(
        "Last back-test",
        f"{'+' if gain['points'] > 0 else ''}{number(gain['points'])} points",
        f"Proposal against the simple rule, {days}: {verdict(test.result)}",
        reverse("back_test_detail", args=[test.pk]),
        "See what it found",
        gain_chip(gain),
    )
