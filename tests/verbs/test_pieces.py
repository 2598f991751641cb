"""A club remembers the piece it was built from, and deliveries are compared piece by piece."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest

from specdb.catalogue import Catalogue
from specdb.catalogue.integrity import check_catalogue
from specdb.errors import MissingDataError, NotFoundError, UsageError
from specdb.mechanics.bench import frequency_reading
from specdb.mechanics.constants import IN
from specdb.verbs.clubs.clubs import ClubRequest
from specdb.verbs.clubs.mechanics import mechanics_of
from specdb.verbs.matching.substitutes import SearchOptions, substitutes_of
from specdb.verbs.stiffness.batches import batch_of
from specdb.verbs.stiffness.pieces import measured_pieces, piece_model
from tests.cli.shop import fill

SHAFT, CLUB = "reed-60-s", "fit-driver"
FREE_IN, CLIP_G = 41.0, 205.0
# as the shop's table of the shaft has it, at that set-up, and pieces that read softer and stiffer
READ = {"p1": 233.0, "p2": 234.0, "p3": 238.0, "p4": 226.0, "p5": 227.0}
DAYS = {"p1": (2026, 3, 2), "p2": (2026, 3, 2), "p3": (2026, 3, 9), "p4": (2026, 11, 3), "p5": (2026, 11, 4)}


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    catalogue = fill(tmp_path_factory.mktemp("filled") / "shop.duckdb")
    with catalogue.write(by="tests") as w:
        for sample, value in READ.items():
            row = {"quantity": "frequency", "value": value, "free_length_in": FREE_IN, "tip_mass_g": CLIP_G, "sd": 0.5}
            more = {"shaft_id": SHAFT, "sample": sample, "instrument": "meter 1", "taken_on": dt.date(*DAYS[sample])}
            w.put("shaft_reading", {**row, **more})
        w.put("shaft_reading", {"shaft_id": SHAFT, "sample": "p6", "quantity": "weight", "value": 63.0})
        diameter = {"quantity": "outside_diameter", "value": 0.336, "position_in": 1.0}
        w.put("shaft_reading", {"shaft_id": SHAFT, "sample": "p7", **diameter})
    return catalogue.path


@pytest.fixture
def shop(filled: Path, tmp_path: Path) -> Catalogue:
    return Catalogue(Path(shutil.copy(filled, tmp_path / "shop.duckdb")))


def built_from(shop: Catalogue, sample: str) -> None:
    with shop.write(by="tests") as w:
        w.put("club", {"id": CLUB, "shaft_sample": sample}, mode="update")


def test_a_piece_reads_as_it_was_read(shop: Catalogue) -> None:
    with shop.read() as reader:
        assert measured_pieces(reader, SHAFT) == ("p1", "p2", "p3", "p4", "p5", "p6", "p7")
        models = [piece_model(reader, SHAFT, p) for p in READ]
        for unknown in ("p7", "p9", "published"):
            with pytest.raises(NotFoundError, match="p1"):
                piece_model(reader, SHAFT, unknown)
    cpm = frequency_reading(models, FREE_IN * IN, CLIP_G / 1000.0)
    assert np.abs(cpm - list(READ.values())).max() < 1.0
    assert all(m.balance_from_tip_m is not None and m.twist_rad_per_nm is not None for m in models)


def test_the_club_takes_its_piece(shop: Catalogue) -> None:
    asked = ClubRequest(club=CLUB)
    any_piece = mechanics_of(shop, asked).values
    found = {}
    for sample in ("p3", "p4"):
        built_from(shop, sample)
        found[sample] = mechanics_of(shop, asked).values
        assert f"the measured piece {sample} was taken" in found[sample]["assumed"]
        assert found[sample]["sd"]["frequency_cpm"] < any_piece["sd"]["frequency_cpm"]
    ratio = found["p4"]["frequency_cpm"] / found["p3"]["frequency_cpm"]
    assert ratio == pytest.approx(READ["p4"] / READ["p3"], abs=0.01)
    assert not any("piece" in said for said in any_piece["assumed"])
    # another shaft in that club has nothing to do with the piece
    other = mechanics_of(shop, ClubRequest(club=CLUB, shaft="rush-70-s")).values
    assert not any("measured piece" in said for said in other["assumed"])


def test_stand_ins_are_held_against_the_piece(shop: Catalogue) -> None:
    def reference() -> float:
        answer = substitutes_of(shop, ClubRequest(club=CLUB), SearchOptions(top=1))
        return float(answer.to_json()["reference"]["frequency_cpm"])  # type: ignore[index]

    built_from(shop, "p3")
    stiff = reference()
    built_from(shop, "p4")
    assert reference() < stiff - 2.0


def test_a_piece_may_be_named_before_it_is_read(shop: Catalogue) -> None:
    assert check_catalogue(shop.path) == []
    built_from(shop, "p9")
    found = check_catalogue(shop.path)
    assert [(f.severity, f.kind, f.key, f.field) for f in found] == [("warning", "club", CLUB, "shaft_sample")]
    assert f"{SHAFT} has no reading of a piece of that name (measured: p1, p2, p3, p4, p5, p6, p7)" in found[0].message
    said = mechanics_of(shop, ClubRequest(club=CLUB)).values["assumed"]
    assert f"no reading tells what piece p9 of {SHAFT} is like: any piece of the shaft was taken" in said
    built_from(shop, "published")
    assert "shaft_sample is published" in check_catalogue(shop.path)[0].message
    built_from(shop, "p1")
    assert check_catalogue(shop.path) == []


def test_this_months_delivery_plays_softer(shop: Catalogue) -> None:
    answer = batch_of(shop, SHAFT, since=dt.date(2026, 11, 1))
    assert answer.pieces == ("p4", "p5")
    assert answer.others == ("p1", "p2", "p3")
    assert answer.leaflet
    assert answer.verdict == "softer"
    # frequency goes with the root of EI: 226.5 against 235 cpm, and the leaflet's 233.7
    assert answer.ei_pct[0] == pytest.approx(100.0 * ((226.5 / 234.7) ** 2 - 1.0), abs=0.5)
    assert answer.cpm[0] == pytest.approx(226.5 - 234.7, abs=1.0)
    assert "Piece p4, piece p5 play softer" in answer.sentence or "seem to play softer" in answer.sentence
    assert answer.known["p4"] == ("1 frequency",)
    same = batch_of(shop, SHAFT, ["p2"])
    assert same.verdict == "same"
    assert same.sentence.startswith("No difference can be told: piece p2 has an EI ")
    assert "would not be seen" in same.sentence


def test_a_meter_that_reads_less_makes_no_soft_delivery(shop: Catalogue) -> None:
    """The delivery was read on another meter, which a reference piece shows to read 3 % too little."""
    with shop.read() as reader:
        delivered = [r.id for r in reader.readings_of(SHAFT) if r.sample in ("p4", "p5")]
    with shop.write(by="tests") as w:
        for key in delivered:
            w.put("shaft_reading", {"id": key, "instrument": "meter 2"}, mode="update")
        for repeat in range(1, 6):
            row = {"instrument": "meter 2", "reference": "rod", "quantity": "frequency", "true_value": 250.0}
            w.put("reference_reading", {**row, "value": 242.0, "true_sd": 0.3, "repeat": repeat})
    answer = batch_of(shop, SHAFT, ["p4", "p5"])
    assert answer.verdict == "same"
    assert len(answer.corrections) == 2


def test_what_a_batch_cannot_be(shop: Catalogue) -> None:
    with pytest.raises(UsageError, match="--since"):
        batch_of(shop, SHAFT)
    with pytest.raises(UsageError, match="--since"):
        batch_of(shop, SHAFT, ["p1"], dt.date(2026, 1, 1))
    with pytest.raises(UsageError, match="2026-11-04"):
        batch_of(shop, SHAFT, since=dt.date(2026, 12, 1))
    with pytest.raises(NotFoundError, match="p9"):
        batch_of(shop, SHAFT, ["p1", "p9"])
    with pytest.raises(NotFoundError):
        batch_of(shop, SHAFT, ["published"])
    with pytest.raises(MissingDataError, match="stiffness"):
        batch_of(shop, SHAFT, ["p6"])
