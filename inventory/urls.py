from django.urls import path

from inventory.views import orders, price_files, prices

urlpatterns = [
    path("prices/", prices.price_list, name="price_list"),
    path("prices/files/new/", price_files.price_file_new, name="price_file_new"),
    path("prices/files/<int:pk>/", price_files.price_file, name="price_file"),
    path("prices/files/<int:pk>/columns/", price_files.price_file_columns, name="price_file_columns"),
    path("prices/files/<int:pk>/book/", price_files.price_file_book, name="price_file_book"),
    path("prices/files/<int:pk>/drop/", price_files.price_file_drop, name="price_file_drop"),
    path("orders/<int:pk>/", orders.order_detail, name="order_detail"),
    path("orders/<int:pk>/change/", orders.order_change, name="order_change"),
    path("orders/<int:pk>/drop/", orders.order_drop, name="order_drop"),
    path("orders/<int:pk>/send/", orders.order_send, name="order_send"),
    path("orders/<int:pk>/paper/", orders.order_paper, name="order_paper"),
    path("orders/<int:pk>/receive/", orders.order_receive, name="order_receive"),
]
