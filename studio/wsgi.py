"""The WSGI door, for waitress or any other server."""

import os
import sys

import django
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()

from studio.kit.static_names import collect  # noqa: E402  (the settings come first)
from studio.whole.backups.places import NoBackup, serve_here  # noqa: E402

collect()  # before anything asks for an address of theirs
application = get_wsgi_application()

try:
    _serving = serve_here()  # kept open for the life of the process: nothing is restored under a server
except NoBackup as restoring:
    sys.exit(str(restoring))
except OSError:  # a data folder that cannot be written: its pages say so
    pass
