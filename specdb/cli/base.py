"""What all commands share: the options every one takes, help that ends with examples, lazy loading."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from specdb.cli.registry import Entry

if TYPE_CHECKING:
    from specdb.catalogue import Catalogue
    from specdb.catalogue.promises import Beyond


@dataclass(slots=True)
class Settings:
    """What was said once for the whole run.

    Attributes
    ----------
    catalogue : str or None
        The file named with ``--catalogue``.
    debug : bool
        Whether a traceback is shown when something goes wrong.
    """

    catalogue: str | None = None
    debug: bool = False

    @property
    def path(self) -> Path:
        """The catalogue file to work on."""
        from specdb.paths import default_catalogue_path

        return default_catalogue_path(self.catalogue)

    def open(self) -> Catalogue:
        """The catalogue, which is not touched until it is used."""
        from specdb.cli.progress import tell_of_waiting
        from specdb.verbs.catalogue.opening import open as open_catalogue

        tell_of_waiting()
        catalogue = open_catalogue(self.path)
        catalogue.when_beyond = _tell_of_beyond
        return catalogue

    def open_for_adding(self) -> Catalogue:
        """The catalogue, made where there is none yet; that is said on standard error."""
        from specdb.cli.output import note
        from specdb.cli.progress import tell_of_waiting
        from specdb.verbs.catalogue.opening import open_or_create

        tell_of_waiting()
        catalogue, made = open_or_create(self.path)
        catalogue.when_beyond = _tell_of_beyond
        if made:
            note(f"Made a new catalogue: {self.path}")
        return catalogue


def _tell_of_beyond(short: Sequence[Beyond]) -> None:
    """Say which orders a count or damage has hit."""
    from specdb.cli.output import note

    for found in short:
        note(f"Mind: {found.message}.")


def settings() -> Settings:
    """The settings of the running command."""
    found = click.get_current_context().find_object(Settings)
    if found is None:
        raise RuntimeError("a command was started without settings")
    return found


def _keep_catalogue(context: click.Context, parameter: click.Parameter, value: str | None) -> None:
    if value is not None and not value.strip():
        # an unset variable of a script must not lead to another catalogue
        raise click.BadParameter("it is empty; name the catalogue file", context, parameter)
    if value is not None:
        context.ensure_object(Settings).catalogue = value


def _keep_debug(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        context.ensure_object(Settings).debug = True


def common_options() -> list[click.Parameter]:
    """The options every command takes."""
    return [
        click.Option(
            ["--catalogue"],
            metavar="FILE",
            expose_value=False,
            is_eager=True,
            callback=_keep_catalogue,
            type=click.Path(),
            help="Catalogue file; else $SPECDB_CATALOGUE, else the one in your data folder.",
        ),
        click.Option(
            ["--debug"],
            is_flag=True,
            expose_value=False,
            is_eager=True,
            callback=_keep_debug,
            help="Show the full traceback when something goes wrong.",
        ),
    ]


def _write_examples(formatter: click.HelpFormatter, examples: Iterable[str]) -> None:
    with formatter.section("Examples"):
        for line in examples:
            formatter.write(f"{'':>{formatter.current_indent}}{line}\n")


class ExampleCommand(click.Command):
    """A command with the common options, whose help ends with examples."""

    def __init__(self, *args: Any, examples: tuple[str, ...] = (), **kwargs: Any) -> None:  # noqa: ANN401 (as click's)
        super().__init__(*args, **kwargs)
        self.examples = examples
        self.params.extend(common_options())

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 (as click's)
        """Write the examples last."""
        _write_examples(formatter, self.examples)


class ExampleGroup(click.Group):
    """A command with commands of its own."""

    command_class = ExampleCommand

    def __init__(self, *args: Any, examples: tuple[str, ...] = (), **kwargs: Any) -> None:  # noqa: ANN401 (as click's)
        super().__init__(*args, **kwargs)
        self.examples = examples
        self.params.extend(common_options())

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 (as click's)
        """Write the examples last."""
        _write_examples(formatter, self.examples)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which one may have been meant."""
        name = args[0]
        if not name.startswith("-") and self.get_command(ctx, name) is None and not ctx.resilient_parsing:
            near = difflib.get_close_matches(name, self.list_commands(ctx), n=2, cutoff=0.5)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            raise click.UsageError(f"there is no command '{name}'.{hint}", ctx)
        return super().resolve_command(ctx, args)


class LazyGroup(ExampleGroup):
    """The top command: its commands are named in a registry and loaded one by one."""

    def __init__(self, *args: Any, entries: Mapping[str, Entry], **kwargs: Any) -> None:  # noqa: ANN401 (as click's)
        super().__init__(*args, **kwargs)
        self.entries = entries

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (as click's)
        """Names of the commands, in the order of the registry."""
        return list(self.entries)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 (as click's)
        """Load one command."""
        entry = self.entries.get(cmd_name)
        if entry is None:
            return None
        module, attribute = entry.target.split(":")
        command: click.Command = getattr(import_module(f"specdb.cli.{module}"), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 (as click's)
        """Write the commands under their headings, without loading any of them."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for name, entry in self.entries.items():
            sections.setdefault(entry.section, []).append((name, entry.summary))
        widest = max(len(name) for name in self.entries)
        for heading, rows in sections.items():
            with formatter.section(heading):
                formatter.write_dl([(name.ljust(widest), summary) for name, summary in rows])

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[Any]:
        """Offer command names without loading them."""
        from click.shell_completion import CompletionItem

        fitting = ((n, e.summary) for n, e in self.entries.items() if n.startswith(incomplete))
        found = [CompletionItem(name, help=summary) for name, summary in fitting]
        return found or super().shell_complete(ctx, incomplete)


def command(name: str, *examples: str) -> Callable[[Callable[..., Any]], ExampleCommand]:
    """Make a command; its examples stand at the end of its help.

    Parameters
    ----------
    name : str
        Name as typed.
    *examples : str
        Whole command lines.
    """
    return click.command(name, cls=ExampleCommand, examples=examples)


def group(name: str, *examples: str) -> Callable[[Callable[..., Any]], ExampleGroup]:
    """Make a command with commands of its own; its function runs first, and alone where none of them is typed.

    Parameters
    ----------
    name : str
        Name as typed.
    *examples : str
        Whole command lines.
    """
    return click.group(name, cls=ExampleGroup, examples=examples, invoke_without_command=True)
