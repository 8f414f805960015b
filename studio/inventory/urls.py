from django.urls import path

from studio.inventory import offcut_views, stock_views, views

app_name = "inventory"

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("lots/<int:pk>/", views.lot_page, name="lot"),
    path("lots/<int:pk>/do/", stock_views.lot_action, name="lot_action"),
    path("lots/<int:pk>/papers/", stock_views.lot_paper, name="lot_paper"),
    path("receive/", stock_views.receive, name="receive_delivery"),
    path("prices/", stock_views.prices, name="prices"),
    path("storage/", stock_views.storage, name="storage"),
    path("counts/", stock_views.counts, name="counts"),
    path("counts/<int:pk>/", stock_views.count, name="count"),
    path("counts/<int:pk>/sheet.pdf", stock_views.count_pdf, name="count_pdf"),
    path("waste/", stock_views.containers, name="containers"),
    path("waste/<int:pk>/", stock_views.container, name="container"),
    path("offcuts/", offcut_views.offcuts, name="offcuts"),
    path("offcuts/<int:number>/gone/", offcut_views.offcut_gone, name="offcut_gone"),
    path("labels/", stock_views.labels, name="labels"),
    path("labels/labels.pdf", stock_views.labels_pdf, name="labels_pdf"),
    path("tables/<slug:name>.csv", stock_views.table, name="table"),
    path("new/", views.new_material, name="new_material"),
    path("<slug:code>/edit/", views.edit_material, name="edit_material"),
    path("<slug:code>/receive/", views.receive_lot, name="receive"),
    path("<slug:code>/", views.material_page, name="material"),
]
