"""One field finds parts, jobs, customers and appliances by number or name."""

from django.db.models import Q
from django.shortcuts import render
from django.views.decorators.http import require_GET

from firm.roles import office_required
from inventory.models import Part
from jobs.models import Appliance, Customer, Job

MOST = 20


@office_required
@require_GET
def find(request):
    asked = request.GET.get("q", "").strip()[:100]
    found = _found(asked) if asked else {}
    return render(request, "jobs/find.html", {"asked": asked, "most": MOST, **found})


def _found(asked):
    customers = Customer.objects.filter(
        Q(name__icontains=asked)
        | Q(number__iexact=asked)
        | Q(phone__icontains=asked)
        | Q(addresses__text__icontains=asked)
    ).distinct()
    appliances = Appliance.objects.for_lists().filter(
        Q(number__iexact=asked) | Q(serial__iexact=asked) | Q(address__text__icontains=asked)
    )
    jobs = Job.objects.for_lists().filter(Q(number__iexact=asked) | Q(appliance__customer__name__icontains=asked))
    return {
        "parts": Part.objects.search(asked)[:MOST],
        "jobs": jobs[:MOST],
        "customers": customers[:MOST],
        "appliances": appliances[:MOST],
    }
