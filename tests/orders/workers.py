"""What other processes do in the test of promises; run as a script. Whatever is refused is said with its reason."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable

from specdb.catalogue import Catalogue
from specdb.errors import SpecdbError
from specdb.verbs.catalogue.changing import decide, move_stock, retire, set_fields
from specdb.verbs.orders.allocation import AllocationOptions, plan_orders, reserve_plan
from specdb.verbs.orders.changes import Wanted, add_order, set_order_state
from specdb.verbs.orders.parts import Which, release_parts, reserve_parts, spoil_parts, use_parts

PARTS = (("shaft", "reed"), ("shaft", "sedge"), ("shaft", "rush"), ("grip", "moss"), ("head", "wren"))
ORDERS = tuple(f"o-{n}" for n in range(6))


def undo(shop: Catalogue, change: int) -> None:
    """Take a change back; the newest where it is 0."""
    with shop.write(done="undo") as w:
        w.undo(change or None)


def acts(dice: random.Random) -> tuple[str, Callable[[Catalogue], object]]:
    """One thing that somebody in a shop does."""
    order, (kind, item) = dice.choice(ORDERS), dice.choice(PARTS)
    few, which = dice.randint(1, 3), Which(parts=(dice.choice(("shaft", "grip", "head")),))
    state = dice.choice(("at_bench", "open", "cancelled", "finished", "collected"))
    line = dice.choice((Wanted(club_id="driver", quantity=few), Wanted(set_id="irons"), Wanted(club_id="iron-7")))
    all_acts: list[tuple[str, Callable[[Catalogue], object]]] = [
        ("receive", lambda s: move_stock(s, "receive", kind, item, few)),
        ("take", lambda s: move_stock(s, "use", kind, item, few)),
        ("count", lambda s: move_stock(s, "count", kind, item, few)),
        ("damage", lambda s: move_stock(s, "damage", kind, item, 1)),
        ("order", lambda s: add_order(s, order, [line])),
        ("reserve", lambda s: reserve_parts(s, order)),
        ("reserve", lambda s: reserve_parts(s, order)),
        ("reserve", lambda s: reserve_parts(s, order, which, whole=True)),
        ("plan", lambda s: reserve_plan(s, plan_orders(s, AllocationOptions(propose=False)))),
        ("release", lambda s: release_parts(s, order, which)),
        ("use", lambda s: use_parts(s, order, which)),
        ("use", lambda s: use_parts(s, order)),
        ("spoil", lambda s: spoil_parts(s, order, which)),
        ("state", lambda s: set_order_state(s, order, state)),
        ("undo", lambda s: undo(s, 0)),
        ("undo", lambda s: undo(s, dice.randint(2, 60))),
        ("quantity", lambda s: set_fields(s, "order_line", f"{order}/1", [f"quantity={few}"])),
        ("retire", lambda s: retire(s, "shaft", dice.choice(("reed", "bulrush")))),
        ("choose", lambda s: decide(s, "driver", "sedge", dice.choice(("chosen", "rejected")))),
    ]
    return dice.choice(all_acts)


def run(path: str, seed: str, count: str) -> None:
    """Do so many things, one after the other."""
    dice, shop = random.Random(int(seed)), Catalogue(path)
    for _ in range(int(count)):
        name, act = acts(dice)
        try:
            act(shop)
            print("done", name, flush=True)
        except SpecdbError as error:
            print("refused", name, type(error).__name__, str(error).replace("\n", " "), flush=True)


if __name__ == "__main__":
    run(*sys.argv[1:])
