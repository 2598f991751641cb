"""Whatever a package holds: it is read, or refused with a plain error and an unchanged catalogue."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from specdb.catalogue import Catalogue
from specdb.catalogue.package import DESCRIPTOR, export_package, import_package
from specdb.errors import SpecdbError
from tests.catalogue.samples import HEAD, SHAFT

QUICK = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50, deadline=None)
FILES = ("shaft.csv", "head.csv", "shaft_reading.csv", "stock_move.csv", DESCRIPTOR)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    catalogue = Catalogue.create(tmp_path_factory.mktemp("package") / "shop.duckdb", wait_seconds=5)
    with catalogue.write() as w:
        w.put("shaft", SHAFT, mode="add")
        w.put("head", HEAD, mode="add")
    return catalogue


@pytest.fixture(scope="module")
def whole(shop: Catalogue, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = export_package(shop, tmp_path_factory.mktemp("whole") / "out").parent
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def attempt(shop: Catalogue, folder: Path, files: dict[str, bytes]) -> None:
    for name, content in files.items():
        (folder / name).write_bytes(content)
    before = hashlib.sha256(shop.path.read_bytes()).hexdigest()
    said = None
    try:
        import_package(shop, folder)
    except SpecdbError as error:
        said = str(error)
    if said is None:
        again = import_package(shop, folder)
        assert all(c.added == c.changed == 0 for c in again.values())
    else:
        assert said.strip()
        assert hashlib.sha256(shop.path.read_bytes()).hexdigest() == before


@QUICK
@given(file=st.sampled_from(FILES), at=st.integers(0, 10_000), junk=st.binary(max_size=8), cut=st.booleans())
@example("shaft.csv", 0, b"", True)
@example("shaft.csv", 0, b'"' + b"x" * 200_000, False)
@example("shaft.csv", 3, b"\x00", False)
def test_damaged_packages(
    shop: Catalogue, whole: dict[str, bytes], tmp_path: Path, file: str, at: int, junk: bytes, cut: bool
) -> None:
    content = whole[file]
    at %= len(content)
    attempt(shop, tmp_path, {**whole, file: content[:at] + junk + (b"" if cut else content[at + len(junk) :])})


JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=8,
)


@QUICK
@given(key=st.sampled_from(["resources", "schemaVersion", "name"]), value=JSON)
@example("schemaVersion", float("inf"))
@example("resources", [{"name": "shaft", "path": "sh\x00aft.csv"}])
@example("resources", [{"name": "shaft", "path": "x" * 5000}])
@example("resources", [{"name": "shaft", "path": "."}])
@example("resources", [{"name": "shaft", "path": "\ud800"}])
def test_odd_descriptors(shop: Catalogue, whole: dict[str, bytes], tmp_path: Path, key: str, value: Any) -> None:
    descriptor = {**json.loads(whole[DESCRIPTOR]), key: value}
    attempt(shop, tmp_path, {**whole, DESCRIPTOR: json.dumps(descriptor).encode()})
    if key != "name":
        return
    # an odd descriptor is no earlier export either, whatever it says
    target = tmp_path / "target"
    target.mkdir(exist_ok=True)
    (target / DESCRIPTOR).write_text(json.dumps(value))
    with pytest.raises(SpecdbError):
        export_package(shop, target)
    assert [p.name for p in target.iterdir()] == [DESCRIPTOR]


def test_a_descriptor_nested_without_end(shop: Catalogue, whole: dict[str, bytes], tmp_path: Path) -> None:
    attempt(shop, tmp_path, {**whole, DESCRIPTOR: b"[" * 200_000})
    with pytest.raises(SpecdbError):
        export_package(shop, tmp_path)
