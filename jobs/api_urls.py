from django.urls import path

from firm.events import event_view
from jobs.api import catalogue, events, lives, loads, reads, sync

urlpatterns = [
    path("visits/", reads.VisitList.as_view(), name="api_visits"),
    path("visits/<path:visit>/", reads.VisitDetail.as_view(), name="api_visit"),
    path("jobs/", reads.JobList.as_view(), name="api_jobs"),
    path("jobs/<path:job>/", reads.JobDetail.as_view(), name="api_job"),
    path("appliances/", reads.ApplianceList.as_view(), name="api_appliances"),
    path("appliances/<path:appliance>/", reads.ApplianceDetail.as_view(), name="api_appliance"),
    path("components/", catalogue.ComponentList.as_view(), name="api_components"),
    path("parts/", catalogue.PartList.as_view(), name="api_parts"),
    path("parts/<path:part>/", catalogue.PartDetail.as_view(), name="api_part"),
    path("lives/", lives.LivesView.as_view(), name="api_lives"),
    path("loads/", loads.LoadList.as_view(), name="api_loads"),
    path("sync/", sync.SyncView.as_view(), name="api_sync"),
    *[
        path(f"{kind}/", event_view(event), name=f"api_{kind}")
        for kind, event in events.EVENTS.items()
        if kind not in {"counts", "passes"}
    ],
]
