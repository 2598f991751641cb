"""``specdb order``, with all its commands."""

from __future__ import annotations

from specdb.cli import order_file, order_look, order_parts, order_taking
from specdb.cli.order_group import order

__all__ = ["order", "order_file", "order_look", "order_parts", "order_taking"]
