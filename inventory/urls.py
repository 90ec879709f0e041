from django.urls import path

from inventory.views import orders, prices

urlpatterns = [
    path("prices/", prices.price_list, name="price_list"),
    path("prices/files/<int:pk>/", prices.price_file, name="price_file"),
    path("orders/<int:pk>/", orders.order_detail, name="order_detail"),
    path("orders/<int:pk>/change/", orders.order_change, name="order_change"),
    path("orders/<int:pk>/drop/", orders.order_drop, name="order_drop"),
    path("orders/<int:pk>/send/", orders.order_send, name="order_send"),
    path("orders/<int:pk>/paper/", orders.order_paper, name="order_paper"),
    path("orders/<int:pk>/receive/", orders.order_receive, name="order_receive"),
]
