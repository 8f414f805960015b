from django.urls import path

from recipes import views

app_name = "recipes"

urlpatterns = [
    path("", views.finishes, name="finishes"),
    path("solutions/", views.solutions, name="solutions"),
    path("solutions/<slug:code>/<int:number>/", views.solution, name="solution"),
    path("solutions/<slug:code>/<int:number>/bench-card.pdf", views.bench_card_pdf, name="bench_card"),
    path("<slug:code>/", views.finish, name="finish"),
    path("<slug:code>/<int:number>/", views.recipe, name="recipe"),
    path("<slug:code>/<int:old>/<int:new>/", views.changes, name="changes"),
    path("<slug:code>/<int:number>/issue/", views.issue, name="issue"),
    path("<slug:code>/<int:number>/withdraw/", views.withdraw, name="withdraw"),
]
