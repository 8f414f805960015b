from django.urls import path

from studio.inventory import views

app_name = "inventory"

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("lots/<int:pk>/", views.lot_page, name="lot"),
    path("new/", views.new_material, name="new_material"),
    path("<slug:code>/edit/", views.edit_material, name="edit_material"),
    path("<slug:code>/receive/", views.receive_lot, name="receive"),
    path("<slug:code>/", views.material_page, name="material"),
]
