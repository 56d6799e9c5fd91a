"""dayburn: from a lighting maintenance call log to failure curves, wasted energy and payback."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("dayburn")
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0+source"
