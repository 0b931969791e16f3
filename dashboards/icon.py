"""The tab's icon: a stretched canvas and a heavy line over a broken limit; light and dark by the browser's scheme."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from flask import Flask, Response

SVG = (Path(__file__).parent / "assets" / "icon.svg").read_bytes()
LINK = f'<link rel="icon" type="image/svg+xml" href="data:image/svg+xml,{quote(SVG)}">'  # asks for nothing


def serve(server: Flask) -> None:
    """Ours under the address of the framework's, for a browser that kept that one."""
    server.view_functions["/_favicon.ico"] = lambda: Response(SVG, mimetype="image/svg+xml")


__all__ = ["LINK", "SVG", "serve"]
