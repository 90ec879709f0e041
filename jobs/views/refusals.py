"""What the phones sent and could not be booked: the office sees to each."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.models import Refusal
from firm.roles import office_required
from inventory.views.once import OnceForm, press_once

LATELY = 20


@office_required
@require_GET
def refusal_list(request):
    rows = Refusal.objects.select_related("device__user", "by", "settled_by")
    shown = {
        "open": [(row, body_in_words(row)) for row in rows.filter(settled_at=None)],
        "settled": rows.exclude(settled_at=None)[:LATELY],
        "press": OnceForm(),
    }
    return render(request, "jobs/refusal_list.html", shown)


def body_in_words(refusal):
    """What was sent, for reading: (name, value) without what only machines need."""
    sent = refusal.body.get("body")
    sent = sent if isinstance(sent, dict) else refusal.body
    return [(name.replace("_", " "), value) for name, value in sent.items() if name not in {"id", "event"}]


@office_required
@require_POST
def refusal_settle(request, pk):
    """Somebody has seen to it: booked by hand, or nothing to book."""
    refusal = get_object_or_404(Refusal, pk=pk)

    def settle(_typed, _event):
        rows = Refusal.objects.filter(pk=pk, settled_at=None)
        return {"rows": rows.update(settled_at=timezone.now(), settled_by=request.user)}

    if press_once(request, "refusal-settled", settle):
        messages.success(request, f"Seen to: {refusal.kind}.")
    return redirect("refusal_list")
