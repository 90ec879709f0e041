"""The assumption on the time before care that an address names, kept by the links of a page."""

from jobs import history, lives


def asked_assumption(request):
    """The assumption that the address asks for, or the usual one."""
    asked = request.GET.get("before_care", "")
    return asked if asked in history.BEFORE_CARE else lives.BEFORE_CARE


def keep_assumption(before_care):
    """What a link to another page of the same figures ends with: nothing for the usual assumption."""
    return "" if before_care == lives.BEFORE_CARE else f"?before_care={before_care}"
