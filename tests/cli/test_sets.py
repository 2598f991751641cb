"""Sets and heads through the command, on the demonstration catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Command
from tests.support.copies import demo_copy


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    demo_copy(path)
    return path


@pytest.fixture
def ask(demo: Path, specdb: Command) -> Any:
    def go(*words: str, status: int = 0) -> Any:
        ran = specdb(*words, "--catalogue", str(demo))
        assert ran.status == status, ran.err
        return ran

    return go


def test_set_in_numbers(ask: Any) -> None:
    answer = ask("mechanics", "--set", "tansley-irons", "--json").json
    assert [c["club_id"] for c in answer["clubs"]] == ["tansley-6-iron", "tansley-8-iron", "tansley-pw"]
    # common practice, no source: about 4 cpm a half inch, to 35 %
    assert answer["slope_cpm_per_half_in"] == pytest.approx(4.0, rel=0.35)
    assert 0 < answer["slope_sd_cpm_per_half_in"] < 2
    alone = ask("mechanics", "--club", "tansley-8-iron", "--json").json
    assert answer["clubs"][1]["mechanics"]["frequency_cpm"] == alone["frequency_cpm"]
    text = ask("mechanics", "--set", "tansley-irons").out
    assert "cpm a half inch (weighted least squares)" in " ".join(text.split())
    assert "What stands out" in text


def test_models_for_a_set(ask: Any) -> None:
    answer = ask("substitutes", "--set", "quilter-irons", "--json").json
    scores = [r["score"] for r in answer["results"]]
    assert scores == sorted(scores)
    assert {r["way"] for r in answer["results"]} >= {"one shaft for all", "by club number", "soft-stepped"}
    for found in answer["results"]:
        assert [c["club_id"] for c in found["clubs"]] == [c["club_id"] for c in answer["reference"]["clubs"]]
        for club in found["clubs"]:
            assert set(club) >= {"head_id", "tip_trim_in", "cut_length_in", "butt_trim_in", "head_weight_g"}
            assert set(club) >= {"fitted_frequency_cpm", "frequency_cpm", "frequency_difference_sd_cpm"}
    assert len({e["shaft_id"] for e in answer["excluded"]}) == len(answer["excluded"])
    text = ask("substitutes", "--set", "quilter-irons", "--details", "1").out
    assert "tip in" in text
    assert "Pieces:" in text
    assert "Epoxy" in text


def test_set_on_hand(ask: Any) -> None:
    answer = ask("substitutes", "--set", "quilter-irons", "--in-stock", "--json").json
    assert answer["results"]
    assert all(r["sets_on_hand"] >= 1 for r in answer["results"])
    assert all(p["on_hand"] >= p["needed"] for r in answer["results"] for p in r["pieces"])


def test_what_is_compared_on_less_is_marked_and_said_to_stand_behind(ask: Any) -> None:
    words = ("substitutes", "--set", "quilter-irons", "--in-stock")
    results = ask(*words, "--json").json["results"]
    found = [(r["score"], any(c["substitute"]["not_compared"] for c in r["clubs"])) for r in results]
    assert sorted(found, key=lambda r: (r[1], r[0])) == found, "two rankings, one behind the other"
    assert any(part and score < found[0][0] + 5.0 for score, part in found)
    lines = ask(*words, "--details", "0").out.splitlines()
    scores = [line.split("~")[1].split()[0] for line in lines if "  ~" in line]
    assert scores == [f"{score:.2f}" for score, part in found if part]
    assert any(line.startswith("~ compared on less") for line in lines)


def test_set_and_club_exclude_each_other(ask: Any) -> None:
    for command in ("mechanics", "substitutes"):
        ran = ask(command, "--set", "quilter-irons", "--club", "quilter-pw", status=2)
        assert "leave --club out" in ran.err
        ran = ask(command, "--set", "quilter-irons", "--tip-trim", "1", status=2)
        assert "leave --tip-trim out" in ran.err


def test_sentences_for_bad_sets(ask: Any) -> None:
    assert "there is no set 'quilter'" in ask("mechanics", "--set", "quilter", status=2).err
    assert "there is no set 'none'" in ask("substitutes", "--set", "none", status=2).err


def test_why_not_for_a_set(ask: Any) -> None:
    said = ask("substitutes", "--set", "tansley-irons", "--why-not", "stavely-tenter-parallel-115-s").out
    assert "the fitted shaft itself" in " ".join(said.split())
    said = ask("substitutes", "--set", "tansley-irons", "--why-not", "stavely-tenter-105-s-6", "--json").json
    assert "is proposed, as number" in said["reason"]
    assert "there is no shaft 'x'" in ask("substitutes", "--set", "tansley-irons", "--why-not", "x", status=2).err


def test_choosing_a_model_for_a_set(specdb: Command, tmp_path: Path, demo: Path) -> None:
    shop = tmp_path / "own.duckdb"
    shop.write_bytes(demo.read_bytes())
    named = ("--set", "tansley-irons", "--catalogue", str(shop))
    ran = specdb("choose", "--shaft", "stavely-tenter-105-s-6", "--why", "on the shelf", *named)
    assert ran.status == 0, ran.err
    assert "tansley-pw: stavely-tenter-105-s-pw" in ran.out
    listed = specdb("list", "choice", "--where", "club_id = 'tansley-8-iron'", "--json", "--catalogue", str(shop))
    assert "stavely-tenter-105-s-8" in listed.out
    assert specdb("undo", "--catalogue", str(shop)).status == 0
    refused = specdb("choose", "--shaft", "stavely-tenter-parallel-115-s", *named)
    assert refused.status == 2
    assert "the fitted shaft itself" in " ".join(refused.err.split())
    both = specdb("choose", "--shaft", "stavely-tenter-105-s-6", "--club", "tansley-pw", *named)
    assert both.status == 2
    neither = specdb("choose", "--shaft", "stavely-tenter-105-s-6", "--catalogue", str(shop))
    assert neither.status == 2
    assert "--club or --set" in neither.err


def test_no_model_can_supply_it(ask: Any) -> None:
    ran = ask("substitutes", "--set", "tansley-irons", "--max-price", "1", status=1)
    assert "No model in the catalogue can supply the whole set as asked." in ran.out


def test_heads(ask: Any) -> None:
    answer = ask("heads", "brackwater-groyne-7-rh", "--json").json
    assert answer["results"]
    assert answer["results"][0]["club"] is None
    with_club = ask("heads", "--club", "ashby-driver", "--json").json
    assert with_club["head_id"] == "orrin-vale-escarp-460-10.5-rh"
    best = with_club["results"][0]
    assert best["club"]["mechanics"]["swingweight"] == "D3.5"
    # titanium heads of the demonstration must not be bent
    assert all(r["bend_deg"] == {} for r in with_club["results"])
    assert any("must not be bent" in t for r in with_club["results"] for t in r["bending_refused"])
    text = ask("heads", "--club", "quilter-7-iron").out
    assert "The club becomes" in text
    assert "Bending loft or lie can crack a head" in " ".join(text.split())


def test_sentences_for_heads(ask: Any) -> None:
    assert "name the head" in ask("heads", status=2).err
    assert "there is no head 'x'" in ask("heads", "x", status=2).err
    assert "has head" in ask("heads", "brackwater-groyne-7-rh", "--club", "quilter-7-iron", status=2).err
    said = ask("heads", "brackwater-groyne-7-rh", "--why-not", "brackwater-groyne-5-lh").out
    assert "for the left hand" in said


@pytest.mark.parametrize(
    "words",
    [
        ("mechanics", "--set", "quilter-irons"),
        ("substitutes", "--set", "quilter-irons"),
        ("heads", "--club", "quilter-7-iron"),
    ],
)
def test_lines_fit_a_narrow_terminal(ask: Any, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    for line in ask(*words).out.splitlines():
        assert len(line) <= 80, line
