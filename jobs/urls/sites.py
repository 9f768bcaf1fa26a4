from django.urls import URLPattern, path

from jobs.views import customers, measurements, search, site_history, sites, trains, wells

urlpatterns: list[URLPattern] = [
    path("find/", search.search, name="search"),
    path("customers/new/", customers.customer_new, name="customer-new"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/edit/", customers.customer_edit, name="customer-edit"),
    path("sites/new/", sites.site_new, name="site-new"),
    path("sites/<int:pk>/", sites.site_detail, name="site-detail"),
    path("sites/<int:pk>/over-time/", site_history.site_history, name="site-history"),
    path("sites/<int:pk>/edit/", sites.site_edit, name="site-edit"),
    path("sites/<int:pk>/changed-hands/", sites.tenure_change, name="tenure-change"),
    path("sites/<int:pk>/wells/new/", wells.well_new, name="well-new"),
    path("sites/<int:pk>/wells/panels/", wells.well_panels, name="well-panels"),
    path("wells/<int:pk>/edit/", wells.well_edit, name="well-edit"),
    path("sites/<int:pk>/systems/new/", trains.train_new, name="train-new"),
    path("systems/<int:pk>/edit/", trains.train_edit, name="train-edit"),
    path("systems/<int:pk>/take-out/", trains.train_take_out, name="train-take-out"),
    path("systems/<int:pk>/put-back/", trains.train_put_back, name="train-put-back"),
    path("systems/<int:pk>/parts/new/", trains.stage_new, name="stage-new"),
    path("parts/<int:pk>/replace/", trains.stage_replace, name="stage-replace"),
    path("parts/<int:pk>/take-out/", trains.stage_end, name="stage-end"),
    path("sites/<int:pk>/readings/new/", measurements.measurement_new, name="measurement-new"),
    path("sites/<int:pk>/samples/new/", measurements.sample_new, name="sample-new"),
    path("samples/<int:pk>/result/", measurements.sample_result, name="sample-result"),
    path("samples/<int:pk>/told/", measurements.sample_told, name="sample-told"),
    path("sites/<int:pk>/uses/new/", sites.special_use_new, name="special-use-new"),
    path("uses/<int:pk>/told/", sites.special_use_told, name="special-use-told"),
    path("uses/<int:pk>/end/", sites.special_use_end, name="special-use-end"),
]
