"""The pages: read clicks, call one function, show the result."""

from dashboards.app import create_app

__all__ = ["create_app"]
