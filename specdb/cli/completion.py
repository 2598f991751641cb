"""``specdb completion``, and what the shell is offered for kinds, keys and fields."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from specdb.cli.base import Settings, command
from specdb.cli.output import line
from specdb.cli.registry import COMPLETE_VARIABLE

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.shell_completion import CompletionItem

    Completer = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]

_MOST = 200
_WAIT_SECONDS = 0.3


@command("completion", "specdb completion bash >> ~/.bashrc", "specdb completion fish | source")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the script that teaches SHELL to complete commands, options, kinds, keys and fields."""
    from click.shell_completion import get_completion_class

    found = get_completion_class(shell)
    if found is None:
        raise click.UsageError(f"no completion for {shell}")
    writer = found(click.Command("specdb"), {}, "specdb", COMPLETE_VARIABLE)
    line(writer.source_template % writer.source_vars())


def complete_kind(_context: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Kinds that begin as typed."""
    from click.shell_completion import CompletionItem

    from specdb.schema import load_schema

    schema = load_schema()
    return [CompletionItem(k, help=schema.table(k).title) for k in schema.kinds if k.startswith(incomplete)]


def complete_key(context: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Keys of the kind named before."""
    kind = context.params.get("kind")
    return keys_of(context, str(kind), incomplete) if kind else []


def complete_field(context: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """``field=`` of the kind named before; after the sign, the words it takes."""
    from click.shell_completion import CompletionItem

    from specdb.errors import SpecdbError
    from specdb.schema import load_schema

    try:
        table = load_schema().table(str(context.params.get("kind")))
        name, sign, typed = incomplete.partition("=")
        if sign:
            return [CompletionItem(f"{name}={w}") for w in table.field(name).enum if w.startswith(typed)]
    except SpecdbError:
        return []
    fitting = (f for f in table.fields if f.name.startswith(incomplete))
    return [CompletionItem(f"{f.name}=", help=f.allowed()) for f in fitting]


def keys_of(context: click.Context, kind: str, incomplete: str) -> list[CompletionItem]:
    """Keys of a kind that begin as typed; nothing where the catalogue cannot be read at once.

    Parameters
    ----------
    context : click.Context
        Of the command that is being typed.
    kind : str
        The kind.
    incomplete : str
        What was typed of the key.
    """
    from click.shell_completion import CompletionItem

    from specdb.errors import SpecdbError
    from specdb.verbs.catalogue.looking import keys_beginning

    chosen = context.find_object(Settings) or Settings()
    try:
        found = keys_beginning(chosen.path, kind, incomplete, most=_MOST, wait_seconds=_WAIT_SECONDS)
    except SpecdbError:
        return []
    return [CompletionItem(key) for key in found]


def complete_key_of(kind: str) -> Completer:
    """A completion of keys of one kind.

    Parameters
    ----------
    kind : str
        The kind.
    """

    def complete(context: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
        return keys_of(context, kind, incomplete)

    return complete
