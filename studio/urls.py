"""Addresses of the house; each room's own stand under its name."""

from django.urls import include, path

from studio.house import views as house_views
from studio.whole import views as whole_views

handler400 = "studio.whole.views.bad_request"
handler403 = "studio.whole.views.not_allowed"
handler404 = "studio.whole.views.not_found"
handler500 = "studio.whole.views.broken"

house = [
    path("", whole_views.today_page, name="today"),
    path("log-in/", house_views.log_in, name="log_in"),
    path("log-out/", house_views.log_out, name="log_out"),
    path("password/", house_views.change_password, name="password"),
    path("first-owner/", house_views.first_owner, name="first_owner"),
    path("studio/", house_views.house_page, name="house"),
    path("studio/rates/", house_views.rates_page, name="rates"),
    path("studio/people/", house_views.people_page, name="people"),
    path("find/", whole_views.find, name="find"),
    path("files/<str:sha256>/", house_views.stored_file, name="file"),
    path("guides/", whole_views.guides, name="guides"),
    path("guides/<slug:name>/", whole_views.guide, name="guide"),
    path("health/", whole_views.health, name="health"),
]

urlpatterns = [
    path("", include((house, "studio"))),
    # the upper rooms first: what they say of a lot or a finish stands under the lower room's name
    path("", include("jobs.urls")),
    path("finishes/", include("recipes.urls")),
    path("stockroom/", include("studio.stockroom.urls")),
]
