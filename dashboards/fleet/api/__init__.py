"""The fleet for programs: JSON under /api/v1, from one table of what can be asked (`table.py`)."""

from __future__ import annotations

from dashboards.fleet.api.routes import Api, api_routes

__all__ = ["Api", "api_routes"]
