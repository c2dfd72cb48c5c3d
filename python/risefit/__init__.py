"""Fit the rise of a foam grade and the leak of a mold to logged trials; predict the next casting."""

from risefit import errors
from risefit._core import __version__
from risefit.errors import RisefitError

__all__ = ["RisefitError", "__version__", "errors"]
