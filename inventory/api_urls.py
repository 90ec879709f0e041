from django.urls import path

from firm.events import event_view
from inventory.api import events, reads

urlpatterns = [
    path("places/", reads.PlaceList.as_view(), name="api_places"),
    path("places/<path:place>/stock/", reads.StockList.as_view(), name="api_stock"),
    path("parts/<path:part>/where/", reads.WhereView.as_view(), name="api_where"),
    path("suppliers/", reads.SupplierList.as_view(), name="api_suppliers"),
    path("counts/", event_view(events.Counted), name="api_counts"),
    path("passes/", event_view(events.Passed), name="api_passes"),
]
