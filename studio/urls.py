"""Addresses of the house; each room's own stand under its name."""

from django.urls import include, path

from studio.house import (
    account_views,
    door,
    lock_views,
    people_views,
    rates_views,
    second_step_views,
    settings_views,
    week_views,
)
from studio.house import views as house_views
from studio.house.changes_views import changes_page
from studio.house.first_owner import first_owner
from studio.house.long_work import views as long_work_views
from studio.whole import views as whole_views
from studio.whole.starting import views as start_views

handler400 = "studio.whole.views.bad_request"
handler403 = "studio.whole.views.not_allowed"
handler404 = "studio.whole.views.not_found"
handler500 = "studio.whole.views.broken"

house = [
    path("", whole_views.today_page, name="today"),
    path("log-in/", door.log_in, name="log_in"),
    path("log-in/code/", second_step_views.log_in_code, name="log_in_code"),
    path("log-out/", door.log_out, name="log_out"),
    path("password/", door.change_password, name="password"),
    path("account/", account_views.account, name="account"),
    path("account/pin/", account_views.own_pin, name="own_pin"),
    path("account/tablet/", account_views.bench_tablet, name="bench_tablet"),
    path("account/second-step/", second_step_views.second_step, name="second_step"),
    path("account/second-step/begin/", second_step_views.begin_second_step, name="begin_second_step"),
    path("account/second-step/picture.svg", second_step_views.second_step_picture, name="second_step_picture"),
    path("account/second-step/confirm/", second_step_views.confirm_second_step, name="confirm_second_step"),
    path("account/second-step/change/", second_step_views.change_second_step, name="change_second_step"),
    path("account/second-step/codes/", second_step_views.recovery_codes, name="recovery_codes"),
    path("lock/", lock_views.lock, name="lock"),
    path("lock/touched/", lock_views.lock_touched, name="lock_touched"),
    path("lock/state/", lock_views.lock_state, name="lock_state"),
    path("account/sessions/end/", account_views.end_other_sessions, name="end_other_sessions"),
    path("account/sessions/<uuid:public>/end/", account_views.end_own_session, name="end_own_session"),
    path("first-owner/", first_owner, name="first_owner"),
    path("start/", start_views.start, name="start"),
    path("start/<slug:stage>/", start_views.stage_page, name="start_stage"),
    path("studio/", settings_views.settings_page, name="house"),
    path("studio/rates/", rates_views.rates_page, name="rates"),
    path("studio/rates/<int:pk>/remove/", rates_views.remove_rates, name="remove_rates"),
    path("studio/people/", people_views.people_page, name="people"),
    path("studio/people/<int:pk>/", people_views.person_page, name="person"),
    path("studio/people/<int:pk>/let-go/", people_views.let_person_go, name="let_go"),
    path("studio/people/<int:pk>/let-back-in/", people_views.let_person_back_in, name="let_back_in"),
    path("studio/people/<int:pk>/try-again/", people_views.let_person_try_again, name="let_try_again"),
    path("studio/people/<int:pk>/sessions/end/", people_views.end_session, name="end_sessions"),
    path("studio/people/<int:pk>/sessions/<uuid:public>/end/", people_views.end_session, name="end_session"),
    path("studio/people/<int:pk>/second-step/remove/", people_views.remove_second_step, name="remove_second_step"),
    path("studio/people/<int:pk>/told/", people_views.told_once, name="told_once"),
    path("studio/people/<int:pk>/password/", people_views.give_one_time_password, name="one_time_password"),
    path("studio/week/", week_views.week_settings, name="week"),
    path("studio/week/days/", week_views.add_day_apart, name="add_day_apart"),
    path("studio/week/days/<int:pk>/remove/", week_views.remove_day_apart, name="remove_day_apart"),
    path("studio/changes/", changes_page, name="changes"),
    path("studio/read-back/", house_views.read_back, name="read_back"),
    path("studio/<slug:name>/", settings_views.group_page, name="house_group"),
    path("going-on/", long_work_views.going_on, name="going_on"),
    path("going-on/now/", long_work_views.going_on_now, name="going_on_now"),
    path("going-on/ask/", long_work_views.ask_here, name="ask_long_work"),
    path("going-on/<int:pk>/", long_work_views.long_work, name="long_work"),
    path("going-on/<int:pk>/now/", long_work_views.long_work_now, name="long_work_now"),
    path("going-on/<int:pk>/cancel/", long_work_views.cancel_long_work, name="cancel_long_work"),
    path("going-on/<int:pk>/file/", long_work_views.long_work_file, name="long_work_file"),
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
