from django.urls import URLPattern, path

from jobs.views import giving, licences, people, phones

urlpatterns: list[URLPattern] = [
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<int:pk>/", people.person_edit, name="person-edit"),
    path("people/<int:pk>/close/", people.person_close, name="person-close"),
    path("people/<int:pk>/open/", people.person_open, name="person-open"),
    path("people/<int:pk>/link/", people.person_link, name="person-link"),
    path("phones/", phones.phones, name="phones"),
    path("phones/<int:pk>/lost/", phones.phone_lost, name="phone-lost"),
    path("phones/<int:pk>/found/", phones.phone_found, name="phone-found"),
    path("licences/", licences.licences, name="licences"),
    path("licences/file/", licences.licence_file, name="licence-file"),
    path("licences/new/", licences.licence_new, name="licence-new"),
    path("licences/visits/<int:pk>/", giving.licence_visits, name="licence-visits"),
    path("licences/<int:pk>/", licences.licence_detail, name="licence-detail"),
    path("licences/<int:pk>/renew/", licences.licence_renew, name="licence-renew"),
    path("licences/<int:pk>/correct/", licences.licence_correct, name="licence-correct"),
    path("licences/<int:pk>/out/", licences.licence_withdraw, name="licence-withdraw"),
    path("licences/<int:pk>/again/", licences.licence_again, name="licence-again"),
]
