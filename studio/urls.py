"""Addresses of the house; each room's own stand under its name."""

from django.urls import include, path

from studio import views

handler400 = "studio.views.bad_request"
handler403 = "studio.views.not_allowed"
handler404 = "studio.views.not_found"
handler500 = "studio.views.broken"

house = [
    path("", views.today_page, name="today"),
    path("log-in/", views.log_in, name="log_in"),
    path("log-out/", views.log_out, name="log_out"),
    path("password/", views.change_password, name="password"),
    path("first-owner/", views.first_owner, name="first_owner"),
    path("house/", views.house_page, name="house"),
    path("house/rates/", views.rates_page, name="rates"),
    path("house/people/", views.people_page, name="people"),
    path("find/", views.find, name="find"),
    path("files/<str:sha256>/", views.stored_file, name="file"),
    path("guides/", views.guides, name="guides"),
    path("guides/<slug:name>/", views.guide, name="guide"),
    path("health/", views.health, name="health"),
]

urlpatterns = [
    path("", include((house, "studio"))),
    # the upper rooms first: what they say of a lot or a finish stands under the lower room's name
    path("", include("jobs.urls")),
    path("finishes/", include("recipes.urls")),
    path("stockroom/", include("studio.inventory.urls")),
]
