"""Serve plotly's script from the installed package: nothing copied, nothing fetched."""

from pathlib import Path
from typing import Any

import plotly
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

FOLDER = Path(plotly.__file__).parent / "package_data"
NAME = "plotly.min.js"


class PlotlyFinder(BaseFinder):
    """Finds exactly one file, the script plotly ships."""

    storage = FileSystemStorage(location=str(FOLDER))

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        found = [str(FOLDER / NAME)] if path == NAME else []
        return found if find_all else (found[0] if found else [])

    def list(self, ignore_patterns: Any) -> Any:
        yield NAME, self.storage

    def check(self, **kwargs: Any) -> Any:
        return []
