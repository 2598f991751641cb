"""``specdb estimate``."""

from __future__ import annotations

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.options import json_option
from specdb.cli.progress import bar, tell_of_waiting


@command("estimate", "specdb estimate", "specdb estimate --json")
@json_option
def estimate(as_json: bool) -> None:
    """Bring the kept stiffness estimates up to date.

    Shafts without a complete EI table are estimated from what else is known of them. That happens by itself after
    a change of up to some thousand shafts; after a larger import it is left to this command. Only what changed is
    done again, or everything when what shafts are usually like has been learned anew.
    """
    from specdb.verbs.stiffness.estimates import refresh

    tell_of_waiting()
    with bar() as progress:
        done = refresh(settings().open(), progress=progress)
    if as_json:
        output.emit_json(done.to_json())
        return
    output.line(f"{output.plural(done.estimated, 'estimate')} made; {done.kept} kept in all.")
    if done.population is not None:
        output.sentence(done.population.sentence())
