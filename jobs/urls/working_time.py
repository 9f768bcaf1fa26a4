from django.urls import URLPattern, path

from jobs.views import driving, giving, waits, working_time

urlpatterns: list[URLPattern] = [
    path("time/", working_time.people_time, name="people-time"),
    path("people/<int:pk>/hours/", working_time.person_hours, name="person-hours"),
    path("people/<int:pk>/away/", working_time.absence_new, name="absence-new"),
    path("absences/<int:pk>/", giving.absence, name="absence"),
    path("absences/<int:pk>/change/", working_time.absence_change, name="absence-change"),
    path("absences/<int:pk>/end/", giving.absence_end, name="absence-end"),
    path("holidays/", working_time.company_days, name="company-days"),
    path("holidays/<int:pk>/drop/", working_time.company_day_drop, name="company-day-drop"),
    path("needs/", working_time.work_needs, name="work-needs"),
    path("laboratory/", waits.laboratory_days, name="laboratory-days"),
    path("laboratory/<int:pk>/drop/", waits.laboratory_day_drop, name="laboratory-day-drop"),
    path("driving/", driving.town_drives, name="town-drives"),
    path("driving/<int:pk>/drop/", driving.town_drive_drop, name="town-drive-drop"),
]
