"""The group ``specdb order``; its commands stand in modules of their own."""

from __future__ import annotations

import click

from specdb.cli.base import group


@group(
    "order",
    "specdb order list",
    "specdb order show o-1042",
    "specdb order reserve o-1043",
    "specdb order import orders.csv --dry-run",
)
@click.pass_context
def order(context: click.Context) -> None:
    """List, take and change orders: what they need, what is kept for them, what is short."""
    if context.invoked_subcommand is None:
        from specdb.cli.order_look import list_orders

        context.invoke(list_orders)
