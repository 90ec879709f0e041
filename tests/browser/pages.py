"""The pages that the browser tests open, by role. Another page is one more line: its name, who opens it, its address.

{words} in an address are primary keys, found by NUMBERS in the database of the invented firm. «page > link» is the
page behind the first such link (a CSS selector) on a page.
"""

import sqlite3

PAGES = {
    "sign in": (None, "/sign-in/"),
    "help": ("owner", "/help/"),
    "help of an engineer": ("engineer", "/help/"),
    "another role's page": ("engineer", "/week/"),
    "settings": ("owner", "/settings/"),
    "people": ("owner", "/people/"),
    "person": ("owner", "/people/{engineer}/"),
    "new person": ("owner", "/people/new/"),
    "this week": ("owner", "/week/"),
    "not charged": ("owner", "/week/not-charged/"),
    "failures": ("owner", "/failures/"),
    "failures, filtered to nothing": ("owner", "/failures/?q=zzz"),
    "component": ("owner", "/failures/{component}/"),
    "component with few failures": ("owner", "/failures/{rare}/"),
    "spells": ("owner", "/failures/{component}/spells/"),
    "component, age by age": ("owner", "/failures/{component}/ages/"),
    "component under another assumption": ("owner", "/failures/{component}/?before_care=first&care_window=9"),
    "component, checked": ("owner", "/failures/{component}/checks/"),
    "component with few failures, checked": ("owner", "/failures/{rare}/checks/"),
    "failures by supplier": ("owner", "/failures/?by=supplier"),
    "failures by month and maker": ("owner", "/failures/?by=month&split=maker"),
    "an alarm that no longer stands": ("owner", "/failures/alarms/0123456789ab/"),
    "appliance, what is known": ("owner", "/appliances/{appliance}/?position=1"),
    "failures by model": ("owner", "/failures/?by=model"),
    "failures by month": ("owner", "/failures/?by=month"),
    "alarms": ("owner", "/failures/alarms/"),
    "alarm": ("owner", "/failures/alarms/ > main a[href^='/failures/alarms/']"),
    "forecast": ("owner", "/failures/forecast/"),
    "forecast under another assumption": ("owner", "/failures/forecast/?before_care=unknown"),
    "margins": ("owner", "/margins/"),
    "margins by job": ("owner", "/margins/?by=job"),
    "margins by engineer": ("owner", "/margins/?by=engineer"),
    "cash in stock": ("owner", "/cash/"),
    "found": ("office", "/find/?q=pump"),
    "work": ("office", "/work/"),
    "work, all": ("office", "/work/all/"),
    "job": ("office", "/jobs/{job}/"),
    "new job": ("office", "/jobs/new/"),
    "customers": ("office", "/customers/"),
    "customer": ("office", "/customers/{customer}/"),
    "appliance": ("office", "/appliances/{appliance}/"),
    "parts": ("office", "/parts/"),
    "part": ("office", "/parts/{part}/"),
    "orders": ("office", "/orders/"),
    "order not sent": ("office", "/orders/{draft}/"),
    "order sent": ("office", "/orders/{sent}/"),
    "order on paper": ("office", "/orders/{sent}/paper/"),
    "what an order brought": ("office", "/orders/{sent}/receive/"),
    "proposed orders": ("office", "/orders/propose/"),
    "prices": ("office", "/prices/"),
    "vans": ("office", "/vans/"),
    "van": ("office", "/vans/{van}/"),
    "refused from phones": ("office", "/refused/"),
    "new price file": ("office", "/prices/files/new/"),
    "price file waiting": ("office", "/prices/files/{price_file}/"),
    "prices compared": ("office", "/prices/?part=104233&pieces=3"),
    "new job, which appliance": ("office", "/jobs/new/?q=terrace"),
    "new job, the call": ("office", "/jobs/new/?appliance={appliance}"),
    "job sheet": ("office", "/jobs/{job}/sheet/"),
    "charge a part": ("office", "/fitted/{fitted}/charge/"),
    "new customer": ("office", "/customers/new/"),
    "count sheet": ("office", "/vans/{van}/count/"),
    "what a van should carry": ("office", "/vans/{van}/load/"),
    "van stock list": ("office", "/vans/{van}/load/paper/"),
    "fix a line of a load": ("office", "/vans/{van}/load/fix/{part}/"),
    "what to bring to the vans": ("office", "/vans/top-up/"),
    "pass to another van": ("office", "/vans/moves/"),
    "what a van hands over": ("office", "/vans/moves/van/{giver}/"),
    "expensive slow parts": ("owner", "/vans/slow/"),
    "dead stock": ("owner", "/vans/dead/"),
    "when the store orders": ("office", "/orders/levels/"),
    "back-tests": ("owner", "/vans/back-tests/"),
    "back-test": ("owner", "/vans/back-tests/{back_test}/"),
    "today": ("engineer", "/today/"),
    "count my van": ("engineer", "/my-van/count/"),
    "pass to another van, from the phone": ("engineer", "/my-van/pass/"),
    "bought at the counter": ("engineer", "/my-van/bought/"),
    "need a part": ("engineer", "/visits/{visit}/need/"),
    "no part needed": ("engineer", "/visits/{visit}/nothing/"),
    "what was found": ("engineer", "/visits/{visit}/found/"),
    "taken out again": ("engineer", "/fitted/{own_fitted}/out/"),
    "how it ended": ("engineer", "/visits/{visit}/outcome/"),
    "my van": ("engineer", "/my-van/"),
    "find a part": ("engineer", "/find-a-part/?q=pump"),
    "visit": ("engineer", "/visits/{visit}/"),
    "fit a part": ("engineer", "/visits/{visit}/fit/"),
    "waiting": ("engineer", "/waiting/"),
}
NUMBERS = {
    "component": "SELECT id FROM inventory_componenttype WHERE key = 'circulating-pump'",
    "rare": "SELECT id FROM inventory_componenttype WHERE key = 'compressor'",
    "job": "SELECT visit.job_id FROM jobs_fitted JOIN jobs_visit visit ON visit.id = visit_id ORDER BY 1 DESC",
    "fitted": "SELECT id FROM jobs_fitted ORDER BY 1 DESC",
    "own_fitted": "SELECT id FROM jobs_fitted WHERE visit_id IN (SELECT visit_id FROM jobs_visitengineer "
                  "WHERE engineer_id = {engineer}) ORDER BY 1 DESC",
    "draft": "SELECT id FROM inventory_order WHERE state = 'draft'",
    "sent": "SELECT id FROM inventory_order WHERE state = 'sent'",
    "price_file": "SELECT id FROM inventory_pricefile",
    "engineer": "SELECT {engineer}",
    "customer": "SELECT id FROM jobs_customer",
    "appliance": "SELECT appliance_id FROM jobs_fitted",
    "part": "SELECT part_id FROM inventory_stock WHERE on_hand > 0",
    "van": "SELECT id FROM inventory_place WHERE kind = 'van'",
    "giver": "SELECT giver_id FROM jobs_moveline",
    "back_test": "SELECT id FROM jobs_backtest",
    "visit": "SELECT visit_id FROM jobs_visitengineer WHERE engineer_id = {engineer} AND visit_id IN "
             "(SELECT id FROM jobs_visit WHERE outcome = '' ORDER BY \"on\")",
}  # fmt: skip


class Site:
    """Where the server listens, and what stands in its database."""

    def __init__(self, url, database):
        self.url, self.database = url, database
        self.engineer, self.engineer_name = self._one(
            "SELECT id, username FROM firm_user WHERE is_engineer AND id IN (SELECT engineer_id "
            "FROM jobs_visitengineer WHERE visit_id IN (SELECT id FROM jobs_visit WHERE outcome = ''))")  # fmt: skip

    def _one(self, query):
        with sqlite3.connect(self.database) as connection:
            return connection.execute(f"{query} LIMIT 1").fetchone()

    def path(self, pattern):
        """The address with its primary keys, None where the firm has no such row."""
        numbers = {}
        for word, query in NUMBERS.items():
            if "{" + word + "}" in pattern:
                row = self._one(query.format(engineer=self.engineer))
                if row is None:
                    return None
                numbers[word] = row[0]
        return pattern.format(**numbers)

    def name_of(self, role):
        return {"owner": "ruth", "office": "mabel", "engineer": self.engineer_name}[role]
