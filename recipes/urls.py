from django.urls import path

from recipes.finishes import authoring_views
from recipes.finishes import views as finishes_views
from recipes.solutions import authoring_views as solution_views
from recipes.solutions import lot_views
from recipes.solutions import mixing_ahead_views as making_views
from recipes.solutions import views as solutions_views
from recipes.trials import compare_views, steps_views
from recipes.trials import views as trial_views

app_name = "recipes"

urlpatterns = [
    path("", finishes_views.finishes, name="finishes"),
    path("new/", authoring_views.new_finish, name="new_finish"),
    path("solutions/", solutions_views.solutions, name="solutions"),
    path("solutions/<slug:code>/<int:number>/", solutions_views.solution, name="solution"),
    path("solutions/new/", solution_views.new_solution, name="new_solution"),
    path("solutions/check/page/", solution_views.check_solution_page, name="check_solution_page"),
    path("solutions/another-ingredient/", solution_views.another_ingredient, name="another_ingredient"),
    path("solutions/check/", solution_views.check_solution, name="check_solution"),
    path("solutions/<slug:code>/<int:number>/edit/", solution_views.edit_solution, name="edit_solution"),
    path("solutions/<slug:code>/<int:number>/next/", solution_views.another_version, name="another_version"),
    path("solutions/<slug:code>/<int:number>/adopt/", solution_views.adopt, name="adopt"),
    path("solutions/<slug:code>/<int:number>/remove/", solution_views.remove_version, name="remove_solution"),
    path("solutions/<slug:code>/<int:number>/mix-ahead/", making_views.mix_ahead_now, name="mix_ahead"),
    path("solutions/<slug:code>/<int:number>/label.pdf", solutions_views.bottle_label_pdf, name="bottle_label"),
    path("trials/", trial_views.trials, name="trials"),
    path("lots/<int:pk>/made-safe/", lot_views.lot_made_safe, name="lot_made_safe"),
    path("trials/take/<int:pk>/", trial_views.take_lot, name="take_lot"),
    path("trials/photographs/<int:pk>/crop/", trial_views.crop, name="crop"),
    path("trials/photographs/<int:pk>/remove/", trial_views.remove_photograph, name="remove_photograph"),
    path("trials/<int:number>/", trial_views.trial, name="trial"),
    path("trials/<int:number>/steps/", steps_views.steps, name="trial_steps"),
    path("trials/<int:number>/steps/record/", steps_views.record_form, name="trial_record"),
    path("trials/<int:number>/steps/records/", steps_views.record_many, name="trial_records"),
    path("trials/<int:number>/steps/state/", steps_views.steps_state, name="trial_state"),
    path("trials/<int:number>/steps/waiting/<int:pk>/", steps_views.settle_waiting, name="settle_waiting"),
    path("trials/<int:number>/further/", trial_views.further, name="further"),
    path("trials/<int:number>/change/", trial_views.change, name="change_trial"),
    path("trials/<int:number>/conditions/", trial_views.conditions, name="conditions"),
    path("trials/<int:number>/note/", trial_views.note, name="note"),
    path("trials/<int:number>/timing/", trial_views.timing, name="timing"),
    path("trials/<int:number>/photograph/", trial_views.photograph, name="photograph"),
    path("trials/<int:number>/stock/", trial_views.stock, name="stock"),
    path("trials/<int:number>/stock/<int:pk>/back/", trial_views.undo_stock, name="undo_stock"),
    path("trials/<int:number>/silver/<slug:subject>/", trial_views.start_silver, name="start_silver"),
    path("trials/<int:number>/silver/<slug:subject>/not-mixed/", trial_views.not_mixed, name="not_mixed"),
    path("trials/<int:number>/made-safe/", trial_views.made_safe, name="trial_made_safe"),
    path("trials/<int:number>/close/", trial_views.close, name="close"),
    path("trials/<int:number>/promote/", trial_views.promote_trial, name="promote"),
    path("compare/", compare_views.compare, name="compare"),
    path("<slug:code>/one-change/", compare_views.one_change, name="one_change"),
    path("<slug:code>/<int:number>/try/", trial_views.try_version, name="try"),
    path("strengths/", solution_views.strengths, name="strengths"),
    path("solutions/<slug:code>/<int:number>/bench-card.pdf", solutions_views.bench_card_pdf, name="bench_card"),
    path("uses/<slug:code>/", finishes_views.material_uses, name="uses"),
    path("<slug:code>/", finishes_views.finish, name="finish"),
    path("<slug:code>/edit/", authoring_views.edit_finish, name="edit_finish"),
    path("<slug:code>/draft/", authoring_views.new_draft, name="new_draft"),
    path("<slug:code>/<int:number>/", finishes_views.recipe, name="recipe"),
    path("<slug:code>/<int:old>/<int:new>/", finishes_views.changes, name="changes"),
    path("<slug:code>/<int:number>/put-in-use/", finishes_views.put_version_in_use, name="put_in_use"),
    path("<slug:code>/<int:number>/withdraw/", finishes_views.withdraw, name="withdraw"),
    path("<slug:code>/<int:number>/edit/", authoring_views.edit, name="edit"),
    path("<slug:code>/<int:number>/edit/add-step/", authoring_views.step_added, name="step_added"),
    path("<slug:code>/<int:number>/edit/<int:pk>/up/", authoring_views.step_up, name="step_up"),
    path("<slug:code>/<int:number>/edit/<int:pk>/down/", authoring_views.step_down, name="step_down"),
    path("<slug:code>/<int:number>/edit/<int:pk>/place/", authoring_views.step_placed, name="step_placed"),
    path("<slug:code>/<int:number>/edit/<int:pk>/duplicate/", authoring_views.step_duplicated, name="step_duplicated"),
    path("<slug:code>/<int:number>/edit/<int:pk>/remove/", authoring_views.step_removed, name="step_removed"),
    path("<slug:code>/<int:number>/edit/removed/<int:pk>/", authoring_views.step_put_back, name="step_put_back"),
    path("<slug:code>/<int:number>/edit/version/", authoring_views.change_version, name="change_version"),
    path("<slug:code>/<int:number>/edit/remove/", authoring_views.draft_removed, name="remove_draft"),
    path("<slug:code>/<int:number>/edit/<int:pk>/", authoring_views.change_step, name="change_step"),
    path("<slug:code>/<int:number>/edit/<int:pk>/mixes/", authoring_views.step_mixes, name="step_mixes"),
]
