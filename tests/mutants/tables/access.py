"""Faults of who may see and do what."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/access.py",
        "access people session site_page workflows/visit_acts access_matrix",
        ("not user.is_authenticated or not user.is_active", "not user.is_authenticated"),
        ('{"dispatcher"} if "owner" in held', '{"technician"} if "owner" in held'),
        ('if "owner" in held else', 'if "technician" in held else'),
        ("User.objects.filter(pk=user.pk).order_by()", "User.objects.order_by()"),
        ("return not roles_of(user).isdisjoint(wanted)", "return bool(roles_of(user))"),
        ("wanted = roles or ROLES", 'wanted = roles or ("owner",)'),
        ("if not request.user.is_authenticated:", "if request.user is None:"),
        ("request.get_full_path()", "request.path"),
        ('"no-store, private"', '"private"'),
        ('headers.setdefault("Cache-Control"', 'headers.setdefault("Pragma"'),
        (
            'if has_role(user, "dispatcher"):\n        return Site',
            'if has_role(user, "dispatcher", "technician"):\n        return Site',
        ),
        ("filter(pk__in=visits.values", "exclude(pk__in=visits.values"),
        (
            'if has_role(user, "dispatcher"):\n        return ChecklistRecord',
            'if has_role(user, "dispatcher", "technician"):\n        return ChecklistRecord',
        ),
        ("own = Visit.objects.of_technician(user)", "own = Visit.objects.all()"),
    ),
    *in_file(
        "jobs/models/visits.py",
        "access site_page access_matrix",
        ("Q(lead=user) | Q(helper=user)", "Q(lead=user)"),
        ("day_start(today - timedelta(days=30))", "day_start(today - timedelta(days=3000))"),
        ("day_start(today + timedelta(days=61))", "day_start(today + timedelta(days=6100))"),
        ("return self.of_technician(user).filter(starts_at", "return self.filter(starts_at"),
    ),
    *in_file(
        "jobs/views/sign_in_guard.py",
        "locked_out",
        ("pk=pk, username=name", "pk=pk"),
        (".exclude(username__contains=ON)", ""),
        ("MOST_OF_AN_ADDRESS = 30", "MOST_OF_AN_ADDRESS = 10"),
        ("return str(device) if", 'return "x" if'),
        ('f"{name}{ON}{device}" if device else name', "name"),
        ("ON in name or _is_this_machine(address)", "_is_this_machine(address)"),
        ("ON in name or _is_this_machine(address)", "ON in name"),
        ("    AxesProxyHandler.reset_attempts(username=name)\n", ""),
    ),
    *in_file(
        "jobs/forms/passwords.py",
        "session",
        ("FEWEST_DIFFERENT, FEWEST_OWN = 5, 6", "FEWEST_DIFFERENT, FEWEST_OWN = 1, 6"),
        ("FEWEST_DIFFERENT, FEWEST_OWN = 5, 6", "FEWEST_DIFFERENT, FEWEST_OWN = 5, 2"),
        (" or REPEATED.fullmatch(said)", ""),
        ("is_common(said) or len", "len"),
        ("*_words_of_company(), ", ""),
    ),
]
