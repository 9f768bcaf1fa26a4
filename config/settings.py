"""Settings. Every variable is read here, once; README.md lists them all."""

from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from .data_folder import kept_key, make_data_folder
from .databases import database_settings
from .environment import read_environment
from .static_headers import rule_of_workers

BASE_DIR = Path(__file__).resolve().parent.parent
env, BARE_START = read_environment(BASE_DIR)

# --- this installation -------------------------------------------------------------------
DEPLOYMENT = env.choice("DEPLOYMENT", "demo", ("demo", "production", "test"))
IN_PRODUCTION = DEPLOYMENT == "production"
IN_DEMO = DEPLOYMENT == "demo"
DEBUG = env.yes_no("DEBUG")

DATA_DIR = Path(env.str("DATA_DIR", default="") or BASE_DIR / "var").resolve()
if IN_DEMO:
    DATA_DIR = DATA_DIR / "demo"  # a demo never touches an installation's data
if not BARE_START:
    make_data_folder(DATA_DIR)

LISTEN_HOST, LISTEN_PORT = env.listen_address("LISTEN", "127.0.0.1:8000")
SITE_URL = env.web_address("SITE_URL", f"http://{LISTEN_HOST}:{LISTEN_PORT}")
ALLOWED_HOSTS = [str(urlsplit(SITE_URL).hostname)]
if not IN_PRODUCTION:
    ALLOWED_HOSTS += ["127.0.0.1", "localhost", "[::1]"]
CSRF_TRUSTED_ORIGINS = [SITE_URL]
SITE_NAME = "Revisit"

SECRET_KEY = env.str("SECRET_KEY", default="")
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
if not SECRET_KEY and IN_PRODUCTION:
    raise ImproperlyConfigured(
        "SECRET_KEY is not set. Production needs its own: 50 or more random characters."
    )
if not SECRET_KEY:
    SECRET_KEY = "bare start, nothing is signed" if BARE_START else kept_key(DATA_DIR)

DEMO_PASSWORD = env.str("DEMO_PASSWORD", default="")
DEMO_FRESH = env.yes_no("FRESH")
DEMO_SIZE = env.choice("DEMO_SIZE", "small", ("small", "large"))
DEMO_MAIL = env.choice("DEMO_MAIL", "sent", ("sent", "held"))

# --- applications ------------------------------------------------------------------------
INSTALLED_APPS = [
    "config.apps.WiringConfig",
    "equipment.apps.EquipmentConfig",
    "jobs.apps.JobsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "axes",
    "csp",
    "django_htmx",
    "phonenumber_field",
    "simple_history",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "jobs.http.no_nul",
    "axes.middleware.AxesMiddleware",  # last: it turns a refused sign-in into its answer
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

# --- database ----------------------------------------------------------------------------
DATABASES: dict[str, dict[str, Any]] = {
    "default": database_settings(env, DATA_DIR, ignore_environment=IN_DEMO)
}
BACKUP_DIR = DATA_DIR / "backups"
BACKUPS_KEPT = env.whole_number("BACKUPS_KEPT", 14, 1, 1000)

# --- people and sessions -----------------------------------------------------------------
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
    {"NAME": "jobs.forms.passwords.GuessablePasswordValidator"},
]
PASSWORD_RESET_TIMEOUT = 3600
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
SESSION_COOKIE_AGE = env.seconds("OFFICE_SESSION_SECONDS", timedelta(hours=12))
#: a technician's phone; set by the sign-in page for people without an office role
TECHNICIAN_SESSION_AGE = env.seconds("TECHNICIAN_SESSION_SECONDS", timedelta(days=7))
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = ["username"]  # addresses and known devices: jobs/views/sign_in_guard.py
AXES_HANDLER = "jobs.views.sign_in_guard.Guard"
AXES_USERNAME_CALLABLE = "jobs.views.sign_in_guard.counted_name"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False  # nobody can keep a colleague locked out
AXES_LOCKOUT_TEMPLATE = "locked_out.html"
AXES_VERBOSE = False

# --- web security ------------------------------------------------------------------------
CSRF_FAILURE_VIEW = "jobs.views.field.csrf_failure"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IN_PRODUCTION
DEVICE_COOKIE_NAME = "device"
if IN_PRODUCTION:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    DEVICE_COOKIE_NAME = "__Host-device"
SECURE_SSL_REDIRECT = IN_PRODUCTION
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked on the machine itself, without TLS
SECURE_HSTS_SECONDS = (
    env.seconds("HSTS_SECONDS", timedelta(days=365), low=0) if IN_PRODUCTION else 0
)
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.yes_no("HSTS_INCLUDE_SUBDOMAINS")
SECURE_HSTS_PRELOAD = env.yes_no("HSTS_PRELOAD")
SILENCED_SYSTEM_CHECKS = [
    # subdomains and preload bind the company's whole domain: its decision, not a default
    "security.W005",
    "security.W021",
    # addresses are counted by our own handler, and not at all where the proxy does not tell them
    "axes.W006",
]
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "style-src-attr": ["'unsafe-inline'"],  # charts drawn inside the page
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
    }
}
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# --- language and time -------------------------------------------------------------------
LANGUAGE_CODE = "en-us"
USE_I18N = True
USE_TZ = True
TIME_ZONE = env.zone("TIME_ZONE", "America/New_York")
PHONENUMBER_DEFAULT_REGION = "US"
PHONENUMBER_DEFAULT_FORMAT = "NATIONAL"

