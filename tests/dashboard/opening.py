"""The dashboard's script, and the kind of function by which tests open its pages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from streamlit.testing.v1 import AppTest

import dashboard

APP = Path(dashboard.__file__).with_name("app.py")
Open = Callable[..., AppTest]
