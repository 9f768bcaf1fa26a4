from django.urls import URLPattern, path

from jobs.views import catalog, company, rules

urlpatterns: list[URLPattern] = [
    path("rules/", rules.rules, name="rules"),
    path("rules/new/", rules.rule_new, name="rule-new"),
    path("rules/<int:pk>/end/", rules.rule_end, name="rule-end"),
    path("rules/<int:pk>/", rules.rule_edit, name="rule-edit"),
    path("catalog/", catalog.catalog, name="catalog"),
    path("catalog/<slug:table>/new/", catalog.catalog_new, name="catalog-new"),
    path("catalog/<slug:table>/<int:pk>/", catalog.catalog_edit, name="catalog-edit"),
    path("company/", company.company, name="company"),
    path("checklists/", company.templates, name="templates"),
    path("checklists/<int:pk>/", company.template_detail, name="template-detail"),
    path("checklists/<int:pk>/<slug:key>/", company.template_line, name="template-line"),
]
