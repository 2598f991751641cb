"""Conditions as people write them (``weight_g < 2.3 oz and tip_dia_in = .335``), as SQL with parameters.

Nothing of the text reaches the SQL: fields are looked up in the schema, values become parameters. An unknown
value matches no comparison, also not ``!=``; ask for it with ``is empty``. Text is compared without regard to
upper and lower case; in ``like``, ``%`` stands for any text and ``_`` for one character.

::

    condition = both { "or" both }
    both      = single { "and" single }
    single    = "not" single | "(" condition ")" | field test
    test      = ("=" | "!=" | "<" | "<=" | ">" | ">=") value
              | ["not"] "in" "(" value { "," value } ")" | ["not"] "like" value | "is" ["not"] "empty"

A value is in quotes, or ends at ``and``, ``or``, a comma or a bracket; a number may carry a unit or a fraction.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from specdb.catalogue.tables import quoted
from specdb.catalogue.validate import coerced
from specdb.errors import FieldError, UnitError, UsageError, indefinite
from specdb.schema import Field, Table, load_schema

_TOKEN = re.compile(
    r"""
      (?P<space>\s+)
    | (?P<quoted>'(?:[^']|'')*'|"(?:[^"]|"")*")
    | (?P<sign><=|>=|!=|<>|==|[=<>(),])
    | (?P<word>(?:[^\s'"=<>!(),]|(?<=\d)")+)
    """,
    re.VERBOSE,
)
_SIGNS = {"=": "=", "==": "=", "!=": "<>", "<>": "<>", "<": "<", "<=": "<=", ">": ">", ">=": ">="}
_JOINERS = ("and", "or")
_DEEPEST = 50
# what is typed as a fraction or in another unit equals what was stored from the same text, to rounding
_EQUAL = 1e-9


class WhereError(UsageError):
    """A condition cannot be understood; ``position`` counts characters from 1."""

    title = "Condition"

    def __init__(self, message: str, text: str = "", position: int = 1) -> None:
        super().__init__(message, text, position)
        self.text = text
        self.position = position

    def __str__(self) -> str:
        shown = self.text[self.position - 1 :][:30]
        place = f"before '{shown}'" if shown else "at its end"
        return f"condition, character {self.position} ({place}): {self.args[0]}"


@dataclass(frozen=True, slots=True)
class Condition:
    """SQL with ``?`` for each of the parameters."""

    sql: str
    parameters: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    start: int
    end: int

    def is_word(self, *words: str) -> bool:
        return self.kind == "word" and self.text.lower() in words


def parse_where(kind: str | Table, text: str) -> Condition:
    """Read a condition on the rows of a kind.

    Parameters
    ----------
    kind : str or Table
        Kind of the rows; a table may have more fields than the catalogue stores.
    text : str
        The condition.

    Raises
    ------
    WhereError
        If it cannot be understood; names the field and the position.
    UnknownKindError
        If there is no such kind.
    """
    return _Parser(load_schema().table(kind) if isinstance(kind, str) else kind, text).whole()


def _tokens(text: str) -> list[_Token]:
    found = []
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            what = "a quotation mark that is never closed" if text[at] in "'\"" else f"'{text[at]}' means nothing here"
            raise WhereError(what, text, at + 1)
        if match.lastgroup != "space":
            found.append(_Token(str(match.lastgroup), match.group(), at, match.end()))
        at = match.end()
    return found


def _no_field(table: Table, word: str) -> str:
    """That a kind has no such field, with those that may be meant: ``weight`` is ``weight_g``."""
    from difflib import get_close_matches  # loaded late, as in errors

    known = table.field_names
    low = word.lower()
    begun = [n for n in known if n.startswith(low) or table.field(n).title.lower().replace(" ", "_").startswith(low)]
    near = (begun if len(low) > 1 else []) or get_close_matches(low, known, n=2)
    meant = f"; did you mean {' or '.join(near)}?" if near else ";"
    return f"{indefinite(table.name)} has no field '{word}'{meant} {'It' if near else 'it'} has: {', '.join(known)}"


class _Parser:
    def __init__(self, table: Table, text: str) -> None:
        self._table = table
        self._text = text
        self._tokens = _tokens(text)
        self._at = 0
        self._depth = 0

    def _peek(self, ahead: int = 0) -> _Token:
        at = self._at + ahead
        end = len(self._text)
        return self._tokens[at] if at < len(self._tokens) else _Token("end", "", end, end)

    def _next(self) -> _Token:
        token = self._peek()
        self._at += 1
        return token

    def _wrong(self, message: str, token: _Token | None = None) -> WhereError:
        return WhereError(message, self._text, (token or self._peek()).start + 1)

    def whole(self) -> Condition:
        if not self._tokens:
            raise self._wrong("it is empty")
        condition = self._or()
        if self._peek().kind != "end":
            raise self._wrong("'and' or 'or' was expected")
        return condition

    def _or(self) -> Condition:
        return self._chain("or", self._and)

    def _and(self) -> Condition:
        return self._chain("and", self._single)

    def _chain(self, word: str, part: Callable[[], Condition]) -> Condition:
        parts = [part()]
        while self._peek().is_word(word):
            self._next()
            parts.append(part())
        if len(parts) == 1:
            return parts[0]
        sql = f" {word.upper()} ".join(f"({p.sql})" for p in parts)
        return Condition(sql, tuple(v for p in parts for v in p.parameters))

    def _single(self) -> Condition:
        self._depth += 1
        if self._depth > _DEEPEST:
            raise self._wrong(f"more than {_DEEPEST} brackets within each other")
        try:
            token = self._peek()
            if token.is_word("not"):
                self._next()
                inner = self._single()
                return Condition(f"NOT ({inner.sql})", inner.parameters)
            if token.text == "(" and token.kind == "sign":
                self._next()
                inner = self._or()
                self._expect(")")
                return inner
            return self._test()
        finally:
            self._depth -= 1

    def _expect(self, sign: str) -> None:
        if self._peek().kind != "sign" or self._peek().text != sign:
            raise self._wrong(f"'{sign}' was expected")
        self._next()

    def _field(self) -> Field:
        token = self._next()
        if token.kind != "word":
            raise self._wrong("the name of a field was expected", token)
        if token.text not in self._table.field_names:
            raise self._wrong(_no_field(self._table, token.text), token)
        return self._table.field(token.text)

    def _test(self) -> Condition:
        field = self._field()
        token = self._next()
        if token.kind == "sign" and token.text in _SIGNS:
            return self._compared(field, _SIGNS[token.text])
        if token.is_word("is"):
            return self._emptiness(field)
        negated = token.is_word("not")
        if negated:
            token = self._next()
        if token.is_word("in"):
            found = self._listed(field)
        elif token.is_word("like"):
            found = self._like(field, token)
        else:
            raise self._wrong(f"after '{field.name}' a comparison was expected: = != < <= > >= in like is", token)
        return Condition(f"NOT ({found.sql})", found.parameters) if negated else found

    def _emptiness(self, field: Field) -> Condition:
        negated = self._peek().is_word("not")
        if negated:
            self._next()
        if not self._peek().is_word("empty", "unknown"):
            raise self._wrong(f"after '{field.name} is' only 'empty' or 'not empty' can stand")
        self._next()
        return Condition(f"{quoted(field.name)} IS {'NOT ' if negated else ''}NULL", ())

    def _like(self, field: Field, token: _Token) -> Condition:
        if field.type != "string":
            raise self._wrong(f"'like' is for text, and '{field.name}' is a {field.type}", token)
        return Condition(f"{quoted(field.name)} ILIKE ?", (self._raw_value(field)[0],))

    def _compared(self, field: Field, sign: str) -> Condition:
        other = self._peek()
        if other.kind == "word" and other.text in self._table.field_names and self._is_alone():
            return self._with_field(field, sign)
        return self._with_value(field, sign, self._value(field))

    def _is_alone(self) -> bool:
        after = self._peek(1)
        return after.kind == "end" or after.is_word(*_JOINERS) or after.text == ")"

    def _with_field(self, field: Field, sign: str) -> Condition:
        token = self._peek()
        other = self._field()
        if other.type != field.type or other.unit != field.unit:
            raise self._wrong(f"'{field.name}' and '{other.name}' are not of one kind", token)
        return Condition(f"{quoted(field.name)} {sign} {quoted(other.name)}", ())

    def _with_value(self, field: Field, sign: str, value: object) -> Condition:
        name = quoted(field.name)
        if field.type == "number" and sign in ("=", "<>"):
            near = f"abs({name} - ?) <= {_EQUAL} * greatest(1, abs({name}))"
            return Condition(near if sign == "=" else f"NOT ({near})", (value,))
        if field.type == "string":
            return Condition(f"lower({name}) {sign} lower(?)", (value,))
        return Condition(f"{name} {sign} ?", (value,))

    def _listed(self, field: Field) -> Condition:
        self._expect("(")
        parts = [self._with_value(field, "=", self._value(field))]
        while self._peek().kind == "sign" and self._peek().text == ",":
            self._next()
            parts.append(self._with_value(field, "=", self._value(field)))
        self._expect(")")
        sql = " OR ".join(f"({p.sql})" for p in parts)
        return Condition(sql, tuple(v for p in parts for v in p.parameters))

    def _raw_value(self, field: Field) -> tuple[str, _Token]:
        """Text of a value, without its quotes, and where it begins."""
        first = self._peek()
        if first.kind == "quoted":
            self._next()
            mark = first.text[0]
            return first.text[1:-1].replace(mark * 2, mark), first
        last = first
        while self._peek().kind == "word" and not self._peek().is_word(*_JOINERS):
            last = self._next()
        if first.kind != "word" or first.is_word(*_JOINERS):
            raise self._wrong(f"a value for '{field.name}' was expected", first)
        return self._text[first.start : last.end], first

    def _value(self, field: Field) -> object:
        text, token = self._raw_value(field)
        try:
            if field.is_number:
                from specdb.units import parse_quantity

                number = parse_quantity(text, field.unit or "")
                return int(number) if field.type == "integer" and number == int(number) else number
            value = coerced(self._table, field, text)
        except (UnitError, FieldError) as error:
            raise self._wrong(f"{field.name}: {error}", token) from error
        if value is None:
            raise self._wrong(f"'{field.name}' compared with nothing; write '{field.name} is empty'", token)
        if field.enum and value not in field.enum:
            raise self._wrong(f"{field.name} is {field.allowed()}, never '{value}'", token)
        return value
