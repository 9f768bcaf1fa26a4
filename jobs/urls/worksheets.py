from django.urls import path

from jobs.views import worksheets

urlpatterns = [
    path("worksheets/", worksheets.index, name="worksheets"),
    path("worksheets/<slug:name>/", worksheets.detail, name="worksheet"),
]
