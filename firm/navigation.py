"""What stands in the shell of every page: the firm's name and the way through, by role."""

from django.urls import NoReverseMatch, reverse

from firm.models import Setting

JOBS = {
    "job_list",
    "job_search",
    "job_new",
    "job_detail",
    "job_sheet",
    "visit_book",
    "charge_new",
    "job_bill",
    "fitted_charge",
    "customer_list",
    "customer_new",
    "customer_detail",
    "appliance_new",
    "contact_new",
    "appliance_detail",
    "earlier_new",
    "refusal_list",
}
VISITS = {
    "today",
    "visit_detail",
    "visit_fit",
    "visit_need",
    "visit_nothing",
    "visit_found",
    "visit_outcome",
    "fitted_out",
}
VANS = {
    "van_list",
    "van_detail",
    "van_load",
    "van_count",
    "van_pass",
    "van_level",
    "van_driver",
    "load_paper",
    "load_fix",
    "top_up_list",
    "move_list",
    "move_van",
    "slow_list",
    "dead_list",
    "back_test_list",
    "back_test_new",
    "back_test_detail",
}
FAILURES = {"component_list", "component_detail", "component_checks", "component_spells", "component_ages"}
FAILURES |= {"alarm_list", "alarm_detail", "forecast"}
OWNER = [
    ("This week", "week", {"week", "not_charged_list"}),
    ("Failures", "component_list", FAILURES),
    ("Van stock", "van_list", VANS),
    ("Margins", "margin_list", {"margin_list"}),
    ("Cash in stock", "cash_list", {"cash_list"}),
]
OFFICE = [
    ("Work", "job_list", JOBS | VISITS),
    ("Parts", "part_list", {"part_list", "part_detail"}),
    ("Prices", "price_list", {"price_list", "price_file"}),
    (
        "Orders",
        "order_list",
        {"order_list", "order_detail", "order_change", "order_paper", "order_receive", "store_levels"},
    ),
    ("Vans", "van_list", VANS),
]
PHONE = [
    ("Today", "today", "list", VISITS),
    ("My van", "my_van", "van", {"my_van", "my_van_count", "my_van_pass", "my_van_bought"}),
    ("Find a part", "find_part", "find", {"find_part"}),
    ("Waiting", "waiting", "send", {"waiting"}),
]


def shell(request):
    """The context of every page: firm, way (entries), across (the other role's pages) and tabs (phone)."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"firm": Setting.current(), "way": [], "tabs": []}
    here = request.resolver_match.url_name if request.resolver_match else ""
    way, across = _way(user, here)
    return {"firm": Setting.current(), "way": way, "across": across, "tabs": _tabs(here)}


def home_of(user):
    """The name of the page on which this person starts."""
    if user.sees_owner:
        return "week"
    return "job_list" if user.sees_office else "today"


def _way(user, here):
    """Entries of the desk, six at most, and the link to the pages of the other role."""
    if not user.sees_office:
        return _entries([(label, name, pages) for label, name, _, pages in PHONE], here), None
    if not user.sees_owner:
        return _entries(OFFICE, here), None
    office_alone = set().union(*(pages for _, _, pages in OFFICE)) - set().union(*(pages for _, _, pages in OWNER))
    if here in office_alone:
        return _entries(OFFICE, here), _entry("The owner’s pages", "week", False)
    return _entries(OWNER, here), _entry("The office’s pages", "job_list", False)


def _entries(entries, here):
    made = [_entry(label, name, here in pages) for label, name, pages in entries]
    return [entry for entry in made if entry]


def _tabs(here):
    made = [(_entry(label, name, here in pages), icon) for label, name, icon, pages in PHONE]
    return [entry | {"icon": icon} for entry, icon in made if entry]


def _entry(label, name, current):
    """None where the page is not part of this installation."""
    try:
        return {"label": label, "name": name, "url": reverse(name), "current": current}
    except NoReverseMatch:
        return None