# --- files -------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "media"
DOCUMENT_ROOT = DATA_DIR / "documents"
#: Python for the browser, as `make setup` brought it; what runs in it is built when it serves
RUNTIME_DIR = BASE_DIR / "var" / "runtime"
PHONE_DIR = DATA_DIR / "phone"
#: off: phones drop what they carry and ask the server for every page; what they have kept is sent
FIELD_OFFLINE = env.yes_no("FIELD_OFFLINE", True)
STATICFILES_DIRS = [
    (name, folder)
    for name, folder in (("runtime", RUNTIME_DIR), ("phone", PHONE_DIR))
    if folder.is_dir()
]
WHITENOISE_USE_FINDERS = not IN_PRODUCTION
#: names with a sum of what they hold, and the folder of one version of the runtime
WHITENOISE_IMMUTABLE_FILE_TEST = r"^/static/runtime/[0-9]|\.[0-9a-f]{12}\.\w+$"
WHITENOISE_ADD_HEADERS_FUNCTION = rule_of_workers
_STATIC_STORAGE = (
    "config.static_files.StaticFiles"
    if IN_PRODUCTION
    else "django.contrib.staticfiles.storage.StaticFilesStorage"
)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": _STATIC_STORAGE},
}

# --- mail --------------------------------------------------------------------------------
EMAIL_URL = "" if IN_DEMO else env.str("EMAIL_URL", default="")
if EMAIL_URL:
    _smtp = env.url_of_kind("EMAIL_URL", EMAIL_URL, ("smtp", "smtp+tls", "smtp+ssl"))
    vars().update(env.email_url_config(_smtp))
    EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"  # knows when a message has left us
else:
    EMAIL_BACKEND = "jobs.mail.files.FileMailBackend"
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.str("MAIL_FROM", default="office@example.com")

# --- background work ---------------------------------------------------------------------
TICK_SECONDS = env.whole_number("TICK_SECONDS", 60 if IN_PRODUCTION else 2, 1, 3600)
WEB_THREADS = env.whole_number("WEB_THREADS", 4, 1, 64)
WORKER_CHILDREN = env.whole_number("WORKER_CHILDREN", 1, 1, 64)
CELERY_BROKER_URL = "" if IN_DEMO else env.str("CELERY_BROKER_URL", default="")
OWN_BROKER = not CELERY_BROKER_URL  # in the memory of the one worker: config/celery.py
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any]
if OWN_BROKER:
    CELERY_BROKER_URL = "memory://localhost/"
    CELERY_BROKER_TRANSPORT_OPTIONS = {"polling_interval": 0.2}
    CELERY_WORKER_POOL = "solo"  # whoever ends the work ends the worker, which `serve` sees
else:
    env.url_of_kind("CELERY_BROKER_URL", CELERY_BROKER_URL, ("redis", "rediss"))
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 600,  # above the hard limit, or a running task is handed out again
        "socket_connect_timeout": 1,
        "socket_timeout": 5,
        "max_retries": 1,
        "interval_start": 0,
        "interval_step": 0.1,
        "interval_max": 0.2,
    }
CELERY_TIMEZONE = "UTC"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = CELERY_RESULT_SERIALIZER = "json"
CELERY_TASK_IGNORE_RESULT = True  # outcomes are rows
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_TASK_PUBLISH_RETRY_POLICY = {"max_retries": 1, "interval_step": 0.1}
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_MAX_TASKS_PER_CHILD = 500
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 30
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = True
CELERY_WORKER_REDIRECT_STDOUTS = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BEAT_SCHEDULER = "celery.beat.Scheduler"  # keeps nothing: the database is the schedule
RESTARTS_FILE = DATA_DIR / "run" / "restarts.json"

# --- logging -----------------------------------------------------------------------------
LOG_LEVEL = env.choice("LOG_LEVEL", "INFO", ("DEBUG", "INFO", "WARNING", "ERROR"))
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "ids_only": {
            "()": "config.log_format.IdsOnlyFormatter",
            "format": "%(asctime)s %(levelname)s %(name)s %(message)s",
        }
    },
    "filters": {"not_late_health": {"()": "config.log_format.NotLateHealth"}},
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "formatter": "ids_only",
            "filters": ["not_late_health"],
        }
    },
    "root": {"handlers": ["stderr"], "level": LOG_LEVEL},
    "loggers": {
        "django": {"handlers": [], "propagate": True},
        "django.server": {"handlers": [], "propagate": True},
        # user names and addresses of failed sign-ins are rows of axes, not log lines
        "axes": {"level": "CRITICAL"},
        # one line for each tick would bury everything else
        "celery": {"level": "WARNING"},
        # that a page waits for a thread is no news
        "waitress.queue": {"level": "ERROR"},
    },
}
