"""Settings of the test runner: an own folder for each process, nothing of an installation."""

import atexit
import os
import shutil
import tempfile

_folder = tempfile.mkdtemp(prefix="test-data-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["DEPLOYMENT"] = "test"
os.environ["DATA_DIR"] = _folder

from .settings import *  # noqa: E402

SITE_URL = "http://testserver"
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
CSRF_TRUSTED_ORIGINS = [SITE_URL]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
AXES_ENABLED = False
WHITENOISE_AUTOREFRESH = True  # no scan of the static files for each test client

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
    # power loss is not part of a test
    DATABASES["default"]["OPTIONS"]["init_command"] = (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF; PRAGMA foreign_keys=ON;"
    )
