"""Entry point of the web server; an unsafe installation is not served."""

import os
import sys

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

application = get_wsgi_application()

from . import checks  # noqa: E402 - reads settings

_refusals = [error.msg for error in (*checks.production_errors(), *checks.demo_errors())]
if _refusals:
    sys.exit("\n".join(_refusals))
