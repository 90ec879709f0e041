from django.urls import path

from firm.events import event_view
from jobs.api import (
    alarms,
    appliance_components,
    back_tests,
    catalogue,
    curves,
    events,
    failures,
    forecasts,
    lives,
    loads,
    moving,
    reads,
    spells,
    sync,
)

urlpatterns = [
    path("visits/", reads.VisitList.as_view(), name="api_visits"),
    path("visits/<path:visit>/", reads.VisitDetail.as_view(), name="api_visit"),
    path("jobs/", reads.JobList.as_view(), name="api_jobs"),
    path("jobs/<path:job>/", reads.JobDetail.as_view(), name="api_job"),
    path("appliances/", reads.ApplianceList.as_view(), name="api_appliances"),
    path(
        "appliances/<path:appliance>/components/",
        appliance_components.ApplianceComponentsView.as_view(),
        name="api_appliance_components",
    ),
    path("appliances/<path:appliance>/", reads.ApplianceDetail.as_view(), name="api_appliance"),
    path("components/", catalogue.ComponentList.as_view(), name="api_components"),
    path("parts/", catalogue.PartList.as_view(), name="api_parts"),
    path("parts/<path:part>/", catalogue.PartDetail.as_view(), name="api_part"),
    path("lives/", lives.LivesView.as_view(), name="api_lives"),
    path("lives/sensitivity/", lives.SensitivityView.as_view(), name="api_lives_sensitivity"),
    path("lives/curves/", curves.CurvesView.as_view(), name="api_lives_curves"),
    path("spells/", spells.SpellList.as_view(), name="api_spells"),
    path("failures/", failures.FailureList.as_view(), name="api_failures"),
    path("forecasts/", forecasts.ForecastList.as_view(), name="api_forecasts"),
    path("alarms/", alarms.AlarmList.as_view(), name="api_alarms"),
    path("alarms/<str:code>/parts/", alarms.AlarmPartList.as_view(), name="api_alarm_parts"),
    path("loads/", loads.LoadList.as_view(), name="api_loads"),
    path("moves/", moving.MoveList.as_view(), name="api_moves"),
    path("slow-parts/", moving.SlowPartList.as_view(), name="api_slow_parts"),
    path("dead-stock/", moving.DeadStockList.as_view(), name="api_dead_stock"),
    path("store-levels/", moving.StoreLevelList.as_view(), name="api_store_levels"),
    path("back-tests/", back_tests.BackTestList.as_view(), name="api_back_tests"),
    path("back-tests/<int:pk>/", back_tests.BackTestDetail.as_view(), name="api_back_test"),
    path("sync/", sync.SyncView.as_view(), name="api_sync"),
    *[
        path(f"{kind}/", event_view(event), name=f"api_{kind}")
        for kind, event in events.EVENTS.items()
        if kind not in {"counts", "passes"}
    ],
]
