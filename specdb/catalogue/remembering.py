"""A reader that asks the file for the same thing only once, for jobs that put many questions to one open catalogue.

What it remembers holds as long as the catalogue stays open: nothing changes within one transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from specdb.catalogue.reader import Reader
from specdb.catalogue.stock import SupplyState
from specdb.records.rows import AdapterSetting, ShaftReading

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb
    import pyarrow as pa


class RememberingReader(Reader):
    """Remembers rows, columns, stock and supply; made by :meth:`specdb.catalogue.reader.Reader.remembering`."""

    def __init__(self, path: Path, con: duckdb.DuckDBPyConnection) -> None:
        super().__init__(path, con)
        self._known: dict[object, Any] = {}

    def _once(self, key: object, ask: Callable[[], Any]) -> Any:  # noqa: ANN401 - whatever is asked for
        if key not in self._known:
            self._known[key] = ask()
        return self._known[key]

    def know(self, kind: str, records: Sequence[Any]) -> None:
        """Take records that were read already.

        Parameters
        ----------
        kind : str
            Their kind, with a key of one field.
        records : sequence
            The records.
        """
        self._known.update({("find", kind, record.id): record for record in records})

    def find(self, kind: str, key: str) -> Any | None:  # noqa: ANN401 - a record class a kind
        """As :meth:`Reader.find`."""
        return self._once(("find", kind, key), lambda: super(RememberingReader, self).find(kind, key))

    def rows(self, kind: str, **how: Any) -> list[Any]:  # noqa: ANN401 - as the reader takes it
        """As :meth:`Reader.rows`."""
        key = ("rows", kind, tuple(sorted(how.items())))
        return list(self._once(key, lambda: super(RememberingReader, self).rows(kind, **how)))

    def arrow(self, kind: str, columns: Sequence[str] | None = None, **how: Any) -> pa.Table:  # noqa: ANN401 - likewise
        """As :meth:`Reader.arrow`."""
        key = ("arrow", kind, None if columns is None else tuple(columns), tuple(sorted(how.items())))
        return self._once(key, lambda: super(RememberingReader, self).arrow(kind, columns, **how))

    def readings_of(self, shaft_id: str) -> list[ShaftReading]:
        """As :meth:`Reader.readings_of`."""
        return list(self._once(("readings", shaft_id), lambda: super(RememberingReader, self).readings_of(shaft_id)))

    def settings_of(self, adapter_id: str) -> list[AdapterSetting]:
        """As :meth:`Reader.settings_of`."""
        return list(
            self._once(("settings", adapter_id), lambda: super(RememberingReader, self).settings_of(adapter_id))
        )

    def stock(self, kind: str, item_id: str | None = None) -> dict[str, int]:
        """As :meth:`Reader.stock`."""
        return dict(self._once(("stock", kind, item_id), lambda: super(RememberingReader, self).stock(kind, item_id)))

    def supply(self, kind: str, item_id: str | None = None) -> dict[str, SupplyState]:
        """As :meth:`Reader.supply`."""
        return dict(self._once(("supply", kind, item_id), lambda: super(RememberingReader, self).supply(kind, item_id)))

    def held(self) -> dict[tuple[str, str], int]:
        """As :meth:`Reader.held`."""
        return dict(self._once(("held",), super().held))

    def count(self, kind: str) -> int:
        """As :meth:`Reader.count`."""
        return int(self._once(("count", kind), lambda: super(RememberingReader, self).count(kind)))
