"""Every address of the product, by subject. A new one also needs its line in the access matrix."""

from . import (
    field,
    follow_ups,
    health,
    mail,
    notices,
    owner,
    people,
    phone_calls,
    photos,
    plans,
    recalls,
    records,
    reports,
    session,
    sites,
    visits,
    working_time,
    worksheets,
)

urlpatterns = [
    *session.urlpatterns,
    *health.urlpatterns,
    *sites.urlpatterns,
    *visits.urlpatterns,
    *phone_calls.urlpatterns,
    *photos.urlpatterns,  # before the parts of a record, whose names are free
    *records.urlpatterns,
    *field.urlpatterns,
    *follow_ups.urlpatterns,
    *mail.urlpatterns,
    *notices.urlpatterns,
    *reports.urlpatterns,
    *recalls.urlpatterns,
    *people.urlpatterns,
    *working_time.urlpatterns,
    *plans.urlpatterns,
    *owner.urlpatterns,
    *worksheets.urlpatterns,
]
