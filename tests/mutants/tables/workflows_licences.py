"""Faults of licences that end: the list, renewals, the weekly letter, visits left without one."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/models/staff.py",
        "licences mail/about/licences_ending",
        ("Q(person=None) | Q(person__is_active=True)", "Q(person=None)"),
        ("Q(person=None) | Q(person__is_active=True)", "Q()"),
        ("self.of_who_works().filter(withdrawn_on=None)", "self.of_who_works()"),
        ("expires_on__lte=on + lead", "expires_on__lt=on + lead"),
    ),
    *in_file(
        "jobs/models/company.py",
        "licences",
        (
            '"days before a licence ends on which it is told",\n        default=60',
            '"days before a licence ends on which it is told",\n        default=61',
        ),
    ),
    *in_file(
        "jobs/wording/licences.py",
        "licences left_without_licence mail/about/licences_ending",
        ("if days < 0:", "if days <= 0:"),
        ("days <= lead_days", "days < lead_days"),
        ("TO_RENEW = (ENDED, SOON)", "TO_RENEW = (SOON,)"),
        ("TO_RENEW = (ENDED, SOON)", "TO_RENEW = (ENDED,)"),
    ),
    *in_file(
        "jobs/workflows/licences.py",
        "licences",
        ("LONGEST = timedelta(days=20 * 366)", "LONGEST = timedelta(days=21 * 366)"),
        ('name = " ".join(name.split())', "name = name"),
        ("row.name.casefold() == name.casefold()", "row.name == name"),
        ("if expires_on <= before:", "if expires_on < before:"),
        ("if expires_on < company_day(now):", "if expires_on <= company_day(now):"),
        ("if expires_on < company_day(now):", "if False:"),
        ("if before == (row.expires_on, row.number):", "if False:"),
        ("version_of(row) == seen", "True"),
        ("    if row.withdrawn_on:\n        raise", "    if False:\n        raise"),
        ("if row.withdrawn_on is None:", "if False:"),
    ),
    *in_file(
        "jobs/schedule/needs.py",
        "left_without_licence",
        ("starts_at__gte=day_start(company_day(now)),\n", ""),
        ("people = (visit.lead_id, visit.helper_id)", "people = (visit.lead_id,)"),
        ("        status__in=Giving.MAY_GO_BACK,\n", ""),
    ),
    *in_file(
        "jobs/pages/licences.py",
        "licences left_without_licence",
        ("row.licence.expires_on or date.max", "row.licence.expires_on or date.min"),
        ("row.standing.key != OUT_OF_USE", "True"),
        ("None in ends", "False"),
        ("max(filter(None, ends)", "min(filter(None, ends)"),
        (
            "(last - self.today).days <= self.company.licence_lead_days",
            "(last - self.today).days < self.company.licence_lead_days",
        ),
        ("for who in {visit.lead_id, visit.helper_id}", "for who in {visit.lead_id}"),
        ("if who.pk in (visit.lead_id, visit.helper_id)", "if who.pk == visit.lead_id"),
        ("company_day(visit.starts_at) == on]", "True]"),
        ("filter(person=who)", "filter(person__isnull=False)"),
    ),
    *in_file(
        "jobs/pages/loose_ends.py",
        "licences left_without_licence",
        ("on, lead_days) in TO_RENEW", "on, lead_days)"),
        ("found.pop(LEAD, None) or", "found.pop(LEAD, None) and"),
    ),
    *in_file(
        "jobs/pages/giving.py",
        "left_without_licence",
        (
            "who.pk != visit.lead_id and _may(who, visit, day.on, day)",
            "who.pk != visit.lead_id",
        ),
    ),
    *in_file(
        "jobs/mail/about/licences_ending.py",
        "mail/about/licences_ending",
        ('f"licences:{year}-{week:02}"', 'f"licences:{year}"'),
        ('f"licences:{year}-{week:02}"', 'f"licences:{day}"'),
        ("timedelta(days=8 - weekday)", "timedelta(days=7 - weekday)"),
        ("not_before=max(now, begin)", "not_before=now"),
        ('if has_role(user, "owner") else _ending(on).filter(person=user)', "if True else None"),
        ('"" if _of(user, company_day(now)) else', '"" if True else'),
    ),
    *in_file(
        "jobs/workflows/tick.py",
        "mail/about/licences_ending",
        ("        reminders.write_weekly_lists,\n", ""),
    ),
]
