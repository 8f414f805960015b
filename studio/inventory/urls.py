from django.urls import path

from studio.inventory import views

app_name = "inventory"

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("lots/<int:pk>/", views.lot_page, name="lot"),
    path("<slug:code>/receive/", views.receive_lot, name="receive"),
    path("<slug:code>/", views.material_page, name="material"),
]
