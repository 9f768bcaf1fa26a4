"""The letter about a notice that was meant for another house."""

from jobs.mail import about
from jobs.workflows.notice_telling import take_back_notice, tell_notice
from jobs.workflows.telling import Adult
from tests.factories import make_customer, make_notice, make_site, make_staff
from tests.jobs.mail.letters import NOW


def notice_taken_back():
    site, by = make_site(customer=make_customer()), make_staff("dispatcher")
    notice = make_notice(site=site, now=NOW, cause="flood", level="no_drinking")
    adult = Adult("An adult", "door", read_back=True)
    tell_notice(notice=notice, site=site, adult=adult, by=by, now=NOW)
    take_back_notice(notice=notice, reason="the other house of that name", by=by, now=NOW)
    notice.refresh_from_db()
    return about.notice_taken_back.write(notices=[notice], now=NOW)
