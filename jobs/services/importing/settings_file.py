"""The file of settings: its keys, with what firms call them."""

from jobs.services.importing import closed_words, values
from jobs.services.importing.sheets import column_name
from jobs.services.importing.values import Wrong, number, text, whole

MONEY = number(7, 2, least=0)
KEYS = {
    "firm_name": text(120),
    "currency": values.code(3),
    "country": values.code(2),
    "time_zone": values.time_zone,
    "labour_cost": MONEY,
    "labour_charge": MONEY,
    "call_out": MONEY,
    "travel_cost": MONEY,
    "second_visit": MONEY,
    "merchant_run": MONEY,
    "holding_per_year": number(1, 4, least=0),
    "restock_days": whole(1, 365),
    "max_per_part": whole(0, 1000),
    "care_window_months": number(3, 2, above=0),
    "service_interval_months": whole(1, 240),
    "target_first_visit_fix_rate": number(1, 3, least=0, most=1),
    "order_cost": MONEY,
    "target_fill_rate": number(1, 3, least=0, most=0.999),
    "cost_prices_on_phones": closed_words.yes_no,
}
ALSO_CALLED = {
    "firm": "firm_name",
    "name": "firm_name",
    "timezone": "time_zone",
    "labour_cost_per_hour": "labour_cost",
    "labour_cost_hour": "labour_cost",
    "labour_cost_hourly": "labour_cost",
    "labour_charge_per_hour": "labour_charge",
    "labour_charge_hour": "labour_charge",
    "labour_charge_hourly": "labour_charge",
    "callout": "call_out",
    "call_out_charge": "call_out",
    "travel": "travel_cost",
    "travel_cost_per_visit": "travel_cost",
    "second_visit_cost": "second_visit",
    "merchant_run_cost": "merchant_run",
    "holding": "holding_per_year",
    "holding_cost_per_year": "holding_per_year",
    "cost_per_order": "order_cost",
    "fill_rate": "target_fill_rate",
    "store_fill_rate": "target_fill_rate",
    "target_fix_rate": "target_first_visit_fix_rate",
    "first_visit_fix_rate": "target_first_visit_fix_rate",
    "target_first_visit_fix": "target_first_visit_fix_rate",
}


def setting_name(cell):
    """The name of our setting that `cell` means, or Wrong."""
    name = column_name(cell)
    name = ALSO_CALLED.get(name, name)
    if name not in KEYS:
        raise Wrong(f"Must be one of: {', '.join(KEYS)}.")
    return name


def read_settings(rows, problems):
    """{setting: value}; an empty cell leaves a setting as it is. Faults go to `problems`."""
    found, places = {}, {}
    for row in rows:
        try:
            name = setting_name(row.setting)
        except Wrong as error:
            problems.error("settings", row.row, "setting", row.setting, str(error))
            continue
        if places.setdefault(name, row.row) != row.row:
            problems.error("settings", row.row, "setting", row.setting, f"Stands in row {places[name]} already.")
        elif row.value:
            _read_one(found, name, row, problems)
    return found


def _read_one(found, name, row, problems):
    try:
        found[name] = KEYS[name](row.value)
    except Wrong as error:
        problems.error("settings", row.row, "value", row.value, str(error))
