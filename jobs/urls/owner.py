from django.urls import URLPattern, path

from jobs.views import catalog, checklists, company, rules

urlpatterns: list[URLPattern] = [
    path("rules/", rules.rules, name="rules"),
    path("rules/new/", rules.rule_new, name="rule-new"),
    path("rules/<int:pk>/end/", rules.rule_end, name="rule-end"),
    path("rules/<int:pk>/", rules.rule_edit, name="rule-edit"),
    path("catalog/", catalog.catalog, name="catalog"),
    path("catalog/<slug:table>/new/", catalog.catalog_new, name="catalog-new"),
    path("catalog/<slug:table>/<int:pk>/", catalog.catalog_edit, name="catalog-edit"),
    path("company/", company.company, name="company"),
    path("checklists/", checklists.templates, name="templates"),
    path("checklists/<int:pk>/", checklists.template_detail, name="template-detail"),
    path("checklists/<int:pk>/lines/new/", checklists.template_add, name="template-add"),
    path("checklists/<int:pk>/<slug:key>/out/", checklists.template_out, name="template-out"),
    path(
        "checklists/<int:pk>/<slug:key>/shipped/",
        checklists.template_shipped,
        name="template-shipped",
    ),
    path("checklists/<int:pk>/<slug:key>/", checklists.template_line, name="template-line"),
]
