"""``specdb set`` and ``specdb retire``."""

from __future__ import annotations

import click

from specdb.cli import output
from specdb.cli.base import command, settings
from specdb.cli.completion import complete_field
from specdb.cli.options import journal_options, json_option, key_argument, kind_argument


@command(
    "set",
    "specdb set shaft hollin-reach-holm-60-s weight_g=64.5 torque_deg=3.9 --why 'new leaflet'",
    "specdb set shaft hollin-reach-holm-60-s raw_length_in='46 1/8' tip_dia_in='8.5 mm' max_tip_trim_in=",
    "specdb set --new grip my-grip weight_g=50 core_dia_in=.600",
    "specdb set --new shaft_reading - shaft_id=hollin-reach-holm-60-s sample=piece-1 quantity=weight value=64.3",
)
@kind_argument
@key_argument
@click.argument("words", nargs=-1, required=True, metavar="FIELD=VALUE...", shell_complete=complete_field)
@click.option("--new", is_flag=True, help="Add the item; without this a mistyped ID is refused.")
@journal_options
@json_option
def set_fields(
    kind: str, key: str, words: tuple[str, ...], new: bool, by: str | None, why: str | None, as_json: bool
) -> None:
    """Change fields of an item, or add one with --new.

    Values are typed as usual (45 1/2, 45.5in, 1156 mm, 2.3 oz, .335); FIELD= alone makes a value unknown. With --new
    the ID may be -, and is then worked out from the fields. See 'specdb fields KIND' for the fields.
    """
    from specdb.verbs.catalogue import changing
    from specdb.verbs.catalogue.kinds import table_of

    table_of(kind)  # before a catalogue is made for it
    if new:
        catalogue = settings().open_for_adding()
        done = changing.add_row(catalogue, kind, None if key == "-" else key, words, by=by, why=why)
    else:
        done = changing.set_fields(settings().open(), kind, key, words, by=by, why=why)
    if as_json:
        output.emit_json(done.to_json())
        return
    if done.action == "unchanged":
        output.line(f"{done.kind} {done.key}: nothing to change.")
        return
    output.line(f"{done.kind} {done.key} {done.action}.")
    for name, after in done.after.items():
        if after == done.before.get(name):
            continue
        before = output.cell(done.before.get(name)) or "unknown"
        output.sentence(f"{name}: {before} -> {output.cell(after) or 'unknown'}", indent="  ", hanging="    ")
    output.bullets(done.notes)


@command("retire", "specdb retire shaft hollin-reach-holm-60-s --why 'no longer made'")
@kind_argument
@key_argument
@journal_options
def retire(kind: str, key: str, by: str | None, why: str | None) -> None:
    """Retire an item: it is no longer offered, and what refers to it is kept.

    'specdb set KIND ID status=active' brings it back.
    """
    from specdb.verbs.catalogue import changing
    from specdb.verbs.catalogue.kinds import table_of

    wanted = changing.retire(settings().open(), kind, key, by=by, why=why)
    output.sentence(f"{table_of(kind).name} {key} retired{f'; {wanted}' if wanted else ''}.")
