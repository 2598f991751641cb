"""Named weightings: what counts as one unit of difference, and how heavily."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from specdb.catalogue import Catalogue, Reader
from specdb.errors import UsageError
from specdb.schema import load_schema
from specdb.verbs.catalogue.changing import Changed
from specdb.verbs.catalogue.values import parse_assignments

if TYPE_CHECKING:
    from specdb.matching.weighting import Tolerances

DEFAULT = "default"


@dataclass(frozen=True, slots=True)
class WeightingLine:
    """One feature of a weighting.

    Attributes
    ----------
    feature, title : str
        Its stable name, and the name for a person.
    one_unit : float
        Difference that counts as one unit.
    unit : str
        What that is in.
    weight : float
        Weight in the score; 0 leaves it out.
    unit_field, weight_field : str
        Fields that set them.
    """

    feature: str
    title: str
    one_unit: float
    unit: str
    weight: float
    unit_field: str
    weight_field: str

    def to_json(self) -> dict[str, Any]:
        """The line as plain values."""
        return asdict(self)


def tolerances_of(reader: Reader, name: str | None) -> Tolerances:
    """Tolerances of a named weighting; the default where no name is given.

    Parameters
    ----------
    reader : Reader
        The catalogue.
    name : str or None
        Key of the weighting.
    """
    from specdb.matching.weighting import Tolerances

    if name is None or name == DEFAULT:
        return Tolerances.default()
    return Tolerances.from_record(reader.get("weighting", name))


def weighting_lines(catalogue: Catalogue | None, name: str | None) -> list[WeightingLine]:
    """A weighting, feature by feature.

    Parameters
    ----------
    catalogue : Catalogue or None
        The catalogue; not needed for the default.
    name : str or None
        Key of the weighting; the default where None.
    """
    from specdb.matching.weighting import COMPARED, Tolerances

    if catalogue is None or name is None:
        tolerances = Tolerances.default()
    else:
        with catalogue.read() as reader:
            tolerances = tolerances_of(reader, name)
    return [
        WeightingLine(
            feature.key,
            feature.title,
            float(tolerances.unit[i]),
            "%" if feature.relative else feature.unit,
            float(tolerances.weight[i]),
            f"{feature.column}_unit",
            f"{feature.column}_weight",
        )
        for i, feature in enumerate(COMPARED)
    ]


def set_weighting(
    catalogue: Catalogue, name: str, words: Iterable[str], *, by: str | None = None, why: str | None = None
) -> Changed:
    """Change a named weighting, or make it.

    Parameters
    ----------
    catalogue : Catalogue
        The catalogue.
    name : str
        Key of the weighting.
    words : iterable of str
        ``field=value`` as typed; ``field=`` takes the default again.
    by, why : str or None
        Who and why, for the journal.

    Raises
    ------
    UsageError
        If it is named ``default``, or would leave every feature out.
    """
    from specdb.matching.weighting import Tolerances

    if name == DEFAULT:
        raise UsageError("the default weighting is not changed; make one under another name")
    table = load_schema().table("weighting")
    values = {**parse_assignments(table, words), "id": name}
    with catalogue.write(by=by, why=why, done=f"set weighting {name}") as writer:
        held = writer.find("weighting", name)
        action = writer.put("weighting", values, mode="upsert")
        after = writer.get("weighting", name)
        Tolerances.from_record(after)
    before = {n: None if held is None else getattr(held, n) for n in values}
    return Changed("weighting", name, str(action), before, {n: getattr(after, n) for n in values})
