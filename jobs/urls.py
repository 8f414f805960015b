from django.urls import path

from jobs.desk import quote_views, work_views
from jobs.desk import views as desk_views
from jobs.looking_back import buying_views as looking_back_buying_views
from jobs.looking_back import finish_views as looking_back_finish_views
from jobs.looking_back import silver_views as looking_back_silver_views
from jobs.looking_back import tracing_views as looking_back_tracing_views
from jobs.orders import customer_views as customer_pages
from jobs.orders import site_views
from jobs.orders import views as order_views
from jobs.swatch_book import views as swatch_book_views
from jobs.work import bench_views, finishing_views, paper_views, steps_views
from jobs.work import leftover_views as work_leftover_views
from jobs.work import offcut_views as cutting_views

app_name = "jobs"

urlpatterns = [
    path("jobs/", desk_views.job_list, name="list"),
    path("jobs/new/", order_views.new_order, name="new"),
    path("jobs/price-now/", order_views.price_now, name="price_now"),
    path("jobs/price-contents/", order_views.price_contents, name="price_contents"),
    path("jobs/lines/another/", order_views.another_line, name="another_line"),
    path("jobs/lines/pasted/", order_views.lines_pasted, name="lines_pasted"),
    path("jobs/lines/<int:at>/duplicate/", order_views.duplicate_line, name="duplicate_line"),
    path("jobs/lines/<int:at>/up/", order_views.line_up, name="line_up"),
    path("jobs/lines/<int:at>/down/", order_views.line_down, name="line_down"),
    path("jobs/lines/<int:at>/spread/", order_views.spread_line, name="spread_line"),
    path("jobs/lines/<int:at>/save-preset/", order_views.save_line_as_preset, name="save_preset"),
    path("jobs/customers/<int:pk>/", customer_pages.customer, name="customer"),
    path("jobs/<int:number>/", desk_views.job_page, name="job"),
    path("jobs/<int:number>/order/", order_views.edit_order, name="order"),
    path("jobs/<int:number>/site/<int:line>/", site_views.site_record, name="site"),
    path("jobs/<int:number>/site/<int:line>/take/", site_views.take_size, name="take_site_size"),
    path("jobs/<int:number>/photographs/", site_views.photographs, name="photographs"),
    path("jobs/<int:number>/quote/", quote_views.make_quote, name="quote"),
    path("jobs/<int:number>/book/", work_views.book, name="book"),
    path("jobs/<int:number>/ticket/", work_views.ticket, name="ticket"),
    path("jobs/<int:number>/further-ticket/", work_views.further_ticket, name="further_ticket"),
    path("jobs/<int:number>/ticket/anew/", work_views.reprint, name="print_anew"),
    path("jobs/<int:number>/cancel/", work_views.cancel_job, name="cancel"),
    path("jobs/<int:number>/deliver/", work_views.deliver_job, name="deliver"),
    path("jobs/<int:number>/trace/", looking_back_tracing_views.trace_job, name="trace_job"),
    path("stockroom/lots/<int:pk>/trace/", looking_back_tracing_views.trace_lot, name="trace_lot"),
    path("stockroom/lots/<int:pk>/settle/", looking_back_tracing_views.settle_recall, name="settle_recall"),
    path("stockroom/buying/", looking_back_buying_views.buying, name="buying"),
    path("stockroom/buying/ordered/", looking_back_buying_views.ordered, name="ordered"),
    path("stockroom/buying/<int:pk>/came/", looking_back_buying_views.purchase_came, name="purchase_came"),
    path(
        "stockroom/buying/<int:pk>/cancel/", looking_back_buying_views.purchase_cancelled, name="purchase_cancelled"
    ),
    path("stockroom/silver-account/", looking_back_silver_views.silver_account_page, name="silver_account"),
    path("bench/<int:pk>/leftover/", work_leftover_views.leftover, name="leftover"),
    path("bench/<int:pk>/offcuts/", cutting_views.keep_offcuts, name="keep_offcuts"),
    path("jobs/<int:number>/silver/", looking_back_silver_views.job_silver, name="silver"),
    path("finishes/<slug:code>/<int:number>/used/", looking_back_finish_views.used_by, name="used_by"),
    path("finishes/<slug:code>/<int:number>/silver/", looking_back_finish_views.chemistry, name="chemistry"),
    path("finishes/<slug:code>/<int:number>/bigger/", looking_back_finish_views.going_bigger, name="going_bigger"),
    path("swatch-book/", swatch_book_views.swatch_book_page, name="swatch_book"),
    path("swatch-book/paper.pdf", swatch_book_views.swatch_book_pdf, name="swatch_book_paper"),
    path("quotes/<int:pk>/paper.pdf", quote_views.quote_pdf, name="quote_paper"),
    path("quotes/<int:pk>/sent/", quote_views.sent, name="sent"),
    path("quotes/<int:pk>/accepted/", quote_views.accepted, name="accepted"),
    path("quotes/<int:pk>/declined/", quote_views.declined, name="declined"),
    path("tickets/<int:pk>/paper.pdf", bench_views.ticket_pdf, name="ticket_paper"),
    path("bench/", bench_views.bench, name="bench"),
    path("bench/worker.js", steps_views.worker, name="worker"),
    path("bench/<int:pk>/", bench_views.run_page, name="run"),
    path("bench/waiting/<int:pk>/", steps_views.settle_waiting, name="settle_waiting"),
    path("bench/<int:pk>/steps/", steps_views.steps, name="steps"),
    path("bench/<int:pk>/steps/record/", steps_views.record_form, name="record"),
    path("bench/<int:pk>/steps/records/", steps_views.record_many, name="records"),
    path("bench/<int:pk>/steps/state/", steps_views.steps_state, name="steps_state"),
    path("bench/<int:pk>/pane-labels.pdf", bench_views.pane_labels_pdf, name="pane_labels"),
    path("bench/<int:pk>/conditions/", bench_views.record_conditions, name="record_conditions"),
    path("bench/<int:pk>/mixes/<slug:key>/", bench_views.record_mix, name="record_mix"),
    path("bench/<int:pk>/mixes/<slug:key>/as-written/", bench_views.record_mix_as_written,
         name="record_mix_as_written"),
    path("bench/<int:pk>/mixes/<slug:key>/not-made/", bench_views.record_mix_not_made, name="record_mix_not_made"),
    path("bench/<int:pk>/mixes/<slug:key>/from-lot/", bench_views.record_mix_from_lot, name="record_mix_from_lot"),
    path("bench/<int:pk>/panes/<str:label>/", bench_views.record_pane, name="record_pane"),
    path("bench/<int:pk>/glass/<slug:code>/", bench_views.record_glass, name="record_glass"),
    path("bench/<int:pk>/time/", bench_views.record_time, name="record_time"),
    path("bench/<int:pk>/note/", bench_views.record_note, name="record_note"),
    path("bench/<int:pk>/trouble/", bench_views.record_trouble, name="record_trouble"),
    path("bench/<int:pk>/sprayings/<slug:key>/", bench_views.record_spraying, name="record_spraying"),
    path("bench/<int:pk>/made-safe/", bench_views.record_made_safe, name="record_made_safe"),
    path("bench/<int:pk>/from-paper/", paper_views.from_paper, name="from_paper"),
    path("bench/<int:pk>/finish/", finishing_views.finish, name="finish"),
]
