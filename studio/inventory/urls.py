from django.urls import path

from studio.inventory import lot_views, offcut_views, stock_views, views

app_name = "inventory"

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("lots/<int:pk>/", views.lot_page, name="lot"),
    path("lots/<int:pk>/open/", lot_views.open_today, name="open_lot"),
    path("lots/<int:pk>/hold/", lot_views.hold, name="hold_lot"),
    path("lots/<int:pk>/release/", lot_views.release, name="release_lot"),
    path("lots/<int:pk>/discard/", lot_views.discard_some, name="discard"),
    path("lots/<int:pk>/return/", lot_views.return_some, name="return_to_supplier"),
    path("lots/<int:pk>/papers/", stock_views.lot_paper, name="lot_paper"),
    path("receive/", stock_views.receive, name="receive_delivery"),
    path("receive/look/", stock_views.look_at_delivery, name="look_at_delivery"),
    path("prices/", stock_views.prices, name="prices"),
    path("prices/look/", stock_views.look_at_prices, name="look_at_prices"),
    path("storage/", stock_views.storage, name="storage"),
    path("counts/", stock_views.counts, name="counts"),
    path("counts/<int:pk>/", stock_views.count, name="count"),
    path("counts/<int:pk>/post/", stock_views.count_posted, name="post_count"),
    path("counts/<int:pk>/sheet.pdf", stock_views.count_pdf, name="count_pdf"),
    path("waste/", stock_views.containers, name="containers"),
    path("waste/<int:pk>/", stock_views.container, name="container"),
    path("waste/<int:pk>/put-in/", stock_views.put_waste_in, name="put_in"),
    path("waste/<int:pk>/hand-over/", stock_views.hand_container_over, name="hand_over"),
    path("waste/<int:pk>/came-back/", stock_views.silver_came_back, name="silver_came_back"),
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
