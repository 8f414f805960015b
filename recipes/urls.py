from django.urls import path

from recipes import authoring_views, solution_views, views

app_name = "recipes"

urlpatterns = [
    path("", views.finishes, name="finishes"),
    path("new/", authoring_views.new_finish, name="new_finish"),
    path("solutions/", views.solutions, name="solutions"),
    path("solutions/<slug:code>/<int:number>/", views.solution, name="solution"),
    path("solutions/new/", solution_views.new_solution, name="new_solution"),
    path("solutions/look/", solution_views.look, name="look"),
    path("solutions/<slug:code>/<int:number>/edit/", solution_views.edit_solution, name="edit_solution"),
    path("solutions/<slug:code>/<int:number>/next/", solution_views.another_issue, name="another_issue"),
    path("solutions/<slug:code>/<int:number>/adopt/", solution_views.adopt, name="adopt"),
    path("solutions/<slug:code>/<int:number>/drop/", solution_views.drop, name="drop_solution"),
    path("solutions/<slug:code>/<int:number>/label.pdf", views.bottle_label_pdf, name="bottle_label"),
    path("strengths/", solution_views.strengths, name="strengths"),
    path("solutions/<slug:code>/<int:number>/bench-card.pdf", views.bench_card_pdf, name="bench_card"),
    path("<slug:code>/", views.finish, name="finish"),
    path("<slug:code>/edit/", authoring_views.edit_finish, name="edit_finish"),
    path("<slug:code>/draft/", authoring_views.new_draft, name="new_draft"),
    path("<slug:code>/<int:number>/", views.recipe, name="recipe"),
    path("<slug:code>/<int:old>/<int:new>/", views.changes, name="changes"),
    path("<slug:code>/<int:number>/issue/", views.issue, name="issue"),
    path("<slug:code>/<int:number>/withdraw/", views.withdraw, name="withdraw"),
    path("<slug:code>/<int:number>/edit/", authoring_views.edit, name="edit"),
    path("<slug:code>/<int:number>/edit/arrange/", authoring_views.arrange, name="arrange"),
    path("<slug:code>/<int:number>/edit/issue/", authoring_views.change_issue, name="change_issue"),
    path("<slug:code>/<int:number>/edit/throw-away/", authoring_views.throw_away, name="throw_away"),
    path("<slug:code>/<int:number>/edit/<int:pk>/", authoring_views.change_step, name="change_step"),
    path("<slug:code>/<int:number>/edit/<int:pk>/made-up/", authoring_views.made_up, name="made_up"),
]
