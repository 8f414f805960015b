from django.urls import path

from jobs import bench_views, finish_pages, order_views, views

app_name = "jobs"

urlpatterns = [
    path("jobs/", views.job_list, name="list"),
    path("jobs/new/", order_views.new_order, name="new"),
    path("jobs/reckon/", order_views.reckon, name="reckon"),
    path("jobs/rests-on/", order_views.rests_on, name="rests_on"),
    path("jobs/another-line/", order_views.another_line, name="another_line"),
    path("jobs/<int:number>/", views.job_page, name="job"),
    path("jobs/<int:number>/order/", order_views.edit_order, name="order"),
    path("jobs/<int:number>/quote/", views.make_quote, name="quote"),
    path("jobs/<int:number>/book/", views.book, name="book"),
    path("jobs/<int:number>/ticket/", views.ticket, name="ticket"),
    path("jobs/<int:number>/call-off/", views.call_off_job, name="call_off"),
    path("jobs/<int:number>/hand-over/", views.hand_over_job, name="hand_over"),
    path("jobs/<int:number>/silver/", finish_pages.job_silver, name="silver"),
    path("finishes/<slug:code>/<int:number>/used/", finish_pages.used_by, name="used_by"),
    path("finishes/<slug:code>/<int:number>/silver/", finish_pages.chemistry, name="chemistry"),
    path("finishes/<slug:code>/<int:number>/bigger/", finish_pages.going_bigger, name="going_bigger"),
    path("swatch-book/", finish_pages.swatch_book_page, name="swatch_book"),
    path("swatch-book/paper.pdf", finish_pages.swatch_book_pdf, name="swatch_book_paper"),
    path("quotes/<int:pk>/paper.pdf", views.quote_pdf, name="quote_paper"),
    path("quotes/<int:pk>/sent/", views.sent, name="sent"),
    path("quotes/<int:pk>/accepted/", views.accepted, name="accepted"),
    path("quotes/<int:pk>/declined/", views.declined, name="declined"),
    path("tickets/<int:pk>/paper.pdf", bench_views.ticket_pdf, name="ticket_paper"),
    path("bench/", bench_views.bench, name="bench"),
    path("bench/<int:pk>/", bench_views.run_page, name="run"),
    path("bench/<int:pk>/conditions/", bench_views.note_conditions, name="note_conditions"),
    path("bench/<int:pk>/mixes/<slug:key>/", bench_views.note_mix, name="note_mix"),
    path("bench/<int:pk>/panes/<str:label>/", bench_views.note_pane, name="note_pane"),
    path("bench/<int:pk>/glass/<slug:code>/", bench_views.note_glass, name="note_glass"),
    path("bench/<int:pk>/time/", bench_views.note_time, name="note_time"),
    path("bench/<int:pk>/note/", bench_views.note_words, name="note_words"),
    path("bench/<int:pk>/made-safe/", bench_views.note_made_safe, name="note_made_safe"),
    path("bench/<int:pk>/finish/", bench_views.finish, name="finish"),
]
