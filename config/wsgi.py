import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("THIRTYSIX_SERVES_PAGES", "1")
application = get_wsgi_application()
