"""What Python reads before anything else, on the path of a product whose clock stands ahead."""

import os
from datetime import timedelta

from django.utils import timezone

_now = timezone.now
timezone.now = lambda: _now() + timedelta(hours=float(os.environ["CLOCK_AHEAD_H"]))
