"""A page of a bare Django table and an empty page, behind the same middleware as every page."""

from functools import cache

from django.http import HttpResponse
from django.template import engines
from django.urls import include, path

from jobs.models import OutboxMail

TABLE = """<!doctype html><title>Bare</title><table>{% for row in rows %}
<tr><td>{{ row.pk }}</td><td>{{ row.customer.name }}</td><td>{{ row.subject }}</td>
<td>{{ row.recipient }}</td><td>{{ row.state }}</td><td>{{ row.created_at }}</td></tr>
{% endfor %}</table>"""


@cache
def compiled():
    return engines["django"].from_string(TABLE)


def table(request):
    """What the list page cannot do without: the signed-in person, a count, 50 rows."""
    assert request.user.is_authenticated
    rows = OutboxMail.objects.select_related("customer").defer("rendered")
    context = {"rows": rows[:50], "count": rows.count()}
    return HttpResponse(compiled().render(context, request))


def empty(request):
    assert request.user.is_authenticated
    return HttpResponse("signed in")


urlpatterns = [path("bare/table/", table), path("bare/", empty), path("", include("jobs.urls"))]
