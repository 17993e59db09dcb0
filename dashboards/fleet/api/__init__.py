"""The fleet for programs: JSON under /api/v1, from one table of what can be asked (`table.py`)."""

from __future__ import annotations

from dashboards.fleet.api.routes import api_routes, routes_of
from dashboards.fleet.api.state import Api

__all__ = ["Api", "api_routes", "routes_of"]
