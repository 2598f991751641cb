"""Options that several commands take."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from specdb.cli.completion import complete_key, complete_key_of, complete_kind

if TYPE_CHECKING:
    from specdb.verbs.clubs.clubs import ClubRequest

DAY_HELP = "2026-12-18, 18 Dec, Friday, 'in 2 weeks', +10"
"""How a day that is still to come may be typed."""

F = TypeVar("F", bound=Callable[..., Any])


def json_option(function: F) -> F:
    """``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON on standard output.")(function)


def journal_options(function: F) -> F:
    """``--by`` and ``--why``, which are kept in the journal."""
    function = click.option("--why", metavar="TEXT", help="The reason, kept in the journal.")(function)
    return click.option("--by", metavar="NAME", envvar="SPECDB_BY", help="Who does it; else $SPECDB_BY.")(function)


def kind_argument(function: F) -> F:
    """``KIND``."""
    return click.argument("kind", shell_complete=complete_kind)(function)


def key_argument(function: F) -> F:
    """``ID`` of the kind before it."""
    return click.argument("key", metavar="ID", shell_complete=complete_key)(function)


def day_ahead(context: click.Context, parameter: click.Parameter, value: str | None) -> dt.date | None:
    """A day that is still to come, as people type it; the callback of an option.

    Parameters
    ----------
    context, parameter
        As click's.
    value : str or None
        As typed; how it was understood is said on standard error where that is not plain, or is past.
    """
    if value is None:
        return None
    from specdb.cli.output import note
    from specdb.errors import UnitError
    from specdb.units import day_in_full, parse_day_ahead
    from specdb.verbs.catalogue.values import today

    try:
        day = parse_day_ahead(value, today())
    except UnitError as error:
        raise click.BadParameter(str(error), context, parameter) from error
    if value.strip() != day.isoformat() or day < today():
        note(f"'{value}' is {day_in_full(day, today())}.")
    return day


def quantity(name: str, field: str, text: str, *, metavar: str = "IN", kind: str = "club") -> Callable[[F], F]:
    """An option that takes a quantity as a field does, in any unit people type.

    Parameters
    ----------
    name : str
        Name of the option.
    field, kind : str
        Field whose unit and range hold for it.
    text : str
        Help.
    metavar : str
        Unit that is meant where none is typed.
    """

    def read(context: click.Context, parameter: click.Parameter, value: str | None) -> Any:  # noqa: ANN401
        if value is None:
            return None
        from specdb.errors import FieldError, UnitError
        from specdb.verbs.catalogue.values import parse_option

        try:
            found = parse_option(kind, field, value)
        except (FieldError, UnitError) as error:
            raise click.BadParameter(str(error), context, parameter) from error
        if found is None:
            raise click.BadParameter("a value is needed", context, parameter)
        return found

    return click.option(name, metavar=metavar, callback=read, help=text)


def _part(name: str, text: str) -> Callable[[F], F]:
    return click.option(f"--{name}", metavar="ID", shell_complete=complete_key_of(name), help=text)


_BUILD_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    _part("club", "A fitted club; the options below change it."),
    _part("shaft", "Shaft."),
    _part("head", "Head."),
    _part("adapter", "Adapter, for a head with a connection."),
    click.option("--setting", metavar="NAME", help="Setting of the adapter."),
    _part("sleeve", "Sleeve between tip and bore."),
    _part("ferrule", "Ferrule."),
    _part("grip", "Grip."),
    _part("adhesive", "Adhesive; its gap limits hold for the fit."),
    quantity("--length", "playing_length_in", "Playing length, such as 45.5, '45 1/2' or 1156mm."),
    quantity("--tip-trim", "tip_trim_in", "Cut off the tip."),
    quantity("--insertion", "insertion_in", "How deep the tip sits; the full bore depth if not given."),
)
_CLUB_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    *_BUILD_OPTIONS,
    click.option(
        "--swingweight", metavar="SW", help="Restore this swingweight by weight at the head, such as D2 or D2.5."
    ),
    quantity("--head-add", "head_add_g", "Weight at the head, instead of a swingweight.", metavar="G"),
    quantity("--clamp", "frequency_clamp_in", "Clamped length of butt for frequency; 5 if not given."),
)


def club_options(function: F) -> F:
    """The options that say which club is meant."""
    for option in reversed(_CLUB_OPTIONS):
        function = option(function)
    return function


def set_option(function: F) -> F:
    """``--set``, a whole fitted set in the place of one club."""
    return click.option("--set", "set_id", metavar="ID", help="A whole fitted set instead of one club.")(function)


def no_club_beside_set(given: Mapping[str, Any]) -> None:
    """Refuse options that say which club is meant where a set is asked about.

    Parameters
    ----------
    given : mapping
        Values of the club options by name.
    """
    named = [name for name, value in given.items() if value is not None]
    if named:
        raise click.UsageError(
            f"--set asks about the clubs as they were fitted: leave --{named[0].replace('_', '-')} out"
        )


def build_options(function: F) -> F:
    """The options that say which tip goes in which bore."""
    for option in reversed(_BUILD_OPTIONS):
        function = option(function)
    return function


def club_request(given: dict[str, Any]) -> ClubRequest:
    """Make a request of the club options, and take them out of what was given.

    Parameters
    ----------
    given : dict
        Values of the options by name.
    """
    from specdb.verbs.catalogue.values import parse_option
    from specdb.verbs.clubs.clubs import ClubRequest

    text, head_add = given.pop("swingweight", None), given.pop("head_add", None)
    names = ("club", "shaft", "head", "adapter", "setting", "sleeve", "ferrule", "grip", "adhesive")
    found = {name: given.pop(name) for name in names}
    blank = [name for name, value in found.items() if value is not None and not value.strip()]
    if blank:
        raise click.UsageError(f"--{blank[0]} is empty")
    swingweight = None
    if text is not None:
        swingweight = parse_option("club", "swingweight", text)
        if swingweight is None:
            raise click.UsageError("--swingweight is empty")
        swingweight = swingweight.upper()
    if swingweight is not None and head_add is not None:
        raise click.UsageError("--swingweight and --head-add exclude each other: the first finds the second")
    return ClubRequest(
        **found,
        length_in=given.pop("length"),
        tip_trim_in=given.pop("tip_trim"),
        insertion_in=given.pop("insertion"),
        swingweight=swingweight,
        head_add_g=head_add,
        clamp_in=given.pop("clamp", None),
    )
