"""Whatever is typed, the command ends with one of its statuses and a sentence."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from specdb.cli.main import run
from tests.support.thorough import many

odd = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["", " ", "-", "--", "-1", "1e308", "nan", "½", "'; drop table shaft; --", "a" * 5000, "\x00", "\x1b[2J"]
    ),
    st.floats().map(str),
    st.integers().map(str),
)
fields = st.sampled_from(["weight_g", "tip_dia_in", "flex", "club_type", "price", "id", "status", "nofield"])


def _run(*words: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run(words)
    return status, out.getvalue(), err.getvalue()


def _check(status: int, out: str, err: str) -> None:
    assert status in (0, 1, 2, 3), err
    assert "Traceback" not in out + err
    assert "an error inside specdb" not in err, err
    assert "\x1b" not in out + err
    if status > 1:
        assert err.strip()


@settings(max_examples=many(15, 40), deadline=None)
@given(st.sampled_from(["--length", "--tip-trim", "--insertion", "--swingweight", "--head-add", "--clamp"]), odd)
@example("--length", "1e308")
@example("--clamp", "12")
def test_any_option_value(filled: Path, option: str, value: str) -> None:
    _check(*_run("mechanics", "--club", "fit-driver", option, value, "--catalogue", str(filled)))


@settings(max_examples=many(15, 40), deadline=None)
@given(odd, odd)
def test_any_kind_and_key(filled: Path, kind: str, key: str) -> None:
    _check(*_run("show", "--catalogue", str(filled), "--", kind, key))
    _check(*_run("show", "--catalogue", str(filled), "--", "shaft", key))


@settings(max_examples=many(15, 40), deadline=None)
@given(odd)
@example("weight_g < 1e400")
@example("((((" * 500)
def test_any_condition(filled: Path, where: str) -> None:
    _check(*_run("list", "shaft", "--where", where, "--catalogue", str(filled)))


@settings(max_examples=many(15, 40), deadline=None)
@given(fields, odd)
def test_any_assignment(copied: Path, field: str, value: str) -> None:
    _check(*_run("set", "--catalogue", str(copied), "--", "shaft", "rush-50-s", f"{field}={value}"))
    assert _run("check", "--catalogue", str(copied))[0] == 0
