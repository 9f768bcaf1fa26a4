"""gunicorn's settings: `gunicorn --config python:config.web_server config.wsgi`."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

from django.conf import settings  # noqa: E402

bind = f"{settings.LISTEN_HOST}:{settings.LISTEN_PORT}"
workers = settings.WEB_WORKERS
worker_class = "sync"
timeout = 60
graceful_timeout = 25
max_requests = 5000
max_requests_jitter = 500
control_socket_disable = True
proc_name = "web"

_QUIET: dict[str, object] = {"level": "WARNING", "handlers": ["stderr"], "propagate": False}
logconfig_dict: dict[str, object] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": settings.LOGGING["formatters"],
    "filters": settings.LOGGING["filters"],
    "handlers": settings.LOGGING["handlers"],
    "root": {"level": "WARNING", "handlers": ["stderr"]},
    "loggers": {"gunicorn.error": _QUIET, "gunicorn.access": _QUIET},
}
