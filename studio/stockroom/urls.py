from django.urls import path

from studio.stockroom import table_views as stockroom_table_views
from studio.stockroom import undo_views
from studio.stockroom import views as stockroom_views
from studio.stockroom.counts import views as counts_views
from studio.stockroom.deliveries import note_views
from studio.stockroom.deliveries import views as deliveries_views
from studio.stockroom.labels import views as labels_views
from studio.stockroom.lots import act_views as lot_views
from studio.stockroom.lots import views as lots_views
from studio.stockroom.offcuts import views as offcut_views
from studio.stockroom.starting import views as starting_views
from studio.stockroom.waste import views as waste_views

app_name = "stockroom"

urlpatterns = [
    path("", stockroom_views.shelf, name="shelf"),
    path("lots/<int:pk>/", lots_views.lot_page, name="lot"),
    path("lots/<int:pk>/open/", lot_views.open_today, name="open_lot"),
    path("lots/<int:pk>/hold/", lot_views.hold, name="hold_lot"),
    path("lots/<int:pk>/release/", lot_views.release, name="release_lot"),
    path("lots/<int:pk>/discard/", lot_views.discard_some, name="discard"),
    path("lots/<int:pk>/return/", lot_views.return_some, name="return_to_supplier"),
    path("lots/<int:pk>/papers/", lots_views.lot_paper, name="lot_paper"),
    path("deliveries/", deliveries_views.deliveries, name="deliveries"),
    path("receive/", deliveries_views.receive, name="receive_delivery"),
    path("receive/check/", deliveries_views.check_delivery, name="check_delivery"),
    path("receive/note/", note_views.read_delivery_note, name="read_note"),
    path("receive/note/rows/", note_views.receive_note, name="receive_note"),
    path("prices/", deliveries_views.prices, name="prices"),
    path("prices/check/", deliveries_views.check_prices, name="check_prices"),
    path("storage/", stockroom_views.storage, name="storage"),
    path("storage/place/", stockroom_views.storage_place, name="storage_place"),
    path("counts/", counts_views.counts, name="counts"),
    path("postings/<int:pk>/undo/", undo_views.undo, name="undo"),
    path("counts/<int:pk>/", counts_views.count, name="count"),
    path("counts/<int:pk>/save/", counts_views.count_saved, name="save_count"),
    path("counts/<int:pk>/sheet.pdf", counts_views.count_pdf, name="count_pdf"),
    path("waste/", waste_views.containers, name="containers"),
    path("waste/<int:pk>/", waste_views.container, name="container"),
    path("waste/<int:pk>/put-in/", waste_views.put_waste_in, name="put_in"),
    path("waste/<int:pk>/change/", waste_views.change_container, name="change_container"),
    path("waste/<int:pk>/hand-over/", waste_views.hand_container_over, name="hand_over"),
    path("waste/<int:pk>/came-back/", waste_views.silver_came_back, name="silver_came_back"),
    path("offcuts/", offcut_views.offcuts, name="offcuts"),
    path("offcuts/<int:number>/discard/", offcut_views.offcut_discarded, name="offcut_discarded"),
    path("labels/", labels_views.labels, name="labels"),
    path("labels/labels.pdf", labels_views.labels_pdf, name="labels_pdf"),
    path("tables/<slug:name>.csv", stockroom_table_views.table, name="table"),
    path("unclassed/", starting_views.unclassed, name="unclassed"),
    path("starting-shelf/", starting_views.starting_shelf, name="starting_shelf"),
    path("new/", stockroom_views.new_material, name="new_material"),
    path("<slug:code>/edit/", stockroom_views.edit_material, name="edit_material"),
    path("<slug:code>/receive/", stockroom_views.receive_lot, name="receive"),
    path("<slug:code>/published-hazards/", stockroom_views.take_published_hazards, name="published_hazards"),
    path("<slug:code>/", stockroom_views.material_page, name="material"),
]
