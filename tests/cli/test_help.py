"""Every command is documented, with an example that its own parser takes."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from specdb.cli.base import ExampleCommand, ExampleGroup
from specdb.cli.main import specdb as top
from specdb.cli.registry import COMMANDS
from tests.cli.conftest import Command


def _walk(command: click.Command, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command, info_name=path[-1])
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None, f"{name} of {path} cannot be loaded"
            yield from _walk(found, (*path, name))


ALL = dict(_walk(top, ("specdb",)))


def test_every_command_of_the_contract_is_there() -> None:
    wanted = (
        "demo template import export list show set retire history undo mechanics fitup substitutes "
        "backup restore check stock supply choose reject weighting"
    )
    assert set(wanted.split()) <= set(COMMANDS)


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_help_says_what_it_does_and_ends_with_an_example(path: tuple[str, ...], specdb: Command) -> None:
    ran = specdb(*path[1:], "--help")
    assert ran.status == 0
    assert ran.err == ""
    lines = ran.out.rstrip().splitlines()
    assert lines[-1].strip().startswith(" ".join(path[:2]))
    assert "Examples:" in lines
    assert "--catalogue FILE" in ran.out
    assert "--debug" in ran.out
    command = ALL[path]
    assert command.help
    assert command.help.strip().splitlines()[0].endswith((".", ":"))


def _parse(line: str) -> None:
    """Let the command's own parser take a command line, without running it."""
    words = shlex.split(line.partition(">>")[0].partition("|")[0], comments=True)
    assert words[0] == "specdb"
    target: click.Command = top
    context = click.Context(top, info_name="specdb")
    rest = words[1:]
    while isinstance(target, click.Group) and rest and not rest[0].startswith("-"):
        name = rest.pop(0)
        found = target.get_command(context, name)
        assert found is not None, f"{line}: there is no {name}"
        target, context = found, click.Context(found, info_name=name)
    if "--help" not in rest:
        target.make_context(words[0], rest)


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_examples_are_understood_by_their_own_parser(path: tuple[str, ...]) -> None:
    command = ALL[path]
    assert isinstance(command, ExampleCommand | ExampleGroup)
    for example in command.examples:
        _parse(example)


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_commands_in_the_documents_are_understood(document: str) -> None:
    text = (Path(__file__).parents[2] / document).read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines() if line.startswith("specdb ")]
    assert lines or document != "README.md"
    for line in lines:
        _parse(line)


@pytest.mark.parametrize("name", COMMANDS)
def test_summary_in_the_list_is_the_start_of_the_help(name: str) -> None:
    command = ALL["specdb", name]
    assert command.help
    verb = COMMANDS[name].summary.split()[0]
    assert command.help.split()[0] == verb


def test_every_option_has_help() -> None:
    for path, command in ALL.items():
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help or parameter.name == "fmt", (path, parameter.name)


def test_without_arguments_it_prints_help(specdb: Command) -> None:
    assert specdb().out == specdb("--help").out


def test_version(specdb: Command) -> None:
    from specdb import __version__

    assert specdb("--version").out == f"specdb {__version__}\n"
