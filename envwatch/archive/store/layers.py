"""Layers put into a painting's stack: by hand, or because a treatment put them on.

A treatment that binds something leaves a layer behind; without it, its film would never be judged. Older films stay
in the stack: whether they were taken off is not known from the treatment alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, insert, select, update

from envwatch.archive.store.tables import LAYERS
from envwatch.core.painting import ROLES, Role, area_of, role_of


def add(connection: Connection, treatment: Mapping[str, Any], materials: set[str]) -> None:
    """The layers of a treatment that is being recorded, unless the stack has them from that day already."""
    role = role_of(treatment["kind"])
    if not role:
        return
    _put(connection, treatment, role, treatment["material"] or "unknown")
    if role == Role.FILM and treatment["cloth"] in materials:
        _put(connection, treatment, Role.LINING_CANVAS, treatment["cloth"])


def _put(connection: Connection, treatment: Mapping[str, Any], role: Role, material: str) -> None:
    held = select(LAYERS).where(LAYERS.c.painting == treatment["painting"], LAYERS.c.role == role)
    day = treatment["on"][:10]
    for layer in connection.execute(held).mappings():
        if layer["applied_on"][:10] == day and layer["material"] == material:
            return
    insert_layer(connection, {
        "painting": treatment["painting"], "role": role, "material": material, "area": area_of(role),
        "applied_on": treatment["on"], "assumed": material == "unknown", "note": f"by treatment {treatment['id']}",
    })  # fmt: skip


def insert_layer(connection: Connection, layer: Mapping[str, Any], order: int | None = None) -> None:
    """A layer in the place its role has from front to back (behind its like), or at the order given."""
    if order is None:
        held = select(LAYERS).where(LAYERS.c.painting == layer["painting"]).order_by(LAYERS.c.order)
        stack = connection.execute(held).mappings().all()
        rank = ROLES.index(layer["role"])
        behind = [row["order"] for row in stack if ROLES.index(row["role"]) > rank]
        order = min(behind, default=max((row["order"] for row in stack), default=0) + 1)
        for row in stack:
            if row["order"] >= order:
                connection.execute(update(LAYERS).where(LAYERS.c.id == row["id"]).values(order=row["order"] + 1))
    connection.execute(insert(LAYERS).values(**{**layer, "order": order}))


__all__ = ["add", "insert_layer"]
