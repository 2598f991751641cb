"""Every command by name, with the module that holds it; nothing is imported until a command is used.

``specdb --help`` is written from this list alone, which keeps it quick and free of the heavy libraries.
"""

from __future__ import annotations

from dataclasses import dataclass

# how the completion script asks for what may be typed next
COMPLETE_VARIABLE = "_SPECDB_COMPLETE"


@dataclass(frozen=True, slots=True)
class Entry:
    """A command that is loaded when it is used.

    Attributes
    ----------
    section : str
        Heading in the help.
    target : str
        ``module:attribute``, the module within ``specdb.cli``.
    summary : str
        One line for the help.
    """

    section: str
    target: str
    summary: str


MAIN_JOB = "The main job"
ORDERS = "Orders"
LOOK = "Look"
CHANGE = "Change"
STOCK = "Stock and supply"
FILES = "Files"
SAFETY = "Keep it safe"
SHELL = "Shell"

COMMANDS: dict[str, Entry] = {
    "demo": Entry(MAIN_JOB, "demo:demo", "Make the demonstration catalogue and run the main job on it."),
    "substitutes": Entry(MAIN_JOB, "substitutes:substitutes", "Rank the shafts that play nearest to a fitted club."),
    "heads": Entry(MAIN_JOB, "heads:heads", "Rank the heads that come nearest to one that cannot be had."),
    "fitup": Entry(MAIN_JOB, "fitup:fitup", "Say whether a tip goes in a bore, and what must be done first."),
    "mechanics": Entry(MAIN_JOB, "mechanics:mechanics", "Work out the cut, glued, gripped club in numbers."),
    "sheet": Entry(MAIN_JOB, "sheet:sheet", "Write a build sheet: parts, the work in order, what to measure."),
    "built": Entry(MAIN_JOB, "built:built", "Enter what was measured on a finished club, and judge it."),
    "choose": Entry(MAIN_JOB, "choices:choose", "Keep a chosen stand-in for a club, with who and why."),
    "reject": Entry(MAIN_JOB, "choices:reject", "Turn a stand-in down for a club, with who and why."),
    "weighting": Entry(MAIN_JOB, "choices:weighting", "Show or change what counts as a difference."),
    "allocate": Entry(ORDERS, "allocate:allocate", "Plan all open orders against the shelf and what is expected."),
    "order": Entry(ORDERS, "order:order", "List, take and change orders; keep and build in their parts."),
    "report": Entry(ORDERS, "report:report", "Report on orders, parts and finished clubs, also as a page."),
    "ui": Entry(LOOK, "ui:ui", "Open the terminal interface; specdb alone opens it too."),
    "list": Entry(LOOK, "look:list_kind", "List what the catalogue holds."),
    "show": Entry(LOOK, "show:show", "Show one item: where its values come from, stock, what refers to it."),
    "profile": Entry(LOOK, "profile:profile", "Estimate a shaft's stiffness, with uncertainty, from what is known."),
    "estimate": Entry(CHANGE, "estimate:estimate", "Bring the kept stiffness estimates up to date."),
    "batch": Entry(LOOK, "batch:batch", "Say whether some pieces of a shaft play differently."),
    "instruments": Entry(LOOK, "instruments:instruments", "List the shop's instruments with how far they are off."),
    "like": Entry(LOOK, "like:like", "List the shafts that a shaft is most like, as they come."),
    "fields": Entry(LOOK, "look:fields", "List the kinds, or the fields of one kind."),
    "bias": Entry(LOOK, "built:bias", "Say how finished clubs come out against what was predicted."),
    "history": Entry(LOOK, "journal:history", "List what was changed, when, by whom and why."),
    "set": Entry(CHANGE, "change:set_fields", "Change fields of an item, or add one with --new."),
    "retire": Entry(CHANGE, "change:retire", "Retire an item; what refers to it is kept."),
    "undo": Entry(CHANGE, "journal:undo", "Undo a change; the undo is a change too."),
    "stock": Entry(STOCK, "stock:stock", "Show the stock; book what came in, went out or was counted."),
    "supply": Entry(STOCK, "stock:supply", "Show or change what is on order or backordered."),
    "template": Entry(FILES, "files:template", "Write an empty table with headings and a help row."),
    "import": Entry(FILES, "files:import_rows", "Import a CSV, TSV, XLSX, ODS or Parquet file."),
    "export": Entry(FILES, "files:export", "Export the whole catalogue as a Data Package."),
    "import-package": Entry(FILES, "files:import_package", "Import a Data Package that was exported."),
    "backup": Entry(SAFETY, "safety:backup", "Write a copy of the catalogue."),
    "restore": Entry(SAFETY, "safety:restore", "Bring the catalogue back from a copy."),
    "check": Entry(SAFETY, "safety:check", "Check that the catalogue is whole and sound."),
    "completion": Entry(SHELL, "completion:completion", "Print the completion script for a shell."),
}
