"""What a server of pages runs."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("THIRTYSIX_SERVES_PAGES", "1")
application = get_wsgi_application()

# What is loaded stands until the server ends. Out of the collector's sight, it is not gone through
# again at every few requests: one page in twenty waited a tenth of a second for that.
_pages = get_resolver().url_patterns  # loads every page, before somebody asks for the first
gc.collect()
gc.freeze()
